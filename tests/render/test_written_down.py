"""One small report with every kind of block, as print and site are given it.

The texts were written by the program and read through in most parts, not line by line: they hold
what is given, and say nothing of whether it is right.

What a page or a file says, where its links lead and how its columns are laid out repeat from report to report; here it
stands once, in ``expected/``.
"""

from __future__ import annotations

import io
import json
import re
import sqlite3
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from copy_samples import sample_copy
from export_samples import export_report
from pdf_samples import COLUMNS, SVG, TRIP, WATER, full_report
from sample_report import sample_files, sample_map, sample_meta, sample_report
from written_down import require_written

from sitegen.render.comment.docx import docx_bytes
from sitegen.render.data.datapackage import package_bytes
from sitegen.render.data.exports import export_files
from sitegen.render.data.geopackage import geopackage_bytes, quote
from sitegen.render.data.workbook import workbook_bytes
from sitegen.render.map.layers import map_layers
from sitegen.render.map.webmap import map_payload
from sitegen.render.print.tree import Picture, document_tree
from sitegen.render.site.html import finished_pages
from sitegen.report.record.pages import (
    Block,
    Bound,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    Photo,
    Prose,
    Ref,
    Report,
    Section,
    Source,
    Table,
    Volume,
)

EXPECTED = Path(__file__).parent / "expected"
ELEMENTS = r"w:(?:p|tbl|tr|tc|sectPr|tblPr|tblGrid)|row|c|si|xf|cols|sheet|Override|Relationship|dc:\w+|cp:\w+"
BLOCK = re.compile(rf"(?<=>)(?=<(?:{ELEMENTS})[ >])")
UNSEEN = {"\u200b": "¦", "\u2060": "‿", "\u00ad": "¬", "\r": "␍", "\n": "⏎"}
"""What stands for a place where a line may break, for one where it may not, for a hyphen that shows at a break,
and for the ends of lines."""


@cache
def report() -> Bound:
    """Return a report of every kind of block, and each kind of chapter."""
    masses = (Column("p", "Point"), Column("pce", "PCE", "ng", "number"), Column("tce", "TCE", "ng", "number"))
    low = Cell("<25", tone="nondetect")
    rows = (
        (Cell("SG-01", Ref("location", "L-01")), Cell("1,200", marks=(WATER,), tone="class4"), low),
        (Cell("SG-02"), low, Cell("<30", marks=(TRIP, WATER), tone="nondetect")),
        (Cell("SG-03"), low, low),
    )
    pair = [(Cell(name, Ref("compound", name)), low, Cell("")) for name in ("cfc113", "tce")]
    table = Table("masses", "Masses", masses, rows, sources=(Source("lab/results.csv", Ref("source", "lab-results")),))
    more = (
        Photo("photos/hole.png", "The hole", "A hole in a slab", "FS-1"),
        Photo("photos/lost.png", "No file", "A photograph that is not there"),
        replace(table, id="joined", rows=(*pair, rows[0]), joined=True),
        Table("none", "Nothing", COLUMNS, (), empty="No row is on record."),
        Figure("bars", SVG, "Bars", "Bars of three", table=replace(table, id="bars-data"), width="half"),
        Figure("sheet", SVG, "A large map. On a sheet to fold out.", "A map", width="fold"),
        Facts((("Depth", Cell("0.9 m", marks=(WATER,))),), frozenset({"Depth"})),
        Section("inner", "Inner", (Prose("* one\n* two\n\n```\ncode\n```"), Section("deep", "Deep", (table,)))),
    )
    chapters = (
        *full_report().chapters,
        Chapter("more", "More", more, keyed=True, indexed=True),
        Chapter("one", "One page", (Figure("a", SVG, "A", "A"), table), single_page=True),
    )
    history = Table("history", "Revisions", COLUMNS[:1], ((Cell("0"),),))
    return replace(full_report(), chapters=chapters, history=history, volumes=(Volume(2, "b.pdf", ("L-01",), ()),))


def lines_of(value: object, name: str = "-") -> Iterator[str]:
    """Yield a tree of mappings and sequences as lines: a name with its value, or with what is below it, indented.

    What holds nothing but words and numbers is one line.
    """
    items = value.items() if isinstance(value, Mapping) else ()
    several = list(value) if isinstance(value, Sequence) and not isinstance(value, str) else []
    if not items and not several:
        yield f"{name} {told(value) if isinstance(value, str | int | float) else ''}"
    elif all(isinstance(one, str | int | float | None) for one in several or dict(items).values()):
        yield f"{name} {' | '.join([f'{key}={told(one)}' for key, one in items] or map(told, several))}"
    else:
        yield f"{name}:"
        below = [(str(key), one) for key, one in items] or [("-", one) for one in several]
        yield from (f"  {line}" for key, one in below for line in lines_of(one, key))


def told(value: object) -> str:
    """Return a text with signs for what can't be seen, numbers short."""
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    return text.translate(str.maketrans(UNSEEN))


def site_lines(whole: Report) -> Iterator[str]:
    """Yield the pages of a site, an element to a line, without the drawings; what is as before is said so."""
    before = dict[str, str]()
    for page in finished_pages(whole, sorted(sample_files())):
        yield f"== {page.url}, {page.head_title}, {page.site_title}"
        for name in ("navigation", "strip", "previous", "article", "following", "footer"):
            html = re.sub(r"<svg.*?</svg>", "<svg/>", getattr(page, name), flags=re.DOTALL)
            yield f"-- {name}{', as before' * (before.get(name) == html)}"
            lines = () if before.get(name) == html else re.split(r"\n|(?<=>)(?=<(?!/))", html)
            yield from (told(line.strip()) for line in lines if line.strip())
            before[name] = html
        yield from (f"search: {' | '.join(map(told, entry))}" for entry in page.search)


def small_site() -> Report:
    """Return the sample's site with one page of each kind, and four rows to a table."""
    whole = sample_report(locations=2)
    kinds = dict.fromkeys(page.ref.kind for page in whole.pages)
    first = [next(page for page in whole.pages if page.ref.kind == kind) for kind in kinds if kind != "page"]
    pages = (*(page for page in whole.pages if page.ref.kind == "page"), *first)
    return replace(whole, pages=tuple(replace(page, blocks=tuple(map(shortened, page.blocks))) for page in pages))


def shortened(block: Block) -> Block:
    """Return a block whose tables have four rows at most."""
    if isinstance(block, Section):
        return replace(block, blocks=tuple(map(shortened, block.blocks)))
    return replace(block, rows=block.rows[:4]) if isinstance(block, Table) else block


def package_lines(content: bytes, *names: str) -> Iterator[str]:
    """Yield the parts of a package of XML, a paragraph, row or cell to a line."""
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        for name in names or package.namelist():
            yield f"== {name}"
            text = re.sub(r' xmlns:\w+="[^"]*"', "", package.read(name).decode())
            yield from (told(line) for line in BLOCK.split(text))


def copy_lines() -> Iterator[str]:
    """Yield what the file for comments says, with its header, its footer and its properties."""
    copy = sample_copy()
    blocks = [tuple(map(shortened, chapter.blocks)) for chapter in copy.chapters]
    chapters = tuple(replace(one, blocks=of) for one, of in zip(copy.chapters, blocks, strict=True))
    content = docx_bytes(replace(copy, chapters=chapters), sample_meta())
    return package_lines(content, "word/document.xml", "word/header1.xml", "word/footer1.xml", "docProps/core.xml")


def data_lines() -> Iterator[str]:
    """Yield the files to download that are text, and the parts of the workbook."""
    whole = export_report()
    for name, content in sorted(export_files(whole).items()):
        yield f"== {name}"
        yield from (told(line) for line in content.decode().split("\n"))
    yield from lines_of(json.loads(package_bytes(whole)), "package")
    yield from package_lines(workbook_bytes(whole.exports, whole.meta))


def geopackage_lines(folder: Path) -> Iterator[str]:
    """Yield the tables of the GeoPackage, without what a library says of a system in its own words.

    Of a geometry is left the header, of a number six figures.
    """
    path = folder / "survey.gpkg"
    whole = export_report()
    path.write_bytes(geopackage_bytes(map_layers(whole), whole.meta))
    with closing(sqlite3.connect(path)) as base:
        for name in ("application_id", "user_version"):
            yield f"{name} {base.execute(f'pragma {name}').fetchone()[0]}"
        tables = "select name, sql from sqlite_master where type = 'table' order by name"
        for name, sql in base.execute(tables).fetchall():
            yield told(f"== {sql}")
            for row in base.execute(f"select * from {quote(name)}").fetchall():  # noqa: S608 - a name of the file itself
                cells = [f"{one[:8].hex()}…" if isinstance(one, bytes) else told(one) for one in row]
                yield " | ".join(cells[:4] if name == "gpkg_spatial_ref_sys" else cells)


WRITTEN = {
    "copy": lambda _: copy_lines(),
    "data": lambda _: data_lines(),
    "geopackage": geopackage_lines,
    "print_tree": lambda _: lines_of(document_tree(report(), {"photos/hole.png": Picture("photo-0.png", 1.5)}), "tree"),
    "site": lambda _: site_lines(small_site()),
    "map": lambda _: lines_of(map_payload(sample_map(["SG-01", "SG-02"]), report().meta, "../{}.html".format), "map"),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_what_is_given_to_readers_is_what_is_written_down(name: str, tmp_path: Path) -> None:
    """Line by line: every node of print, every element of the pages, every value of the map, every cell."""
    require_written(EXPECTED / f"{name}.txt", WRITTEN[name](tmp_path))
