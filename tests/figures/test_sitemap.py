"""Maps of the site: every point is drawn, in its place, with its sign."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from synthetic_figures import CRS_TEXT, LABELS, ground, place_points, place_values

from sitegen.figures.ground import Ground, prepare_ground
from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue
from sitegen.figures.labels import Box, Wanted, leader, place_labels
from sitegen.figures.look import CLASS_COLOURS
from sitegen.figures.sitemap import location_map, symbol_map
from sitegen.figures.svg import text_width
from sitegen.figures.symbols import AIR_SYMBOL, Symbol, draw, stretch, symbol_of

SVG = "{http://www.w3.org/2000/svg}"
POINT = PlacePoint("SG-01", 470010, 4770010, None, None, "soil_gas", "soil", "retrieved")


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]  # noqa: S314


def square_ground(*points: PlacePoint) -> Ground:
    """Return a ground whose boundary is 100 m by 100 m."""
    ring = ((470000.0, 4770000.0), (470100.0, 4770000.0), (470100.0, 4770100.0), (470000.0, 4770100.0))
    boundary = PlaceFeature("site_boundary", "", "area", ((*ring, ring[0]),))
    return prepare_ground(points, (boundary,), CRS_TEXT)


def test_metres_land_where_the_frame_says() -> None:
    frame = square_ground().frame
    assert frame.place(470050, 4770050) == pytest.approx((frame.left + frame.width / 2, frame.top + frame.height / 2))
    x0, y0 = frame.place(470000, 4770000)
    x1, y1 = frame.place(470100, 4770100)
    assert (x1 - x0, y0 - y1) == pytest.approx((100 * frame.scale, 100 * frame.scale))


def test_matplotlib_draws_a_corner_where_the_frame_says() -> None:
    site = square_ground()
    x, y = site.frame.place(470000, 4770000)
    assert f"M {x:.2f}".rstrip("0").rstrip(".") in site.body
    assert f"{y:.2f}".rstrip("0").rstrip(".") in site.body


@given(st.floats(0.5, 5000), st.floats(0.5, 5000))
@settings(max_examples=30, deadline=None)
def test_every_point_is_inside_the_map_at_any_extent(wide_m: float, high_m: float) -> None:
    corners = [(0, 0), (wide_m, 0), (0, high_m), (wide_m, high_m)]
    points = tuple(POINT._replace(easting_m=5e5 + e, northing_m=4e6 + n) for e, n in corners)
    frame = prepare_ground(points, (), CRS_TEXT).frame
    for point in points:
        x, y = frame.place(point.easting_m, point.northing_m)
        assert frame.left < x < frame.left + frame.width
        assert frame.top < y < frame.top + frame.height


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    site = square_ground(POINT)
    svg = symbol_map("x", site, [PlaceValue(0)], LABELS)
    said = [int(found[1]) for words in texts(svg) if (found := re.fullmatch(r"(\d+) m", words))]
    bars = [
        float(bar.attrib["width"])
        for bar in ET.fromstring(svg).iter(f"{SVG}rect")  # noqa: S314
        if bar.attrib.get("height") == "3"
    ]
    assert max(bars) / site.frame.scale == pytest.approx(said[0], rel=1e-3)


@pytest.mark.parametrize(
    ("state", "size_class", "kind"),
    [
        ("retrieved", None, "dot"),
        ("retrieved", -1, "nondetect"),
        ("retrieved", 3, "class"),
        ("lost", None, "lost"),
        ("not_installed", None, "not_installed"),
        ("planned", None, "planned"),
        ("in_place", None, "in_place"),
        ("retrieval_not_recorded", None, "retrieval_not_recorded"),
    ],
)
def test_a_value_s_sign(state: str, size_class: int | None, kind: str) -> None:
    symbol = symbol_of(POINT._replace(state=state), PlaceValue(size_class))
    assert symbol.kind == kind
    assert (symbol.fill in CLASS_COLOURS) == (kind == "class")


def test_an_air_point_has_a_sign_of_its_own_whatever_its_value() -> None:
    air = POINT._replace(medium="indoor_air", surface="")
    signs = {symbol_of(air, PlaceValue(size_class, marked)) for size_class in (None, -1, 4) for marked in (True, False)}
    assert signs == {AIR_SYMBOL}
    assert symbol_of(air._replace(state="lost"), PlaceValue(None)).kind == "lost"
    drawn = draw(AIR_SYMBOL, 0, 0)
    assert "<polygon" in drawn
    assert "<circle" in drawn
    assert not [colour for colour in CLASS_COLOURS if colour in drawn]


def test_only_a_detection_is_filled_with_a_class_colour() -> None:
    assert CLASS_COLOURS[2] in draw(Symbol("class", "square", 4, CLASS_COLOURS[2]), 0, 0)
    assert 'fill="#ffffff"' in draw(Symbol("nondetect", "square", 4), 0, 0)


def test_a_mark_adds_a_ring_outside_the_symbol() -> None:
    marked = Symbol("class", "triangle", 4, "#000000", ring=True)
    radius = re.search(r' r="([\d.]+)"', draw(marked, 0, 0))
    assert radius is not None
    assert float(radius[1]) > 4 * stretch("triangle")


@pytest.mark.parametrize(("shape", "corners"), [("triangle", 3), ("square", 4), ("diamond", 4), ("hexagon", 6)])
def test_shapes_of_one_class_have_one_area(shape: str, corners: int) -> None:
    reach = 5 * stretch(shape)
    assert corners / 2 * reach**2 * math.sin(2 * math.pi / corners) == pytest.approx(math.pi * 25)


def test_as_many_filled_symbols_as_detections() -> None:
    values = place_values()
    svg = symbol_map("pce", ground(), values, LABELS)
    for size_class in range(len(LABELS)):
        sampled = [
            value
            for value, point in zip(values, place_points(), strict=True)
            if value.size_class == size_class and point.state == "retrieved" and point.medium == "soil_gas"
        ]
        in_legend = 1
        assert svg.count(f'fill="{CLASS_COLOURS[size_class]}"') == len(sampled) + in_legend


def test_the_legend_says_the_unit_every_class_and_the_signs_that_occur() -> None:
    said = texts(symbol_map("pce", ground(), place_values(), LABELS))
    assert "Mass, ng per sampler" in said
    assert [words for words in said if words in LABELS] == list(reversed(LABELS))
    assert {"not detected (hollow)", "not analysed", "sampler lost", "not installed"} <= set(said)
    assert {"air point, see Air results"} <= set(said)
    assert "sample- or result-specific qualification (ring)" in " ".join(said)


def test_the_legend_keeps_quiet_about_signs_that_do_not_occur() -> None:
    said = texts(symbol_map("x", square_ground(POINT), [PlaceValue(1)], LABELS))
    assert not {
        "not detected (hollow)",
        "sampler lost",
        "not installed",
        "planned, no sampler on record",
        "air point, see Air results",
    } & set(said)
    assert "ring" not in " ".join(said)


def test_every_drawing_names_the_coordinate_system_and_grid_north() -> None:
    for svg in (location_map("a", ground()), symbol_map("b", ground(), place_values(), LABELS)):
        assert CRS_TEXT in texts(svg)
        assert "grid north" in texts(svg)


def test_labels_are_drawn_or_counted() -> None:
    said = texts(symbol_map("pce", ground(200), place_values(200), LABELS))
    placed = [words for words in said if words.startswith("SG-")]
    names = {feature.name for feature in ground().features}
    placed += [words for words in said if words in names]
    left_out = next(int(words.split()[0]) for words in said if "omitted for clarity" in words)
    assert len(placed) + left_out == 200 + len(names)


def test_a_moved_point_is_joined_to_its_plan() -> None:
    near = POINT._replace(plan_easting_m=470010.3, plan_northing_m=4770010.0)
    far = POINT._replace(easting_m=470050, plan_easting_m=470052.0, plan_northing_m=4770010.0)
    lines = [location_map("x", square_ground(point)).count("<line ") for point in (near, far)]
    in_legend = 1
    assert lines[1] - lines[0] == 1
    assert lines[0] >= in_legend


box_sizes = st.tuples(st.floats(0, 300), st.floats(0, 300), st.floats(2, 40), st.floats(2, 12))


@given(st.lists(box_sizes, max_size=60))
@settings(max_examples=40, deadline=None)
def test_placed_labels_touch_neither_each_other_nor_foreign_symbols(
    wishes: list[tuple[float, float, float, float]],
) -> None:
    symbols = [Box(x - 4, y - 4, x + 4, y + 4) for x, y, _, _ in wishes]
    wanted = [Wanted(x, y, w, h, 5, i) for i, (x, y, w, h) in enumerate(wishes)]
    bounds = Box(0, 0, 300, 300)
    placed = place_labels(wanted, symbols, bounds)
    kept = [(i, box) for i, box in enumerate(placed) if box is not None]
    for n, (i, a) in enumerate(kept):
        assert a.left >= bounds.left
        assert a.bottom <= bounds.bottom
        others = [box for _, box in kept[n + 1 :]] + [box for j, box in enumerate(symbols) if j != i]
        for b in others:
            apart_x = a.right <= b.left or b.right <= a.left
            apart_y = a.bottom <= b.top or b.bottom <= a.top
            assert apart_x or apart_y


def test_text_width_agrees_with_the_font_s_own_tables() -> None:
    """Advance widths of DejaVu Sans 2.37, from its hmtx table: zero 1303, M 1767 of 2048."""
    assert text_width("0", 2048) == pytest.approx(1303)
    assert text_width("M", 2048) == pytest.approx(1767)


def test_a_wide_site_fills_the_sheet_and_a_tall_one_leaves_room_beside_it() -> None:
    wide = tuple(POINT._replace(easting_m=470000 + x, northing_m=4770000 + y) for x, y in ((0, 0), (200, 90)))
    tall = tuple(POINT._replace(easting_m=470000 + x, northing_m=4770000 + y) for x, y in ((0, 0), (90, 200)))
    frames = [prepare_ground(points, (), CRS_TEXT).frame for points in (wide, tall)]
    assert frames[0].width > 1.3 * frames[1].width
    for frame, points in zip(frames, (wide, tall), strict=True):
        xs, ys = zip(*(frame.place(p.easting_m, p.northing_m) for p in points), strict=True)
        filled = max((max(xs) - min(xs)) / frame.width, (max(ys) - min(ys)) / frame.height)
        assert filled > 0.9


def test_points_two_dozen_metres_apart_all_keep_their_labels() -> None:
    """A 10 by 8 grid of 24 m, as in the field: nothing is left out."""
    spots = [(24.0 * (i % 10), 24.0 * (i // 10)) for i in range(80)]
    points = tuple(
        POINT._replace(label=f"SG-{i:02d}", easting_m=470000 + x, northing_m=4770000 + y)
        for i, (x, y) in enumerate(spots)
    )
    said = texts(symbol_map("x", prepare_ground(points, (), CRS_TEXT), [PlaceValue(4)] * 80, LABELS))
    assert not [words for words in said if "left out" in words]
    assert {point.label for point in points} <= set(said)


def test_a_label_without_room_beside_its_point_is_led_to() -> None:
    wish = Wanted(50, 50, 20, 6, 4, 0)
    fence = [Box(46, 46, 54, 54), Box(20, 40, 45, 60), Box(55, 40, 80, 60), Box(20, 30, 80, 40)]
    placed = place_labels([wish], fence, Box(0, 0, 100, 100))[0]
    assert placed is not None
    ends = leader(wish, placed)
    assert ends is not None
    assert math.dist(ends[:2], (50, 50)) == pytest.approx(4)
    assert placed.left <= ends[2] <= placed.right
    assert placed.top <= ends[3] <= placed.bottom


def test_an_air_point_above_a_level_differs_in_shape_size_and_legend() -> None:
    """A cross in a larger, filled hexagon, not a dot in a hollow one; the legend has a row for what occurs."""
    air = POINT._replace(medium="indoor_air", surface="")
    plain, above = (symbol_of(air._replace(above=said), PlaceValue(2)) for said in (False, True))
    assert (plain.kind, above.kind) == ("air", "air_above")
    assert above.radius > plain.radius
    assert "<path" in draw(above, 0, 0)
    assert "<path" not in draw(plain, 0, 0)
    said = texts(symbol_map("x", square_ground(air._replace(above=True)), [PlaceValue(2)], LABELS))
    assert "air above a level, see Air results" in " ".join(said)
    assert "air point, see Air results" not in said
