"""Contours: areas that add up, ground that stays blank, and refusals."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np
import pandas as pd
import pytest
import shapely
from builders import changed, load, without_features

from sitegen.compute.evaluate import evaluate
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.picture.contours import (
    Bounds,
    Extent,
    NoContour,
    Pattern,
    extent,
    pattern,
    patterns,
    planned_spacing_m,
    support,
)
from sitegen.compute.place.points import Point, map_crs, on_map
from sitegen.compute.quality.repeatability import Repeatability
from sitegen.compute.results.summary import Summary
from sitegen.project.schema import Origin
from sitegen.project.settings import Length, Settings

LIMITS = {record.name: record for record in DEFAULTS}
STEP_M = 20.0


def survey(
    columns: int = 7, rows: int = 7, *, lost: tuple[int, ...] = (), low: float = 0.0
) -> tuple[pd.DataFrame, list[Point]]:
    """Return results of one compound on a grid: a plume of four decades, non-detects below ``low``."""
    points, results = [], []
    for i in range(columns * rows):
        row, column = divmod(i, columns)
        x, y = 1000 + STEP_M * column + (i * 37 % 11) * 0.2, 2000 + STEP_M * row + (i * 53 % 13) * 0.2
        name = f"P{i:02d}"
        at = (x, y, 0.0, 0.0)
        points.append(
            Point(name, "soil_gas", "soil", *at, None, as_planned=False,
                  origin=Origin("locations.csv", i + 2))
        )  # fmt: skip
        mass = 3 + 20_000 * np.exp(-(((x - 1060) / 30) ** 2) - ((y - 2060) / 45) ** 2)
        if i not in lost:
            results.append({"location_id": name, "detected": mass >= low, "value": mass, "lod": 5.0})
    return pd.DataFrame(results), points


def summary(detected: int, unblanked: int) -> Summary:
    found = {field.name: None for field in dataclasses.fields(Summary)}
    return Summary(**(found | {"detected": detected, "unblanked": unblanked}))  # type: ignore[arg-type]


def made(rows: pd.DataFrame, points: list[Point], **changes: object) -> Pattern:
    facts: Mapping[str, object] = {"summary": summary(40, 40), "spacing_m": STEP_M} | changes
    found = pattern(rows, points, facts["summary"], LIMITS, facts["spacing_m"])  # type: ignore[arg-type]
    assert isinstance(found, Pattern)
    return found


def test_class_areas_add_up_to_the_ground_that_the_points_speak_for() -> None:
    rows, points = survey()
    found = made(rows, points)
    ground = support(np.array([(p.x, p.y) for p in points]), [], STEP_M)
    for areas in ([b.area_m2 for b in found.bands], [b.other_area_m2 for b in found.bands]):
        assert sum(areas) == pytest.approx(ground.area, rel=1e-6)
    for a, b in zip(found.bands, found.bands[1:], strict=False):
        assert shapely.intersection(a.shape, b.shape).area < 1e-6 * ground.area


def test_the_highest_class_lies_at_the_source() -> None:
    found = made(*survey())
    top = found.bands[-1]
    assert top.size_class == 4
    assert top.shape.contains(shapely.Point(1060, 2060))
    assert found.error_log10 < 0.5 * found.spread_log10


def test_nothing_is_drawn_beyond_the_reach_nor_across_a_point_without_a_result() -> None:
    rows, points = survey(lost=(24,))
    found = made(rows, points)
    drawn = shapely.union_all([band.shape for band in found.bands])
    lost = points[24]
    others = [p for p in points if p is not lost]
    assert found.blank == 1
    assert not drawn.contains(shapely.Point(lost.x, lost.y))
    near = shapely.Point(lost.x + 0.3 * STEP_M, lost.y)
    assert not drawn.contains(near)
    reach = shapely.union_all([shapely.Point(p.x, p.y).buffer(STEP_M + 1e-6, quad_segs=64) for p in others])
    assert reach.covers(drawn)


def test_nearer_to_a_lost_point_than_to_any_other_means_blank() -> None:
    places = np.array([(0.0, 0.0), (40.0, 0.0), (0.0, 40.0), (40.0, 40.0)])
    ground = support(places, [(20.0, 20.0)], 30.0)
    rng = np.random.default_rng(2)
    for spot in rng.uniform(-10, 50, (400, 2)):
        to_used = np.hypot(*(places - spot).T).min()
        to_lost = np.hypot(*(spot - 20.0))
        if abs(to_used - to_lost) > 0.1 and abs(to_used - 30) > 0.2:
            expected = to_used < to_lost and to_used < 30
            assert ground.contains(shapely.Point(*spot)) == expected


def test_too_few_detections_are_refused() -> None:
    rows, points = survey(low=1e4)
    count = int(rows["detected"].sum())
    assert pattern(rows, points, summary(count, count), LIMITS, None) == NoContour("detections", count, 12)


@pytest.mark.parametrize(("unblanked", "refused"), [(20, True), (21, False)])
def test_half_of_the_detections_touched_by_a_blank_are_refused(unblanked: int, refused: bool) -> None:
    rows, points = survey()
    found = pattern(rows, points, summary(40, unblanked), LIMITS, None)
    assert isinstance(found, NoContour) == refused
    if isinstance(found, NoContour):
        assert (found.reason, found.found) == ("blanks", 50.0)


def test_values_without_any_likeness_to_their_neighbours_are_refused() -> None:
    rows, points = survey()
    rows["value"] = 10 ** np.random.default_rng(11).permutation(np.linspace(1, 4, len(rows)))
    found = pattern(rows, points, summary(40, 40), LIMITS, None)
    assert isinstance(found, NoContour)
    assert found.reason == "structure"
    assert found.found >= found.limit


def test_two_points_in_one_place_are_refused() -> None:
    rows, points = survey()
    points[3] = dataclasses.replace(points[3], x=points[2].x, y=points[2].y)
    found = pattern(rows, points, summary(40, 40), LIMITS, None)
    assert isinstance(found, NoContour)
    assert found.reason == "positions"


def test_non_detects_at_half_their_limit_move_the_edges_inwards() -> None:
    """Lower values around a plume make its classes no larger."""
    rows, points = survey(low=150.0)
    rows["lod"] = 150.0
    found = made(rows, points)
    at_limit = sum(band.area_m2 for band in found.bands if band.size_class >= 2)
    at_half = sum(band.other_area_m2 for band in found.bands if band.size_class >= 2)
    assert found.nondetects > 0
    assert at_half < at_limit


def test_without_a_planned_spacing_the_reach_follows_from_the_points() -> None:
    rows, points = survey()
    assert 15 < made(rows, points, spacing_m=None).reach_m < 25


def test_planned_spacing_is_read_in_metres() -> None:
    settings = Settings.model_validate(
        {
            "project": {"id": "a", "title": "a", "site": "a", "revision": 0, "report_date": "2025-01-01",
                        "time_zone": "UTC"},
            "space": {"crs": "EPSG:32614"},
            "plan": {"spacing": Length(value=80.0, unit="ft").model_dump()},
        }
    )  # fmt: skip
    assert planned_spacing_m(settings) == pytest.approx(24.384)


def bounded(shape: shapely.Geometry, **changes: object) -> Pattern | NoContour:
    rows, points = survey()
    return pattern(rows, points, summary(40, 40), LIMITS, STEP_M, Bounds(Extent("boundary", shape)), **changes)  # type: ignore[arg-type]


def test_nothing_is_drawn_outside_the_ground_that_a_pattern_is_kept_to() -> None:
    """The plume is cut at the edge; the points beyond it take part all the same."""
    half = shapely.box(900, 1900, 1060, 2300)
    found = bounded(half)
    assert isinstance(found, Pattern)
    drawn = shapely.union_all([band.shape for band in found.bands])
    assert half.buffer(1e-6).covers(drawn)
    _, points = survey()
    beyond = sum(point.x > 1060 for point in points)
    assert found.outside == beyond > 0
    assert (found.used, found.error_log10) == (len(points), made(*survey()).error_log10)
    for areas in ([b.area_m2 for b in found.bands], [b.other_area_m2 for b in found.bands]):
        assert sum(areas) == pytest.approx(drawn.area, rel=1e-6)


def test_a_boundary_without_usable_points_near_it_gets_no_pattern() -> None:
    assert bounded(shapely.box(0, 0, 10, 10)) == NoContour("extent", 0.0, STEP_M)


def test_the_nugget_is_no_smaller_than_the_duplicates_variance() -> None:
    """The smooth plume alone gives next to no nugget; a variance of 0.1 in log10 raises it, none changes nothing."""
    rows, points = survey()
    free = made(rows, points)
    assert free.model.nugget < 0.05

    def floored(variance: float | None) -> Pattern:
        repeat = Repeatability(variance, 9, 3, 3)
        found = pattern(rows, points, summary(40, 40), LIMITS, STEP_M, Bounds(repeat=repeat))
        assert isinstance(found, Pattern)
        return found

    assert floored(0.1).model.nugget == pytest.approx(0.1)
    assert floored(0.1).model.partial_sill > 0
    assert floored(None).model == free.model
    assert floored(0.1).error_log10 > free.error_log10


def test_the_example_s_patterns_stay_inside_its_boundary_and_use_its_duplicates() -> None:
    survey = load(changed())
    evaluation = evaluate(survey)
    boundary = next(f.geometry for f in survey.features if f.kind == "site_boundary")
    site = on_map(boundary, map_crs(survey)).buffer(0.01)
    drawn = [found for found in patterns(evaluation, 24.0).values() if isinstance(found, Pattern)]
    assert drawn
    for found in drawn:
        assert all(site.covers(band.shape) for band in found.bands)
        assert found.bounds.repeat is not None
        assert found.model.nugget >= found.bounds.repeat.floor > 0
        assert found.outside == 2  # SG-50 and SG-51, the background points


def test_without_a_boundary_the_hull_of_the_points_is_used() -> None:
    survey = load(changed(without_features("site_boundary")))
    points = [p for p in evaluate(survey).points if p.medium == "soil_gas"]
    found = extent(survey, points)
    assert found is not None
    assert found.kind == "hull"
    assert found.shape.equals(shapely.MultiPoint([(p.x, p.y) for p in points]).convex_hull)
    assert extent(survey, []) is None
