"""Rules at their edges: which rows they take, which words they read, which moment they name."""

from __future__ import annotations

import pytest
from builders import Change, cell, cells, changed, new_findings, row_added, setting

from sitegen.problems import Finding

LAB, PHOTOS, RESULTS = "lab/lab_samples.csv", "field/photos.csv", "lab/results.csv"


def of_code(code: str, *changes: Change) -> list[Finding]:
    return [finding for finding in new_findings(changed(*changes)) if finding.code == code]


@pytest.mark.parametrize(
    ("kind", "told"), [("sample", True), ("trip_blank", True), ("field_blank", True), ("method_blank", False)]
)
def test_whatever_was_in_the_field_names_its_sampler(kind: str, told: bool) -> None:
    """A sample and a blank that travelled have a sampler; a method blank is the laboratory's own and has none."""
    found = of_code("sample-without-sampler", row_added(LAB, lab_sample_id="L-new", type=kind, batch_id="B1"))
    assert [f.found for f in found] == ([f"a {kind} without a sampler"] if told else [])


def test_a_photograph_names_the_visit_that_it_is_nearest_to() -> None:
    """SG-37 was placed on 24 October and retrieved on 6 November at 11:47: 15:47 is four hours from the latter."""
    (found,) = of_code("photo-time-off", cell(PHOTOS, "photos/sg-37.png", "taken_at", "2025-11-06T15:47"))
    assert found.found == (
        "taken at 2025-11-06T15:47, 4.0 h from the nearest visit to SG-37 (retrieved 2025-11-06T11:47)"
    )
    (early,) = of_code("photo-time-off", cell(PHOTOS, "photos/sg-37.png", "taken_at", "2025-10-24T06:45"))
    assert early.found.endswith("5.0 h from the nearest visit to SG-37 (placed 2025-10-24T11:45)")


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('title = "', 'title = "TBD ', "project.title"),
        ('methods = ["', 'methods = ["TBD", "', "lab.methods"),
    ],
)
def test_words_of_the_template_are_found_wherever_the_settings_hold_text(old: str, new: str, key: str) -> None:
    """A text of a table, and a text in a list of one."""
    (found,) = of_code("settings-template-text", setting(old, new))
    assert (found.subject, found.found) == (key, "'TBD'")
