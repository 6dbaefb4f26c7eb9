"""The description of the CSV files: true of every file, and never stricter than the data."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from export_samples import LOCATIONS, NOTES, RESULTS, export_report

from sitegen.pipeline import Built
from sitegen.render.data.datapackage import package_bytes
from sitegen.render.data.downloads import attachments, download_files, with_sizes
from sitegen.render.sizes import size_text
from sitegen.report.record.pages import Report

TYPES = {"string": str, "number": float, "integer": int, "boolean": {"true": True, "false": False}.__getitem__}


def described(report: Report) -> dict[str, Any]:
    package = json.loads(package_bytes(report))
    return {resource["name"]: resource for resource in package["resources"]}


def test_names_and_types_are_those_of_every_csv() -> None:
    """Each CSV is described, column by column in its order, and every cell is of its type."""
    report = export_report()
    files = download_files(report)
    resources = described(report)
    assert {f"downloads/{one['path']}" for one in resources.values()} == {
        name for name in files if name.endswith("csv")
    }
    for resource in resources.values():
        lines = csv.reader(io.StringIO(files[f"downloads/{resource['path']}"].decode(), newline=""))
        fields = resource["schema"]["fields"]
        assert next(lines) == [field["name"] for field in fields]
        for line in lines:
            for cell, field in zip(line, fields, strict=True):
                assert not cell or TYPES[field["type"]](cell) is not None
                assert cell or "required" not in field.get("constraints", {})


def test_units_choices_keys_and_links_are_stated_where_the_rows_keep_them() -> None:
    """A promise that the rows keep is written down."""
    schema = described(export_report())["results"]["schema"]
    fields = {field["name"]: field for field in schema["fields"]}
    assert fields["value"]["unit"] == "as in unit"
    assert fields["unit"]["constraints"] == {"required": True, "enum": ["ng per sampler", "µg/m³"]}
    assert schema["primaryKey"] == ["sampler_id"]
    assert schema["missingValues"] == [""]
    reference = {"resource": "locations", "fields": ["location_id"]}
    assert schema["foreignKeys"] == [{"fields": ["location_id"], "reference": reference}]


@pytest.mark.parametrize(
    ("at", "value", "lost"),
    [(1, RESULTS.rows[0][1], "primaryKey"), (1, "", "primaryKey"), (0, "SG-99", "foreignKeys")],
)
def test_a_promise_that_a_row_breaks_is_not_made(at: int, value: str, lost: str) -> None:
    """A key twice, a key empty or a link with a loose end is left out of the description."""
    last = list(RESULTS.rows[-1])
    last[at] = value
    broken = replace(RESULTS, rows=(*RESULTS.rows[:-1], tuple(last)))
    assert lost in described(export_report(NOTES, RESULTS, LOCATIONS))["results"]["schema"]
    assert lost not in described(export_report(NOTES, broken, LOCATIONS))["results"]["schema"]


def test_a_word_that_is_no_choice_takes_the_choices_out() -> None:
    """A list of allowed words stands only where all words are on it."""
    odd = replace(RESULTS, rows=((*RESULTS.rows[0][:5], "mg", 2), *RESULTS.rows[1:]))
    fields = {field["name"]: field for field in described(export_report(odd))["results"]["schema"]["fields"]}
    assert fields["unit"]["constraints"] == {"required": True}


def test_the_description_says_what_holds_for_all_files() -> None:
    """What the notes say about all files stands at the top; what they say about a column does not."""
    package = json.loads(package_bytes(export_report()))
    assert package["description"] == "A non-detect has no value."
    assert package["created"] == "2025-12-05T00:00:00Z"


def test_an_outside_validator_finds_no_fault(built: Built) -> None:
    """The Frictionless library reads the description and every CSV of the example by it."""
    frictionless = pytest.importorskip("frictionless", reason="frictionless (extra: outside) is not installed")
    report = frictionless.validate(str(built.pdf.with_name("datapackage.json")))
    assert report.valid, report.flatten(["name", "fieldName", "message"])[:5]
    assert len(report.tasks) == len(list(built.pdf.parent.glob("*.csv")))


def test_the_list_of_files_links_each_with_its_size(built: Built) -> None:
    """The data page names every file of the folder, and how large it is."""
    page = (built.out / "site/downloads.html").read_text("utf-8")
    for path in (one for one in built.pdf.parent.rglob("*") if one.is_file()):
        assert f'href="{path.relative_to(built.out / "site").as_posix()}"' in page
        if path not in (built.pdf, built.pdf.with_name("maps.pdf")):
            assert f">{path.stat().st_size:,}<" in page, path.name
    assert f'report.pdf">, {size_text(built.pdf.stat().st_size)}</span>' in page


def test_the_notes_explain_every_column_of_the_example(built: Built) -> None:
    """Every column of every table has a line with its meaning; report, units and non-detects come first."""
    with built.pdf.with_name("columns.csv").open(encoding="utf-8", newline="") as opened:
        rows = list(csv.DictReader(opened))
    told = {(row["about"], row["column"]) for row in rows if row["meaning"]}
    assert {(table.name, field.name) for table in built.report.exports[1:] for field in table.fields} <= told
    assert built.report.exports[0].name == "columns"
    general = " ".join(row["meaning"] for row in rows if not row["column"])
    for words in (built.report.meta.state, "revision 1", "not a concentration", "No value is substituted for it"):
        assert words in general


def test_print_carries_all_but_the_map_data() -> None:
    """GeoPackage, results by point, the folders' notes and a copy for comments are left to the downloads."""
    files = download_files(export_report())
    left = {"survey.gpkg", "narrative.docx", "README.txt", "by_point_air_ug_m3.geojson"}
    assert set(attachments(files)) == {Path(name).name for name in files} - left


def test_sizes_are_filled_in_on_the_page_of_downloads_alone(built: Built) -> None:
    """Only the list of files changes, and only its column of sizes."""
    sized = with_sizes(built.report, {"downloads/results.csv": bytes(1234)})
    changed = [page.ref.id for page, old in zip(sized.pages, built.report.pages, strict=True) if page != old]
    assert changed == ["downloads"]
