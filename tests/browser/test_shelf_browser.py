"""The shelf page opened from disk in a browser with the network cut."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from shelf_bags import archive_at
from windows import Window, text_of, unfold, wait_until

from sitegen.shelf.command import make_shelf

RUN = """
const [done] = arguments;
const runOnly = { type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] };
axe.run(document, { runOnly, resultTypes: ["violations"] }).then(
  (found) => done(found.violations.map(({ id, nodes }) => `${id}: ${nodes[0].html.slice(0, 200)}`)),
  (error) => done([String(error)]),
);
"""
HOSTILE = "</script><script>window.ran=1</script><img src=x onerror=window.ran=1>"


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Window:
    """Lay out a shelf of four surveys, one with an older revision and one with hostile words, and show its page."""
    archive_at(tmp_path, "AA-1", 1, at=(-99.0, 43.0))
    archive_at(tmp_path, "AA-1", 2, at=(-99.0, 43.0), title="Yard survey")
    archive_at(tmp_path, "BB-2", at=(-98.0, 43.5), site="Café quay")
    archive_at(tmp_path, "CC-3", access="internal")
    archive_at(tmp_path, "DD-4", at=(-98.001, 43.5), title=HOSTILE, site=HOSTILE)
    (tmp_path / "broken.zip").write_bytes(b"none")
    make_shelf([tmp_path])
    return Window(browser, tmp_path)


def shown(driver: WebDriver) -> list[str]:
    """Return the surveys whose rows can be seen."""
    return [
        str(one.get_attribute("id")) for one in driver.find_elements(By.CSS_SELECTOR, "tbody") if one.is_displayed()
    ]


def test_words_narrow_the_table_and_the_map(window: Window) -> None:
    """Words, whatever their accents and case, leave the surveys that have all of them, and their marks."""
    driver = window.open("shelf.html")
    assert text_of(driver, "#count") == "4 of 4 surveys shown"
    driver.find_element(By.ID, "words").send_keys("cafe QUAY")
    wait_until(driver, "document.getElementById('count').textContent.startsWith('1 of 4')")
    assert shown(driver) == ["project-2"]
    marks = [one for one in driver.find_elements(By.CSS_SELECTOR, "[data-sites]") if one.is_displayed()]
    assert [one.get_attribute("data-sites") for one in marks] == ["2 4"]
    driver.find_element(By.ID, "words").send_keys(" nothing")
    wait_until(driver, "document.getElementById('count').textContent.startsWith('0 of 4')")


def test_older_revisions_can_be_put_away(window: Window) -> None:
    """The box takes the older rows away and brings them back; a key does it."""
    driver = window.open("shelf.html")
    assert driver.find_element(By.CSS_SELECTOR, "tr.older").is_displayed()
    driver.find_element(By.ID, "older").send_keys(Keys.SPACE)
    wait_until(driver, "document.querySelector('tr.older').hidden")


def test_nothing_of_an_archive_runs_and_nothing_is_asked_for(window: Window) -> None:
    """Hostile words stand as text, the console is silent, and no address outside the disk is asked for."""
    window.console()
    window.outside_requests()
    driver = window.open("shelf.html")
    assert "<script>window.ran=1</script>" in driver.find_element(By.ID, "project-4").text
    assert driver.execute_script("return window.ran === undefined")
    assert window.console() == []
    assert window.outside_requests() == []


@pytest.mark.parametrize("width", [1280, 390])
def test_the_page_holds_to_wcag_and_fits_its_width(window: Window, width: int) -> None:
    """axe-core finds no violation of WCAG 2.2 AA, and nothing is wider than the window."""
    driver = window.open("shelf.html", width)
    unfold(driver)
    driver.execute_script(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))
    assert driver.execute_async_script(RUN) == []
    assert driver.execute_script("return document.documentElement.scrollWidth") <= width


def test_without_scripts_everything_is_there(window: Window) -> None:
    """The table, the map and the links need no script; the search is not offered then."""
    window.scripts(enabled=False)
    try:
        driver = window.open("shelf.html")
        assert len(driver.find_elements(By.CSS_SELECTOR, "tbody")) == 4
        assert not driver.find_element(By.ID, "search").is_displayed()
    finally:
        window.scripts(enabled=True)
