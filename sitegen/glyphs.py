"""Which characters the printed report can draw, and what happens to the others.

Body text is set in Libertinus Serif, which the Typst package carries inside its
program, and falls back to DejaVu Sans, whose files matplotlib installs. Only the
DejaVu files can be read here, so a character counts as printable when DejaVu Sans
draws it both regular and bold; those that it can't draw slanted (Arabic, for one)
stay upright in slanted text. The few that only Libertinus Serif has count as missing.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

REPLACEMENT = "\ufffd"
"""Stands in print for a character that no font of the report can draw."""

UPRIGHT_FILES: tuple[str, ...] = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
SLANTED_FILES: tuple[str, ...] = ("DejaVuSans-Oblique.ttf", "DejaVuSans-BoldOblique.ttf")

_SPACING = {"\t": " ", "\r": "", "\u2028": "\n", "\u2029": "\n"}
BIDI_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that override the direction of writing: a number after one can be read backwards."""

_TROUBLESOME = frozenset("\ufeff\u1680\u0eb3")  # byte-order mark; two that Typst can't map back to text
_UNPRINTABLE_CATEGORIES = frozenset({"Cc", "Cn", "Co", "Cs"})


def font_folder() -> Path:
    """Return the folder with the fonts that print uses besides those inside Typst.

    Raises ModuleNotFoundError if matplotlib, which holds them, is not installed. It is
    found without being loaded, for loading it takes longer than reading the fonts.
    """
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("matplotlib, whose fonts the report is printed in, is not installed")
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"


@cache
def drawable() -> frozenset[str]:
    """Return every character that DejaVu Sans can draw, regular and bold.

    Left out, though a font may hold them: private-use characters (PDF/A level A
    forbids them), control characters, the byte-order mark, and the characters that
    override the direction of writing, which can make a number read backwards.
    """
    return frozenset(char for char in map(chr, _common(UPRIGHT_FILES)) if not _is_withheld(char))


@cache
def upright_only() -> frozenset[str]:
    """Return the covered characters that DejaVu Sans can't draw slanted."""
    return drawable() - frozenset(map(chr, _common(SLANTED_FILES)))


def _common(files: tuple[str, ...]) -> frozenset[int]:
    return frozenset.intersection(*(_code_points(font_folder() / name) for name in files))


def _code_points(font: Path) -> frozenset[int]:
    with TTFont(font, lazy=True) as opened:
        return frozenset(opened.getBestCmap())


def _is_withheld(char: str) -> bool:
    return unicodedata.category(char) in _UNPRINTABLE_CATEGORIES or char in BIDI_OVERRIDES or char in _TROUBLESOME


def undrawable(text: str) -> frozenset[str]:
    r"""Return the characters of `text` that print can't draw.

    >>> sorted(undrawable("12 µg/m³, ≥ 3 ft"))
    []
    >>> sorted(undrawable("test 水 bell\a"))
    ['\x07', '水']
    """
    return frozenset(text) - drawable() - _SPACING.keys() - {"\n"}


def is_plain(chars: frozenset[str]) -> bool:
    r"""Return whether print shows every one of these characters as it is, in drawings as well.

    >>> is_plain(frozenset("12 µg/m³\n")), is_plain(frozenset("a\t")), is_plain(frozenset("e\u0301"))
    (True, False, False)
    """
    return chars <= drawable() | {"\n"} and not loose_marks("".join(chars))


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
    table = {ord(char): REPLACEMENT for char in undrawable(text)}
    return text.translate(table) if table else text


def bare(drawing: str) -> str:
    r"""Return a drawing's text composed (NFC) and without invisible format characters.

    Typst sets the text of a drawing by simpler rules than the body's, and can't combine
    what is left over after that; see `loose_marks`. Text is composed between the signs
    of markup, for "less than" and "greater than" have composed forms too.

    >>> bare("e\u0301 a\u00adb\u200d")
    'é ab'
    """
    if drawing.isascii():
        return drawing
    composed = re.sub("[^<>]+", lambda match: unicodedata.normalize("NFC", match[0]), drawing)
    invisible = {ord(char): None for char in set(composed) if unicodedata.category(char) == "Cf"}
    return composed.translate(invisible) if invisible else composed


def loose_marks(drawing: str) -> frozenset[str]:
    r"""Return the combining marks in a drawing that belong to no composed character.

    >>> loose_marks("<text>x\u0338</text>") == {"\u0338"}
    True
    """
    return frozenset(char for char in set(drawing) if unicodedata.category(char).startswith("M"))


def describe(char: str) -> str:
    """Return a character's code point and Unicode name in words.

    >>> describe("水")
    'U+6C34 CJK UNIFIED IDEOGRAPH-6C34'
    """
    return f"U+{ord(char):04X} {unicodedata.name(char, 'no name')}"
