"""Counts of shipments: which of several took the unused samplers is not on record, and is not guessed.

By the example's tables bag RB-1 holds 28 samplers and RB-2 holds 29, each with its trip blank, and 3
samplers were returned unused: 62 items come back.
"""

from __future__ import annotations

import pytest
from builders import Change, cell, changed, every, new_findings, row_added

SHIPMENTS, BAGS, CODE = "field/shipments.csv", "field/return_bags.csv", "shipment-count-differs"


def second(items: str) -> Change:
    """Add a second return shipment that declares a number of items, all received."""
    return row_added(
        SHIPMENTS, shipment_id="SH-R2", direction="return", packed_at="2025-11-08T09:00", items_declared=items,
        items_received=items, received_at="2025-11-10T10:00", tz="America/Denver",
    )  # fmt: skip


def first(items: str) -> Change:
    """Let the first return shipment declare and receive another number of items."""
    return Change(SHIPMENTS, lambda old: old.replace(b",771188,62,", f",771188,{items},".encode()).replace(
        b"America/Denver,62,", f"America/Denver,{items},".encode()
    ))  # fmt: skip


def counts(*changes: Change) -> list[tuple[str, str, str]]:
    """Return subject, found and expected of the counts that differ."""
    return [(f.subject, f.found, f.expected) for f in new_findings(changed(*changes)) if f.code == CODE]


def test_a_second_return_shipment_leaves_the_first_one_s_count_alone() -> None:
    """An empty second shipment, or one that does not say what is in it, changes nothing for the first."""
    assert counts() == counts(second("")) == counts(second("0")) == []


@pytest.mark.parametrize(("ours", "theirs"), [("29", "33"), ("30", "32"), ("32", "30")])
def test_unused_samplers_may_be_in_either(ours: str, theirs: str) -> None:
    """RB-2 goes into the second: 29 and 30 items, and the 3 unused ones in any way."""
    assert counts(second(theirs), first(ours), cell(BAGS, "RB-2", "shipment_id", "SH-R2")) == []


def test_a_count_that_no_sharing_explains_is_told_where_it_stands() -> None:
    """28 are fewer than the bag and its blank; 34 are more than bag, blank and all unused ones."""
    moved = cell(BAGS, "RB-2", "shipment_id", "SH-R2")
    expected = "29 to 32, including the samplers returned unused, the number assigned to it in the tables"
    assert counts(second("30"), first("28"), moved) == [("SH-R1", "28 items declared", expected)]
    expected = "30 to 33, including the samplers returned unused, the number assigned to it in the tables"
    assert counts(second("34"), first("29"), moved) == [("SH-R2", "34 items declared", expected)]


def test_unused_samplers_that_no_shipment_declares_are_told_for_all_of_them() -> None:
    """29 and 30 leave out the 3 unused ones: no one shipment is at fault."""
    moved = cell(BAGS, "RB-2", "shipment_id", "SH-R2")
    assert counts(second("30"), first("29"), moved) == [
        (
            "SH-R1+SH-R2",
            "59 items declared in the return shipments SH-R1, SH-R2",
            "62, the number assigned to them in the tables, 3 of them returned unused",
        )
    ]


def test_one_return_shipment_took_them_all() -> None:
    """With one return shipment the count is known: 62."""
    assert counts(first("61")) == [("SH-R1", "61 items declared", "62, the number assigned to it in the tables")]


def test_a_bag_or_shipment_that_no_row_names_is_not_expected_to_be_empty() -> None:
    """Where the tables leave bag or shipment blank they say so; no number is made of it."""
    bagless = every("field/deployments.csv", lambda _: {"bag_id": ""})
    found = {f.subject: f for f in new_findings(changed(bagless)) if f.code in (CODE, "bag-count-differs")}
    assert found["RB-1"].found == "28 declared; no row of field/deployments.csv refers to this bag"
    assert found["RB-1"].expected == "the bag of each sampler on record"
    assert found["SH-R1"].found == "62 items declared; no row of field/deployments.csv refers to a bag of this shipment"
    nowhere = every(BAGS, lambda _: {"shipment_id": ""})
    ((_, told, expected),) = counts(nowhere)
    assert told == "62 items declared; no row of field/return_bags.csv refers to this shipment"
    assert expected == "the shipment and the bag of each item on record"
    unsent = every("field/samplers.csv", lambda _: {"shipment_id": ""})
    ((_, told, _),) = counts(unsent)
    assert told == "63 items declared; no row of field/samplers.csv refers to this shipment"
