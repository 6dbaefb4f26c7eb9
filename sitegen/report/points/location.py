"""Location pages: everything about one point, and the list of them all."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.compute.field.exposure import LOST, Placement
from sitegen.compute.formats import day_text
from sitegen.compute.place.neighbours import Neighbour
from sitegen.compute.quality.duplicates import with_results
from sitegen.compute.results.reported import reported_text
from sitegen.project.reads import reading
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import Departure, Location
from sitegen.report.field.custodyview import sampler_figure, spans_table
from sitegen.report.field.fieldnotes import position_text, row_cell
from sitegen.report.field.surveyed import surveyed_cell
from sitegen.report.points.results import duplicate_table, headline, result_figures, results_table, runs_table
from sitegen.report.points.samplers import other_results, samplers_table
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Facts,
    Page,
    Photo,
    Quote,
    Ref,
    Section,
    Table,
)
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.occupied import point_blocks
from sitegen.report.results.standout import low_callouts
from sitegen.report.write.columns import POINT
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.fields import AtPoint
from sitegen.report.write.filled import filled_facts
from sitegen.report.write.scans import scan_cell
from sitegen.report.write.traced import traced
from sitegen.report.write.values import mark_words, place_text, value_text
from sitegen.report.write.words import escape_markdown, say, word
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded

LIST = Ref("page", "locations")
_MEASURED = ("Position", "Coordinates as surveyed", "Distance from plan", "Depth", "Exposure")


def location_pages(context: Context, near: dict[str, tuple[Neighbour, ...]]) -> Iterator[Page]:
    """Yield the list of locations, then a page for each, linked one to the next."""
    names = [row.location_id for row in context.locations]
    done = context.evaluation.completeness
    yield Page(
        LIST,
        worded("Locations"),
        say("location.list_lead", count=len(names), planned=done.overall.counts[0], added=done.added.counts[0]),
        (locations_table(context),),
        group="Results",
        search=" ".join(names),
    )
    for at, row in enumerate(context.locations):
        yield Page(
            location_ref(names[at]),
            names[at],
            lead(context, row),
            location_blocks(context, row, near.get(names[at], ())),
            parent=LIST,
            previous=location_ref(names[at - 1]) if at else None,
            following=location_ref(names[at + 1]) if at + 1 < len(names) else None,
            search=_search(context, row),
        )


def lead(context: Context, row: Location) -> str:
    """Return the sentence that opens a location's page."""
    results = context.by_location.get(row.location_id, [])
    placement = context.primary_at(row.location_id)
    facts = headline(context, results)
    return say(
        "location.lead",
        medium=word("medium", row.medium),
        surface=word("surface", row.surface) if row.surface else "",
        building=row.building,
        state=context.state_of(row),
        said=row.status if row.status != "planned" else "",
        placed=context.told_at(placement.placed_utc) if placement else "",
        days=f"{placement.exposure_days:.1f}"
        if placement and placement.exposure_days
        else worded("an unknown number of"),
        due=day_text(placement.due_on) if placement else "",
        **facts,
    )


def _search(context: Context, row: Location) -> str:
    placements = context.placed_at.get(row.location_id, ())
    state = word("state", context.state_of(row))
    words = [row.location_id, word("medium", row.medium), row.surface, state, row.rationale, row.comment]
    for placement in placements:
        words += [placement.sampler_id, placement.label, placement.comment]
        words += [mark.word for mark in mark_words(context.evaluation.marks.by_sampler.get(placement.sampler_id, ()))]
    results = context.by_location.get(row.location_id, [])
    found = [result for result in results if result.detected]
    words += [write(result) for result in found for write in (reported_text, value_text)]
    return " ".join(dict.fromkeys(part for part in words if part))


@traced
def location_blocks(context: Context, row: Location, near: tuple[Neighbour, ...]) -> tuple[Block, ...]:
    """Return everything about one point, the numbers first."""
    name = row.location_id
    placement = context.primary_at(name)
    blocks: list[Block] = []
    remarks = _remarks(context, placement)
    if remarks:
        blocks.append(remarks)
    blocks += low_callouts(context, name)
    with reading():  # these blocks carry what they are made from: what follows is not made from levels
        blocks += point_blocks(context, name)
    blocks += _results(context, name)
    blocks += record_sections(context, row)
    if near:
        blocks.append(Section("near", worded("Nearest points"), (_near_table(context, name, near),)))
    photos = _photos(context, name)
    if photos:
        blocks.append(Section("photos", worded("Photographs"), photos))
    return tuple(blocks)


def record_sections(context: Context, row: Location) -> tuple[Section, ...]:
    """Return what is on record of the field work at a point: placement, departures, custody."""
    placement = context.primary_at(row.location_id)
    sections = [Section("record", worded("Field record"), _record(context, row, placement))]
    departures = _departures(context, row)
    if departures:
        sections.append(Section("departures", worded("Deviations from the work plan"), (departures,)))
    if placement:
        sections.append(Section("custody", worded("Chain of custody"), _custody(context, placement)))
    return tuple(sections)


def _remarks(context: Context, placement: Placement | None) -> Callout | None:
    """Say what bears on every number of the point."""
    if placement is None:
        return None
    marks = mark_words(context.evaluation.marks.by_sampler.get(placement.sampler_id, ()))
    if not marks:
        return None
    lines = "\n".join(f"* **{escape_markdown(mark.word)}**: {escape_markdown(mark.reason)}" for mark in marks)
    return Callout("flag", say("location.marks_intro").rstrip(":"), lines)


@traced
def _results(context: Context, name: str) -> list[Block]:
    results = context.by_location.get(name, [])
    others = other_results(context, name)
    blocks: list[Block] = []
    if results:
        drawn = result_figures(context, name, results)
        blocks.append(Section("results", worded("Results"), (results_table(context, name, results), *drawn)))
    blocks += [Section("others", say("location.others_title"), others)] if others else []
    runs = _runs(context, name)
    blocks += [Section("runs", worded("Other runs on record"), (runs,))] if runs else []
    blocks += [
        Section("duplicate", worded("Duplicate"), (duplicate_table(context, pair),))
        for pair in with_results(context.evaluation.pairs)
        if pair.location_id == name
    ]
    return blocks


@traced
def _runs(context: Context, name: str) -> Table | None:
    """Return the other runs of every sampler at a point, duplicates with it."""
    results = [row for p in context.placed_at.get(name, ()) for row in context.by_sampler.get(p.sampler_id, ())]
    unit = UNIT_TEXT.get(results[0].unit, "") if results else ""
    return runs_table(context, f"runs-{name}", say("location.runs_caption", location=name, unit=unit), results)


@traced
def _departures(context: Context, row: Location) -> Table | None:
    """Return the departures on record that name a point or a sampler there."""
    names = {row.location_id, *(p.sampler_id for p in context.placed_at.get(row.location_id, ()))}
    columns: list[Spec[Departure]] = [
        Spec("id", "No.", cell=_departure_cell),
        Spec("what", "Deviation", kind="wide", cell=lambda departure: departure.what),
        Spec("effect", "Effect on the data", kind="wide", cell=lambda departure: departure.effect or "–"),
        Spec("agreed", "Agreed", cell=_agreed_text),
    ]
    found = [
        departure
        for departure in context.survey.rows(Departure)
        if names & {part.strip() for part in departure.affected_ids.split(";")}
    ]
    caption = say("location.departures_caption", location=row.location_id)
    return table(f"departures-{row.location_id}", caption, columns, found) if found else None


def _departure_cell(departure: Departure) -> Cell:
    return Cell(departure.deviation_id, Ref("page", "deviations", departure.deviation_id))


def _agreed_text(departure: Departure) -> str:
    return " ".join(part for part in (departure.agreed_by_role, departure.agreed_on) if part) or "–"


@traced
def _record(context: Context, row: Location, placement: Placement | None) -> tuple[Block, ...]:
    point = context.points.get(row.location_id)
    facts: list[tuple[str, Cell]] = [
        (worded("Medium"), Cell(word("medium", row.medium))),
        (worded("Surface"), Cell(_surface(row))),
        (worded("Design"), Cell(word("design", row.design) or "–")),
        (worded("Rationale"), Cell(row.rationale or "–")),
        (worded("Row of the point"), row_cell(row.origin)),
    ]
    if point:
        facts.append((worded("Position"), Cell(position_text(context, row.location_id), Ref("map", row.location_id))))
        facts.append((worded("Coordinates as surveyed"), surveyed_cell(context, point, row)))
        if point.moved_m is not None:
            facts.append((worded("Distance from plan"), Cell(f"{point.moved_m:.2f} m")))
    if placement:
        facts += _placement_facts(context, placement)
        facts += _sheet_facts(context, placement)
    rows = [("locations", row.location_id), *([("deployments", placement.sampler_id)] if placement else [])]
    facts += filled_facts(context, *rows)
    several = samplers_table(context, row.location_id)
    blocks: list[Block] = [Facts(tuple(facts), frozenset(map(worded, _MEASURED))), *((several,) if several else ())]
    if row.comment:
        blocks.append(Quote(row.comment, place_text(row.origin)))
    blocks += [
        Quote(p.comment, worded("{place} (sampler {sampler})", place=place_text(p.origin), sampler=p.sampler_id))
        for p in (*context.placed_at.get(row.location_id, ()), *context.opened_at.get(row.location_id, ()))
        if p.comment
    ]
    return tuple(blocks)


def _sheet_facts(context: Context, placement: Placement) -> list[tuple[str, Cell]]:
    """Return the page of the field sheet that a placement was written on, where its row names one."""
    row = context.sheets.get(placement.sampler_id)
    return [(worded("Field sheet"), scan_cell(context.survey, row.scan_file, row.scan_page))] if row else []


def _not_back(placement: Placement) -> str:
    return worded("not recovered") if placement.state == LOST else word("state", placement.state)


def _placement_facts(context: Context, placement: Placement) -> list[tuple[str, Cell]]:
    exposure = "–"
    if placement.exposure_min is not None and placement.exposure_days is not None:
        days, minutes = placement.exposure_days, placement.exposure_min
        exposure = worded("{days:.2f} days ({minutes:,} min)", days=days, minutes=minutes)
    back = placement.retrieved_utc
    retrieved = _not_back(placement) if back is None else context.told_at(back)
    return [
        (worded("Sampler"), Cell(placement.sampler_id, Ref("sampler", placement.sampler_id))),
        (worded("Row of the deployment"), row_cell(placement.origin)),
        (
            worded("Deployed") if "air" in placement.medium else worded("Installed"),
            Cell(f"{context.told_at(placement.placed_utc)}, {placement.placed_by or worded('role not recorded')}"),
        ),
        (
            worded("Retrieved"),
            Cell(f"{retrieved}, {placement.retrieved_by}" if placement.retrieved_by else retrieved),
        ),
        (worded("Exposure"), Cell(exposure)),
        (worded("Depth"), Cell(placement.depth_text or "–")),
        (worded("Condition"), Cell(worded((placement.condition or "not recorded").replace("_", " ")))),
        (
            worded("Return bag"),
            Cell(placement.bag_id or "–", Ref("bag", placement.bag_id) if placement.bag_id else None),
        ),
    ]


@traced
def _custody(context: Context, placement: Placement) -> tuple[Block, ...]:
    chain = context.evaluation.custody.samplers.get(placement.sampler_id)
    if chain is None:
        return ()
    name = placement.sampler_id
    drawn = sampler_figure(context, name, chain)
    spans = spans_table(context, f"spans-{name}", chain, say("location.custody_caption", sampler=name))
    return (drawn, spans) if drawn else (spans,)


@traced
def _near_table(context: Context, name: str, near: tuple[Neighbour, ...]) -> Table:
    columns: list[Spec[Neighbour]] = [
        POINT,
        Spec("distance", "Distance", "m", "number", cell=lambda n: f"{n.distance_m:.1f}"),
        Spec("direction", "Direction", cell=lambda n: worded(n.direction)),
        _detected_column(context),
    ]
    return table(f"near-{name}", say("location.neighbours_caption"), columns, near)


def _detected_column(context: Context) -> Spec[AtPoint]:
    """Return the column of how many compounds were detected at a point."""
    return Spec(
        "detected",
        "Compounds detected",
        kind="number",
        cell=lambda item: context.detected_text(item.location_id),
    )


@traced
def _photos(context: Context, name: str) -> tuple[Block, ...]:
    return tuple(
        Photo(row.file, row.caption or name, row.alt_text or row.caption or worded("Photograph at {point}", point=name))
        for row in context.photos.get(name, ())
        if context.may_show(row)
    )


@traced
def locations_table(context: Context) -> Table:
    """Return every point with its surface, state and number of detections."""
    columns: list[Spec[Location]] = [
        POINT,
        Spec("medium", "Medium", cell=lambda row: word("medium", row.medium)),
        Spec("surface", "Surface", cell=lambda row: word("surface", row.surface) if row.surface else "–"),
        Spec("design", "Design", cell=lambda row: word("design", row.design) or "–"),
        Spec("state", "State", cell=lambda row: word("state", context.state_of(row))),
        Spec("days", "Exposure", "days", "number", cell=lambda row: _exposure_cell(context, row)),
        _detected_column(context),
    ]
    filters = ("medium", "surface", "state")
    return table("locations", say("location.list_caption"), columns, context.locations, filters=filters)


def _exposure_cell(context: Context, row: Location) -> Cell:
    """Return the days of exposure at a point, with the marks of its sampler itself."""
    placement = context.primary_at(row.location_id)
    marks = context.evaluation.marks.by_sampler.get(placement.sampler_id, ()) if placement else ()
    days = f"{placement.exposure_days:.1f}" if placement and placement.exposure_days else "–"
    return Cell(days, marks=mark_words(mark for mark in marks if mark.scope == "sampler"))


def _surface(row: Location) -> str:
    """Return the surface of a point in words: a point of air has none to record."""
    return word("surface", row.surface) if row.surface or row.medium in SOIL_MEDIA else "–"
