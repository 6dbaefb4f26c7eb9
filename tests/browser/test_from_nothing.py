"""A survey driven from nothing to its report, by the commands and by the form, as its people would do it.

Plan, accept, kit, two devices without a network and one conflict between them, take-in, evening, bags and custody
complete, laboratory, build. What a person types is counted, cell by cell.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import planned_survey
import pytest
from phone import FIELD, Phone
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.support.ui import Select
from windows import wait_for

pytestmark = pytest.mark.long

SETTINGS = (
    planned_survey.SETTINGS.replace("locations = 18", "locations = 7")
    .replace("spares = 2", "spares = 1")
    .replace("report_date = 2025-10-13", "report_date = 2025-11-20")
    .replace(
        "[plan.keep_off]",
        """[plan.grid]
spacing = { value = 40.0, unit = "m" }
shift_east = { value = 20.0, unit = "m" }
shift_north = { value = 15.0, unit = "m" }

[[plan.along]]
feature = "Sewer"
spacing = { value = 60.0, unit = "m" }
offset = { value = 3.0, unit = "m" }
rationale = "along the sewer"

[plan.keep_off]""",
    )
)
PLACED_ON, RETRIEVED_ON = "2025-10-27", "2025-11-06"
RECEIVED = "2025-11-10T10:05"


@dataclass
class Typed:
    """What a person typed, counted where it was typed; a choice from a list and a tap are no typing."""

    settings: int = 0
    form: int = 0
    tables: int = 0

    @property
    def all(self) -> int:
        """All of it."""
        return self.settings + self.form + self.tables


class Handheld(Phone):
    """A device whose typing is counted; a serial typed twice counts twice."""

    def __init__(self, driver: WebDriver, file: Path, typed: Typed) -> None:
        self.typed = typed
        super().__init__(driver, file)

    def type(self, label: str, text: str) -> None:
        """Type, and count it."""
        self.typed.form += 1
        super().type(label, text)

    def choose_for(self, serial: str, label: str, words: str) -> None:
        """Tap one of the words of a choice, in the part of one sampler of a point that has two."""
        button = wait_for(self.driver, lambda page: page.execute_script(CHOICE_OF, serial, label, words))
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", button)
        button.click()


CHOICE_OF = """
const [serial, label, words] = arguments;
const groups = [...document.querySelectorAll(`[aria-label="Sampler ${serial}"] [role=group]`)];
const group = groups.find((one) => one.querySelector(".label").textContent === label && one.checkVisibility());
return group && [...group.querySelectorAll("button")].find((one) => one.textContent === words);
"""


def run(*words: object, code: int = 0) -> str:
    """Run a command of the program, and return what it printed."""
    done = subprocess.run(
        [sys.executable, "-m", "sitegen", *map(str, words)], capture_output=True, text=True, check=False
    )
    assert done.returncode == code, done.stdout + done.stderr
    return done.stdout


def rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of a table."""
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))


def type_rows(path: Path, added: Sequence[Mapping[str, str]], typed: Typed) -> None:
    """Type rows below those of a table, and count their cells."""
    with path.open(newline="", encoding="utf-8") as stream:
        header = next(csv.reader(stream))
    with path.open("a", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, header, lineterminator="\n")
        writer.writerows(added)
    typed.tables += sum(bool(text) for row in added for text in row.values())


def type_cell(path: Path, key: str, column: str, text: str, typed: Typed) -> None:
    """Type one cell of a row, which is found by its first column."""
    table = rows(path)
    for row in table:
        if next(iter(row.values())) == key:
            row[column] = text
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(table[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(table)
    path.write_text(out.getvalue(), "utf-8")
    typed.tables += 1


@pytest.fixture
def folder(tmp_path: Path) -> Iterator[Path]:
    """Return a new folder with settings and the site's shapes, and nothing else of the survey."""
    made = tmp_path / "yard"
    run("new", made)
    (made / "project.toml").write_text(SETTINGS, "utf-8")
    shutil.rmtree(made / "text")
    (made / "text").mkdir()
    (made / "text/objectives.md").write_text("Whether the sewer trench carries vapour towards the shop.\n", "utf-8")
    shapes = planned_survey.texts()["locations/features.geojson"]
    (made / "locations/features.geojson").write_text(shapes, "utf-8")
    yield made
    shutil.rmtree(tmp_path, ignore_errors=True)


def test_a_survey_is_driven_from_nothing_to_its_report(browser: WebDriver, folder: Path) -> None:
    """Nothing is typed twice but serials; the conflict is told, decided by a person, and told as decided."""
    typed = Typed(settings=SETTINGS.count("="))
    plan(folder, typed)
    kit = carry(folder)
    first, second, shared = in_the_field(browser, kit, typed)
    assert take_in(folder, (first, second), typed) == shared
    evening(folder, shared)
    laboratory(folder, typed)
    report(folder, shared)
    shares = {"settings": typed.settings, "form": typed.form, "tables": typed.tables}
    filled = sum(bool(text) for path in folder.rglob("*.csv") for row in rows(path) for text in row.values())
    print(f"typed cells: {typed.all} ({shares}); cells of the folder's tables: {filled}")  # noqa: T201 - a figure to read
    assert typed.all < filled


def plan(folder: Path, typed: Typed) -> None:
    """Propose points, look, accept; type the indoor point, which nobody but a person can choose."""
    before = (folder / "locations/locations.csv").read_bytes()
    proposed = run("plan", folder)
    assert (folder / "locations/locations.csv").read_bytes() == before
    assert "--accept" in proposed
    run("plan", folder, "--accept")
    points = rows(folder / "locations/locations.csv")
    assert {row["design"] for row in points} == {"grid", "targeted"}
    assert {row["status"] for row in points} == {"planned"}
    indoor = {
        "location_id": "IA-1", "medium": "indoor_air", "design": "targeted", "rationale": "air of the office",
        "plan_easting": "470088.00", "plan_northing": "4770057.00", "building": "Shop", "status": "planned",
    }  # fmt: skip
    type_rows(folder / "locations/locations.csv", [indoor], typed)
    assert run("check", folder).splitlines()[0].startswith("planned")


def carry(folder: Path) -> Path:
    """Make the kit, and return it."""
    run("kit", folder)
    kit = folder.with_name("yard-kit")
    assert {path.name for path in kit.iterdir()} >= {"log_sheets.pdf", "labels.pdf", "field_form.html", "stakeout"}
    return kit


def in_the_field(browser: WebDriver, kit: Path, typed: Typed) -> tuple[Path, Path, str]:
    """Fill in the form on two devices, and return their exports and the sampler that both wrote down."""
    form = kit / "field_form.html"
    exports = []
    browser.get_log("performance")
    phone = Handheld(browser, form, typed)
    uses = ("sample", "field_duplicate")
    slots = sorted((s for s in phone.plan()["slots"] if s["use"] in uses), key=lambda s: s["point"] != "IA-1")
    entries = [Entry(slot["point"], slot["use"], f"03{at:02d}", at) for at, slot in enumerate(slots)]
    half = len(entries) // 2
    shared = entries[half]
    assert (shared.use, shared.point != "IA-1") == ("sample", True)
    for own, depth_ft in ((entries[: half + 1], "3.0"), (entries[half:], "2.9")):
        phone.forget()
        place_and_retrieve(phone, own, depth_ft)
        if own[0] is entries[0]:
            bag_and_seal(phone, len(entries))
        data = phone.export()
        path = kit.parent / f"field-{data['device']}-{data['number']}.json"
        path.write_text(json.dumps(data, ensure_ascii=False), "utf-8")
        exports.append(path)
    complaints, outside = phone.console(), phone.outside()
    phone.put_away()
    assert (complaints, outside) == ([], [])
    return exports[0], exports[1], shared.serial


class Entry(NamedTuple):
    """What is entered of one sampler: its point, use and serial, and which of all it is."""

    point: str
    use: str
    serial: str
    at: int


def place_and_retrieve(phone: Handheld, entries: Sequence[Entry], depth_ft: str) -> None:
    """Record samplers at their points, a few minutes apart, and ten days later that they came out."""
    for one in entries:
        phone.clock(f"{PLACED_ON}T{8 + one.at:02d}:{12 + one.at:02d}:00")
        phone.place(one.point, one.serial)
        if one.point != "IA-1":
            phone.type("Depth of the sampler (ft)", depth_ft)
    for one in entries:
        phone.clock(f"{RETRIEVED_ON}T{8 + one.at:02d}:{31 + one.at:02d}:00")
        phone.retrieve(one.point, "FS-1")
        phone.choose_for(one.serial, "Condition on retrieval", "intact")
        phone.choose_for(one.serial, "Return bag", "BAG-1")


def bag_and_seal(phone: Handheld, count: int) -> None:
    """Put the trip blank into the bag and seal it."""
    phone.clock(f"{RETRIEVED_ON}T16:10:00")
    phone.go("bag/BAG-1")
    phone.type("Serial number of the sampler", "0390")
    phone.type("Serial number, second reading", "0390")
    phone.tap("Trip blank is in the bag")
    for label, text in (
        ("Seal number", "5501"), ("Seal number, second reading", "5501"),
        ("Samplers counted in the bag", str(count)), ("Sealed by", "FS-1"), ("Reason", "the other device has the rest"),
    ):  # fmt: skip
        if label == "Reason" and not phone.driver.execute_script(FIELD, label):
            phone.tap("Sealed now")
        phone.type(label, text)
    phone.tap("Sealed now")
    phone.shows("Sealed at")
    phone.go("handover")
    for label, word in (("Item", "bag"), ("Event", "relinquished"), ("Type of signature", "ink")):
        Select(phone.field(label)).select_by_value(word)
    for label, text in (("ID of the item", "BAG-1"), ("By", "FS-1"), ("Transferred to", "LB-1")):
        phone.type(label, text)
    phone.tap("Record now")


def take_in(folder: Path, exports: Sequence[Path], typed: Typed) -> str:
    """Take both exports in; the cell in which they differ stays blank until a person types it. Return its sampler."""
    told = run("take-in", folder, *exports, code=1)
    (told_once,) = [line for line in told.splitlines() if line.startswith("conflict:")]
    assert all(words in told_once for words in ("depth_ft", "'3.0'", "'2.9'"))
    table = folder / "field/deployments.csv"
    (blank,) = [row["sampler_id"] for row in rows(table) if row["location_id"] != "IA-1" and not row["depth_ft"]]
    type_cell(table, blank, "depth_ft", "3.0", typed)
    again = run("take-in", folder, *exports)
    assert "check: no finding stops a build" in again
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    run("take-in", folder, *exports)
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    return blank


def evening(folder: Path, conflict: str) -> None:
    """Write the page of the evening: all is placed, retrieved and bagged, and the conflict is told as decided."""
    run("evening", folder)
    page = folder.with_name("yard-evening.html").read_text("utf-8")
    assert "decided" in page
    assert "<script" not in page
    assert conflict in (folder / "records/field/conflicts.csv").read_text("utf-8")
    told = run("check", folder)
    assert "findings: 0 stop" in told
    for code in ("condition-missing", "sampler-in-no-bag", "bag-count-differs", "custody-none"):
        assert code not in told, told


def laboratory(folder: Path, typed: Typed) -> None:
    """Type what the field form does not have: who received the bag, the shipment, and the laboratory's results."""
    type_rows(
        folder / "field/shipments.csv",
        [{"shipment_id": "SH-R", "direction": "return", "packed_at": "2025-11-07T09:10", "seal_outer": "7001",
          "items_declared": "9", "received_at": RECEIVED, "items_received": "9", "seal_received": "7001",
          "seal_condition": "intact", "chilled": "no"}],
        typed,
    )  # fmt: skip
    type_cell(folder / "field/return_bags.csv", "BAG-1", "shipment_id", "SH-R", typed)
    received = {"event_id": "E-1", "subject_kind": "bag", "subject_id": "BAG-1", "event": "accepted",
                "at": f"{RETRIEVED_ON}T16:10", "by_role": "LB-1", "signature": "ink"}  # fmt: skip
    type_rows(folder / "field/custody.csv", [received], typed)
    compound = {"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4", "group": "chlorinated_ethenes",
                "molar_mass_g_mol": "165.822", "map": "yes", "order": "1"}  # fmt: skip
    type_rows(folder / "lab/analytes.csv", [compound], typed)
    samples, results = [], []
    for number, row in enumerate(rows(folder / "field/samplers.csv")):
        kind = "trip_blank" if row["kind"] == "trip_blank" else "sample"
        samples.append({"lab_sample_id": f"L-{number:02d}", "sampler_id": row["sampler_id"], "type": kind,
                        "lab_received_at": RECEIVED, "analysed_at": f"2025-11-14T09:{number:02d}", "batch_id": "B1",
                        "method": "PL-M1 (invented)", "reportable": "yes"})  # fmt: skip
        mass = "<10" if kind == "trip_blank" or number % 3 else str(40 + 10 * number)
        results.append({"lab_sample_id": f"L-{number:02d}", "analyte_id": "pce", "result_text": mass, "unit": "ng",
                        "rl": "10", "value": "" if "<" in mass else mass,
                        "detected": "no" if "<" in mass else "yes"})  # fmt: skip
    type_rows(folder / "lab/lab_samples.csv", samples, typed)
    type_rows(folder / "lab/results.csv", results, typed)


def report(folder: Path, shared: str) -> None:
    """Build, and find on the pages what was carried, filled in and decided."""
    run("build", folder)
    site = folder.with_name("yard-report") / "site"
    assert "Tetrachloroethene" in (site / "compounds.html").read_text("utf-8")
    assert "travelled without ice" in (site / "methods.html").read_text("utf-8")
    sampler = (site / f"samplers/{shared}.html").read_text("utf-8")
    assert "BAG-1" in sampler
    assert (site / "downloads/report.pdf").read_bytes().startswith(b"%PDF-")
