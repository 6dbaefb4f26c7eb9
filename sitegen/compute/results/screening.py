"""Compare concentrations with screening levels of the same medium, in four answers.

``compare`` takes a :class:`Concentration`; a mass has no way in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.compute.results.concentration import Concentration
from sitegen.project.survey import Survey
from sitegen.project.tables import StatedLevel
from sitegen.units import CONCENTRATION_UNITS, RESULT_UNITS

ABOVE = "above"
AT_OR_BELOW = "at or below"
CANNOT_TELL = "inconclusive (reporting limit exceeds level)"


@dataclass(frozen=True, slots=True)
class Level:
    """A screening level in µg/m³ for one compound, medium and land use, with its source."""

    level_set: str
    analyte_id: str
    medium: str
    land_use: str
    ug_m3: float
    source: str
    edition_date: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """A concentration beside a level: the answer in words, and the ratio of detections.

    ``near`` says that a detection is within the stated share of the level, on either side.
    """

    concentration: Concentration
    level: Level
    answer: str
    ratio: float | None
    near: bool = False


@dataclass(frozen=True, slots=True)
class Exceedance:
    """A compound above a level at a point: the highest result decides.

    ``above`` are the comparisons of that result that lie above a level; ``others`` the other
    concentrations at the point, those of a duplicate say.
    """

    location_id: str
    analyte_id: str
    above: tuple[Comparison, ...]
    others: tuple[Concentration, ...]

    @property
    def concentration(self) -> Concentration:
        """The result that decides."""
        return self.above[0].concentration


def levels(survey: Survey) -> tuple[Level, ...]:
    """Return the levels given as concentrations, in file order."""
    return tuple(
        Level(
            row.level_set, row.analyte_id, row.medium, row.land_use, RESULT_UNITS[row.unit].factor * row.value,
            row.source_title, row.edition_date
        )
        for row in survey.rows(StatedLevel)
        if row.unit in CONCENTRATION_UNITS and row.value > 0
    )  # fmt: skip


def compare(concentration: Concentration, level: Level, near_pct: float) -> Comparison:
    """Compare a concentration with a level for the same compound and medium.

    A detection within ``near_pct`` % of the level is near it. Raises ValueError where compound
    or medium differ.
    """
    if (concentration.analyte_id, concentration.medium) != (level.analyte_id, level.medium):
        raise ValueError("a level applies only to its own compound and medium")
    if concentration.detected:
        answer = ABOVE if concentration.ug_m3 > level.ug_m3 else AT_OR_BELOW
        ratio = concentration.ug_m3 / level.ug_m3
        return Comparison(concentration, level, answer, ratio, near=100 * abs(ratio - 1) <= near_pct + 1e-9)
    answer = AT_OR_BELOW if concentration.rl_ug_m3 <= level.ug_m3 else CANNOT_TELL
    return Comparison(concentration, level, answer, None)


def comparisons(
    concentrations: Iterable[Concentration], on_file: tuple[Level, ...], near_pct: float
) -> tuple[Comparison, ...]:
    """Compare each concentration with every level for its compound and medium."""
    by_key: dict[tuple[str, str], list[Level]] = {}
    for level in on_file:
        by_key.setdefault((level.analyte_id, level.medium), []).append(level)
    return tuple(
        compare(item, level, near_pct)
        for item in concentrations
        for level in by_key.get((item.analyte_id, item.medium), ())
    )


def by_result(compared: Iterable[Comparison], answer: str) -> tuple[tuple[Comparison, ...], ...]:
    """Gather the comparisons with an answer by the result that they are about, in the order given.

    One result may lie above several levels, such as those of two land uses.
    """
    gathered: dict[tuple[str, str], list[Comparison]] = {}
    for one in compared:
        if one.answer == answer:
            key = (one.concentration.lab_sample_id, one.concentration.analyte_id)
            gathered.setdefault(key, []).append(one)
    return tuple(map(tuple, gathered.values()))


def exceedances(compared: Iterable[Comparison], at: Mapping[str, str]) -> tuple[Exceedance, ...]:
    """Gather the comparisons above a level by point and compound, in the order given.

    ``at`` gives the point of a laboratory sample. Of several results the highest decides.
    """
    by_place: dict[tuple[str, str], dict[str, list[Comparison]]] = {}
    for one in compared:
        result = one.concentration
        results = by_place.setdefault((at[result.lab_sample_id], result.analyte_id), {})
        results.setdefault(result.lab_sample_id, []).append(one)
    exceeding = (_exceedance(*key, tuple(results.values())) for key, results in by_place.items())
    return tuple(one for one in exceeding if one is not None)


def _exceedance(place: str, analyte_id: str, results: tuple[list[Comparison], ...]) -> Exceedance | None:
    ranked = sorted(results, key=lambda of: (of[0].concentration.detected, of[0].concentration.ug_m3), reverse=True)
    above = tuple(one for one in ranked[0] if one.answer == ABOVE)
    others = tuple(of[0].concentration for of in ranked[1:])
    return Exceedance(place, analyte_id, above, others) if above else None
