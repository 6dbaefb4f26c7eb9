"""The field form in a browser without a network: a day's work, by touch and by keys, and what is kept of it."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from importlib.resources import files
from typing import Any

from fieldwork.exports import export_data, faults, sealed
from phone import Phone
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.keys import Keys
from windows import press, tab_to, wait_for, wait_until

SUMS = files("sitegen").joinpath("templates/fieldwork/10_sums.js").read_text("utf-8")


def test_sums_are_those_of_the_standards(phone: Phone) -> None:
    """SHA-256 of FIPS 180-4's examples and of every length about a block; ISO/IEC 7064's example of MOD 1271-36.

    The two digests are those of the examples of FIPS 180-2, appendix B (kept by NIST for FIPS 180-4).
    """
    published = [
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ]
    words = ["abc", "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"]
    texts = [*words, "ä€🧪", *("x" * length for length in range(130))]
    own = phone.driver.execute_script(f"{SUMS} return arguments[0].map(ownSha256)", texts)
    asked = f"{SUMS} Promise.all(arguments[0].map(browserSha256)).then(arguments[1])"
    theirs = phone.driver.execute_async_script(asked, texts)
    assert own[:2] == theirs[:2] == published
    assert own == theirs == [hashlib.sha256(text.encode()).hexdigest() for text in texts]
    assert phone.driver.execute_script(f"{SUMS} return checkLetters('ISO79')") == "3W"
    labels = ["ISO79*3W", "I-S/O 79*3W", "ISO97*3W", "ISO79", "**00"]
    read = phone.driver.execute_script(f"{SUMS} return arguments[0].map(readLabel)", labels)
    assert read == ["ISO79", "I-S/O 79", "", "", ""]


def test_a_day_of_work_is_an_export(phone: Phone) -> None:
    """A sampler that was placed, described and retrieved stands in the export with each cell, and its log."""
    phone.place("SG-02", "0047102")
    phone.tap("Measured as planned: 3 ft")
    phone.choose("Soil moisture", "moist")
    phone.choose("Upper hole sleeved", "no")
    phone.type("Soil type", "silty clay")
    phone.clock("2025-11-05T08:24:05")
    phone.retrieve("SG-02")
    phone.choose("Condition on retrieval", "intact")
    phone.choose("Return bag", "BAG-1")
    data = phone.export()
    assert faults(data) == []
    row = data["tables"]["deployments"][0]
    assert row == {
        "sampler_id": "0047102", "location_id": "SG-02", "placed_at": "2025-10-23T08:11", "placed_by": "FS-1",
        "depth_ft": "3",        "moisture": "moist", "sleeve": "no", "soil_type": "silty clay",
        "retrieved_at": "2025-11-05T08:24", "retrieved_by": "FS-2",        "condition": "intact", "bag_id": "BAG-1",
    }  # fmt: skip
    assert data["tables"]["samplers"] == [
        {"sampler_id": "0047102", "label": "SG-02", "kind": "sample", "outcome": "used"}
    ]
    assert data["tables"]["return_bags"] == [{"bag_id": "BAG-1"}]
    assert (data["number"], data["made_at"]) == ("1", "2025-11-05T08:24")
    assert data["kit"] == phone.driver.execute_script(
        "return JSON.parse(document.getElementById('plan').textContent).kit"
    )
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
    tab_to(driver, ".out > summary")
    press(driver, Keys.ENTER)
    tab_to(driver, "button.main")
    press(driver, Keys.ENTER)
    wait_for(driver, lambda _: phone.row("deployments", "0047102").get("retrieved_at"))
    assert phone.row("deployments", "0047102")["location_id"] == point
    assert phone.row("deployments", "0047102")["moisture"] == "dry"


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


def test_a_spoiled_export_is_refused(phone: Phone) -> None:
    """A changed cell, another project, an unknown column, half a file: refused with the reason, and nothing taken."""
    good = export_data({"deployments": [{"sampler_id": "0047150", "location_id": "SG-01"}]})
    spoiled: list[tuple[Any, str]] = [
        (json.loads(json.dumps(good).replace("SG-01", "SG-02")), "SHA-256 of this export does not match its content"),
        (sealed({**good, "project": "OTHER-1"}), "This export is of another project: OTHER-1."),
        (sealed({**good, "format": "field 9"}), "not an export of a field form, or it is of a different version."),
        (export_data({"deployments": [{"sampler_id": "1", "sudo": "x"}]}), "columns unknown to this form"),
        (json.dumps(good)[:200], "it cannot be read"),
    ]
    for data, words in spoiled:
        phone.take_in(data)
        phone.shows(words)
    assert phone.record()["changes"] == []
