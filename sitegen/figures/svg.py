"""Pieces of SVG as text: every word escaped, every number short, ids kept apart.

Presentation attributes only, no style sheets: the drawings look the same in a browser
and in Typst, and one drawing in a page can't restyle another.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from html import escape
from pathlib import Path

from matplotlib import get_data_path
from matplotlib.ft2font import FT2Font, LoadFlags

from sitegen.figures.look import INK, PAPER, RULE

FONT = "DejaVu Sans, sans-serif"
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NOT_IN_ID = re.compile(r"[^A-Za-z0-9_-]")


@lru_cache(maxsize=1 << 16)
def number(value: float) -> str:
    """Write a coordinate with at most two decimals.

    >>> number(12.0), number(0.128), number(-0.001)
    ('12', '0.13', '0')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


@lru_cache(maxsize=1 << 14)
def words(value: str) -> str:
    """Escape text for XML; characters that XML forbids become U+FFFD.

    >>> words('a < "b"')
    'a &lt; &quot;b&quot;'
    """
    return escape(_NOT_IN_XML.sub("\ufffd", value), quote=True)


def identity(value: str) -> str:
    """Turn any text into a safe id; different texts give different ids.

    >>> identity("pce/SG 1")
    'f-pce_2f_SG_20_1'
    """
    return "f-" + _NOT_IN_ID.sub(lambda found: f"_{ord(found[0]):x}_", value.replace("_", "_5f_"))


def element(name: str, /, *children: str, **attributes: str | float) -> str:
    """Write an element; children are SVG already, attributes are escaped here.

    Underscores in attribute names stand for hyphens.

    >>> element("line", x1=0, stroke_width=1.5)
    '<line x1="0" stroke-width="1.5"/>'
    """
    start = f"<{name}"
    for key, value in attributes.items():
        start += f'{_attribute(key)}{words(value) if isinstance(value, str) else number(value)}"'
    return f"{start}>{''.join(children)}</{name}>" if children else f"{start}/>"


@cache
def _attribute(key: str) -> str:
    return f' {key.replace("_", "-")}="'


def text(x: float, y: float, content: str, **attributes: str | float) -> str:
    """Write a line of text with its baseline at y; the content is escaped.

    >>> text(1, 2, "<10")
    '<text x="1" y="2">&lt;10</text>'
    """
    return element("text", words(content), x=x, y=y, **attributes)


def line(x1: float, y1: float, x2: float, y2: float, **attributes: str | float) -> str:
    """Write a straight line."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **attributes)


def rect(x: float, y: float, width: float, height: float, **attributes: str | float) -> str:
    """Write a rectangle; a negative size counts as nothing."""
    return element("rect", x=x, y=y, width=max(width, 0), height=max(height, 0), **attributes)


def drawing(figure_id: str, width: float, height: float, *body: str, font_size: float = 9) -> str:
    """Wrap the body into a drawing on a white panel, as wide as its place allows.

    ``figure_id`` becomes the drawing's id; ids within are that id, a full stop and a
    name, so that no two drawings with different ids share one.
    """
    panel = rect(0, 0, width, height, rx=6, fill=PAPER, stroke=RULE, stroke_width=0.6)
    return element(
        "svg",
        panel,
        *body,
        xmlns="http://www.w3.org/2000/svg",
        id=identity(figure_id),
        viewBox=f"0 0 {number(width)} {number(height)}",
        width="100%",
        font_family=FONT,
        font_size=font_size,
        fill=INK,
    )


@cache
def _font() -> FT2Font:
    return FT2Font(str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"))


@cache
def _advance(character: str) -> float:
    font = _font()
    glyph = font.load_glyph(font.get_char_index(ord(character)), flags=LoadFlags.NO_SCALE)
    return glyph.horiAdvance / font.units_per_EM


def text_width(content: str, font_size: float, *, bold: bool = False) -> float:
    """Return the width of a line of DejaVu Sans, in the units of the font size.

    Read from the font that matplotlib brings; bold is taken as a tenth wider.

    >>> round(text_width("SG-07", 10), 1)
    30.4
    """
    width = font_size * sum(_advance(character) for character in content)
    return width * 1.1 if bold else width


def fit_text(content: str, font_size: float, room: float) -> str:
    """Return the text, shortened with an ellipsis where it is wider than the room.

    >>> fit_text("Tetrachloroethene", 10, 60)
    'Tetrachlo…'
    """
    if text_width(content, font_size) <= room:
        return content
    kept = content
    while kept and text_width(kept + "…", font_size) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…" if kept else ""
