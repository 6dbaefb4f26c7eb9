"""What a person meets who fills in a folder for the first time: one slip, one message that helps."""

from __future__ import annotations

import pytest
from builders import Change, cell, changed, column_renamed, content, example_findings, new_findings, setting

from sitegen.findings.problems import Finding

DEPLOYMENTS = "field/deployments.csv"


def messages(*changes: Change) -> list[Finding]:
    """Return the new findings of the example with changes."""
    assert example_findings()
    return list(new_findings(changed(*changes)))


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        (
            'time_zone = "America/Chicago"',
            'time_zone = "Central"',
            "the name of an IANA time zone, such as America/Chicago",
        ),
        ('depth = { value = 3.0, unit = "ft" }', "depth = 3.0", 'a table such as { value = 3.0, unit = "ft" }'),
        ("report_date = 2025-12-12", 'report_date = "12/12/2025"', "a date as 2025-12-31, without quotes"),
        ("samplers_per_bag = 30", 'samplers_per_bag = "30"', "a whole number without quotes"),
        ("contours = false", 'contours = "yes"', "true or false, without quotes"),
    ],
)
def test_a_setting_of_the_wrong_form_shows_the_right_one(old: str, new: str, expected: str) -> None:
    found = messages(setting(old, new))
    assert [(f.code, f.where.file, f.expected) for f in found] == [("setting-invalid", "project.toml", expected)]


def test_a_row_without_a_known_zone_is_told_once_at_the_zone() -> None:
    (found,) = messages(cell(DEPLOYMENTS, "0047103", "tz", "CDT"))
    assert (found.code, found.where.column, found.found) == ("zone-unknown", "tz", "'CDT'")


def test_an_unreadable_time_does_not_bury_the_sampler() -> None:
    (found,) = messages(cell(DEPLOYMENTS, "0047103", "retrieved_at", "11/05/2025 9:02"))
    assert (found.code, found.where.column) == ("time-unreadable", "retrieved_at")


def test_an_unknown_unit_is_not_called_missing() -> None:
    (found,) = messages(cell("lab/results.csv", "04417-001+pce", "unit", "mg"))
    assert (found.code, found.found) == ("word-unknown", "'mg'")


def test_a_key_column_of_another_name_is_told_without_its_consequences() -> None:
    codes = {f.code for f in messages(column_renamed(DEPLOYMENTS, "sampler_id", "Sampler ID"))}
    assert "column-missing" in codes
    assert not codes & {"result-for-unplaced", "unknown-id"}


def test_a_column_without_its_unit_is_offered_every_unit() -> None:
    found = messages(column_renamed(DEPLOYMENTS, "depth_ft", "Depth"))
    (unknown,) = [f for f in found if f.code == "column-unknown"]
    assert "depth_ft or depth_m, whichever applies" in unknown.do


def test_an_id_spelt_in_another_way_is_recognised() -> None:
    (found,) = [f for f in messages(cell(DEPLOYMENTS, "0047103", "location_id", "sg_3")) if f.code == "unknown-id"]
    assert found.do == "write SG-03 if that is intended"


def test_zeros_lost_in_the_list_of_samplers_are_mended_there() -> None:
    found = messages(cell("field/samplers.csv", "0047103", "sampler_id", "47103"))
    hints = {f.do for f in found if f.code == "unknown-id"}
    assert hints == {"write 0047103 in field/samplers.csv if its label reads so: leading zeros count"}


def test_an_outcome_that_disagrees_is_named() -> None:
    found = messages(cell("field/samplers.csv", "0047103", "outcome", "returned_unused"))
    (outcome,) = [f for f in found if f.code == "outcome-disagrees"]
    assert outcome.expected == "agreement with the outcome 'returned_unused' of 0047103 in samplers.csv"


def test_a_zero_for_a_non_detect_is_told_how_to_write_one() -> None:
    found = messages(cell("lab/results.csv", "04417-001+pce", "value", "0"))
    (zero,) = [f for f in found if f.code == "number-impossible"]
    assert zero.do.startswith("for a non-detect leave value blank")


def test_an_empty_file_is_told_what_to_put_in() -> None:
    found = messages(content("field/weather.csv", b""))
    assert "copy the header row of the template into it, or remove it" in {f.do for f in found}


def test_the_templates_own_readme_is_no_photograph() -> None:
    assert messages(content("photos/README.txt", b"Photographs stand here.\n")) == []


def test_a_depth_in_metres_off_the_plan_is_told_in_its_own_column() -> None:
    found = messages(column_renamed(DEPLOYMENTS, "depth_ft", "depth_m"))
    columns = {f.where.column for f in found if f.code in ("depth-off-plan", "deviation-unrecorded")}
    assert columns == {"depth_m"}
