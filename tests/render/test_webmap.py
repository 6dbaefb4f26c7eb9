"""The web map's files: whole, local, safe from what the data say, the same every time."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser

import pytest
from synthetic_map import feature, lon_lat, map_data, meta, places, value_at

from sitegen.figures.features import FEATURE_STYLES
from sitegen.figures.look import CLASS_COLOURS, SURFACE_SHAPES
from sitegen.render.map.webmap import map_files, map_payload, script_safe_json
from sitegen.report.record.maps import MapBackground, MapData, MapLayer, MapMark, MapPoint, MapTiles, MapValue

HOSTILE = "</script><img src=x onerror=alert(1)>&\u2028'\"{{ 7*7 }}"


def url(location_id: str) -> str:
    return f"../locations/{location_id}.html"


def page_of(data: MapData) -> str:
    return map_files(data, meta(), url)["map/index.html"].decode("utf-8")


def data_in(page: str) -> dict[str, object]:
    """Read the data back the way the page's script does."""
    block = re.search(r'<script type="application/json" id="map-data">(.*?)</script>', page, re.DOTALL)
    assert block is not None
    found = json.loads(block.group(1))
    assert isinstance(found, dict)
    return found


class Resources(HTMLParser):
    """Collects what a page loads and the ids that it uses."""

    def __init__(self) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what this tag loads and its id."""
        found = dict(attrs)
        if tag in {"script", "link", "img", "iframe"}:
            self.loads += [value for key in ("src", "href") if (value := found.get(key))]
        if identity := found.get("id"):
            self.ids.append(identity)


def resources(page: str) -> Resources:
    parser = Resources()
    parser.feed(page)
    return parser


def test_every_file_the_page_loads_is_among_the_files() -> None:
    files = map_files(map_data(), meta(), url)
    loads = resources(files["map/index.html"].decode()).loads
    assert "leaflet.js" in loads
    assert all(f"map/{name}" in files for name in loads)


def test_every_picture_the_styles_name_is_among_the_files() -> None:
    files = map_files(map_data(), meta(), url)
    for name in ("map/leaflet.css", "map/map.css"):
        pictures = re.findall(r"url\((images/[^)]+)\)", files[name].decode())
        assert all(f"map/{picture}" in files for picture in pictures)


def test_our_own_files_name_no_address_outside() -> None:
    files = map_files(map_data(), meta(), url)
    own = [name for name in files if not name.startswith(("map/leaflet", "map/images"))]
    assert len(own) == 8
    assert not [name for name in own if re.search(rb"https?://|//[a-z]+\.", files[name])]


def test_element_ids_are_unique_and_never_random() -> None:
    ids = resources(page_of(map_data())).ids
    assert len(ids) == len(set(ids))
    assert "map_sitegen" in ids


def test_the_same_data_give_the_same_bytes() -> None:
    assert map_files(map_data(), meta(), url) == map_files(map_data(), meta(), url)


def test_points_stand_once_and_in_order_and_values_lead_back_to_the_data() -> None:
    data = map_data()
    found = map_payload(data, meta(), url)
    assert [point[0] for point in found["points"]] == [point.location_id for point in data.points]
    for layer, drawn in zip(data.layers, found["layers"], strict=True):
        for value, place in zip(layer.values, drawn["v"], strict=True):
            text, size_class, marks = found["values"][place]
            assert (text, size_class) == (value.text, value.size_class)
            assert tuple(MapMark(*found["marks"][mark]) for mark in marks) == value.marks


def test_a_value_that_differs_only_in_its_marks_is_a_value_of_its_own() -> None:
    points = map_data(2).points
    values = (MapValue("12", 1, ()), MapValue("12", 1, (MapMark("trip blank"),)))
    layers = (MapLayer("a", "A", "ng per sampler", values),)
    found = map_payload(map_data(2, points=points, layers=layers), meta(), url)
    assert found["layers"][0]["v"] == [0, 1]


def test_hostile_words_come_back_as_written_and_open_no_tag() -> None:
    point = (
        map_data(1)
        .points[0]
        ._replace(
            location_id="SG/1", label=HOSTILE, surface=HOSTILE, marks=(MapMark(HOSTILE, HOSTILE),), detected=HOSTILE
        )
    )
    layer = MapLayer(HOSTILE, HOSTILE, "ng per sampler", (MapValue(HOSTILE, 0, (MapMark(HOSTILE),)),))
    well = feature("well", HOSTILE, "Point", list(lon_lat(5, 5)))
    data = map_data(points=(point,), layers=(layer,), features=(well,), crs_text=HOSTILE)
    page = map_files(data, meta(site=HOSTILE), url)["map/index.html"].decode()
    assert "<img" not in page
    assert "49" not in re.sub(r"[\d.]{4,}", "", page.split("map-data")[0])
    found = json.dumps(data_in(page), ensure_ascii=False)
    assert found.count(json.dumps(HOSTILE, ensure_ascii=False)) >= 8


def test_script_safe_json_keeps_the_value() -> None:
    value = {"a": [HOSTILE, None, 1.5]}
    text = script_safe_json(value)
    assert json.loads(text) == value
    assert not set("<>&\u2028\u2029") & set(text)


def test_a_feature_brings_only_its_kind_name_and_shape() -> None:
    secret = feature("building", "Office", "Point", list(lon_lat(1, 1)))
    secret["properties"]["phone"] = "555-0100"
    page = page_of(map_data(features=(secret,)))
    assert "Office" in page
    assert "555-0100" not in page


def test_features_are_drawn_from_the_ground_up_and_unknown_kinds_as_other() -> None:
    spot = list(lon_lat(1, 1))
    kinds = ("well", "no_such_kind", "building", "paved_area")
    data = map_data(features=tuple(feature(kind, kind, "Point", spot) for kind in kinds))
    drawn = [item["kind"] for item in map_payload(data, meta(), url)["features"]]
    assert drawn == ["paved_area", "other", "building", "well"]


@pytest.mark.parametrize(
    ("medium", "surface", "shape"),
    [
        *[("soil_gas", surface, shape) for surface, shape in SURFACE_SHAPES.items()],
        ("indoor_air", "", "hexagon"),
        ("outdoor_air", "soil", "hexagon"),
        ("soil_gas", "", "diamond"),
    ],
)
def test_shape_says_the_surface(medium: str, surface: str, shape: str) -> None:
    point = map_data(1).points[0]._replace(medium=medium, surface=surface)
    found = map_payload(map_data(1, points=(point,)), meta(), url)
    assert found["points"][0][4] == shape


def test_a_layer_with_the_wrong_number_of_values_is_refused() -> None:
    layer = MapLayer("a", "A", "ng per sampler", (MapValue("1", 0, ()),))
    with pytest.raises(ValueError, match="1 values for 57 points"):
        map_files(map_data(layers=(layer,)), meta(), url)


def test_two_layers_with_one_id_are_refused() -> None:
    layer = map_data(2, 1).layers[0]
    with pytest.raises(ValueError, match="given twice"):
        map_files(map_data(2, layers=(layer, layer)), meta(), url)


def test_a_class_without_a_label_is_refused() -> None:
    layer = MapLayer("a", "A", "ng per sampler", (MapValue("1", 3, ()),))
    with pytest.raises(ValueError, match="a class beyond the 2"):
        map_files(map_data(1, layers=(layer,), class_labels=("low", "high")), meta(), url)


def test_an_empty_map_is_still_a_page() -> None:
    data = map_data(points=(), layers=(), features=())
    assert data_in(page_of(data))["points"] == []


def test_a_large_survey_stays_under_three_megabytes() -> None:
    """2,000 points and 60 compounds, no two values alike within a compound."""
    spots = places(2000)
    layers = tuple(
        MapLayer(
            f"c{k}",
            f"Compound {k}",
            "ng per sampler",
            tuple(value_at(i, *spot, k)._replace(text=f"{1000 + i * 7 + k:,}") for i, spot in enumerate(spots)),
        )
        for k in range(60)
    )
    assert len(page_of(map_data(2000, layers=layers))) < 3_000_000


def test_every_feature_kind_of_the_folder_format_has_a_style() -> None:
    kinds = {
        "site_boundary", "building", "paved_area", "utility", "tank",
        "suspected_source", "well", "surface_water", "flow_line", "other",
    }  # fmt: skip
    assert set(FEATURE_STYLES) == kinds
    assert not {style.fill for style in FEATURE_STYLES.values()} & set(CLASS_COLOURS)


def test_location_links_are_the_ones_given() -> None:
    point: MapPoint = map_data(1).points[0]
    found = map_payload(map_data(1), meta(), url)
    assert found["points"][0][-1] == url(point.location_id)


def test_a_layer_says_its_group_and_whether_its_words_are_whole() -> None:
    plain, summed = map_data(2, 2).layers
    layers = (plain, MapLayer("sum-x", "Sum", summed.unit, summed.values, "Sums", whole_words=True))
    found = map_payload(map_data(2, layers=layers), meta(), url)["layers"]
    assert [(layer["group"], layer["whole"]) for layer in found] == [("", False), ("Sums", True)]


def test_nothing_lies_under_the_points_unless_the_project_asks() -> None:
    files = map_files(map_data(), meta(), url)
    assert map_payload(map_data(), meta(), url)["under"] == {}
    assert not [name for name in files if "background" in name]


def test_a_background_is_copied_under_a_name_of_ours_with_its_edges_and_licence() -> None:
    picture = MapBackground('records/../"x".PNG', -99.4, 43.0, -99.3, 43.1, HOSTILE)
    data = map_data(background=picture)
    files = map_files(data, meta(), url, b"picture")
    assert files["map/background.png"] == b"picture"
    found = data_in(files["map/index.html"].decode())["under"]
    assert found == {"picture": {"file": "background.png", "edges": [[43.0, -99.4], [43.1, -99.3]], "licence": HOSTILE}}


def test_tiles_name_the_host_that_is_asked() -> None:
    data = map_data(tiles=MapTiles("https://{s}.tiles.invalid/{z}/{x}/{y}.png", "Invented"))
    assert map_payload(data, meta(), url)["under"]["tiles"]["host"] == "tiles.invalid"
