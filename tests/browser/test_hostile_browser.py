"""A report full of hostile words in a browser: nothing runs, nothing is asked for, nothing is said."""

from __future__ import annotations

import pytest
from selenium.common.exceptions import NoAlertPresentException
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from windows import Window, frames, text_of

from sitegen.pipeline import Built

PAGES = ("index", "report", "compounds", "compounds/toluene", "locations/SG-37", "field", "findings", "map/index")


@pytest.mark.long
def test_hostile_words_run_nothing(browser: WebDriver, hostile: Built) -> None:
    """No dialog opens, no request leaves the disk and the console stays empty, search included."""
    window = Window(browser, hostile.out / "site")
    window.console()
    window.outside_requests()
    planted = sorted(path.stem for path in (hostile.out / "site/locations").glob("*.html"))[:9]
    for page in (*PAGES, *(f"locations/{name}" for name in planted)):
        driver = window.open(f"{page}.html")
        assert driver.find_elements(By.CSS_SELECTOR, "article script, [onerror], [onload], img[src='x']") == []
    driver = window.open("index.html")
    driver.find_element(By.ID, "find-words").send_keys("script alert")
    text_of(driver, ".find-state", "result")
    frames(driver)
    with pytest.raises(NoAlertPresentException):
        _ = driver.switch_to.alert.text
    assert window.console() == []
    assert window.outside_requests() == []
