"""Cells that other rows say: kind and outcome of samplers, and the one shipment that there is."""

from __future__ import annotations

import pytest
from builders import Change, cell, cells, changed, every, load, row_added, settings_added, survey_findings, without

from sitegen.project.folder import Folder

ROSTER, PLACED = "field/samplers.csv", "field/deployments.csv"
BAGS, SHIPMENTS, CUSTODY = "field/return_bags.csv", "field/shipments.csv", "field/custody.csv"
BLANK = every(ROSTER, lambda row: {} if row["kind"] == "spare" else {"kind": "", "outcome": "", "shipment_id": ""})
ASKED = settings_added("[derive]\nsamplers = true\nreturn_bags = true")


def derived(*changes: Change) -> Folder:
    """Return the example without what can be derived of its samplers, changed, asked to be derived."""
    return changed(BLANK, *changes, ASKED)


def of(folder: Folder, name: str, column: str) -> str:
    return str(load(folder).frame("samplers").set_index("sampler_id").at[name, column])


def test_what_is_derived_is_what_was_typed() -> None:
    """The example's own kinds, outcomes and shipments come out of its other tables, spares aside."""
    typed, once = load(changed()).frame("samplers"), load(derived()).frame("samplers")
    used = typed["kind"] != "spare"
    for column in ("kind", "outcome", "shipment_id"):
        assert list(once[column][used]) == list(typed[column][used])


def test_nothing_is_derived_unless_it_is_asked_for() -> None:
    """A blank cell of a folder that asks for nothing is a blank cell, and is told as one."""
    assert "cell-blank" in [one.code for one in survey_findings(changed(BLANK))]
    assert "cell-blank" not in [one.code for one in survey_findings(derived())]


@pytest.mark.parametrize(
    ("name", "column", "change"),
    [
        ("0047102", "kind", cell(ROSTER, "0047102", "kind", "NA")),
        ("0047102", "kind", without(PLACED, "0047102")),
        ("0047102", "kind", cell(PLACED, "0047102", "retrieved_at", "2025-10-23T08:20")),
        ("0047102", "kind", cell(BAGS, "RB-1", "trip_blank_id", "0047102")),
        ("0047101", "kind", cell(BAGS, "RB-1", "trip_blank_id", "")),
        ("0047102", "outcome", cells(PLACED, "0047102", retrieved_at="", condition="")),
        ("0047102", "shipment_id", row_added(SHIPMENTS, shipment_id="SH-O2", direction="out")),
        ("0047102", "shipment_id", without(SHIPMENTS, "SH-O1")),
    ],
    ids=["NA", "unplaced", "one day", "both", "no bag names it", "in place", "two shipments", "no shipment"],
)
def test_nothing_is_guessed(name: str, column: str, change: Change) -> None:
    """Where no row, or more than one thing, says it, the cell stays blank."""
    assert of(derived(), name, column) != ""
    assert of(derived(change), name, column) == ""


def test_a_filled_cell_goes_before_what_follows() -> None:
    """A person's word stays, whatever other rows say."""
    assert of(derived(cell(ROSTER, "0047102", "kind", "field_blank")), "0047102", "kind") == "field_blank"


def test_what_was_not_recovered_is_lost() -> None:
    """The condition says it, retrieved or not."""
    folder = derived(cells(PLACED, "0047102", condition="not_recovered", retrieved_at="", bag_id=""))
    assert of(folder, "0047102", "outcome") == "lost"


def test_a_bag_went_in_the_one_return_shipment() -> None:
    """Two of them leave it open which; NA says that it went in none."""
    blank = every(BAGS, lambda _: {"shipment_id": ""})
    more = row_added(SHIPMENTS, shipment_id="SH-R2", direction="return")
    for change, expected in (((), "SH-R1"), ((more,), ""), ((cell(BAGS, "RB-1", "shipment_id", "NA"),), "")):
        bags = load(derived(blank, *change)).frame("return_bags").set_index("bag_id")
        assert bags.at["RB-1", "shipment_id"] == expected


def test_a_count_is_never_derived() -> None:
    """How many samplers a bag holds is what a person counted."""
    blank = every(BAGS, lambda _: {"count_declared": ""})
    assert load(derived(blank)).frame("return_bags")["count_declared"].isna().all()


def test_samplers_of_a_range_that_nothing_names_are_named() -> None:
    """A range's row alone would not tell which of its samplers no record places: the finding does."""
    spares = without(ROSTER, "0047160", "0047161", "0047162")
    folder = changed(
        BLANK,
        spares,
        row_added(ROSTER, sampler_id="0047160-0047162"),
        settings_added("[derive]\nsamplers = true\nserial_ranges = true"),
    )
    (finding,) = [one for one in survey_findings(folder) if one.code == "kind-not-derived"]
    assert finding.found == "3 of the range in no other table: 0047160, 0047161, 0047162"


ONE_BAG = (without(BAGS, "RB-2"), every(PLACED, lambda _: {"bag_id": ""}), settings_added("[derive]\nbags = true"))


def bag_of(name: str, *changes: Change) -> str:
    """Return the bag of a sampler where the example has one bag alone and no row names it."""
    folder = changed(cell(BAGS, "RB-1", "sealed_at", "2025-11-08T10:00"), *ONE_BAG, *changes)
    return str(load(folder).frame("deployments").set_index("sampler_id").at[name, "bag_id"])


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (cell(BAGS, "RB-1", "note", ""), "RB-1"),
        (cell(PLACED, "0047102", "bag_id", "NA"), ""),
        (cell(PLACED, "0047102", "retrieved_at", ""), ""),
        (cell(PLACED, "0047102", "condition", "not_recovered"), ""),
        (cell(PLACED, "0047102", "retrieved_at", "2025-11-08T10:01"), ""),
        (row_added(BAGS, bag_id="RB-3"), ""),
    ],
    ids=["one bag", "NA", "in place", "not recovered", "after the sealing", "two bags"],
)
def test_what_came_back_went_into_the_one_bag(change: Change, expected: str) -> None:
    """One bag alone, a retrieval on record and none later than the seal: else the cell stays blank."""
    assert bag_of("0047102", change) == expected


def test_a_custody_event_is_about_what_alone_has_its_id() -> None:
    """Sampler, bag or shipment is read off their tables; an id of two of them, or of none, says nothing."""
    typed = load(changed()).frame("custody")
    blank, asked = every(CUSTODY, lambda _: {"subject_kind": ""}), settings_added("[derive]\ncustody = true")
    assert list(load(changed(blank, asked)).frame("custody")["subject_kind"]) == list(typed["subject_kind"])
    assert set(load(changed(blank)).frame("custody")["subject_kind"]) == {""}
    twice = load(changed(blank, asked, row_added(BAGS, bag_id="SH-O1"))).frame("custody").set_index("subject_id")
    assert set(twice.loc["SH-O1", "subject_kind"]) == {""}
