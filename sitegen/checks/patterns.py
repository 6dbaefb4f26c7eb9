"""Patterns in the results that a reader must know: compounds mostly in blanks, points far below their neighbours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.checks.rows import compound_names, enumeration, number_of
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.findings.problems import Finding, Touch
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.voice import worded


def mostly_in_blanks(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Blanks touch no more than a share of a compound's detections at soil points."""
    limit = evaluation.limits["blank_share_pct"]
    first = evaluation.primary
    hits = first[first["medium"].isin(SOIL_MEDIA) & first["detected"]]
    touched = {key for hit in evaluation.blank_hits for key in hit.touched}
    detected, affected = Counter(hits["analyte_id"]), Counter[str]()
    for sample, analyte in zip(hits["lab_sample_id"], hits["analyte_id"], strict=True) if touched else ():
        affected[analyte] += (sample, analyte) in touched
    for compound in evaluation.compounds:
        count, of = affected[compound.analyte_id], detected[compound.analyte_id]
        if 100 * count > limit.value * of:
            yield find(
                "blank-affected-mostly",
                compound.analyte_id,
                compound.origin.where(),
                worded(
                    "{count} of {detections} of {name} at soil points affected by blanks",
                    count=count,
                    detections=number_of(of, "detection"),
                    name=compound.name,
                ),
                worded("at most {limit} ({source})", limit=limit.text, source=limit.source),
                kind="compound",
            )


def far_below_neighbours(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No soil point lies far below all of its nearest points in several compounds."""
    names = compound_names(survey)
    share = evaluation.limits["local_low_share"]
    origins = {point.location_id: point.origin for point in evaluation.points}
    for low in evaluation.local_lows:
        worst = min(low.compounds, key=lambda part: part.at_most_ng / part.lowest_neighbour_ng)
        here = f"{'' if worst.detected else '<'}{rounded_text(worst.at_most_ng)} {evaluation.mass_unit.text}"
        called = [names.get(part.analyte_id, part.analyte_id) for part in (worst, *low.compounds)]
        yield find(
            "local-low",
            low.location_id,
            origins[low.location_id].where(),
            worded(
                "{compounds} at {point} far below {neighbours} ({names}); {worst} {here}, the lowest there {lowest}",
                compounds=number_of(len(low.compounds), "compound"),
                point=low.location_id,
                neighbours=", ".join(low.neighbours),
                names=enumeration(called[1:]),
                worst=called[0],
                here=here,
                lowest=rounded_text(worst.lowest_neighbour_ng),
            ),
            worded(
                "at least {share:g} of the lowest result at the three nearest points "
                "without a sample-specific qualification ({source})",
                share=share.value,
                source=share.source,
            ),
            kind="location",
            touches=[Touch(low.sampler_id, part.analyte_id) for part in low.compounds],
        )


EVALUATION_RULES = (mostly_in_blanks, far_below_neighbours)
