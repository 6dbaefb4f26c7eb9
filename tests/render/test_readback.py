"""Reading back: a number that was written wrong stops the build, whatever file it stands in."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from export_samples import LOCATIONS, RESULTS, export_report
from sample_report import sample_files, sample_report

from sitegen import pipeline
from sitegen.findings.problems import OutputFault
from sitegen.pipeline import Built, build
from sitegen.render.data.downloads import download_files
from sitegen.render.data.exports import csv_bytes
from sitegen.render.data.workbook import workbook_bytes
from sitegen.render.print.finish import finish
from sitegen.render.print.pdf import PrintSources, print_sources, typeset
from sitegen.render.proof import readback
from sitegen.render.proof.maps import geojson_differences, geopackage_differences
from sitegen.render.proof.pages import page_differences, store_differences
from sitegen.render.proof.print import print_differences
from sitegen.render.proof.readback import data_differences, require_same_data, require_same_print
from sitegen.render.proof.tables import csv_differences, workbook_differences
from sitegen.render.site.site import write_site
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Cell, Chapter, Column, Mark, Report, Section, Table

REPORT = export_report()
HOSTILE = '<b>&amp;</b> =1+1 {{ 7*7 }} עברית 水 #read("x") \\ (a(b)'


@pytest.fixture
def site(tmp_path: Path) -> Path:
    for name, content in download_files(REPORT).items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)
    return tmp_path


def with_value(table: ExportTable, row: int, field: str, value: object) -> ExportTable:
    """Return a table with one other cell."""
    rows = [list(one) for one in table.rows]
    rows[row][table.at(field)] = value
    return replace(table, rows=tuple(map(tuple, rows)))


def test_what_was_written_is_what_is_read(site: Path) -> None:
    """Hostile texts, long fractions, blanks and places of every kind come back as they are."""
    downloads = site / "downloads"
    for table in REPORT.exports:
        assert list(csv_differences(downloads / f"{table.name}.csv", table)) == []
    for name in ("locations", "contours"):
        table = next(one for one in REPORT.exports if one.name == name)
        assert list(geojson_differences(downloads / f"for_gis/{name}.geojson", table)) == []
    assert list(workbook_differences(downloads / "for_office/tables.xlsx", REPORT.exports)) == []
    assert list(geopackage_differences(downloads / "for_gis/survey.gpkg", REPORT)) == []


WRONG = [
    (-2, "value", 1250.0000001),
    (0, "value", 0.0),
    (-1, "value", None),
    (0, "detected", True),
    (0, "row", 3),
    (11, "text", "47"),
    (3, "text", "2"),
    (1, "sampler_id", "1"),
]


@pytest.mark.parametrize(("row", "field", "value"), WRONG)
def test_another_cell_in_csv_or_workbook_is_told_with_its_place(
    site: Path, row: int, field: str, value: object
) -> None:
    """A number in place of a non-detect, a lost zero, another row: each is named."""
    other = with_value(RESULTS, row, field, value)
    at = row % len(RESULTS.rows) + 1
    path = site / "downloads/results.csv"
    path.write_bytes(csv_bytes(other))
    told = list(csv_differences(path, RESULTS))
    assert [line.partition(":")[0] for line in told] == [f"results.csv, row {at}, {field}"]
    book = site / "downloads/for_office/tables.xlsx"
    book.write_bytes(workbook_bytes([other], REPORT.meta))
    told = list(workbook_differences(book, [RESULTS]))
    assert [line.partition(":")[0] for line in told] == [f"tables.xlsx, sheet results, row {at}, {field}"]


@pytest.mark.parametrize("rows", [RESULTS.rows[:-1], (*RESULTS.rows, RESULTS.rows[0]), ()])
def test_rows_too_few_or_too_many_are_told(site: Path, rows: tuple[tuple[object, ...], ...]) -> None:
    """A file that ends early or goes on is not the table."""
    other = replace(RESULTS, rows=rows)
    path, book = site / "downloads/results.csv", site / "downloads/for_office/tables.xlsx"
    path.write_bytes(csv_bytes(other))
    book.write_bytes(workbook_bytes([other], REPORT.meta))
    for told in (list(csv_differences(path, RESULTS)), list(workbook_differences(book, [RESULTS]))):
        assert told[-1].endswith(f"{len(rows)} rows instead of {len(RESULTS.rows)}")


def test_columns_sheets_and_broken_files_are_told(site: Path) -> None:
    """Another header, a line cut short, a missing sheet and a file that is no workbook are differences."""
    path, book = site / "downloads/results.csv", site / "downloads/for_office/tables.xlsx"
    lines = path.read_bytes().split(b"\r\n")
    path.write_bytes(b"\r\n".join([lines[0].replace(b"value", b"concentration"), *lines[1:]]))
    assert list(csv_differences(path, RESULTS)) == ["results.csv: other columns"]
    path.write_bytes(b"\r\n".join([*lines[:2], lines[2].rpartition(b",")[0], *lines[3:]]))
    assert list(csv_differences(path, RESULTS)) == ["results.csv: rows of another length from row 1 on"]
    assert list(workbook_differences(book, REPORT.exports[:-1])) == ["tables.xlsx: other sheets"]
    book.write_bytes(b"PK")
    assert "can't be read" in next(workbook_differences(book, REPORT.exports))


@pytest.mark.parametrize(("old", "new"), [('"x": 470020.125', '"x": 470020.126'), ("43.0812345", "43.0812346")])
def test_another_number_or_place_in_geojson_is_told(site: Path, old: str, new: str) -> None:
    """Properties and positions are compared alike."""
    path = site / "downloads/for_gis/locations.geojson"
    assert old in path.read_text("utf-8")
    path.write_text(path.read_text("utf-8").replace(old, new), "utf-8")
    assert list(geojson_differences(path, LOCATIONS)) == ["locations.geojson, feature 1"]


OTHER = {
    "downloads/results.csv": b"a,b\r\n",
    "downloads/for_gis/contours.geojson": b'{"type": "FeatureCollection", "features": []}',
    "downloads/for_office/tables.xlsx": b"PK",
    "downloads/for_gis/survey.gpkg": b"PK",
    "downloads/for_gis/by_point_air_ug_m3.geojson": b'{"type": "FeatureCollection", "features": []}',
    "downloads/for_gis/README.txt": b"Something else",
    "downloads/for_office/README.txt": b"",
    "downloads/narrative.docx": b"PK",
    "checks.html": b"",
}


@pytest.mark.parametrize("name", OTHER)
def test_every_kind_of_file_is_read_again(site: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the files of a report each is compared: what one of them says otherwise is told, and nothing else."""
    monkeypatch.setattr(readback, "store_differences", lambda _: ())
    (page,) = (page for page in REPORT.pages if page.ref.id == "checks")
    report = replace(REPORT, pages=(page,))
    write_site(report, site / "pages", {})
    (site / "checks.html").write_bytes((site / "pages/checks.html").read_bytes())
    assert list(data_differences(site, report)) == []
    (site / name).write_bytes(OTHER[name])
    told = list(data_differences(site, report))
    assert told
    assert all(Path(name).name in line for line in told)


GEOPACKAGE = [
    ("UPDATE results_ng_per_sampler SET value = 0 WHERE value IS NULL", "layer results_ng_per_sampler, row 1, value"),
    ("UPDATE results_ug_m3 SET sampler_id = '47'", "layer results_ug_m3, row 1, sampler_id"),
    ("DELETE FROM results_ug_m3 WHERE fid = 1", "layer results_ug_m3"),
    ("UPDATE locations SET geom = (SELECT geom FROM locations WHERE fid = 2)", "layer locations, row 1: another place"),
    ("UPDATE results_ng_per_sampler SET geom = NULL", "layer results_ng_per_sampler, row"),
    ("UPDATE features_building SET name = 'x'", "layer features_building, row 1, name"),
    ("UPDATE contours SET geom = (SELECT geom FROM features_utility)", "layer contours, row 1: another place"),
    ("UPDATE gpkg_geometry_columns SET srs_id = 4326", "the coordinate system is ('EPSG:4326',) instead"),
    (
        "UPDATE by_point_air_ug_m3 SET pce_concentration = 0 WHERE pce_concentration IS NULL",
        "layer by_point_air_ug_m3, row 2, pce_concentration",
    ),
    ("UPDATE results_ug_m3_wgs84 SET geom = NULL", "layer results_ug_m3_wgs84, row"),
    ("DELETE FROM layer_styles WHERE f_table_name = 'by_point_air_ug_m3'", "layer by_point_air_ug_m3: other styles"),
    ("DROP TABLE columns", "can't be read"),
]


@pytest.mark.parametrize(("change", "words"), GEOPACKAGE)
def test_another_row_place_or_system_in_the_geopackage_is_told(site: Path, change: str, words: str) -> None:
    """A number, an id, a geometry, a system or a table that is not the report's is named."""
    path = site / "downloads/for_gis/survey.gpkg"
    with closing(sqlite3.connect(path)) as base:
        base.execute(change)
        base.commit()
    assert any(words in line for line in geopackage_differences(path, REPORT))


# --- pages ---------------------------------------------------------------------------------

MARKED = Mark("trip blank", "The trip blank holds it.")
RESULT_TABLE = Table(
    "results-SG-01",
    "Results",
    (Column("compound", "Compound"), Column("result", "Result", "ng per sampler", "number")),
    (
        (Cell(f"Benzene {HOSTILE}"), Cell("1,250 J", marks=(MARKED,), origin=("lab/results.csv", 2, "result_text"))),
        (Cell("Toluene"), Cell("<10", tone="nondetect", origin=("lab/results.csv", 3, "result_text"))),
    ),
)


@cache
def paged() -> Report:
    report = sample_report(HOSTILE)
    pages = (replace(report.pages[0], blocks=(Section("results", "Results", (RESULT_TABLE,)),)), *report.pages[1:])
    return replace(report, pages=pages)


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("pages") / "site"
    out.mkdir()
    write_site(paged(), out, sample_files())
    return out


def test_pages_say_what_the_report_says(pages: Path) -> None:
    """Every cell of every table, hostile texts and all, is read as it was meant."""
    assert list(page_differences(pages, paged())) == []


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (">1,250 J ", ">1,205 J ", "row 1, result: '1,205 J "),
        ("&lt;10</", "10</", "row 2, result: '10 '"),
        (' <span class="mark">trip blank</span>', "", "row 1, result: '1,250 J '"),
        ('<th scope="row" class="long">Toluene</th>', "", "3 cells instead of 4"),
        ("<tbody>\n", "<tbody>", "tables instead of"),
    ],
)
def test_another_number_on_a_page_is_told(pages: Path, old: str, new: str, words: str) -> None:
    """A number with swapped digits, a lost limit sign, a lost mark, a lost cell: each is named."""
    path = pages / "index.html"
    before = path.read_text("utf-8")
    assert old in before
    path.write_text(before.replace(old, new, 1), "utf-8")
    told = list(page_differences(pages, paged()))
    path.write_text(before, "utf-8")
    assert any(words in line for line in told), told


def test_a_result_that_is_not_the_stores_is_told() -> None:
    """Pages and print may show a result only as the table of all results has it."""
    names = ("source_file", "source_row", "source_column", "shown")
    fields = tuple(RESULTS.fields[0]._replace(name=name) for name in names)
    rows = (("lab/results.csv", 2, "result_text", "1,250 J"), ("lab/results.csv", 3, "result_text", "<20"))
    store = ExportTable("results", "", "", fields, rows)
    report = replace(paged(), exports=(store,), chapters=(Chapter("sheets", "Sheets", (RESULT_TABLE,)),))
    told = list(store_differences(report))
    assert told == [
        "index.html, table results-SG-01: '<10' for '<20' of the store",
        "chapter sheets, table results-SG-01: '<10' for '<20' of the store",
    ]


def test_a_result_is_held_against_the_laboratorys_text() -> None:
    """Beside limits in a column of their own a non-detect is its bare text; elsewhere the store's, limit included."""
    names = ("source_file", "source_row", "source_column", "shown")
    fields = tuple(RESULTS.fields[0]._replace(name=name) for name in names)
    origins = ("lab/results.csv", 2, "result_text"), ("lab/results.csv", 3, "result_text")
    store = ExportTable("results", "", "", fields, ((*origins[0], "1.27E+03"), (*origins[1], "ND (<20)")))

    def told(*texts: str, limits: bool) -> list[str]:
        cells = tuple(
            (Cell(text, origin=origin), *((Cell("20"),) if limits else ()))
            for text, origin in zip(texts, origins, strict=True)
        )
        columns = (Column("result", "Result"), *((Column("rl", "Limit"),) if limits else ()))
        page = replace(paged().pages[0], blocks=(Table("t", "", columns, cells),))
        return list(store_differences(replace(paged(), exports=(store,), pages=(page,))))

    assert told("1.27E+03", "ND", limits=True) == told("1.27E+03", "ND (<20)", limits=False) == []
    assert told("1,270", "ND", limits=True) == ["index.html, table t: '1,270' for '1.27E+03' of the store"]
    assert told("1.27E+03", "N", limits=True) == ["index.html, table t: 'N' for 'ND (<20)' of the store"]
    assert told("1.27E+03", "ND", limits=False) == ["index.html, table t: 'ND' for 'ND (<20)' of the store"]


@pytest.mark.parametrize(("table", "column"), [("heat", "pce"), ("matrix", "pce"), ("t", "result")])
def test_every_number_of_the_tables_of_all_points_is_a_result(table: str, column: str) -> None:
    """Of the heat table and the annex each column is held against the store, of others that of results alone."""
    names = ("source_file", "source_row", "source_column", "shown")
    fields = tuple(RESULTS.fields[0]._replace(name=name) for name in names)
    origin = ("lab/results.csv", 2, "result_text")
    store = ExportTable("results", "", "", fields, ((*origin, "12"),))
    cells = (Cell("13", origin=origin), Cell("13", origin=origin))
    block = Table(table, "", (Column(column, ""), Column("other", "")), (cells,))
    page = replace(paged().pages[0], blocks=(block,))
    told = list(store_differences(replace(paged(), exports=(store,), pages=(page,))))
    assert told == [f"index.html, table {table}: '13' for '12' of the store"] * (1 if table == "t" else 2)


# --- print ---------------------------------------------------------------------------------


ATTACHED = {"results.csv": b"a,b\r\n1,2\r\n"}


@cache
def printed() -> tuple[PrintSources, bytes]:
    report = replace(paged(), chapters=(Chapter("sheets", "Sheets", (RESULT_TABLE, *sample_report().pages[0].blocks)),))
    sources = print_sources(report, {})
    return sources, finish(typeset(sources), ATTACHED, sources.day)


def test_print_says_what_it_was_set_from(tmp_path: Path) -> None:
    """Numbers are found in the PDF in their order, and attachments byte for byte."""
    sources, content = printed()
    (tmp_path / "report.pdf").write_bytes(content)
    require_same_print(tmp_path / "report.pdf", sources, ATTACHED)


@pytest.mark.parametrize(("old", "new"), [("1,250 J", "1,205 J"), ("<10", "10"), ("†", "‡"), ("61 %", "16 %")])
def test_another_number_in_print_stops_it(tmp_path: Path, old: str, new: str) -> None:
    """A number, a limit's sign, a mark or a tile that the PDF does not have is told."""
    sources, content = printed()
    tree = json.dumps(json.loads(sources.files["data.json"]), ensure_ascii=False)
    assert f'"{old}"' in tree
    meant = replace(sources, files={**sources.files, "data.json": tree.replace(f'"{old}"', f'"{new}"').encode()})
    (tmp_path / "report.pdf").write_bytes(content)
    with pytest.raises(OutputFault, match="is not there as it was set"):
        require_same_print(tmp_path / "report.pdf", meant, ATTACHED)


def test_another_attachment_or_a_broken_pdf_is_told(tmp_path: Path) -> None:
    """What is attached must be the file that was given; a PDF that can't be opened is told as such."""
    sources, content = printed()
    path = tmp_path / "report.pdf"
    with pikepdf.open(BytesIO(content)) as document:
        document.attachments["results.csv"] = b"a,b\r\n1,3\r\n"
        document.save(path)
    assert list(print_differences(path, sources, ATTACHED)) == [
        "report.pdf, attached results.csv: not the file that was given"
    ]
    path.write_bytes(content[:1000])
    assert "can't be read" in next(print_differences(path, sources, ATTACHED))


# --- the build -----------------------------------------------------------------------------


def tampered(change: Callable[[dict[str, bytes]], None]) -> Callable[[Report], dict[str, bytes]]:
    """Return a writer of data files that gets something wrong."""

    def write(report: Report) -> dict[str, bytes]:
        files = download_files(report)
        change(files)
        return files

    return write


def test_a_difference_ends_the_build_and_the_last_report_stays(
    built: Built, example: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One other digit in one CSV: the build stops, says where, and replaces nothing."""

    def change(files: dict[str, bytes]) -> None:
        name = "downloads/results.csv"
        files[name] = files[name].replace(b",ng per sampler,10,", b",ng per sampler,11,", 1)

    out = tmp_path / "out"
    out.mkdir()
    (out / "build.json").write_bytes((built.out / "build.json").read_bytes())
    (out / "kept.txt").write_text("the last good report", "utf-8")
    monkeypatch.setattr(pipeline, "download_files", tampered(change))
    with pytest.raises(OutputFault, match=r"results\.csv, row \d+, rl: '11'"):
        build(example, out)
    assert (out / "kept.txt").read_text("utf-8") == "the last good report"


def test_the_example_as_built_is_read_back_without_a_difference(built: Built) -> None:
    """The data files and pages of a finished build hold what its report holds, sizes of files aside."""
    listed = [page for page in built.report.pages if page.ref.id != "downloads"]
    require_same_data(built.out / "site", replace(built.report, pages=tuple(listed)))
