"""The report of a survey that is planned, and of one in the field: what is told, and that no result is."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass
from functools import cache

import pytest
from planned_survey import folder, in_field, texts

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Cell, Facts, Figure, Page, Report, Section, Table, Tiles
from sitegen.report.trace.printed import tables_in
from sitegen.report.trace.sources import count_values

PLAN_PAGES = ["start", "report", "design", "map", "locations", "plan-samplers", "programme", "cautions", "methods"]
RECORD_PAGES = ["field", "deviations", "custody", "samplers"]
CLOSING_PAGES = ["findings", "review", "checks", "limits", "glossary", "downloads", "files", "sources"]
PLAN_CHAPTERS = ["summary", "plan-map", "design", "points", "samplers", "programme", "cautions", "methods"]
CLOSING_CHAPTERS = ["findings", "sheets", "limits", "glossary"]
OF_THE_PROGRAM = ("checks", "limits", "glossary", "findings", "files", "review")
"""Pages of the program's own lists, of findings, and of signatures."""
OF_RESULTS = re.compile(
    r"\bno results?\b|\bresults? (?:is|are|at|of|in)\b|\bdetect|(?<!placed at )(?<!installed at )\b0 of\b|"
    r"per sampler\b|compounds? (?:was|were)\b",
    re.IGNORECASE,
)


@cache
def report(*, begun: bool = False, changes: tuple[tuple[str, str, str], ...] = ()) -> Report:
    """Return the report of the planned survey, or of the one in the field; a change is a file, words, other words."""
    made = in_field() if begun else texts()
    for path, old, new in changes:
        assert old in made[path]
        made[path] = made[path].replace(old, new)
    return compose(check_snapshot(folder(made)))[1]


def page(of: Report, name: str, kind: str = "page") -> Page:
    """Return a page."""
    return next(one for one in of.pages if (one.ref.kind, one.ref.id) == (kind, name))


def table_of(where: Page, name: str) -> Table:
    """Return a table of a page, those of figures as well."""
    return next(one for one in tables_in(where.blocks) if one.id in (name, f"{name}-data"))


def row(of: Table, head: str) -> dict[str, str]:
    """Return a row by its first cell, as text by column."""
    cells = next(cells for cells in of.rows if cells[0].text == head)
    return {column.key: cell.text for column, cell in zip(of.columns, cells, strict=True)}


def facts_of(where: Page) -> dict[str, Cell]:
    """Return the facts of a page by label."""
    return {label: cell for block in where.blocks if isinstance(block, Facts) for label, cell in block.rows}


def words(value: object) -> Iterator[str]:
    """Yield every text of a record; of drawings what they say, not how they are drawn."""
    if isinstance(value, Section) and value.id == "missed":
        return  # what the points could not find has a section of its own, which warns of taking it for detection
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for inner in value:
            yield from words(inner)
    elif is_dataclass(value):
        for field in fields(value):
            if not (isinstance(value, Figure) and field.name == "svg") and field.name not in ("reads", "sources"):
                yield from words(getattr(value, field.name))


def said(pages: Iterable[Page]) -> str:
    """Return all words of pages."""
    return "\n".join(text for one in pages for text in words((one.title, one.lead, one.blocks)))


def test_a_planned_survey_has_the_pages_and_chapters_of_a_work_plan() -> None:
    """No page and no chapter of results, field record, custody or quality is there."""
    found = report()
    assert [one.ref.id for one in found.pages if one.ref.kind == "page"] == [*PLAN_PAGES, *CLOSING_PAGES]
    assert [one.id for one in found.chapters] == [*PLAN_CHAPTERS, *CLOSING_CHAPTERS]
    assert sum(one.ref.kind == "location" for one in found.pages) == 18
    assert "Results" not in found.groups
    assert {one.group for one in found.pages} - {""} == set(found.groups)
    assert found.meta.document == "Work plan"


def test_a_survey_in_the_field_has_the_field_record_as_well() -> None:
    """Field work, departures, custody and a page for each sampler are there, and still no page of results."""
    found = report(begun=True)
    assert [one.ref.id for one in found.pages if one.ref.kind == "page"] == [*PLAN_PAGES, *RECORD_PAGES, *CLOSING_PAGES]
    assert [one.id for one in found.chapters] == [*PLAN_CHAPTERS, "field", "custody", "deviations", *CLOSING_CHAPTERS]
    assert sum(one.ref.kind == "sampler" for one in found.pages) == 8
    assert "Results" not in found.groups
    assert found.meta.document == "Work plan and field record"


@pytest.mark.parametrize("begun", [False, True])
def test_nothing_is_said_of_results(begun: bool) -> None:
    """No sentence, heading or column of a page tells of results, or counts them as none."""
    pages = [one for one in report(begun=begun).pages if one.ref.id not in OF_THE_PROGRAM and one.ref.kind != "source"]
    spoken = [block for one in pages for block in words((one.title, one.lead, one.blocks))]
    findings = {finding for one in spoken if (finding := one).startswith(("Hold: ", "Flag: "))}
    told = [
        text for text in spoken if OF_RESULTS.search(text) and text not in findings and "without results" not in text
    ]
    assert told == []


def test_the_start_page_says_what_is_planned_and_when() -> None:
    """18 primaries, 2 duplicates, 1 field blank, a trip blank for each of 2 bags of 12, 2 spares: 25 samplers."""
    start = page(report(), "start")
    assert "18 points (14 soil gas, 2 sub-slab soil gas, 1 indoor air, 1 outdoor air) and 25 samplers" in start.lead
    assert (
        "Installation: 27 October 2025 to 28 October 2025. Retrieval: 6 November 2025 to 7 November 2025." in start.lead
    )
    tiles = {tile.label: tile.value for block in start.blocks if isinstance(block, Tiles) for tile in block.tiles}
    assert (tiles["planned points"], tiles["samplers"], tiles["planned field days"]) == ("18", "25", "4")


def test_the_start_page_says_how_far_the_field_work_has_come() -> None:
    """Samplers at 5 of 18 points; two points have theirs back; each sampler says since when and until when."""
    start = page(report(begun=True), "start")
    assert "installed at 5 of 18 planned points; 2 of these have been retrieved" in start.lead
    progress = table_of(start, "progress")
    assert len(progress.rows) == 6
    due = {cells[1].text: cells[5].text for cells in progress.rows}
    assert (due["0204"], due["0206"]) == ("2025-11-10", "2025-11-11")
    placed = page(report(begun=True), "SG-05", "location")
    assert "in place since 27 October 2025, 10:02; retrieval is due by 10 November 2025" in placed.lead
    assert "record" in [block.id for block in placed.blocks if isinstance(block, Section)]
    waiting = page(report(begun=True), "SG-14", "location")
    assert "record" not in [block.id for block in waiting.blocks if isinstance(block, Section)]


def test_points_tell_place_ties_and_depth_each_from_its_row() -> None:
    """SG-12 is 66 m east, 33 m north of the corner: 7 m south of the parking area's edge, 12 m of the shop's wall."""
    found = page(report(), "locations")
    assert row(table_of(found, "planned-points"), "SG-12")["depth"] == "3 ft"
    assert row(table_of(found, "planned-points"), "SS-1")["depth"] == "–"
    places = table_of(found, "planned-places")
    one = row(places, "SG-12")
    assert (one["easting"], one["northing"]) == ("470066.00", "4770033.00")
    assert (one["tie_1"], one["tie_2"]) == ("7.00 m south from Parking area", "12.00 m south from Shop")
    cell = next(cells[1] for cells in places.rows if cells[0].text == "SG-12")
    assert cell.origin == ("locations/locations.csv", 13, "plan_easting")
    assert {source.file for source in places.sources} >= {"locations/locations.csv", "locations/features.geojson"}


def test_what_the_template_says_of_results_is_no_text_of_a_plan() -> None:
    """Interpretation and conclusions are not due: the template's own words stand nowhere, those of a person do."""
    files = texts() | {"text/conclusions.md": "TODO: One sentence a line.\n", "text/limitations.md": "A plan alone.\n"}
    printed = compose(check_snapshot(folder(files)))[1].chapters
    told = "\n".join(text for one in printed for text in words((one.title, one.blocks)))
    assert "One sentence a line" not in told
    assert "Conclusions" not in told
    assert "A plan alone." in told


def test_units_are_told_in_words() -> None:
    """The word of the settings for the US survey foot is none for a reader."""
    changes = (("project.toml", 'depth = { value = 3.0, unit = "ft" }', 'depth = { value = 3.0, unit = "us_ft" }'),)
    told = said(report(changes=changes).pages)
    assert "3 ft (US survey)" in told
    assert "us_ft" not in told


def test_a_spacing_that_is_the_same_everywhere_is_told_once() -> None:
    """A grid has one distance, and no range."""
    files = texts()
    rows = files["locations/locations.csv"].splitlines(keepends=True)
    files["locations/locations.csv"] = "".join(
        row if row[:5] in ("SG-01", "SG-02") else row.replace(",grid,", ",targeted,", 1) for row in rows
    )
    told = said(compose(check_snapshot(folder(files)))[1].pages).replace("\\", "")
    assert "each is 25.0 m from its nearest neighbour on the grid." in told


def test_strips_are_told_in_feet_where_the_plan_is_in_feet() -> None:
    """The plan's depth is in feet; its strips are 1 m and 1.5 m wide."""
    told = said(report().pages)
    assert "1 m (3.28 ft) around buildings" in told
    assert "1.5 m (4.92 ft) on both sides of mapped utilities" in told


def test_a_point_has_a_page_with_steps_and_cautions_of_its_ground() -> None:
    """A sub-slab point in an occupied building names its occupants, a point by the sewer its distance."""
    inside = page(report(), "SS-1", "location")
    assert "Shop is recorded as occupied" in said([inside])
    assert "Drill the slab" in said([inside])
    assert facts_of(inside)["Thickness of paving or slab"].origin == (
        "locations/locations.csv",
        16,
        "surface_thickness_in",
    )
    near = page(report(), "SG-12", "location")
    assert facts_of(near)["Nearest mapped utility"].text == "Sewer, 3.00 m"
    assert "until the point is moved" not in said([near])
    limit = ("project.toml", "[lab]", '[limits.utility_distance_m]\nvalue = 3.5\nunit = "m"\nsource = "plan"\n\n[lab]')
    assert "until the point is moved" in said([page(report(changes=(limit,)), "SG-12", "location")])


def test_samplers_are_counted_by_use_and_put_into_bags() -> None:
    """The order has the sum of its lines; each bag has its trip blank, and a duplicate that of its primary."""
    found = page(report(), "plan-samplers")
    order = {cells[0].text: cells[1].text for cells in table_of(found, "sampler-order").rows}
    assert list(order.values()) == ["18", "2", "1", "2", "2", "25"]
    bags = table_of(found, "planned-bags").rows
    assert [(bag[0].text, bag[2].text) for bag in bags] == [("BAG-1", "TB-1"), ("BAG-2", "TB-2")]
    where = {cells[0].text: cells[4].text for cells in table_of(found, "planned-samplers").rows}
    assert all(where[name] == where[name.removesuffix("-D")] for name in where if name.endswith("-D"))


def test_the_programme_has_days_tickets_and_the_change_of_clocks() -> None:
    """UT-2 ends before retrieval; clocks are put back on 2 November; the exposure is within the plan."""
    found = page(report(), "programme")
    assert row(table_of(found, "planned-tickets"), "UT-2")["days"] == "2025-10-27, 2025-10-28"
    assert row(table_of(found, "field-days"), "2025-11-06 (Thursday)")["whole"] == "UT-1, UT-3"
    text = said([found]).replace("\\", "")
    assert "On 2025-11-02 clocks in America/Chicago go back by 60 minutes" in text
    assert "fall short" not in text
    late = ("project.toml", "retrieving_from = 2025-11-06", "retrieving_from = 2025-11-02")
    assert "fall short" in said([page(report(changes=(late,)), "programme")])


def test_without_days_and_tickets_the_programme_says_so() -> None:
    """No window and no ticket on record is told, and no day is listed."""
    lines = (
        "placing_from = 2025-10-27\nplacing_to = 2025-10-28\nretrieving_from = 2025-11-06\nretrieving_to = 2025-11-07\n"
    )
    tickets = texts()["field/clearance.csv"]
    changes = (("project.toml", lines, ""), ("field/clearance.csv", tickets, tickets.partition("\n")[0] + "\n"))
    found = page(report(changes=changes), "programme")
    assert found.lead == "No installation dates are stated. No retrieval dates are stated."
    assert not table_of(found, "field-days").rows
    assert "No utility clearance ticket is on record" in table_of(found, "planned-tickets").empty


@pytest.mark.parametrize("begun", [False, True])
def test_every_number_leads_to_its_source(begun: bool) -> None:
    """Each printed number has a row or files behind it."""
    found = report(begun=begun)
    count = count_values(found.values, found.hashes)
    assert (count.lost, count.printed > 500, count.rowed > 100) == (0, True, True)


def test_the_plan_can_be_downloaded() -> None:
    """Points have their place in three systems and samplers their bag; no table of results is there."""
    exports = {one.name: one for one in report().exports}
    assert set(exports) == {"columns", "planned_points", "planned_samplers", "utility_tickets", "findings", "limits"}
    points: ExportTable = exports["planned_points"]
    one = dict(zip((field.name for field in points.fields), points.rows[0], strict=True))
    assert (one["location_id"], one["easting"], one["northing"], one["x"]) == ("SG-01", 470015.0, 4770015.0, 470015.0)
    assert (one["planned_depth"], one["state"]) == ("3 ft", "planned")
    assert len(exports["planned_samplers"].rows) == 25


def test_the_map_has_one_layer_without_masses() -> None:
    """The web map draws the plan: one value a point, of no class."""
    data = report().map
    assert (data.plan, [layer.id for layer in data.layers], data.class_labels) == (True, ["plan"], ())
    assert {value.size_class for value in data.layers[0].values} == {None}
    assert "along the sewer" in data.layers[0].values[11].text


def test_a_point_that_has_left_the_plan_is_not_counted() -> None:
    """An abandoned point keeps its page, which says so, and is in no table of the plan."""
    left = ("locations/locations.csv", "NA,NA,NA,planned,no,OA-1", "NA,NA,NA,abandoned,no,OA-1")
    found = report(changes=(left,))
    assert "17 points" in page(found, "start").lead
    assert "no longer part of the plan" in page(found, "OA-1", "location").lead
    assert "OA-1" not in [cells[0].text for cells in table_of(page(found, "locations"), "planned-points").rows]


def test_a_point_without_a_position_is_told_and_comes_last() -> None:
    """A point whose position is not on record is counted, has no place, and no map draws it."""
    blank = ("locations/locations.csv", "470112.00,4770084.00", "NA,NA")
    found = report(changes=(blank,))
    assert "1 of them without a position on record" in page(found, "locations").lead
    assert facts_of(page(found, "SG-14", "location"))["Position"].text == "no position on record"
    assert "SG-14" not in [point.location_id for point in found.map.points]


def test_a_public_plan_names_points_by_their_labels_alone() -> None:
    """At the public level no id of a point is in any page, label of a sampler or table to download."""
    changes = [("project.toml", "[publish]\n", '[publish]\nlevel = "public"\n')]
    rows = texts()["locations/locations.csv"].splitlines()[1:]
    for at, line in enumerate(rows):
        name = line.partition(",")[0]
        changes.append(("locations/locations.csv", f"planned,no,{name},", f"planned,no,P {at},"))
    found = report(changes=tuple(changes))
    told = said(found.pages) + "\n".join(str(cell) for one in found.exports for cells in one.rows for cell in cells)
    assert "P 11" in told
    assert not re.search(r"\bS[GS]-\d", told)


def test_print_names_the_files_behind_the_points() -> None:
    """In print the tables of points name what they were computed from, as on the site."""
    chapter = next(one for one in report().chapters if one.id == "points")
    behind = [{source.file for source in one.sources} for one in tables_in(chapter.blocks)]
    assert behind == [{"locations/locations.csv", "locations/features.geojson", "project.toml"}] * 2
