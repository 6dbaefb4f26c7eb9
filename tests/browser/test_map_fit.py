"""Everything is in sight when the map opens: alone, inside the site's page, on a desk and on a phone."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from synthetic_map import map_data, meta
from windows import Window, map_ready, unfold, wait_for, wait_until

from sitegen.render.map.webmap import map_files
from sitegen.report.record.maps import MapData

FRAME = """<!DOCTYPE html><meta name="viewport" content="width=device-width">
<style>body {{ margin: 0 }} iframe {{ width: {width}; height: {height}; border: 0 }}</style>
<iframe src="map/index.html{at}" loading="lazy"></iframe>"""

OUT_OF_SIGHT = """
  const ground = document.getElementById('map_sitegen').getBoundingClientRect();
  const panel = document.getElementById('panel').getBoundingClientRect();
  return arguments[0].filter((id) => {
    const at = sitegenMap.report().pixel(id);
    const x = ground.left + at.x, y = ground.top + at.y;
    const underPanel = x > panel.left && x < panel.right && y > panel.top && y < panel.bottom;
    const within = at.x > 0 && at.y > 0 && at.x < ground.width && at.y < ground.height;
    return !within || x > document.documentElement.clientWidth || underPanel;
  });
"""


def wide_site() -> MapData:
    """Return points over a strip twice as wide as the made-up site, so that width decides the fit."""
    data = map_data(features=())
    west = min(point.lon for point in data.points)
    return map_data(points=tuple(p._replace(lon=west + 2.2 * (p.lon - west)) for p in data.points), features=())


IDS = [point.location_id for point in wide_site().points]


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Window:
    for name, content in map_files(wide_site(), meta(), lambda i: f"../locations/{quote(i)}.html").items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return Window(browser, tmp_path)


@pytest.mark.parametrize(("width", "height"), [(1280, 900), (720, 900), (390, 844)])
def test_all_points_are_in_sight_on_a_map_opened_alone(window: Window, width: int, height: int) -> None:
    driver = window.open("map/index.html", width, height)
    map_ready(driver)
    assert driver.execute_script(OUT_OF_SIGHT, IDS) == []


@pytest.mark.parametrize(("width", "frame"), [(1280, "960px"), (390, "358px")])
def test_all_points_are_in_sight_inside_a_page(window: Window, tmp_path: Path, width: int, frame: str) -> None:
    (tmp_path / "page.html").write_text(FRAME.format(width=frame, height="720px", at=""))
    driver = window.open("page.html", width, 900)
    driver.switch_to.frame(0)
    try:
        map_ready(driver)
        assert driver.execute_script(OUT_OF_SIGHT, IDS) == []
    finally:
        driver.switch_to.default_content()


def test_points_stay_in_sight_when_the_panel_folds_and_the_window_shrinks(window: Window) -> None:
    driver = window.open("map/index.html", 1280, 900)
    map_ready(driver)
    driver.execute_script("document.getElementById('panel').open = false")
    map_ready(driver)
    wide = driver.execute_script("return sitegenMap.report().pixel(arguments[0]).x", IDS[-1])
    unfold(driver)
    window.shape(800, 600)
    map_ready(driver)
    assert driver.execute_script(OUT_OF_SIGHT, IDS) == []
    assert driver.execute_script("return sitegenMap.report().pixel(arguments[0]).x", IDS[-1]) < wide


def test_a_reader_s_own_view_is_left_alone_when_the_window_changes(window: Window) -> None:
    driver = window.open("map/index.html", 1280, 900)
    map_ready(driver)
    apart = """const [a, b] = [...arguments].map((id) => sitegenMap.report().pixel(id));
      return Math.round(Math.hypot(a.x - b.x, a.y - b.y))"""
    whole = driver.execute_script(apart, IDS[0], IDS[1])
    driver.find_element("css selector", ".leaflet-control-zoom-in").click()
    near = wait_for(driver, lambda page: page.execute_script(apart, IDS[0], IDS[1]), lambda now: now > 1.2 * whole)
    wait_until(driver, "!document.querySelector('.leaflet-zoom-anim')")
    window.shape(900, 700)
    map_ready(driver)
    assert driver.execute_script(apart, IDS[0], IDS[1]) == near


SHEET_PX = 178 / 25.4 * 96
"""Between the margins of A4 (182 mm) and of Letter (188 mm) there is room for this."""


@pytest.mark.parametrize(("width", "height"), [(1280, 900), (390, 844)])
def test_on_paper_all_points_stand_above_an_open_legend(window: Window, width: int, height: int) -> None:
    """A print from any window has the map over the width of a sheet and the whole legend; the screen comes back."""
    driver = window.open("map/index.html", width, height)
    map_ready(driver)
    was_open = driver.execute_script("return document.getElementById('panel').open")
    driver.execute_script("dispatchEvent(new Event('beforeprint'))")
    found = driver.execute_script("""
      const box = (id) => document.getElementById(id).getBoundingClientRect();
      return { map: box('map_sitegen'), panel: box('panel'), form: box('chooser').height };
    """)
    assert found["map"]["width"] == pytest.approx(SHEET_PX, abs=3)
    assert found["panel"]["top"] >= found["map"]["bottom"]
    assert found["panel"]["height"] > 100
    assert found["form"] == 0
    at = "return arguments[0].map((id) => sitegenMap.report().pixel(id))"
    for point in driver.execute_script(at, IDS):
        assert 0 < point["x"] < found["map"]["width"]
        assert 0 < point["y"] < found["map"]["height"]
    driver.execute_script("dispatchEvent(new Event('afterprint'))")
    assert driver.execute_script("return document.getElementById('panel').open") == was_open
    map_ready(driver)
    assert driver.execute_script(OUT_OF_SIGHT, IDS) == []
