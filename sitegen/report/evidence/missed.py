"""What could have been missed: how large an area must be for a point to lie in it, by where the points are."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from sitegen.compute.design.chance import FOUND, Curve
from sitegen.compute.design.reach import LEAST_POINTS, Reach
from sitegen.compute.statistics.rounding import percent_of, rounded_text
from sitegen.figures.chances import Rising, chance_curves
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.record.pages import Block, Callout, Cell, Facts, Figure, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say
from sitegen.voice import thousands

_SURE = 0.9995
"""A chance from here on, and below 1, would print as 100 %."""


class _Size(NamedTuple):
    """A size in metres with the chance of a circle of that diameter, and of a long area of that length."""

    size_m: float
    circle: float
    long: float
    error: float


@traced
def missed_section(context: Context) -> Section:
    """Return what the soil points could have missed, or could miss; or why no chance is given."""
    found, planned = context.reach, _planned(context)
    blocks: list[Block] = [prose("missed.what", **_scope(context, found))]
    if found.round is None or found.long is None:
        kept = found.lacks == "boundary" and context.bases["boundary"].on > 0
        lacks = "withheld" if kept else found.lacks
        blocks.append(prose("missed.none", lacks=lacks, used=len(found.used), least=LEAST_POINTS, planned=planned))
    else:
        blocks.append(Callout("caution", say("missed.caution_title"), markdown("missed.caution")))
        blocks.append(_facts(len(found.used), found.round, found.long))
        blocks.append(_figure(len(found.used), found.round, found.long))
    return Section("missed", say("missed.title", planned=planned), tuple(blocks))


def _planned(context: Context) -> bool:
    """Tell whether points count by the plan: nothing has come back from the field yet."""
    return context.stage != "returned"


def _scope(context: Context, found: Reach) -> dict[str, object]:
    """Return the counts of points that are used and left out."""
    soil = sum(row.medium in SOIL_MEDIA for row in context.locations)
    seen = len(found.used) + len(found.outside) + len(found.unplaced)
    return {
        "planned": _planned(context),
        "used": len(found.used),
        "soil": soil,
        "without": soil - seen,
        "air": len(found.air),
        "outside": len(found.outside),
        "unplaced": len(found.unplaced),
        "bounded": found.lacks != "boundary",
    }


def _facts(used: int, circles: Curve, long: Curve) -> Facts:
    """Return the sizes that are found with 90 %, with what they rest on."""
    chance = percent_of(FOUND)
    circle_label = say("missed.circle_label", chance=chance)
    long_label = say("missed.long_label", chance=chance)
    points = say("missed.points_label")
    rows = (
        (points, Cell(say("missed.points", used=used, area=rounded_text(circles.area_m2)))),
        (circle_label, Cell(_found_text(circles, "circle"))),
        (long_label, Cell(_found_text(long, "long"))),
    )
    return Facts(rows, frozenset({points, circle_label, long_label}))


def _found_text(one: Curve, kind: str) -> str:
    """Write the size found with 90 %, with its standard error where it was simulated."""
    error = one.found_with_90_error_m or 0.0
    size = rounded_text(one.found_with_90_m or 0.0)
    return say("missed.found", kind=kind, size=size, simulated=one.simulated, error=f"{error:.1f}")


@traced
def _figure(used: int, circles: Curve, long: Curve) -> Figure:
    facts = {
        "chance": percent_of(FOUND),
        "circle": rounded_text(circles.found_with_90_m or 0.0),
        "long": rounded_text(long.found_with_90_m or 0.0),
        "points": used,
    }
    curves = [
        Rising(say("missed.circle_key"), circles.drawn, circles.found_with_90_m or 0.0),
        Rising(say("missed.long_key"), long.drawn, long.found_with_90_m or 0.0),
    ]
    return Figure(
        "chances",
        chance_curves("chances", curves, FOUND, say("missed.axis")),
        say("missed.caption"),
        say("missed.alt", **facts),
        say("missed.words", **facts),
        _table(used, circles, long),
    )


@traced
def _table(used: int, circles: Curve, long: Curve) -> Table:
    columns: list[Spec[_Size]] = [
        Spec("size", "Diameter, or length", "m", "number", cell=lambda one: thousands(f"{one.size_m:,g}")),
        Spec("circle", "Circular area", "%", "number", cell=lambda one: _percent_text(one.circle)),
        Spec("long", "Elongated area", "%", "number", cell=lambda one: _percent_text(one.long)),
        Spec("error", "Standard error, elongated", "%", "number", cell=lambda one: f"{100 * one.error:.1f}"),
    ]
    note = say("missed.note", simulated=long.simulated, points=used)
    return table("chances-data", say("missed.data"), columns, _sizes(circles, long), note=note)


def _sizes(circles: Curve, long: Curve) -> Iterator[_Size]:
    for (size, chance, _), (_, other, error) in zip(circles.rows, long.rows, strict=True):
        yield _Size(size, chance, other, error)


def _percent_text(chance: float) -> str:
    """Write a chance in % with one decimal; one that is not whole is not rounded up to 100.

    >>> _percent_text(0.0654), _percent_text(0.99996), _percent_text(1.0)
    ('6.5', '>99.9', '100')
    """
    if chance >= 1:
        return "100"
    return ">99.9" if chance >= _SURE else f"{100 * chance:.1f}"
