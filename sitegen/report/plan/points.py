"""The planned points: a table of them all, and a page for each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sitegen.compute.design.fieldplan import PlannedPoint, Tie
from sitegen.compute.design.programme import points_of
from sitegen.compute.design.surround import NearUtility, nearest_utilities
from sitegen.compute.formats import day_text
from sitegen.compute.place.points import StatedPosition
from sitegen.compute.place.systems import is_geographic
from sitegen.project.tables import Location, Ticket
from sitegen.report.field.surveyed import stated_cell, system_text, unit_head
from sitegen.report.points.location import record_sections
from sitegen.report.record.pages import Block, Callout, Cell, Chapter, Facts, Page, Prose, Quote, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

LIST = Ref("page", "locations")
_MEASURED = frozenset(
    {
        "Planned depth",
        "Thickness of paving or slab",
        "Planned coordinates",
        "WGS 84 latitude, longitude",
        "Tie distances",
        "Nearest mapped utility",
        "Position in the walking order",
    }
)


@dataclass(frozen=True, slots=True)
class Planned:
    """A point: its row, its place (None where no position is on record), its duplicate and nearest utility.

    ``number`` is its place in the walking order, 0 where it has left the plan.
    """

    row: Location
    place: PlannedPoint | None
    number: int
    duplicate: str
    utility: NearUtility | None

    @property
    def location_id(self) -> str:
        """The point's id."""
        return self.row.location_id


@traced
def planned_points(context: Context) -> tuple[Planned, ...]:
    """Return the points in the order of their file; those that have left the plan have no number."""
    plan = context.evaluation.plan
    places = {point.location_id: point for point in plan.points}
    order = {name: at for at, name in enumerate([*places, *plan.unplaced], start=1)}
    doubled = {slot.location_id: slot.label for slot in plan.allocation.of("field_duplicate")}
    near = nearest_utilities(context.survey, plan.points)
    return tuple(
        Planned(
            row, places.get(name := row.location_id), order.get(name, 0), doubled.get(name, ""), near.get(name),
        )
        for row in context.locations
    )  # fmt: skip


def in_plan(context: Context, points: Sequence[Planned]) -> tuple[Planned, ...]:
    """Return those of the points that are in the plan."""
    plan = context.evaluation.plan
    names = {*plan.unplaced, *(point.location_id for point in plan.points)}
    return tuple(one for one in points if one.location_id in names)


def list_page(context: Context, points: tuple[Planned, ...]) -> Page:
    """Return the page with the table of all planned points."""
    plan = context.evaluation.plan
    lead = say("plan.points_lead", points=plan.allocation.counts.primaries, unplaced=len(plan.unplaced))
    names = " ".join(one.location_id for one in points)
    return Page(LIST, worded("Points"), lead, points_blocks(context, points), group="Work plan", search=names)


@traced
def points_blocks(context: Context, points: tuple[Planned, ...]) -> tuple[Block, ...]:
    """Return the points of the plan: what each is, and where it is found."""
    kept = in_plan(context, points)
    return (points_table(kept), places_table(context, kept))


def points_table(points: tuple[Planned, ...]) -> Table:
    """Return what each point samples, through which surface, and why it is where it is."""
    columns: list[Spec[Planned]] = [
        _POINT,
        Spec("medium", "Medium", cell=lambda one: word("medium", one.row.medium)),
        Spec("design", "Design", cell=lambda one: word("design", one.row.design) or "–"),
        Spec("surface", "Surface", cell=lambda one: _surface(one.row)),
        Spec("depth", "Depth", kind="number", cell=lambda one: _depth(one) or "–"),
        Spec("duplicate", "Duplicate", cell=lambda one: one.duplicate or "–"),
        Spec("rationale", "Rationale", kind="wide", cell=lambda one: one.row.rationale or "–"),
    ]
    filters = ("medium", "design", "surface")
    return table("planned-points", say("plan.points_caption"), columns, points, filters=filters, empty=_none())


def places_table(context: Context, points: tuple[Planned, ...]) -> Table:
    """Return where each point is: in the project's system, in WGS 84, and from two fixed features."""
    code = context.survey.settings.space.crs
    names = ("Longitude", "Latitude") if is_geographic(code) else ("Easting", "Northing")
    columns: list[Spec[Planned]] = [
        _POINT,
        *(_stated_column(context, name, at, code) for at, name in enumerate(names)),
        Spec("latitude", "WGS 84 latitude", "degrees", "number", cell=lambda one: _degrees(one, at=0)),
        Spec("longitude", "WGS 84 longitude", "degrees", "number", cell=lambda one: _degrees(one, at=1)),
        Spec("tie_1", "Nearest fixed feature", kind="wide", tells=True, cell=lambda one: _tie(one, 0)),
        Spec("tie_2", "Second fixed feature", kind="wide", tells=True, cell=lambda one: _tie(one, 1)),
    ]
    caption = say("plan.places_caption", system=system_text(code))
    note = say("plan.places_note")
    return table("planned-places", caption, columns, points, note=note, empty=_none(), landscape=True)


_POINT: Spec[Planned] = Spec("point", "Point", cell=lambda one: Cell(one.location_id, location_ref(one.location_id)))


def _none() -> str:
    return say("plan.no_point")


def _surface(row: Location) -> str:
    if not row.surface and "air" in row.medium:
        return "–"
    return word("surface", row.surface)


def _depth(one: Planned) -> str:
    return one.place.depth_text if one.place else ""


def _stated_column(context: Context, name: str, at: int, code: str) -> Spec[Planned]:
    """Return the column of the first (0) or second (1) coordinate as the plan gives it."""

    def cell(one: Planned) -> Cell:
        found = context.points.get(one.location_id)
        if found is None or found.given is None:
            return Cell("–", tone="muted")
        return Cell(_text(found.given, at), origin=stated_cell(found, found.given, at))

    return Spec(name.lower(), name, unit_head(code), "number", cell=cell)


def _text(given: StatedPosition, at: int) -> str:
    return (given.x_text, given.y_text)[at].strip()


def _degrees(one: Planned, *, at: int) -> str:
    return f"{(one.place.latitude, one.place.longitude)[at]:.7f}" if one.place else "–"


def _tie(one: Planned, at: int) -> str:
    ties = one.place.ties if one.place else ()
    return tie_text(ties[at]) if at < len(ties) else "–"


def tie_text(tie: Tie) -> str:
    """Write the way from a fixed feature to a point: ``12.00 m north-east of Shop``."""
    return say("plan.tie", name=tie.name, distance=f"{tie.distance_m:.2f}", direction=tie.direction)


def point_pages(context: Context, points: tuple[Planned, ...]) -> Iterator[Page]:
    """Yield a page for each planned point, linked one to the next."""
    names = [one.location_id for one in points]
    for at, one in enumerate(points):
        yield Page(
            location_ref(names[at]),
            names[at],
            lead(context, one),
            point_blocks(context, one),
            parent=LIST,
            previous=location_ref(names[at - 1]) if at else None,
            following=location_ref(names[at + 1]) if at + 1 < len(names) else None,
            search=" ".join(filter(None, (names[at], word("medium", one.row.medium), one.row.rationale))),
        )


def lead(context: Context, one: Planned) -> str:
    """Return the sentence that opens a point's page: what is planned, and what is in place there."""
    placement = context.primary_at(one.location_id)
    return say(
        "plan.point_lead",
        medium=word("medium", one.row.medium),
        design=word("design", one.row.design),
        surface=word("surface", one.row.surface) if one.row.surface else "",
        building=one.row.building,
        rationale=one.row.rationale,
        placed=context.told_at(placement.placed_utc) if placement else "",
        retrieved=context.told_at(placement.retrieved_utc) if placement and placement.retrieved_utc is not None else "",
        due=day_text(placement.due_on) if placement else "",
        left=not one.number,
        status=one.row.status,
    )


@traced
def point_blocks(context: Context, one: Planned) -> tuple[Block, ...]:
    """Return everything about one planned point: where it is, what to do there, what to mind, what was done."""
    blocks: list[Block] = [place_facts(context, one)]
    if one.row.comment:
        blocks.append(Quote(one.row.comment, place_text(one.row.origin)))
    ground = one.place.ground if one.place else _ground(one.row)
    if one.number:
        blocks.append(Section("steps", worded("Procedure"), (steps(context, one, ground),)))
        blocks.append(Section("cautions", worded("Safety"), (_caution(context, one, ground),)))
    placed = context.placed_at.get(one.location_id) or context.opened_at.get(one.location_id)
    return (*blocks, *record_sections(context, one.row)) if placed or not one.number else tuple(blocks)


def _ground(row: Location) -> str:
    return "air" if "air" in row.medium else "slab" if row.medium == "sub_slab" else "unpaved"


@traced
def place_facts(context: Context, one: Planned) -> Facts:
    """Return where a planned point is and what is placed there."""
    found, place, row = context.points.get(one.location_id), one.place, one.row
    facts: list[tuple[str, Cell]] = [
        (worded("Medium"), Cell(word("medium", row.medium))),
        (worded("Surface"), Cell(_surface(row))),
    ]
    if place and place.surface_thickness_in is not None:
        facts.append(
            (worded("Thickness of paving or slab"), _of_row(row, "surface_thickness_in", place.surface_thickness_in))
        )
    facts.append((worded("Planned depth"), Cell(_depth(one) or "–")))
    if found and found.given:
        text = f"{_text(found.given, 0)}, {_text(found.given, 1)}"
        system = system_text(context.survey.settings.space.crs)
        where = Cell(say("plan.in_system", text=text, system=system), origin=stated_cell(found, found.given, 0))
        title = worded("Planned coordinates") if found.as_planned else worded("Coordinates as surveyed")
        facts.append((title, where))
    if place:
        degrees = f"{place.latitude:.7f}, {place.longitude:.7f}"
        facts.append((worded("WGS 84 latitude, longitude"), Cell(degrees, Ref("map", one.location_id))))
        facts.append((worded("Tie distances"), Cell("; ".join(map(tie_text, place.ties)) or say("plan.no_tie"))))
    else:
        facts.append((worded("Position"), Cell(say("plan.no_position"))))
    facts.append((worded("Nearest mapped utility"), Cell(utility_text(one.utility))))
    facts.append((worded("Utility clearance tickets"), Cell(tickets_text(context, one.location_id))))
    facts.append((worded("Samplers"), Cell(say("plan.samplers_here", point=one.location_id, duplicate=one.duplicate))))
    if one.number:
        facts.append((worded("Position in the walking order"), Cell(str(one.number))))
    facts.append((worded("Rationale"), Cell(row.rationale or "–")))
    return Facts(tuple(facts), frozenset(map(worded, _MEASURED)))


def _of_row(row: Location, column: str, inches: float) -> Cell:
    return Cell(f"{inches:g} in", origin=row.origin.cell(column))


def utility_text(near: NearUtility | None) -> str:
    """Write which mapped utility is nearest and how far, or that none is mapped."""
    if near is None:
        return say("plan.no_utility")
    return say("plan.utility", name=near.name, type=near.type, distance=f"{near.distance_m:.2f}")


def tickets_text(context: Context, name: str) -> str:
    """Write the tickets that cover a point with their validity, or that none is on record."""
    found = [row for row in context.survey.rows(Ticket) if not points_of(row) or name in points_of(row)]
    said = (
        say("plan.ticket", ticket=r.ticket, first=context.moment(r.valid_from_utc), last=context.moment(r.valid_to_utc))
        for r in found
    )
    return "; ".join(said) or say("plan.no_ticket")


def steps(context: Context, one: Planned, ground: str) -> Prose:
    """Return the steps for the ground of a point."""
    plan = context.survey.plan
    return prose(
        f"plan.steps_{ground}",
        depth=_depth(one),
        shortest=f"{plan.exposure_days_min:g}",
        longest=f"{plan.exposure_days_max:g}",
        duplicate=one.duplicate,
    )


def _caution(context: Context, one: Planned, ground: str) -> Callout:
    limit = context.evaluation.limits["utility_distance_m"]
    near = one.utility is not None and one.utility.distance_m < limit.value
    occupied = occupied_buildings(context)
    text = prose(
        "plan.point_caution",
        ground=ground,
        near=near,
        limit=limit.text,
        utility=utility_text(one.utility),
        building=one.row.building,
        occupied=one.row.building in occupied,
    )
    return Callout("caution", say("plan.caution_title"), text.markdown)


def occupied_buildings(context: Context) -> Mapping[str, bool]:
    """Return the buildings that are recorded as occupied, by name."""
    return {one.name: True for one in context.survey.features if one.kind == "building" and one.occupied}


def sheets_chapter(context: Context, points: tuple[Planned, ...]) -> Chapter:
    """Return the chapter with a sheet for each planned point."""
    sheets = tuple(_sheet(context, one) for one in in_plan(context, points))
    return Chapter("sheets", worded("Point sheets"), (prose("plan.sheets"), *sheets), appendix=True, listed=False)


@traced
def _sheet(context: Context, one: Planned) -> Section:
    ground = one.place.ground if one.place else _ground(one.row)
    said = prose("plan.plain", text=lead(context, one))
    return Section(
        f"location-{one.location_id}",
        one.location_id,
        (said, place_facts(context, one), _caution(context, one, ground)),
    )
