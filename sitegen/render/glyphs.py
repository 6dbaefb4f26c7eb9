"""Which characters the printed report can draw, and what happens to the others.

Body text is set in Libertinus Serif, which the Typst package carries inside its
program, and falls back to DejaVu Sans, whose files matplotlib installs. Only the
DejaVu files can be read here, so a character counts as printable when DejaVu Sans
draws it in all four styles: whichever style the text is set in, there is a glyph.
Those few that only Libertinus Serif has are reported as missing.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path

import matplotlib as mpl
from fontTools.ttLib import TTFont

REPLACEMENT = "\ufffd"
"""Stands in print for a character that no font of the report can draw."""

SANS_FILES: tuple[str, ...] = (
    "DejaVuSans.ttf",
    "DejaVuSans-Bold.ttf",
    "DejaVuSans-Oblique.ttf",
    "DejaVuSans-BoldOblique.ttf",
)

_SPACING = {"\t": " ", "\r": "", "\u2028": "\n", "\u2029": "\n"}
_BIDI_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_BYTE_ORDER_MARK = "\ufeff"
_UNPRINTABLE_CATEGORIES = frozenset({"Cc", "Cn", "Co", "Cs"})


def font_folder() -> Path:
    """Return the folder with the fonts that print uses besides those inside Typst."""
    return Path(mpl.get_data_path(), "fonts", "ttf")


@cache
def covered() -> frozenset[str]:
    """Return every character that all four styles of DejaVu Sans can draw.

    Left out, though a font may hold them: private-use characters (PDF/A level A
    forbids them), control characters, the byte-order mark, and the characters that
    override the direction of writing, which can make a number read backwards.
    """
    maps = [TTFont(font_folder() / name, lazy=True).getBestCmap() for name in SANS_FILES]
    common = set(maps[0]).intersection(*maps[1:])
    return frozenset(char for char in map(chr, common) if not _is_withheld(char))


def _is_withheld(char: str) -> bool:
    return (
        unicodedata.category(char) in _UNPRINTABLE_CATEGORIES
        or char in _BIDI_OVERRIDES
        or char == _BYTE_ORDER_MARK
    )


def uncovered(text: str) -> frozenset[str]:
    """Return the characters of `text` that print can't draw.

    >>> sorted(uncovered("12 µg/m³, ≥ 3 ft"))
    []
    >>> sorted(uncovered("test 水 bell\\a"))
    ['\\x07', '水']
    """
    return frozenset(text) - covered() - _SPACING.keys() - {"\n"}


def printable(text: str) -> str:
    r"""Return `text` as print can show it: U+FFFD (�) for what it can't draw.

    Tabs become spaces, carriage returns go, and the Unicode line and paragraph
    separators become line feeds; these are not reported as missing.

    >>> printable("a\tb\r\n水")
    'a b\n�'
    """
    if text.isascii() and text.isprintable():
        return text
    for char, substitute in _SPACING.items():
        text = text.replace(char, substitute)
    table = {ord(char): REPLACEMENT for char in uncovered(text)}
    return text.translate(table) if table else text


def describe(char: str) -> str:
    """Return a character's code point and Unicode name in words.

    >>> describe("水")
    'U+6C34 CJK UNIFIED IDEOGRAPH-6C34'
    """
    return f"U+{ord(char):04X} {unicodedata.name(char, 'no name')}"
