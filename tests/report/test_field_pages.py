"""Field work, custody and downloads: notes, zones, ranges, order in print, and what a file holds."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import openpyxl
import pytest
from export_samples import AREAS, LOCATIONS, NOTES, RESULTS

from sitegen.pipeline import Built
from sitegen.report.data.downloads import formats_table, gis_table
from sitegen.report.record.pages import Block, Chapter, Facts, Page, Section, Table
from sitegen.report.trace.printed import tables_in

ZONE = re.compile(r"^\d{4}-\d\d-\d\d \d\d:\d\d (CDT|CST)$")


def rows_of(example: Path, file: str) -> list[dict[str, str]]:
    with (example / file).open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def page_of(built: Built, name: str) -> Page:
    return next(page for page in built.report.pages if page.ref.id == name)


def chapter_of(built: Built, name: str) -> Chapter:
    return next(chapter for chapter in built.report.chapters if chapter.id == name)


def table_of(blocks: Iterable[Block], name: str) -> Table:
    return next(table for table in tables_in(blocks) if table.id == name)


def texts(table: Table, column: str) -> list[str]:
    at = [one.key for one in table.columns].index(column)
    return [row[at].text for row in table.rows]


def test_every_note_of_the_crew_stands_in_one_table(built: Built, example: Path) -> None:
    """All comments of points, placements, samplers and bags, word for word, on the site and in print."""
    expected = [
        row[column]
        for file, column in (
            ("locations/locations.csv", "comment"),
            ("field/deployments.csv", "comment"),
            ("field/samplers.csv", "note"),
            ("field/return_bags.csv", "note"),
        )
        for row in rows_of(example, file)
        if row[column]
    ]
    site = table_of(page_of(built, "field").blocks, "notes")
    assert sorted(texts(site, "note")) == sorted(expected)
    assert len(expected) > 25
    printed = table_of(chapter_of(built, "field").blocks, "notes")
    assert texts(printed, "note") == texts(site, "note")
    by_note = {row[4].text: [cell.text for cell in row] for row in site.rows}
    assert by_note["Black staining at 2.5 ft."] == [
        "SG-45", "0047107", "2025-10-23 08:55 CDT; 2025-11-05 09:03 CST", "FS-2, FS-1",
        "Black staining at 2.5 ft.", "field/deployments.csv, row 7",
    ]  # fmt: skip


def test_a_printed_sheet_carries_place_times_depth_surface_and_notes(built: Built) -> None:
    """SG-16 and SG-07 as their rows in locations.csv and deployments.csv have them."""
    sheets = {b.title: b for b in chapter_of(built, "sheets").blocks if isinstance(b, Section)}
    facts = {name: dict(_facts(section.blocks)) for name, section in sheets.items()}
    assert facts["SG-16"] == {
        "Position": "470026.08 E, 4770050.16 N (EPSG:32614; surveyed position)",
        "Coordinates as surveyed": "470026.08 E, 4770050.16 N, in EPSG:32614 (WGS 84 / UTM zone 14N), metres; "
        "GNSS, corrected live; stated accuracy 0.03 m",
        "Installed; retrieved": "24 October 2025, 10:45, FS-1; 6 November 2025, 10:58, FS-2",
        "Depth and surface": "1.6 ft, soil",
        "Field notes": "Refusal on cobbles or rubble, two tries within a foot of each other. / "
        "Refusal at 1.6 ft, rubble. Second try 1 ft east the same. Set shallow.",
    }
    assert facts["SG-07"]["Position"].endswith("planned position)")
    assert facts["SG-07"]["Field notes"].startswith("Soil stockpile over the peg")
    assert "Installed; retrieved" not in facts["SG-07"]


def _facts(blocks: Iterable[Block]) -> Iterator[tuple[str, str]]:
    for block in blocks:
        if isinstance(block, Facts):
            yield from ((label, cell.text) for label, cell in block.rows)


@pytest.mark.parametrize(
    ("page", "table", "column"),
    [
        ("batch-B1", "members-B1", "analysed"),
        ("custody", "shipments", "packed"),
        ("custody", "shipments", "received"),
        ("field", "placements", "placed"),
        ("field", "clearance", "from"),
        ("field", "clearance", "to"),
    ],
)
def test_every_time_of_a_table_is_in_the_projects_zone_and_says_so(
    built: Built, page: str, table: str, column: str
) -> None:
    """Laboratory and crew write in their own zones; a table has one."""
    found = texts(table_of(page_of(built, page).blocks, table), column)
    assert found
    assert all(ZONE.match(text) for text in found), found


def test_the_batch_says_what_the_samplers_page_says(built: Built) -> None:
    """SG-50 ran at 09:10 in Denver (UTC-7), 10:10 in Chicago (UTC-6)."""
    members = table_of(page_of(built, "batch-B1").blocks, "members-B1")
    assert dict(zip(texts(members, "sampler"), texts(members, "analysed"), strict=True))["0047102"] == (
        "2025-11-17 10:10 CST"
    )


def test_print_orders_placements_and_matrix_by_point(built: Built, example: Path) -> None:
    """Both follow locations.csv, as the other tables do."""
    order = [row["location_id"] for row in rows_of(example, "locations/locations.csv")]
    for chapter, name in (("field", "placements"), ("matrix", "matrix")):
        found = list(dict.fromkeys(texts(table_of(chapter_of(built, chapter).blocks, name), "point")))
        assert found == [point for point in order if point in found]
        assert len(found) > 50


def test_a_ticket_names_its_points_as_ranges(built: Built) -> None:
    """52 points of one ticket are SG-01 to SG-51 and SS-01."""
    assert texts(table_of(page_of(built, "field").blocks, "clearance"), "points") == ["SG-01 to SG-51; SS-01", "SG-52"]


def test_the_note_on_stages_stands_once(built: Built) -> None:
    """Six tables of completeness, one note."""
    notes = [t.note for t in tables_in(page_of(built, "quality").blocks) if t.id.startswith("completeness")]
    assert len(notes) == 6
    assert [bool(note) for note in notes] == [True, False, False, False, False, False]


def test_custody_lines_end_at_the_last_analysis(built: Built) -> None:
    """No tick of the axis lies after 19 November; disposal of the three kept samplers is said in words."""
    figure = next(
        block
        for section in page_of(built, "custody").blocks
        if isinstance(section, Section)
        for block in section.blocks
        if getattr(block, "id", "") == "custody-survey"
    )
    assert " Nov</text>" in figure.svg
    assert " Dec</text>" not in figure.svg
    assert (
        "SG-50, SG-28, SG-29: retained after analysis and disposed of on 9 December 2025, 15:20" in figure.description
    )


def test_contours_are_claimed_only_where_there_are_some(built: Built) -> None:
    """The GeoPackage's line and the general remarks follow the tables that are in it."""
    some = (NOTES, RESULTS, LOCATIONS)
    without = gis_table(some, with_features=True).rows[0][1].text
    assert "points and site features" in without
    assert "no contours" in without
    assert "points, contours and site features" in gis_table((*some, AREAS), with_features=True).rows[0][1].text
    said = " ".join(str(cell) for row in built.report.exports[0].rows for cell in row)
    assert "survey.gpkg has points, site features and results" in said


def test_the_workbook_has_the_sheets_that_the_page_names(built: Built) -> None:
    """The sentence on the page of downloads against the file itself."""
    words = {row[0].text: row[1].text for row in table_of(page_of(built, "downloads").blocks, "downloads-office").rows}
    named = words["for_office/tables.xlsx"].partition("with the sheets ")[2].partition(";")[0].split(", ")
    book = openpyxl.load_workbook(built.pdf.parent / "for_office/tables.xlsx", read_only=True)
    assert book.sheetnames == named
    assert {"air", "quality_control", "duplicates", "blanks", "departures", "custody_events", "limits"} <= set(named)


def test_exported_records_agree_with_the_folder(built: Built, example: Path) -> None:
    """Rows of quality control are as many as the input file has; departures and custody are its cells and rows."""
    exports = {table.name: table for table in built.report.exports}
    assert len(exports["quality_control"].rows) == len(rows_of(example, "lab/lab_qc.csv"))
    for name, file in (("departures", "field/deviations.csv"), ("custody_events", "field/custody.csv")):
        table, recorded = exports[name], rows_of(example, file)
        assert [field.name for field in table.fields] == [*recorded[0], "source_row"]
        assert list(table.rows) == [(*row.values(), number) for number, row in enumerate(recorded, start=2)]
        assert table.key == table.fields[0][:1]


def test_air_concentrations_are_exported_beside_their_levels(built: Built) -> None:
    """Above only where the number is; a non-detect has no number; a soil-gas medium has no row."""
    air = next(table for table in built.report.exports if table.name == "air")
    at = {field.name: n for n, field in enumerate(air.fields)}
    assert any(row[at["answer"]] == "above" for row in air.rows)
    for row in air.rows:
        assert row[at["medium"]] in ("indoor_air", "outdoor_air")
        assert (row[at["concentration"]] is None) is not row[at["detected"]]
        if row[at["answer"]] == "above":
            assert row[at["concentration"]] > row[at["level"]]


def test_the_page_of_downloads_says_what_was_not_validated(built: Built) -> None:
    """The claim of PDF/A stands with its limit: no independent validator was run."""
    checked = texts(table_of(page_of(built, "downloads").blocks, "formats"), "checked")
    assert any("No independent PDF/A or PDF/UA validator was run" in text for text in checked)


def test_the_copy_for_comments_is_named_only_where_it_is_made() -> None:
    """The list of formats has a line for it, or none."""
    assert "DOCX" in texts(formats_table(with_copy=True), "format")
    assert "DOCX" not in texts(formats_table(with_copy=False), "format")
