"""Custody timelines: who held what, from start to end, and where nobody did.

State is said by fill, by pattern and by words, so that it survives grey print.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple, TypeAlias

from sitegen.figures.inputs import CustodyRow, CustodySegment, Tick
from sitegen.figures.look import CUSTODY_STYLES, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, element, fit_text, identity, line, number, rect, text, text_width
from sitegen.voice import worded

WIDTH = 900.0
ROW_HEIGHT = 22.0
_SINGLE_HEIGHT = 38.0
_FONT = 11.0
_TOP = 30.0
_LIGHT_TEXT = frozenset({"held", "with a carrier", "overlap"})
_ALARMS = frozenset({"in transit, custody not recorded", "custody not recorded", "overlap"})
_MOST_WORDED, _WORDED_EVERY = 12, 5
_LEAST_WIDTH = 0.8
_LEAST_ALARM = 4.0


_Box: TypeAlias = tuple[float, float, float, float]
"""Left, right, top and height of a bar."""


class _Span(NamedTuple):
    """Minutes on the horizontal axis."""

    left: float
    right: float
    start_min: int
    end_min: int

    def at(self, minute: int) -> float:
        """Place a minute, held within the axis."""
        share = (minute - self.start_min) / (self.end_min - self.start_min)
        return self.left + (self.right - self.left) * min(max(share, 0.0), 1.0)


def custody_timeline(
    figure_id: str, rows: Sequence[CustodyRow], start_min: int, end_min: int, ticks: Sequence[Tick]
) -> str:
    """Draw one row per sampler or bag; a single row is drawn taller, with its events named.

    Parameters
    ----------
    figure_id
        Sets this drawing's ids apart from all others on a page.
    rows
        The lines, top to bottom. With more than a dozen, state and holder are written
        into every fifth; short times without a holder and overlaps are widened so that they show.
    start_min, end_min
        The axis, in the same minutes.
    ticks
        Moments to name on the axis, usually midnights.

    Raises
    ------
    ValueError
        The axis is empty, or a segment's state has no style.
    """
    _require(rows, start_min, end_min)
    left = 16 + min(150.0, max((text_width(row.label, _FONT) for row in rows), default=0))
    span = _Span(left, WIDTH - 12, start_min, end_min)
    single = len(rows) == 1
    height = _SINGLE_HEIGHT if single else ROW_HEIGHT
    bottom = _TOP + height * len(rows)
    bars = [
        (segment.state, (*_ends(segment, span), _TOP + height * i + 4, height - 8))
        for i, row in enumerate(rows)
        for segment in row.segments
    ]
    body = [_patterns(figure_id), _axis(span, ticks, bottom), _bars(figure_id, bars)]
    for i, row in enumerate(rows):
        lettered = len(rows) <= _MOST_WORDED or i % _WORDED_EVERY == 0
        body.append(_row(row, _TOP + height * i, height, span, lettered=lettered))
    if single:
        events, bottom = _named_events(rows[0].events, span, bottom)
        body.append(events)
    key, bottom = _legend(figure_id, rows, bottom + 8)
    return drawing(figure_id, WIDTH, bottom + 8, *body, key, font_size=_FONT)


def _require(rows: Iterable[CustodyRow], start_min: int, end_min: int) -> None:
    if end_min <= start_min:
        raise ValueError("the timeline ends before it starts")
    for row in rows:
        for segment in row.segments:
            if segment.state not in CUSTODY_STYLES:
                raise ValueError(f"no style for the custody state {segment.state!r}")


def _patterns(figure_id: str) -> str:
    """Define the patterns that go over the fills; ids carry the figure's own."""
    motifs = {
        "dots": element("circle", cx=3, cy=3, r=0.9, fill="#8c7f52"),
        "stripes": element("path", d="M-1 7L7 -1M-1 1L1 -1M5 7L7 5", stroke="#aab4d6"),
        "bars": element("path", d="M3 0V6", stroke=WARN, stroke_width=0.9),
        "cross": element("path", d="M0 0L6 6M0 6L6 0", stroke=PAPER),
    }
    name = identity(figure_id)
    tile: dict[str, str | float] = {"patternUnits": "userSpaceOnUse", "width": 6, "height": 6}
    return element("defs", *[element("pattern", motif, id=f"{name}.{key}", **tile) for key, motif in motifs.items()])


def _bars(figure_id: str, boxes: Iterable[tuple[str, _Box]]) -> str:
    """Write all stretches, one path per state and one for its pattern, alarms last."""
    shapes: dict[str, list[str]] = {state: [] for state in CUSTODY_STYLES}
    for state, (x0, x1, top, height) in boxes:
        shapes[state].append(f"M{number(x0)} {number(top)}H{number(x1)}v{number(height)}H{number(x0)}z")
    parts = []
    for state, drawn in shapes.items():
        fill, pattern = CUSTODY_STYLES[state]
        path = "".join(drawn)
        if path and pattern == "open":
            dashes = {"stroke": WARN, "stroke_dasharray": "2 1.5"}
            parts.append(element("path", d=path, fill=fill, stroke_width=1.2, **dashes))
        elif path:
            parts.append(element("path", d=path, fill=fill))
        if path and pattern not in {"open", "solid"}:
            parts.append(element("path", d=path, fill=f"url(#{identity(figure_id)}.{pattern})"))
    return "".join(parts)


def _row(row: CustodyRow, top: float, height: float, span: _Span, *, lettered: bool) -> str:
    """Write what goes over a row's bars; ``lettered`` writes state and holder into them."""
    y, thick = top + 4, height - 8
    baseline = y + thick / 2 + _FONT * 0.36
    parts = [text(span.left - 8, baseline, fit_text(row.label, _FONT, span.left - 14), text_anchor="end")]
    for segment in row.segments:
        x0, x1 = _ends(segment, span)
        if lettered:
            parts.append(_segment_words(segment, x0, x1, baseline))
        if segment.state in _ALARMS:
            parts.append(_alarm((x0 + x1) / 2, y))
    ticks = [f"M{number(span.at(event.at_min))} {number(y - 2)}v{number(thick + 4)}" for event in row.events]
    if ticks:
        parts.append(element("path", d="".join(ticks), stroke=INK, stroke_width=0.8))
    parts += [_change(span.at(minute), y + thick + 2) for minute in row.changes_min]
    return "".join(parts)


def _ends(segment: CustodySegment, span: _Span) -> tuple[float, float]:
    """Return the ends of a segment, widened to what can be seen."""
    x0, x1 = span.at(segment.start_min), span.at(segment.end_min)
    least = _LEAST_ALARM if segment.state in _ALARMS else _LEAST_WIDTH
    grow = max(0.0, least - (x1 - x0)) / 2
    return x0 - grow, x1 + grow


def _alarm(x: float, y: float) -> str:
    """Write a small wedge over a stretch that must not be missed."""
    return element("path", d=f"M{x - 4:.1f} {y - 4:.1f}h8l-4 5z", fill=WARN)


def _change(x: float, foot: float) -> str:
    """Write a triangle on its base: custody went from one to another, no transfer is on record."""
    path = f"M{number(x - 5)} {number(foot)}h10l-5 -10z"
    return element("path", d=path, fill=PAPER, stroke=WARN, stroke_width=1.4)


def _segment_words(segment: CustodySegment, x0: float, x1: float, baseline: float) -> str:
    """Write the longest of state with holder, holder, state that fits; else nothing."""
    state = worded(segment.state)
    longest = f"{state}, {segment.holder}" if segment.holder else state
    for said in (longest, segment.holder, state):
        width = text_width(said, _FONT - 1)
        if said and width <= x1 - x0 - 8:
            middle = (x0 + x1) / 2
            fill, pattern = CUSTODY_STYLES[segment.state]
            back = rect(middle - width / 2 - 3, baseline - 10, width + 6, 12, fill=fill)
            ink = PAPER if segment.state in _LIGHT_TEXT else INK
            look: dict[str, str | float] = {"fill": ink, "font_size": _FONT - 1, "text_anchor": "middle"}
            return (back if pattern != "solid" else "") + text(middle, baseline, said, **look)
    return ""


def _axis(span: _Span, ticks: Sequence[Tick], bottom: float) -> str:
    parts = [rect(span.left, _TOP, span.right - span.left, bottom - _TOP, fill="#fafaf8", stroke=RULE)]
    free_from = 0.0
    for tick in ticks:
        if not span.start_min <= tick.at_min <= span.end_min:
            continue
        x = span.at(tick.at_min)
        parts.append(line(x, _TOP, x, bottom, stroke=RULE, stroke_width=0.8))
        half = text_width(tick.label, _FONT) / 2
        middle = min(x, WIDTH - 6 - half)
        if middle - half >= free_from:
            parts.append(text(middle, _TOP - 10, tick.label, text_anchor="middle", fill=MUTED))
            parts.append(line(x, _TOP - 5, x, _TOP, stroke=MUTED, stroke_width=0.8))
            free_from = middle + half + 8
    return "".join(parts)


def _named_events(events: Sequence[Tick], span: _Span, top: float) -> tuple[str, float]:
    """Name a single row's events below it.

    From the last to the first, each name goes below those of the later events that
    its words reach, so that no leader runs through a name.
    """
    parts: list[str] = []
    later: list[tuple[float, int]] = []
    for event in sorted(events, key=lambda item: -item.at_min):
        x = span.at(event.at_min)
        start = min(x - 3, WIDTH - 8 - text_width(event.label, _FONT - 1))
        end = start + text_width(event.label, _FONT - 1) + 8
        level = max((deep + 1 for other, deep in later if other < end), default=0)
        later.append((x, level))
        y = top + 16 + 14 * level
        parts.append(line(x, top - 2, x, y - 9, stroke=MUTED, stroke_width=0.7))
        parts.append(text(start, y, event.label, font_size=_FONT - 1))
    depth = max((deep + 1 for _, deep in later), default=0)
    return "".join(parts), top + (10 + 14 * depth if depth else 0)


def _legend(figure_id: str, rows: Sequence[CustodyRow], top: float) -> tuple[str, float]:
    used = {segment.state for row in rows for segment in row.segments}
    said, boxes = [], []
    x, y = 12.0, top
    for state in CUSTODY_STYLES:
        if state not in used:
            continue
        words = worded(state)
        width = 30 + text_width(words, _FONT)
        if x + width > WIDTH - 12:
            x, y = 12.0, y + 20
        boxes.append((state, (x, x + 22, y, 12.0)))
        said.append(text(x + 28, y + 10, words))
        x += width + 22
    if any(row.changes_min for row in rows):
        words = worded("change of custodian without a recorded transfer")
        if x + 30 + text_width(words, _FONT) > WIDTH - 12:
            x, y = 12.0, y + 20
        said += [_change(x + 11, y + 11), text(x + 28, y + 10, words)]
    return _bars(figure_id, boxes) + "".join(said), y + 14
