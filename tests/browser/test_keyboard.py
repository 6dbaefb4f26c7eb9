"""The report without a mouse, on a narrow screen, on paper and without motion."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import Select, WebDriverWait
from windows import Window

from sitegen.pipeline import Built

NARROW = ("index", "report", "map", "locations/SG-37", "compounds/pce", "custody", "findings", "heat", "map/index")


@pytest.fixture
def window(browser: WebDriver, built: Built) -> Iterator[Window]:
    """Show the example's site; every test ends without a console message or an outside request."""
    shown = Window(browser, built.out / "site")
    shown.console()
    shown.outside_requests()
    yield shown
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "", "features": []})
    assert shown.console() == []
    assert shown.outside_requests() == []


def press(driver: WebDriver, *keys: str) -> WebElement:
    """Press keys where the focus is, and return where it is then."""
    ActionChains(driver).send_keys(*keys).perform()
    return driver.switch_to.active_element


def tab_to(driver: WebDriver, selector: str, most: int = 80) -> WebElement:
    """Press Tab until an element that the selector names has the focus."""
    for _ in range(most):
        element = press(driver, Keys.TAB)
        if driver.execute_script("return arguments[0].matches(arguments[1])", element, selector):
            return element
    raise AssertionError(f"{selector} is not reached in {most} steps")


def wait(driver: WebDriver, script: str) -> None:
    WebDriverWait(driver, 20).until(lambda page: page.execute_script(f"return Boolean({script})"))


def test_search_leads_to_a_page_by_keyboard(window: Window) -> None:
    """Tab reaches the search, typing finds, arrows and Enter open the page of a sampler."""
    driver = window.open("index.html")
    tab_to(driver, "#find-words", 6)
    press(driver, *"0047154")
    wait(driver, "document.querySelector('.md-search-result__item a')")
    press(driver, Keys.ARROW_DOWN, Keys.ENTER)
    WebDriverWait(driver, 20).until(lambda page: "index.html" not in page.current_url.split("#")[0])
    assert "0047154" in driver.find_element(By.TAG_NAME, "main").text


def test_skip_link_is_first_and_seen(window: Window) -> None:
    """The first Tab stop shows itself and moves the focus to the content."""
    driver = window.open("findings.html")
    skip = press(driver, Keys.TAB)
    assert skip.text == "Skip to content"
    assert skip.rect["y"] >= 0
    assert press(driver, Keys.ENTER).get_attribute("id") == "content"


def test_the_map_is_worked_by_keyboard(window: Window) -> None:
    """The compound and a point are chosen from lists; the point's link opens its page."""
    driver = window.open("map/index.html")
    wait(driver, "window.sitegenMap && document.documentElement.dataset.layer")
    Select(tab_to(driver, "#layer", 10)).select_by_visible_text("Toluene")
    wait(driver, "document.documentElement.dataset.layer === 'toluene'")
    tab_to(driver, "#place", 3)
    press(driver, *"SG-37")
    wait(driver, "window.sitegenMap.report().selected === 'SG-37'")
    tab_to(driver, ".leaflet-popup a[href*='SG-37']", 40)
    press(driver, Keys.ENTER)
    wait(driver, "document.querySelector('h1')?.textContent.trim() === 'SG-37'")


def test_a_table_is_filtered_by_keyboard(window: Window) -> None:
    """A filter is reached by Tab, a choice narrows the rows, and the number left is said."""
    driver = window.open("findings.html")
    before = driver.find_element(By.CSS_SELECTOR, ".filter-state").text
    tab_to(driver, ".filters select")
    press(driver, Keys.ARROW_DOWN)
    after = driver.find_element(By.CSS_SELECTOR, ".filter-state")
    assert after.get_attribute("role") == "status"
    assert after.text != before


def test_a_wide_table_is_scrolled_by_keyboard(window: Window) -> None:
    """A table wider than the screen takes the focus and moves with the arrow keys."""
    driver = window.open("locations/SG-37.html", 390, 800)
    region = driver.find_element(By.CSS_SELECTOR, ".table-region[tabindex='0']")
    driver.execute_script("arguments[0].focus()", region)
    press(driver, *[Keys.ARROW_RIGHT] * 4)
    WebDriverWait(driver, 5).until(lambda page: page.execute_script("return arguments[0].scrollLeft", region) > 0)


@pytest.mark.parametrize("page", NARROW)
def test_pages_reflow_at_320_px(window: Window, page: str) -> None:
    """At 320 px no page scrolls sideways, everything unfolded."""
    driver = window.open(f"{page}.html", 320, 800)
    driver.execute_script("document.querySelectorAll('details').forEach((one) => { one.open = true })")
    assert driver.execute_script("return document.documentElement.scrollWidth") <= 320


def test_a_mark_is_in_view_on_a_phone(window: Window) -> None:
    """At 390 px every mark stands within the width of the cell of its number."""
    driver = window.open("locations/SG-37.html", 390, 800)
    beside = driver.execute_script(
        "return [...document.querySelectorAll('.data .number .mark')].filter((mark) =>"
        " mark.getBoundingClientRect().top < mark.previousSibling.parentElement.getBoundingClientRect().top + 4).length"
    )
    assert driver.find_elements(By.CSS_SELECTOR, ".data .number .mark")
    assert beside == 0


def test_paper_shows_content_alone(window: Window) -> None:
    """In print the bar and the list of pages are left out and tables are not cut."""
    driver = window.open("locations/SG-37.html", colours="dark")
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    assert not driver.find_element(By.CSS_SELECTOR, ".bar").is_displayed()
    assert not driver.find_element(By.ID, "site-nav").is_displayed()
    look = "const style = getComputedStyle(document.querySelector(arguments[0])); return style[arguments[1]]"
    assert driver.execute_script(look, ".table-region", "overflow") == "visible"
    assert driver.execute_script(look, "h1", "color") == "rgb(0, 0, 0)"


def test_reduced_motion_is_kept(window: Window) -> None:
    """A reader who asks for less motion gets no transition on any element."""
    driver = window.open("index.html")
    motion = {"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", motion)
    moving = (
        "return [...document.querySelectorAll('*')].filter((one) => { const style = getComputedStyle(one);"
        " return style.transitionDuration !== '0s' || style.animationName !== 'none' }).length"
    )
    assert driver.execute_script(moving) == 0
