"""Compare concentrations with screening levels of the same medium, in four answers.

``compare`` takes a :class:`Concentration`; a mass has no way in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sitegen.compute.concentration import Concentration
from sitegen.project.survey import Survey

ABOVE = "above"
AT_OR_BELOW = "at or below"
CANNOT_TELL = "cannot tell (RL above level)"


@dataclass(frozen=True, slots=True)
class Level:
    """A screening level in µg/m³ for one compound, medium and land use, with its source."""

    level_set: str
    analyte_id: str
    medium: str
    land_use: str
    ug_m3: float
    basis: str
    source: str
    edition_date: str
    row: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """A concentration beside a level: the answer in words, and the ratio of detections."""

    concentration: Concentration
    level: Level
    answer: str
    ratio: float | None


def levels(survey: Survey) -> tuple[Level, ...]:
    """Return the levels given in µg/m³, in file order."""
    return tuple(
        Level(
            row["level_set"], row["analyte_id"], row["medium"], row["land_use"], row["value"], row["basis"],
            row["source_title"], row["edition_date"], int(row["_row"]),
        )
        for row in survey.records("screening_levels")
        if row["unit"] == "ug/m3" and row["value"] > 0
    )  # fmt: skip


def compare(found: Concentration, level: Level) -> Comparison:
    """Compare a concentration with a level for the same compound and medium.

    Raises ValueError where compound or medium differ.
    """
    if (found.analyte_id, found.medium) != (level.analyte_id, level.medium):
        raise ValueError("a level speaks only for its own compound and medium")
    if found.detected:
        answer = ABOVE if found.ug_m3 > level.ug_m3 else AT_OR_BELOW
        return Comparison(found, level, answer, found.ug_m3 / level.ug_m3)
    answer = CANNOT_TELL if found.rl_ug_m3 > level.ug_m3 else AT_OR_BELOW
    return Comparison(found, level, answer, None)


def comparisons(found: Iterable[Concentration], on_file: tuple[Level, ...]) -> tuple[Comparison, ...]:
    """Compare each concentration with every level for its compound and medium."""
    by_key: dict[tuple[str, str], list[Level]] = {}
    for level in on_file:
        by_key.setdefault((level.analyte_id, level.medium), []).append(level)
    return tuple(compare(item, level) for item in found for level in by_key.get((item.analyte_id, item.medium), ()))


def by_result(found: Iterable[Comparison], answer: str) -> tuple[tuple[Comparison, ...], ...]:
    """Gather the comparisons with an answer by the result that they are about, in the order given.

    One result may lie above several levels, such as those of two land uses.
    """
    gathered: dict[tuple[str, str], list[Comparison]] = {}
    for one in found:
        if one.answer == answer:
            key = (one.concentration.lab_sample_id, one.concentration.analyte_id)
            gathered.setdefault(key, []).append(one)
    return tuple(map(tuple, gathered.values()))
