"""Rules that a single cell can't show: kinds of foot, tickets that follow one another, custody without a holder."""

from __future__ import annotations

import pytest
from builders import (
    cell,
    cells,
    changed,
    content,
    every,
    example_findings,
    load,
    new_findings,
    removed,
    row_added,
    setting,
    survey_findings,
    text,
    without_rows,
)
from survey_in_feet import SOUTH_DAKOTA_FT, feet, in_feet

from sitegen.checks.comments import first_word
from sitegen.checks.files import leaves_folder
from sitegen.checks.narrative import claims, typed_numbers
from sitegen.checks.results import read_text
from sitegen.checks.rows import MAX_TOLD
from sitegen.findings.problems import Severity

LOCATIONS = "locations/locations.csv"
DEPLOYMENTS = "field/deployments.csv"
CLEARANCE = "field/clearance.csv"


def test_a_survey_in_us_survey_feet_that_says_so_is_fine() -> None:
    assert new_findings(changed(*feet("us_survey"))) == []


@pytest.mark.parametrize(("foot", "code"), [("", "foot-undeclared"), ("international", "foot-disagrees")])
def test_a_system_in_feet_needs_the_right_foot_and_says_what_the_wrong_one_does(foot: str, code: str) -> None:
    (finding,) = new_findings(changed(*feet(foot)))
    assert (finding.code, finding.severity.value) == (code, "stop")
    largest = max(float(v) for v in in_feet({"easting": "470146", "northing": "4770098", "plan_easting": ""}).values())
    assert f"{largest * (1200 / 3937 - 0.3048):.1f} m" in finding.found


def test_distances_are_not_measured_in_feet() -> None:
    codes = [finding.code for finding in new_findings(changed(*feet("us_survey", SOUTH_DAKOTA_FT)))]
    assert codes == ["crs-not-metric"]


def test_a_hole_is_covered_where_any_ticket_for_it_was_valid() -> None:
    late = cell(CLEARANCE, "OB-25-10436", "valid_from", "2025-10-27T08:00")
    earlier = row_added(
        CLEARANCE,
        ticket="OB-25-10400",
        valid_from="2025-10-20T08:00",
        valid_to="2025-10-26T08:00",
        location_ids="SG-52",
    )
    (finding,) = new_findings(changed(late))
    assert (finding.key, finding.where.column) == ("clearance-not-valid:OB-25-10436+valid_from", "valid_from")
    assert finding.found == "1 hole made before 2025-10-27T08:00: SG-52"
    assert new_findings(changed(late, earlier)) == []


def test_a_hole_made_after_its_ticket_ran_out_is_told_with_that_end() -> None:
    early = cells(CLEARANCE, "OB-25-10436", valid_from="2025-10-20T08:00", valid_to="2025-10-21T08:00")
    (finding,) = new_findings(changed(early))
    assert (finding.key, finding.where.column) == ("clearance-not-valid:OB-25-10436+valid_to", "valid_to")
    assert finding.found == "1 hole made after 2025-10-21T08:00: SG-52"


def test_a_key_of_several_columns_names_all_of_them() -> None:
    """A disposition written once attaches to one result, level or rate, not to all of a sample or set."""
    changes = (
        cells("lab/results.csv", "04417-002+pce", value="-6.3", result_text="-6.3"),
        cell("reference/uptake_rates.csv", "T1+pce+indoor_air", "source_date", ""),
    )
    assert {finding.key for finding in survey_findings(changed(*changes))} >= {
        "number-impossible:results+value+04417-002+pce",
        "rate-incomplete:T1+pce+indoor_air+source_date",
    }


def test_a_sampler_that_nobody_held_holds_the_issue() -> None:
    alone = cells(DEPLOYMENTS, "0047103", bag_id="", retrieved_by="")
    codes = {finding.code for finding in new_findings(changed(alone))}
    assert "custody-none" in codes


def test_a_table_with_no_rows_is_told() -> None:
    empty = without_rows("field/return_bags.csv", lambda _: True)
    codes = {finding.code for finding in new_findings(changed(empty))}
    assert "table-empty" in codes


def test_a_flood_of_like_findings_is_cut_short_and_counted() -> None:
    found = new_findings(changed(every("lab/results.csv", lambda _: {"lab_qualifier": "Z"})))
    mine = [finding for finding in found if finding.code == "qualifier-unknown"]
    assert len(mine) == MAX_TOLD + 1
    assert sum(finding.found.startswith("1366 more rows") for finding in mine) == 1


@pytest.mark.parametrize(
    "missing",
    ["field/shipments.csv", "field/deployments.csv", "lab/results.csv", "lab/analytes.csv", LOCATIONS],
)
def test_without_a_required_table_the_rules_still_run(missing: str) -> None:
    found = new_findings(changed(removed(missing)))
    assert "file-missing" in {finding.code for finding in found}


def test_a_private_table_that_cannot_be_read_is_told_and_stops_what_leaves_the_house() -> None:
    garbled = content("private/contacts.csv", b"role;name\nkeeper;\xe9\n")
    (finding,) = new_findings(changed(garbled))
    assert (finding.code, finding.severity.value) == ("private-unreadable", "flag")
    outward = changed(garbled, setting('level = "internal"', 'level = "client"'))
    assert ("private-unreadable", "stop") in {(f.code, f.severity.value) for f in new_findings(outward)}


def test_a_private_word_is_found_wherever_it_stands() -> None:
    word = text("text/setting.md", "The depot served", "VARNHOLLOW's depot served")
    (finding,) = new_findings(changed(word))
    assert (finding.code, finding.where.file) == ("personal-data", "text/setting.md")
    assert "varnhollow" not in finding.found.lower()
    assert finding.found == "possible personal data in the text: a name (V…)"


def test_a_note_that_is_quoted_holds_no_private_word() -> None:
    """A watch word and a name in one note: the finding about the one does not print the other."""
    note = cell(DEPLOYMENTS, "0047103", "comment", "Ground wet, Varnhollow rang from 555-0142.")
    found = {finding.code: finding.found for finding in new_findings(changed(note))}
    assert "“Ground wet, V… rang from 5….”" in found["comment-watch-word"]
    assert found["personal-data"].endswith("a name (V…), a number (5…)")
    printed = " ".join(f"{f.found} {f.expected} {f.do}" for f in new_findings(changed(note)))
    assert "Varnhollow" not in printed
    assert "555-0142" not in printed


def test_personal_data_come_first_of_their_severity() -> None:
    flags = [finding.code for finding in example_findings() if finding.severity is Severity.FLAG]
    assert flags[0] == "personal-data"
    assert flags[1:] == sorted(flags[1:]), "the rest by code"


def remedy(key: str) -> str:
    """Return what to do about a finding of the example."""
    return next(finding.do for finding in example_findings() if finding.key == key)


def test_a_departure_on_record_is_cited_and_not_asked_for() -> None:
    """SG-30's early end is in DV-4 and SG-27's move in DV-1; SG-16's refusal is in no row."""
    assert remedy("exposure-out-of-plan:0047105").startswith("DV-4 states the effect (less mass than a full exposure")
    assert remedy("point-moved:SG-27").startswith("DV-1 states the effect (none expected), agreed by PM-1;")
    assert remedy("hole-refused:0047148").endswith("state the effect in deviations.csv")
    water = remedy("water-in-sampler:0047154")
    assert "treat its masses as potentially biased low" in water, "the rest of the advice stays"


def test_a_departure_that_says_no_effect_or_that_nobody_agreed_to_is_not_cited() -> None:
    for column in ("effect", "agreed_by_role"):
        folder = changed(cell("field/deviations.csv", "DV-1", column, ""))
        (advice,) = (f.do for f in survey_findings(folder) if f.key == "point-moved:SG-27")
        assert advice == "state the effect in deviations.csv"


def test_a_run_within_range_is_named_where_one_is_on_file() -> None:
    """04417-019R reads 4.96E+04 of at most 100,000; a run above its own top, or a non-detect, is none."""
    key = "above-calibration:04417-019+pce"
    (finding,) = (f for f in example_findings() if f.key == key)
    assert "04417-019R on record, not reported: 4.96E+04 ng per sampler" in finding.found
    assert "dilution" not in finding.do
    run = "04417-019R+pce"
    above = cells("lab/results.csv", run, calibration_top="40000", lab_qualifier="E")
    nothing = cells("lab/results.csv", run, result_text="ND", value="", detected="no", lab_qualifier="U")
    for change in (above, nothing):
        (advice,) = (f.do for f in survey_findings(changed(change)) if f.key == key)
        assert advice == "treat it as an estimate; ask the laboratory about a dilution"


def test_depths_are_compared_in_one_unit_and_told_as_received() -> None:
    """1.6 ft = 0.488 m; 3 ft = 0.914 m; 0.5 ft = 0.152 m."""
    (finding,) = (f for f in example_findings() if f.code == "hole-refused")
    assert finding.found == "refusal at 0.49 m (1.6 ft as received)"
    assert finding.expected == "0.91 m ± 0.15 m (3 ft ± 0.5 ft in the plan)"


def test_findings_speak_in_words() -> None:
    """No word of the folder format, no compound's id, in what the example's findings say."""
    said = " ".join(f"{f.found} {f.expected}" for f in example_findings())
    for code in ("cap_damaged", "water_inside", "not_recovered", "soil_gas", "text:", "cis12dce", "mecl2", "mxylene"):
        assert code not in said
    assert "Tetrachloroethene, Trichloroethene, cis-1,2-Dichloroethene" in said


@pytest.mark.parametrize("comment", ["Unopened, dry.", "Gate locked.", "On the fence under a rain hood.", ""])
def test_plain_comments_hold_no_watch_word(comment: str) -> None:
    assert first_word(comment) is None


@pytest.mark.parametrize(
    ("comment", "about"),
    [
        ("Hole flooded overnight", "sampler"),
        ("glass CRACKED at the neck", "sampler"),
        ("Diesel spill on the pad", "ground"),
        ("slight odour, grey stain", "ground"),
        ("found disturbed by gophers", "sampler"),
    ],
)
def test_words_of_harm_are_found_whatever_their_case(comment: str, about: str) -> None:
    hit = first_word(comment)
    assert hit is not None
    assert hit[0].about == about


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("12", ("value", 12.0)),
        ("12 J", ("value", 12.0)),
        ("1.2E+03", ("value", 1200.0)),
        ("< 10", ("nondetect", 10.0)),
        ("10 U", ("nondetect", 10.0)),
        ("N.D.", ("nondetect", None)),
        ("not detected", ("nondetect", None)),
        ("see note 3", ("", None)),
        ("1.2.3", ("", None)),
    ],
)
def test_what_a_laboratory_wrote_is_read_or_left_alone(written: str, says: tuple[str, float | None]) -> None:
    assert read_text(written) == says


@pytest.mark.parametrize("path", ["../a", "a/../../b", "/etc/passwd", "C:\\a", "~/a", "a\\b"])
def test_paths_that_lead_out_are_found(path: str) -> None:
    assert leaves_folder(path)


def test_the_wording_offered_for_a_claim_is_no_claim_itself() -> None:
    for claim in claims():
        assert not any(other.pattern.search(claim.better) for other in claims()), claim.better


@pytest.mark.parametrize(
    ("words", "claimed"),
    [
        ("a concentration of 120 ng per sampler", True),
        ("at a concentration of about 1,200 ng", True),
        ("concentrations of {{ max.pce }}", True),
        ("a concentration of 1.2 µg/m³ in air", False),
        ("a concentration of 1.2 µg per cubic metre", False),
        ("the mass exceeds the screening level", True),
        ("the ground was found to be clean", True),
        ("the yard came back clean", True),
        ("clean sand above gravel", False),
        ("trowels must be clean before use", False),
        ("a worst-case-scenario", True),
        ("whether or not contaminated", False),
        ("total vapour pressure", False),
        ("concentrations of 5 ng m⁻³ in air", False),
        ("a concentration of 7 µg (per cubic metre)", False),
        ("the tool was cleaned between points", False),
        ("there is no contamination", True),
        ("no evidence of contamination", True),
        ("no contaminants were found", True),
        ("the plume boundary", True),
        ("the boundary of a plume", True),
        ("validated data", True),
        ("data validation confirmed them", True),
        ("total VOCs rise to the east", True),
        ("the total of 55 points", False),
    ],
)
def test_words_that_claim_too_much_are_told_from_words_that_do_not(words: str, claimed: bool) -> None:
    assert any(claim.pattern.search(words) for claim in claims()) is claimed


def test_a_compound_s_name_is_no_number_with_a_unit() -> None:
    """``44 m-Xylene`` is a point and a compound; a length before a hyphen stays a length."""
    survey = load(changed(content("text/setting.md", b"At point 44 m-Xylene was low, in a pit 12 m-wide.")))
    assert [finding.found for finding in typed_numbers(survey)] == ["'12 m'"]
