"""A folder of several rounds is checked round by round, and each finding says which it is of."""

from __future__ import annotations

from collections import Counter
from functools import cache

from builders import cell, load, survey_findings
from defects import DEPLOYMENTS, SAMPLERS
from rounds_survey import edited, edited_by, two_rounds

from sitegen.checks.run import check_parts
from sitegen.compute.rounds.split import parts
from sitegen.findings.problems import Finding, Severity
from sitegen.report.data.exports import findings_export
from sitegen.report.record.pages import Table
from sitegen.report.review.findings import findings_page
from sitegen.report.write.context import Context, context_of


@cache
def findings() -> tuple[Finding, ...]:
    return survey_findings(two_rounds())


def counted(code: str) -> Counter[str]:
    return Counter(one.round for one in findings() if one.code == code)


def context() -> Context:
    survey = load(two_rounds())
    return context_of(survey, parts(survey), findings())


def test_two_rounds_at_the_same_points_are_no_contradiction() -> None:
    """A second sampler at a point, a label used again and a second shipment are sound where rounds are declared."""
    assert not [one.line() for one in findings() if one.severity is Severity.STOP]
    assert not counted("label-twice")


def test_without_declared_rounds_a_second_round_stops() -> None:
    """Merged in silence, masses of two years would stand under one point."""
    folder = edited("project.toml", lambda text: text.partition(b"[[rounds]]")[0])
    codes = {one.code for one in survey_findings(folder) if one.severity is Severity.STOP}
    assert {"second-primary", "round-unknown"} <= codes


def test_what_happened_in_each_round_is_told_for_each() -> None:
    """The same lost sampler, gap and blank come twice, once for each round."""
    for code in ("sampler-lost", "custody-gap", "trip-blank-detection", "duplicate-differs"):
        found = counted(code)
        assert found["R1"] == found["R2"] > 0, code


def test_a_finding_of_the_first_round_keeps_its_key_and_of_a_later_one_names_it() -> None:
    """A decision on a point's finding in the first round is none on the second's."""
    lows = [one for one in findings() if one.code == "local-low"]
    first = {one.key for one in lows if one.round == "R1"}
    later = {one.key for one in lows if one.round == "R2"}
    assert first
    assert later
    assert not [key for key in first if "@" in key]
    assert all(key.endswith("@R2") for key in later)
    assert {one.about for one in lows if one.round == "R2"} == {key[len("local-low:") : -len("@R2")] for key in later}


def test_a_finding_of_a_sampler_keeps_its_id_as_its_key() -> None:
    """A serial is of one round alone: nothing needs to be added."""
    assert not [one.key for one in findings() if one.subject_kind == "sampler" and "@" in one.key]


def test_a_label_twice_in_one_round_is_told() -> None:
    """Within the second round the labels must differ as in the first."""
    folder = edited_by(cell(SAMPLERS, "2-0047103", "label", "SG-29"))
    (found,) = (one for one in survey_findings(folder) if one.code == "label-twice")
    assert (found.round, found.subject) == ("R2", "2-0047104")


def test_two_primaries_at_a_point_in_one_round_still_stop() -> None:
    """A supplement is of its round: a second sampler there says what it is."""
    folder = edited_by(cell(DEPLOYMENTS, "S-1", "location_id", "SG-20"))
    (found,) = (one for one in survey_findings(folder) if one.code == "second-primary")
    assert found.severity is Severity.STOP
    assert found.round == "R2"


def test_between_a_round_and_its_supplement_no_weather_is_wanted() -> None:
    """Readings have a gap of weeks while no sampler is in place."""
    assert not counted("weather-gap")


def test_a_gap_of_the_weather_in_a_round_is_told() -> None:
    """A day without readings while the second round's samplers are in place."""

    def edit(text: bytes) -> bytes:
        lines = text.splitlines(keepends=True)
        return b"".join(line for line in lines if not line.startswith(b"2026-10-26"))

    found = [one for one in survey_findings(edited("field/weather.csv", edit)) if one.code == "weather-gap"]
    assert [one.round for one in found] == ["R2"]


def test_the_narrative_is_held_against_the_round_reported_alone() -> None:
    """What the conclusions say of the second round is not compared with the first."""
    assert set(counted("claim-differs")) <= {"R2"}
    first, second = parts(load(two_rounds()))
    codes = {one.code for one in check_parts((first, second)) if one.round == "R1"}
    assert not codes & {"claim-differs", "exceedance-not-concluded", "objective-not-concluded"}


def test_a_page_of_the_second_round_shows_no_finding_of_the_first() -> None:
    """A point's findings are those of the round, and those about the whole record."""
    own = context()
    (before,) = own.earlier
    for one in (own, before):
        shown = {own.findings[at].round for places in one.findings_of.values() for at in places}
        assert shown <= {"", one.campaign.id}
        assert {found.round for found in one.own_findings} == {"", one.campaign.id}
    assert own.findings == before.findings


def test_rows_as_received_are_those_of_every_round() -> None:
    """Each of the 2,877 results on file has its place among the sources, whatever its round."""
    own = context()
    assert len(own.every_result) == len(own.record.frame("results")) == 1386 + 1491
    assert len(own.results) == 1491


def test_every_mark_of_a_round_leads_to_a_finding_of_that_round() -> None:
    """A damaged cap or a blank's detection has its finding, and not that of the same point a year before."""
    own = context()
    keys = {one.key for one in own.own_findings}
    marks = own.evaluation.marks
    found = {fact.key for facts in (*marks.by_sampler.values(), *marks.by_result.values()) for fact in facts}
    assert found
    assert found <= keys
    lows = {low.location_id for low in own.evaluation.local_lows}
    assert {own.finding_key(f"local-low:{name}") for name in lows} == {f"local-low:{name}@R2" for name in lows}


def test_what_another_round_alone_has_is_no_finding_of_this_one() -> None:
    """A bag of the first round without a seal number is told on the first round's page."""
    own = context()
    (before,) = own.earlier
    subjects = [
        {one.about for one in each.own_findings if one.subject_kind in ("bag", "sampler")} for each in (own, before)
    ]
    assert not [name for name in subjects[0] if not name.startswith(("2-", "S-"))]
    assert not [name for name in subjects[1] if name.startswith(("2-", "S-"))]


def test_the_list_of_findings_says_which_round_each_is_of() -> None:
    """Two findings of one point a year apart are told from each other on the page and in the data file."""
    own = context()
    table = next(block for block in findings_page(own).blocks if isinstance(block, Table) and block.id == "findings")
    at = [column.key for column in table.columns].index("round")
    shown = Counter(row[at].text for row in table.rows)
    names = {"R1": "First round, autumn 2025", "R2": "Second round, autumn 2026"}
    assert shown == Counter(names.get(one.round, "–") for one in findings())
    export = findings_export(own)
    assert {row[export.at("round")] for row in export.rows} == {"", "R1", "R2"}
    assert not [row for row in export.rows if "@" in row[export.at("subject")]]
