"""The same survey as CSV files, as workbooks, and as one workbook: the same report, where its rows stand aside.

What is masked before the outputs are compared, and nothing else: the names of input files with
their sheets, digests (SHA-256 of files, and the content digest whole or shortened), sizes of what
is downloaded, and the class of a column that is wide for the names in it. Left out are the lists of
input files, the build record and the PDF, whose lines break where the names of files do; databases
and workbooks are compared row by row.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from sitegen.pipeline import Built, build
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLE, TABLES
from tests.builders import example, write
from tests.workbooks import in_one_workbook, in_workbooks_of_their_own

LISTS = {
    "build.json", "site/files.html", "site/downloads/files.csv", "site/downloads/report.pdf", "site/downloads/maps.pdf",
}  # fmt: skip
"""Files that list or name the input files, and what is printed."""
TEXTS = {".html", ".csv", ".json", ".js", ".geojson", ".svg", ".css", ".xml", ".txt"}
SHEETS = "|".join(TABLE)
PLACE = re.compile(rf"survey\.xlsx((?:[,;] ?|\\?\", \\?\"| row )+)(\d+)((?:,)? ?(?:column )?)({SHEETS})!")
OF_A_DOWNLOAD = re.compile(r'(<a href="downloads/[^<]*</a>.*<td class="number">)[\d,]+(?=</td></tr>)')
ON_A_BUTTON = re.compile(r'(class="button-size" data-file="[^"]*">, )[\d,.]+ [kM]B')
WHOLE_ROW = re.compile(rf"survey\.xlsx, row (\d+), sheet ({SHEETS})(?![a-z_])")
IN_RECORD = re.compile(rf"survey\.xlsx,(\d+\.0),()({SHEETS})!")
CALLED = re.compile(rf"survey\.xlsx(?:, sheet | \()({SHEETS})(?![a-z_])\)?")


def masked(text: str, digest: str) -> str:
    """Return a text of the output without what may differ."""
    text = text.replace("<wbr>", "").replace("\u200b", "").replace("&#8203;", "")
    text = text.replace(' class="long"', "")
    text = re.sub(r"\b[0-9a-f]{64}\b", "SHA", text).replace(digest[:8], "DIGEST")
    text = text.replace("\\\\_", "_")
    text = PLACE.sub(lambda m: f"{TABLE[m[4]].path}{m[1]}{m[2]}{m[3]}", text)
    text = WHOLE_ROW.sub(lambda m: f"{TABLE[m[2]].path}, row {m[1]}", text)
    text = IN_RECORD.sub(lambda m: f"{TABLE[m[3]].path},{m[1]},{m[2]}", text)
    text = CALLED.sub(lambda m: TABLE[m[1]].path, text)
    for spec in TABLES:
        text = text.replace(f"{spec.book_path}, sheet Sheet1", spec.path).replace(spec.book_path, spec.path)
    text = re.sub(r"\bSheet1!", "", text)
    return ON_A_BUTTON.sub(r"\1SIZE", OF_A_DOWNLOAD.sub(r"\1SIZE", text))


def pages_found(text: str) -> str:
    """Return the search index without the list of files."""
    index = json.loads(text[text.index("{") :])
    index["docs"] = [one for one in index["docs"] if not one["location"].startswith("files.html")]
    return json.dumps(index, indent=0, ensure_ascii=False)


def rows_in(path: Path) -> Iterator[str]:
    """Yield the rows of a database or a workbook as text."""
    if path.suffix == ".xlsx":
        book = CalamineWorkbook.from_path(path)
        for name in book.sheet_names:
            yield from (",".join(map(str, row)) for row in book.get_sheet_by_name(name).to_python())
        return
    with sqlite3.connect(path) as base:
        names = base.execute("select name from sqlite_master where type = 'table' order by name").fetchall()
        for (name,) in names:
            yield from (",".join(map(str, row)) for row in base.execute(f'select * from "{name}"'))  # noqa: S608


def content(path: Path, digest: str) -> str | bytes:
    """Return what is compared of a file."""
    if path.suffix in (".xlsx", ".gpkg"):
        return masked("\n".join(rows_in(path)), digest)
    if path.name.startswith("search_index"):
        return masked(pages_found(path.read_text("utf-8")), digest).replace("SHA ", "").replace(" SHA", "")
    return masked(path.read_text("utf-8"), digest) if path.suffix in TEXTS else path.read_bytes()


def files_of(out: Path) -> set[str]:
    return {path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()} - LISTS


@pytest.mark.long
@pytest.mark.parametrize("saved", [in_workbooks_of_their_own, in_one_workbook])
def test_pages_and_exports_are_the_same(saved: Callable[[Folder], Folder], built: Built, tmp_path: Path) -> None:
    """Every page and export of the example, byte for byte after the masks."""
    other = build(write(saved(example()), tmp_path / "in"), tmp_path / "out")
    assert files_of(other.out) == files_of(built.out)
    digests = built.report.meta.digest, other.report.meta.digest
    assert digests[0] != digests[1]
    differing = [
        name
        for name in sorted(files_of(built.out))
        if content(built.out / name, digests[0]) != content(other.out / name, digests[1])
    ]
    assert differing == []


@pytest.mark.long
def test_numbers_lead_to_sheet_row_and_column(tmp_path: Path) -> None:
    """A number of the page of a point names its place in the workbook, and its row as received is there."""
    out = build(write(in_one_workbook(example()), tmp_path / "in"), tmp_path / "out").out / "site"
    page = (out / "locations/SG-50.html").read_text("utf-8")
    assert re.search(r'data-origin="survey\.xlsx, row \d+, results!result_text"', page)
    received = (out / "sources/file-deployments.html").read_text("utf-8").replace("<wbr>", "")
    assert "survey.xlsx (deployments)" in received
    assert 'id="row-2"' in received
