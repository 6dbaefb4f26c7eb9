"""Limits in force: who set each, with which source, and which the chosen rules leave out."""

from __future__ import annotations

import pytest
from builders import changed, load, setting, settings_added

from sitegen.compute.limits import DEFAULTS, LimitRecord, limits


def in_force(*changes: tuple[str, str]) -> dict[str, LimitRecord]:
    """Return the limits of the example with words of its settings changed."""
    return dict(limits(load(changed(*(setting(old, new) for old, new in changes))).settings))


def test_what_the_plan_states_is_the_projects_even_where_it_is_the_default() -> None:
    """Exposure of 7 to 14 d and 30 samplers to a bag are stated, and equal the defaults."""
    found = in_force()
    defaults = {record.name: record for record in DEFAULTS}
    for name in ("exposure_days_min", "exposure_days_max", "samplers_per_bag"):
        assert found[name].value == defaults[name].value
        assert found[name].from_project
        assert found[name].source == "the project's plan: Work plan KD-WP-2, section 4 (invented)"


def test_what_the_plan_does_not_state_is_the_default() -> None:
    """Without the line the default stands, with the default's source."""
    found = in_force(("exposure_days_max = 14\n", ""))
    assert found["exposure_days_max"] in DEFAULTS


def test_the_plans_tolerance_on_depth_is_in_force_in_metres() -> None:
    """0.5 ft are 0.1524 m (international foot, exact); the plan is its source."""
    found = in_force()["depth_tolerance_m"]
    assert (found.value, found.text, found.from_project) == (pytest.approx(0.1524, abs=1e-12), "0.5 ft", True)
    assert in_force(('depth_tolerance = { value = 0.5, unit = "ft" }\n', ""))["depth_tolerance_m"] in DEFAULTS


def test_a_limit_of_its_own_stands_before_the_plan() -> None:
    """A table [limits.…] is the last word."""
    own = settings_added('[limits.exposure_days_max]\nvalue = 10\nunit = "d"\nsource = "a letter"\nkind = "plan"')
    found = limits(load(changed(own)).settings)["exposure_days_max"]
    assert (found.value, found.source) == (10, "a letter")


@pytest.mark.parametrize(
    ("rule", "there"),
    [("five_times_estimate", False), ("five_times_nondetect", False), ("mark_only", False), ("five_ten_times", True)],
)
def test_the_ratio_for_common_contaminants_is_in_force_under_its_own_rule(rule: str, *, there: bool) -> None:
    """Only one blank rule tells common laboratory contaminants apart."""
    found = in_force(('blank = "five_times_estimate"', f'blank = "{rule}"'))
    assert ("blank_ratio_common" in found) is there
