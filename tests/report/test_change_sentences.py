"""Sentences on what changed: few results by name, many by count, and nothing said that is not on record."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import Row
from two_revisions import revision_of, tables_of

from sitegen.compute.evidence.difference import Difference, difference, without_changes
from sitegen.compute.evidence.effects import Crossing
from sitegen.compute.evidence.revised import Reissue
from sitegen.project.schema import Origin
from sitegen.project.tables import ChangeReason
from sitegen.render.data.changes import FIELDS, changes_csv
from sitegen.report.evidence.changefiles import change_lines, change_rows
from sitegen.report.evidence.changeresults import Reader
from sitegen.report.evidence.changewords import counted, sentences

TEAM = Reader()
MASSES = {f"P-{n}": {"pce": f"{n}0", "tce": "<10"} for n in range(1, 10)}
BASE = revision_of(tables_of(MASSES))


def with_results(**results: str) -> Difference:
    """Return the difference where results are named ``P_1_pce``."""
    new = {point: dict(own) for point, own in MASSES.items()}
    for name, text in results.items():
        point, _, compound = name.rpartition("_")
        new[point.replace("_", "-")][compound] = text
    return difference(BASE, revision_of(tables_of(new)))


def reason(key: str, text: str) -> ChangeReason:
    return ChangeReason(1, key, text, Origin("review/changes.csv", 2))


@pytest.mark.parametrize(
    ("result", "told"),
    [
        ({"P_2_pce": "1899"}, "Tetrachloroethene at P-2, from 20 to 1,899 ng per sampler"),
        ({"P_2_pce": "20 J"}, "Tetrachloroethene at P-2, from 20 to 20 ng per sampler (J)"),
        ({"P_2_pce": "<5"}, "Tetrachloroethene at P-2, from 20 to <5 ng per sampler"),
        ({"P_2_tce": "12 J"}, "Trichloroethene at P-2, from <10 to 12 ng per sampler (J)"),
        ({"P_2_tce": "<12"}, "Trichloroethene at P-2, from <10 to <12 ng per sampler"),
    ],
)
def test_one_result_is_told_with_old_and_new(result: dict[str, str], told: str) -> None:
    """Masses with their unit and qualifier, a non-detect by its limit and never as a number."""
    first = sentences(with_results(**result), TEAM)[0]
    assert first == f"One result changed: {told}, in lab/results.csv. No reason is on record."


def test_what_reads_alike_is_told_by_the_column_that_changed() -> None:
    """A reporting limit beside a detection, and a reviewer's reason, stand in no number."""
    tables = tables_of(MASSES)
    tables["results"] = [dict(row) for row in tables["results"]]
    tables["results"][0] |= {"rl": "8", "validation_reason": "read again"}
    first = sentences(difference(BASE, revision_of(tables)), TEAM)[0]
    assert first.startswith(
        "One result changed: Tetrachloroethene at P-1, 10 ng per sampler, "
        "reason for a qualifier from blank to read again; reporting limit from 10 to 8, in"
    )


def test_a_result_that_came_or_went_is_no_correction() -> None:
    """It was not on record before, or is no longer."""
    shorter = {point: own for point, own in MASSES.items() if point != "P-9"} | {"P-9": {"tce": "<10"}}
    other = revision_of(tables_of(shorter))
    came, went = (sentences(difference(*pair), TEAM)[0] for pair in ((other, BASE), (BASE, other)))
    assert came.startswith("One result changed: Tetrachloroethene at P-9, 90 ng per sampler, not on record before, in")
    assert went.startswith(
        "One result changed: Tetrachloroethene at P-9, formerly 90 ng per sampler, no longer on record,"
    )


def test_reasons_that_differ_stand_beside_each_result() -> None:
    """One has a reason, the other none; where both have the same it is said once."""
    found = with_results(P_1_pce="11", P_2_pce="22")
    one = Reader(reasons=(reason("results:L-P-1+pce", "read again"),))
    assert sentences(found, one)[0] == (
        "Two results changed: Tetrachloroethene at P-1, from 10 to 11 ng per sampler, in lab/results.csv (reason on "
        "record: “read again”); Tetrachloroethene at P-2, from 20 to 22 ng per sampler, in lab/results.csv (no reason "
        "on record)."
    )
    both = Reader(reasons=(reason("results:L-P-*", "read again"),))
    assert sentences(found, both)[0].endswith(
        "from 20 to 22 ng per sampler. They are recorded in lab/results.csv. Reason on record: “read again”."
    )


def test_many_results_are_told_by_count_with_the_largest_first() -> None:
    """Six of nine: four values, one detection, one qualifier; the one that moved farthest is named."""
    found = with_results(P_1_pce="11", P_2_pce="21", P_3_pce="31", P_4_pce="400", P_5_tce="12", P_6_pce="60 J")
    first, farthest, behind = sentences(found, Reader(reasons=(reason("results:L-P-1+pce", "x"),)))[:3]
    assert first == "6 results changed: 4 in value, 1 in detection status, 1 in a qualifier.".replace("6", "Six", 1)
    assert farthest == "Largest change from the former value: Tetrachloroethene at P-4: 40 → 400 ng per sampler."
    assert behind == "They are recorded in lab/results.csv; a reason is on record for 1 of them."


def test_a_date_is_told_only_of_a_file_that_replaces_one_and_is_later() -> None:
    """The latest date in the file, and no more; without one in the former issue, or none later, nothing."""
    found = with_results(P_1_pce="11")

    def told(latest: str, former: str) -> str:
        issue = Reissue("lab/results.csv", "records/old.csv", latest, former)
        return sentences(replace(found, reissues={issue.file: issue}), TEAM)[0]

    words = "in the reissued laboratory file lab/results.csv, which replaces records/old.csv (latest date in the file: "
    assert words in told("2025-12-02", "2025-11-21")
    for dates in (("2025-12-02", ""), ("2025-11-21", "2025-11-21"), ("", ""), ("", "2025-11-21")):
        assert "latest date" not in told(*dates)
        assert "which replaces records/old.csv. No reason" in told(*dates)


def test_a_level_is_spoken_of_only_where_something_is_compared() -> None:
    """Neither revision compares a concentration here: nothing; else what crosses, or that nothing does."""
    found = with_results(P_1_pce="11")
    assert not [one for one in sentences(found, TEAM) if "level" in one]
    compared = replace(found, effects=replace(found.effects, compared=2))
    words = "No compound at a point newly exceeds a screening level, and no former exceedance has ceased."
    assert words in sentences(compared, TEAM)
    crossed = replace(
        found.effects, compared=2, crossings=(Crossing("P-1", "pce", True), Crossing("P-2", "tce", False))
    )
    told = sentences(replace(found, effects=crossed), TEAM)
    assert "Tetrachloroethene at P-1 is now above a screening level and previously not." in told
    assert "Trichloroethene at P-2 is no longer above any screening level." in told


JUDGED = "Tetrachloroethene is highest at P-9. Trichloroethene was not detected at P-1."


def conclusion(new: dict[str, str], text: str = JUDGED, before: str = "") -> str:
    """Return the sentence on conclusions where results of P-1 and P-9 change."""
    old = revision_of(tables_of(MASSES), conclusions=before or text)
    masses = MASSES | {"P-1": MASSES["P-1"] | new}
    return next(s for s in sentences(difference(old, revision_of(tables_of(masses), conclusions=text)), TEAM)
                if "onclusion" in s)  # fmt: skip


def test_no_conclusion_changes_only_where_each_was_judged_in_both_and_is_equal() -> None:
    """Two sentences judged alike; one that turns, one that can't be judged, or one rewritten, and it is not said."""
    assert conclusion({"pce": "11"}) == (
        "No conclusion changes: each of the 2 sentences of the conclusions was checked by rule against the record in "
        "both revisions, with the same outcome."
    )
    assert "1 has the same outcome as before and 1 a different one; 0 cannot be checked" in conclusion({"pce": "95"})
    assert "2 have the same outcome as before and none a different one; 1 cannot be checked" in conclusion(
        {"pce": "11"}, JUDGED + " Beware."
    )
    rewritten = conclusion({"pce": "11"}, JUDGED, JUDGED.replace("is highest", "is still highest"))
    assert "2 have the same outcome as before" in rewritten
    assert "No conclusion changes" not in rewritten


def test_without_a_narrative_no_conclusion_is_spoken_for() -> None:
    """Nothing to compare is said as such."""
    told = sentences(with_results(P_1_pce="11"), TEAM)
    assert (
        "No sentence of a summary, interpretation, conclusions or recommendations is on record, "
        "so none is compared with the changes."
    ) in told


def test_readers_outside_are_told_of_results_points_and_text_alone() -> None:
    """A setting, a cell and findings are matters of the team; a point that may not be named is counted."""
    tables = tables_of(MASSES | {"P-1": {"pce": "11"}, "P-2": {"pce": "21"}})
    moved: list[Row] = [
        tables["locations"][0] | {"easting": "470003", "comment": "rang the tenant"},
        *tables["locations"][1:],
    ]
    found = difference(BASE, revision_of(tables | {"locations": moved}))
    outside = " ".join(sentences(found, Reader(team=False, hidden=frozenset({"P-2"}))))
    assert "1 point moved (P-1 by 3.00 m)" in outside
    assert "at points that are no longer part of the survey" in outside
    assert "P-2" not in outside
    assert "finding" not in outside
    assert "cell" not in outside
    inside = " ".join(sentences(found, TEAM))
    assert "1 cell of a record" in inside
    assert "Findings about the survey: none opened, none closed." in inside


def test_nothing_changed_and_two_rounds_are_said_in_a_sentence_or_two() -> None:
    """The same folder; and a second round, by what both have, with where rounds are compared."""
    assert sentences(difference(BASE, BASE), Reader(team=False)) == (
        "No change was found in the items compared: results, other records, text and settings.",
    )
    later = revision_of(tables_of(MASSES, serial="T-", number="M-", day="2026-06-02"))
    told, hint = sentences(without_changes(BASE, later), TEAM)
    assert told == (
        "These are two rounds of sampling, not two revisions of one report. In common: 9 points (of 9 and 9), no "
        "samplers installed (9 and 9) and no laboratory samples (9 and 9)."
    )
    assert hint.endswith("state the earlier one in the settings: earlier under [project], or [[rounds]].")


def test_numbers_open_a_sentence_in_words_up_to_nine() -> None:
    """Then in figures, with commas."""
    assert [counted(n, "result") for n in (1, 2, 9, 10, 1200)] == [
        "One result", "Two results", "Nine results", "10 results", "1,200 results",
    ]  # fmt: skip


def test_text_and_table_have_each_change_on_a_line_of_its_own() -> None:
    """A reason with a line end stays on its line; a cell that a spreadsheet would run is only shown."""
    found = with_results(P_1_pce="11")
    risky = replace(found.changes[0], old="=1+1\n2")
    found = replace(found, changes=(risky,), results=())
    reader = Reader(reasons=(reason("results:*", "@sum\nof all"),))
    *_, blank, line = change_lines(found, reader)
    assert (blank, "\n" in line) == ("", False)
    table = changes_csv(change_rows(found, reader)).decode()
    assert table.splitlines()[0] == ",".join(FIELDS)
    assert '"\'=1+1\n2"' in table
    assert '"\'@sum\nof all"' in table


def test_a_plan_that_became_a_survey_is_told_without_numbers_before() -> None:
    """Nothing was placed before: 18 results are added, in many words by count, and no former value is claimed."""
    planned = {name: [] for name in ("samplers", "deployments", "lab_samples", "results")}
    plan = revision_of(tables_of(MASSES) | planned)
    told = sentences(difference(plan, BASE), TEAM)
    assert told[0] == "18 results changed: 18 added."
    assert not [one for one in told if "Largest change" in one]
    assert sentences(difference(plan, plan), TEAM)[0].startswith("No change was found in the items compared")


def test_results_of_another_round_are_counted_beside_those_of_the_round_reported() -> None:
    """A row that is none of the round's results is not passed over, and "no result" is said of the round alone."""
    found = with_results(P_2_pce="25")
    other = replace(found.changes[0], key="results:L-OLD+pce", location_id="")
    told = "1 further row of results outside the reported round changed"
    assert not any(told in one for one in sentences(found, TEAM))
    both = sentences(replace(found, changes=(*found.changes, other)), TEAM)
    assert both[0].startswith("One result changed: ")
    assert told in both[1]
    alone = sentences(replace(found, changes=(other,), results=()), TEAM)
    assert alone[0] == "No result of the reported round changed."
    assert told in alone[1]
