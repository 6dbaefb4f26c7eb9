"""What a report opens with: the highest mass of each group of compounds, and the compound of the first map.

The first map shows the highest mass, unaffected by a blank, of the compounds that enough soil
points have: the order of the list decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.results.store import stored_results
from sitegen.compute.results.summary import Summary
from sitegen.project.schema import SOIL_MEDIA


@dataclass(frozen=True, slots=True)
class Leading:
    """The compound of the first map, and why.

    ``lab_sample_id`` is that of its highest result unaffected by a blank. It is the highest
    of ``among`` compounds that were detected often enough; ``mapped`` says whether these are
    the mapped ones, or all, where none is mapped.
    """

    summary: Summary
    lab_sample_id: str
    among: int
    mapped: bool


def highest_by_group(evaluation: Evaluation) -> Mapping[str, Summary]:
    """Return the soil summary with the highest mass of each group of compounds, the highest group first.

    A group without a detection is left out. Of equal masses the first compound listed counts.
    """
    highest: dict[str, Summary] = {}
    for compound in evaluation.compounds:
        soil = evaluation.summaries.get((compound.analyte_id, "soil"))
        if soil is not None and soil.highest is not None:
            best = highest.get(compound.group)
            if best is None or soil.highest > (best.highest or 0.0):
                highest[compound.group] = soil
    return dict(sorted(highest.items(), key=lambda item: -(item[1].highest or 0.0)))


def leading(evaluation: Evaluation) -> Leading | None:
    """Return the compound that the first map shows, None where none was detected often enough.

    Often enough: unaffected by a blank at as many soil points as the limit
    ``front_detections_min`` asks for, or at half of those analysed. Of these compounds the
    one with the highest such result is taken, so that a report never opens with a compound
    that was hardly detected, or with one that a blank explains.
    """
    mapped = [c.analyte_id for c in evaluation.compounds if c.mapped]
    pool = mapped or [c.analyte_id for c in evaluation.compounds]
    least = evaluation.limits["front_detections_min"].value
    soil = {name: evaluation.summaries.get((name, "soil")) for name in pool}
    often = {name: s for name, s in soil.items() if s and s.unblanked and s.unblanked >= min(least, s.analysed / 2)}
    highest = _highest_unblanked(evaluation, often)
    if not highest:
        return None
    name = max(often, key=lambda analyte_id: highest[analyte_id][0])
    return Leading(often[name], highest[name][1], len(often), bool(mapped))


def _highest_unblanked(evaluation: Evaluation, names: Mapping[str, Summary]) -> Mapping[str, tuple[float, str]]:
    """Return the highest soil result of each compound that no blank affects, with its laboratory sample."""
    touched = {key for hit in evaluation.blank_hits for key in hit.touched}
    rows = evaluation.primary
    rows = rows[rows["detected"] & ~rows["rejected"] & rows["medium"].isin(SOIL_MEDIA)]
    highest: dict[str, tuple[float, str]] = {}
    for row in stored_results(rows[rows["analyte_id"].isin(list(names))]):
        if row.key not in touched and row.value > highest.get(row.analyte_id, (0.0, ""))[0]:
            highest[row.analyte_id] = row.value, row.lab_sample_id
    return highest
