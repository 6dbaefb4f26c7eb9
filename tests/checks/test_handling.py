"""Handling, forms, photographs and results that stand out: each told once, with its scope, limit and source."""

from __future__ import annotations

import pytest
from builders import Change, cell, cells, changed, content, every, new_findings, setting, survey_findings
from defects import BAGS, CUSTODY, DEPLOYMENTS, DEVIATIONS, PHOTOS
from defects_handling import own_limit, picture

from sitegen.checks.catalogue import catalogue
from sitegen.compute.limits import OWN, PRACTICE
from sitegen.findings.problems import Finding
from sitegen.project.read.pictures import has_position


def of_code(code: str, *changes: Change) -> list[Finding]:
    """Return the findings of one check on the example with changes."""
    return [finding for finding in survey_findings(changed(*changes)) if finding.code == code]


def test_the_sampler_pulled_early_waited_days_for_its_bag_s_seal() -> None:
    """0047105 came up on 28 October at 07:04 CDT, its bag was sealed on 5 November at 16:17 CST: 202.2 h."""
    (late,) = of_code("seal-late")
    assert late.found == "8 d 10 h 13 min between retrieval and sealing for 1 sampler of bag RB-1: 0047105 (SG-30)"
    assert late.expected == f"at most 24 h ({PRACTICE})"
    assert [touch.sampler_id for touch in late.touches] == ["0047105"]


def test_a_bag_with_no_sealing_on_record_has_no_wait_to_tell() -> None:
    """Neither an event nor a time: nothing is said of hours."""
    nothing = (cell(BAGS, "RB-1", "sealed_at", ""), cells(CUSTODY, "E-0018", event="stored", seal_number=""))
    assert of_code("seal-late", *nothing) == []


def test_loose_samplers_are_told_once_per_bag_with_their_number() -> None:
    """All of the survey's samplers put loose into two bags: two findings, not fifty-seven; blank says nothing."""
    loose = every(DEPLOYMENTS, lambda row: {"individually_bagged": "no"} if row["bag_id"] != "NA" else {})
    found = {f.subject: f for f in of_code("not-individually-bagged", loose)}
    assert sorted(found) == ["RB-1", "RB-2"]
    assert found["RB-1"].found.startswith("28 samplers not individually bagged in return bag RB-1")
    assert len(found["RB-2"].touches) == 29
    assert of_code("not-individually-bagged", every(DEPLOYMENTS, lambda _: {"individually_bagged": ""})) == []


def test_holes_closed_for_the_time_being_are_told_once_with_their_points() -> None:
    """Five points of the example; none where all are restored for good."""
    (found,) = of_code("hole-temporary")
    assert found.found == "temporary closure at 5 points: SG-30, SG-31, SG-40, SG-37, SG-19"
    assert of_code("hole-temporary", every(DEPLOYMENTS, lambda _: {"hole_restored": "yes"})) == []


def test_forms_are_missed_only_where_others_are_scanned_and_signed_on_paper() -> None:
    """No scan at all in a table is no finding; an electronic signature leaves no paper."""
    assert of_code("form-not-scanned", every(DEPLOYMENTS, lambda _: {"scan_file": ""})) == []
    electronic = cells(CUSTODY, "E-0023", scan_file="", signature="electronic")
    assert of_code("form-not-scanned", electronic) == []
    (many,) = of_code(
        "form-not-scanned", every(DEPLOYMENTS, lambda row: {"scan_file": ""} if row["bag_id"] == "RB-1" else {})
    )
    assert many.found == "no scan for 28 of 58 deployments: 0047102 to 0047129"


def test_a_condition_is_a_departure_until_a_row_names_the_point_or_its_sampler() -> None:
    """Without DV-6 the water in SG-37's sampler is on record nowhere as a departure; DV-6 may name either."""
    (missing,) = (f for f in new_findings(changed(cell(DEVIATIONS, "DV-6", "affected_ids", "SG-36"))))
    assert (missing.key, missing.found) == ("deviation-unrecorded:SG-37+water_inside", "water inside on retrieval")
    for named in ("SG-37", "0047154"):
        assert new_findings(changed(cell(DEVIATIONS, "DV-6", "affected_ids", named))) == []


@pytest.mark.parametrize(("taken", "told"), [("2025-11-06T14:47", False), ("2025-11-06T14:48", True), ("", False)])
def test_a_photograph_is_measured_against_the_nearest_visit(taken: str, told: bool) -> None:
    """SG-37 was retrieved at 11:47: three hours on is within the limit, a minute more is not."""
    found = of_code("photo-time-off", cell(PHOTOS, "photos/sg-37.png", "taken_at", taken))
    assert bool(found) == told
    if told:
        assert found[0].expected == f"within 3 h of installation or retrieval ({OWN})"


def test_a_photograph_of_no_point_or_of_a_point_never_visited_is_not_measured() -> None:
    """Nothing to compare with: SG-07 was not drilled."""
    for place in ("", "SG-07"):
        change = cells(PHOTOS, "photos/sg-37.png", location_id=place, taken_at="2025-11-01T09:00")
        assert of_code("photo-time-off", change) == []


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_camera_s_position_is_seen_in_every_kind_of_picture(kind: str) -> None:
    """Exif data without a place are none; what is no picture, or a broken one, has none."""
    assert has_position(picture(position=True, kind=kind))
    assert not has_position(picture(position=False, kind=kind))
    assert not has_position(picture(position=True, kind=kind)[:40])
    assert not has_position(b"position")


def test_a_position_is_noted_inside_the_team_alone() -> None:
    """At client level pictures are written anew without camera data; where these are withheld, likewise."""
    kept = content("photos/sg-35.png", picture(position=True))
    (note,) = of_code("photo-position", kept)
    assert note.severity.value == "note"
    assert of_code("photo-position", kept, setting('level = "internal"', 'level = "client"')) == []
    assert of_code("photo-position", kept, setting("withhold = []", 'withhold = ["photo_metadata"]')) == []


def test_half_of_the_detections_is_not_more_than_half() -> None:
    """4 of 10 detections of methylene chloride: told below 40 %, not at it; the scope is the soil points."""
    found = [f.subject for f in of_code("blank-affected-mostly", own_limit("blank_share_pct", 40, "%"))]
    assert found == ["toluene", "mxylene"]
    (toluene, _) = of_code("blank-affected-mostly")
    assert toluene.found == "14 of 25 detections of Toluene at soil points affected by blanks"


def test_the_points_far_below_their_neighbours_are_the_three_that_the_readme_names() -> None:
    """SG-37 for its wet vial, SG-10 and SG-29 truly low: the check asks, and does not decide."""
    found = {f.subject: f for f in of_code("local-low")}
    assert sorted(found) == ["SG-10", "SG-29", "SG-37"]
    assert found["SG-37"].found.startswith("4 compounds at SG-37 far below SG-19, SG-40, SG-36 (")
    assert {touch.sampler_id for touch in found["SG-37"].touches} == {"0047154"}


@pytest.mark.parametrize(
    "code",
    [
        "seal-late", "not-individually-bagged", "hole-temporary", "form-not-scanned", "outward-form-missing",
        "photo-time-off", "photo-position", "blank-affected-mostly", "local-low", "holder-changed",
    ],
)  # fmt: skip
def test_each_says_where_its_limit_comes_from(code: str) -> None:
    """A published source, or plainly that there is none."""
    assert catalogue()[code].source in (OWN, PRACTICE)
