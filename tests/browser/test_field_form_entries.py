"""What the field form says of an entry that is wrong or odd, and how one is corrected."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import changed
from fieldwork.exports import export_data, faults
from phone import Phone, form_file, without_rows
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select
from windows import wait_for

pytestmark = pytest.mark.long


WRONG = {
    "differ": (("0047102", "0047120"), "The two entries differ."),
    "blank": (("", ""), "Enter the serial number of the sampler."),
    "taken": (("0047199", "0047199"), "0047199 is already recorded at SG-01"),
    "blank inside": (("0047 102", "0047 102"), "A serial number has no spaces"),
    "formula": (("=A1", "=A1"), "A spreadsheet would read this as a formula."),
}


def test_a_wrong_serial_is_told_at_once(phone: Phone) -> None:
    """Two entries that differ, none, one that is taken, what is no serial: told at the field, and nothing is kept."""
    phone.place("SG-01", "0047199")
    for (first, second), words in WRONG.values():
        phone.go("points")
        phone.go("point/SG-02")
        phone.type("Serial number of the sampler", first)
        phone.type("Serial number, second reading", second)
        phone.type("Installed by", "FS-1")
        phone.tap("Installed now")
        assert any(words in one for one in phone.told()), (words, phone.told())
        assert len(phone.record()["tables"]["deployments"]) == 1
    bad = phone.driver.switch_to.active_element
    assert bad.get_attribute("aria-invalid") == "true"
    described = phone.driver.execute_script(
        "return document.getElementById(arguments[0].getAttribute('aria-describedby').split(' ').pop()).innerText", bad
    )
    assert "formula" in described


def test_a_name_is_no_role_code(phone: Phone) -> None:
    """Only role codes go into the record."""
    phone.place("SG-02", "0047102", role="Jane Doe")
    assert any("Enter a role code such as FS-1, not a name." in one for one in phone.told())
    assert phone.record()["tables"]["deployments"] == []


def test_times_are_corrected_with_a_reason(phone: Phone) -> None:
    """A later time is refused, one at night is told, a correction asks for its reason; the log keeps both."""
    phone.place("SG-02", "0047102")
    phone.tap("Correct: installed at")
    set_time(phone, "Installed at", "2025-10-24T08:00")
    phone.type("Reason for the correction", "tapped late")
    phone.tap("Save this time")
    assert any("in the future" in one for one in phone.told())
    set_time(phone, "Installed at", "2025-10-23T07:55")
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
    phone.tap("Correct: installed at")
    set_time(phone, "Installed at", "2025-10-23T03:55")
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
    assert any("before installation" in one for one in phone.told())
    assert "retrieved_at" not in phone.row("deployments", "0047102")


def test_a_depth_off_plan_is_told_and_kept(phone: Phone) -> None:
    """The plan is 3 ft give or take 0.5 ft: 3.5 says nothing, 3.6 is told and kept, and words are not."""
    phone.place("SG-02", "0047102")
    depth = "Depth of the sampler (ft)"
    phone.type(depth, "3.5")
    assert phone.told() == []
    phone.type(depth, "3.6")
    assert any("Planned: 3 ft, within 0.5 ft." in one for one in phone.told())
    assert phone.row("deployments", "0047102")["depth_ft"] == "3.6"
    phone.type(depth, "3 feet")
    assert any("Enter a number such as 3.0" in one for one in phone.told())
    assert phone.row("deployments", "0047102")["depth_ft"] == "3.6"


def test_a_full_bag_and_a_sealed_one_take_no_more(phone: Phone) -> None:
    """The plan puts 30 into a bag: the 31st is refused, with words; so is one for a bag that is sealed."""
    rows = [
        {"sampler_id": f"X{n}", "location_id": "SG-01", "placed_at": "2025-10-20T08:00", "bag_id": "BAG-1"}
        for n in range(30)
    ]
    phone.take_in(
        export_data({"deployments": rows, "return_bags": [{"bag_id": "BAG-2", "sealed_at": "2025-10-22T09:00"}]})
    )
    phone.tap("Add it to this record")
    phone.place("SG-02", "0047102")
    phone.retrieve("SG-02")
    for bag, words in (("BAG-1", "Bag BAG-1 is full: 30 of 30 samplers."), ("BAG-2", "Bag BAG-2 is sealed.")):
        phone.choose("Return bag", bag)
        assert any(words in one for one in phone.told())
        assert "bag_id" not in phone.row("deployments", "0047102")


def test_a_trip_blank_stays_closed(phone: Phone) -> None:
    """What is a bag's trip blank can't be placed, and what was placed can't be a trip blank."""
    phone.go("bag/BAG-1")
    phone.type("Serial number of the sampler", "0047101")
    phone.type("Serial number, second reading", "0047101")
    phone.tap("Trip blank is in the bag")
    assert phone.row("samplers", "0047101") == {"sampler_id": "0047101", "label": "TB-1", "kind": "trip_blank"}
    phone.place("SG-02", "0047101")
    assert any("already the trip blank of bag BAG-1" in one for one in phone.told())
    phone.place("SG-03", "0047102")
    phone.go("bag/BAG-2")
    phone.type("Serial number of the sampler", "0047102")
    phone.type("Serial number, second reading", "0047102")
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
    phone.tap("Installed now")
    phone.shows("Sampler 9999999")
    assert phone.record()["changes"][-1]["reason"] == "label torn, read from the cap"
    assert faults(phone.export()) == []
    phone.put_away()


def test_a_bag_is_counted_and_sealed(phone: Phone) -> None:
    """A count that differs from the record needs a reason; the seal is a row of custody too."""
    phone.go("bag/BAG-1")
    for label, text in (
        ("Seal number", "448213"),
        ("Seal number, second reading", "448213"),
        ("Samplers counted in the bag", "2"),
        ("Sealed by", "FS-1"),
    ):
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
        "bag_id": "BAG-1", "seal_applied": "448213", "sealed_at": "2025-10-23T08:11", "sealed_by": "FS-1",
        "count_declared": "2",
    }  # fmt: skip
    assert data["tables"]["custody"] == [
        {
            "event_id": f"{data['device']}-1", "subject_kind": "bag", "subject_id": "BAG-1", "event": "sealed",
            "at": "2025-10-23T08:11", "by_role": "FS-1", "seal_number": "448213",
        }
    ]  # fmt: skip


def test_an_entry_is_taken_back_with_a_reason(phone: Phone) -> None:
    """A placing by mistake leaves the record and stays in the log; a duplicate beside it has to go first."""
    pair = next(slot["point"] for slot in phone.plan()["slots"] if slot["use"] == "field_duplicate")
    phone.place(pair, "0047102")
    phone.place(pair, "0047103")
    assert phone.row("deployments", "0047103")["duplicate_of"] == "0047102"
    assert phone.row("samplers", "0047103") == {
        "sampler_id": "0047103",
        "label": f"{pair}-D",
        "kind": "field_duplicate",
    }
    phone.tap("Withdraw the installation (entered in error)")
    phone.type("Reason", "wrong hole")
    phone.tap("Withdraw")
    phone.shows("0047103 is recorded as duplicate or replacement of 0047102. Withdraw that entry first.")
    assert phone.row("deployments", "0047102")
    phone.driver.execute_script(
        "document.querySelectorAll('[aria-label=\"Sampler 0047102\"]').forEach((one) => one.remove())"
    )
    phone.tap("Withdraw the installation (entered in error)")
    phone.type("Reason", "wrong hole")
    phone.tap("Withdraw")
    assert phone.row("deployments", "0047103") == phone.row("samplers", "0047103") == {}
    assert {"sampler_id": "0047102"}.items() <= phone.row("deployments", "0047102").items()
    data = phone.export()
    assert faults(data) == []
    assert data["changes"][-1] | {"at": ""} == {
        "at": "",
        "table": "samplers",
        "key": "0047103",
        "column": "sampler_id",
        "from": "0047103",
        "to": "",
        "reason": "wrong hole",
    }


WHERE = "const m = arguments[0].transform.baseVal.getItem(0).matrix; return [m.e, m.f]"
METRE = """
const length = parseFloat(document.querySelector(".scale text").textContent);
return document.querySelector(".scale path").getBBox().width / length;
"""
TOUCH = """
const box = arguments[1].getBoundingClientRect();
const at = { clientX: box.x + box.width / 2, clientY: box.y + 8, bubbles: true };
arguments[0].dispatchEvent(new MouseEvent("click", at));
"""


def test_the_map_shows_where_the_device_is(phone: Phone) -> None:
    """The device at SG-02 is drawn at SG-02, to a metre, after a tap and not before; a touch there chooses SG-02."""
    driver = phone.driver
    phone.go("map")
    assert driver.find_elements(By.CSS_SELECTOR, ".here") == []
    phone.tap("Show my position")
    here = wait_for(driver, lambda page: page.find_element(By.CSS_SELECTOR, ".here"))
    index = [point["id"] for point in phone.plan()["points"]].index("SG-02")
    point = driver.find_elements(By.CSS_SELECTOR, ".map > g:not(.here):not(.scale)")[index]
    x, y = driver.execute_script(WHERE, here)
    point_x, point_y = driver.execute_script(WHERE, point)
    metre = driver.execute_script(METRE)
    assert abs(x - point_x) < metre
    assert abs(y - point_y) < metre
    driver.execute_script(TOUCH, driver.find_element(By.CSS_SELECTOR, "svg.map"), here)
    assert driver.find_element(By.CSS_SELECTOR, "#main a.card strong").text == "SG-02"


CAMERA = """
window.BarcodeDetector = class { async detect() { return [{ rawValue: window.label || "" }]; } };
const picture = document.createElement("canvas");
const drawn = picture.getContext("2d");
setInterval(() => drawn.fillRect(0, 0, 9, 9), 50);
if (navigator.mediaDevices) navigator.mediaDevices.getUserMedia = async () => picture.captureStream();
"""
"""A camera that sees the label ``window.label``."""


def test_a_label_is_read_by_the_camera(phone: Phone) -> None:
    """A label whose check letters fit fills both fields; one that was misread is told, and fills none."""
    phone.before_page(CAMERA)
    phone.open("point/SG-02")
    phone.driver.execute_script("window.label = 'ISO97*3W'")
    phone.tap("Scan the serial number")
    phone.shows("The check characters of the scanned code do not match.")
    assert phone.field("Serial number of the sampler").get_property("value") == ""
    phone.driver.execute_script("window.label = 'ISO79*3W'")
    phone.shows("ISO79 read from the label.")
    labels = ("Serial number of the sampler", "Serial number, second reading")
    both = [phone.field(label).get_property("value") for label in labels]
    assert both == ["ISO79", "ISO79"]
    assert phone.driver.find_elements(By.TAG_NAME, "video") == []


def test_a_hand_over_names_both_sides(phone: Phone) -> None:
    """What is relinquished is given to somebody; the row has the words of the format and the device's own number."""
    phone.go("handover")
    for label, word in (("Item", "bag"), ("Event", "relinquished"), ("Type of signature", "ink")):
        Select(phone.field(label)).select_by_value(word)
    phone.type("ID of the item", "BAG-7")
    phone.type("By", "FS-1")
    phone.tap("Record now")
    assert any("No bag with this ID is recorded here." in one for one in phone.told())
    assert any("Enter the role code" in one for one in phone.told())
    assert phone.record()["tables"]["custody"] == []
    phone.type("ID of the item", "BAG-1")
    phone.type("Transferred to", "PM-1")
    phone.tap("Record now")
    data = phone.export()
    assert data["tables"]["custody"] == [
        {
            "event_id": f"{data['device']}-1", "subject_kind": "bag", "subject_id": "BAG-1", "event": "relinquished",
            "at": "2025-10-23T08:11", "by_role": "FS-1", "to_role": "PM-1", "signature": "ink",
        }
    ]  # fmt: skip


def test_a_shipment_is_packed_with_its_bags(phone: Phone) -> None:
    """A return shipment has the bags that were put into it, and when it was packed."""
    phone.place("SG-02", "0047102")
    phone.retrieve("SG-02")
    phone.choose("Return bag", "BAG-1")
    phone.go("handover")
    phone.type("ID of the shipment", "SH-R1")
    Select(phone.field("Direction")).select_by_value("return")
    phone.tap("Add the shipment")
    phone.tap("BAG-1")
    phone.tap("Packed now")
    phone.type("Items declared", "2 bags")
    assert any("Enter a whole number." in one for one in phone.told())
    phone.type("Items declared", "2")
    data = phone.export()
    packed = {"shipment_id": "SH-R1", "direction": "return", "packed_at": "2025-10-23T08:11", "items_declared": "2"}
    assert data["tables"]["shipments"] == [packed]
    assert data["tables"]["return_bags"] == [{"bag_id": "BAG-1", "shipment_id": "SH-R1"}]
