"""Filled cells are told alike whatever filled them, and whatever their table is saved as."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from builders import changed, content, every, load, rows_of, settings_added
from typed_once import LOCATIONS, full, short
from workbooks import in_one_workbook

from sitegen.compute.evaluate import evaluate
from sitegen.project.folder import Folder
from sitegen.project.load import load_folder
from sitegen.report.record.pages import Section, Table
from sitegen.report.trace.sources import Count, sources_page
from sitegen.report.write.context import Context
from sitegen.report.write.filled import filled_cells, filled_facts

MEASURED = "locations/measured.csv"
DECLARED = f"""
[points]
file = "{MEASURED}"
columns = {{ location_id = "name", easting = "E", northing = "N" }}
"""


def measured(folder: Folder) -> Folder:
    """Return a folder whose positions stand in a file of their own."""
    rows = rows_of(folder.files[LOCATIONS].content)[1]
    lines = ["name,E,N", *(f"{row['location_id']},{row['easting']},{row['northing']}" for row in rows)]
    blank = every(LOCATIONS, lambda _: {"easting": "", "northing": ""})
    return changed(blank, content(MEASURED, "\n".join(lines).encode()), settings_added(DECLARED), folder=folder)


def told(folder: Folder) -> list[tuple[str, ...]]:
    """Return the rows of the table of what was filled: file, column, rule and cells."""
    survey = load(folder)
    page = sources_page(Context(survey, evaluate(survey), ()), Count(0, 0, 0, 0))
    sections = [block for block in page.blocks if isinstance(block, Section) and block.id == "filled"]
    tables = [block for section in sections for block in section.blocks if isinstance(block, Table)]
    return [tuple(cell.text for cell in row) for table in tables for row in table.rows]


@pytest.mark.parametrize("survey", [short, full], ids=["with defaults", "without"])
def test_measured_positions_are_one_line_of_each_column(survey: Callable[[], Folder]) -> None:
    """Of 24 points, with other filled cells or without: no line for each point, and none left out."""
    rule = f"easting and northing of {MEASURED}"
    found = [row for row in told(measured(survey())) if row[2] == rule]
    assert found == [(LOCATIONS, "easting", rule, "24"), (LOCATIONS, "northing", rule, "24")]


def test_the_file_of_positions_alone_is_told_cell_by_cell() -> None:
    """Each cell has its own row of that file; the point's page tells it with the coordinates, not twice."""
    survey = load(measured(full()))
    cells = list(filled_cells(survey))
    assert len(cells) == 48
    assert cells[0].one.rule.endswith(f" of {MEASURED}, row 2")
    assert filled_facts(Context(survey, evaluate(survey), ()), ("locations", "SG-01")) == []


def test_the_sheets_of_one_workbook_are_told_apart() -> None:
    """Each filled cell has its sheet, in the table of all and in the rule that names another row."""
    found = told(in_one_workbook(short()))
    assert {row[0] for row in found} == {
        f"survey.xlsx ({name})" for name in ("locations", "samplers", "deployments", "return_bags", "custody")
    }
    assert any(row[2] == "derived: survey.xlsx (deployments) records it as a primary sampler" for row in found)
    rules = {cell.one.rule for cell in filled_cells(load(in_one_workbook(short())))}
    assert "derived: survey.xlsx, row 2, sheet deployments, records it as a primary sampler" in rules


def test_findings_about_ranges_and_points_name_the_sheet() -> None:
    """A range of which no kind is on record, and a point that the file of positions lacks."""
    no_kind = changed(every("field/deployments.csv", lambda _: {"placed_at": ""}), folder=short())
    lacking = content(MEASURED, b"name,E,N\nSG-01,470001.76,4770002.05\n")
    places = {
        finding.code: finding.where.column
        for folder in (no_kind, changed(lacking, folder=measured(full())))
        for finding in load_folder(in_one_workbook(folder))[1]
    }
    assert places["kind-not-derived"] == "samplers!kind"
    assert places["rows-without-point"] == "locations!location_id"
