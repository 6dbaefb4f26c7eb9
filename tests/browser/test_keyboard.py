"""The report without a mouse, on a narrow screen, on paper and without motion."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select
from windows import Window, map_ready, press, tab_to, text_of, unfold, wait_for, wait_until

from sitegen.pipeline import Built

NARROW = ("index", "report", "map", "locations/SG-37", "compounds/pce", "custody", "findings", "heat", "map/index")


@pytest.fixture
def window(browser: WebDriver, built: Built) -> Iterator[Window]:
    """Show the example's site; every test ends without a console message or an outside request."""
    shown = Window(browser, built.out / "site")
    shown.console()
    shown.outside_requests()
    yield shown
    assert shown.console() == []
    assert shown.outside_requests() == []


def test_search_leads_to_a_page_by_keyboard(window: Window) -> None:
    """Tab reaches the search, typing finds, arrows and Enter open the page of a sampler."""
    driver = window.open("index.html")
    tab_to(driver, "#find-words", 6)
    press(driver, *"0047154")
    text_of(driver, ".find-list a", "0047154")
    press(driver, Keys.ARROW_DOWN, Keys.ENTER)
    wait_for(driver, lambda page: page.current_url.split("#")[0], lambda address: "index.html" not in address)
    text_of(driver, "main", "0047154")


def test_skip_link_is_first_and_seen(window: Window) -> None:
    """The first Tab stop shows itself and moves the focus to the content."""
    driver = window.open("findings.html")
    skip = press(driver, Keys.TAB)
    wait_for(driver, lambda _: (skip.text, skip.rect["y"] >= 0), lambda seen: seen == ("Skip to content", True))
    press(driver, Keys.ENTER)
    wait_until(driver, "document.activeElement.id === 'content'")


def test_the_map_is_worked_by_keyboard(window: Window) -> None:
    """The compound and a point are chosen from lists; the point's link opens its page."""
    driver = window.open("map/index.html")
    map_ready(driver)
    Select(tab_to(driver, "#layer", 10)).select_by_visible_text("Toluene")
    wait_until(driver, "document.documentElement.dataset.layer === 'toluene'")
    tab_to(driver, "#place", 3)
    press(driver, *"SG-37")
    wait_until(driver, "window.sitegenMap.report().selected === 'SG-37'")
    tab_to(driver, ".leaflet-popup a[href*='SG-37']", 40)
    press(driver, Keys.ENTER)
    wait_until(driver, "document.querySelector('h1')?.textContent.trim() === 'SG-37'")


def test_a_table_is_filtered_by_keyboard(window: Window) -> None:
    """A filter is reached by Tab, a choice narrows the rows, and the number left is said."""
    driver = window.open("findings.html")
    before = text_of(driver, ".filter-state")
    tab_to(driver, ".filters select")
    press(driver, Keys.ARROW_DOWN)
    after = driver.find_element(By.CSS_SELECTOR, ".filter-state")
    assert after.get_attribute("role") == "status"
    wait_for(driver, lambda _: after.text, lambda said: said != before)


def test_a_wide_table_is_scrolled_by_keyboard(window: Window) -> None:
    """A table wider than the screen takes the focus and moves with the arrow keys."""
    driver = window.open("locations/SG-37.html", 660, 800)
    region = driver.find_element(By.CSS_SELECTOR, ".table-region[tabindex='0']")
    driver.execute_script("arguments[0].focus()", region)
    press(driver, *[Keys.ARROW_RIGHT] * 4)
    wait_until(driver, "arguments[0].scrollLeft > 0", region)


@pytest.mark.parametrize("page", NARROW)
def test_pages_reflow_at_320_px(window: Window, page: str) -> None:
    """At 320 px no page scrolls sideways, everything unfolded."""
    driver = window.open(f"{page}.html", 320, 800)
    unfold(driver)
    assert driver.execute_script("return document.documentElement.scrollWidth") <= 320


def test_a_mark_is_in_view_on_a_phone(window: Window) -> None:
    """At 390 px every mark is within the width of the card of its number."""
    driver = window.open("locations/SG-37.html", 390, 800)
    outside = driver.execute_script("""
      return [...document.querySelectorAll('.data .number .mark')].filter((mark) => {
        const [own, card] = [mark.getBoundingClientRect(), mark.closest('tr').getBoundingClientRect()];
        return own.left < card.left || own.right > card.right;
      }).length;
    """)
    assert driver.find_elements(By.CSS_SELECTOR, ".data .number .mark")
    assert outside == 0


def test_paper_shows_content_alone(window: Window) -> None:
    """In print the bar and the list of pages are left out and tables are not cut."""
    driver = window.open("locations/SG-37.html", colours="dark")
    window.media("print")
    assert not driver.find_element(By.CSS_SELECTOR, ".bar").is_displayed()
    assert not driver.find_element(By.ID, "site-nav").is_displayed()
    look = "const style = getComputedStyle(document.querySelector(arguments[0])); return style[arguments[1]]"
    assert driver.execute_script(look, ".table-region", "overflow") == "visible"
    assert driver.execute_script(look, "h1", "color") == "rgb(0, 0, 0)"


def test_reduced_motion_is_kept(window: Window) -> None:
    """A reader who asks for less motion gets no transition on any element."""
    driver = window.open("index.html")
    window.media(prefers_reduced_motion="reduce")
    moving = (
        "return [...document.querySelectorAll('*')].filter((one) => { const style = getComputedStyle(one);"
        " return style.transitionDuration !== '0s' || style.animationName !== 'none' }).length"
    )
    assert driver.execute_script(moving) == 0
