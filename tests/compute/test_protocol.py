"""The protocol that the records show, counted by hand in the survey that is worked by hand."""

from __future__ import annotations

import byhand_survey as survey

from sitegen.checking import check_snapshot
from sitegen.compute.evidence.protocol import Protocol, Stated, protocol


def shown(*changes: tuple[str, str, str]) -> Protocol:
    """Return the protocol with texts of files replaced: the file, what stands there, what stands there instead."""
    files = dict(survey.FILES)
    for file, old, new in changes:
        assert old in files[file]
        files[file] = files[file].replace(old, new)
    checked = check_snapshot(survey.folder(files))
    assert checked.survey is not None
    assert checked.evaluation is not None
    return protocol(checked.survey, checked.evaluation.placements)


def test_samplers_are_told_apart_by_the_ground() -> None:
    """Five in soil, three through asphalt with the duplicate, one in a room; the field blank is none of them."""
    by_ground = {one.ground: one for one in shown().installations}
    assert [*by_ground] == ["unpaved", "paved", "air"]
    counts = {ground: (one.samplers, one.doubled, one.points) for ground, one in by_ground.items()}
    assert counts == {"unpaved": (5, 0, 5), "paved": (3, 1, 2), "air": (1, 0, 1)}
    assert by_ground["unpaved"].depths == ("2.9 ft", "3 ft")
    assert by_ground["paved"].depths == ("3 ft", "3.2 ft")
    assert by_ground["paved"].sleeve == Stated((("yes", 3),), 3)
    assert by_ground["unpaved"].closure == Stated((("foil_and_soil", 5),), 5)


def test_what_a_row_leaves_blank_is_counted_as_not_on_record() -> None:
    """A blank sleeve is neither yes nor no."""
    change = ("field/deployments.csv", "2.9,1.0,slide_hammer,no,foil_and_soil", "2.9,1.0,,,foil_and_soil")
    unpaved = shown(change).installations[0]
    assert (unpaved.sleeve["no"], unpaved.sleeve["yes"], unpaved.sleeve.missing) == (4, 0, 1)
    assert (unpaved.method["slide_hammer"], unpaved.method.missing) == (4, 1)


def test_the_way_back_is_counted_in_bags_seals_and_shipments() -> None:
    """Nine of twelve in two sealed bags, one trip blank, one shipment; of ice nothing is said."""
    packing = shown().packing
    assert (packing.issued, packing.labelled, packing.bagged, packing.bags) == (12, 12, 9, 2)
    assert (packing.sealed, packing.with_blank, packing.shipments, packing.outer_seals) == (2, 1, 1, 1)
    assert packing.chilled == Stated((), 1)


def test_a_shipment_without_ice_is_one_whose_row_says_no() -> None:
    """Only the return shipment counts."""
    head, row = "receipt_note,scan_file", "7002,intact,,"
    changes = [
        ("field/shipments.csv", head, "receipt_note,chilled,scan_file"),
        ("field/shipments.csv", "7001,intact,,", "7001,intact,,yes,"),
        ("field/shipments.csv", row, "7002,intact,,no,"),
    ]
    assert shown(*changes).packing.chilled == Stated((("no", 1),), 1)
