"""Concentrations in indoor air against the levels on record, a block of rows for each compound.

Indoor and outdoor values differ in shape; a non-detect is an arrow to the left of its reporting limit. A level is
a line through the indoor rows alone, since it is a level for that medium.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sitegen.figures.axes import LogAxis
from sitegen.figures.keyline import below_left, diamond, key_line
from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, line, rect, text, text_width

WIDTH = 720.0
MOST_HEIGHT = 820.0
"""Height of the blocks of one drawing at most, so that it stays on a page of print."""
PRIMARY, DUPLICATE, OUTDOOR = "primary", "duplicate", "outdoor"
_FONT = 11.0
_LEFT, _RIGHT, _TOP = 128.0, WIDTH - 92.0, 14.0
_LANE, _PAD = 13.0, 8.0
_DASHES = ("", "7 3", "2 3", "9 3 2 3")


class AirValue(NamedTuple):
    """A concentration, or the reporting limit of a non-detect, above zero, with its text; ``kind`` gives the shape."""

    kind: str
    ug_m3: float
    detected: bool
    text: str


class AirRow(NamedTuple):
    """A point with the values of its samplers."""

    label: str
    values: tuple[AirValue, ...]


class AirLevel(NamedTuple):
    """A level above zero with the use that it is for, and its text."""

    use: str
    ug_m3: float
    text: str


class AirBlock(NamedTuple):
    """A compound: its levels, its indoor points, then its outdoor points."""

    name: str
    levels: tuple[AirLevel, ...]
    indoors: tuple[AirRow, ...]
    outdoors: tuple[AirRow, ...]


def air_sheets(blocks: Sequence[AirBlock]) -> list[list[AirBlock]]:
    """Divide blocks over drawings of a page's height; a block that is too high by itself is cut between points."""
    sheets: list[list[AirBlock]] = [[]]
    used = 0.0
    for block in (piece for whole in blocks for piece in _pieces(whole)):
        height = _height(block)
        if used + height > MOST_HEIGHT and sheets[-1]:
            sheets.append([])
            used = 0.0
        sheets[-1].append(block)
        used += height
    return [sheet for sheet in sheets if sheet]


def _pieces(block: AirBlock) -> list[AirBlock]:
    if _height(block) <= MOST_HEIGHT or len(block.indoors) < 2:
        return [block]
    half = len(block.indoors) // 2
    halves = block.indoors[:half], block.indoors[half:]
    return [piece for rows in halves for piece in _pieces(block._replace(indoors=rows))]


def air_levels(figure_id: str, blocks: Sequence[AirBlock], words: Mapping[str, str]) -> str:
    """Draw the blocks one below the other on one decade axis.

    ``words`` are those of the key by kind of value, of a non-detect (``below``), of the axis (``axis``), and
    of a level (``level``).

    Raises
    ------
    ValueError
        A value or a level is not above zero.
    """
    rows = [row for block in blocks for row in (*block.indoors, *block.outdoors)]
    values = [value for row in rows for value in row.values]
    axis = LogAxis.over(
        [value.ug_m3 for value in values] + [level.ug_m3 for block in blocks for level in block.levels], _LEFT, _RIGHT
    )
    uses = list(dict.fromkeys(level.use for block in blocks for level in block.levels))
    bottom = _TOP + sum(_height(block) for block in blocks)
    body = [_axis(axis, bottom, words["axis"])]
    top = _TOP
    for block in blocks:
        body.append(_block(block, axis, top, uses))
        top += _height(block)
    signs = [
        (_sign(AirValue(kind, 1, True, ""), 0, 0), words[kind])
        for kind in (PRIMARY, DUPLICATE, OUTDOOR)
        if any(value.kind == kind and value.detected for value in values)
    ]
    if not all(value.detected for value in values):
        signs.append((below_left(7, 0), words["below"]))
    signs += [(_stroke(-8, 8, 0, at), f"{words['level']} {use}".strip()) for at, use in enumerate(uses)]
    key, end = key_line(signs, bottom + 50, WIDTH)
    return drawing(figure_id, WIDTH, end, *body, key, font_size=_FONT)


def _lanes(block: AirBlock, axis: LogAxis) -> list[tuple[float, int]]:
    """Return where the name of each level begins, and in which lane, so that no two names overlap."""
    free: list[float] = []
    placed = []
    for level in block.levels:
        room = text_width(_level_text(level), _FONT - 1)
        start = min(max(axis.at(level.ug_m3) - room / 2, _LEFT), _RIGHT - room)
        lane = next((at for at, end in enumerate(free) if end + 8 <= start), len(free))
        free[lane : lane + 1] = [start + room]
        placed.append((start, lane))
    return placed


def _level_text(level: AirLevel) -> str:
    return f"{level.use} {level.text}".strip()


def _row_height(row: AirRow) -> float:
    return 7.0 + 13.0 * max(len(row.values), 1)


def _head(block: AirBlock) -> float:
    return 20.0 + _LANE * len(block.levels)


def _height(block: AirBlock) -> float:
    return _head(block) + sum(_row_height(row) for row in (*block.indoors, *block.outdoors)) + _PAD


def _axis(axis: LogAxis, bottom: float, said: str) -> str:
    parts = [line(_LEFT, bottom, _RIGHT, bottom, stroke=MUTED, stroke_width=0.8)]
    for value, words in axis.ticks:
        x = axis.at(value)
        parts.append(line(x, _TOP, x, bottom + 4, stroke=RULE, stroke_width=0.8))
        parts.append(text(x, bottom + 16, words, text_anchor="middle", fill=MUTED))
    parts.append(text((_LEFT + _RIGHT) / 2, bottom + 31, said, text_anchor="middle"))
    return "".join(parts)


def _block(block: AirBlock, axis: LogAxis, top: float, uses: Sequence[str]) -> str:
    y = top + _head(block)
    indoors = sum(_row_height(row) for row in block.indoors)
    parts = [
        rect(6, top + 2, WIDTH - 12, 16, fill="#eef2f2"),
        text(12, top + 14, fit_text(block.name, _FONT, WIDTH - 30), font_weight="bold"),
    ]
    for level, (start, lane) in zip(block.levels, _lanes(block, axis), strict=True):
        x, name_y = axis.at(level.ug_m3), top + 30 + _LANE * lane
        dash = _DASHES[uses.index(level.use) % len(_DASHES)]
        look: dict[str, str | float] = {"stroke_dasharray": dash} if dash else {}
        parts.append(line(x, name_y + 3, x, y + indoors, stroke=WARN, stroke_width=1.4, **look))
        room = text_width(_level_text(level), _FONT - 1)
        parts.append(rect(start - 2, name_y - 9, room + 4, 11, fill=PAPER))
        parts.append(text(start, name_y, _level_text(level), fill=WARN, font_size=_FONT - 1))
    for row in (*block.indoors, *block.outdoors):
        parts.append(_row(row, axis, y))
        y += _row_height(row)
    return "".join(parts)


def _row(row: AirRow, axis: LogAxis, top: float) -> str:
    height = _row_height(row)
    label = fit_text(row.label, _FONT, _LEFT - 20)
    parts = [text(_LEFT - 10, top + height / 2 + 4, label, text_anchor="end")]
    for at, value in enumerate(row.values):
        y = top + 10 + 13 * at
        parts.append(_sign(value, axis.at(value.ug_m3), y))
        parts.append(text(WIDTH - 12, y + 4, fit_text(value.text, _FONT, 78), text_anchor="end", fill=INK))
    parts.append(line(_LEFT, top + height, _RIGHT, top + height, stroke=RULE, stroke_width=0.5))
    return "".join(parts)


def _sign(value: AirValue, x: float, y: float) -> str:
    if not value.detected:
        return below_left(x, y)
    if value.kind == PRIMARY:
        return element("circle", cx=x, cy=y, r=4.6, fill=ACCENT, stroke=INK, stroke_width=0.8)
    if value.kind == DUPLICATE:
        return diamond(x, y, 5.4, fill=PAPER, stroke=ACCENT, stroke_width=1.8)
    return rect(x - 4.2, y - 4.2, 8.4, 8.4, fill=PAPER, stroke=INK, stroke_width=1.5)


def _stroke(x0: float, x1: float, y: float, at: int) -> str:
    dash = _DASHES[at % len(_DASHES)]
    look: dict[str, str | float] = {"stroke_dasharray": dash} if dash else {}
    return line(x0, y, x1, y, stroke=WARN, stroke_width=1.6, **look)
