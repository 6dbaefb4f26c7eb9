"""The signs of the report's maps as styles of map layers, so that a GIS shows a point as print does.

Shape, size and colour are those of :mod:`sitegen.figures.symbols`. The shapes that the standard of
styles names (OGC Symbology Encoding 1.1, 11.3.2) have no hexagon and no single stroke: an air point is
a star, a sampler in place is crossed upright, one without a recorded retrieval has a dot.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from sitegen.compute.results.store import REJECTED
from sitegen.figures.inputs import PlacePoint, PlaceValue
from sitegen.figures.look import ACCENT, AIR_SHAPE, INK, MUTED, PAPER, WARN
from sitegen.figures.symbols import PRINT_SCALE, STATES, Symbol, stretch, symbol_of
from sitegen.report.record.styles import Condition, Drawn, Sign, Style
from sitegen.report.write.words import say, word

STAR = "star"
_DETECTED_PX, _LINE_PX, _RING_PX = 8.0, 1.2, 2.2
_INSIDE = {"lost": ("x", 0.6), "in_place": ("cross", 0.6), "retrieval_not_recorded": ("circle", 0.3)}
_BARE = {"not_installed": "x", "planned": "cross"}


class Legend(NamedTuple):
    """What the signs of one compound stand for.

    ``column`` begins the names of its columns; ``labels`` are the classes of mass, lowest first, none where
    the report's maps show no sizes; ``surfaces`` has the surfaces in words by the shape that stands for them;
    ``others`` are the states without a sampler, and the words of :data:`WITHOUT_NUMBER`, that occur.
    """

    column: str
    unit: str
    labels: tuple[str, ...]
    surfaces: Mapping[str, str]
    others: tuple[str, ...]


WITHOUT_NUMBER = ("rejected", "not_analysed", "other_unit")
"""Why a point with a sampler has no number to show; a non-detect is none of these."""


def sign_shape(shape: str) -> str:
    """Return the shape of a sign as a style can draw it.

    >>> sign_shape("hexagon"), sign_shape("square")
    ('star', 'square')
    """
    return STAR if shape == AIR_SHAPE else shape


def compound_style(name: str, words: str, legend: Legend) -> Style:
    """Return the style that shows one compound: rings of marks below, then a sign for each class and shape."""
    return Style(name, words, (*_rings(legend), *_bodies(legend)))


def state_style(name: str, words: str, column: str, states: Sequence[str]) -> Style:
    """Return the style that shows what became of each point; ``column`` holds the state."""
    made = Drawn("circle", 5.0, ACCENT, INK, _LINE_PX)
    signs = (
        Sign(word("state", state), (Condition(column, "equal", state),),
             _figures(_state_symbol(state, "circle")) if state in STATES else (made,))
        for state in states
    )  # fmt: skip
    return Style(name, words, tuple(signs))


def value_style(name: str, words: str, column: str) -> Style:
    """Return the style that shows detections filled and non-detects hollow, rejected results as dots."""
    filled = Drawn("circle", _DETECTED_PX, ACCENT, INK, _LINE_PX)
    hollow = Drawn("circle", 5.0, PAPER, INK, 2.0)
    dot = Drawn("circle", 2.5, MUTED, MUTED, 0.5)
    return Style(
        name,
        words,
        (
            Sign(say("takeaway.detected"), (Condition(column, "known"),), (filled,)),
            Sign(say("takeaway.not_detected"),
                 (Condition(column, "unknown"), Condition("qualifier", "differs", REJECTED)), (hollow,)),
            Sign(say("takeaway.rejected"), (Condition("qualifier", "equal", REJECTED),), (dot,)),
        ),
    )  # fmt: skip


def _kinds(legend: Legend) -> Iterator[tuple[str, str, Mapping[str, Symbol]]]:
    """Yield each class of a column: its word in the data, its words in a legend, its symbol by shape.

    A symbol that is the same for every shape stands under "".
    """
    shapes = tuple(legend.surfaces)
    for number, label in enumerate(legend.labels):
        yield label, f"{label} {legend.unit}", {shape: _symbol(shape, number) for shape in shapes}
    if not legend.labels:
        body = {shape: Symbol("class", shape, _DETECTED_PX * PRINT_SCALE, ACCENT) for shape in shapes}
        yield say("takeaway.detected"), say("takeaway.detected"), body
    below = say("takeaway.not_detected")
    yield below, below, {shape: _symbol(shape, -1) for shape in shapes}
    for key in legend.others:
        text = say(f"takeaway.{key}") if key in WITHOUT_NUMBER else word("state", key)
        bare = key in WITHOUT_NUMBER or key in _BARE
        yield text, text, {"" if bare else shape: _other_symbol(key, shape) for shape in shapes[: 1 if bare else None]}


def _other_symbol(key: str, shape: str) -> Symbol:
    return _symbol(shape, None) if key in WITHOUT_NUMBER else _state_symbol(key, shape)


_SURFACE_OF = {"circle": "soil", "square": "asphalt", "triangle": "interior_slab", "diamond": "gravel", STAR: "soil"}
"""A surface for each shape, to ask the drawings for its symbol."""


def _symbol(shape: str, size_class: int | None) -> Symbol:
    point = PlacePoint("", 0.0, 0.0, None, None, "soil_gas", _SURFACE_OF[shape], "retrieved")
    return symbol_of(point, PlaceValue(size_class))._replace(shape=shape)


def _state_symbol(state: str, shape: str) -> Symbol:
    point = PlacePoint("", 0.0, 0.0, None, None, "soil_gas", _SURFACE_OF[shape], state)
    return symbol_of(point, PlaceValue(None))._replace(shape=shape)


def _rings(legend: Legend) -> Iterator[Sign]:
    """Yield a ring for each class of results: a state without a sampler has no result to mark."""
    for text, _, symbols in _kinds(legend):
        symbol = max(symbols.values(), key=lambda one: one.radius * stretch(one.shape))
        if symbol.kind in STATES:
            continue
        reach = symbol.radius / PRINT_SCALE * stretch(symbol.shape) + 3.0
        wanted = (Condition(f"{legend.column}_class", "equal", text), Condition(f"{legend.column}_ringed", "equal", 1))
        yield Sign(say("takeaway.ring"), wanted, (Drawn("circle", reach, PAPER, WARN, _RING_PX),))


def _bodies(legend: Legend) -> Iterator[Sign]:
    for text, words, symbols in _kinds(legend):
        for shape, symbol in symbols.items():
            surfaces = legend.surfaces.get(shape, "")
            named = (Condition(f"{legend.column}_class", "equal", text),)
            shaped = (Condition("shape", "equal", shape),) if shape else ()
            yield Sign(f"{words} ({surfaces})" if surfaces else words, (*named, *shaped), _figures(symbol))


def _figures(symbol: Symbol) -> tuple[Drawn, ...]:
    """Return what is drawn for a symbol of print, in pixels of a screen."""
    radius = symbol.radius / PRINT_SCALE
    if symbol.kind == "dot":
        return (Drawn("circle", radius, MUTED, MUTED, 0.5),)
    if symbol.kind in _BARE:
        return (Drawn(_BARE[symbol.kind], radius * 0.8, INK, INK, 2.0),)
    if symbol.kind in _INSIDE:
        inner, share = _INSIDE[symbol.kind]
        return (Drawn(symbol.shape, radius, PAPER, INK, 2.0), Drawn(inner, radius * share, INK, INK, 1.5))
    width = _LINE_PX if symbol.fill else 2.0
    return (Drawn(symbol.shape, radius, symbol.fill or PAPER, INK, width),)
