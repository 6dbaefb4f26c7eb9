"""The web map in a browser, opened as a file with the network cut."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.webdriver import WebDriver
from synthetic_map import CUSTODY, feature, lon_lat, map_data, meta
from windows import Window, frames, map_ready, tab_to, text_of, unfold, wait_for

from sitegen.figures.look import CLASS_COLOURS
from sitegen.figures.symbols import STATES
from sitegen.render.map.webmap import map_files
from sitegen.report.record.maps import MapData, MapLayer, MapMark, MapValue

HOSTILE = "<img src=x onerror=\"document.title='broken in'\">"
Opener = Callable[..., WebDriver]


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Iterator[Window]:
    """Show maps from a folder; a test ends without a console message."""
    shown = Window(browser, tmp_path)
    shown.console()
    shown.outside_requests()
    yield shown
    own_readback = "getImageData"  # said of the tests' own look at the pixels
    assert [message for message in shown.console() if own_readback not in message] == []


@pytest.fixture
def opened(window: Window) -> Opener:
    """Write a map and open it at an address part."""

    def open_map(data: MapData, at: str = "", width: int = 1280, height: int = 800) -> WebDriver:
        for name, content in map_files(data, meta(), lambda i: f"../locations/{quote(i)}.html").items():
            path = window.root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        return window.open(f"map/index.html{at}", width, height)

    return open_map


def report(browser: WebDriver) -> dict[str, Any]:
    found = json.loads(browser.execute_script("return JSON.stringify(sitegenMap.report())"))
    assert isinstance(found, dict)
    return found


def pixel_at(browser: WebDriver, location_id: str) -> list[int]:
    """Return red, green, blue, alpha of the points' canvas at a location's middle."""
    script = """
      const [id, done] = arguments;
      requestAnimationFrame(() => requestAnimationFrame(() => {
        const at = sitegenMap.report().pixel(id);
        const canvas = document.querySelector('.leaflet-overlay-pane canvas');
        const box = canvas.getBoundingClientRect();
        const ground = document.getElementById('map_sitegen').getBoundingClientRect();
        const scale = canvas.width / box.width;
        const x = (ground.left + at.x - box.left) * scale, y = (ground.top + at.y - box.top) * scale;
        done(Array.from(canvas.getContext('2d').getImageData(x, y, 1, 1).data));
      }));
    """
    found: list[int] = browser.execute_async_script(script, location_id)
    return found


def test_it_draws_the_first_layer_and_counts_every_point(opened: Opener) -> None:
    data = map_data()
    browser = opened(data)
    found = report(browser)
    counts = found["counts"]
    kinds = ("detected", "nondetect", "not_analysed", "air", *STATES)
    assert browser.execute_script("return document.documentElement.dataset.layer") == "c00"
    assert found["points"] == len(data.points) == sum(counts[kind] for kind in kinds)
    assert found["features"] == len(data.features)


def test_nothing_is_asked_of_the_network(opened: Opener) -> None:
    browser = opened(map_data(), "#SG-07")
    events = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    asked = [event["params"]["request"]["url"] for event in events if event["method"] == "Network.requestWillBeSent"]
    assert [address for address in asked if address.endswith("map/index.html")]
    assert [address for address in asked if not address.startswith(("file:", "data:", "about:"))] == []


def test_choosing_a_compound_changes_symbols_legend_and_address(opened: Opener) -> None:
    browser = opened(map_data())
    before = report(browser)["counts"]
    browser.find_element("css selector", "#layer option[value=c02]").click()
    found = wait_for(browser, report, lambda seen: seen["layer"] == "c02")
    assert found["counts"] != before
    assert text_of(browser, "#panel h2", "Compound 02") == "Compound 02"
    text_of(browser, "#panel .unit", "ng per sampler")
    wait_for(browser, lambda page: page.current_url, lambda address: address.endswith("#c02"))


@pytest.mark.parametrize(
    ("at", "layer", "selected"),
    [
        ("", "c00", ""),
        ("#c01", "c01", ""),
        ("#SG-07", "c00", "SG-07"),
        ("#c02/SG-07", "c02", "SG-07"),
        ("#nothing/known", "c00", ""),
        ("#%E0%A4%A", "c00", ""),
    ],
)
def test_the_address_opens_a_layer_and_a_point(opened: Opener, at: str, layer: str, selected: str) -> None:
    found = report(opened(map_data(), at))
    assert (found["layer"], found["selected"]) == (layer, selected)


def test_the_address_is_followed_when_it_changes(opened: Opener) -> None:
    browser = opened(map_data(), "#c01")
    browser.execute_script("location.hash = '#c02/SG-03'")
    wait_for(browser, report, lambda found: (found["layer"], found["selected"]) == ("c02", "SG-03"))


def test_a_popup_says_value_unit_and_marks_and_links_to_the_location(opened: Opener) -> None:
    data = map_data()
    browser = opened(data, "#c01/SG-26")
    value = data.layers[1].values[25].text
    assert text_of(browser, ".point .value") == f"{value} ng per sampler"
    assert text_of(browser, ".point .marks", "inside") == "water Water was inside."
    link = browser.find_element("css selector", ".point a")
    assert link.get_attribute("href").endswith("/locations/SG-26.html")
    assert link.get_attribute("target") == "_top"


def test_a_mark_of_a_whole_bag_is_told_in_the_popup_and_draws_no_ring(opened: Opener) -> None:
    data = map_data(3, compounds=1, features=())
    marked = tuple(point._replace(marks=(CUSTODY,)) for point in data.points)
    browser = opened(dataclasses.replace(data, points=marked), "#c00/SG-02")
    assert text_of(browser, ".point .marks") == "custody No holder is recorded."
    assert report(browser)["counts"]["marked"] == 0


def test_air_points_are_counted_apart_and_have_no_class(opened: Opener) -> None:
    data = map_data()
    browser = opened(data, "#c00/SG-31")
    counts = report(browser)["counts"]
    sampled = [v for p, v in zip(data.points, data.layers[0].values, strict=True) if p.state == "retrieved"
               and p.medium == "soil_gas"]  # fmt: skip
    assert counts["air"] == 2
    assert counts["detected"] == sum(v.size_class is not None and v.size_class >= 0 for v in sampled)
    assert sum(counts["classes"]) + counts["nondetect"] + counts["not_analysed"] == len(sampled)
    text_of(browser, "#summary", "2 air points shown separately")
    text_of(browser, ".point", "See Air results")
    text_of(browser, "#panel .key:nth-of-type(2)", "hexagon with a dot")


def test_a_click_on_a_point_opens_it(opened: Opener) -> None:
    browser = opened(map_data())
    at = browser.execute_script(
        "const at = sitegenMap.report().pixel('SG-20');"
        "const box = document.getElementById('map_sitegen').getBoundingClientRect();"
        "return [Math.round(box.left + at.x), Math.round(box.top + at.y)]"
    )
    actions = webdriver.ActionChains(browser)
    actions.w3c_actions.pointer_action.move_to_location(*at)
    actions.w3c_actions.pointer_action.click()
    actions.perform()
    wait_for(browser, report, lambda found: found["selected"] == "SG-20")


def test_the_keyboard_alone_reaches_a_point_and_its_link(opened: Opener) -> None:
    browser = opened(map_data())
    keys = webdriver.Keys
    browser.find_element("css selector", "#place").send_keys("SG-05", keys.ENTER)
    wait_for(browser, report, lambda found: found["selected"] == "SG-05")
    text_of(browser, ".point a", "Details of SG-05")
    tab_to(browser, ".point a", 12)


def test_a_detection_is_filled_with_its_class_and_a_non_detect_is_hollow(opened: Opener) -> None:
    points = map_data(2).points
    values = (MapValue("12,000", 4, ()), MapValue("<10", -1, ()))
    layers = (MapLayer("a", "A", "ng per sampler", values),)
    browser = opened(map_data(points=points, layers=layers, features=()))
    assert pixel_at(browser, "SG-01") == [*bytes.fromhex(CLASS_COLOURS[4][1:]), 255]
    assert pixel_at(browser, "SG-02") == [255, 255, 255, 255]


def test_words_from_the_data_are_shown_and_never_run(opened: Opener) -> None:
    point = (
        map_data(1)
        .points[0]
        ._replace(
            location_id=HOSTILE, label=HOSTILE, marks=(MapMark(HOSTILE, HOSTILE),), surface=HOSTILE, detected=HOSTILE
        )
    )
    layer = MapLayer(HOSTILE, HOSTILE, "ng per sampler", (MapValue(HOSTILE, 0, ()),))
    well = feature("well", HOSTILE, "Point", list(lon_lat(5, 5)))
    data = map_data(points=(point,), layers=(layer,), features=(well,), class_labels=(HOSTILE,))
    browser = opened(data, "#" + quote(HOSTILE, safe=""))
    browser.find_element("css selector", "#place option:nth-child(2)").click()
    assert text_of(browser, ".point h2") == HOSTILE
    text_of(browser, "#panel .key", HOSTILE)
    frames(browser)
    assert browser.title == "Map of Former Kesterly Depot"
    assert browser.find_elements("css selector", "img[src=x]") == []


def test_a_feature_kind_can_be_hidden(opened: Opener) -> None:
    data = map_data(1, compounds=1, features=())
    lon, lat = data.points[0].lon, data.points[0].lat
    ring = [[[lon + dx, lat + dy] for dx, dy in ((-1e-3, -1e-3), (1e-3, -1e-3), (1e-3, 1e-3), (-1e-3, 1e-3))]]
    shed = feature("building", "Shed", "Polygon", [[*ring[0], ring[0][0]]])
    browser = opened(map_data(1, compounds=1, features=(shed,)))
    painted = """
      const c = document.querySelector('.leaflet-overlay-pane canvas');
      const data = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
      let n = 0; for (let i = 3; i < data.length; i += 4) if (data[i] > 0) n += 1;
      return n;
    """
    before = wait_for(browser, lambda page: page.execute_script(painted))
    browser.find_element("css selector", "#kind-building").click()
    wait_for(browser, lambda page: page.execute_script(painted), lambda left: left < before / 10)


def overlap(a: list[float], b: list[float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def test_no_label_covers_another_or_a_point(opened: Opener) -> None:
    browser = opened(map_data())
    map_ready(browser)
    found = report(browser)["labels"]
    boxes = found["boxes"]
    assert found["placed"] + found["dropped"] == 57 + 7
    assert len(boxes) == found["placed"] > 50
    assert not [(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :] if overlap(a, b)]
    for point in map_data().points:
        at = browser.execute_script("return sitegenMap.report().pixel(arguments[0])", point.location_id)
        middle = [at["x"] - 2, at["y"] - 2, at["x"] + 2, at["y"] + 2]
        assert not [box for box in boxes if overlap(box, middle)]


def test_a_map_without_compounds_says_so(opened: Opener) -> None:
    browser = opened(map_data(layers=()))
    assert text_of(browser, "#summary") == "No compound is mapped in this project."


def test_two_thousand_points_and_sixty_compounds_open(opened: Opener) -> None:
    """The budget (2 s) is held by the benchmark; here it must open at all, whole."""
    found = report(opened(map_data(2000, 60)))
    assert (found["points"], found["layers"]) == (2000, 60)


def test_a_phone_has_no_sideways_scroll(opened: Opener) -> None:
    browser = opened(map_data(), "", 360, 740)
    width = "return document.documentElement.scrollWidth"
    assert browser.execute_script(width) == 360
    assert browser.execute_script("return document.getElementById('panel').open") is False
    unfold(browser)
    assert text_of(browser, "#panel h2")
    assert browser.execute_script(width) == 360


def test_the_map_opened_alone_shows_the_issue_and_its_notices(opened: Opener) -> None:
    browser = opened(map_data())
    assert text_of(browser, "#issue") == "in review · revision 1 · 2025-12-12 · 00000000"
    assert text_of(browser, "#notices") == "All data are invented."


def test_inside_a_page_it_works_the_same_and_leaves_the_notices_to_the_page(opened: Opener, window: Window) -> None:
    opened(map_data())
    (window.root / "page.html").write_text(
        '<!DOCTYPE html><title>p</title><iframe src="map/index.html#c01/SG-07" width=900 height=500></iframe>'
    )
    browser = window.open("page.html", 1280, 800)
    browser.switch_to.frame(0)
    try:
        map_ready(browser)
        found = report(browser)
        assert (found["layer"], found["selected"]) == ("c01", "SG-07")
        assert not browser.find_element("css selector", "#notices").is_displayed()
    finally:
        browser.switch_to.default_content()


def test_air_above_a_level_is_filled_and_said_in_words(opened: Opener) -> None:
    """The point is filled, is counted in the sentence and the legend, and its pop-up says what is above."""
    said = "Above a screening level: Benzene."
    point = map_data(1).points[0]._replace(medium="indoor_air", surface="", above=said)
    layers = (MapLayer("a", "A", "ng", (MapValue("12", 1, ()),)),)
    browser = opened(map_data(points=(point,), layers=layers, features=()))
    assert "1 of them above a screening level (any compound)" in text_of(browser, "#summary")
    assert "filled hexagon with a cross" in browser.find_element("css selector", "#panel-body").text
    browser.execute_script("location.hash = '#a/SG-01'")
    assert text_of(browser, ".point .above") == said
