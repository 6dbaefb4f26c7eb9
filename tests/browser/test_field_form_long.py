"""The field form as a whole: every page by axe-core, hundreds of taps at random, and what survives them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from fieldwork.exports import faults
from phone import Phone
from selenium.webdriver.support.ui import Select
from test_axe import RUN, TAGS

pytestmark = pytest.mark.long

TARGETS = """
const all = [...document.querySelectorAll("button, input, select, textarea, summary, a")];
return all.filter((one) => one.checkVisibility())
  .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.height < 47.9 || box.width < 47.9)
  .map(([html, box]) => `${html} ${box.width} x ${box.height}`);
"""
"""What is meant to be touched and is smaller than 48 px, as CSS counts them."""

TAPS = (Path(__file__).parent / "taps.js").read_text("utf-8")


def pages(phone: Phone) -> Iterator[str]:
    """Turn to each page in each of its states: blank, with an error, in place, out, sealed, exported, in conflict."""
    for page in (
        "points",
        "map",
        "bags",
        "bag/BAG-1",
        "handover",
        "export",
        "point/SG-02",
        "point/IA-01",
        "point/none",
        "point/SS-01",
    ):
        phone.go(page)
        yield page
    phone.place("SG-03", "")
    yield "an error"
    phone.place("SG-02", "0047102")
    phone.type("Depth of the sampler (ft)", "9")
    yield "in place, a depth off the plan"
    phone.retrieve("SG-02")
    phone.choose("Return bag", "BAG-1")
    yield "retrieved"
    phone.go("bag/BAG-1")
    for label, text in (
        ("Seal number", "1"),
        ("Seal number, second reading", "1"),
        ("Samplers counted in the bag", "1"),
        ("Sealed by", "FS-1"),
    ):
        phone.type(label, text)
    phone.tap("Sealed now")
    yield "a reason is asked"
    phone.type("Reason", "none was sent")
    phone.tap("Sealed now")
    yield "a sealed bag"
    phone.go("handover")
    phone.type("ID of the shipment", "SH-R1")
    Select(phone.field("Direction")).select_by_value("return")
    phone.tap("Add the shipment")
    yield "a shipment"
    data = phone.export()
    phone.driver.execute_script("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    yield "exported"
    phone.take_in(data)
    yield "an export read"
    phone.clock("2025-10-23T18:00:00")
    phone.place("SG-08", "0047108")
    phone.go("point/SG-08")
    phone.driver.execute_script("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    yield "in the evening, all unfolded"


def test_every_page_is_accessible_and_has_large_targets(phone: Phone) -> None:
    """At 360 px axe-core finds nothing on any page in any state, and what is touched has 48 px at least."""
    axe = files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
    found = []
    for name in pages(phone):
        phone.driver.execute_script(axe)
        told = phone.driver.execute_async_script(RUN, [], list(TAGS))
        found += [f"{name}: {one}" for one in told]
        found += [f"{name}: small: {one}" for one in phone.driver.execute_script(TARGETS)]
        wide = phone.driver.execute_script("return document.documentElement.scrollWidth")
        found += [f"{name}: {wide} px wide"] if wide > 360 else []
    assert found == [], "\n".join(found)


@pytest.mark.parametrize("seed", [1, 2])
def test_taps_at_random_leave_a_sound_record(phone: Phone, seed: int) -> None:
    """After 500 taps and texts the export is sound, nothing was thrown, and the record is the same after a reload."""
    thrown = phone.driver.execute_async_script(TAPS, 500, seed)
    assert thrown == []
    assert phone.record()["tables"]["deployments"], "the taps came to nothing"
    phone.open("points")
    before = phone.record()
    data = phone.export()
    assert faults(data) == []
    assert len(data["changes"]) == len(before["changes"])
    phone.forget()
    phone.take_in(data)
    if before["changes"]:
        phone.tap("Restore this device from it")
        assert json.dumps(phone.record()["tables"], sort_keys=True) == json.dumps(before["tables"], sort_keys=True)
