"""How far a survey has come: by its own records, and never less far than any of them says."""

from __future__ import annotations

import pytest
from builders import Change, cell, cells, changed, content, every, example, load, removed, row_added, without_rows
from stages import ORDERED, as_of, half_placed, half_retrieved, planned

from sitegen.compute.field.stage import Progress, is_due, progress, stage
from sitegen.project.folder import Folder

LOCATIONS, SAMPLERS, DEPLOYMENTS = "locations/locations.csv", "field/samplers.csv", "field/deployments.csv"
CUSTODY, SHIPMENTS = "field/custody.csv", "field/shipments.csv"
EVENT = {"event_id": "E-1", "subject_kind": "sampler", "subject_id": "0047102", "at": "2025-11-10T09:32"}


def of(folder: Folder) -> str:
    return stage(load(folder))


def test_the_example_has_come_this_far_at_each_of_its_moments() -> None:
    """Its points and how many of them were placed and came back, counted in its tables by hand."""
    assert progress(load(planned())) == Progress("planned", 55, 0, 0)
    assert progress(load(half_placed())) == Progress("in_field", 55, 26, 0)
    assert progress(load(half_retrieved())) == Progress("in_field", 56, 55, 26)
    assert progress(load(example())) == Progress("returned", 55, 55, 54)


def test_headers_alone_are_as_good_as_no_file() -> None:
    """A folder from the template has every table, and no row in most of them."""
    assert of(as_of(ORDERED, headers=True)) == "planned"


def test_without_a_point_nothing_is_taken_for_a_plan() -> None:
    """Nothing is known of such a folder, so that every rule applies."""
    assert of(planned(without_rows(LOCATIONS, lambda _: True))) == "returned"


@pytest.mark.parametrize(
    "change",
    [
        cell(LOCATIONS, "SG-01", "status", "placed"),
        row_added(SAMPLERS, sampler_id="S-1", kind="sample", outcome="used"),
        row_added(CUSTODY, **EVENT, event="placed"),
        row_added(CUSTODY, **EVENT, event="retrieved"),
    ],
    ids=["status", "outcome", "placed", "retrieved"],
)
def test_a_record_of_placing_is_no_plan_though_the_table_of_placements_is_empty(change: Change) -> None:
    """The table may be lost: then it is missing, and not yet to come."""
    assert of(planned(change)) == "in_field"


@pytest.mark.parametrize("change", [
    row_added("lab/lab_samples.csv", lab_sample_id="L-1", type="method_blank"),
    row_added("lab/results.csv", lab_sample_id="L-1", analyte_id="pce", value="1"),
    row_added("lab/lab_qc.csv", lab_sample_id="L-1", qc_type="control"),
    content("lab/L25-0447.csv", b"Sample,Result\n"),
    content("lab/results.xlsx", b"a workbook of the laboratory's own"),
    row_added(SHIPMENTS, shipment_id="SH-R1", direction="return", received_at="2025-11-10T09:32"),
    row_added(SHIPMENTS, shipment_id="SH-R1", direction="return", items_received="26"),
    row_added(SHIPMENTS, shipment_id="SH-R1", direction="return", seal_condition="intact"),
    row_added(CUSTODY, **EVENT | {"subject_kind": "shipment", "subject_id": "SH-R9"}, event="lab_received"),
    row_added(CUSTODY, **EVENT, event="lab_received"),
    row_added(CUSTODY, **EVENT, event="analysed"),
], ids=[
    "samples", "results", "control", "a file", "a workbook", "a receipt", "its count", "its seal", "no shipment",
    "received", "analysed",
])  # fmt: skip
def test_whatever_reached_the_laboratory_ends_the_field_work(change: Change) -> None:
    """One row, or one file of the laboratory's own, is enough: what is missing beside it is a gap."""
    assert of(half_placed(change)) == "returned"


def test_the_way_out_is_no_return() -> None:
    """The outward shipment was received by the crew, and a return shipment under way by nobody."""
    assert of(as_of("2025-10-22T12:00")) == "planned"
    out = {"subject_kind": "shipment", "subject_id": "SH-O1"}
    assert of(half_retrieved(row_added(CUSTODY, **EVENT | out, event="lab_received"))) == "in_field"
    on_its_way = row_added(SHIPMENTS, shipment_id="SH-R1", direction="return", packed_at="2025-11-05T16:00")
    assert of(half_retrieved(on_its_way)) == "in_field"


def test_once_no_sampler_is_in_place_they_have_come_back() -> None:
    """All retrieved or lost: results that are missing are missed; one still in place is one that is waited for."""
    back = every(DEPLOYMENTS, lambda _: {"retrieved_at": "2025-11-05T10:00"})
    assert of(half_placed(back)) == "returned"
    assert of(half_placed(back, cell(DEPLOYMENTS, "0047102", "retrieved_at", ""))) == "in_field"
    lost = cells(DEPLOYMENTS, "0047102", retrieved_at="", condition="not_recovered")
    assert of(half_placed(back, lost)) == "returned"
    by_its_list = cell(DEPLOYMENTS, "0047102", "retrieved_at", ""), cell(SAMPLERS, "0047102", "outcome", "lost")
    assert of(half_placed(back, *by_its_list)) == "returned"


def test_a_point_given_up_has_left_the_plan() -> None:
    """It is counted no more, unless a sampler was placed there all the same."""
    given_up = cell(LOCATIONS, "SG-01", "status", "abandoned")
    assert progress(load(planned(given_up))).points == 54
    assert progress(load(half_placed(cell(LOCATIONS, "SG-50", "status", "abandoned")))).points == 55


def test_a_point_is_retrieved_once_nothing_is_left_there() -> None:
    """Its duplicate is still in place: one point fewer is retrieved. A field blank is no point's sampler."""
    before = progress(load(half_retrieved()))
    twice = row_added(DEPLOYMENTS, sampler_id="0047160", location_id="SG-50", placed_at="2025-10-24T10:00")
    assert progress(load(half_retrieved(twice))).retrieved == before.retrieved - 1
    blank = cell(SAMPLERS, "0047160", "kind", "field_blank")
    assert progress(load(half_retrieved(twice, blank))) == before


def test_what_is_due_from_a_stage_on_is_due_at_the_later_ones() -> None:
    """Planned before in the field before returned."""
    assert [is_due("in_field", now) for now in ("planned", "in_field", "returned")] == [False, True, True]
    assert of(changed(removed("lab/analytes.csv"), folder=planned())) == "planned"
