"""Buildings and the air in them: which points are theirs, which land use applies, and the answer for each compound.

A building is one that is drawn and on record as occupied, or any in which indoor air was to be sampled. What is known
of the air comes from :mod:`sitegen.compute.results.screening`; here it is gathered by point and compound. Of several
results at a point the one that says most against it decides: an answer "at or below" holds for each of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.place.points import Point, map_crs, on_map
from sitegen.compute.results.concentration import Concentration, uptake_rates
from sitegen.compute.results.screening import ABOVE, AT_OR_BELOW, CANNOT_TELL, Comparison, Level, levels
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.settings import ScreeningPart
from sitegen.project.survey import Feature, Survey
from sitegen.project.tables import Location

INDOOR = "indoor_air"
NEAR = "near"
"""At or below a level, and within the limit ``near_level_pct`` of it."""

SEVERITY = (ABOVE, CANNOT_TELL, NEAR, AT_OR_BELOW)
"""The answers, the one that says most against the air first."""

Reason = Literal["", "no_level", "no_result", "no_rate", "no_time", "rejected"]
"""Why a compound is compared with no level at a point, "" where it is compared."""

_WITHIN = frozenset({INDOOR, "sub_slab", "crawl_space"})
"""Media of which a row names the building that the point is in, not one beside it."""

_NO = frozenset({"no", "n", "false", "0"})


class LandUse(NamedTuple):
    """The land use that applies, "" where none is set; ``own`` says that it is stated for the building itself."""

    use: str = ""
    source: str = ""
    own: bool = False


class Answer(NamedTuple):
    """A level with the answer of :data:`SEVERITY` that a point gives."""

    level: Level
    answer: str


@dataclass(frozen=True, slots=True)
class Indoor:
    """A compound with a level for indoor air, at an indoor point.

    ``results`` are its concentrations there, the highest detection first, else the highest limit. ``answers`` are those
    of the levels that apply; ``other_uses`` the levels of other land uses that a result there is above.
    """

    location_id: str
    analyte_id: str
    results: tuple[Concentration, ...]
    answers: tuple[Answer, ...]
    other_uses: tuple[Level, ...]
    reason: Reason

    @property
    def worst(self) -> str:
        """The answer that says most against the air, "" where nothing is compared."""
        return min((one.answer for one in self.answers), key=SEVERITY.index, default="")


@dataclass(frozen=True, slots=True)
class Building:
    """A building with the points in it and what is known of its indoor air.

    ``occupied`` is ``yes``, ``no`` or "" (not on record). ``points`` are all in it, ``sampled`` those of indoor air.
    ``without_level`` are the compounds with a result in its air that no level on record is for. One that is not drawn
    has no ``shape`` (map CRS); ``withheld`` says that a copy leaves out buildings, of which it may be one.
    """

    name: str
    occupied: Literal["yes", "no", ""]
    use: str
    land_use: LandUse
    points: tuple[str, ...]
    sampled: tuple[str, ...]
    indoor: tuple[Indoor, ...]
    without_level: tuple[str, ...]
    shape: BaseGeometry | None = None
    withheld: bool = False


class Nearby(NamedTuple):
    """The soil point nearest to a building: its distance in metres, 0 inside, and its highest masses, highest first."""

    location_id: str
    distance_m: float
    highest: tuple[StoredResult, ...]


def buildings(survey: Survey, evaluation: Evaluation) -> tuple[Building, ...]:
    """Return the occupied buildings and every other with a point of indoor air: those drawn first, as they are drawn.

    A point of indoor air, below a slab or in a crawl space is in the building that its row names; any, else, in the one
    that is drawn around it (a row of soil gas may name a building that it is beside). Points of indoor air in none that
    is drawn are gathered by what their rows call the building. Where a copy leaves out buildings that are drawn, these
    may have a land use of their own: none is set then, and each level applies.
    """
    drawn = [one for one in survey.features if one.kind == "building"]
    shapes = [on_map(one.geometry, map_crs(survey)) for one in drawn]
    rows = survey.rows(Location)
    at = _at(rows, drawn, shapes, {point.location_id: point for point in evaluation.points})
    found = _Found(survey, evaluation)
    made = []
    for number, feature in enumerate(drawn):
        inside = [row for row in rows if at[row.location_id] == number]
        if feature.occupied or any(row.medium == INDOOR for row in inside):
            occupied = _occupied(feature)
            use, land_use = _text(feature, "use"), _land_use(feature, survey.settings.screening)
            made.append(found.building(feature.name, occupied, use, land_use, inside, shapes[number]))
    apart: dict[str, list[Location]] = {}
    for row in rows:
        if at[row.location_id] is None and row.medium == INDOOR:
            apart.setdefault(row.building, []).append(row)
    hidden = survey.withheld.buildings > 0
    stated = LandUse() if hidden else _land_use(None, survey.settings.screening)
    others = [found.building(name, "", "", stated, inside, None) for name, inside in apart.items()]
    return (*made, *(replace(one, withheld=hidden) for one in others))


def _at(
    rows: Iterable[Location], drawn: list[Feature], shapes: list[BaseGeometry], points: Mapping[str, Point]
) -> dict[str, int | None]:
    """Return the place among the buildings of the one that each point is in, None for none."""
    named = {one.name: number for number, one in reversed(list(enumerate(drawn)))}

    def place(row: Location) -> int | None:
        point = points.get(row.location_id)
        if row.medium in _WITHIN and row.building in named:
            return named[row.building]
        if point is None:
            return None
        dot = shapely.Point(point.x, point.y)
        return next((number for number, shape in enumerate(shapes) if shape.covers(dot)), None)

    return {row.location_id: place(row) for row in rows}


def _occupied(feature: Feature) -> Literal["yes", "no", ""]:
    if feature.occupied:
        return "yes"
    return "no" if _text(feature, "occupied").lower() in _NO else ""


def _text(feature: Feature, name: str) -> str:
    value = feature.properties.get(name)
    return "" if value is None else str(value).strip()


def _land_use(feature: Feature | None, stated: ScreeningPart) -> LandUse:
    own = _text(feature, "land_use") if feature else ""
    if feature and own:
        return LandUse(own, _text(feature, "land_use_source"), own=True)
    return LandUse(stated.land_use.strip(), stated.source if stated.land_use.strip() else "")


def applies(level: Level, land_use: LandUse) -> bool:
    """Tell whether a level is for a land use; one that names none is for each, and where no use is set each applies."""
    return not land_use.use or level.land_use.strip().casefold() in ("", land_use.use.casefold())


class _Found:
    """What is known of indoor air, by point and compound."""

    def __init__(self, survey: Survey, evaluation: Evaluation) -> None:
        store = evaluation.measured
        self.levels = [level for level in levels(survey) if level.medium == INDOOR]
        self.rates = set(uptake_rates(survey))
        self.results: dict[tuple[str, str], list[StoredResult]] = {}
        for row in stored_results(store[store["medium"] == INDOOR]):
            self.results.setdefault((row.location_id, row.analyte_id), []).append(row)
        self.concentrations = evaluation.concentrations
        self.compared: dict[tuple[str, str], list[Comparison]] = {}
        for one in evaluation.comparisons:
            key = one.concentration.lab_sample_id, one.concentration.analyte_id
            self.compared.setdefault(key, []).append(one)
        self.listed = {compound.analyte_id: number for number, compound in enumerate(evaluation.compounds)}

    def building(
        self,
        name: str,
        occupied: Literal["yes", "no", ""],
        use: str,
        land_use: LandUse,
        inside: list[Location],
        shape: BaseGeometry | None,
    ) -> Building:
        points = tuple(row.location_id for row in inside)
        sampled = tuple(row.location_id for row in inside if row.medium == INDOOR)
        with_level = sorted({level.analyte_id for level in self.levels}, key=self._place)
        indoor = tuple(self._indoor(point, compound, land_use) for point in sampled for compound in with_level)
        without = {compound for point, compound in self.results if point in sampled} - set(with_level)
        bare = tuple(sorted(without, key=self._place))
        return Building(name, occupied, use, land_use, points, sampled, indoor, bare, shape)

    def _place(self, analyte_id: str) -> tuple[int, str]:
        return self.listed.get(analyte_id, len(self.listed)), analyte_id

    def _indoor(self, point: str, compound: str, land_use: LandUse) -> Indoor:
        rows = self.results.get((point, compound), [])
        found = [self.concentrations[row.key] for row in rows if row.key in self.concentrations]
        ranked = tuple(sorted(found, key=lambda one: (one.detected, one.ug_m3), reverse=True))
        compared = [one for row in rows for one in self.compared.get(row.key, ())]
        answers = tuple(_answers(one for one in compared if applies(one.level, land_use)))
        over = [one.level for one in compared if one.answer == ABOVE and not applies(one.level, land_use)]
        reason: Reason = "" if answers else self._reason(rows, ranked)
        return Indoor(point, compound, ranked, answers, tuple(dict.fromkeys(over)), reason)

    def _reason(self, rows: list[StoredResult], found: tuple[Concentration, ...]) -> Reason:
        if not rows:
            return "no_result"
        if found:
            return "no_level"
        if all(row.rejected for row in rows):
            return "rejected"
        rated = any((row.sampler_type, row.analyte_id, row.medium) in self.rates for row in rows)
        return "no_time" if rated else "no_rate"


def _answers(compared: Iterable[Comparison]) -> Iterator[Answer]:
    """Yield for each level the answer that says most against the air, of those of all results."""
    by_level: dict[Level, list[str]] = {}
    for one in compared:
        near = one.near and one.answer == AT_OR_BELOW
        by_level.setdefault(one.level, []).append(NEAR if near else one.answer)
    for level, answers in by_level.items():
        yield Answer(level, min(answers, key=SEVERITY.index))


def nearest_soil(shape: BaseGeometry, evaluation: Evaluation, count: int) -> Nearby | None:
    """Return the soil point with results that is nearest to a building, and its ``count`` highest masses."""
    store = evaluation.primary
    soil = store[store["medium"].isin(SOIL_MEDIA) & ~store["rejected"]]
    with_results = set(soil["location_id"])
    near = [
        (round(shapely.distance(shape, shapely.Point(p.x, p.y)), 2), p.location_id)
        for p in evaluation.points
        if p.location_id in with_results
    ]
    if not near:
        return None
    distance, name = min(near)
    there = stored_results(soil[(soil["location_id"] == name) & soil["detected"]])
    return Nearby(name, float(distance), tuple(sorted(there, key=lambda row: -row.value)[:count]))
