"""The example's report in a browser: opened as files, with the network cut."""

from __future__ import annotations

import re
from base64 import b64decode
from collections.abc import Iterator
from io import BytesIO

import pikepdf
import pytest
from pikepdf import PdfImage
from pypdf import PdfReader
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.chromium.webdriver import ChromiumDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select
from windows import Window, map_ready, text_of, wait_for, wait_until

from sitegen.pipeline import Built

PAGES = (
    "index",
    "map",
    "compounds",
    "locations",
    "custody",
    "findings",
    "field",
    "quality",
    "air",
    "methods",
)


@pytest.fixture
def window(browser: WebDriver, built: Built) -> Iterator[Window]:
    """Show the example's site; every test ends without a console message or an outside request."""
    shown = Window(browser, built.out / "site")
    shown.console()
    shown.outside_requests()
    yield shown
    assert shown.console() == []
    assert shown.outside_requests() == []


@pytest.mark.parametrize("page", PAGES)
def test_a_page_opens_without_noise(window: Window, page: str) -> None:
    """Each page has one heading and stays within the window's width, at desktop and phone size."""
    for width in (1280, 390):
        driver = window.open(f"{page}.html", width=width)
        assert len(driver.find_elements(By.TAG_NAME, "h1")) == 1
        wide = driver.execute_script("return document.documentElement.scrollWidth")
        assert wide <= width, (page, width, wide)


@pytest.mark.parametrize("page", ["compounds/toluene", "locations/SS-01", "locations/SG-36", "quality", "patterns"])
def test_tables_fit_a_window_of_1280_px(window: Window, page: str) -> None:
    """No table but that of all compounds side by side has to be moved sideways."""
    driver = window.open(f"{page}.html", 1280)
    wide = "return [...document.querySelectorAll('.table-region:not(.fits)')].map((one) => one.innerText)"
    assert driver.execute_script(wide) == []


def test_the_whole_list_of_pages_fits_a_window_of_900_px(window: Window) -> None:
    """No group of the navigation is out of sight, and each link is at least 24 px high (WCAG 2.2, 2.5.8)."""
    driver = window.open("locations.html", 1280, 900)
    size = "const nav = document.getElementById('site-nav'); return [nav.scrollHeight, nav.clientHeight]"
    inner, outer = driver.execute_script(size)
    assert inner <= outer
    links = driver.find_elements(By.CSS_SELECTOR, "#site-nav :is(a, summary)")
    heights = [link.size["height"] for link in links if link.is_displayed()]
    assert len(heights) > 8
    assert min(heights) >= 24


@pytest.mark.parametrize("width", [1280, 390])
def test_names_of_compounds_break_at_their_hyphens_alone(window: Window, width: int) -> None:
    """The longest unhyphenated name stands on one line wherever it heads a row or is told of."""
    driver = window.open("findings.html", width)
    for more in driver.find_elements(By.CSS_SELECTOR, ".more-rows"):
        if more.is_displayed():
            more.click()
    texts = [cell.text for cell in driver.find_elements(By.CSS_SELECTOR, "tbody td a")]
    lines = [line for text in texts for line in text.splitlines()]
    assert any("Tetrachloroethene" in line for line in lines)
    script = """
      const range = document.createRange();
      return [...document.querySelectorAll('tbody a')].filter(({ textContent }) => /chloroethene/.test(textContent))
        .map(({ firstChild: text }) => {
          const at = text.data.search(/[A-Z][a-z]+chloroethene/);
          range.setStart(text, at);
          range.setEnd(text, text.data.indexOf('chloroethene') + 'chloroethene'.length);
          return range.getClientRects().length;
        });
    """
    counts = driver.execute_script(script)
    assert counts
    assert set(counts) == {1}


def test_nearly_every_point_is_named_on_the_map(window: Window) -> None:
    """Among crowded symbols a name stands further off at the end of a line: two points at most have none."""
    driver = window.open("map/index.html", 1280, 900)
    map_ready(driver)
    without = driver.execute_script("return window.sitegenMap.report().labels.without")
    assert len([name for name in without if re.fullmatch(r"[A-Z]{2}-\d\d", name)]) <= 2, without


@pytest.mark.parametrize(("width", "height"), [(960, 500), (390, 844)])
def test_no_line_to_a_name_runs_through_another_name(window: Window, width: int, height: int) -> None:
    """Where symbols crowd, names are led to by lines, which keep clear of all other names and lines."""
    driver = window.open("map/index.html", width, height)
    map_ready(driver)
    labels = driver.execute_script("return window.sitegenMap.report().labels")
    assert sum(bool(steps) for steps in labels["ways"]) >= 3
    for i, steps in enumerate(labels["ways"]):
        others = [box for j, box in enumerate(labels["boxes"]) if j != i]
        others += [step for j, way in enumerate(labels["ways"]) if j != i for step in way]
        for x0, y0, x1, y1 in steps:
            assert all(x1 <= a or c <= x0 or y1 <= b or d <= y0 for a, b, c, d in others), labels["boxes"][i]


@pytest.mark.parametrize("width", [1280, 390])
def test_a_tile_s_number_stands_on_one_line(window: Window, width: int) -> None:
    """Counts such as "392 of 1,122" are not broken."""
    driver = window.open("index.html", width)
    heights = driver.execute_script("""
      return [...document.querySelectorAll('.tile-value')].map((one) =>
        one.getBoundingClientRect().height / parseFloat(getComputedStyle(one).lineHeight));
    """)
    assert heights
    assert max(heights) < 1.5


def test_a_search_finds_a_sampler_by_its_serial(window: Window) -> None:
    """Typing a serial with its leading zeros leads to the page of that sampler."""
    driver = window.open("index.html")
    field = driver.find_element(By.CSS_SELECTOR, "#find-words")
    field.click()
    field.send_keys("0047154")
    text_of(driver, ".find-list", "0047154")


def test_the_map_draws_and_a_point_leads_to_its_page(window: Window) -> None:
    """Every point is on the map; opening one offers the link to its location page, which opens."""
    driver = window.open("map/index.html#pce/SG-37")
    wait_until(driver, "window.sitegenMap && sitegenMap.report().selected === 'SG-37'")
    assert driver.execute_script("return window.sitegenMap.report().points") == 56
    text_of(driver, ".leaflet-popup a[href*='SG-37']")
    driver.find_element(By.CSS_SELECTOR, ".leaflet-popup a[href*='SG-37']").click()
    wait_for(driver, lambda page: page.find_element(By.TAG_NAME, "h1").text, lambda title: title == "SG-37")


def test_the_compound_chooser_changes_the_layer(window: Window) -> None:
    """Choosing another compound redraws the map and says so."""
    driver = window.open("map/index.html#pce")
    wait_until(driver, "document.documentElement.dataset.layer === 'pce'")
    before = driver.execute_script("return JSON.stringify(window.sitegenMap.report().counts)")
    Select(driver.find_element(By.ID, "layer")).select_by_visible_text("Toluene")
    wait_until(driver, "document.documentElement.dataset.layer === 'toluene'")
    assert driver.execute_script("return JSON.stringify(window.sitegenMap.report().counts)") != before
    text_of(driver, "#summary", "Toluene")


def test_locations_step_one_to_the_next(window: Window) -> None:
    """Next leads from the first location to the second, previous leads back."""
    driver = window.open("locations/SG-01.html")
    driver.find_element(By.CSS_SELECTOR, "a.series-next").click()
    wait_until(driver, "document.querySelector('h1')?.textContent.trim() === 'SG-02'")
    driver.find_element(By.CSS_SELECTOR, "a.series-previous").click()
    wait_until(driver, "document.querySelector('h1')?.textContent.trim() === 'SG-01'")


@pytest.mark.parametrize("page", ["compounds/benzene", "map", "custody", "locations/SG-18"])
def test_a_printed_page_keeps_its_columns_readable(window: Window, page: str) -> None:
    """Printed on Letter (188 mm between the margins), no column shrinks to single letters and none is cut off."""
    driver = window.open(f"{page}.html", width=711)
    window.media("print")
    narrow = driver.execute_script(
        "return [...document.querySelectorAll('.data thead th')].filter(cell => cell.offsetWidth"
        " && cell.offsetWidth < 20).map(cell => cell.textContent)"
    )
    assert narrow == []
    assert driver.execute_script("return document.documentElement.scrollWidth") <= 711


def test_map_and_legend_fit_the_frame_that_print_gives_them(window: Window) -> None:
    """The map on the map's page is printed in a frame 20 cm high, with its legend, whatever compound is on show."""
    driver = window.open("map/index.html", 1280, 900)
    map_ready(driver)
    script = """
      const layer = document.getElementById("layer");
      dispatchEvent(new Event("beforeprint"));
      return [...layer.options].map(({ index, text }) => {
        layer.selectedIndex = index;
        layer.dispatchEvent(new Event("change"));
        return [text, document.querySelector(".sheet").getBoundingClientRect().height];
      });
    """
    heights = dict(driver.execute_script(script))
    assert "Tetrachloroethene" in heights
    assert {text: height for text, height in heights.items() if height > 20 / 2.54 * 96} == {}


@pytest.mark.parametrize("page", ["map", "map/index"])
def test_symbols_and_names_reach_the_paper_as_pictures(window: Window, page: str) -> None:
    """A printed map has its symbols and its names as two pictures of 190 dots per inch, and none as loose drawing.

    What is painted on a canvas while print is laid out covers what stands beneath it on paper.
    """
    driver = window.open(f"{page}.html", 1280, 900)
    assert isinstance(driver, ChromiumDriver)
    if page == "map":
        driver.switch_to.frame(0)
    map_ready(driver)
    driver.switch_to.default_content()
    printed = b64decode(driver.execute_cdp_cmd("Page.printToPDF", {"printBackground": False})["data"])
    with pikepdf.open(BytesIO(printed)) as opened:
        images = [image for sheet in opened.pages for image in sheet.get_images().values()]
        pictures = [image for image in images if int(image.Width) > 1300]
        drawn = [PdfImage(picture).as_pil_image().convert("RGB").getcolors(1 << 24) for picture in pictures]
    assert [len(colours) > 50 for colours in drawn if colours] == [True, True]
    words = "".join(sheet.extract_text() for sheet in PdfReader(BytesIO(printed)).pages[:1])
    assert "10,000 to 100,000" in words
    assert "SG-44" not in words


def test_marks_stand_beside_their_number_in_print(window: Window) -> None:
    """Printed, a row of a compound's table is as high as its text: marks are not set one below the other."""
    driver = window.open("compounds/toluene.html", width=711)
    window.media("print")
    script = "return [...document.querySelectorAll('#table-points-toluene tbody tr')].map((row) => row.offsetHeight)"
    heights = driver.execute_script(script)
    assert len(heights) == 51
    assert max(heights) < 2 * min(heights)
