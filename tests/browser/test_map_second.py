"""Two compounds side by side on the web map: a second map that moves with the first, named in the address."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from synthetic_map import map_data, meta
from windows import Window, map_ready, text_of, wait_for, wait_until

from sitegen.render.map.webmap import map_files

PIXEL = "return (({x, y}) => [Math.round(x), Math.round(y)])(sitegenMap.report().pixel('SG-01'))"


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Window:
    found = Window(browser, tmp_path)
    found.outside_requests()
    found.console()
    for name, content in map_files(map_data(), meta(), lambda i: f"../l/{quote(i)}.html").items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return found


@contextmanager
def inside(driver: WebDriver) -> Iterator[WebDriver]:
    """Look at the second map, and come back to the first."""
    driver.switch_to.frame(driver.find_element("css selector", "iframe.other"))
    try:
        map_ready(driver)
        yield driver
    finally:
        driver.switch_to.default_content()


def choose(driver: WebDriver, layer: str) -> None:
    driver.find_element("css selector", f"#second option[value='{layer}']").click()


def test_a_second_compound_is_shown_beside_the_first_and_named_in_the_address(window: Window) -> None:
    """The map inside shows the compound chosen; the first keeps its own; choosing none takes the second away."""
    driver = window.open("map/index.html")
    map_ready(driver)
    assert not driver.find_elements("css selector", "iframe.other")
    choose(driver, "c02")
    wait_until(driver, "location.hash === '#c00/with=c02'")
    with inside(driver):
        wait_until(driver, "sitegenMap.report().layer === 'c02'")
        assert "Compound 02" in text_of(driver, "#summary")
        assert driver.execute_script("return getComputedStyle(document.getElementById('chooser')).display") == "none"
    assert driver.execute_script("return sitegenMap.report().layer") == "c00"
    choose(driver, "")
    wait_until(driver, "location.hash === '#c00' && !document.querySelector('iframe.other')")
    assert window.outside_requests() == []
    assert window.console() == []


def test_an_address_opens_both_compounds_and_the_point(window: Window) -> None:
    """A link sent to somebody else shows what its sender saw; a second compound that is not there is left out."""
    driver = window.open("map/index.html#c01/SG-03/with=c02")
    map_ready(driver)
    wait_until(driver, "sitegenMap.report().layer === 'c01' && sitegenMap.report().selected === 'SG-03'")
    with inside(driver):
        wait_until(driver, "sitegenMap.report().layer === 'c02'")
    driver.execute_script("location.hash = '#c01/with=nothing'")
    wait_until(driver, "!document.querySelector('iframe.other')")


def test_the_two_maps_move_together(window: Window) -> None:
    """A move of either map is followed by the other: the same middle and the same scale."""
    driver = window.open("map/index.html#c00/with=c01")
    map_ready(driver)
    first = driver.execute_script(PIXEL)
    with inside(driver):
        start = driver.execute_script(PIXEL)
    driver.execute_script("document.querySelector('.leaflet-control-zoom-in').click()")
    with inside(driver):
        near = wait_for(driver, lambda page: page.execute_script(PIXEL), lambda at: at != start)
        driver.execute_script("document.querySelector('.leaflet-control-zoom-out').click()")
    assert near != start
    wait_for(
        driver,
        lambda page: page.execute_script(PIXEL),
        lambda at: all(abs(now - then) <= 2 for now, then in zip(at, first, strict=True)),
    )


def test_the_map_leads_back_to_the_report_where_it_stands_alone(window: Window) -> None:
    """Opened from a link the map has a link to the start page; inside the report's own page it has none."""
    driver = window.open("map/index.html")
    map_ready(driver)
    link = driver.find_element("css selector", "#back a")
    assert link.is_displayed()
    assert link.get_attribute("href").endswith("/index.html")
    (window.root / "around.html").write_text("<iframe src='map/index.html' class='other'></iframe>", encoding="utf-8")
    driver = window.open("around.html")
    with inside(driver):
        assert not driver.find_element("css selector", "#back a").is_displayed()
