"""The site in a browser: opened as files, the network cut."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from render.sample_report import HOSTILE, sample_files, sample_report
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select
from windows import Window, frames, press, text_of, unfold, wait_for, wait_until

from sitegen.render.site.site import write_site

PAGE_TYPES = (
    "index.html",
    "map.html",
    "findings.html",
    "checks.html",
    "glossary.html",
    "compounds/pce.html",
    "locations/SG-01.html",
    "samplers/S-0007.html",
)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the sample site once."""
    out = tmp_path_factory.mktemp("site") / "out"
    write_site(sample_report(), out, sample_files())
    return out


@pytest.fixture
def window(browser: WebDriver, site: Path) -> Iterator[Window]:
    """Open pages of the sample site; no message and no outside request may come up."""
    window = Window(browser, site)
    window.console()
    window.outside_requests()
    yield window
    assert window.console() == []
    assert window.outside_requests() == []


def search(driver: WebDriver, words: str, title: str) -> None:
    """Type words into the search field and wait until a page of this title is among those that they lead to."""
    driver.find_element(By.ID, "find-words").send_keys(words)
    text_of(driver, ".find-list", title)


@pytest.mark.parametrize("page", PAGE_TYPES)
def test_every_kind_of_page_opens_in_silence(window: Window, page: str) -> None:
    driver = window.open(page)
    assert driver.find_elements(By.CSS_SELECTOR, "html.js")
    assert len(driver.find_elements(By.TAG_NAME, "h1")) == 1


@pytest.mark.parametrize("page", ["index.html", "compounds/pce.html"])
def test_search_finds_a_location_by_a_field_comment(window: Window, page: str) -> None:
    driver = window.open(page)
    search(driver, "rough patch", "Location SG-03")
    driver.find_element(By.ID, "find-words").send_keys(Keys.ENTER)
    wait_for(driver, lambda page: page.title, lambda title: title.startswith("Location SG-"))


def test_a_search_for_nothing_there_says_so(window: Window) -> None:
    driver = window.open("index.html")
    field = driver.find_element(By.ID, "find-words")
    field.send_keys("zzzznowhere")
    text_of(driver, ".find-state", "No result for")


@pytest.mark.parametrize("width", [320, 360, 390])
@pytest.mark.parametrize("page", PAGE_TYPES)
def test_narrow_pages_never_scroll_sideways(window: Window, page: str, width: int) -> None:
    driver = window.open(page, width, 800)
    unfold(driver)
    assert driver.execute_script("return document.documentElement.scrollWidth") <= width


def test_only_tables_that_are_too_wide_are_tab_stops(window: Window) -> None:
    count = "return document.querySelectorAll('.table-region[role=region][tabindex=\"0\"]').length"
    assert window.open("findings.html").execute_script(count) == 0
    assert window.open("findings.html", 320, 800).execute_script(count) == 0
    assert window.open("compounds/pce.html", 660, 800).execute_script(count) == 2
    hints = window.driver.find_elements(By.CSS_SELECTOR, ".table-block:has(> [role=region]) > .table-hint")
    assert [hint.is_displayed() for hint in hints] == [False, True], "the first is folded away with its table"


def rows_on_show(driver: WebDriver) -> int:
    return sum(row.is_displayed() for row in driver.find_elements(By.CSS_SELECTOR, "tbody tr"))


def test_long_texts_stand_in_blocks_on_a_phone(window: Window) -> None:
    """A row's cells stand below each other under their titles, and a filter still hides rows."""
    driver = window.open("findings.html", 390, 800)
    row = driver.find_element(By.CSS_SELECTOR, "tbody tr")
    found = row.find_element(By.CSS_SELECTOR, "[data-title^=Found]")
    assert found.location["x"] < 60
    assert found.size["width"] > 250
    title = "return getComputedStyle(arguments[0], '::before').content"
    assert "Found" in driver.execute_script(title, found)
    assert row.aria_role == "row"
    assert found.aria_role == "cell"
    roles = "return [...document.querySelectorAll('.stacks')].map(r => r.querySelectorAll(arguments[0]).length)"
    parts = ("table[role=table]", "[role=rowgroup]", "thead [role=row]")
    assert {tuple(driver.execute_script(roles, part)) for part in parts} == {(1,), (2,)}
    Select(driver.find_element(By.XPATH, "//label[starts-with(., 'Severity')]/select")).select_by_value("Flag")
    wait_for(driver, rows_on_show, lambda shown: shown == 2)
    assert driver.execute_script(title, window.open("findings.html").find_element(By.CSS_SELECTOR, ".wide")) == "none"


def test_filters_narrow_the_rows_and_say_how_many_are_left(window: Window) -> None:
    driver = window.open("findings.html")
    Select(driver.find_element(By.XPATH, "//label[starts-with(., 'Severity')]/select")).select_by_value("Flag")
    wait_for(driver, rows_on_show, lambda shown: shown == 2)
    text_of(driver, ".filter-state", "2 of 3 rows")
    driver.find_element(By.XPATH, "//button[.='Show all']").click()
    wait_for(driver, rows_on_show, lambda shown: shown == 3)
    assert text_of(driver, ".filter-state") == "3 rows"


def test_source_rows_appear_on_demand(window: Window) -> None:
    driver = window.open("locations/SG-01.html")
    told = "getComputedStyle(document.querySelector('[data-origin]'), '::after').content"
    assert driver.execute_script(f"return {told}") == "none"
    driver.find_element(By.CSS_SELECTOR, ".origin-switch input").send_keys(Keys.SPACE)
    assert "lab/results.csv, row 12" in driver.execute_script(
        "return document.querySelector('[data-origin]').dataset.origin"
    )
    wait_until(driver, f"{told} !== 'none'")


def background(driver: WebDriver) -> str:
    return str(driver.execute_script("return getComputedStyle(document.body).backgroundColor"))


def test_colours_follow_the_system_until_the_reader_chooses(window: Window) -> None:
    light = background(window.open("index.html"))
    dark = background(window.open("index.html", colours="dark"))
    assert light != dark
    driver = window.open("index.html")
    driver.find_element(By.CSS_SELECTOR, ".colours summary").send_keys(Keys.ENTER)
    choice = driver.find_element(By.CSS_SELECTOR, "input[value=dark]")
    wait_for(driver, lambda _: choice.is_displayed())
    choice.click()
    wait_for(driver, background, lambda colour: colour == dark)
    assert background(window.open("findings.html")) == dark
    driver.execute_script("localStorage.clear()")


def test_the_list_of_pages_opens_by_keyboard_on_a_phone(window: Window) -> None:
    driver = window.open("index.html", 390, 800)
    nav = driver.find_element(By.ID, "site-nav")
    assert not nav.is_displayed()
    button = driver.find_element(By.CSS_SELECTOR, ".menu-button")
    button.send_keys(Keys.ENTER)
    wait_for(driver, lambda _: nav.is_displayed())
    assert button.get_attribute("aria-expanded") == "true"
    wait_for(driver, lambda page: page.switch_to.active_element.text, lambda text: text == "Summary")


def test_the_first_tab_stop_skips_to_the_content(window: Window) -> None:
    driver = window.open("index.html")
    press(driver, Keys.TAB, Keys.ENTER)
    wait_until(driver, "document.activeElement.id === 'content'")


def test_single_letters_do_nothing(window: Window) -> None:
    driver = window.open("locations/SG-02.html")
    press(driver, "s", "n", "f", "p")
    frames(driver)
    assert driver.switch_to.active_element.tag_name == "body"
    assert driver.title.startswith("Location SG-02")


def test_the_map_page_hands_its_place_on_to_the_map(window: Window) -> None:
    driver = window.open("map.html#SG-02")
    frame = driver.find_element(By.CSS_SELECTOR, "iframe[data-follows-address]")
    wait_for(driver, lambda _: frame.get_attribute("src") or "", lambda src: src.endswith("map/index.html#SG-02"))


def test_pages_are_complete_without_scripts(window: Window) -> None:
    window.scripts(enabled=False)
    try:
        driver = window.open("locations/SG-01.html", 390, 800)
        assert driver.find_element(By.ID, "site-nav").is_displayed()
        assert len(driver.find_elements(By.CSS_SELECTOR, "tbody tr")) == 60
        assert not driver.find_element(By.CSS_SELECTOR, ".find").is_displayed()
    finally:
        window.scripts(enabled=True)


def test_hostile_text_runs_nothing(browser: WebDriver, tmp_path: Path) -> None:
    write_site(sample_report(HOSTILE), tmp_path / "out", sample_files())
    window = Window(browser, tmp_path / "out")
    window.console()
    window.outside_requests()
    for page in PAGE_TYPES:
        driver = window.open(page)
        assert len(driver.find_elements(By.CSS_SELECTOR, "article script, [onload], [onerror]")) == 0
    search(window.open("index.html"), "rough", "Location SG-03")
    frames(window.driver)
    assert window.console() == []
    assert window.outside_requests() == []
