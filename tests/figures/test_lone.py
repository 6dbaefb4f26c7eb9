"""Maps to print alone: papers, round scales, and that everything drawn is explained."""

from __future__ import annotations

import itertools
import re
from itertools import islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from synthetic_figures import CRS_TEXT, LABELS, place_features, place_points, place_values

from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue
from sitegen.figures.lone import key_of, lone_ground, lone_map
from sitegen.figures.lonesheet import MARGIN_PT, PAPERS, Key, Sheet, lay_out, ratios
from sitegen.figures.svg import text_width
from sitegen.figures.symbols import symbol_of

BANDS = {False: 150.0, True: 110.0}
POINT = PlacePoint("SG-01", 470010.0, 4770010.0, None, None, "soil_gas", "soil", "retrieved")
INCH_MM = 25.4
"""Exact: US Federal Register 24 FR 5348 (1959)."""


def a_key(points: tuple[PlacePoint, ...], values: tuple[PlaceValue, ...] | None = None) -> Key:
    given_values = values or tuple(PlaceValue(-1) for _ in points)
    return key_of(points, place_features(), LABELS, [given_values], "ng per sampler")


def laid_out(paper: str, points: tuple[PlacePoint, ...], *, feet: bool = False, features: bool = False) -> Sheet:
    drawn = place_features() if features else ()
    return lay_out(PAPERS[paper], points, drawn, a_key(points), BANDS, feet=feet)


@pytest.mark.parametrize(("paper", "millimetres"), [("a4", (210, 297)), ("a3", (297, 420))])
def test_metric_papers_have_the_sides_of_the_standard(paper: str, millimetres: tuple[int, int]) -> None:
    """A4 is 210 by 297 mm and A3 297 by 420 mm (ISO 216, trimmed sizes), to a hundredth of a millimetre."""
    sides = [side / 72 * INCH_MM for side in PAPERS[paper][1:3]]
    assert sides == pytest.approx(millimetres, abs=0.01)


@pytest.mark.parametrize(("paper", "inches"), [("letter", (8.5, 11)), ("11x17", (11, 17))])
def test_papers_in_inches_have_the_sides_of_the_standard(paper: str, inches: tuple[float, float]) -> None:
    """The others are sizes A and B of ASME Y14.1: 8.5 by 11 and 11 by 17 inches, exactly."""
    assert [side / 72 for side in PAPERS[paper][1:3]] == list(inches)


def test_a_scale_in_feet_is_a_whole_ratio() -> None:
    """An inch for 20 feet is 1:240, for there are twelve inches to the foot."""
    found = {feet: ratio for ratio, feet in islice(ratios(feet=True), 12)}
    assert found[20] == 240
    assert all(ratio == 12 * feet for feet, ratio in found.items())
    assert list(found) == sorted(found)


@pytest.mark.parametrize("feet", [False, True])
@pytest.mark.parametrize("paper", sorted(PAPERS))
@given(st.floats(0, 3000), st.floats(0, 3000))
@settings(max_examples=25, deadline=None)
def test_every_point_is_in_the_frame_and_no_finer_scale_shows_them(
    paper: str, feet: bool, wide_m: float, high_m: float
) -> None:
    """Whatever the extent, all points lie in the frame, which lies on the paper, and the scale is one of the series."""
    corners = [(0, 0), (wide_m, 0), (0, high_m), (wide_m, high_m)]
    points = tuple(POINT._replace(easting_m=5e5 + e, northing_m=4e6 + n) for e, n in corners)
    sheet = laid_out(paper, points, feet=feet)
    frame = sheet.frame
    for point in points:
        x, y = frame.place(point.easting_m, point.northing_m)
        assert frame.left < x < frame.left + frame.width
        assert frame.top < y < frame.top + frame.height
    listed = list(islice(ratios(feet=feet), 40))
    assert (sheet.ratio, sheet.feet_per_inch) in listed
    assert sheet.width * PAPERS[paper].unit_pt == pytest.approx(sheet.size_pt[0] - 2 * MARGIN_PT, abs=0.02)
    assert frame.top + frame.height < sheet.height
    at = listed.index((sheet.ratio, sheet.feet_per_inch))
    if at:
        closer = sheet.ratio / listed[at - 1][0]
        spans = (max(wide_m, 10) * frame.scale * closer, max(high_m, 10) * frame.scale * closer)
        assert spans[0] + 24 > frame.width - 1e-6 or spans[1] + 24 > frame.height - 1e-6


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_a_metre_is_as_long_as_the_scale_says(paper: str) -> None:
    """A hundred metres at 1:N are 100,000 / N mm of paper."""
    sheet = laid_out(paper, place_points(), features=True)
    units = sheet.frame.place(470100, 4770000)[0] - sheet.frame.place(470000, 4770000)[0]
    assert units * PAPERS[paper].unit_pt / 72 * INCH_MM == pytest.approx(100_000 / sheet.ratio, rel=1e-9)


def test_the_sheet_lies_for_a_wide_site_and_stands_for_a_tall_one() -> None:
    """The same points turned by a right angle turn the paper."""
    wide = tuple(POINT._replace(easting_m=5e5 + 40 * i, northing_m=4e6 + i) for i in range(6))
    tall = tuple(POINT._replace(easting_m=5e5 + i, northing_m=4e6 + 40 * i) for i in range(6))
    for paper in PAPERS:
        assert laid_out(paper, wide).landscape
        assert not laid_out(paper, tall).landscape


def test_a_point_far_outside_is_on_the_map() -> None:
    """One point two kilometres off the boundary makes the scale coarser, and is drawn."""
    outside = POINT._replace(label="SG-99", easting_m=472100.0)
    near, far = laid_out("a4", place_points(), features=True), laid_out("a4", (*place_points(), outside), features=True)
    assert far.ratio > near.ratio
    assert far.frame.place(472100.0, 4770010.0)[0] < far.frame.left + far.frame.width


def test_one_point_alone_is_drawn_at_the_finest_scale_in_the_middle() -> None:
    """A single point without features gives 1:100, and the point stands in the middle of the frame."""
    sheet = laid_out("a3", (POINT,))
    x, y = sheet.frame.place(POINT.easting_m, POINT.northing_m)
    assert sheet.ratio == 100
    assert (x, y) == pytest.approx((sheet.frame.left + sheet.frame.width / 2, sheet.frame.top + sheet.frame.height / 2))


def test_nothing_to_draw_is_refused() -> None:
    """Without a point and without a boundary there is no extent."""
    with pytest.raises(ValueError, match="neither a point nor a site boundary"):
        laid_out("a4", ())


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_legend_explains_every_sign_that_is_drawn(paper: str) -> None:
    """Each class, state, shape and kind of feature has a row, and all rows stand on the sheet."""
    points, values = place_points(), place_values()
    key = a_key(points, values)
    sheet = lay_out(PAPERS[paper], points, place_features(), key, BANDS, feet=False)
    rows = [row for _, group in key.groups for row in group]
    symbols = [symbol_of(*pair) for pair in zip(points, values, strict=True)]
    explained = {row.symbol.kind for row in rows if row.symbol}
    assert {symbol.kind for symbol in symbols} <= explained
    assert {symbol.shape for symbol in symbols if symbol.kind == "class"} <= {
        row.symbol.shape for row in rows if row.symbol
    }
    assert any(symbol.ring for symbol in symbols)
    assert any(row.symbol.ring for row in rows if row.symbol)
    ground = lone_ground(sheet, points, place_features(), CRS_TEXT)
    svg = lone_map("m", sheet, ground, values, key, None).svg
    for row in rows:
        first = row.words.split()[0]
        assert f">{first}" in svg, row.words
    spots = [float(y) for y in re.findall(r'<text x="[^"]*" y="([-0-9.]+)"', svg)]
    assert max(spots) <= sheet.height


def test_the_word_for_air_points_leads_to_no_page_that_is_not_there() -> None:
    """A sheet alone has no page of air results to see."""
    points = (POINT, POINT._replace(label="IA-01", medium="indoor_air"))
    words = [row.words for _, group in a_key(points, (PlaceValue(1), PlaceValue(None))).groups for row in group]
    assert "air point: no mass in soil gas" in words
    assert not [one for one in words if "see" in one]


def test_maps_of_one_ground_have_one_legend() -> None:
    """A sign that one of two maps has stands in the legend of both, so that they can be laid side by side."""
    points = (POINT, POINT._replace(label="SG-02", easting_m=470030.0))
    marked, plain = (PlaceValue(2, marked=True), PlaceValue(-1)), (PlaceValue(0), PlaceValue(0))
    key = key_of(points, (), LABELS, [marked, plain], "ng per sampler")
    words = [row.words for _, group in key.groups for row in group]
    assert "not detected (hollow)" in words
    assert "sample- or result-specific qualification (ring)" in words


def test_labels_stand_apart_and_those_left_out_are_counted() -> None:
    """With ids, none of the words on the map covers another; with none asked for, no id is written."""
    points, values = place_points(), place_values()
    key = a_key(points, values)
    sheet = lay_out(PAPERS["a4"], points, place_features(), key, BANDS, feet=False)
    ground = lone_ground(sheet, points, place_features(), CRS_TEXT)
    ids = tuple(point.label for point in points)
    drawn = lone_map("m", sheet, ground, values, key, ids)
    written = [name for name in ids if f">{name}<" in drawn.svg]
    names = {feature.name for feature in place_features() if feature.name}
    named = [name for name in names if f">{name}<" in drawn.svg]
    assert len(written) + len(named) + drawn.left_out == len(ids) + len(names)
    boxes = [
        (float(x), float(y) - 5, float(x) + text_width(words, 6.6), float(y))
        for x, y, words in re.findall(r'<text x="([^"]*)" y="([^"]*)"[^>]*>([^<]*)</text>', drawn.svg)
        if words in written
    ]
    for one, other in itertools.combinations(boxes, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
    bare = lone_map("m", sheet, ground, values, key, None)
    assert not [name for name in ids if f">{name}<" in bare.svg]


def test_ticks_stand_at_all_four_edges() -> None:
    """Each line of the grid has a tick at both of its ends, outside the frame."""
    points = place_points()
    sheet = laid_out("a3", points, features=True)
    ground = lone_ground(sheet, points, place_features(), CRS_TEXT)
    svg = lone_map("m", sheet, ground, place_values(), a_key(points, place_values()), None).svg
    frame = sheet.frame
    for easting_m in ground.ticks_m[0]:
        x = f"{frame.place(easting_m, 0)[0]:.2f}".rstrip("0").rstrip(".")
        assert len(re.findall(rf'<line x1="{x}" y1="[^"]*" x2="{x}"', svg)) == 2
    for northing_m in ground.ticks_m[1]:
        y = f"{frame.place(0, northing_m)[1]:.2f}".rstrip("0").rstrip(".")
        assert len(re.findall(rf'<line x1="[^"]*" y1="{y}" x2="[^"]*" y2="{y}"', svg)) == 2
    assert len(ground.ticks_m[0]) >= 2
    assert len(ground.ticks_m[1]) >= 2


def test_hostile_names_stay_text() -> None:
    """Markup in an id or in a feature's name is escaped."""
    evil = "<script>&\"'"
    points = (POINT._replace(label=evil), POINT._replace(label="SG-02", easting_m=470090.0))
    features = (PlaceFeature("well", evil, "point", (((470050.0, 4770020.0),),)),)
    key = key_of(points, features, LABELS, [(PlaceValue(0), PlaceValue(-1))], evil)
    sheet = lay_out(PAPERS["a4"], points, features, key, BANDS, feet=False)
    ground = lone_ground(sheet, points, features, evil)
    svg = lone_map(evil, sheet, ground, (PlaceValue(0), PlaceValue(-1)), key, tuple(one.label for one in points)).svg
    assert "<script" not in svg
    assert "&lt;script&gt;" in svg
