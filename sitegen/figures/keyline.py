"""The key below a chart: signs with their words in lines that wrap, and signs that several charts share."""

from __future__ import annotations

from collections.abc import Iterable

from sitegen.figures.look import INK, WARN
from sitegen.figures.svg import element, line, number, text, text_width

FONT = 11.0


def key_line(signs: Iterable[tuple[str, str]], y: float, width: float) -> tuple[str, float]:
    """Draw signs, each made around the origin, with their words; return them with where they end below.

    >>> key_line([], 10.0, 100.0)
    ('', 24.0)
    """
    parts, x = [], 16.0
    for sign, said in signs:
        room = 18 + text_width(said, FONT)
        if x + room > width - 8 and x > 16.0:
            x, y = 16.0, y + 18
        parts.append(element("g", sign, transform=f"translate({number(x)} {number(y)})"))
        parts.append(text(x + 16, y + 4, said, font_size=FONT))
        x += room + 20
    return "".join(parts), y + 14


def polygon(x: float, y: float, corners: Iterable[tuple[float, float]], **look: str | float) -> str:
    """Draw a closed shape by the steps from its middle to its corners."""
    return element("polygon", points=" ".join(f"{number(x + dx)},{number(y + dy)}" for dx, dy in corners), **look)


def diamond(x: float, y: float, reach: float = 5.0, **look: str | float) -> str:
    """Draw a square on its corner."""
    return polygon(x, y, ((0, -reach), (reach, 0), (0, reach), (-reach, 0)), **look)


def below_left(x: float, y: float) -> str:
    """Draw a non-detect on an axis that runs across: its limit as a stroke, and an arrow to the left of it."""
    path = f"M{number(x)} {number(y)}H{number(x - 14)}m4.5 -3.5l-4.5 3.5l4.5 3.5"
    return line(x, y - 5, x, y + 5, stroke=INK, stroke_width=1.6) + element(
        "path", d=path, fill="none", stroke=INK, stroke_width=1.2
    )


def below_down(x: float, y: float) -> str:
    """Draw a non-detect on an axis that runs up: its limit as a stroke, and an arrow below it."""
    path = f"M{number(x)} {number(y)}V{number(y + 11)}m-3 -4l3 4l3 -4"
    return line(x - 4, y, x + 4, y, stroke=INK, stroke_width=1.5) + element(
        "path", d=path, fill="none", stroke=INK, stroke_width=1.1
    )


def warned(x: float, y: float, reach: float = 5.0) -> str:
    """Draw the full diamond of a value that is outside a limit."""
    return diamond(x, y, reach, fill=WARN, stroke=WARN, stroke_width=1)
