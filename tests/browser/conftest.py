"""A Chromium with the network cut, and the ways the browser tests use it.

Without a browser the tests are skipped; where ``CI`` is set they fail instead.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from phone import Phone, form_file, planned_folder
from selenium import webdriver
from selenium.webdriver.chrome.webdriver import WebDriver
from windows import PATIENCE_S

ARGUMENTS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
    "--window-size=1280,900",
)
"""No name can be resolved: any request to the network fails and is seen in the log. A preview has this address."""


@pytest.fixture(scope="session")
def browser() -> Iterator[WebDriver]:
    """Start Chromium once for all tests that use it."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    driver = shutil.which("chromedriver")
    if program is None or driver is None:
        reason = "chromium and chromedriver are not installed"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    options = webdriver.ChromeOptions()
    options.binary_location = program
    for argument in ARGUMENTS:
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    started = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    started.set_script_timeout(PATIENCE_S)
    yield started
    started.quit()


@pytest.fixture(scope="session")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the field form of the example before anything went in."""
    return form_file(planned_folder(), tmp_path_factory.mktemp("form") / "field_form.html")


@pytest.fixture
def phone(browser: WebDriver, form: Path) -> Iterator[Phone]:
    """Open the field form on a new device; in the end nothing went wrong, and nothing was asked of a network."""
    browser.get_log("performance")
    held = Phone(browser, form)
    yield held
    complaints, outside = held.console(), held.outside()
    held.put_away()
    assert (complaints, outside) == ([], [])
