"""The plan beside what happened, line by line, and which departures on record name what differs.

The plan is what ``[plan]`` of the settings states and the points that were not added in the field. A line has no plan
where none is stated, and nothing found where nothing is on record. Before the field work is over, what is still to
come is no difference.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sitegen.compute.design.allocation import count_samplers
from sitegen.compute.field.exposure import DUPLICATE, FIELD_BLANK, LOST, PRIMARY, Placement
from sitegen.compute.limits import LimitRecord
from sitegen.compute.place.points import Point
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Departure, Deployment, Location, ReturnBag, Sampler
from sitegen.units import to_metres

_ROUNDING_M = 1e-9
_GONE = ("not_done", "abandoned")

Facts = Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that differs: the point, sampler or bag that it is named by, and another id of it."""

    name: str
    also: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """What the plan states of one thing, and what is on record of it.

    ``about`` is a medium where the line is of one. ``plan`` and ``found`` are facts for words, None where nothing
    is stated or on record; ``differs`` is None where that can't be told.
    """

    name: str
    about: str
    plan: Facts | None
    found: Facts | None
    differs: bool | None
    items: tuple[Item, ...] = ()


@dataclass(frozen=True, slots=True)
class Naming:
    """Departures on record that name what differs, each with these names, and the names in none of them.

    ``loose`` are departures that name nothing: they may be about a number, which has no name.
    """

    by_departure: tuple[tuple[str, tuple[str, ...]], ...]
    unnamed: tuple[str, ...]
    loose: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Record:
    """What lines are made from: ``deployed`` are all rows of deployments.csv, ``finished`` once samplers are back."""

    survey: Survey
    deployed: tuple[Placement, ...]
    points: tuple[Point, ...]
    limits: Mapping[str, LimitRecord]
    finished: bool

    @property
    def placed(self) -> tuple[Placement, ...]:
        """The samplers that sampled a point."""
        return tuple(p for p in self.deployed if p.role != FIELD_BLANK)

    @property
    def planned(self) -> tuple[Location, ...]:
        """The points of the plan."""
        return tuple(row for row in self.survey.rows(Location) if row.design != "added")

    def short(self, found: int, planned: int) -> bool:
        """Tell whether a number differs from the plan: less counts once the field work is over."""
        return found > planned or (self.finished and found < planned)


def plan_twin(record: Record) -> tuple[Line, ...]:
    """Return the lines of the plan, in the order of the work; none where nothing was placed."""
    if not record.deployed:
        return ()
    media = dict.fromkeys(row.medium for row in record.survey.rows(Location) if row.medium)
    return (
        _points(record, ""),
        *(_points(record, medium) for medium in media),
        _positions(record),
        _depths(record),
        _holes(record),
        _exposures(record),
        *_days(record),
        _returns(record),
        *_quality(record),
        *_bags(record),
    )


def naming(line: Line, departures: Iterable[Departure]) -> Naming:
    """Return the departures that name what differs in a line."""
    ids = [(row.deviation_id, {part.strip() for part in row.affected_ids.split(";")} - {""}) for row in departures]
    found = [(name, tuple(item.name for item in line.items if {item.name, item.also} & own)) for name, own in ids]
    named = {name for _, names in found for name in names}
    unnamed = tuple(dict.fromkeys(item.name for item in line.items if item.name not in named))
    by_departure = tuple((name, tuple(dict.fromkeys(names))) for name, names in found if names)
    return Naming(by_departure, unnamed, tuple(name for name, own in ids if not own))


def _points(record: Record, medium: str) -> Line:
    """Return the points of one medium, or all of them, where it is ""."""
    at = {p.location_id for p in record.placed}
    rows = [row for row in record.survey.rows(Location) if row.medium == medium or not medium]
    listed = [row for row in rows if row.design != "added"]
    missing = [row for row in listed if row.location_id not in at and (record.finished or row.status in _GONE)]
    added = [row for row in rows if row.design == "added" and row.location_id in at]
    stated = record.survey.plan.locations if not medium else None
    planned = len(listed) if stated is None else stated
    used = sum(row.location_id in at for row in listed)
    items = tuple(Item(row.location_id) for row in (*missing, *added))
    differs = bool(items) or planned != len(listed)
    found = {"used": used, "added": len(added), "listed": len(listed), "planned": planned}
    plan = {"planned": planned} if planned or stated is not None else None
    return Line("points", medium, plan, found, differs, items)


def _positions(record: Record) -> Line:
    limit = record.limits["moved_m"]
    both = [point for point in record.points if point.moved_m is not None]
    moved = [point for point in both if point.is_off_plan(limit.value)]
    planned = sum(point.planned is not None for point in record.points)
    found = {"both": len(both), "moved": len(moved), "limit": limit.text} if both else None
    plan = {"planned": planned} if planned else None
    items = tuple(Item(point.location_id) for point in moved)
    return Line("positions", "", plan, found, bool(items) if both else None, items)


def _depths(record: Record) -> Line:
    depth, tolerance = record.survey.plan.depth, record.limits["depth_tolerance_m"]
    in_soil = [p for p in record.placed if p.medium == SOIL_MEDIA[0]]
    known = [(p.depth_m, p.depth_text, p) for p in in_soil if p.depth_m is not None]
    texts = [text for _, text in sorted(one[:2] for one in known)]
    found = {"known": len(known), "of": len(in_soil), "least": texts[0], "most": texts[-1]} if known else None
    if depth is None:
        return Line("depths", "", None, found, None)
    planned_m = to_metres(depth.value, depth.unit)
    off = [p for depth_m, _, p in known if abs(depth_m - planned_m) > tolerance.value + _ROUNDING_M]
    own = record.survey.plan.depth_tolerance
    plan = {
        "depth": f"{depth.value:g} {depth.unit}",
        "tolerance": f"{own.value:g} {own.unit}" if own else "",
        "default": tolerance.text,
    }
    return Line("depths", "", plan, found and {**found, "off": len(off)}, bool(off) if known else None, _named(off))


def _holes(record: Record) -> Line:
    """Return how holes were made, of which a plan has no place to state anything."""
    methods = Counter(row.hole_method for row in record.survey.rows(Deployment) if row.hole_method)
    return Line("holes", "", None, {"methods": tuple(sorted(methods.items()))} if methods else None, None)


def _exposures(record: Record) -> Line:
    low, high = record.limits["exposure_days_min"], record.limits["exposure_days_max"]
    back = [p for p in record.placed if p.recovered]
    known = [(p.exposure_days, p) for p in back if p.exposure_days is not None]
    days = sorted(length for length, _ in known)
    found = {"known": len(known), "of": len(back), "least": days[0], "most": days[-1]} if days else None
    if not (low.from_project or high.from_project):
        return Line("exposures", "", None, found, None)
    off = [p for length, p in known if not low.value <= length <= high.value]
    plan = {"low": f"{low.value:g}", "high": high.text}
    return Line("exposures", "", plan, found and {**found, "off": len(off)}, bool(off) if days else None, _named(off))


def _days(record: Record) -> Iterator[Line]:
    """Yield the days of placing and of retrieving, and work on closed days."""
    plan = record.survey.plan
    placed = [(p.placed_at[:10], p) for p in record.placed if p.placed_at]
    back = [(p.retrieved_at[:10], p) for p in record.placed if p.recovered and p.retrieved_at]
    yield _span("placing", plan.placing_from, plan.placing_to, placed)
    yield _span("retrieving", plan.retrieving_from, plan.retrieving_to, back)
    worked = (*placed, *back)
    closed = {day.isoformat() for day in plan.closed_days}
    found = {"days": len({day for day, _ in worked})} if worked else None
    if not closed:
        yield Line("closed", "", None, found, None)
        return
    on = [p for day, p in worked if day in closed]
    told = found and {**found, "on": len(on)}
    yield Line("closed", "", {"days": tuple(sorted(closed))}, told, bool(on) if worked else None, _named(on))


def _span(name: str, first: date | None, last: date | None, done: Sequence[tuple[str, Placement]]) -> Line:
    days = sorted(day for day, _ in done)
    found = {"first": days[0], "last": days[-1]} if days else None
    if first is None and last is None:
        return Line(name, "", None, found, None)
    low, high = first.isoformat() if first else "", last.isoformat() if last else ""
    off = [p for day, p in done if day < low or (high and day > high)]
    differs = bool(off) if days else None
    return Line(name, "", {"first": low, "last": high}, found and {**found, "off": len(off)}, differs, _named(off))


def _returns(record: Record) -> Line:
    """Return how many samplers came back: every plan has all of them retrieved."""
    out = [p for p in record.placed if not p.recovered and (record.finished or p.state == LOST)]
    back = sum(p.recovered for p in record.placed)
    found = {"back": back, "of": len(record.placed)} if record.placed else None
    return Line("returns", "", {}, found, bool(out) if record.placed else None, _named(out))


def _quality(record: Record) -> Iterator[Line]:
    """Yield field duplicates, field blanks and spares."""
    plan = record.survey.plan
    primaries = len(record.planned) if plan.locations is None else plan.locations
    wanted = count_samplers(primaries, plan.duplicate_rate, least=plan.least_duplicates).duplicates
    roles = Counter(p.role for p in record.deployed)
    kinds = Counter(row.kind for row in record.survey.rows(Sampler))
    rated = plan.model_fields_set & {"duplicate_rate", "least_duplicates"}
    sampled = sum(role == PRIMARY for role in roles.elements())
    yield _count(record, "duplicates", wanted if rated else None, roles[DUPLICATE], primaries=sampled)
    blanks = plan.field_blanks if "field_blanks" in plan.model_fields_set else None
    yield _count(record, "field_blanks", blanks, roles[FIELD_BLANK])
    spares = plan.spares if "spares" in plan.model_fields_set else None
    yield _count(record, "spares", spares, kinds["spare"], known=bool(kinds))


def _count(
    record: Record, name: str, planned: int | None, found: int, *, known: bool = True, primaries: int = 0
) -> Line:
    facts = {"found": found, "primaries": primaries} if known else None
    if planned is None:
        return Line(name, "", None, facts, None)
    return Line(name, "", {"planned": planned}, facts, record.short(found, planned) if known else None)


def _bags(record: Record) -> Iterator[Line]:
    """Yield the trip blanks, of which a plan has no place to state anything, and how full the bags are."""
    plan, bags = record.survey.plan, record.survey.rows(ReturnBag)
    found = {"bags": len(bags), "with_blank": sum(bag.trip_blank_id != "" for bag in bags)} if bags else None
    yield Line("trip_blanks", "", None, found, None)
    inside = Counter(p.bag_id for p in record.deployed if p.bag_id)
    most = plan.samplers_per_bag if "samplers_per_bag" in plan.model_fields_set else None
    full = {"bags": len(bags), "fullest": max(inside.values())} if bags and inside else None
    over = tuple(Item(name) for name, count in inside.items() if most is not None and count > most)
    differs = None if most is None or full is None else bool(over)
    yield Line("bags", "", None if most is None else {"most": most}, full, differs, over)


def _named(placed: Collection[Placement]) -> tuple[Item, ...]:
    return tuple(Item(p.location_id, p.sampler_id) for p in placed)
