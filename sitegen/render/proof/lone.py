"""The maps to print alone, read again: a page for each, under its title, in their order."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path

import pikepdf

from sitegen import glyphs
from sitegen.render.proof.pdf_text import squeeze
from sitegen.report.record.lone import Atlas


def lone_differences(printed: Path, atlas: Atlas) -> Iterator[str]:
    """Yield a line for each page of the PDF that is not the map which the atlas has there."""
    with pikepdf.open(printed) as document:
        count = len(document.pages)
        with document.open_outline() as outline:
            titles = [item.title for item in outline.root]
    if count != len(atlas.maps):
        yield f"{printed.name}: {count} page(s) for {len(atlas.maps)} map(s)"
    for page, (one, title) in enumerate(zip_longest(atlas.maps, titles), 1):
        wanted = squeeze(glyphs.printable(one.title)) if one else ""
        if wanted != squeeze(title or ""):
            yield f"{printed.name}, page {page}: {title!r} where {wanted!r} belongs"
