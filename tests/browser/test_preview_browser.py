"""A preview as a person has it: a sentence is written and seen, findings stand beside it, a stop takes its place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from small_survey import small_survey
from test_axe import RUN, TAGS, axe
from windows import text_of, unfold, wait_until

from sitegen.preview.run import serving

__all__ = ["axe"]
STATE = ".preview-state"
DONE = f"!document.querySelector('{STATE}').textContent.includes('Updating')"


@pytest.fixture
def small(example: Path, tmp_path: Path) -> Path:
    """Return a folder that is quick to build, with a summary."""
    folder = small_survey(example, tmp_path / "survey")
    (folder / "text").mkdir(exist_ok=True)
    (folder / "text/summary.md").write_text("The first sentence.\n", "utf-8")
    return folder


@pytest.fixture
def url(small: Path, browser: WebDriver) -> Iterator[str]:
    """Return the address of a preview of the small folder."""
    browser.get_log("browser")
    with serving(small) as server:
        yield server.url
        browser.get("about:blank")


def broken(driver: WebDriver, axe: str) -> list[str]:
    """Return what axe finds in the page on show."""
    driver.execute_script(axe)
    return list(driver.execute_async_script(RUN, [], list(TAGS)))


def test_a_sentence_is_written_and_seen(browser: WebDriver, url: str, small: Path, axe: str) -> None:
    """The page on show takes up the sentence by itself, and then the whole; nothing is refused by its policy."""
    browser.get(url)
    text_of(browser, "#content", "The first sentence.")
    assert "Preview, not a report" in text_of(browser, ".preview-panel")
    (small / "text/summary.md").write_text("The second sentence.\n", "utf-8")
    text_of(browser, "#content", "The second sentence.")
    wait_until(browser, DONE)
    assert "stop" in text_of(browser, STATE, "hold")
    unfold(browser)
    assert "Expected:" in text_of(browser, ".preview-list", "Action:")
    assert broken(browser, axe) == []
    assert [entry["message"] for entry in browser.get_log("browser")] == []


def test_a_stop_is_seen_and_mended(browser: WebDriver, url: str, small: Path, axe: str) -> None:
    """The findings take the page's place, the last good page is a link away, and the page comes back."""
    browser.get(f"{url}report.html")
    wait_until(browser, DONE)
    results = (small / "lab/results.csv").read_bytes()
    (small / "lab/results.csv").unlink()
    text_of(browser, "main", "The report cannot be built")
    assert "lab/results.csv" in text_of(browser, ".preview-list", "no such file")
    assert broken(browser, axe) == []
    browser.find_element(By.LINK_TEXT, "Show the last complete pages").click()
    assert "last complete version" in text_of(browser, STATE)
    text_of(browser, "#content h1", "Interpretation")
    (small / "lab/results.csv").write_bytes(results)
    wait_until(browser, "location.pathname === '/report.html' && " + DONE)
    text_of(browser, "#content h1", "Interpretation")
