"""Groups in the chooser, sums by group, and what lies under the points."""

from __future__ import annotations

import dataclasses
import struct
import zlib
from pathlib import Path
from urllib.parse import quote

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from synthetic_map import map_data, meta
from windows import Window, map_ready, text_of, wait_for, wait_until

from sitegen.render.map.webmap import map_files
from sitegen.report.record.maps import MapBackground, MapData, MapLayer, MapTiles, MapValue


def png(width: int = 4, height: int = 4) -> bytes:
    """Return a plain green picture."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    rows = b"".join(b"\x00" + b"\x20\x90\x40" * width for _ in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Window:
    found = Window(browser, tmp_path)
    found.outside_requests()
    found.console()
    return found


def opened(window: Window, data: MapData, picture: bytes = b"") -> WebDriver:
    for name, content in map_files(data, meta(), lambda i: f"../l/{quote(i)}.html", picture).items():
        path = window.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    driver = window.open("map/index.html")
    map_ready(driver)
    return driver


def grouped() -> MapData:
    data = map_data()
    groups = ("Chlorinated ethenes", "Fuel aromatics", "Chlorinated ethenes")
    layers = [dataclasses.replace(layer, group=group) for layer, group in zip(data.layers, groups, strict=True)]
    some = MapValue("1,250 ng per sampler, 3 of 4 detected", 3, ())
    none = MapValue("none of 4 detected", -1, ())
    values = tuple(some if i % 2 else none for i in range(len(data.points)))
    layers.append(MapLayer("sum-e", "Sum of ethenes", "ng per sampler", values, "Sums", whole_words=True))
    return dataclasses.replace(data, layers=tuple(layers))


def test_the_chooser_gathers_compounds_under_their_groups(window: Window) -> None:
    driver = opened(window, grouped())
    found = driver.execute_script(
        "return [...document.querySelectorAll('#layer optgroup')]"
        ".map((g) => [g.label, [...g.children].map((o) => o.value)])"
    )
    assert found == [
        ["Chlorinated ethenes", ["c00", "c02"]],
        ["Fuel aromatics", ["c01"]],
        ["Sums", ["sum-e"]],
    ]
    for layer in ("c02", "c01", "sum-e", "c00"):
        driver.find_element("css selector", f"#layer option[value={layer}]").click()
        wait_until(driver, "sitegenMap.report().layer === arguments[0]", layer)


def test_a_sum_says_how_many_compounds_it_is_made_of(window: Window) -> None:
    driver = opened(window, grouped())
    driver.execute_script("location.hash = '#sum-e/SG-02'")
    assert text_of(driver, ".point .value") == "1,250 ng per sampler, 3 of 4 detected"
    driver.execute_script("location.hash = '#sum-e/SG-03'")
    text_of(driver, ".point .value", "none of 4 detected")


def test_a_local_picture_lies_under_the_points_with_its_licence(window: Window) -> None:
    points = map_data().points
    west, east = min(p.lon for p in points), max(p.lon for p in points)
    south, north = min(p.lat for p in points), max(p.lat for p in points)
    picture = MapBackground("records/drone.png", west, south, east, north, "<b>invented</b> picture, CC0")
    driver = opened(window, dataclasses.replace(map_data(), background=picture), png())
    image = driver.find_element("css selector", "img.leaflet-image-layer")
    wait_until(driver, "arguments[0].naturalWidth === 4", image)
    assert text_of(driver, ".source") == "<b>invented</b> picture, CC0"
    corner = driver.execute_script("return sitegenMap.report().pixel('SG-01').x")
    box = driver.execute_script("return arguments[0].getBoundingClientRect().left", image)
    assert abs(box - corner) < 40
    driver.find_element("css selector", "#under-picture").click()
    wait_until(driver, "!document.querySelector('img.leaflet-image-layer')")
    assert window.outside_requests() == []
    assert window.console() == []


def test_tiles_are_asked_for_only_where_the_project_wants_them_and_the_page_says_so(window: Window) -> None:
    opened(window, map_data())
    assert window.outside_requests() == []
    tiles = MapTiles("https://tiles.invalid/{z}/{x}/{y}.png", "Invented tiles")
    driver = opened(window, dataclasses.replace(map_data(), tiles=tiles))
    text_of(driver, "#notices", "This map asks tiles.invalid for its background over the network.")
    asked = wait_for(driver, lambda _: window.outside_requests())
    assert all(url.startswith("https://tiles.invalid/") for url in asked)
    window.console()
