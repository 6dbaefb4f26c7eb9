"""Which sampler stands for a point, what became of each, and what a field blank applies to.

The survey is the example with the situations of ``situations.py``; every answer is worked out by hand.
"""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest
from builders import Change, cells, changed, load, new_findings, setting, settings_added, survey_findings, without_rows
from situations import AIR_DUPLICATE, BLANK, LOST, REPLACEMENT, air_duplicate, field_blank, in_the_ground, replacement

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.field.exposure import DUPLICATE, FIELD_BLANK, IN_PLACE, NOT_RETRIEVED, PRIMARY
from sitegen.compute.field.exposure import LOST as LOST_STATE
from sitegen.compute.field.standing import NOT_INSTALLED, PLANNED, second_primaries
from sitegen.findings.problems import Severity

EVERY = (*field_blank(toluene="40"), *replacement(pce="900"), *air_duplicate(pce="3000"))


@cache
def made(*changes: Change) -> Evaluation:
    return evaluate(load(changed(*changes)))


def why(ev: Evaluation, point: str) -> tuple[str, str]:
    """Return the sampler that stands for a point and the reason."""
    return ev.standing[point].placement.sampler_id, ev.standing[point].reason


def test_a_field_blank_is_no_primary_no_duplicate_and_no_point() -> None:
    """It is opened at SG-28, whose own sampler 0047103 stands; it enters no count of placements."""
    ev = made(*EVERY)
    (blank,) = [p for p in ev.deployed if p.sampler_id == BLANK]
    assert blank.role == FIELD_BLANK
    assert why(ev, "SG-28") == ("0047103", "only")
    assert BLANK not in {p.sampler_id for p in ev.placements}
    assert not (ev.primary["sampler_id"] == BLANK).any()
    assert len(ev.placements) == len(made().placements) + 2


def test_a_field_blank_applies_to_its_return_bag() -> None:
    """40 ng of toluene, five times that is 200 ng: detections of toluene up to 200 ng in RB-1, and no others."""
    ev = made(*EVERY)
    (hit,) = [hit for hit in ev.blank_hits if hit.kind == "field_blank"]
    assert (hit.reach, hit.group, hit.analyte_id) == ("bag", "RB-1", "toluene")
    rows = ev.store[(ev.store["analyte_id"] == "toluene") & (ev.store["type"] == "sample") & ev.store["reportable"]]
    inside = rows[(rows["bag_id"] == "RB-1") & rows["detected"] & (rows["value"] <= 200)]
    assert sorted(sample for sample, _ in hit.touched) == sorted(inside["lab_sample_id"])
    assert len(inside) > 0
    assert hit.members == len(rows[rows["bag_id"] == "RB-1"])


def test_a_field_blank_applies_to_its_day_where_the_plan_says_so() -> None:
    """Opened on 23 October: the samplers placed or retrieved on that day, whatever their bag."""
    by_day = setting("samplers_per_bag = 30", 'samplers_per_bag = 30\nfield_blank = "day"')
    ev = made(*EVERY, by_day)
    (hit,) = [hit for hit in ev.blank_hits if hit.kind == "field_blank"]
    assert (hit.reach, hit.group) == ("day", "2025-10-23")
    on_day = {p.sampler_id for p in ev.placements if "2025-10-23" in (p.placed_at[:10], p.retrieved_at[:10])}
    (blank,) = [blank for blank in ev.blanks if blank.kind == "field_blank"]
    with_results = set(ev.measured["sampler_id"])
    assert blank.samplers == len(on_day & with_results)
    assert {ev.store.set_index("lab_sample_id")["sampler_id"].to_dict()[s] for s, _ in hit.touched} <= on_day


def test_a_blank_that_was_opened_nowhere_applies_to_no_sampler() -> None:
    """Without a row in deployments.csv there is no bag and no day: nothing is touched."""
    opened = field_blank(toluene="40")
    ev = made(*(change for change in opened if change.path != "field/deployments.csv"))
    (hit,) = [hit for hit in ev.blank_hits if hit.kind == "field_blank"]
    assert (hit.group, hit.touched, hit.members) == ("", (), 0)


def test_the_replacement_stands_for_its_point_and_the_lost_one_does_not() -> None:
    """SG-21's first sampler was lost; the second one's 900 ng of tetrachloroethene stand on the map."""
    ev = made(*EVERY)
    assert why(ev, "SG-21") == (REPLACEMENT, "replacement")
    assert ev.completeness.states["SG-21"] == "retrieved"
    assert made().completeness.states["SG-21"] == LOST_STATE
    mine = ev.primary[(ev.primary["location_id"] == "SG-21") & (ev.primary["analyte_id"] == "pce")]
    assert mine["value"].tolist() == [900.0]
    before, after = made().completeness.overall.counts, ev.completeness.overall.counts
    assert (before[0], before[2] + 1, before[3] + 1) == (after[0], after[2], after[3])


def test_a_replaced_sampler_that_came_back_enters_no_summary() -> None:
    """Both have results: the one that took the place counts, the other keeps its own."""
    back = cells(
        "field/deployments.csv", LOST, retrieved_at="2025-10-28T09:00", condition="water_inside", bag_id="RB-2"
    )
    used = cells("field/samplers.csv", LOST, outcome="used")
    ev = made(*replacement(pce="900"), back, used)
    assert why(ev, "SG-21") == (REPLACEMENT, "replacement")
    assert set(ev.primary.loc[ev.primary["location_id"] == "SG-21", "sampler_id"]) == {REPLACEMENT}


@pytest.mark.parametrize(
    ("report_date", "state"),
    [("2025-10-30", IN_PLACE), ("2025-11-06", IN_PLACE), ("2025-11-07", NOT_RETRIEVED), ("2025-12-12", NOT_RETRIEVED)],
)
def test_a_sampler_is_in_place_until_the_planned_exposure_ends(report_date: str, state: str) -> None:
    """Placed on 23 October for at most 14 days: in place until 6 November, after that its retrieval is missing."""
    ev = made(in_the_ground("0047102"), setting("report_date = 2025-12-12", f"report_date = {report_date}"))
    (p,) = [p for p in ev.placements if p.sampler_id == "0047102"]
    assert (p.placed_at[:10], p.state, p.recovered) == ("2025-10-23", state, False)
    assert ev.completeness.states[p.location_id] == state


def test_only_a_person_says_lost_or_not_installed() -> None:
    """The outcome in samplers.csv says lost too; a point is not installed by its status, else it is planned."""
    lost = made(in_the_ground("0047102"), cells("field/samplers.csv", "0047102", outcome="lost"))
    assert {p.state for p in lost.placements if p.sampler_id == "0047102"} == {LOST_STATE}
    assert made().completeness.states["SG-07"] == NOT_INSTALLED
    unsaid = made(cells("locations/locations.csv", "SG-07", status="planned"))
    assert unsaid.completeness.states["SG-07"] == PLANNED


def test_a_huge_or_unreadable_longest_exposure_keeps_samplers_in_place() -> None:
    """A limit beyond ten years is read as ten years, so that no date runs over."""
    far = settings_added('[limits.exposure_days_max]\nvalue = 1e8\nsource = "plan (invented)"')
    ev = made(in_the_ground("0047102"), far)
    assert {p.state for p in ev.placements if p.sampler_id == "0047102"} == {IN_PLACE}


def test_roles_follow_the_record() -> None:
    """The duplicate in air is a duplicate, the replacement a primary."""
    roles = {p.sampler_id: p.role for p in made(*EVERY).deployed}
    assert (roles[AIR_DUPLICATE], roles[REPLACEMENT], roles[LOST]) == (DUPLICATE, PRIMARY, PRIMARY)


DEPLOYMENTS = "field/deployments.csv"


def test_every_point_says_why_its_sampler_stands() -> None:
    """Of 55 points with a sampler three have a duplicate beside it; a fourth has one in air, a fifth a replacement."""
    assert Counter(one.reason for one in made().standing.values()) == {"only": 52, "primary": 3}
    assert Counter(one.reason for one in made(*EVERY).standing.values()) == {
        "only": 50, "primary": 4, "replacement": 1,
    }  # fmt: skip
    assert why(made(*EVERY), "IA-02") == ("0047128", "primary")


def test_two_samplers_at_a_point_without_a_declaration_are_told_and_the_first_stands() -> None:
    """0047103, of SG-28, put down at SG-29 beside 0047104: nothing on record tells them apart, which is a stop."""
    beside = cells(DEPLOYMENTS, "0047103", location_id="SG-29")
    ev = made(beside)
    first = min((p for p in ev.placements if p.location_id == "SG-29"), key=lambda p: p.origin)
    assert why(ev, "SG-29") == (first.sampler_id, "first")
    ((second, old),) = second_primaries(ev.placements)
    assert {second.sampler_id, old.sampler_id} == {p.sampler_id for p in ev.placements if p.location_id == "SG-29"}
    assert old == first
    assert "SG-28" not in ev.standing
    assert [f.severity for f in survey_findings(changed(beside)) if f.code == "second-primary"] == [Severity.STOP]


def test_a_sampler_is_replaced_only_by_one_at_its_own_point() -> None:
    """That SG-28's sampler says it replaced SG-29's takes nothing from SG-29: the record contradicts itself."""
    there = made().standing["SG-29"].placement.sampler_id
    ev = made(cells(DEPLOYMENTS, "0047103", replaces=there))
    assert why(ev, "SG-29") == (there, "only")
    assert why(ev, "SG-28") == ("0047103", "only")


def test_a_replaced_sampler_is_no_primary_more() -> None:
    """Without results, three duplicates were placed beside the samplers of 55 points: the lost one at SG-21 is none."""
    empty = without_rows("lab/results.csv", lambda _: True)
    few = setting("duplicate_rate = 0.05", "duplicate_rate = 0.1")
    folder = changed(*replacement(), empty, few)
    (finding,) = (f for f in new_findings(folder) if f.code == "duplicates-few" and f.subject == "survey")
    assert finding.found == "3 pairs installed for 55 primaries installed (5 %)"
