"""Small printed reports, and what tests read out of their PDF."""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import cache

import pikepdf
from pypdf import PdfReader

from sitegen.render.print import pdf
from sitegen.render.print import widths as print_widths
from sitegen.render.print.finish import finish
from sitegen.report.record.pages import (
    Block,
    Bound,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    MapFrame,
    Mark,
    Meta,
    Printable,
    Prose,
    Quote,
    Ref,
    Section,
    Source,
    Table,
    Tile,
    Tiles,
)

TRIP = Mark("trip blank", "The trip blank of the same bag held this compound.")
WATER = Mark("water", "Water stood in the vial.")
LONG_NAME = "1,1,2-Trichloro-1,2,2-trifluoroethane (isomers)"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 60"><text x="4" y="30">axis ng</text></svg>'
COLUMNS = (
    Column("c", "Compound"),
    Column("m", "Mass", "ng per sampler", "number"),
    Column("t", "As received"),
)


def a_report(*blocks: Block, chapters: tuple[Chapter, ...] = (), **meta: object) -> Bound:
    shown = {
        "project_id": "OB-2041",
        "title": "Passive soil-gas survey of a closed depot",
        "site": "Former Kesterly Depot, Ostrel Bend",
        "client": "Ostrel Bend Redevelopment Board (invented)",
        "prepared_by": "Example Field Group (invented)",
        "revision": 2,
        "status_word": "Draft for review",
        "report_date": "2026-03-31",
        "digest": "0123456789abcdef" * 4,
        "publish_level": "client",
        "tool": "sitegen 0.1.0",
        "notices": ("Everything in this report is invented.",),
    } | meta
    made = chapters or (Chapter("c", "Chapter", blocks),)
    return Bound(Meta(**shown), made)  # type: ignore[arg-type]


def full_report() -> Bound:
    rows = (
        (Cell(LONG_NAME, Ref("compound", "cfc113")), Cell("1,200", marks=(TRIP, WATER)), Cell("1200 J")),
        (Cell("Benzene"), Cell("<10", tone="nondetect"), Cell("<10")),
        (Cell("Toluene"), Cell("34", marks=(TRIP,)), Cell("34")),
    )
    results = Table(
        "results",
        "Results at L-01",
        COLUMNS,
        rows,
        note="Mass, never a concentration.",
        sources=(Source("lab/results.csv"),),
    )
    matrix_columns = (
        Column("l", "Location"),
        *(Column(f"k{i}", f"{LONG_NAME} {i}", "ng per sampler", "number") for i in range(24)),
    )
    matrix = Table(
        "matrix",
        "All masses",
        matrix_columns,
        ((Cell("L-01"), *(Cell(f"{i},000") for i in range(24))),),
        landscape=True,
    )
    summary = (
        Tiles((Tile("58 of 60", "locations sampled", "two lost", Ref("location", "L-01")),)),
        Callout("hold", "Seals differ", "Read *again*.", (Cell("L-01", Ref("location", "L-01")),)),
        Prose("# Found\n\n* one\n  1. two\n\n[web](https://example.org/a) [gone](other.html) `code`\n\n> quoted"),
        Figure("map", SVG, "Where the samplers stood", "Map of three points", "Three points in a row."),
        MapFrame("Web map"),
    )
    sheet = (
        Facts((("Condition", Cell("water inside", tone="flag")),)),
        Quote("wet\n  very wet", "FS-1"),
        results,
    )
    return a_report(
        chapters=(
            Chapter("summary", "Summary", summary),
            Chapter("compounds", "Compounds", (Section("compound-cfc113", LONG_NAME, (Prose("A solvent."),)),)),
            Chapter("annex", "Matrix annex", (Prose("Every mass."), matrix), appendix=True),
            Chapter("sheets", "Location sheets", (Section("location-L-01", "L-01", sheet),), appendix=True),
        )
    )


def render(report: Printable, files: dict[str, bytes] | None = None, attached: dict[str, bytes] | None = None) -> bytes:
    sources = pdf.print_sources(report, files or {})
    return finish(pdf.typeset(sources), attached or {}, sources.day)


@cache
def full_bytes() -> bytes:
    return render(full_report(), attached={"data/results.csv": b"a,b\r\n", "readme.txt": b"\xff plain"})


def pages_of(data: bytes) -> list[str]:
    unseen = str.maketrans("", "", print_widths.BREAK + "\u2060")
    return [page.extract_text().translate(unseen) for page in PdfReader(io.BytesIO(data)).pages]


def text_of(data: bytes) -> str:
    return "\n".join(pages_of(data))


def squeezed(data: bytes) -> str:
    return "".join(text_of(data).split())


def elements(data: bytes, kind: str) -> list[tuple[str, bool]]:
    """Return the structure elements of a kind: alternative text, and whether a scope is given."""
    with pikepdf.open(io.BytesIO(data)) as opened:
        found = [item for item in _walk(opened.Root.StructTreeRoot.K) if item.get("/S") == kind]
        return [(str(item.get("/Alt", "")), _has_scope(item.get("/A", []))) for item in found]


def _has_scope(attributes: pikepdf.Object) -> bool:
    parts = [attributes] if isinstance(attributes, pikepdf.Dictionary) else attributes
    return any("/Scope" in part for part in parts)


def _walk(node: pikepdf.Object) -> Iterator[pikepdf.Object]:
    if isinstance(node, pikepdf.Array):
        for child in node:
            yield from _walk(child)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from _walk(node.K)
