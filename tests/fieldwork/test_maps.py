"""The crew's maps: every point on a sheet, at its place, black on white, and the margins as wide as they say."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree as ET

import pytest
import shapely
from builders import every, feature_added, removed, setting, table, without_features
from fieldwork.planned_survey import LOCATIONS, planned
from hypothesis import given
from hypothesis import strategies as st
from kits import printed, text_of
from survey_in_feet import feet

from sitegen.fieldwork.kit.maps import KitMap, _scene, kit_maps
from sitegen.fieldwork.kit.tiles import MOST_POINTS, groups, window
from sitegen.figures.fieldlook import FEATURE_LOOKS, GROUND_LOOKS
from sitegen.figures.fieldmap import field_map
from sitegen.figures.fieldscene import CarriedPoint, FieldScene, Window
from sitegen.figures.inputs import PlaceFeature

SVG = "{http://www.w3.org/2000/svg}"
SCALED = Window(0.0, 100.0, 0.0, 100.0)


@cache
def example_maps() -> tuple[KitMap, ...]:
    return kit_maps(*planned())


def tree_of(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - our own


def words_of(svg: str) -> list[str]:
    return ["".join(one.itertext()) for one in tree_of(svg).iter(f"{SVG}text")]


def scene(*points: CarriedPoint, features: tuple[PlaceFeature, ...] = ()) -> FieldScene:
    return FieldScene(points, features, (), "", "EPSG:0 (by hand)")


def test_every_point_stands_on_the_overview_and_on_a_detail_map() -> None:
    """The example's ids crowd: each stands on the overview or is listed there, and stands on a detail map."""
    survey, plan = planned()
    overview, *details = kit_maps(survey, plan)
    ids = {point.location_id for point in plan.points}
    assert details
    assert {*overview.points, *overview.left_out} == ids
    assert {name for one in details for name in one.points} == ids
    for one in (overview, *details):
        shown = {word.removesuffix(" (start)").removesuffix(" (end)") for word in words_of(one.svg)}
        assert set(one.points) <= shown
        assert not set(one.left_out) & shown
        assert one.alt.startswith(one.title)


def test_a_few_points_need_no_detail_map() -> None:
    """Where each id has room beside its point there is the overview alone."""
    few = table(LOCATIONS, lambda rows: [row for row in rows if row["location_id"] in ("SG-01", "SG-12", "SG-33")])
    (only,) = kit_maps(*planned(few))
    assert sorted(only.points) == ["SG-01", "SG-12", "SG-33"]
    assert not only.left_out


def test_distances_on_a_sheet_are_those_of_the_site() -> None:
    """Signs stand as far apart as their points, by the sheet's own scale bar; north is up."""
    drawn = field_map("a", scene(CarriedPoint("A", 10, 20, "unpaved"), CarriedPoint("B", 70, 60, "paved")), SCALED)
    tree = tree_of(drawn.svg)
    circles = [c for c in tree.iter(f"{SVG}circle") if c.get("fill") == "#ffffff"]
    (ax, ay), (bx, by) = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in circles[:2]]
    bars = [r for r in tree.iter(f"{SVG}rect") if r.get("height") == "5" and r.get("stroke")]
    metres = float(next(w for w in words_of(drawn.svg) if re.fullmatch(r"[\d.]+ m", w)).removesuffix(" m"))
    to_m = metres / float(bars[0].attrib["width"])
    assert (bx - ax) * to_m == pytest.approx(60, abs=0.1)
    assert (ay - by) * to_m == pytest.approx(40, abs=0.1)


def test_a_site_in_feet_has_a_scale_bar_in_feet() -> None:
    """Its width is that of its own feet, and metres stand below."""
    own = scene(CarriedPoint("A", 10, 20, "unpaved"), CarriedPoint("B", 70, 60, "paved"))
    drawn = [field_map("a", replace(own, feet=feet), SCALED) for feet in (False, True)]
    widths = [
        float(next(r for r in tree_of(one.svg).iter(f"{SVG}rect") if r.get("height") == "5").attrib["width"])
        for one in drawn
    ]
    in_m, in_ft = (next(w for w in words_of(one.svg) if re.fullmatch(r"[\d.]+ (m|ft)", w)) for one in drawn)
    assert widths[0] / float(in_m.removesuffix(" m")) == pytest.approx(
        widths[1] / (0.3048 * float(in_ft.removesuffix(" ft"))), rel=0.01
    )
    assert f"({float(in_ft.removesuffix(' ft')) * 0.3048:.1f} m)" in words_of(drawn[1].svg)


def test_maps_say_that_the_crews_coordinates_are_of_another_system() -> None:
    """Whoever stakes out in feet does not take the numbers along the edges for his own."""
    told = "Log sheets and stake-out files use other coordinates: EPSG:3455"
    assert told in words_of(kit_maps(*planned(*feet("us_survey")))[0].svg)
    assert not any("other coordinates" in word for word in words_of(example_maps()[0].svg))


def test_coordinates_along_the_edges_are_those_of_the_points() -> None:
    """A point whose easting is written below the map stands above that number."""
    drawn = field_map("a", scene(CarriedPoint("A", 40, 20, "unpaved"), CarriedPoint("B", 60, 40, "air")), SCALED)
    marks = {"".join(t.itertext()): t for t in tree_of(drawn.svg).iter(f"{SVG}text") if "transform" not in t.attrib}
    circle = next(c for c in tree_of(drawn.svg).iter(f"{SVG}circle"))
    assert float(circle.attrib["cx"]) == pytest.approx(float(marks["40"].attrib["x"]), abs=0.02)


def test_nothing_but_black_and_white() -> None:
    """No colour, no tint, no half transparency on any sheet."""
    for one in example_maps():
        colours = set(re.findall(r'(?:fill|stroke)="([^"]*)"', one.svg))
        assert colours <= {"none", "#000000", "#ffffff"}, colours
        assert "opacity" not in one.svg


def test_grounds_differ_in_shape_and_in_filling() -> None:
    """No two grounds share a shape, and both filled and open signs are in use."""
    assert len({look.shape for look in GROUND_LOOKS.values()}) == len(GROUND_LOOKS)
    assert {look.filled for look in GROUND_LOOKS.values()} == {True, False}
    lines = [(look.width, look.dash, look.arrow) for look in FEATURE_LOOKS.values()]
    assert len(set(lines)) == len(lines)


@pytest.mark.parametrize(
    ("words", "distance_m", "said"),
    [
        ("", 1.0, "keep out: 1 m from utilities"),
        ('[plan.keep_off]\nutilities = { value = 5.0, unit = "ft" }\n', 1.524, "keep out: 5 ft from utilities"),
    ],
)
def test_the_margin_is_as_wide_as_it_says(words: str, distance_m: float, said: str) -> None:
    """The hatching ends as far from the line as the plan states, or the project's limit; 1 ft is 0.3048 m."""
    survey, plan = planned(setting("[limits.duplicate_rpd_pct]", f"{words}[limits.duplicate_rpd_pct]"))
    found = _scene(survey, plan)
    lines = shapely.MultiLineString([p for one in found.features if one.kind == "utility" for p in one.parts])
    apart = [shapely.Point(spot).distance(lines) for ring in found.keep_off for spot in ring]
    assert max(apart) == pytest.approx(distance_m, abs=0.001)
    assert min(apart) > 0.97 * distance_m
    overview = kit_maps(survey, plan)[0]
    assert said in words_of(overview.svg)
    assert 'clip-path="url(#f-overview.keep-off)"' in overview.svg


def test_points_within_the_margin_are_told() -> None:
    """Whoever looks at a map reads which holes would lie too near a utility; an air point has none."""
    survey, plan = planned()
    found = _scene(survey, plan)
    lines = shapely.MultiLineString([p for one in found.features if one.kind == "utility" for p in one.parts])
    near = {one.location_id for one in plan.points if shapely.Point(one.x_m, one.y_m).distance(lines) < 0.99}
    assert {one.label for one in found.points if one.too_near} == near
    assert near
    told = [word for word in words_of(kit_maps(survey, plan)[0].svg) if word.startswith("Within the keep-out margin")]
    assert len(told) == 1
    assert any(name in told[0] for name in near)
    on_line = lines.geoms[0].interpolate(0.5, normalized=True)
    at = {"plan_easting": f"{on_line.x:.3f}", "plan_northing": f"{on_line.y:.3f}"}
    moved = every(LOCATIONS, lambda row: at if row["location_id"] in ("IA-01", "SG-01") else {})
    anew = {one.label: one.too_near for one in _scene(*planned(moved)).points}
    assert (anew["SG-01"], anew["IA-01"]) == (True, False)


def test_the_small_key_shows_the_whole_site() -> None:
    """Beside a detail stand all points as dots and each sheet's number, those beyond this sheet too."""
    far = scene(CarriedPoint("A", 50, 50, "paved"), CarriedPoint("B", 500, 400, "slab"))
    keyed = replace(far, sheets=(SCALED, Window(400, 600, 300, 500)))
    drawn = field_map("a", keyed, SCALED, ["A"], 0)
    assert drawn.svg.count('r="0.8"') == 2
    assert {"This is detail map 1", "1", "2"} <= set(words_of(drawn.svg))


def test_without_utilities_nothing_is_hatched_or_said() -> None:
    """No line on the map, no words about keeping out."""
    overview = kit_maps(*planned(without_features("utility")))[0]
    assert "keep-off" not in overview.svg
    assert not [word for word in words_of(overview.svg) if "keep out" in word or "clearance" in word]


def test_an_id_without_room_is_listed_and_told() -> None:
    """Of many points on one spot some find no room: none is lost without a word."""
    crowd = [CarriedPoint(f"CROWD-{i:03}", 50, 50, "unpaved") for i in range(90)]
    drawn = field_map("a", scene(*crowd), SCALED)
    assert drawn.left_out
    assert sorted((*drawn.labelled, *drawn.left_out)) == [one.label for one in crowd]
    assert any(word.startswith("Ids omitted for clarity: ") for word in words_of(drawn.svg))


def test_a_sheet_gives_room_to_its_own_points_first() -> None:
    """On the spot where not all have room the asked-for id stands on it."""
    crowd = [CarriedPoint(f"CROWD-{i:03}", 50, 50, "unpaved") for i in range(90)]
    left = field_map("a", scene(*crowd), SCALED).left_out[-1]
    assert left in field_map("a", scene(*crowd), SCALED, [left]).labelled


def test_the_way_runs_through_the_points_in_their_order() -> None:
    """The thin line's corners are the signs' places; its ends are told."""
    points = [CarriedPoint("A", 10, 10, "slab"), CarriedPoint("B", 90, 10, "air"), CarriedPoint("C", 90, 90, "paved")]
    drawn = field_map("a", scene(*points), SCALED)
    tree = tree_of(drawn.svg)
    line = next(p for p in tree.iter(f"{SVG}path") if p.get("stroke-width") == "0.7" and p.get("fill") == "none")
    corners = [float(word) for word in re.findall(r"[\d.]+", line.attrib["d"])]
    circles = [c for c in tree.iter(f"{SVG}circle") if c.get("fill") == "#ffffff"]
    places = [float(c.attrib[axis]) for c in circles[:3] for axis in ("cx", "cy")]
    assert corners == pytest.approx(places)
    assert {"A (start)", "B", "C (end)"} <= set(words_of(drawn.svg))


def test_a_duplicate_has_a_ring() -> None:
    """The ring stands around the point that a duplicate is placed at, and its words in the key."""
    plain = field_map("a", scene(CarriedPoint("A", 40, 40, "paved")), SCALED)
    ringed = field_map("a", scene(CarriedPoint("A", 40, 40, "paved", doubled=True)), SCALED)
    assert "ring: a duplicate at the point" in words_of(ringed.svg)
    assert "ring: a duplicate at the point" not in words_of(plain.svg)
    assert ringed.svg.count("<circle") > plain.svg.count("<circle")


def test_the_plan_says_which_points_have_a_duplicate() -> None:
    """On the overview as many rings stand as the plan has duplicates, each around a point that has one."""
    survey, plan = planned()
    doubled = {slot.location_id for slot in plan.allocation.of("field_duplicate")}
    assert 0 < len(doubled) < len(plan.points) / 2
    assert {one.label for one in _scene(survey, plan).points if one.doubled} == doubled


def test_the_key_names_what_the_sheet_shows() -> None:
    """A detail without a well has none in its key, though the overview has; its way still leads beyond the sheet."""
    well = PlaceFeature("well", "W", "point", (((500, 500),),))
    far = scene(CarriedPoint("A", 50, 50, "paved"), CarriedPoint("B", 500, 400, "slab"), features=(well,))
    near, whole = field_map("a", far, SCALED), field_map("a", far, Window(0, 600, 0, 600))
    assert {"well", "below a building's floor"} <= set(words_of(whole.svg))
    assert not {"well", "below a building's floor"} & set(words_of(near.svg))
    assert near.labelled == ("A",)
    assert any(p.get("stroke-width") == "0.7" and "-" in p.attrib["d"] for p in tree_of(near.svg).iter(f"{SVG}path"))


def test_hostile_names_stay_words() -> None:
    """A feature and a point with signs of markup in their names are words of the drawing."""
    name = '<script>alert("1")</script>'
    shape = {"type": "Point", "coordinates": [-99.3676, 43.0829]}
    hostile = every(LOCATIONS, lambda row: {"location_id": "<i>&1"} if row["location_id"] == "SG-01" else {})
    overview, *_ = kit_maps(*planned(feature_added(shape, kind="well", name=name, public="yes"), hostile))
    assert "<script" not in overview.svg
    assert "<i>&1 (start)" in words_of(overview.svg)


def test_a_site_without_points_is_drawn_and_nothing_is_not() -> None:
    """A boundary alone makes one map that says so; neither points nor boundary makes none."""
    bare = table(LOCATIONS, lambda _: [])
    (only,) = kit_maps(*planned(bare))
    assert (only.points, only.alt) == ((), "Overview map: the site without points.")
    assert kit_maps(*planned(bare, removed("locations/features.geojson"))) == ()


def test_a_point_far_from_the_site_has_a_map_of_its_own() -> None:
    """A background point 400 m away makes no other map coarser."""
    near = [one.points for one in kit_maps(*planned())[1:]]
    ids = {name for points in near for name in points}
    survey, plan = planned()
    first = plan.points[0]
    away = replace(plan, points=(replace(first, x_m=first.x_m + 400.0), *plan.points[1:]))
    details = kit_maps(survey, away)[1:]
    alone = [one for one in details if first.location_id in one.points]
    assert [one.points for one in alone] == [(first.location_id,)]
    assert {name for one in details for name in one.points} == ids


def test_a_kit_without_a_map_says_so() -> None:
    """No blank page: nothing is mapped, and no hole is made without asking."""
    survey, _ = planned()
    said = text_of(printed("maps", survey, {"maps": []}))
    assert "Nopointposition" in said
    assert "Askbeforeanyholeismade" in said


def test_maps_are_the_same_each_time() -> None:
    """Two runs give the same bytes, and no two sheets share an id of their drawings."""
    assert example_maps() == kit_maps(*planned())
    ids = [one for sheet in example_maps() for one in re.findall(r'\sid="([^"]+)"', sheet.svg)]
    assert len(ids) == len(set(ids))


metres = st.floats(0, 500, allow_nan=False)


@given(st.lists(st.tuples(metres, metres), max_size=80), st.integers(1, 20))
def test_groups_hold_each_point_once(spots: list[tuple[float, float]], most: int) -> None:
    """Whatever the points, each is in one group, no group is too large, and its window holds it."""
    places = [(f"P{i}", x, y) for i, (x, y) in enumerate(spots)]
    made = groups(places, most)
    assert sorted(one for group in made for one in group) == sorted(places)
    for group in made:
        assert 1 <= len(group) <= most
        seen = window([(x, y) for _, x, y in group])
        assert all(seen.west_m < x < seen.east_m and seen.south_m < y < seen.north_m for _, x, y in group)


def test_groups_lie_together() -> None:
    """Four crowds far apart are four groups: none spans two of them."""
    corners = [(0, 0), (0, 500), (500, 0), (500, 500)]
    places = [(f"{i}-{j}", x + j, y + j % 3) for i, (x, y) in enumerate(corners) for j in range(MOST_POINTS)]
    assert [{name[0] for name, _, _ in group} for group in groups(places)] == [{"0"}, {"1"}, {"2"}, {"3"}]


def test_a_window_is_shown_whole() -> None:
    """Corners of wide, tall and square windows lie within the sheet's frame."""
    for wide, tall in ((200.0, 20.0), (20.0, 200.0), (100.0, 100.0), (0.0, 0.0)):
        seen = window([(0, 0), (wide, tall)])
        low, high = (seen.west_m, seen.south_m), (seen.east_m, seen.north_m)
        drawn = field_map("a", scene(CarriedPoint("A", *low, "unpaved"), CarriedPoint("B", *high, "air")), seen)
        circles = [c for c in tree_of(drawn.svg).iter(f"{SVG}circle") if c.get("fill") == "#ffffff"]
        (left, bottom), (right, top) = [(float(c.attrib["cx"]), float(c.attrib["cy"])) for c in circles[:2]]
        frame = next(r for r in tree_of(drawn.svg).iter(f"{SVG}rect") if r.get("stroke-width") == "1.2")
        x, y, width, height = (float(frame.attrib[name]) for name in ("x", "y", "width", "height"))
        assert x - 0.1 <= left < right <= x + width + 0.1
        assert y - 0.1 <= top < bottom <= y + height + 0.1
        across, up = (right - left) / (high[0] - low[0]), (bottom - top) / (high[1] - low[1])
        assert math.isclose(across, up, rel_tol=0.01)
