"""Fold-out sheets: twice the paper, landscape, and the room that maps have there.

A drawing is set as large as it is made, ``UNIT_PT`` points to its unit, so that its words stay
8 to 9 points high whatever the sheet: a larger sheet shows more ground and more labels, not
larger letters.
"""

from __future__ import annotations

from collections.abc import Mapping

from sitegen.figures.ground import Room

PLACING = "fold"

FOLDED_PT: Mapping[str, tuple[float, float]] = {"a4": (1190.55, 841.89), "us-letter": (1224.0, 792.0)}
"""Width and height of the fold-out of each paper in points: A3 (ISO 216) and 11 × 17 inches, landscape."""

MARGINS_PT = (124.0, 146.0)
"""What the margins of a sheet take of its width and of its height, in points."""

UNIT_PT = 1.3
"""Points of print to a unit of a drawing made for a fold-out: its 6.4 to 7 units become 8.3 to 9.1 points."""

WORDS_PT = 215.0
"""The width of words that stand beside a map, in points."""

GAP_PT = 18.0
FEW_WORDS_PT = 44.0
"""The height of a line or two below a map, in points."""

MANY_WORDS_PT = 140.0
"""The height of a remark or a list below a map, in points."""

_HEAD_PT = 50.0  # a heading above and a caption below
_BESIDE_MAP = 204.0  # units: axis, legend and the gaps around them
_FOOT = 56.0  # units: axis, scale and north arrow
_LABELS = 250
_FLATTEST = 0.6


def fold_rooms(paper: str, words_pt: float) -> tuple[Room, Room]:
    """Return the rooms for a map on a fold-out: over the whole width, and beside its words.

    Under the wider one ``words_pt`` are left for the words. Raises KeyError for a paper that
    print does not know.

    >>> [round(room.width * UNIT_PT) for room in fold_rooms("a4", FEW_WORDS_PT)]
    [1067, 834]
    """
    width_pt, height_pt = (side - margin for side, margin in zip(FOLDED_PT[paper], MARGINS_PT, strict=True))
    left_pt = height_pt - _HEAD_PT
    return _room(width_pt, left_pt - words_pt), _room(width_pt - WORDS_PT - GAP_PT, left_pt)


def _room(width_pt: float, height_pt: float) -> Room:
    width, most = width_pt / UNIT_PT, height_pt / UNIT_PT - _FOOT
    return Room(PLACING, width, width - _BESIDE_MAP, 0.0, _FLATTEST * most, most, _LABELS)
