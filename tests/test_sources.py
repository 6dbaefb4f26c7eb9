"""Every printed number leads to its row: traced through the files, the site and the sidecar."""

from __future__ import annotations

import csv
import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from html import unescape
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from urllib.parse import unquote

import pytest
from pypdf import PdfReader
from pypdf.generic import Destination

from sitegen.pipeline import Built
from sitegen.render.data.values import FIELDS
from sitegen.report.record.pages import (
    SHORT_DATA,
    Block,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    Page,
    PrintedValue,
    Prose,
    Ref,
    Section,
    Source,
    Table,
    Tile,
    Tiles,
)
from sitegen.report.trace.printed import ABOUT_ITSELF, holds_numbers, is_number, printed_values, tables_in
from sitegen.report.trace.sources import count_values
from sitegen.report.write.sentences import numbered_sentences, tells_number

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


def is_text(text: str, row: Mapping[str, str]) -> bool:
    """Tell whether a printed result is the laboratory's text, then its qualifier, or the limit that the text lacks."""
    received, rest = text[: len(row["result_text"])], text[len(row["result_text"]) :]
    stated = row["validation_qualifier"] or row["lab_qualifier"]
    return received == row["result_text"] and rest in ("", f" {stated}", f" (<{row['rl']})")


def agrees(text: str, row: Mapping[str, str]) -> bool:
    """Tell whether a rounded result is what its row says, by arithmetic of this test's own."""
    number = re.match(r"<?([\d,.]+)", text)
    if number is None:
        return text == "rejected" and row["validation_qualifier"] == "R"
    printed = float(number[1].replace(",", ""))
    if text.startswith("<"):
        return printed in (float(row["rl"]), float(row["value"] or "nan"))
    return abs(printed - float(row["value"])) <= 0.0501 * float(row["value"])


def files_of(sources: Iterable[Source]) -> set[str]:
    """Return the files that sources name, the program's own defaults aside."""
    return {source.file for source in sources if source.file}


def test_every_printed_value_of_the_example_is_traced(built: Built) -> None:
    """Each number with a row is in that row; each other one names files that exist."""
    rowed = compared = 0
    for value in built.report.values:
        if value.origin is None:
            assert value.sources, value
            assert all((EXAMPLE / file).is_file() for file in files_of(value.sources)), value
            continue
        file, number, column = value.origin
        rowed += 1
        if not file.endswith(".csv"):
            assert 0 < number <= len((EXAMPLE / file).read_text("utf-8").splitlines()), value
            continue
        row = cells_of(file, number)
        assert column in ("", *row), value
        if value.column in ("rl", "mdl"):
            assert float(row[column]) == float(value.text.replace(",", "")), value
        elif value.column in RESULT_COLUMNS or value.id in ("matrix", "heat", "map-twin"):
            same = agrees if value.id == "map-twin" else is_text
            assert same(value.text, row), (value, row)
            compared += 1
    assert rowed > 7000
    assert compared > 2000


def test_the_counter_finds_no_number_without_a_source(built: Built) -> None:
    """The page on sources counts as many numbers as the sidecar lists, and none that is lost."""
    page = (built.out / "site/sources.html").read_text("utf-8")
    counts = dict(re.findall(r'<th scope="row" class="\w+">([^<]+)</th><td class="\w+">([\d,]+)</td>', page))
    assert counts["Not traced"] == "0"
    lines = sidecar(built, "values")
    assert counts["Printed, on the site or on paper"] == f"{len(lines):,}"
    assert counts["Of these on paper"] == f"{sum(line['in_print'] != '' for line in lines):,}"
    assert counts["Traced to one row of a file"] == f"{sum(line['file'] != '' for line in lines):,}"


def test_the_counter_loses_what_names_no_input_file() -> None:
    """Rows and files that are not in the folder do not count as sources."""
    value = PrintedValue(Ref("page", "x"), "", "", "", 1, "a", "3", None, ())
    here, gone = (Source(name, file=name) for name in ("lab/results.csv", "lab/gone.csv"))
    values = [
        value,
        value._replace(sources=(gone,)),
        value._replace(sources=(here, gone)),
        value._replace(origin=("lab/gone.csv", 2, "value")),
        value._replace(origin=("lab/results.csv", 0, "value")),
        value._replace(sources=(here,), in_print="Quality"),
        value._replace(origin=("lab/results.csv", 2, "value")),
    ]
    count = count_values(values, {"lab/results.csv"})
    assert (count.printed, count.paper, count.rowed, count.filed, count.lost) == (7, 1, 1, 1, 5)


def sidecar(built: Built, name: str) -> list[dict[str, str]]:
    """Return the lines of a sidecar of the built report."""
    with (built.out / f"site/downloads/{name}.csv").open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def test_the_sidecar_names_page_place_and_row_of_every_number(built: Built) -> None:
    """values.csv has a line for each number: an anchor of its page or a place in the PDF, and a file or files."""
    site = built.out / "site"
    lines = sidecar(built, "values")
    assert list(lines[0]) == list(FIELDS)
    assert len(lines) == len(built.report.values)
    hashes = {line["file"]: line["sha256"] for line in sidecar(built, "files")}
    pages: dict[str, str] = {}
    for line in lines:
        assert bool(line["file"]) != bool(line["computed_from"]), line
        assert not line["file"] or line["file"] in hashes, line
        name = unquote(line["page"])
        if name == "downloads/report.pdf":
            assert line["in_print"], line
            continue
        if name not in pages:
            pages[name] = (site / name).read_text("utf-8")
        assert not line["anchor"] or f'id="{line["anchor"]}"' in pages[name], line
        assert line["anchor"] or line["column"] in ("sentence", "value"), line


def test_the_list_of_files_has_the_sha256_of_each_but_private_ones(built: Built) -> None:
    """files.csv names every input file that may be named, with its SHA-256."""
    hashes = {line["file"]: line["sha256"] for line in sidecar(built, "files")}
    assert "lab/results.csv" in hashes
    assert not [name for name in hashes if name.startswith("private/")]
    assert all(sha == sha256_of(name) for name, sha in hashes.items())


def titles_and_drawings(blocks: Iterable[Block]) -> Iterator[tuple[str, str]]:
    """Yield ("title", text) of sections and ("drawn", text) of drawings."""
    for block in blocks:
        if isinstance(block, Section):
            yield "title", block.title
            yield from titles_and_drawings(block.blocks)
        elif isinstance(block, Figure):
            yield from (("drawn", text) for text in re.findall(r">([^<]*)<", block.svg))


def numbers_in(text: str) -> set[str]:
    """Return the numbers that stand on their own in a text, by a pattern of this test's own."""
    return {found.rstrip(".,") for found in re.findall(r"(?<![\w–/:.,-])\d[\d,.]*+(?![\w/:-])", text)}


NAMES = re.compile(r"_id$|_of$|_ref$|seal|affected|^(what|why|effect|scope|rationale|comment|note|reason|finding_key)$")
"""Columns of the record that hold names and words, which print shows as received."""


def known_beside_values(built: Built) -> set[str]:
    """Return the numbers that are no values: in drawings, names, remarks, citations and the program's own words."""
    found = {number for _, text in titles_and_drawings(b for c in built.report.chapters for b in c.blocks)
             for number in numbers_in(text)}  # fmt: skip
    for folder in ("templates/words", "data"):
        for item in (files("sitegen") / folder).iterdir():
            if item.name.endswith((".j2", ".toml")):
                found |= numbers_in(item.read_text("utf-8"))
    for path in sorted(EXAMPLE.rglob("*.csv")):
        rows = rows_of(path.relative_to(EXAMPLE).as_posix())
        wanted = [at for at, name in enumerate(rows[0]) if NAMES.search(name)]
        found |= {number for row in rows for at in wanted for number in numbers_in(row[at])}
    for chapter in built.report.chapters:
        for table in tables_in(chapter.blocks):
            at = [at for at, column in enumerate(table.columns) if column.key == "source"]
            found |= {number for row in table.rows for i in at for number in numbers_in(row[i].text)}
    return found | numbers_in((EXAMPLE / "project.toml").read_text("utf-8"))


@pytest.mark.long
def test_every_number_in_the_text_of_the_pdf_is_in_the_sidecar(built: Built) -> None:
    """What a reader meets in the PDF's own text can be looked up; axes, names and citations are no values."""
    listed = {n for line in sidecar(built, "values") if line["in_print"] for n in numbers_in(line["text"])}
    beside = known_beside_values(built)
    titles = {text for kind, text in titles_and_drawings(b for c in built.report.chapters for b in c.blocks)
              if kind == "title"} | {chapter.title for chapter in built.report.chapters}  # fmt: skip
    reader = PdfReader(BytesIO((built.out / "site/downloads/report.pdf").read_bytes()))
    missing, found = [], 0
    begins = next(one for one in reader.outline if isinstance(one, Destination))
    assert (begins.title or "").endswith(f" {built.report.chapters[0].title}"), "cover, control and lists aside"
    first = reader.get_destination_page_number(begins)
    assert first is not None
    for number, page in enumerate(reader.pages[first:], start=first + 1):
        for line in page.extract_text().splitlines():
            heading = re.fullmatch(r"(?:[A-Z]|\d+)(?:\.\d+)* (.+)", line)
            if heading is None or heading[1] not in titles:
                there = numbers_in(re.sub(r"(?:Table|Figure) \d+|page \d+ of \d+$|^Revision \d+", "", line))
                missing += [(number, value, line) for value in there - listed - beside]
                found += len(there & listed)
    assert not missing
    assert found > 5000


def test_each_number_in_a_table_of_print_is_one_line(built: Built) -> None:
    """Each chapter has as many lines in values.csv as its tables hold numbers."""
    lines = Counter(
        value.in_print.partition(" / ")[0]
        for value in built.report.values
        if value.kind == "table" and value.column not in ("sentence", "mark")
    )
    assert len({chapter.title for chapter in built.report.chapters}) == len(built.report.chapters)
    total = 0
    for chapter in built.report.chapters:
        count = 0
        for table in tables_in(chapter.blocks):
            if not table.id.endswith("-data") or len(table.rows) <= SHORT_DATA:
                wanted = [at for at, column in enumerate(table.columns) if holds_numbers(column)]
                count += sum(is_number(row[at]) for row in table.rows for at in wanted)
        assert lines[chapter.title] == count, chapter.title
        total += count
    assert total > 5000


def test_the_reason_of_each_mark_that_tells_a_number_is_listed(built: Built) -> None:
    """It leads to the row of its finding, whose place on the page of findings is its anchor."""
    listed = {(value.text, value.id): value.origin for value in built.report.values if value.column == "mark"}
    rows = {f.key: (f.where.file, f.where.row) for f in built.findings}
    seen = 0
    for page in built.report.pages:
        for table in tables_in(page.blocks):
            for mark in (mark for row in table.rows for cell in row for mark in cell.marks):
                if tells_number(mark.reason) and re.search(r" \d[\d,.]* ", mark.reason):
                    assert (listed[mark.reason, mark.finding] or ())[:2] == rows[mark.finding], mark
                    seen += 1
    assert seen > 100


def test_no_column_hides_a_number(built: Built) -> None:
    """A column that is not listed holds names, words and pointers: no cell but those tells a number of its own."""
    kept = {"source", "evidence", "affected", "read", "subject", "about", "what", "role", "sampler", "land_use"}
    kept |= {"Row of the point", "Row of the deployment", "Field sheet", "Where", "Formula", "Source"}
    cells = {cell for path in EXAMPLE.rglob("*.csv") for row in rows_of(str(path.relative_to(EXAMPLE))) for cell in row}
    for page in built.report.pages:
        if page.ref.kind != "source" and page.ref.id not in ABOUT_ITSELF:
            for table in tables_in(page.blocks):
                for at, column in enumerate(table.columns):
                    texts = {row[at].text for row in table.rows} if not holds_numbers(column) else set()
                    hidden = [text for text in texts - cells if tells_number(text)]
                    assert column.key in kept or not hidden, (page.ref, table.id, column.key, hidden[:3])
            for label, text in facts_in(page.blocks):
                assert label in kept or text in cells or not tells_number(text), (page.ref, label, text)


def facts_in(blocks: Iterable[Block]) -> Iterator[tuple[str, str]]:
    """Yield the label and text of the facts that are not declared to be measured."""
    for block in blocks:
        if isinstance(block, Section):
            yield from facts_in(block.blocks)
        elif isinstance(block, Facts):
            yield from ((label, cell.text) for label, cell in block.rows if label not in block.measured)


def links_in_results(page: Path) -> Iterator[tuple[str, str]]:
    """Yield (address, text) of every linked number of a page from its results on."""
    _, _, results = page.read_text("utf-8").partition('id="table-results')
    for cell in re.findall(r'<td class="number[^>]*>(.*?)</td>', results):
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
            row = re.search(rf'<tr id="{re.escape(fragment)}"[^>]*>(.*?)</tr>', source)
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
        assert "SG-37" in re.search(rf'<tr id="row-{link[1]}"[^>]*>(.*?)</tr>', source)[1]  # type: ignore[index]


def test_a_custody_time_stands_beside_the_row_that_it_begins_with(built: Built) -> None:
    """A time is computed from two records, so it has no row of its own; the row of the first is a link beside it."""
    page = (built.out / "site/locations/SG-37.html").read_text("utf-8")
    table = page[page.index('id="table-spans-') :].partition("</table>")[0].replace("<wbr>", "")
    times = re.findall(
        r'<td [^>]*class="number">[^<]*min</td>.*?<a href="\.\./sources/file-(\w+)\.html#(row-\d+)">', table
    )
    assert times
    for name, row in times:
        assert f'id="{row}"' in (built.out / f"site/sources/file-{name}.html").read_text("utf-8")


def test_every_printed_table_of_numbers_has_a_source_line(built: Built) -> None:
    """In print no table of numbers stands without the files that it came from."""
    for chapter in built.report.chapters:
        for table in tables_in(chapter.blocks):
            numbers = [at for at, column in enumerate(table.columns) if column.kind == "number"]
            if any(is_number(row[at]) for row in table.rows for at in numbers) and table.id not in ABOUT_ITSELF:
                assert table.sources, (chapter.id, table.id)


def test_each_file_of_a_source_line_is_a_link(built: Built) -> None:
    """One click on a file's name below a table opens its rows as received, or the list of files."""
    site = built.out / "site"
    seen = Counter[str]()
    for page in sorted(site.rglob("*.html")):
        for line in re.findall(r'<p class="table-source">Source: (.*?)</p>', page.read_text("utf-8")):
            assert not re.sub(r"<a [^>]*>[^<]*</a>", "", line).strip("; "), (page.name, line)
            for address, text in re.findall(r'<a href="([^"]*)">([^<]*)</a>', line):
                target = (page.parent / (address.partition("#")[0] or page.name)).resolve()
                named = text.partition(", ")[0] in target.read_text("utf-8").replace("<wbr>", "")
                assert (
                    named
                    or text in ("review/comments.csv", "review/signoff.csv")
                    or text in ("the program&#39;s own defaults", "joined results")
                )
                seen[target.relative_to(site.resolve()).parts[0]] += 1
    assert set(seen) == {"sources", "sources.html", "files.html", "findings.html", "limits.html", "review.html"}


NUMBERS = Table("loose", "A table", (Column("a", "A"), Column("b", "B", kind="number")), ((Cell("x"), Cell("3")),))
LOOSE = Page(Ref("page", "loose"), "Loose", "", (NUMBERS,))


def test_the_counter_would_see_a_number_without_a_source() -> None:
    """A table of numbers that names no file and has no rows behind it is counted as lost."""
    (value,) = printed_values([LOOSE], (), {})
    assert (value.text, value.origin, value.sources) == ("3", None, ())
    assert count_values([value], {"lab/results.csv"}).lost == 1


def test_a_number_of_site_and_print_is_one_entry_with_both_places() -> None:
    """The same table in print adds its place; another number there is an entry of its own."""
    other = replace(NUMBERS, id="other", rows=((Cell("y"), Cell("4")),))
    chapter = Chapter("c", "Quality", (Section("s", "Blanks", (NUMBERS, other)),))
    one, two = printed_values([LOOSE], [chapter], {})
    assert (one.page, one.text, one.in_print) == (LOOSE.ref, "3", "Quality / Blanks")
    assert (two.page.id, two.text, two.in_print) == ("downloads/report.pdf", "4", "Quality / Blanks")


def test_numbers_in_sentences_tiles_facts_and_captions_are_listed() -> None:
    """A sentence is listed whole where it tells a number; one of ids, dates and words alone is not."""
    blocks = (
        Prose("Of 55 points all were used\\. SG\\-07 was set on 2025-10-23."),
        Tiles((Tile("53 of 55", "points", "49 without a mark"),)),
        Facts((("Depth", Cell("3 ft")), ("Sampler", Cell("0047"))), frozenset({"Depth"})),
        Section("sure", "How sure", (Callout("flag", "Blank", "* It touches 14 detections."),)),
        Figure("drawn", "<svg/>", "15 points lie near the line.", "", "At SS-01 the share is 93 %.", NUMBERS),
    )  # fmt: skip
    page = Page(Ref("page", "start"), "Start", "22 compounds were looked for.", blocks)
    found = {(v.column, v.kind, v.id, v.text) for v in printed_values([page], (), {})}
    assert found == {
        ("sentence", "", "", "22 compounds were looked for."),
        ("sentence", "", "", "Of 55 points all were used."),
        ("value", "", "", "53 of 55"),
        ("value", "", "", "49 without a mark"),
        ("value", "", "", "3 ft"),
        ("sentence", "section", "sure", "It touches 14 detections."),
        ("sentence", "figure", "drawn", "15 points lie near the line."),
        ("sentence", "figure", "drawn", "At SS-01 the share is 93 %."),
        ("b", "table", "drawn-data", "3"),
    }


def test_a_fixed_sentence_of_the_program_is_no_number_of_the_survey() -> None:
    """What stands word for word in the word templates was filled with nothing."""
    fixed = (
        "Held means in a person's possession or view, locked up, or under a seal "
        "(US EPA Region 5 manual 905R78115, 1978)."
    )
    assert list(numbered_sentences(fixed)) == []
    assert list(numbered_sentences(fixed.replace("1978", "1979"))) != []


def test_the_sample_of_a_reviewer_is_a_tenth_and_can_be_drawn_again(built: Built) -> None:
    """The tick sheet holds a tenth of the reported results, each once, those of lowest hash, in file order."""
    found: dict[tuple[str, int], list[PrintedValue]] = {}
    for value in built.report.values:
        is_result = value.kind == "table" and value.column not in ("rl", "mdl", "found", "other")
        if is_result and value.origin and value.origin[0] == "lab/results.csv":
            found.setdefault(value.origin[:2], []).append(value)
    names = [next((v for v in values if v.page.kind == "location"), values[0]).name for values in found.values()]
    ranked = sorted(names, key=lambda name: hashlib.sha256(f"KD-2025-01\n{name}".encode()).digest())
    ticked = [value.name for value in built.report.sample]
    assert set(ticked) == set(ranked[: -(-len(names) // 10)])
    assert len(set(ticked)) == len(ticked)
    rows = [value.origin[1] for value in built.report.sample if value.origin]
    assert rows == sorted(rows)
    assert len(sidecar(built, "tick_sheet")) == len(ticked)


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
    table = next(table for table in tables_in(page.blocks) if table.id == "claims-conclusions")
    linked = {cell.ref for row in table.rows for cell in row if cell.ref}
    assert Ref("compound", "toluene") in linked
    assert any("not attributed to the subsurface" in row[1].text for row in table.rows)
