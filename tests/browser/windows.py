"""A browser window that shows the pages of one built site, and the states that a test waits for.

Whatever follows an action (a key, a click, another size, a changed address) is waited for as a
state of the page, never for a time: a busy machine makes a test slow and nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from selenium.common.exceptions import NoSuchElementException, StaleElementReferenceException, TimeoutException
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import WebDriverWait

T = TypeVar("T")

PATIENCE_S = 120
"""Only a test that fails waits so long."""

BLANK = "data:text/html,<meta name='viewport' content='width=device-width'>"
"""A page with nothing on it that takes the window's size as the report's pages do."""

FRAMES = """
const [done] = arguments;
document.fonts.ready.then(() => requestAnimationFrame(() => requestAnimationFrame(() => done())));
"""
"""By the second frame the page is laid out, and what watches sizes has been told."""

UNFOLD = """
const [done] = arguments;
const folded = [...document.querySelectorAll("details:not([open])")];
const told = folded.map((one) => new Promise((tell) => one.addEventListener("toggle", tell, { once: true })));
for (const one of folded) one.open = true;
Promise.all(told).then(() => done());
"""


def wait_for(driver: WebDriver, read: Callable[[WebDriver], T], holds: Callable[[T], object] = bool) -> T:
    """Read again and again until what is read holds, and return it; what isn't there yet is read again."""
    last: list[T] = []

    def look(page: WebDriver) -> bool:
        last[:] = [read(page)]
        return bool(holds(last[0]))

    passing = (NoSuchElementException, StaleElementReferenceException)
    try:
        WebDriverWait(driver, PATIENCE_S, ignored_exceptions=passing).until(look)
    except TimeoutException:
        raise AssertionError(f"not so after {PATIENCE_S} s; last read: {last}") from None
    return last[0]


def wait_until(driver: WebDriver, condition: str, *values: object) -> None:
    """Wait until an expression of the page's script is true; ``arguments`` are the values."""
    try:
        wait_for(driver, lambda page: page.execute_script(f"return Boolean({condition})", *values))
    except AssertionError:
        raise AssertionError(f"not so after {PATIENCE_S} s: {condition} {values or ''}") from None


def text_of(driver: WebDriver, selector: str, words: str = "") -> str:
    """Wait until an element shows the words (any, where none are named), and return all that it shows."""
    return wait_for(
        driver,
        lambda page: str(page.find_element(By.CSS_SELECTOR, selector).text),
        lambda text: text and words in text,
    )


def frames(driver: WebDriver) -> None:
    """Wait until the page on show is laid out anew."""
    driver.execute_async_script(FRAMES)


def unfold(driver: WebDriver) -> None:
    """Open all that is folded away, and wait until the page has taken notice of each."""
    driver.execute_async_script(UNFOLD)
    frames(driver)


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


def map_ready(driver: WebDriver) -> None:
    """Wait until the map is drawn for the size that it has."""
    wait_until(driver, "window.sitegenMap && sitegenMap.report().labels")
    frames(driver)


class Window:
    """The pages of one site, opened from disk in a window whose size and colours can change."""

    def __init__(self, driver: WebDriver, root: Path) -> None:
        self.driver = driver
        self.root = root
        self._features: dict[str, str] = {}
        self._runs_scripts = True

    def open(self, page: str, width: int = 1280, height: int = 900, colours: str = "light") -> WebDriver:
        """Open a page (with its fragment, if any) at a size and with the system's colours."""
        self.driver.get(BLANK)
        self.shape(width, height, colours)
        self.driver.get(f"{self.root.as_uri()}/{page}")
        self._settle()
        return self.driver

    def shape(self, width: int, height: int, colours: str = "light") -> None:
        """Give the page on show another size and the system other colours."""
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        self._await(f"(width: {width}px) and (height: {height}px)")
        self.media(prefers_color_scheme=colours)

    def media(self, kind: str = "", **features: str) -> None:
        """Show the pages on another medium (the screen where none is named), and as the reader prefers."""
        self._features |= {name.replace("_", "-"): value for name, value in features.items()}
        wishes = [{"name": name, "value": value} for name, value in self._features.items()]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": kind, "features": wishes})
        self._await(" and ".join([kind or "screen", *(f"({name}: {value})" for name, value in self._features.items())]))
        self._settle()

    def scripts(self, *, enabled: bool) -> None:
        """Switch the pages' scripts on or off."""
        self.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": not enabled})
        self._runs_scripts = enabled

    def console(self) -> list[str]:
        """Return what the console said since the last look."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def outside_requests(self) -> list[str]:
        """Return the addresses asked for since the last look that are not on disk."""
        events = (json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance"))
        sent = (event["params"]["request"]["url"] for event in events if event["method"] == "Network.requestWillBeSent")
        return [url for url in sent if not url.startswith(("file:", "data:", "about:", "blob:"))]

    def _await(self, query: str) -> None:
        """Wait until the window itself, whatever frame of it is looked into, is as the media query says."""
        ask = {"expression": f"matchMedia('{query}').matches"}
        wait_for(
            self.driver,
            lambda page: page.execute_cdp_cmd("Runtime.evaluate", ask),
            lambda told: told["result"]["value"],
        )

    def _settle(self) -> None:
        if self._runs_scripts:
            frames(self.driver)
