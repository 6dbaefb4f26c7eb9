"""QR codes (ISO/IEC 18004) as drawings: dark squares on white, with the quiet zone around them."""

from __future__ import annotations

from itertools import groupby

import segno

from sitegen.figures.svg import element, number

QUIET = 4
"""Modules of white around a code, as ISO/IEC 18004 asks for."""


def qr_svg(text: str) -> str:
    """Return the QR code of a text, of the smallest version that holds it with level M or better.

    >>> qr_svg("SG-07*3W").count("<path")
    1
    """
    rows = segno.make_qr(text, error="m").matrix
    side = len(rows) + 2 * QUIET
    path = "".join(
        f"M{x + QUIET} {y + QUIET}h{width}v1h-{width}z" for y, row in enumerate(rows) for x, width in _runs(row)
    )
    return element(
        "svg",
        element("path", d=path, fill="#000000"),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(side)} {number(side)}",
        shape_rendering="crispEdges",
    )


def _runs(row: bytearray) -> list[tuple[int, int]]:
    """Return where each run of dark modules begins, and its width."""
    found, at = [], 0
    for dark, run in groupby(row):
        width = len(list(run))
        if dark:
            found.append((at, width))
        at += width
    return found
