"""Rules at their edges: which rows they take, which words they read, which moment they name."""

from __future__ import annotations

import pytest
from builders import (
    Change,
    cell,
    cells,
    changed,
    example_findings,
    load,
    new_findings,
    row_added,
    sentence,
    setting,
    survey_findings,
    without_features,
    without_rows,
)
from situations import BLANK, LOST, field_blank

from sitegen.checks.field import not_back
from sitegen.checks.quality import results_present
from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import Finding

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


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("TODO", ["'TODO'"]),
        ("* todo: the wells", ["'todo'"]),
        ("Todo lo que figura en esta página es inventado.", []),
        ("Hay agua, sobre todo: en el oeste.", []),
    ],
)
def test_a_word_of_spanish_is_no_word_of_the_template(line: str, found: list[str]) -> None:
    """A note to write something is told from the Spanish for "all"."""
    assert [one.found for one in of_code("template-text", sentence("setting", line))] == found


def test_a_sampler_is_asked_for_once_its_planned_exposure_has_ended() -> None:
    """Placed on 23 October: 50 days end with the report's 12 December, and it is in place; of 49 it is a day late."""
    gone = cells("field/deployments.csv", "0047103", retrieved_at="", bag_id="", condition="")

    def told(days: int) -> list[tuple[str, str, str]]:
        survey = load(changed(gone, setting("exposure_days_max = 14", f"exposure_days_max = {days}")))
        found = not_back(survey, evaluate(survey))
        return [(f.code, f.found, f.expected) for f in found if f.code != "sampler-lost"]

    assert told(50) == [(
        "samplers-in-place", "1 sampler still deployed on the report date, since 23 October 2025: 0047103",
        "retrieval by 12 December 2025, the end of the planned exposure",
    )]  # fmt: skip
    assert told(49) == [(
        "retrieval-missing", "no retrieval on record, though the planned exposure ended on 11 December 2025",
        "retrieved_at, or the condition not_recovered",
    )]  # fmt: skip


def test_a_condition_is_asked_for_only_of_what_came_back_from_a_point() -> None:
    """A sampler that came back needs one; one still away needs none, nor does a field blank, which is never placed."""
    back = cells("field/deployments.csv", "0047103", condition="")
    away = cells("field/deployments.csv", "0047103", condition="", retrieved_at="", bag_id="")
    blank = (*field_blank(), cells("field/deployments.csv", BLANK, condition=""))
    told = [[f.subject for f in of_code("condition-missing", *changes)] for changes in ((back,), (away,), blank)]
    assert told == [["0047103"], [], []]


def test_levels_for_soil_are_counted_by_set_and_medium() -> None:
    """The example lists five levels for soil gas; two of them made sub-slab levels are told apart."""
    found = {f.subject: f.found for f in example_findings() if f.code == "level-not-comparable"}
    assert found == {"EX-1+soil_gas": "5 levels for soil gas in EX-1"}
    moved = [
        cell("reference/screening_levels.csv", f"EX-1+{name}+soil_gas+residential", "medium", "sub_slab")
        for name in ("pce", "tce")
    ]
    found = {f.subject: f.found for f in survey_findings(changed(*moved)) if f.code == "level-not-comparable"}
    assert found == {
        "EX-1+soil_gas": "3 levels for soil gas in EX-1",
        "EX-1+sub_slab": "2 levels for sub slab in EX-1",
    }


# --- which place, which words -----------------------------------------------------------------


def test_a_cas_number_is_told_with_both_compounds() -> None:
    """71-43-2 is benzene and 108-88-3 is toluene (CAS registry)."""
    (found,) = of_code("cas-of-another", cell("lab/analytes.csv", "benzene", "cas", "108-88-3"))
    assert (found.found, found.expected) == ("108-88-3, which belongs to Toluene", "71-43-2 for Benzene")


def test_an_id_is_told_beside_the_first_one_that_it_is_like() -> None:
    """``sg-02`` differs from SG-02 by its letters alone; of the points before it none is meant."""
    (found,) = of_code("ids-alike", row_added("locations/locations.csv", location_id="sg-02", medium="soil_gas"))
    assert found.found == "sg-02, in addition to SG-02"


def test_samplers_put_loose_into_a_bag_are_told_at_the_first_of_their_rows() -> None:
    """Rows 3 and 4 of deployments.csv; the header is row 1."""
    loose = [cell("field/deployments.csv", name, "individually_bagged", "no") for name in ("0047103", "0047104")]
    (found,) = of_code("not-individually-bagged", *loose)
    assert (found.where.row, found.found) == (
        3,
        "2 samplers not individually bagged in return bag RB-1: 0047103, 0047104",
    )


def test_results_are_asked_for_of_what_came_back() -> None:
    """A field blank in a bag is asked for without a time of closing; a lost sampler is not, whatever bag is named."""
    opened = (*field_blank(), cells("field/deployments.csv", BLANK, retrieved_at=""))
    lost = cells("field/deployments.csv", LOST, bag_id="RB-2")
    survey = load(changed(*opened, lost, without_rows("lab/results.csv", lambda r: r["lab_sample_id"] == "04417-060")))
    found = {f.subject: f.found for f in results_present(survey, evaluate(survey))}
    assert found == {BLANK: "a field blank without results"}


def test_a_point_outside_is_told_though_another_has_no_position() -> None:
    """SG-03 is put a kilometre east of the site; SG-02 has no position, neither planned nor surveyed."""
    nowhere = cells("locations/locations.csv", "SG-02", easting="", northing="", plan_easting="", plan_northing="")
    away = cells("locations/locations.csv", "SG-03", easting="471100.00")
    assert "SG-03" in {f.subject for f in of_code("point-outside", nowhere, away)}


def test_without_a_boundary_no_point_is_outside() -> None:
    """Nothing is said of a boundary that is not on record, but that it is not."""
    codes = {f.code for f in new_findings(changed(without_features("site_boundary")))}
    assert not {code for code in codes if code.startswith(("point-outside", "points-outside", "axes-swapped"))}
