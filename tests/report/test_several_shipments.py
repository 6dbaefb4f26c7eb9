"""Custody of six samplers that went out in two shipments and came back in two: every count by hand."""

from __future__ import annotations

import pytest
from journeys import folder

from sitegen.compute.evaluate import evaluate
from sitegen.project.load import load_folder
from sitegen.report.field.custody import custody_pages
from sitegen.report.record.pages import Facts, Figure, Page, Ref, Section, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context

Pages = dict[tuple[str, str], Page]


def sampler(name: str, kind: str, shipment: str, outcome: str) -> dict[str, str]:
    return {
        "sampler_id": name, "label": f"{name}-x", "kind": kind, "sampler_type": "T9", "lot": "L-7",
        "prepared_on": "2025-05-30", "shipment_id": shipment, "outcome": outcome,
    }  # fmt: skip


def placed(name: str, at: str, retrieved: str = "", bag: str = "", condition: str = "intact") -> dict[str, str]:
    return {
        "sampler_id": name, "location_id": at, "placed_at": "2025-06-02T08:00", "placed_by": "FS-1",
        "retrieved_at": retrieved, "retrieved_by": "FS-1" if retrieved else "", "bag_id": bag, "condition": condition,
    }  # fmt: skip


def event(number: int, kind: str, name: str, what: str, at: str, by: str, **more: str) -> dict[str, str]:
    return {
        "event_id": f"E-{number}", "subject_kind": kind, "subject_id": name, "event": what, "at": at, "by_role": by,
    } | more  # fmt: skip


TABLES = {
    "locations": [{"location_id": f"P-{n}", "medium": "soil_gas"} for n in (1, 2, 3)],
    "samplers": [
        sampler("S-1", "sample", "O-1", "used"),
        sampler("S-2", "sample", "O-2", "used"),
        sampler("S-3", "sample", "O-2", "lost"),
        sampler("S-4", "trip_blank", "O-1", "used"),
        sampler("S-5", "spare", "O-2", "returned_unused"),
        sampler("S-6", "sample", "O-1", ""),
    ],
    "deployments": [
        placed("S-1", "P-1", "2025-06-10T08:00", "B-1"),
        placed("S-2", "P-2", "2025-06-12T09:30", "B-2", "water_inside"),
        placed("S-3", "P-3", condition="not_recovered"),
    ],
    "return_bags": [
        {"bag_id": "B-1", "trip_blank_id": "S-4", "seal_applied": "101", "count_declared": "2", "shipment_id": "R-1"},
        {"bag_id": "B-2", "seal_applied": "102", "count_declared": "1", "shipment_id": "R-2"},
    ],
    "shipments": [
        {"shipment_id": "O-1", "direction": "out", "packed_at": "2025-06-01T10:00", "seal_outer": "11",
         "items_declared": "3", "received_at": "2025-06-01T15:00", "items_received": "3", "seal_received": "11",
         "seal_condition": "intact"},
        {"shipment_id": "O-2", "direction": "out", "packed_at": "2025-06-01T11:00", "items_declared": "3"},
        {"shipment_id": "R-1", "direction": "return", "packed_at": "2025-06-11T10:00", "seal_outer": "13",
         "items_declared": "2", "received_at": "2025-06-13T09:00", "items_received": "2", "seal_received": "31",
         "seal_condition": "broken", "receipt_note": "wet case"},
        {"shipment_id": "R-2", "direction": "return", "packed_at": "2025-06-13T10:00", "items_declared": "1"},
    ],
    "custody": [
        event(1, "shipment", "R-1", "relinquished", "2025-06-11T10:00", "FS-1", to_role="CR", signature="none"),
        event(2, "shipment", "R-1", "lab_received", "2025-06-13T09:00", "LB-1", signature="ink", place="dock",
              comment="one handle torn", scan_file="records/receipt.txt"),
        event(3, "bag", "B-1", "seal_checked", "2025-06-13T09:10", "LB-1", seal_number="110", seal_condition="intact"),
    ],
}  # fmt: skip


@pytest.fixture(scope="module")
def pages() -> Pages:
    survey, _ = load_folder(folder(TABLES))
    assert survey is not None
    context = Context(survey, evaluate(survey), ())
    return {(page.ref.kind, page.ref.id): page for page in custody_pages(context)}


def table(pages: Pages, page: tuple[str, str], name: str) -> Table:
    return next(table for table in tables_in(pages[page].blocks) if table.id == name)


def texts(table: Table) -> list[list[str]]:
    return [[cell.text for cell in row] for row in table.rows]


CUSTODY, LIST = ("page", "custody"), ("page", "samplers")


def test_each_sampler_that_went_out_is_counted_once(pages: Pages) -> None:
    """Six in two shipments: two and a blank in bags, a spare outside, one lost, one of which nothing is on record."""
    assert pages[CUSTODY].lead.startswith(
        "6 samplers were sent out in 2 shipments. 4 were returned: 2 samplers and 1 trip blank in 2 return bags, "
        "1 spare with no return bag on record. 1 was lost. 1 is not on record as installed or returned."
    )


def test_each_step_tells_what_its_file_counts(pages: Pages) -> None:
    """Of two return shipments one states a number received: the sum says so."""
    steps = {row[0]: row[1:] for row in texts(table(pages, CUSTODY, "custody-counts"))}
    assert steps == {
        "issued": ["6", "field/samplers.csv"],
        "placed": ["3", "field/deployments.csv"],
        "recovered": ["2", "field/deployments.csv"],
        "field blanks opened": ["0", "field/deployments.csv"],
        "in a return bag": ["2", "field/deployments.csv"],
        "declared in return bags": ["3", "field/return_bags.csv"],
        "trip blanks": ["1", "field/return_bags.csv"],
        "items counted at receipt": ["2 (stated in 1 of 2 rows)", "field/shipments.csv"],
        "with results, blanks included": ["not recorded", "lab/results.csv"],
    }


def test_the_register_counts_kinds_by_what_became_of_them(pages: Pages) -> None:
    """Four samplers of points: two used, one lost, one without an outcome."""
    register = table(pages, CUSTODY, "sampler-register")
    assert [c.title for c in register.columns] == ["Kind", "used", "lost", "returned unused", "not recorded"]
    assert [row[1:] for row in texts(register)] == [["2", "1", "0", "1"], ["1", "0", "0", "0"], ["0", "0", "1", "0"]]


def test_a_bag_s_seal_is_compared_with_its_own_reading(pages: Pages) -> None:
    """101 read as 110 differs; of the other bag no reading is on record, and it has no trip blank."""
    first, second = table(pages, CUSTODY, "return-bags").rows
    assert [c.text for c in first] == ["B-1", "S-4", "2", "1", "101", "110 (differs)", "intact", "R-1"]
    assert [c.text for c in second] == ["B-2", "–", "1", "1", "102", "not recorded", "not recorded", "R-2"]
    assert (first[5].tone, second[5].tone) == ("hold", "")
    assert (first[7].ref, second[7].ref) == (Ref("shipment", "R-1"), Ref("shipment", "R-2"))


def test_each_shipment_tells_its_own_ends(pages: Pages) -> None:
    """Packed, received, declared, counted and sealed as its row says, a dash where it says nothing."""
    assert texts(table(pages, CUSTODY, "shipments")) == [
        ["O-1, out", "2025-06-01 10:00 CDT", "2025-06-01 15:00 CDT", "3", "3", "11", "11, intact", "–"],
        ["O-2, out", "2025-06-01 11:00 CDT", "–", "3", "–", "–", "not recorded", "–"],
        ["R-1, return", "2025-06-11 10:00 CDT", "2025-06-13 09:00 CDT", "2", "2", "13", "31 (differs), broken",
         "wet case"],
        ["R-2, return", "2025-06-13 10:00 CDT", "–", "1", "–", "–", "not recorded", "–"],
    ]  # fmt: skip


def test_a_shipment_s_page_lists_what_went_in_it_and_nothing_of_another(pages: Pages) -> None:
    """Two samplers and a trip blank out, a bag back; a number that its row lacks is not recorded."""
    inside = {name: texts(table(pages, ("shipment", name), f"inside-{name}")) for name in ("O-1", "O-2", "R-1", "R-2")}
    assert inside == {
        "O-1": [["S-1", "sample"], ["S-4", "trip blank"], ["S-6", "sample"]],
        "O-2": [["S-2", "sample"], ["S-3", "sample"], ["S-5", "spare"]],
        "R-1": [["B-1", "return bag"]],
        "R-2": [["B-2", "return bag"]],
    }
    assert pages["shipment", "O-2"].lead == "Outward shipment. Items declared: 3; received: number not recorded."
    assert pages["shipment", "R-1"].lead == "Return shipment. Items declared: 2; received: 2."


def test_between_giving_and_taking_nobody_is_recorded(pages: Pages) -> None:
    """R-1 was given on 11 June at 10:00 and taken on 13 June at 9:00: 47 hours, told as a gap between the two."""
    held = table(pages, ("shipment", "R-1"), "held-R-1")
    gap = held.rows[0]
    assert [cell.text for cell in gap] == [
        "2025-06-11 10:00 CDT", "2025-06-13 09:00 CDT", "1 d 23 h", "in transit, custody not recorded",
        "FS-1 → LB-1", "–", "field/custody.csv, row 2",
    ]  # fmt: skip
    assert gap[3].tone == "flag"


def test_the_line_of_a_sampler_adds_up_its_time_in_each_state(pages: Pages) -> None:
    """S-1: out 5 h and back 47 h with nobody recorded; 17 h from a receipt that names nobody to its placing.

    8 days in the ground; with FS-1 from 10 June 8:00 to 11 June 10:00, with LB-1 for the last 10 minutes on record.
    """
    lines = next(block for block in pages[CUSTODY].blocks if isinstance(block, Section) and block.id == "lines")
    (figure,) = lines.blocks
    assert isinstance(figure, Figure)
    states = figure.table
    assert states is not None
    at = {column.title: number for number, column in enumerate(states.columns)}
    row = next(row for row in texts(states) if row[0] == "S-1")
    assert {name: row[number] for name, number in at.items()} == {
        "Sampler": "S-1",
        "Label": "S-1-x",
        "held": "1 d 2 h 10 min",
        "in place, unattended": "8 d",
        "with a carrier": "–",
        "stored": "–",
        "in transit, custody not recorded": "2 d 4 h",
        "custody not recorded": "17 h",
        "overlap": "–",
        "Changes of custodian without a recorded transfer": "–",
    }


def test_an_event_tells_its_signature_and_where_it_is_recorded(pages: Pages) -> None:
    """A giving that nobody signed is marked; place and remark of the receipt stand in one cell, with its scan."""
    events = {row[1].text: row for row in table(pages, ("shipment", "R-1"), "events-R-1").rows}
    given, taken = events["relinquished"], events["lab received"]
    assert [cell.text for cell in given[2:6]] == ["shipment R-1", "FS-1", "CR", "not signed"]
    assert (given[5].tone, taken[5].tone) == ("flag", "")
    assert [cell.text for cell in taken[3:]] == [
        "LB-1", "–", "ink", "–", "dock. one handle torn", "field/custody.csv, row 3; records/receipt.txt",
    ]  # fmt: skip
    read = table(pages, ("bag", "B-1"), "events-B-1").rows
    assert "seal checked, seal intact" in {row[1].text for row in read}


def test_a_bag_s_page_lists_its_samplers_and_says_what_its_blank_tells(pages: Pages) -> None:
    """One sampler in each; without results no blank says anything."""
    assert texts(table(pages, ("bag", "B-2"), "members-B-2")) == [
        ["S-2", "S-2-x", "P-2", "2025-06-12 09:30 CDT", "water inside"]
    ]
    (member,) = table(pages, ("bag", "B-2"), "members-B-2").rows
    assert (member[0].ref, member[2].ref) == (Ref("sampler", "S-2"), Ref("location", "P-2"))
    assert pages["bag", "B-1"].lead == "Return bag with 1 sampler and trip blank S-4."
    assert pages["bag", "B-2"].lead == "Return bag with 1 sampler."
    touched = table(pages, ("bag", "B-1"), "touched-B-1")
    assert (touched.rows, touched.empty) == ((), "No trip blank of this bag has results on record.")


def test_samplers_follow_one_another_in_the_order_of_the_record(pages: Pages) -> None:
    """The first has none before it, the last none after it; each names its point, its bag and its shipment."""
    order = [(p.ref.id, p.previous.id if p.previous else "", p.following.id if p.following else "")
             for key, p in pages.items() if key[0] == "sampler"]  # fmt: skip
    assert order[0] == ("S-1", "", "S-2")
    assert order[2] == ("S-3", "S-2", "S-4")
    assert order[-1] == ("S-6", "S-5", "")
    assert texts(table(pages, LIST, "samplers"))[1:4] == [
        ["S-2", "S-2-x", "sample", "P-2", "B-2", "used"],
        ["S-3", "S-3-x", "sample", "P-3", "–", "lost"],
        ["S-4", "S-4-x", "trip blank", "–", "B-1", "used"],
    ]
    life = {name: cell for block in pages["sampler", "S-2"].blocks if isinstance(block, Facts)
            for name, cell in block.rows}  # fmt: skip
    assert {name: cell.text for name, cell in life.items()} == {
        "Prepared on": "30 May 2025",
        "Outward shipment": "O-2",
        "Point": "P-2",
        "State": "retrieved",
        "Return bag": "B-2",
        "Laboratory samples": "–",
        "Outcome": "used",
    }
    assert life["Return bag"].ref == Ref("bag", "B-2")
    assert pages["sampler", "S-2"].lead.startswith("Sample at P-2, type T9, lot L-7.")
