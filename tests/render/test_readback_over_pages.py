"""Reading print back where a row goes on over a page: its cells are drawn in parts, and compared whole."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from pdf_samples import COLUMNS, a_report
from pypdf import PdfReader

from sitegen.render.print.finish import finish
from sitegen.render.print.pdf import PrintSources, print_sources, typeset
from sitegen.render.proof.pdf_text import read_pdf, squeeze
from sitegen.render.proof.print import print_differences
from sitegen.report.record.pages import Cell, Chapter, Column, Facts, Section, Table

NAMES = [f"Compound {number:02d} (invented)" for number in range(60)]
NONDETECTS = tuple((Cell(name), Cell("<10", tone="nondetect"), Cell("<10")) for name in NAMES)
ROWS = tuple((Cell(f"Filler {number}"), Cell("12"), Cell("12")) for number in range(40))
JOINED = Table("joined", "Results at a point", COLUMNS, (*ROWS, *NONDETECTS), joined=True)
BESIDE = Table(
    "beside", "Departures", (Column("w", "What", kind="wide"), Column("e", "Effect", kind="wide")),
    ((Cell("what was done " * 200), Cell("its effect on results " * 200)),),
)  # fmt: skip
FACTS = Facts((("A label of several words that needs lines of its own", Cell("a remark of many words " * 300)),))


@cache
def printed() -> tuple[PrintSources, bytes]:
    """Return a report whose table, wide table and list of facts each have a row that no page holds."""
    blocks = (JOINED, BESIDE, Section("facts", "Facts", (FACTS,)))
    sources = print_sources(a_report(chapters=(Chapter("c", "Sheets", blocks),)), {})
    return sources, finish(typeset(sources), {}, sources.day)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    target = tmp_path / "report.pdf"
    target.write_bytes(printed()[1])
    return target


def test_a_row_that_goes_on_over_a_page_is_no_difference(path: Path) -> None:
    """Sixty non-detects in one row, a row of two long cells and a long fact are found as they were set."""
    assert list(print_differences(path, printed()[0], {})) == []


def test_the_rows_are_drawn_in_parts(path: Path) -> None:
    """The row of non-detects is whole in the tree of tags alone: as drawn, its limit stands amid its names."""
    whole = squeeze("; ".join(NAMES) + "<10")
    assert whole not in read_pdf(path).text
    assert whole in read_pdf(path, tagged=True).text
    assert whole in read_pdf(path, tagged=True, parsed=True).text
    pages = [squeeze(page.extract_text()) for page in PdfReader(BytesIO(printed()[1])).pages]
    assert not any(squeeze(NAMES[0]) in page and squeeze(NAMES[-1]) in page for page in pages)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Compound 07 (invented)", "Compound 70 (invented)"),
        ("Compound 59 (invented)", "Compound 59 (measured)"),
        ('"<10"', '"<100"'),
        ("its effect on results ", "its effect on a result "),
        ("a remark of many words ", "a remark of more words "),
    ],
)
def test_a_true_difference_in_such_a_row_is_told(path: Path, old: str, new: str) -> None:
    """A name on the first page, one on the last, a limit and a word of a long cell are compared as any other."""
    sources = printed()[0]
    tree = json.dumps(json.loads(sources.files["data.json"]), ensure_ascii=False)
    at = tree.rindex(old)
    other = tree[:at] + new + tree[at + len(old) :]
    meant = replace(sources, files={**sources.files, "data.json": other.encode()})
    assert any("is not there as it was set" in line for line in print_differences(path, meant, {}))


def test_cells_out_of_order_are_told(path: Path) -> None:
    """Two cells of such a row that changed places are a difference, though every word is there."""
    sources = printed()[0]
    tree = json.loads(sources.files["data.json"])
    wide = next(n for sheet in tree["sheets"] for n in sheet["nodes"] if n.get("caption", "").startswith("Departures"))
    wide["rows"][0].reverse()
    meant = replace(sources, files={**sources.files, "data.json": json.dumps(tree).encode()})
    assert any("'Departures" in line for line in print_differences(path, meant, {}))


def test_a_text_that_no_tag_holds_is_not_read_from_the_tree() -> None:
    """The tree gives what is tagged, once, in its own order, and a page without one gives nothing."""
    made = pikepdf.new()
    table = made.make_stream(b"2 beginbfchar\n<0001> <0037>\n<0002> <0035>\nendbfchar")
    font = made.make_indirect(pikepdf.Dictionary(Encoding=pikepdf.Name("/Identity-H"), ToUnicode=table))
    page = made.add_blank_page()
    page.obj.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F1=font))
    shown = b"/P <</MCID 0>>BDC BT /F1 12 Tf <0001> Tj\nET EMC /P <</MCID 1>>BDC BT /F1 12 Tf <0002> Tj\nET EMC "
    page.obj.Contents = made.make_stream(shown + b"/Artifact <</Type /Layout>>BDC BT /F1 12 Tf <0001> Tj\nET EMC")
    kids = [pikepdf.Dictionary(S=pikepdf.Name.P, Pg=page.obj, K=number) for number in (1, 0)]
    made.Root.StructTreeRoot = pikepdf.Dictionary(K=pikepdf.Array(kids))
    target = BytesIO()
    made.save(target)
    for parsed in (False, True):
        assert read_pdf(target.getvalue(), parsed=parsed).text == "75"
        assert read_pdf(target.getvalue(), tagged=True, parsed=parsed).text == "57"
    del made.Root.StructTreeRoot
    made.save(target := BytesIO())
    assert read_pdf(target.getvalue(), tagged=True).text == ""
