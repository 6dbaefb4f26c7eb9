"""The field form in a browser without a network: a day's work, what goes wrong in it, and what is kept."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from builders import cell, changed
from fieldwork.exports import export_data, faults, sealed
from hostile_texts import HTML, running
from phone import Phone, form_file, planned_folder, without_rows
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from windows import press, tab_to, wait_for, wait_until

SUMS = files("sitegen").joinpath("templates/fieldwork/10_sums.js").read_text("utf-8")


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the form of the example before anything went in."""
    return form_file(planned_folder(), tmp_path_factory.mktemp("form") / "field_form.html")


@pytest.fixture
def phone(browser: WebDriver, form: Path) -> Iterator[Phone]:
    """Open the form on a device of its own; in the end nothing was asked of the network, and nothing went wrong."""
    browser.get_log("performance")
    held = Phone(browser, form)
    yield held
    complaints, outside = held.console(), held.outside()
    held.put_away()
    assert complaints == []
    assert outside == []


def test_sums_are_those_of_the_standards(phone: Phone) -> None:
    """SHA-256 of FIPS 180-4's examples and of every length about a block; ISO/IEC 7064's example of MOD 1271-36.

    The two digests are those of the examples of FIPS 180-2, appendix B (kept by NIST for FIPS 180-4).
    """
    published = {
        "abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    }
    texts = [*published, "ä€🧪", *("x" * length for length in range(130))]
    script = f"{SUMS} const done = arguments[1]; Promise.all(arguments[0].map(browserSha256)).then((theirs) => done([arguments[0].map(ownSha256), theirs]));"
    own, theirs = phone.driver.execute_async_script(script, texts)
    assert own[:2] == theirs[:2] == list(published.values())
    assert own == theirs == [hashlib.sha256(text.encode()).hexdigest() for text in texts]
    read = "return [checkLetters('ISO79'), readLabel('ISO79*3W'), readLabel('ISO97*3W'), readLabel('ISO79'), readLabel('**00')]"
    assert phone.driver.execute_script(f"{SUMS} {read}") == ["3W", "ISO79", "", "", ""]


def test_a_day_of_work_is_an_export(phone: Phone) -> None:
    """A sampler that was placed, described and retrieved stands in the export with each cell, and its log."""
    phone.place("SG-02", "0047102")
    phone.tap("Measured as planned: 3 ft")
    phone.choose("Moisture of the soil", "moist")
    phone.choose("Upper hole sleeved", "no")
    phone.type("Soil", "silty clay")
    phone.clock("2025-11-05T08:24:05")
    phone.retrieve("SG-02")
    phone.choose("Condition on retrieval", "intact")
    phone.choose("Return bag", "BAG-1")
    data = phone.export()
    assert faults(data) == []
    row = data["tables"]["deployments"][0]
    assert row == {
        "sampler_id": "0047102", "location_id": "SG-02", "placed_at": "2025-10-23T08:11", "placed_by": "FS-1", "depth_ft": "3",
        "moisture": "moist", "sleeve": "no", "soil_type": "silty clay", "retrieved_at": "2025-11-05T08:24", "retrieved_by": "FS-2",
        "condition": "intact", "bag_id": "BAG-1",
    }  # fmt: skip
    assert data["tables"]["samplers"] == [{"sampler_id": "0047102", "label": "SG-02", "kind": "sample", "outcome": "used"}]
    assert data["tables"]["return_bags"] == [{"bag_id": "BAG-1"}]
    assert (data["number"], data["made_at"]) == ("1", "2025-11-05T08:24")
    assert data["kit"] == phone.driver.execute_script("return JSON.parse(document.getElementById('plan').textContent).kit")
    assert phone.export()["number"] == "2"


def test_placing_and_retrieval_by_keyboard_alone(phone: Phone) -> None:
    """Tab, letters, Enter and the space bar do all: from the list to a sampler that is placed and retrieved."""
    driver = phone.driver
    tab_to(driver, "main a.card")
    press(driver, Keys.ENTER)
    wait_until(driver, "document.activeElement.tagName === 'H1'")
    point = driver.execute_script("return document.querySelector('h1').textContent")
    for words in ("0047102", "0047102", "FS-1"):
        tab_to(driver, "input")
        press(driver, words)
    tab_to(driver, "button.main")
    press(driver, Keys.ENTER)
    phone.shows("Sampler 0047102")
    tab_to(driver, "[id*=moisture]")
    press(driver, Keys.SPACE)
    wait_for(driver, lambda _: phone.row("deployments", "0047102").get("moisture"))
    phone.clock("2025-11-05T08:24:05")
    driver.execute_script("document.querySelector('h1').focus()")
    tab_to(driver, "input")
    tab_to(driver, "button.main")
    press(driver, Keys.ENTER)
    wait_for(driver, lambda _: phone.row("deployments", "0047102").get("retrieved_at"))
    assert phone.row("deployments", "0047102")["location_id"] == point
    assert phone.row("deployments", "0047102")["moisture"] == "dry"


WRONG = {
    "differ": (("0047102", "0047120"), "The two entries differ."),
    "blank": (("", ""), "Enter the serial on the sampler."),
    "taken": (("0047199", "0047199"), "0047199 is already recorded at SG-01"),
    "blank inside": (("0047 102", "0047 102"), "A serial has no blanks"),
    "formula": (("=A1", "=A1"), "A spreadsheet would run this as a formula."),
}


def test_a_wrong_serial_is_told_at_once(phone: Phone) -> None:
    """Two entries that differ, none, one that is taken, and what is no serial: told at the field, and nothing is kept."""
    phone.place("SG-01", "0047199")
    for (first, second), words in WRONG.values():
        phone.go("points")
        phone.go("point/SG-02")
        phone.type("Serial on the sampler", first)
        phone.type("Serial once more", second)
        phone.type("Placed by", "FS-1")
        phone.tap("Placed now")
        assert any(words in one for one in phone.told()), (words, phone.told())
        assert len(phone.record()["tables"]["deployments"]) == 1
    bad = phone.driver.switch_to.active_element
    assert bad.get_attribute("aria-invalid") == "true"
    described = phone.driver.execute_script("return document.getElementById(arguments[0].getAttribute('aria-describedby').split(' ').pop()).innerText", bad)
    assert "formula" in described


def test_a_name_is_no_role_code(phone: Phone) -> None:
    """Only role codes go into the record."""
    phone.place("SG-02", "0047102", role="Jane Doe")
    assert any("and no name" in one for one in phone.told())
    assert phone.record()["tables"]["deployments"] == []


def test_times_are_corrected_with_a_reason(phone: Phone) -> None:
    """A later time is refused, one at night is told, a correction asks for its reason; the log keeps both."""
    phone.place("SG-02", "0047102")
    phone.tap("Correct: placed at")
    set_time(phone, "Placed at", "2025-10-24T08:00")
    phone.type("Reason for the correction", "tapped late")
    phone.tap("Save this time")
    assert any("in the future" in one for one in phone.told())
    set_time(phone, "Placed at", "2025-10-23T07:55")
    phone.type("Reason for the correction", "")
    phone.tap("Save this time")
    assert any("Give a reason" in one for one in phone.told())
    assert phone.row("deployments", "0047102")["placed_at"] == "2025-10-23T08:11"
    phone.type("Reason for the correction", "tapped late")
    phone.tap("Save this time")
    assert phone.record()["changes"][-1] == {
        "at": "2025-10-23T08:11:32", "table": "deployments", "key": "0047102", "column": "placed_at",
        "from": "2025-10-23T08:11", "to": "2025-10-23T07:55", "reason": "tapped late",
    }  # fmt: skip
    phone.tap("Correct: placed at")
    set_time(phone, "Placed at", "2025-10-23T03:55")
    phone.type("Reason for the correction", "again")
    phone.tap("Save this time")
    phone.shows("This time is at night.")


def set_time(phone: Phone, label: str, text: str) -> None:
    """Give a field of a day and a time its value, whatever the locale of its parts."""
    script = "arguments[0].value = arguments[1]; arguments[0].dispatchEvent(new Event('input'))"
    phone.driver.execute_script(script, phone.field(label), text)


def test_a_clock_before_the_placing_keeps_a_retrieval_out(phone: Phone) -> None:
    """By a clock that went back nothing is retrieved before it was placed."""
    phone.place("SG-02", "0047102")
    phone.clock("2025-10-22T08:00:00")
    phone.retrieve("SG-02")
    assert any("before the placing" in one for one in phone.told())
    assert "retrieved_at" not in phone.row("deployments", "0047102")


def test_a_depth_off_plan_is_told_and_kept(phone: Phone) -> None:
    """The plan is 3 ft give or take 0.5 ft: 3.5 says nothing, 3.6 is told and kept, and words are not."""
    phone.place("SG-02", "0047102")
    depth = "Depth of the sampler (ft)"
    phone.type(depth, "3.5")
    assert phone.told() == []
    phone.type(depth, "3.6")
    assert any("The plan is 3 ft, give or take 0.5 ft." in one for one in phone.told())
    assert phone.row("deployments", "0047102")["depth_ft"] == "3.6"
    phone.type(depth, "3 feet")
    assert any("Enter a number such as 3.0" in one for one in phone.told())
    assert phone.row("deployments", "0047102")["depth_ft"] == "3.6"


def test_a_full_bag_and_a_sealed_one_take_no_more(phone: Phone) -> None:
    """The plan puts 30 into a bag: the 31st is refused, with words; so is one for a bag that is sealed."""
    rows = [{"sampler_id": f"X{n}", "location_id": "SG-01", "placed_at": "2025-10-20T08:00", "bag_id": "BAG-1"} for n in range(30)]
    phone.take_in(export_data({"deployments": rows, "return_bags": [{"bag_id": "BAG-2", "sealed_at": "2025-10-22T09:00"}]}))
    phone.tap("Add it to this record")
    phone.place("SG-02", "0047102")
    phone.retrieve("SG-02")
    for bag, words in (("BAG-1", "Bag BAG-1 is full: it holds 30 of 30."), ("BAG-2", "Bag BAG-2 is sealed.")):
        phone.choose("Return bag", bag)
        assert any(words in one for one in phone.told())
        assert "bag_id" not in phone.row("deployments", "0047102")


def test_a_trip_blank_stays_closed(phone: Phone) -> None:
    """What is a bag's trip blank can't be placed, and what was placed can't be a trip blank."""
    phone.go("bag/BAG-1")
    phone.type("Serial on the sampler", "0047101")
    phone.type("Serial once more", "0047101")
    phone.tap("Trip blank is in the bag")
    assert phone.row("samplers", "0047101") == {"sampler_id": "0047101", "label": "TB-1", "kind": "trip_blank"}
    phone.place("SG-02", "0047101")
    assert any("already the trip blank of bag BAG-1" in one for one in phone.told())
    phone.place("SG-03", "0047102")
    phone.go("bag/BAG-2")
    phone.type("Serial on the sampler", "0047102")
    phone.type("Serial once more", "0047102")
    phone.tap("Trip blank is in the bag")
    assert any("already recorded at SG-03" in one for one in phone.told())


def test_serials_are_held_to_the_list_of_samplers(browser: WebDriver, tmp_path: Path) -> None:
    """Where the folder lists samplers, another serial needs a reason, and a listed trip blank is not placed."""
    listed = changed(*without_rows("deployments", "return_bags", "custody", "shipments"))
    phone = Phone(browser, form_file(listed, tmp_path / "field_form.html"))
    phone.place("SG-02", "0047101")
    assert any("0047101 is listed as a trip blank." in one for one in phone.told())
    phone.place("SG-03", "9999999")
    assert any("not in the list of samplers" in one for one in phone.told())
    assert phone.record()["tables"]["deployments"] == []
    phone.type("Reason", "label torn, read from the cap")
    phone.tap("Placed now")
    phone.shows("Sampler 9999999")
    assert phone.record()["changes"][-1]["reason"] == "label torn, read from the cap"
    assert faults(phone.export()) == []
    phone.put_away()


def test_a_bag_is_counted_and_sealed(phone: Phone) -> None:
    """A count that differs from the record needs a reason; the seal is a row of custody too."""
    phone.go("bag/BAG-1")
    for label, text in (("Number of the seal", "448213"), ("Number of the seal once more", "448213"), ("Samplers counted in the bag", "2"), ("Sealed by", "FS-1")):
        phone.type(label, text)
    phone.tap("Sealed now")
    assert any("The record has 0 in this bag, the count is 2." in one for one in phone.told())
    assert any("No trip blank is recorded in this bag." in one for one in phone.told())
    phone.type("Reason", "other device has the rest")
    phone.tap("Sealed now")
    phone.shows("Sealed at")
    data = phone.export()
    assert faults(data) == []
    assert data["tables"]["return_bags"][0] == {
        "bag_id": "BAG-1", "seal_applied": "448213", "sealed_at": "2025-10-23T08:11", "sealed_by": "FS-1", "count_declared": "2",
    }  # fmt: skip
    assert data["tables"]["custody"] == [
        {"event_id": f"{data['device']}-1", "subject_kind": "bag", "subject_id": "BAG-1", "event": "sealed", "at": "2025-10-23T08:11", "by_role": "FS-1", "seal_number": "448213"}
    ]  # fmt: skip


def test_a_killed_tab_loses_at_most_the_field_being_typed(phone: Phone) -> None:
    """The page is killed amid typing: what was tapped is there, and what was typed stands in its field again."""
    driver = phone.driver
    first = driver.current_window_handle
    other = phone.second_tab()
    other.place("SG-02", "0047102")
    other.field("Remark").send_keys("gate was locked")
    wait_until(driver, "localStorage['field-record/KD-2025-01/drafts'].includes('gate was locked')")
    killed = driver.current_window_handle
    with suppress(WebDriverException):  # the driver says so itself
        driver.execute_cdp_cmd("Page.crash", {})
    driver.switch_to.window(first)
    driver.execute_cdp_cmd("Target.closeTarget", {"targetId": killed})
    phone.open("point/SG-02")
    assert phone.row("deployments", "0047102")["placed_by"] == "FS-1"
    assert phone.field("Remark").get_property("value") == "gate was locked"


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
    for label, text in (("Serial on the sampler", "0047103"), ("Serial once more", "0047103"), ("Placed by", "FS-1")):
        other.type(label, text)
    other.tap("Placed now")
    assert [row["sampler_id"] for row in phone.record()["tables"]["deployments"]] == ["0047102"]
    other.tap("Load the newer record")
    for label, text in (("Serial on the sampler", "0047103"), ("Serial once more", "0047103"), ("Placed by", "FS-1")):
        other.type(label, text)
    other.tap("Placed now")
    assert [row["sampler_id"] for row in phone.record()["tables"]["deployments"]] == ["0047102", "0047103"]
    driver.close()
    driver.switch_to.window(first)


NO_STORAGE = "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('no', 'SecurityError'); } });"
NO_ROOM = "Storage.prototype.setItem = () => { throw new DOMException('no', 'QuotaExceededError'); };"


@pytest.mark.parametrize("how", ["refused", "full"])
def test_storage_that_fails_is_told(phone: Phone, how: str) -> None:
    """A browser that keeps nothing, and one whose storage is full: the page says so, and the export still has all."""
    phone.before_page(NO_STORAGE if how == "refused" else NO_ROOM)
    phone.open()
    phone.place("SG-02", "0047102")
    phone.shows("NOT SAVED")
    if how == "full":
        phone.shows("the storage of this browser is full or refused. Export now")
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
    assert "changes are not exported, the oldest of 2025-10-23 08:11" in warnings()
    phone.export()
    assert warnings() == ""
    phone.clock("2025-10-23T17:00:00")
    phone.place("SG-03", "0047103")
    assert "changes are not exported" in warnings()


def test_a_device_in_another_zone_is_told(phone: Phone) -> None:
    """The device's wall clock is the record's: a device set to another zone says so on every page."""
    phone.driver.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": "America/New_York"})
    phone.open()
    phone.shows("in the project's zone, America/Chicago, it is")


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
    phone.shows("This record holds all of it already.")


def work_a_little(phone: Phone) -> None:
    """Place two samplers, retrieve one, skip a point, name a photograph."""
    phone.place("SG-02", "0047102")
    phone.place("SG-03", "0047103")
    phone.retrieve("SG-03")
    phone.choose("Return bag", "BAG-1")
    phone.go("point/SG-04")
    phone.tap("This point is not done")
    phone.type("Why it is not done", "gate locked")
    phone.tap("Not done")
    phone.tap("Photographs (0 recorded)")
    phone.type("File name of a photograph", "IMG_0042.jpg")
    phone.tap("Add, taken just now")


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
    assert [one.text.split("\n") for one in beside] == [["deployments 0047102, location_id", "here", "SG-02", "device K7QF, export 1", "SG-03"]]
    assert faults(phone.export()) == []


def test_a_spoiled_export_is_refused(phone: Phone) -> None:
    """A changed cell, another project, an unknown column, half a file: refused with the reason, and nothing is taken."""
    good = export_data({"deployments": [{"sampler_id": "0047150", "location_id": "SG-01"}]})
    spoiled: list[tuple[Any, str]] = [
        (json.loads(json.dumps(good).replace("SG-01", "SG-02")), "The SHA-256 of this export does not fit its content"),
        (sealed({**good, "project": "OTHER-1"}), "This export is of another project: OTHER-1."),
        (sealed({**good, "format": "field 9"}), "This is no export of a field form, or one of another version."),
        (export_data({"deployments": [{"sampler_id": "1", "sudo": "x"}]}), "columns that this form doesn't know"),
        (json.dumps(good)[:200], "it can't be read"),
    ]
    for data, words in spoiled:
        phone.take_in(data)
        phone.shows(words)
    assert phone.record()["changes"] == []


def test_an_entry_is_taken_back_with_a_reason(phone: Phone) -> None:
    """A placing by mistake leaves the record and stays in the log; a duplicate beside it has to go first."""
    of_plan = "return JSON.parse(document.getElementById('plan').textContent).slots.find((slot) => slot.use === 'field_duplicate').point"
    pair = phone.driver.execute_script(of_plan)
    phone.place(pair, "0047102")
    phone.place(pair, "0047103")
    assert phone.row("deployments", "0047103")["duplicate_of"] == "0047102"
    assert phone.row("samplers", "0047103") == {"sampler_id": "0047103", "label": f"{pair}-D", "kind": "field_duplicate"}
    phone.tap("Take the placing back (entered by mistake)")
    phone.type("Reason", "wrong hole")
    phone.tap("Take back")
    phone.shows("0047103 is recorded beside or after 0047102. Take that back first.")
    assert phone.row("deployments", "0047102")
    phone.driver.execute_script("document.querySelectorAll('[aria-label=\"Sampler 0047102\"]').forEach((one) => one.remove())")
    phone.tap("Take the placing back (entered by mistake)")
    phone.type("Reason", "wrong hole")
    phone.tap("Take back")
    assert phone.row("deployments", "0047103") == phone.row("samplers", "0047103") == {}
    assert {"sampler_id": "0047102"}.items() <= phone.row("deployments", "0047102").items()
    data = phone.export()
    assert faults(data) == []
    assert data["changes"][-1] | {"at": ""} == {"at": "", "table": "samplers", "key": "0047103", "column": "sampler_id", "from": "0047103", "to": "", "reason": "wrong hole"}


def test_the_map_shows_where_the_device_is(phone: Phone) -> None:
    """The device at SG-02 is drawn at SG-02, to a metre; nothing asks for its position before the tap."""
    phone.go("map")
    assert phone.driver.find_elements(By.CSS_SELECTOR, ".here") == []
    phone.tap("Show my position")
    here = wait_for(phone.driver, lambda page: page.find_element(By.CSS_SELECTOR, ".here"))
    where = "const m = arguments[0].transform.baseVal.getItem(0).matrix; return [m.e, m.f]"
    at = phone.driver.execute_script(where, here)
    index = phone.driver.execute_script("return JSON.parse(document.getElementById('plan').textContent).points.findIndex((one) => one.id === 'SG-02')")
    point = phone.driver.execute_script(where, phone.driver.find_elements(By.CSS_SELECTOR, ".map > g:not(.here):not(.scale)")[index])
    metre = phone.driver.execute_script("const b = document.querySelector('.scale path').getBBox(); return b.width / parseFloat(document.querySelector('.scale text').textContent)")
    assert abs(at[0] - point[0]) < metre
    assert abs(at[1] - point[1]) < metre
    phone.driver.execute_script("arguments[0].dispatchEvent(new MouseEvent('click', {bubbles: true, ...(() => { const r = arguments[1].getBoundingClientRect(); return {clientX: r.x + r.width / 2, clientY: r.y + 8}; })()}))", phone.driver.find_element(By.CSS_SELECTOR, "svg.map"), here)
    assert phone.driver.find_element(By.CSS_SELECTOR, "#main a.card strong").text == "SG-02"


def test_hostile_words_of_a_plan_are_text(browser: WebDriver, tmp_path: Path) -> None:
    """Nothing in a plan, in an entry or in an export runs: it is shown as it was written."""
    folder = planned_folder(*running(), cell("locations/locations.csv", "SG-02", "rationale", HTML))
    phone = Phone(browser, form_file(folder, tmp_path / "field_form.html"))
    phone.place("SG-02", "<img/src=x/onerror=window.ran=1>")
    phone.type("Remark", HTML)
    for page in ("points", "map", "bags", "bag/BAG-1", "handover", "export", "point/SG-02", "point/<img src=x onerror=window.ran=1>"):
        phone.go(page)
        assert phone.driver.execute_script("return window.ran") is None
    phone.go("point/SG-02")
    phone.shows("<script>alert(1)</script>")
    assert phone.driver.execute_script("return document.querySelectorAll('#main script, #main img').length") == 0
    assert faults(phone.export()) == []
    assert phone.console() == []
    phone.put_away()
