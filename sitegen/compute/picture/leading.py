"""What a report opens with: the highest mass of each group of compounds, and the compounds of the first maps.

A map shows the highest mass, unaffected by a blank, of the compounds of a group that enough soil
points have: the order of the list decides nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.results.store import stored_results
from sitegen.compute.results.summary import Summary
from sitegen.project.schema import SOIL_MEDIA


@dataclass(frozen=True, slots=True)
class Leading:
    """The compound of a first map, and why.

    ``lab_sample_id`` is that of its highest result unaffected by a blank, ``group`` its group of compounds.
    It is one of ``among`` compounds that were detected often enough; ``mapped`` says whether these are
    the mapped ones, or all, where none is mapped.
    """

    summary: Summary
    lab_sample_id: str
    group: str
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


class GroupDetections(NamedTuple):
    """At how many soil points a group of compounds was detected, unaffected by a blank, and analysed."""

    detected: int
    unblanked: int
    analysed: int


def group_detections(evaluation: Evaluation, group: str) -> GroupDetections:
    """Count the soil points of a group of compounds; rejected results count for nothing."""
    names = [compound.analyte_id for compound in evaluation.compounds if compound.group == group]
    rows = evaluation.primary
    rows = rows[~rows["rejected"] & rows["medium"].isin(SOIL_MEDIA) & rows["analyte_id"].isin(names)]
    touched = _touched(evaluation)
    hits = rows[rows["detected"]]
    clean = [key not in touched for key in zip(hits["lab_sample_id"], hits["analyte_id"], strict=True)]
    return GroupDetections(
        hits["location_id"].nunique(), hits.loc[clean, "location_id"].nunique(), rows["location_id"].nunique()
    )


def leading(evaluation: Evaluation) -> Leading | None:
    """Return the compound that the first map shows, None where none was detected often enough."""
    return next(iter(leading_by_group(evaluation)), None)


def leading_by_group(evaluation: Evaluation) -> tuple[Leading, ...]:
    """Return the compound of each group that a first map may show, the group with the highest mass first.

    It was detected often enough: unaffected by a blank at as many soil points as the limit
    ``front_detections_min`` asks for, or at half of those analysed. Of these compounds of a group the
    one with the highest such result is taken, so that a report never opens with a compound
    that was hardly detected, or with one that a blank explains. A group without one is left out.
    """
    mapped = [c.analyte_id for c in evaluation.compounds if c.mapped]
    pool = mapped or [c.analyte_id for c in evaluation.compounds]
    least = evaluation.limits["front_detections_min"].value
    soil = {name: evaluation.summaries.get((name, "soil")) for name in pool}
    often = {name: s for name, s in soil.items() if s and s.unblanked and s.unblanked >= min(least, s.analysed / 2)}
    highest = _highest_unblanked(evaluation, often)
    group_of = {compound.analyte_id: compound.group for compound in evaluation.compounds}
    found: dict[str, Leading] = {}
    for name in sorted((one for one in often if one in highest), key=lambda one: -highest[one][0]):
        group = group_of[name]
        found.setdefault(group, Leading(often[name], highest[name][1], group, len(often), bool(mapped)))
    return tuple(found.values())


def _touched(evaluation: Evaluation) -> set[tuple[str, str]]:
    """Return the results that a blank affects, by laboratory sample and compound."""
    return {key for hit in evaluation.blank_hits for key in hit.touched}


def _highest_unblanked(evaluation: Evaluation, names: Mapping[str, Summary]) -> Mapping[str, tuple[float, str]]:
    """Return the highest soil result of each compound that no blank affects, with its laboratory sample.

    Of equal ones that at the first point by id counts.
    """
    touched = _touched(evaluation)
    rows = evaluation.primary
    rows = rows[rows["detected"] & ~rows["rejected"] & rows["medium"].isin(SOIL_MEDIA)]
    highest: dict[str, tuple[float, str]] = {}
    kept = stored_results(rows[rows["analyte_id"].isin(list(names))])
    for row in sorted(kept, key=lambda one: one.location_id):
        if row.key not in touched and row.value > highest.get(row.analyte_id, (0.0, ""))[0]:
            highest[row.analyte_id] = row.value, row.lab_sample_id
    return highest
