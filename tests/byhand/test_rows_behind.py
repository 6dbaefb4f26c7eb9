"""Each number of the report worked by hand leads to the cell of a file that has it, and each page of rows has them all.

What the files have is the text in ``byhand_survey.py``: line 1 is the header, as a spreadsheet counts.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Iterator
from pathlib import PurePath

import byhand_survey as survey

from sitegen.report.record.pages import Cell, Column, Facts, Page, Section
from sitegen.report.trace.printed import tables_in

Origin = tuple[str, int, str]
RESULTS = "lab/results.csv"
IN_WORDS = ("found", "mark")
"""Columns of sentences, which tell of their row and do not repeat it."""


def has(origin: Origin) -> str:
    """Return what the file has at a place."""
    file, row, column = origin
    if not file.endswith(".csv"):
        return ""
    lines = list(csv.reader(io.StringIO(survey.FILES[file])))
    return lines[row - 1][lines[0].index(column)] if column else ""


def cells() -> Iterator[tuple[Column, Cell]]:
    """Yield every cell of a table of pages and chapters with its column."""
    for part in (*survey.report().pages, *survey.report().chapters):
        for table in tables_in(part.blocks):
            for row in table.rows:
                yield from zip(table.columns, row, strict=True)


def test_a_number_begins_with_what_the_row_behind_it_has() -> None:
    """A qualifier, a unit or a mark may follow; thousands are set apart by commas."""
    leading = [(cell.text, cell.origin) for column, cell in cells() if column.kind == "number" and cell.origin]
    assert len(leading) > 300
    odd = [(text, origin) for text, origin in leading if text.replace(",", "").split()[0] != has(origin)]
    assert odd == []


def test_what_is_listed_of_printed_numbers_is_in_the_row_that_it_names() -> None:
    """The same, of the list of all printed numbers, but for sentences about a row."""
    values = [value for value in survey.report().values if value.origin and value.column not in IN_WORDS]
    assert len(values) > 200
    odd = [(value.name, value.text) for value in values if has(value.origin) not in value.text.replace(",", "")]
    assert odd == []


def source_pages() -> dict[str, Page]:
    """Return the pages of rows as received."""
    return {page.ref.id: page for page in survey.report().pages if page.ref.kind == "source"}


def rows_of(page: Page) -> list[dict[str, Cell]]:
    """Return the rows of the one table of a page, by the keys of its columns."""
    (table,) = tables_in(page.blocks)
    return [{column.key: cell for column, cell in zip(table.columns, row, strict=True)} for row in table.rows]


def test_a_page_of_a_file_has_its_rows_as_received_and_in_order() -> None:
    """A row to a line, each with an anchor of its own; results have pages by laboratory sample instead."""
    files = {f"file-{PurePath(name).stem}": text.splitlines() for name, text in survey.FILES.items()}
    pages = {name: page for name, page in source_pages().items() if name in files}
    assert len(pages) == 14
    for name, page in pages.items():
        rows = [(row["row"].text, row["row"].ref, row["received"].text) for row in rows_of(page)]
        lines = enumerate(files[name][1:], start=2)
        assert rows == [(str(at), page.ref._replace(anchor=f"row-{at}"), line) for at, line in lines], name


def test_a_page_of_rows_names_its_file_with_checksum_and_columns() -> None:
    """Those of a laboratory sample name the file of results."""
    for name, page in source_pages().items():
        (told,) = (dict(block.rows) for block in page.blocks if isinstance(block, Facts))
        file = told["File"].text
        content = survey.FILES[file]
        assert name == f"file-{PurePath(file).stem}" or file == RESULTS
        assert told["SHA-256"].text == hashlib.sha256(content.encode()).hexdigest()
        assert told["Columns as received"].text == content.splitlines()[0]
        assert told["Mapping step"].text.startswith("none: ")


def test_a_page_of_a_laboratory_sample_has_its_results_as_received() -> None:
    """Each with the compound's name, which is its anchor's, and the row that it was; none is left out."""
    lines = list(enumerate(survey.FILES["lab/results.csv"].splitlines()[1:], start=2))
    shown = []
    for name, page in source_pages().items():
        for row in rows_of(page) if "compound" in rows_of(page)[0] else []:
            assert row["received"].text.split(",")[0] == name
            assert row["compound"].ref == page.ref._replace(anchor=row["received"].text.split(",")[1])
            shown.append((int(row["row"].text), row["received"].text))
    assert sorted(shown) == lines


def test_words_that_name_a_row_lead_to_it() -> None:
    """``field/custody.csv, row 2`` leads to that row of that file's page."""
    named = [(cell, re.fullmatch(r"(\S+\.csv), row (\d+)", cell.text)) for _, cell in cells()]
    named += [(cell, re.fullmatch(r"(\S+\.csv), row (\d+)", cell.text)) for cell in facts()]
    leads = {(match[1], match[2], cell.ref) for cell, match in named if match and cell.ref and match[1] != RESULTS}
    assert len(leads) > 40
    odd = [one for one in leads if one[2][1:] != (f"file-{PurePath(one[0]).stem}", f"row-{one[1]}")]
    assert odd == []


def facts() -> Iterator[Cell]:
    """Yield the values of all facts of the pages."""
    for page in survey.report().pages:
        inside = [item for b in page.blocks if isinstance(b, Section) for item in b.blocks]
        for block in (*page.blocks, *inside):
            yield from (cell for _, cell in block.rows) if isinstance(block, Facts) else ()
