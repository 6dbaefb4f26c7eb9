"""Signs of what became of a mass between two rounds.

The shape alone tells them apart, in grey and for colour-blind readers; the two colours are a second cue. A broad arrow
points up where a mass grew and down where it shrank, larger for a larger factor; a filled square appeared, an open one
vanished, a small one where the other round's limit is too high to tell. A dot lies within the spread of duplicates, a
dash was detected in neither round. A leaning cross is a point where nothing can be compared, an upright one a point
that one of the rounds did not sample.

Vermilion and sky blue are two of the eight colours that Okabe and Ito (2008, "Color Universal Design") made for every
kind of colour vision; one is dark and one light in grey.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from sitegen.figures.inputs import PlaceChange, PlacePoint
from sitegen.figures.legend import Row
from sitegen.figures.look import AIR_SHAPE
from sitegen.figures.symbols import AIR_SYMBOL, Symbol, shape_of
from sitegen.voice import worded

MORE, LESS = "#d55e00", "#56b4e9"
"""Vermilion for what grew or appeared, sky blue for what shrank."""

FACTOR_RADII = (2.9, 4.2, 5.8)
"""Radius of an arrow for each class of factor, lowest first, in points of print."""

SMALL = 2.0
"""Radius of the square of a detection that the other round could not have told."""

SIGNS = {
    "grew": Symbol("class", "arrow_up", FACTOR_RADII[1], MORE),
    "shrank": Symbol("class", "arrow_down", FACTOR_RADII[1], LESS),
    "appeared": Symbol("class", "square", 3.4, MORE),
    "vanished": Symbol("nondetect", "square", 3.4),
    "within": Symbol("dot", "circle", 1.9),
    "neither": Symbol("dash", "circle", 3.0),
    "not_comparable": Symbol("not_installed", "circle", 3.6),
    "one_round": Symbol("planned", "circle", 3.6),
}

CHANGE_WORDS = {
    "grew": "increased",
    "shrank": "decreased",
    "appeared": "newly detected",
    "vanished": "no longer detected",
    "within": "both detected, no change established",
    "neither": "not detected in either round",
    "not_comparable": "not comparable",
    "one_round": "sampled in one of the two rounds",
}
"""What each sign says; the first seven stand in every legend, with their counts."""


def sign_of(point: PlacePoint, change: PlaceChange) -> Symbol:
    """Return the sign of a change at a point; a point of air has the one that it has on every map of masses."""
    if shape_of(point.medium, point.surface) == AIR_SHAPE:
        return AIR_SYMBOL
    sign = SIGNS[change.kind]._replace(ring=change.marked)
    if change.kind in ("grew", "shrank"):
        return sign._replace(radius=FACTOR_RADII[change.factor_class])
    return sign._replace(radius=SMALL) if change.below_limit else sign


def change_rows(points: Sequence[PlacePoint], changes: Sequence[PlaceChange]) -> list[Row]:
    """Return a legend row for each kind with its points; of those that no comparison has, where they occur."""
    signs = [sign_of(point, change) for point, change in zip(points, changes, strict=True)]
    air = signs.count(AIR_SYMBOL)
    counts = Counter(change.kind for change, sign in zip(changes, signs, strict=True) if sign != AIR_SYMBOL)
    rows = [
        Row(f"{worded(words)}: {counts[kind]}", symbol=SIGNS[kind])
        for kind, words in CHANGE_WORDS.items()
        if counts[kind] or kind != "one_round"
    ]
    small = sum(change.below_limit and sign != AIR_SYMBOL for change, sign in zip(changes, signs, strict=True))
    if small:
        row = Symbol("nondetect", "square", SMALL)
        rows.append(
            Row(
                worded(
                    "small square, of these: below the limit of the other round, change not assessed: {small}",
                    small=small,
                ),
                symbol=row,
            )
        )
    if air:
        rows.append(Row(worded("air point, see Air results: {air}", air=air), symbol=AIR_SYMBOL))
    ringed = sum(sign.ring for sign in signs)
    if ringed:
        ring = Symbol("nondetect", "circle", 2.5, ring=True)
        rows.append(
            Row(
                worded("sample- or result-specific qualification in either round (ring): {ringed}", ringed=ringed),
                symbol=ring,
            )
        )
    return rows


def factor_rows(labels: Sequence[str]) -> list[Row]:
    """Return a legend row for each class of factor, highest first."""
    rows = [
        Row(label, symbol=Symbol("class", "arrow_up", radius, "#d9dedd"))
        for label, radius in zip(labels, FACTOR_RADII, strict=True)
    ]
    return rows[::-1]
