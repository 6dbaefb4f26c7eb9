"""The field form on a small screen: opened from disk, with a clock that a test sets, and worked as a person does."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from builders import Change, changed, load
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement
from windows import frames, wait_for, wait_until

from sitegen.compute.design.fieldplan import field_plan
from sitegen.fieldwork.form.page import field_form
from sitegen.project.folder import Folder
from sitegen.project.survey import Survey

ZONE = "America/Chicago"
"""The example's."""
MORNING = "2025-10-23T08:11:32"

HERE = (-99.3682329, 43.0821387)
"""Longitude and latitude of the device: those of the example's SG-02, by PROJ."""

CLOCK = """
const Real = Date;
let now = Real.parse(%s);
window.setClock = (text) => { now = Real.parse(text); };
window.Date = class extends Real {
  constructor(...given) { super(...(given.length ? given : [now])); }
  static now() { return now; }
};
"""
"""The tests' clock, put before the page's own script; the page knows nothing of it."""

FIELD = """
const [label] = arguments;
const shown = (one) => one.checkVisibility();
const named = [...document.querySelectorAll("#main label")].filter((one) => shown(one) && one.textContent === label);
return named.map((one) => document.getElementById(one.htmlFor))[0];
"""
BUTTON = """
const [words] = arguments;
const shown = (one) => one.checkVisibility();
return [...document.querySelectorAll("button, summary")].find((one) => shown(one) && one.textContent === words);
"""
CHOICE = """
const [label, words] = arguments;
const groups = [...document.querySelectorAll("#main [role=group]")];
const group = groups.find((one) => one.querySelector(".label").textContent === label);
return [...group.querySelectorAll("button")].find((one) => one.textContent === words);
"""

EMPTIED = ("deployments", "return_bags", "samplers", "custody", "shipments")


def without_rows(*names: str) -> tuple[Change, ...]:
    """Leave the header alone of tables of the field work."""
    return tuple(Change(f"field/{name}.csv", lambda content: content.split(b"\n", 1)[0] + b"\n") for name in names)


def planned_folder(*more: Change) -> Folder:
    """Return the example as it was before anything went in."""
    return changed(*more, *without_rows(*EMPTIED))


def form_of(survey: Survey) -> bytes:
    """Return the form of a survey."""
    return field_form(survey, field_plan(survey))


def form_file(folder: Folder, path: Path) -> Path:
    """Write the form of a folder, and return where it is."""
    path.write_bytes(form_of(load(folder)))
    return path


class Phone:
    """A device with the form in its storage."""

    def __init__(self, driver: WebDriver, file: Path) -> None:
        self.driver = driver
        self.file = file
        self._scripts: list[str] = []
        size = {"width": 360, "height": 740, "deviceScaleFactor": 1, "mobile": True}
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        driver.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": ZONE})
        driver.execute_cdp_cmd("Browser.setDownloadBehavior", {"behavior": "allow", "downloadPath": str(file.parent)})
        place = {"latitude": HERE[1], "longitude": HERE[0], "accuracy": 5}
        driver.execute_cdp_cmd("Emulation.setGeolocationOverride", place)
        driver.execute_cdp_cmd("Browser.grantPermissions", {"permissions": ["geolocation"]})
        self.before_page(CLOCK % json.dumps(MORNING))
        self.forget()

    def before_page(self, script: str) -> None:
        """Run a script of the test before those of each page from now on."""
        made = self.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": script})
        self._scripts.append(made["identifier"])

    def second_tab(self) -> Phone:
        """Open the form in another tab of the same browser, and look at that one; its clock is the machine's."""
        self.driver.switch_to.new_window("tab")
        other = Phone.__new__(Phone)
        other.driver, other.file = self.driver, self.file
        other.open()
        return other

    def put_away(self) -> None:
        """Give the browser back as it was."""
        for name in self._scripts:
            self.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", {"identifier": name})
        self.driver.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": ""})
        self.driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        self.driver.execute_cdp_cmd("Emulation.clearGeolocationOverride", {})
        self.driver.execute_cdp_cmd("Browser.resetPermissions", {})

    def forget(self) -> None:
        """Open the form on a device that has never seen it."""
        self.driver.get(self.file.as_uri())
        self.driver.execute_script("localStorage.clear()")
        self.open()
        self.console()

    def open(self, page: str = "points") -> None:
        """Open the file anew at one of its pages."""
        self.driver.get("about:blank")
        self.driver.get(f"{self.file.as_uri()}#/{page}")
        wait_until(self.driver, "!document.getElementById('closed')")

    def go(self, page: str) -> None:
        """Turn to another page of the form."""
        self.driver.execute_script("location.hash = arguments[0]", f"#/{page}")
        frames(self.driver)

    def clock(self, text: str) -> None:
        """Set the clock of the device."""
        self.driver.execute_script("setClock(arguments[0])", text)

    def field(self, label: str) -> WebElement:
        """Return the field with a label, of those on show."""
        return wait_for(self.driver, lambda page: page.execute_script(FIELD, label))

    def type(self, label: str, text: str) -> None:
        """Type into a field in place of what it has, and leave it."""
        field = self.field(label)
        field.send_keys(Keys.CONTROL, "a")
        field.send_keys(text or Keys.DELETE)
        self.driver.execute_script("arguments[0].blur()", field)

    def tap(self, words: str) -> None:
        """Tap a button, or what opens a part of the page."""
        button = wait_for(self.driver, lambda page: page.execute_script(BUTTON, words))
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()
        frames(self.driver)

    def choose(self, label: str, words: str) -> None:
        """Tap one of the words of a choice."""
        button = wait_for(self.driver, lambda page: page.execute_script(CHOICE, label, words))
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()

    def place(self, point: str, serial: str, role: str = "FS-1") -> None:
        """Record that a sampler went in at a point."""
        self.go(f"point/{point}")
        self.type("Serial number of the sampler", serial)
        self.type("Serial number, second reading", serial)
        self.type("Installed by", role)
        self.tap("Installed now")

    def retrieve(self, point: str, role: str = "FS-2") -> None:
        """Record that the sampler at a point came out."""
        self.go(f"point/{point}")
        if not self.driver.execute_script(FIELD, "Retrieved by"):
            self.tap("Retrieval")
        self.type("Retrieved by", role)
        self.tap("Retrieved now")

    def shows(self, words: str) -> None:
        """Wait until the page has the words."""
        wait_for(self.driver, lambda page: page.find_element(By.TAG_NAME, "body").text, lambda text: words in text)

    def told(self) -> list[str]:
        """Return the errors and warnings at the fields on show."""
        script = "return [...document.querySelectorAll('.problems p')].map((one) => one.innerText)"
        return list(self.driver.execute_script(script))

    def plan(self) -> dict[str, Any]:
        """Return the plan that the form embeds."""
        return dict(json.loads(self.driver.execute_script("return document.getElementById('plan').textContent")))

    def record(self) -> dict[str, Any]:
        """Return what the browser keeps."""
        return dict(json.loads(self.driver.execute_script("return localStorage['field-record/KD-2025-01']")))

    def row(self, table: str, key: str) -> dict[str, str]:
        """Return one row that the browser keeps, by the value of its first column."""
        return next((row for row in self.record()["tables"][table] if key in row.values()), {})

    def export(self) -> dict[str, Any]:
        """Export, and return what was made, as the page shows it to be copied."""
        self.go("export")
        self.tap("Export now")
        return dict(json.loads(str(self.field("Text of the export").get_property("value"))))

    def take_in(self, data: dict[str, Any] | str) -> None:
        """Give the form the text of an export."""
        self.go("export")
        text = data if isinstance(data, str) else json.dumps(data, ensure_ascii=False)
        area = self.field("Or its text")
        self.driver.execute_script("arguments[0].value = arguments[1]", area, text)
        self.tap("Read the text")

    def console(self) -> list[str]:
        """Return what the console said since the last look."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def outside(self) -> list[str]:
        """Return the addresses asked for since the last look that are not on the device."""
        events = (json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance"))
        sent = (event["params"]["request"]["url"] for event in events if event["method"] == "Network.requestWillBeSent")
        return [url for url in sent if not url.startswith(("file:", "data:", "about:", "blob:"))]
