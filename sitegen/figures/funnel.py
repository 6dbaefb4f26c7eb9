"""Points stage by stage, as bars one below the other: what a stage has not of the one before is a dashed outline."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE, WARN
from sitegen.figures.svg import drawing, fit_text, line, rect, text, text_width
from sitegen.voice import thousands

WIDTH = 720.0
_FONT = 11.0
_LEAST_LEFT, _MOST_LEFT, _RIGHT, _TOP = 180.0, 340.0, WIDTH - 110.0, 8.0
_HEAD, _ROW, _GAP = 24.0, 20.0, 8.0
_BAR = 13.0


class FunnelGroup(NamedTuple):
    """A group with its points by stage, never more than at the stage before; None where nothing is known of one."""

    title: str
    counts: tuple[int | None, ...]


def funnel(figure_id: str, stages: Sequence[str], groups: Sequence[FunnelGroup], unknown: str) -> str:
    """Draw a block of bars for each group, all on one scale; ``unknown`` is written at a stage without a count.

    Raises
    ------
    ValueError
        A group has another number of counts than there are stages.
    """
    if any(len(group.counts) != len(stages) for group in groups):
        raise ValueError("each group needs a count for each stage")
    most = max((count for group in groups for count in group.counts if count), default=1)
    height = _HEAD + _ROW * len(stages) + _GAP
    left = min(_MOST_LEFT, max([_LEAST_LEFT, *(20 + text_width(name, _FONT) for name in stages)]))
    body = [_group(group, stages, most, (left, _TOP + height * at), unknown) for at, group in enumerate(groups)]
    return drawing(figure_id, WIDTH, _TOP + height * len(groups) + 4, *body, font_size=_FONT)


def _group(group: FunnelGroup, stages: Sequence[str], most: int, corner: tuple[float, float], unknown: str) -> str:
    left, top = corner
    title = fit_text(group.title, _FONT, WIDTH - 30)
    parts = [text(12, top + 14, title, font_weight="bold")]
    foot = top + _HEAD + _ROW * len(stages)
    parts.append(line(left, top + _HEAD - 3, left, foot, stroke=RULE, stroke_width=0.8))
    before: int | None = None
    for at, (name, count) in enumerate(zip(stages, group.counts, strict=True)):
        y = top + _HEAD + _ROW * at
        parts.append(text(left - 8, y + 10.5, fit_text(name, _FONT, left - 20), text_anchor="end"))
        if count is None:
            parts.append(text(left + 6, y + 10.5, unknown, fill=MUTED))
            continue
        parts.append(_bar(count, count if before is None else before, most, (left, y)))
        before = count
    return "".join(parts)


def _bar(count: int, before: int, most: int, corner: tuple[float, float]) -> str:
    """Draw a stage's points, what it has not of the stage before, and both as numbers."""
    left, y = corner
    scale = (_RIGHT - left) / most
    end, former = left + scale * count, left + scale * before
    parts = [rect(left, y, end - left, _BAR, fill=ACCENT, stroke=INK, stroke_width=0.5)]
    if before > count:
        parts.append(rect(end, y, former - end, _BAR, fill=PAPER, stroke=WARN, stroke_width=1, stroke_dasharray="3 2"))
    said = thousands(f"{count:,}")
    parts.append(text(former + 8, y + 10.5, said, font_weight="bold"))
    if before > count:
        lost = former + 16 + text_width(said, _FONT, bold=True)
        parts.append(text(lost, y + 10.5, f"−{before - count:,}", fill=WARN))
    return "".join(parts)
