"""The field form as a whole: every page by axe-core, hundreds of taps at random, and what survives them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from fieldwork.exports import faults
from phone import Phone, form_file, planned_folder
from selenium.webdriver.chrome.webdriver import WebDriver
from test_axe import RUN, TAGS

pytestmark = pytest.mark.long

TARGETS = """
return [...document.querySelectorAll("button, input, select, textarea, summary, a")].filter((one) => one.checkVisibility())
  .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.height < 47.9 || box.width < 47.9).map(([html, box]) => `${html} ${box.width} x ${box.height}`);
"""
"""What is meant to be touched and is smaller than 48 px, as CSS counts them."""

TAPS = """
const [count, seed, done] = arguments;
let state = seed;
const random = () => { state = (state * 1664525 + 1013904223) % 4294967296; return state / 4294967296; };
const pick = (list) => list[Math.floor(random() * list.length)];
const TEXTS = ["0047102", "0047102", "0047103", "0047104", "FS-1", "FS-1", "FS-2", "3.0", "12", "BAG-1", "SG-02", "SH-R1", "IMG_1.jpg", "=1+1",
  "Jane Doe", "<b>x</b>", "  ", "\\u00e4\\ud83e\\uddea\\ud83e", "a\\tb\\u0007c", "__proto__", "constructor", "NA", "x;y", "", "wet, \\"very\\" wet", "9".repeat(400)];
const TIMES = ["2025-10-23T07:55", "2025-10-24T12:00", "2025-10-23T02:00", ""];
const caught = [];
window.addEventListener("error", (event) => caught.push(event.message));
window.addEventListener("unhandledrejection", (event) => caught.push(String(event.reason)));
const shown = () => [...document.querySelectorAll("button, input:not([type=file]), select, summary, a, textarea, svg.map")].filter((one) => one.checkVisibility() && !one.disabled);
const enter = (one) => {
  if (one.tagName === "SELECT") one.value = pick([...one.options]).value;
  else {
    const twin = random() < 0.7 && [...document.querySelectorAll("#main input")].find((other) => other !== one && other.value);
    one.value = one.type === "datetime-local" ? pick(TIMES) : twin && random() < 0.5 ? twin.value : pick(TEXTS).slice(0, Math.max(one.maxLength, 1));
  }
  for (const event of ["input", "change"]) one.dispatchEvent(new Event(event, { bubbles: true }));
};
let serials = 0;
const LIKELY = [[/^Serial/, () => `00471${10 + serials}`], [/ by$|^By$/, () => pick(["FS-1", "FS-2"])], [/^Reason|^Why/, () => "as it was"], [/seal/, () => "4482"],
  [/counted/, () => String(Math.floor(random() * 4))], [/^Point at/, () => "SG-01"], [/^Given to/, () => "PM-1"], [/^Its id/, () => pick(["BAG-1", "BAG-2", "0047111"])],
  [/^File name/, () => `IMG_${Math.floor(random() * 99)}.jpg`], [/further bag/, () => "BAG-9"]];
const fillCard = (button) => {
  serials += random() < 0.9 ? 1 : 0;
  for (const one of (button.closest(".panel, details") || document.body).querySelectorAll("input:not([type=file]), select")) {
    if (!one.checkVisibility() || random() < 0.03) continue;
    const [label] = one.labels;
    const known = label && LIKELY.find(([words]) => words.test(label.textContent));
    if (one.tagName === "SELECT") one.value = pick([...one.options].slice(1)).value;
    else if (known) one.value = known[1]();
    else continue;
    for (const event of ["input", "change"]) one.dispatchEvent(new Event(event, { bubbles: true }));
  }
};
const step = (left) => {
  if (!left) { done(caught); return; }
  const parts = shown();
  const inside = parts.filter((one) => one.closest("main")).filter((one, at) => !one.matches(".cards a") || at < 8);
  const one = random() < 0.12 || !inside.length ? pick(parts) : pick(inside);
  if (["INPUT", "SELECT", "TEXTAREA"].includes(one.tagName)) enter(one);
  else {
    if (one.tagName === "BUTTON" && random() < 0.85) fillCard(one);
    one.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true, clientX: 100, clientY: 300 }));
  }
  setTimeout(() => step(left - 1), 0);
};
step(count);
"""
"""Taps and texts by a generator with a seed: the same in each run, as far as the form is the same."""


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the form of the example before anything went in."""
    return form_file(planned_folder(), tmp_path_factory.mktemp("form") / "field_form.html")


@pytest.fixture
def phone(browser: WebDriver, form: Path) -> Iterator[Phone]:
    """Open the form on a device of its own."""
    browser.get_log("performance")
    held = Phone(browser, form)
    yield held
    complaints, outside = held.console(), held.outside()
    held.put_away()
    assert (complaints, outside) == ([], [])


def pages(phone: Phone) -> Iterator[str]:
    """Turn to each page in each of its states: blank, with an error, in place, out, sealed, exported, in conflict."""
    for page in ("points", "map", "bags", "bag/BAG-1", "handover", "export", "point/SG-02", "point/IA-01", "point/none", "point/SS-01"):
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
    for label, text in (("Number of the seal", "1"), ("Number of the seal once more", "1"), ("Samplers counted in the bag", "1"), ("Sealed by", "FS-1")):
        phone.type(label, text)
    phone.tap("Sealed now")
    yield "a reason is asked"
    phone.type("Reason", "none was sent")
    phone.tap("Sealed now")
    yield "a sealed bag"
    phone.go("handover")
    phone.type("Id of a shipment", "SH-R1")
    phone.driver.execute_script("const one = document.getElementById('f-shipment_2Fdirection'); one.value = 'return'; one.dispatchEvent(new Event('change'))")
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


@pytest.mark.parametrize("seed", [1, 2, 3])
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
