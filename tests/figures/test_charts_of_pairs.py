"""Small maps, charts of pairs, transects, contour layers: every datum is drawn, in its place."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from synthetic_figures import LABELS, ground, place_points, place_values

from sitegen.figures.axes import LogAxis, PlainAxis
from sitegen.figures.contour import Area, LagDot, contour_layer, variogram
from sitegen.figures.look import ACCENT, CLASS_COLOURS, WARN
from sitegen.figures.multiples import COLUMNS, Panel, small_multiples
from sitegen.figures.scatter import BlankPair, before_after
from sitegen.figures.sitemap import changed_map, suggestion_map, symbol_map
from sitegen.figures.transect import Profile, Station, transect

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "<script>&\"'"


def tree(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in tree(svg).iter(f"{SVG}text")]


@given(st.lists(st.floats(1e-3, 1e7), min_size=1, max_size=20))
def test_a_decade_axis_holds_its_values_in_order(values: list[float]) -> None:
    axis = LogAxis.over(values, 0, 100)
    placed = [axis.at(value) for value in sorted(values)]
    assert placed == sorted(placed)
    assert 10.0**axis.low <= min(values) * (1 + 1e-9)
    assert max(values) <= 10.0**axis.high * (1 + 1e-9)
    assert [axis.at(value) for value, _ in axis.ticks][:: len(axis.ticks) - 1] == [0.0, 100.0]


def test_nothing_at_or_below_zero_stands_on_a_decade_axis() -> None:
    with pytest.raises(ValueError, match="above zero"):
        LogAxis.over([1.0, 0.0], 0, 1)


def test_a_plain_axis_has_ticks_within_it() -> None:
    assert all(2 <= value <= 17 for value, _ in PlainAxis(0, 1, 2, 17).ticks)


def test_small_maps_share_one_ground_and_draw_every_detection() -> None:
    panels = [Panel(f"Compound {k}", "", place_values(57, k)) for k in range(5)]
    svg = small_multiples("all", ground(), panels, LABELS)
    uses = [element.attrib["href"] for element in tree(svg).iter(f"{SVG}use")]
    known = {element.attrib.get("id") for element in tree(svg).iter()}
    assert len(uses) == 5
    assert len(set(uses)) == 1
    assert uses[0][1:] in known
    for size_class, colour in enumerate(CLASS_COLOURS[: len(LABELS)]):
        shown = sum(
            value.size_class == size_class and point.state == "retrieved" and point.medium == "soil_gas"
            for panel in panels
            for value, point in zip(panel.values, place_points(), strict=True)
        )
        assert svg.count(f'fill="{colour}"') == shown + 1
    words = [element.text for element in tree(svg).iter(f"{SVG}text")]
    assert "Shape: surface" in words, "shapes are drawn, so the legend explains them"


def test_small_maps_stand_in_rows() -> None:
    panels = [Panel(str(k), "", place_values()) for k in range(COLUMNS + 1)]
    found = re.findall(r"<use [^>]*translate\(([-\d.]+) ([-\d.]+)\)", small_multiples("x", ground(), panels, LABELS))
    assert len({y for _, y in found}) == 2
    assert found[0][0] == found[COLUMNS][0]


def test_a_panel_with_a_value_too_few_is_refused() -> None:
    with pytest.raises(ValueError, match="shorter"):
        small_multiples("x", ground(), [Panel("a", "", place_values()[:-1])], LABELS)


def test_before_and_after_are_joined_where_they_differ() -> None:
    pairs = [BlankPair("Toluene", 51, 25, 11), BlankPair("Benzene", 51, 20, 20)]
    svg = before_after("x", pairs)
    assert {"25 to 11", "20", "Toluene", "Benzene"} <= set(texts(svg))
    joins = [e for e in tree(svg).iter(f"{SVG}line") if e.attrib.get("stroke") == WARN]
    assert len(joins) == 1


def test_a_transect_never_draws_through_a_non_detect() -> None:
    stations = [
        Station("A", 0, 1000.0, 10.0),
        Station("B", 10, None, 10.0),
        Station("C", 20, 500.0, 10.0),
        Station("D", 30, 300.0, 10.0),
    ]
    svg = transect("x", [Profile("PCE", stations)], 40.0)
    joins = [e for e in tree(svg).iter(f"{SVG}line") if e.attrib.get("stroke-width") == "1.4"]
    lines = [e for e in joins if e.attrib["stroke"] != WARN]
    assert len(lines) == 1
    dots = [e for e in tree(svg).iter(f"{SVG}circle") if e.attrib["r"] == "4"]
    assert len(dots) == 3
    assert [float(dot.attrib["cx"]) for dot in dots] == sorted(float(dot.attrib["cx"]) for dot in dots)
    assert {"A", "B", "C", "D", "PCE"} <= set(texts(svg))


def test_a_transect_joins_no_point_far_from_its_line() -> None:
    """B lies 4 m off: A and C are joined past it, it is pale, and the key says so; at 3 m it is joined."""

    def drawn(off_m: float) -> tuple[int, list[str], bool]:
        near = [Station("A", 0, 1000.0, 10.0), Station("C", 20, 500.0, 10.0)]
        svg = transect("x", [Profile("PCE", [*near, Station("B", 10, 9.0, 10.0, off_m=off_m)])], 20.0)
        joins = [e for e in tree(svg).iter(f"{SVG}line") if e.attrib.get("stroke-width") == "1.4"]
        fills = [e.attrib["fill"] for e in tree(svg).iter(f"{SVG}circle")]
        return len(joins), fills, "pale, not joined: more than 3 m from the line" in texts(svg)

    pale, dark = "#9dbdc0", ACCENT
    assert drawn(4.0) == (1, [pale, dark, dark, pale], True)
    assert drawn(3.0) == (2, [dark, dark, dark], False)


def test_a_transect_without_profiles_is_still_a_drawing() -> None:
    assert tree(transect("x", [], 10.0)).tag == f"{SVG}svg"


def test_contour_areas_land_where_the_frame_says_and_stay_inside_it() -> None:
    site = ground()
    west_m, east_m, south_m, north_m = site.frame.limits_m
    ring = ((west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, south_m))
    svg = contour_layer("x", site, [Area(3, (ring,))])
    assert CLASS_COLOURS[3] in svg
    x, _y = site.frame.place(west_m, south_m)
    assert f'd="M{x:.2f}'.rstrip("0").rstrip(".") in svg
    window = re.search(r'<clipPath[^>]*id="([^"]+)"', svg)
    assert window is not None
    assert f'clip-path="url(#{window[1]})"' in svg
    assert contour_layer("x", site, []) == ""


def test_contours_lie_under_the_points() -> None:
    site = ground()
    west_m, east_m, south_m, north_m = site.frame.limits_m
    ring = ((west_m, south_m), (east_m, south_m), (east_m, north_m), (west_m, south_m))
    under = contour_layer("x", site, [Area(0, (ring,))])
    svg = symbol_map("x", site, place_values(), LABELS, under=under)
    first_symbol = min(svg.index(f'fill="{colour}"', svg.index("</clipPath>") + 200) for colour in CLASS_COLOURS[1:4])
    assert svg.index("<clipPath") < first_symbol


def test_a_variogram_shows_every_lag_with_its_pairs() -> None:
    lags = [LagDot(10.0, 0.2, 57), LagDot(20.0, 0.5, 299)]
    curve = list(zip(np.linspace(0, 20, 5).tolist(), np.linspace(0, 0.5, 5).tolist(), strict=True))
    svg = variogram("x", lags, curve)
    assert {"57", "299"} <= set(texts(svg))
    assert len(list(tree(svg).iter(f"{SVG}circle"))) == 2


def test_suggested_places_are_rings_with_their_numbers() -> None:
    point = place_points()[5]
    svg = suggestion_map("x", ground(), [("1", point.easting_m, point.northing_m)])
    ring = next(e for e in tree(svg).iter(f"{SVG}circle") if e.attrib.get("stroke-dasharray") == "3 2")
    assert (float(ring.attrib["cx"]), float(ring.attrib["cy"])) == pytest.approx(
        ground().frame.place(point.easting_m, point.northing_m), abs=0.01
    )
    assert "1" in texts(svg)


def test_changed_points_stand_in_rings_that_the_legend_explains() -> None:
    point = place_points()[5]
    svg = changed_map("x", ground(), [(point.easting_m, point.northing_m)])
    (ring,) = (e for e in tree(svg).iter(f"{SVG}circle") if e.attrib.get("stroke-width") == "1.8")
    assert (float(ring.attrib["cx"]), float(ring.attrib["cy"])) == pytest.approx(
        ground().frame.place(point.easting_m, point.northing_m), abs=0.01
    )
    assert "changed (broad ring)" in texts(svg)


def test_words_from_the_data_are_escaped_everywhere() -> None:
    drawn = [
        small_multiples("x", ground(), [Panel(HOSTILE, HOSTILE, place_values())], LABELS),
        before_after("x", [BlankPair(HOSTILE, 5, 3, 1)]),
        transect("x", [Profile(HOSTILE, [Station(HOSTILE, 0, 1.0, 1.0)])], 5.0),
    ]
    for svg in drawn:
        assert "<script" not in svg
        assert HOSTILE in texts(svg)
