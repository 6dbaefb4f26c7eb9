"""Column widths of a printed table, chosen from what its cells hold.

Nothing may run over the edge of a cell, so every column gets at least the width of
its longest piece that can't be broken. Where a table is too wide it is set smaller,
then with upright column titles, and at last in several panels that repeat the row
headings. Widths are estimates in em from the advance widths of Libertinus Serif,
rounded up; they need only be safe, not exact.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from sitegen.voice import blank_split

BREAK = "\u200b"
"""Zero-width space: a place where a long word may be broken."""

_ADVANCES_EM = {
    0.30: " ',.:;|lij{}!\\()I",
    0.42: '/Jtf"-[]*rs`?z',
    0.50: "ce~a#$0123456789_bxFSgoqv",
    0.60: "dk^pyLuPYhnE+<=>",
    0.72: "TBRZV%KCUXGADNOQ&",
    0.92: "HwmMW@",
}
_ADVANCE_EM = {char: width for width, chars in _ADVANCES_EM.items() for char in chars} | {BREAK: 0.0}
_WIDE_EM = 1.0  # anything else may come from the fallback font
_BREAK_AFTER = re.compile(r"(?<=[-,;:)\]/_.\\+=@&])(?=[^\s\u200b])")

BOLD = 1.15
"""Bold text is at most this much wider than regular text."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What one column asks for, in em: the least it needs and what it would like.

    ``line_em`` keeps the text of its cells on one line, ``liked_em`` its title as well;
    ``title_em`` is the width of the column title's longest word, ``upright_em`` what the
    title takes when it stands upright (0 where it must not).
    """

    least_em: float
    liked_em: float
    title_em: float
    upright_em: float = 0.0
    line_em: float = 0.0


@dataclass(frozen=True, slots=True)
class Panel:
    """A group of columns set side by side: their indices and widths in points."""

    columns: tuple[int, ...]
    widths_pt: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """How a table is set: type size, upright titles or not, and its panels."""

    size_pt: float
    upright: bool
    panels: tuple[Panel, ...]


_COMPACT: tuple[tuple[float, bool], ...] = ((7.5, False), (7.5, True), (6.5, True))
_STEPS: tuple[tuple[float, bool], ...] = ((8.5, False), *_COMPACT)
_LINE_EM = 1.2
UPRIGHT_EM = 13.0
"""Height of the box that an upright column title is set in."""

FILL = 0.75
"""The part of a line that words fill, at worst."""


@lru_cache(maxsize=50_000)
def width_em(text: str) -> float:
    """Return a safe estimate of the width of a line of text, in em.

    >>> round(width_em("12"), 2)
    1.0
    """
    return math.fsum(_ADVANCE_EM.get(char, _WIDE_EM) for char in text)


def soften(text: str, limit_em: float) -> str:
    """Put break places into words wider than `limit_em`, none of it visible.

    Breaks come after punctuation first, and inside what is still too long.

    >>> soften("1,1,2-Trichloro-1,2,2-trifluoroethane", 9).replace(BREAK, "|")
    '1,|1,|2-|Trichloro-|1,|2,|2-|trifluoroethane'
    >>> soften("short words stay", 9)
    'short words stay'
    """
    if width_em(text) <= limit_em:
        return text
    return re.sub(r"\S+", lambda match: _soften_word(match.group(), limit_em), text)


def _soften_word(word: str, limit_em: float) -> str:
    if width_em(word) <= limit_em:
        return word
    return BREAK.join(part for piece in _BREAK_AFTER.split(word) for part in _cut(piece, limit_em))


def _cut(piece: str, limit_em: float) -> Iterator[str]:
    while width_em(piece) > limit_em and len(piece) > 1:
        end = 1
        while width_em(piece[: end + 1]) <= limit_em:
            end += 1
        yield piece[:end]
        piece = piece[end:]
    yield piece


def longest_word_em(text: str) -> float:
    """Return the width of the widest word of `text`, in em."""
    return max((width_em(word) for word in blank_split(text)), default=0.0)


def upright_em(title: str) -> float:
    """Return the width of a column title that stands upright: its lines side by side.

    >>> upright_em("Benzene"), upright_em("1,1,2-Trichloro-1,2,2-trifluoroethane (mixed)")
    (1.2, 3.6)
    """
    line = width_em(title) * BOLD
    lines = 1 if line <= UPRIGHT_EM else math.ceil(line / (UPRIGHT_EM * FILL))
    return round(_LINE_EM * lines, 1)


def lay_out(measures: Sequence[Measure], width_pt: float, heading: int, *, compact: bool = False) -> Layout:
    """Choose type size, title direction and column widths for a table.

    Parameters
    ----------
    measures
        One per column, in order.
    width_pt
        The width of the page's text area, in points.
    heading
        The column that is repeated in every panel, or -1 for none.
    compact
        Begin with the smaller type.

    >>> lay_out([Measure(3, 6, 4), Measure(2, 3, 3)], 470, 0).panels
    (Panel(columns=(0, 1), widths_pt=(57.8, 36.2)),)
    """
    every = tuple(range(len(measures)))
    for size, upright in _COMPACT if compact else _STEPS:
        least = _least_pt(measures, size, upright=upright)
        if math.fsum(least) <= width_pt:
            panel = Panel(every, _share(measures, least, size, width_pt))
            return Layout(size, upright, (panel,))
    least = _least_pt(measures, size, upright=True)
    groups = _groups(least, width_pt, heading)
    panels = tuple(Panel(group, _fit([least[i] for i in group], width_pt)) for group in groups)
    return Layout(size, upright=True, panels=panels)


def padding_pt(size_pt: float) -> float:
    """Return the space left and right in a cell, both sides together."""
    return round(size_pt * 0.8, 1) if size_pt > 7 else 4.0


def _least_pt(measures: Sequence[Measure], size: float, *, upright: bool) -> list[float]:
    exact = (_column_em(m, upright=upright) * size + padding_pt(size) for m in measures)
    return [math.ceil(width * 10 + 0.5) / 10 for width in exact]


def _column_em(measure: Measure, *, upright: bool) -> float:
    title = measure.upright_em if upright and measure.upright_em else measure.title_em * BOLD
    return max(measure.least_em, title)


def _share(measures: Sequence[Measure], least: list[float], size: float, width_pt: float) -> tuple[float, ...]:
    """Share what is left over: lines of number columns first, then those of others, then titles."""
    lines = [max(m.line_em * size + padding_pt(size), low) for m, low in zip(measures, least, strict=True)]
    liked = [max(m.liked_em * size + padding_pt(size), low) for m, low in zip(measures, lines, strict=True)]
    numbers = [want if m.upright_em else low for m, want, low in zip(measures, lines, least, strict=True)]
    grown = _grow(_grow(least, numbers, width_pt), lines, width_pt)
    return tuple(_floor(width) for width in _grow(grown, liked, width_pt))


def _grow(widths: list[float], liked: list[float], width_pt: float) -> list[float]:
    """Widen columns towards what they would like, by the same part of each wish; none gets narrower."""
    wishes = [max(want - has, 0.0) for has, want in zip(widths, liked, strict=True)]
    part = max(0.0, min(1.0, (width_pt - math.fsum(widths)) / math.fsum(wishes))) if any(wishes) else 0.0
    return [has + part * wish for has, wish in zip(widths, wishes, strict=True)]


def _floor(width_pt: float) -> float:
    return math.floor(width_pt * 10) / 10


def _groups(least: list[float], width_pt: float, heading: int) -> list[tuple[int, ...]]:
    """Return columns in as few panels as they need, panels of about equal length."""
    fewest = len(_filled(least, width_pt, heading, len(least)))
    even = _filled(least, width_pt, heading, math.ceil((len(least) - (heading >= 0)) / fewest))
    return even if len(even) == fewest else _filled(least, width_pt, heading, len(least))


def _filled(least: list[float], width_pt: float, heading: int, most: int) -> list[tuple[int, ...]]:
    """Return columns in panels filled one after another, at most so many to a panel."""
    start = [heading] if heading >= 0 else []
    groups, current = [], list(start)
    for index in (i for i in range(len(least)) if i != heading):
        filled = len(current) - len(start) >= most or math.fsum(least[i] for i in (*current, index)) > width_pt
        if len(current) > len(start) and filled:
            groups.append(tuple(current))
            current = list(start)
        current.append(index)
    groups.append(tuple(current))
    return groups


def _fit(widths: list[float], width_pt: float) -> tuple[float, ...]:
    scale = min(1.0, width_pt / math.fsum(widths))
    return tuple(_floor(width * scale) for width in widths)
