"""A browser window that shows the pages of one built site."""

from __future__ import annotations

import json
from pathlib import Path

from selenium.webdriver.chrome.webdriver import WebDriver


class Window:
    """The pages of one site, opened from disk in a window whose size and colours can change."""

    def __init__(self, driver: WebDriver, root: Path) -> None:
        self.driver = driver
        self.root = root

    def open(self, page: str, width: int = 1280, height: int = 900, colours: str = "light") -> WebDriver:
        """Open a page (with its fragment, if any) at a size and with the system's colours."""
        self.shape(width, height, colours)
        self.driver.get("about:blank")
        self.driver.get(f"{self.root.as_uri()}/{page}")
        return self.driver

    def shape(self, width: int, height: int, colours: str) -> None:
        """Give the page on show another size and the system other colours."""
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        media = {"features": [{"name": "prefers-color-scheme", "value": colours}]}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)

    def scripts(self, *, enabled: bool) -> None:
        """Switch the pages' scripts on or off."""
        self.driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": not enabled})

    def console(self) -> list[str]:
        """Return what the console said since the last look."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def outside_requests(self) -> list[str]:
        """Return the addresses asked for since the last look that are not on disk."""
        events = (json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance"))
        sent = (event["params"]["request"]["url"] for event in events if event["method"] == "Network.requestWillBeSent")
        return [url for url in sent if not url.startswith(("file:", "data:", "about:", "blob:"))]
