"""Control charts: recoveries by run and height, limits over the runs that they apply to, batches divided."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET

import pytest

from sitegen.figures.controlchart import CHART_KINDS, ControlDot, ControlPanel, control_charts
from sitegen.figures.look import ACCENT, MUTED, WARN

SVG = "{http://www.w3.org/2000/svg}"
WORDS = {key: key for key in (*CHART_KINDS, "outside", "limits", "axis", "percent")}
IN = ControlDot("surrogate", 0, 100.0, 70.0, 130.0, False, "L-1")


def drawn(*dots: ControlDot, batches: tuple[str, ...] = ("B1", "B1", "B2"), title: str = "S") -> ET.Element:
    return ET.fromstring(control_charts("c", [ControlPanel(title, dots, batches)], WORDS))  # noqa: S314 - our own


def said(root: ET.Element) -> list[str]:
    return [one.text or "" for one in root.iter(f"{SVG}text")]


def limit_lines(root: ET.Element) -> list[tuple[float, float, float]]:
    """Return the start, the end and the height of each stretch of a limit."""
    found = [one for one in root.findall(f"{SVG}line") if one.get("stroke") == ACCENT]
    return [(float(one.get("x1", "")), float(one.get("x2", "")), float(one.get("y1", ""))) for one in found]


def test_a_recovery_of_100_is_midway_between_limits_of_70_and_130() -> None:
    """Height is in proportion to the recovery."""
    root = drawn(IN)
    (dot,) = root.findall(f"{SVG}circle")
    low, high = (height for _, _, height in limit_lines(root))
    assert float(dot.get("cy", "")) == pytest.approx((low + high) / 2, abs=0.02)


def test_runs_are_drawn_in_their_order_at_equal_distances() -> None:
    """Runs 0, 1 and 2 of three divide the width by thirds."""
    root = drawn(IN, IN._replace(at=1), IN._replace(at=2))
    first, second, third = (float(one.get("cx", "")) for one in root.findall(f"{SVG}circle"))
    assert second - first == pytest.approx(third - second, abs=0.02)
    assert third > first


def test_limits_that_change_with_a_batch_are_drawn_over_its_runs_alone() -> None:
    """The wider limits of the third run begin where those of the first two end."""
    root = drawn(IN, IN._replace(at=1), IN._replace(at=2, lower=60.0, upper=140.0))
    lines = limit_lines(root)
    assert len(lines) == 4
    assert lines[0][1] == pytest.approx(lines[2][0], abs=0.02)
    assert lines[2][2] > lines[0][2]


def test_batches_are_divided_by_a_line_and_named() -> None:
    """Two batches have one line between them; one batch has none."""
    two, one = drawn(IN), drawn(IN, batches=("B1",))
    counted = [len([x for x in r.findall(f"{SVG}line") if x.get("stroke") == MUTED]) for r in (two, one)]
    assert counted == [1, 0]
    assert {"B1", "B2"} <= set(said(two))


def test_a_recovery_outside_is_a_full_diamond_with_its_name() -> None:
    """Its shape tells it as well as its colour."""
    root = drawn(IN, IN._replace(at=1, value=50.0, outside=True, label="L-9"))
    assert len(root.findall(f"{SVG}circle")) == 1
    assert [one.get("fill") for one in root.findall(f"{SVG}polygon")] == [WARN]
    assert {"L-9", "outside"} <= set(said(root))
    assert "outside" not in said(drawn(IN))


def test_limits_of_two_kinds_in_one_run_are_drawn_side_by_side() -> None:
    """A check with narrower limits than the control of its run has them around itself alone."""
    check = IN._replace(kind="calibration_check", lower=80.0, upper=120.0)
    control, narrow = limit_lines(drawn(IN._replace(kind="control"), check))[::2]
    assert control[1] == pytest.approx(narrow[0], abs=0.02)
    assert narrow[2] != control[2]


def test_limits_are_not_drawn_over_runs_that_have_none() -> None:
    """Two runs with a run between them have two stretches."""
    assert len(limit_lines(drawn(IN, IN._replace(at=2)))) == 4


def test_one_sided_and_missing_limits_are_drawn_as_far_as_they_go() -> None:
    """A lower limit alone is one line without a band; none is nothing."""
    assert len(limit_lines(drawn(IN._replace(upper=math.nan)))) == 1
    assert limit_lines(drawn(IN._replace(lower=math.nan, upper=math.nan))) == []


def test_each_kind_has_its_own_shape() -> None:
    """A control is told from its duplicate and from a calibration check without colour."""
    counts = set()
    for kind in ("control", "control_duplicate", "calibration_check"):
        root = drawn(IN._replace(kind=kind))
        counts.add(tuple(len(root.findall(f"{SVG}{shape}")) for shape in ("circle", "rect", "polygon")))
    assert len(counts) == 3


def test_words_from_the_record_are_escaped() -> None:
    """A title, a batch and a label like a tag stay text."""
    root = drawn(IN._replace(outside=True, label="<i>"), batches=("<b>",), title="</svg>")
    assert {"<i>", "<b>", "</svg>"} <= set(said(root))
