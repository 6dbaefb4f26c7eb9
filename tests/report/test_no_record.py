"""Where nothing is on record a page says so, and never that there was nothing."""

from __future__ import annotations

import re
from functools import cache

import pytest
from builders import Change, changed, every, example, removed, without_rows
from matrix_survey import young
from slips import report_texts

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLE


def said(folder: Folder) -> dict[str, str]:
    """Return the words of a report's texts by place, those of one place joined."""
    found: dict[str, list[str]] = {}
    for text in report_texts(compose(check_snapshot(folder))[1]):
        found.setdefault(text.place, []).append(text.words.replace("\\", ""))
    return {place: " | ".join(words) for place, words in found.items()}


@cache
def at(stage: str) -> dict[str, str]:
    """Return what a project says at a stage."""
    return said(young(stage, "internal"))


def header_only(name: str) -> Change:
    """Return a change that leaves a table its header alone."""
    return without_rows(TABLE[name].path, lambda _: True)


CLAIMS = re.compile(
    r"\bnothing found\b|\btouch(?:es)? no results?\b|\bno results touched\b|\bno gaps?\b|\b0 of 0\b"
    r"|\bno seals? read otherwise\b|\bnone of \d+ seals?\b|\b(?:no|none of \d+) hand-overs? (?:without|unsigned)\b"
    r"|\bno surrogate recoveries lie\b|\bno results lie above\b|\bno duplicate pairs? differ"
    r"|\bwas detected at a soil point\b|\blies far below its neighbours\.",
    re.IGNORECASE,
)
"""Words that say there was nothing: true only of a record that is there."""

SEALED = ("sent out", "in the ground")
"""Stages at which the one seal put on was read at the other end."""
RULES = "page page checks, table checks"
"""Where the rules stand, which say what would be right."""


@pytest.mark.parametrize("stage", ["new", "points", "sent out", "in the ground", "retrieved"])
def test_before_results_nothing_is_said_to_be_absent(stage: str) -> None:
    """No page of a project without results claims that blanks, recoveries, gaps or detections are none."""
    kept = ("no seals read otherwise", "none of 1 seal") if stage in SEALED else ()
    found = [
        (place, match[0])
        for place, words in at(stage).items()
        for match in CLAIMS.finditer(words)
        if match[0].casefold() not in kept and place != RULES
    ]
    assert found == []


@pytest.mark.parametrize(
    ("page", "words"),
    [
        ("page start", "No points are on record."),
        ("page start#sure", "* No point is on record."),
        ("page start#sure", "* No blank with results is on record."),
        ("page custody", "No sampler is on record. No hand-over of a sampler is on record. No seal is on record."),
        ("page quality", "No result at a point is on record. No blank with results is on record;"),
        ("page compounds", "No compound is on the list."),
        ("page relations", "No result at a soil point is on record."),
        ("page field", "No placement is on record."),
    ],
)
def test_the_template_says_that_nothing_is_on_record(page: str, words: str) -> None:
    """A folder straight from the template has no record of anything, and each lead says so."""
    assert words in at("new")[f"page {page}"]


def test_samplers_in_place_have_no_return_on_record() -> None:
    """While samplers are in the ground nothing came back yet, and of none is it said."""
    assert "No return is on record. 8 are in place." in at("in the ground")["page page custody"]
    assert "no retrieval on record" in at("in the ground")["page page start"]


def test_zero_of_some_is_told_with_what_it_rests_on() -> None:
    """A count of gaps, seals and signatures says among how many records it was counted."""
    lead = said(example())["page page custody"]
    assert "1 gap without a holder; 63 of 63 samplers have a hand-over on record." in lead
    assert "of 4 read at the other end; 4 seals were put on." in lead
    assert "1 hand-over without a signature, of 18 that say how they were signed" in lead


def test_hand_overs_without_rows_are_no_record() -> None:
    """With its header only, custody.csv gives no word of signatures or of hand-overs that were whole."""
    lead = said(changed(header_only("custody")))["page page custody"]
    assert "no hand-over of a sampler is on record" in lead
    assert "No signature of a hand-over is on record." in lead


@pytest.mark.parametrize("header", [True, False], ids=["header only", "absent"])
def test_quality_control_without_rows_is_no_record(*, header: bool) -> None:
    """Without lab_qc.csv no recovery is said to be within limits."""
    edit = header_only("lab_qc") if header else removed(TABLE["lab_qc"].path)
    found = said(changed(edit))
    assert "no surrogate recovery is on record" in found["page page quality"]
    assert "No surrogate recovery with limits is on record." in " ".join(found.values())


def test_blanks_without_results_touch_nothing_and_free_nothing() -> None:
    """Where no blank has results, pages say that, and no count of results that none touches."""
    gone = without_rows("lab/results.csv", lambda row: row["lab_sample_id"] in _blank_samples())
    found = said(changed(gone))
    assert "* No blank with results is on record" in found["page page start#sure"]
    assert "No blank with results is on record;" in found["page page quality"]
    affected = next(words for place, words in found.items() if place.endswith("table blank-affected"))
    assert "no blank with results on record" in affected
    assert "0 (0 %" not in affected


@cache
def _blank_samples() -> frozenset[str]:
    rows = compose(check_snapshot(example()))[0].records("lab_samples")
    return frozenset(row["lab_sample_id"] for row in rows if row["type"].endswith("_blank"))


@pytest.mark.parametrize("name", ["clearance", "deviations", "weather", "lab_qc"])
def test_an_expected_table_without_rows_is_told_as_one_that_is_absent(name: str) -> None:
    """A header alone is a flag, as an absent file is."""
    path = TABLE[name].path
    for edit, code in ((header_only(name), "table-without-rows"), (removed(path), "file-absent")):
        found = [f for f in check_snapshot(changed(edit)).findings if f.where.file == path and f.code == code]
        assert [f.severity.value for f in found] == ["flag"], code


def test_samplers_of_which_no_bag_is_named_are_not_said_to_have_come_outside_one() -> None:
    """No row names a bag or a bag's blank: ten came back, and of none is it said in which bag, or in none."""
    lead = at("little noted")["page page custody"]
    assert "10 came back: 2 trip blanks, 6 samples, 2 field duplicates with no return bag on record." in lead
    assert "outside a bag" not in " ".join(at("little noted").values())


def test_samplers_sent_out_are_not_on_record_as_placed() -> None:
    """The receipt of what was sent out is on record; what is not are placing and return."""
    assert "10 are not on record as placed or returned." in at("sent out")["page page custody"]


def test_counts_of_a_new_project_are_not_recorded() -> None:
    """The template has no row to count, and a column that no row fills gives no nought."""
    told = at("new")["page page custody#counts, table custody-counts"]
    assert told.count("not recorded") >= 1
    assert not re.search(r"\| 0\b", told)
    few = at("little noted")["page page custody#counts, table custody-counts"]
    assert "not recorded" in few


def test_time_lines_say_what_is_drawn_where_no_hand_over_is_on_record() -> None:
    """Placing and retrieval alone are no line without a gap; with analyses each way back has no record."""
    figure = "page page custody#lines, figure custody-survey"
    few = at("little noted")[figure]
    assert "Time lines of 8 samplers, as far as they are on record; no hand-over is on record." in few
    blank = {"sealed_at": "", "sealed_by": "", "packed_at": "", "received_at": ""}
    bare = [
        every(TABLE[name].path, lambda row: {k: "" for k in blank if k in row}) for name in ("return_bags", "shipments")
    ]
    drawn = said(changed(header_only("custody"), *bare))[figure]
    assert "57 have a stretch of which custody is not recorded; no hand-over is on record." in drawn


def test_methods_say_sealed_only_of_bags_whose_seal_is_on_record() -> None:
    """Of two bags none has a seal number or a blank; with one number, in custody.csv alone, one has a seal."""
    place = "page page methods#transport"
    assert "2 return bags are on record: none with the number of their seal, none with" in at("little noted")[place]
    bare = every(TABLE["return_bags"].path, lambda _: {"seal_applied": ""})
    one = without_rows(TABLE["custody"].path, lambda row: row["event"] != "sealed" or row["subject_id"] != "RB-1")
    words = said(changed(bare, one))[place]
    assert "2 return bags are on record: 1 with the number of its seal, 2 with their own trip blank." in words
    assert "from 1 custody event and" in words
    assert "No custody event is on record" in said(changed(header_only("custody")))[place]


def test_the_tables_show_the_seal_and_the_receipt_that_custody_alone_records() -> None:
    """seal_applied, seal_outer and received_at blank: numbers and time are those of custody.csv, as findings tell."""
    found = said(
        changed(
            every(TABLE["return_bags"].path, lambda _: {"seal_applied": ""}),
            every(TABLE["shipments"].path, lambda _: {"seal_outer": "", "received_at": ""}),
        )
    )
    bags, boxes = (found[f"page page custody#counts, table {name}"] for name in ("return-bags", "shipments"))
    assert "448213 | 448231 (differs)" in bags
    assert "771188" in boxes
    assert "2025-11-10 10:32 CST" in boxes


@cache
def bagless() -> dict[str, str]:
    """Return what the example says where no row names a sampler's bag."""
    return said(changed(every(TABLE["deployments"].path, lambda _: {"bag_id": ""})))


def test_a_bag_of_which_no_sampler_is_on_record_frees_no_result() -> None:
    """Its page says that nobody is on record as in it, not that its blank touched nothing."""
    page = bagless()["page bag RB-1"]
    assert "Return bag with trip blank 0047101; no sampler is on record as in it." in page
    assert "detections of this bag" not in page
    assert "can be compared with no result" in bagless()["page bag RB-1#touched, table touched-RB-1"]


def test_pages_of_samplers_and_shipments_say_what_is_not_on_record() -> None:
    """No batch, no count of items, no placement, and no sampler at all."""
    few = at("little noted")
    assert (
        "Outward shipment. Items declared: number not recorded; received: number not recorded."
        in few["page shipment SH-O1"]
    )
    assert "(batch not recorded)" in few["page sampler 0047119"]
    assert "no placement on record" in at("sent out")["page sampler 0047119"]
    assert at("new")["page page samplers"].endswith("No sampler is on record.")
