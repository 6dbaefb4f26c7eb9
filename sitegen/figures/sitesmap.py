"""Where sites lie, as a drawing without any ground: longitude and latitude, and a number for each site."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from sitegen.figures.look import ACCENT, INK, MUTED, PAPER, RULE
from sitegen.figures.svg import element, number, words

WIDTH, HEIGHT = 480.0, 300.0
_EDGE = 44.0
_LEAST_DEGREES = 0.02
_APART = 18.0
"""Sites nearer than this in the drawing share a mark."""
_STEPS = (1.0, 2.0, 5.0)
_FEWEST_COS = 0.05


class Site(NamedTuple):
    """A site: its number on the page, its name, and its place in degrees; ``href`` leads to it on the page."""

    number: int
    name: str
    longitude: float
    latitude: float
    href: str


class _Frame(NamedTuple):
    """A window on the earth: its middle in degrees and the scale in drawing units per degree of latitude."""

    longitude: float
    latitude: float
    scale: float
    squeeze: float

    def x(self, longitude: float) -> float:
        return WIDTH / 2 + (longitude - self.longitude) * self.squeeze * self.scale

    def y(self, latitude: float) -> float:
        return HEIGHT / 2 - (latitude - self.latitude) * self.scale


def sites_map(sites: Sequence[Site], title: str) -> str:
    """Return the drawing; degrees of longitude are as wide as they are at the middle latitude.

    Raises ValueError without a site.
    """
    if not sites:
        raise ValueError("a map of sites needs one")
    frame = _frame(sites)
    return element(
        "svg",
        element("title", words(title), id="sites-title"),
        element("rect", x=0, y=0, width=number(WIDTH), height=number(HEIGHT), fill=PAPER, stroke=RULE),
        *_lines(frame),
        *(_mark(group, frame) for group in _groups(sites, frame)),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(WIDTH)} {number(HEIGHT)}",
        role="group",
        aria_labelledby="sites-title",
        font_family="system-ui, sans-serif",
        font_size="13",
    )


def _frame(sites: Sequence[Site]) -> _Frame:
    east, north = [one.longitude for one in sites], [one.latitude for one in sites]
    middle = (min(east) + max(east)) / 2, (min(north) + max(north)) / 2
    squeeze = max(math.cos(math.radians(middle[1])), _FEWEST_COS)
    wide = max((max(east) - min(east)) * squeeze, _LEAST_DEGREES)
    high = max(max(north) - min(north), _LEAST_DEGREES)
    scale = min((WIDTH - 2 * _EDGE) / wide, (HEIGHT - 2 * _EDGE) / high)
    return _Frame(*middle, scale, squeeze)


def _lines(frame: _Frame) -> Iterator[str]:
    """Yield lines of longitude and latitude with their degrees at the edges."""
    for degree, label in _ticks(frame.longitude, WIDTH / frame.scale / frame.squeeze, "EW"):
        x = number(frame.x(degree))
        yield element("line", x1=x, x2=x, y1=0, y2=number(HEIGHT), stroke=RULE)
        yield element("text", label, x=x, y=number(HEIGHT - 5), fill=MUTED, text_anchor="middle", **_HALO)
    for degree, label in _ticks(frame.latitude, HEIGHT / frame.scale, "NS"):
        y = number(frame.y(degree))
        yield element("line", x1=0, x2=number(WIDTH), y1=y, y2=y, stroke=RULE)
        yield element("text", label, x=5, y=number(frame.y(degree) - 4), fill=MUTED, **_HALO)


_HALO = {"stroke": PAPER, "stroke_width": "3", "paint_order": "stroke"}


def _ticks(middle: float, span: float, signs: str) -> Iterator[tuple[float, str]]:
    """Yield some round degrees within a span around a middle, the outermost tenth of it aside."""
    power = 10.0 ** math.floor(math.log10(span / 3))
    step = max(power * one for one in _STEPS if power * one <= span / 3)
    places = max(0, -math.floor(math.log10(step)))
    first = math.ceil((middle - 0.42 * span) / step)
    last = math.floor((middle + 0.42 * span) / step)
    for at in range(first, last + 1):
        degree = at * step
        yield degree, f"{abs(degree):.{places}f}°{'' if at == 0 else f' {signs[0] if degree > 0 else signs[1]}'}"


def _groups(sites: Sequence[Site], frame: _Frame) -> list[list[Site]]:
    """Put sites together whose marks would touch, each with the first that it is near to."""
    groups: list[list[Site]] = []
    for one in sorted(sites, key=lambda site: site.number):
        at = frame.x(one.longitude), frame.y(one.latitude)
        near = (g for g in groups if math.dist(at, (frame.x(g[0].longitude), frame.y(g[0].latitude))) < _APART)
        group = next(near, None)
        if group is None:
            groups.append([one])
        else:
            group.append(one)
    return groups


def _mark(group: Sequence[Site], frame: _Frame) -> str:
    """Draw a mark with its numbers; it leads to the first of its sites on the page."""
    first = group[0]
    x, y = frame.x(first.longitude), frame.y(first.latitude)
    numbers = _numbers([one.number for one in group])
    left = x > WIDTH * 0.7
    return element(
        "a",
        element("title", words("; ".join(f"{one.number} {one.name}" for one in group))),
        element("circle", cx=number(x), cy=number(y), r="17", fill=PAPER, fill_opacity="0"),
        element("circle", cx=number(x), cy=number(y), r="7", fill=ACCENT, stroke=PAPER, stroke_width="2"),
        element(
            "text", words(numbers), x=number(x - 11 if left else x + 11), y=number(y + 5), fill=INK,
            font_weight="700", font_size="15", text_anchor="end" if left else "start", **_HALO,
        ),
        href=first.href,
        data_sites=" ".join(str(one.number) for one in group),
    )  # fmt: skip


def _numbers(numbers: Sequence[int]) -> str:
    """Write numbers, the first few of many.

    >>> _numbers([1, 2]), _numbers([1, 2, 3, 4, 5])
    ('1, 2', '1, 2, 3 + 2')
    """
    most = 3
    first = ", ".join(str(one) for one in numbers[:most])
    return f"{first} + {len(numbers) - most}" if len(numbers) > most + 1 else ", ".join(map(str, numbers))
