"""What the field form keeps and takes in: tabs, storage, exports, other devices, words of others."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from builders import cell, example
from fieldwork.exports import export_data, faults, sealed
from hostile_texts import HTML, running
from phone import Phone, form_file, planned_folder
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from windows import wait_for

from sitegen.project.tables import TABLE

pytestmark = pytest.mark.long


def test_another_tab_is_noticed(phone: Phone) -> None:
    """Of two tabs the older says so and takes nothing more, until it has loaded what the other wrote."""
    driver = phone.driver
    first = driver.current_window_handle
    other = phone.second_tab()
    second = driver.current_window_handle
    driver.switch_to.window(first)
    phone.place("SG-02", "0047102")
    driver.switch_to.window(second)
    other.shows("This form is open in another tab")
    other.go("point/SG-03")
    entries = (
        ("Serial number of the sampler", "0047103"),
        ("Serial number, second reading", "0047103"),
        ("Installed by", "FS-1"),
    )
    for label, text in entries:
        other.type(label, text)
    other.tap("Installed now")
    assert [row["sampler_id"] for row in phone.record()["tables"]["deployments"]] == ["0047102"]
    other.tap("Load the newer record")
    entries = (
        ("Serial number of the sampler", "0047103"),
        ("Serial number, second reading", "0047103"),
        ("Installed by", "FS-1"),
    )
    for label, text in entries:
        other.type(label, text)
    other.tap("Installed now")
    assert [row["sampler_id"] for row in phone.record()["tables"]["deployments"]] == ["0047102", "0047103"]
    driver.close()
    driver.switch_to.window(first)


NO_STORAGE = (
    "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('no', 'SecurityError'); } });"
)


NO_ROOM = "Storage.prototype.setItem = () => { throw new DOMException('no', 'QuotaExceededError'); };"


@pytest.mark.parametrize("how", ["refused", "full"])
def test_storage_that_fails_is_told(phone: Phone, how: str) -> None:
    """A browser that keeps nothing, and one whose storage is full: the page says so, and the export still has all."""
    phone.before_page(NO_STORAGE if how == "refused" else NO_ROOM)
    phone.open()
    phone.place("SG-02", "0047102")
    phone.shows("NOT SAVED")
    if how == "full":
        phone.shows("the browser storage is full or not permitted. Export now")
    assert phone.driver.find_element(By.ID, "saved").text == "NOT SAVED"
    data = phone.export()
    assert faults(data) == []
    assert data["tables"]["deployments"][0]["sampler_id"] == "0047102"
    phone.console()


def test_the_evening_asks_for_an_export(phone: Phone) -> None:
    """Changes of more than eight hours, and any after 17:00, call for an export; an export ends that."""
    warnings = lambda: phone.driver.find_element(By.ID, "warnings").text  # noqa: E731
    phone.place("SG-02", "0047102")
    assert warnings() == ""
    phone.clock("2025-10-23T16:12:00")
    phone.go("export")
    phone.go("points")
    assert "changes are not exported, the oldest from 2025-10-23 08:11" in warnings()
    phone.export()
    assert warnings() == ""
    phone.clock("2025-10-23T17:00:00")
    phone.place("SG-03", "0047103")
    assert "changes are not exported" in warnings()


def test_a_device_in_another_zone_is_told(phone: Phone) -> None:
    """The device's wall clock is the record's: a device set to another zone says so on every page."""
    phone.driver.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": "America/New_York"})
    phone.open()
    phone.shows("in the project time zone, America/Chicago, it is")


def test_an_export_restores_its_device(phone: Phone) -> None:
    """On a device that lost its record the export brings back the same tables, byte for byte, and its numbering."""
    work_a_little(phone)
    before, data = phone.record(), phone.export()
    phone.forget()
    assert phone.record()["device"] != data["device"]
    phone.take_in(data)
    phone.tap("Restore this device from it")
    after = phone.record()
    assert json.dumps(after["tables"], sort_keys=True) == json.dumps(before["tables"], sort_keys=True)
    assert (after["device"], after["changes"]) == (before["device"], before["changes"])
    again = phone.export()
    assert again["number"] == "2"
    assert again["tables"] == data["tables"]
    phone.take_in(data)
    phone.shows("This record already contains all of it.")


@pytest.mark.parametrize(("member", "text"), [("device", "K7QF/.."), ("number", "1e9"), ("kit", "another")])
def test_an_export_that_no_form_wrote_is_not_taken(phone: Phone, member: str, text: str) -> None:
    """Restored, it would give the device a name with which the office refuses all that is exported from then on."""
    phone.take_in(sealed({**export_data({}), member: text}))
    phone.shows("It was not imported.")


def work_a_little(phone: Phone) -> None:
    """Place two samplers, retrieve one, skip a point, name a photograph."""
    phone.place("SG-02", "0047102")
    phone.place("SG-03", "0047103")
    phone.retrieve("SG-03")
    phone.choose("Return bag", "BAG-1")
    phone.go("point/SG-04")
    phone.tap("No sampler installed at this point")
    phone.type("Reason for no installation", "gate locked")
    phone.tap("Not installed")
    phone.tap("Photographs (0 recorded)")
    phone.type("File name of a photograph", "IMG_0042.jpg")
    phone.tap("Add, taken now")


def test_another_device_is_merged_and_overwrites_nothing(phone: Phone) -> None:
    """Rows are added, blanks filled; a cell that differs stays, and both are shown beside each other, once."""
    phone.place("SG-02", "0047102")
    theirs = [
        {"sampler_id": "0047102", "location_id": "SG-03", "moisture": "wet"},
        {"sampler_id": "0047150", "location_id": "SG-01", "placed_at": "2025-10-23T07:40"},
    ]
    for _ in range(2):
        phone.take_in(export_data({"deployments": theirs}))
        phone.tap("Add it to this record")
    kept = phone.row("deployments", "0047102")
    assert (kept["location_id"], kept["moisture"]) == ("SG-02", "wet")
    assert phone.row("deployments", "0047150") == theirs[1]
    beside = phone.driver.find_elements(By.CSS_SELECTOR, ".beside")
    assert [one.text.split("\n") for one in beside] == [
        ["deployments 0047102, location_id", "here", "SG-02", "device K7QF, export 1", "SG-03"]
    ]
    assert faults(phone.export()) == []


def test_hostile_words_of_a_plan_are_text(browser: WebDriver, tmp_path: Path) -> None:
    """Nothing in a plan, in an entry or in an export runs: it is shown as it was written."""
    folder = planned_folder(*running(), cell("locations/locations.csv", "SG-02", "rationale", HTML))
    phone = Phone(browser, form_file(folder, tmp_path / "field_form.html"))
    phone.place("SG-02", "<img/src=x/onerror=window.ran=1>")
    phone.type("Remark", HTML)
    for page in (
        "points",
        "map",
        "bags",
        "bag/BAG-1",
        "handover",
        "export",
        "point/SG-02",
        "point/<img src=x onerror=window.ran=1>",
    ):
        phone.go(page)
        assert phone.driver.execute_script("return window.ran") is None
    phone.go("point/SG-02")
    phone.shows("<script>alert(1)</script>")
    assert phone.driver.execute_script("return document.querySelectorAll('#main script, #main img').length") == 0
    assert faults(phone.export()) == []
    assert phone.console() == []
    phone.put_away()


def test_files_are_saved_on_the_device(phone: Phone) -> None:
    """The export and the tables as CSV lie in the downloads; the text shown to be copied is the file's."""
    phone.place("SG-02", "0047102")
    phone.type("Remark", 'wet, "very"')
    data = phone.export()
    saved = downloaded(phone, f"field-{data['device']}-1.json")
    assert json.loads(saved) == data
    phone.tap("The same tables as CSV")
    phone.tap("deployments.csv")
    rows = list(csv.DictReader(io.StringIO(downloaded(phone, f"{data['device']}-deployments.csv"), newline="")))
    assert list(rows[0]) == list(TABLE["deployments"].column_names)
    assert [{name: text for name, text in row.items() if text} for row in rows] == data["tables"]["deployments"]


def downloaded(phone: Phone, name: str) -> str:
    """Wait until a file lies in the downloads, and return its text."""
    path = phone.file.parent / name
    return wait_for(phone.driver, lambda _: path.read_text("utf-8") if path.exists() else "")


def test_a_device_of_the_second_day_exports_what_it_changed(browser: WebDriver, tmp_path: Path) -> None:
    """A form made after a taking-in knows what is in place; of the folder's rows it exports those it changed, whole."""
    phone = Phone(browser, form_file(example(), tmp_path / "field_form.html"))
    assert phone.export()["tables"]["deployments"] == []
    phone.go("point/SG-37")
    phone.tap("Installation")
    phone.type("Remark", "patched twice")
    data = phone.export()
    begun = phone.plan()["tables"]
    assert faults(data, begun) == []
    (row,) = data["tables"]["deployments"]
    (was,) = (one for one in begun["deployments"] if one["sampler_id"] == row["sampler_id"])
    assert row == {**was, "comment": "patched twice"}
    assert phone.console() == []
    phone.put_away()
