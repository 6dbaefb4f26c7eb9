"""Every printed number leads to its row: traced through the files, the site and the sidecar."""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Iterator, Mapping
from functools import cache
from html import unescape
from pathlib import Path
from urllib.parse import unquote

import pytest

from sitegen.pipeline import Built
from sitegen.report.printed import ABOUT_ITSELF, is_number, printed_values, tables_in
from sitegen.report.records import Cell, Column, Page, PrintedValue, Ref, Table

EXAMPLE = Path(__file__).resolve().parents[1] / "example_project"
RESULT_COLUMNS = ("result", "primary", "duplicate", "mass")


@cache
def rows_of(file: str) -> list[list[str]]:
    """Return the rows of a file of the example, header first, so that row n is at n - 1."""
    with (EXAMPLE / file).open(encoding="utf-8", newline="") as opened:
        return list(csv.reader(opened))


@cache
def sha256_of(file: str) -> str:
    return hashlib.sha256((EXAMPLE / file).read_bytes()).hexdigest()


def cells_of(file: str, row: int) -> Mapping[str, str]:
    """Return a row of a file of the example by its number, as a spreadsheet counts."""
    return dict(zip(rows_of(file)[0], rows_of(file)[row - 1], strict=True))


def agrees(text: str, row: Mapping[str, str]) -> bool:
    """Tell whether a printed result is what its row says, by arithmetic of this test's own."""
    number = re.match(r"<?([\d,.]+)", text)
    if number is None:
        return text == "rejected" and row["validation_qualifier"] == "R"
    printed = float(number[1].replace(",", ""))
    if text.startswith("<"):
        return printed in (float(row["rl"]), float(row["value"] or "nan"))
    return abs(printed - float(row["value"])) <= 0.0501 * float(row["value"])


def test_every_printed_value_of_the_example_is_traced(built: Built) -> None:
    """Each number with a row is in that row; each other one names files that exist."""
    rowed = compared = 0
    for value in built.report.values:
        if value.origin is None:
            files = value.source.partition(", laboratory sample")[0].split("; ")
            assert value.source, value
            assert all((EXAMPLE / file).is_file() for file in files), value
            continue
        file, number, column = value.origin
        row = cells_of(file, number)
        assert column in row, value
        rowed += 1
        if value.column in ("rl", "mdl"):
            assert float(row[column]) == float(value.text.replace(",", "")), value
        elif value.column in RESULT_COLUMNS or value.table in ("matrix", "map-twin"):
            assert agrees(value.text, row), (value, row)
            compared += 1
    assert rowed > 5000
    assert compared > 2000


def test_the_counter_finds_no_number_without_a_source(built: Built) -> None:
    """The page on sources counts as many numbers as the sidecar lists, and none that is lost."""
    page = (built.out / "site/sources.html").read_text("utf-8")
    counts = dict(re.findall(r'<th scope="row" class="\w+">([^<]+)</th><td class="\w+">([\d,]+)</td>', page))
    assert counts["Leading nowhere"] == "0"
    assert counts["Printed"] == f"{len(built.report.values):,}"


def test_the_sidecar_names_page_row_and_fingerprint_of_every_number(built: Built) -> None:
    """values.csv has a line for each number; its anchor is on its page, its SHA-256 that of the file."""
    site = built.out / "site"
    with (site / "downloads/values.csv").open(encoding="utf-8", newline="") as opened:
        lines = list(csv.DictReader(opened))
    assert len(lines) == len(built.report.values)
    pages: dict[str, str] = {}
    for line in lines:
        name = unquote(line["page"])
        if name not in pages:
            pages[name] = (site / name).read_text("utf-8")
        assert f'id="{line["table"]}"' in pages[name], line
        assert bool(line["file"]) != bool(line["computed_from"]), line
        if line["file"]:
            assert line["sha256"] == sha256_of(line["file"])


def links_in_results(page: Path) -> Iterator[tuple[str, str]]:
    """Yield (address, text) of every linked number of a page."""
    for cell in re.findall(r'<td class="number[^>]*>(.*?)</td>', page.read_text("utf-8")):
        yield from re.findall(r'<a href="([^"]*sources/[^"]*)">([^<]*)</a>', cell)


def test_one_click_on_a_result_opens_its_row_as_received(built: Built) -> None:
    """The link of a result on a location page leads to a row with the file's own line."""
    site = built.out / "site"
    lines = {",".join(row) for row in rows_of("lab/results.csv")}
    seen = 0
    for page in sorted((site / "locations").glob("*.html")):
        for address, text in links_in_results(page):
            target, _, fragment = address.removeprefix("../").partition("#")
            source = (site / target).read_text("utf-8")
            row = re.search(rf'<tr id="{re.escape(fragment)}">(.*?)</tr>', source)
            assert row is not None, (page.name, address)
            cells = [unescape(re.sub(r"<[^>]*>", "", cell)) for cell in re.findall(r"<t[hd].*?</t[hd]>", row[1])]
            assert cells[2] in lines
            assert cells[4].startswith(unescape(text)), (page.name, cells, text)
            assert sha256_of("lab/results.csv") in source
            seen += 1
    assert seen > 1000


def test_a_field_record_leads_to_its_rows(built: Built) -> None:
    """A location page links the rows of the point and of the placement."""
    page = (built.out / "site/locations/SG-37.html").read_text("utf-8")
    for table in ("locations", "deployments"):
        link = re.search(rf'href="\.\./sources/file-{table}\.html#row-(\d+)"', page)
        assert link is not None
        source = (built.out / f"site/sources/file-{table}.html").read_text("utf-8")
        assert "SG-37" in re.search(rf'<tr id="row-{link[1]}">(.*?)</tr>', source)[1]  # type: ignore[index]


def test_every_printed_table_of_numbers_has_a_source_line(built: Built) -> None:
    """In print no table of numbers stands without the files that it came from."""
    for chapter in built.report.chapters:
        for table in tables_in(chapter.blocks):
            numbers = [at for at, column in enumerate(table.columns) if column.kind == "number"]
            if any(is_number(row[at]) for row in table.rows for at in numbers) and table.id not in ABOUT_ITSELF:
                assert table.source, (chapter.id, table.id)


def test_the_counter_would_see_a_number_without_a_source() -> None:
    """A table of numbers that names no file and has no rows behind it is counted as lost."""
    table = Table("loose", "A table", (Column("a", "A"), Column("b", "B", kind="number")), ((Cell("x"), Cell("3")),))
    page = Page(Ref("page", "loose"), "Loose", "", (table,))
    assert [(value.text, value.origin, value.source) for value in printed_values([page])] == [("3", None, "")]


def test_the_sample_of_a_reviewer_is_a_tenth_and_can_be_drawn_again(built: Built) -> None:
    """The tick sheet holds a tenth of the reported values, each once, those of lowest hash."""
    first: dict[tuple[str, int], PrintedValue] = {}
    for value in built.report.values:
        if value.origin and value.origin[2] not in ("rl", "mdl"):
            first.setdefault(value.origin[:2], value)
    names = [value.name for value in first.values()]
    ranked = sorted(names, key=lambda name: hashlib.sha256(f"KD-2025-01\n{name}".encode()).digest())
    ticked = [value.name for value in built.report.sample]
    assert set(ticked) == set(ranked[: -(-len(names) // 10)])
    assert len(set(ticked)) == len(ticked)
    with (built.out / "site/downloads/tick_sheet.csv").open(encoding="utf-8", newline="") as opened:
        assert len(list(csv.DictReader(opened))) == len(ticked)


@pytest.mark.parametrize(
    ("column", "printed"), [("scan_page", False), ("sleeve", False), ("condition", True), ("rationale", True)]
)
def test_the_working_set_names_columns_that_no_page_prints(built: Built, column: str, printed: bool) -> None:
    """A column whose cells stand on no page is listed; one whose cells do is not."""
    page = next(page for page in built.report.pages if page.ref.id == "working-set")
    table = next(table for table in tables_in(page.blocks) if table.id == "silent-columns")
    assert (column not in {row[1].text for row in table.rows}) is printed


def test_the_claim_ledger_names_what_each_sentence_leans_on(built: Built) -> None:
    """A sentence of the conclusions is listed with the compounds that it names, linked to their pages."""
    page = next(page for page in built.report.pages if page.ref.id == "claims")
    (table,) = tables_in(page.blocks)
    linked = {cell.ref for row in table.rows for cell in row if cell.ref}
    assert Ref("compound", "toluene") in linked
    assert any("not attributed to the ground" in row[1].text for row in table.rows)
