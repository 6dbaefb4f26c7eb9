"""What changed between two rounds: sentences and tables of a small survey, worked out by a person."""

from __future__ import annotations

import csv
import io
import math
import re

import pytest
from hand_rounds import FILES, context, page, report, section, table, texts
from scipy.stats import binomtest

from sitegen.compute.rounds.changes import KINDS, REASONS
from sitegen.report.record.pages import Callout, Prose, Ref
from sitegen.report.rounds.changes import masses_tables
from sitegen.report.rounds.sides import earlier_rounds
from sitegen.report.rounds.told import change_text
from sitegen.report.write.words import lexicon

CHANGES = Ref("page", "round-changes")
REJECTED_FALLS = ("lab/results.csv", "L-204,benzene,22,22,ng,10,2,,R,invented", "L-204,benzene,22,22,ng,10,2,,,")
EXPECTED = """
* 4 points of Spring round and Autumn round are matched, 3 by ID and 1 by position; at 4 of them at least one
compound can be compared.
* Sampled only in Spring round: 1 point (D).
* Sampled only in Autumn round: 1 point (G).
* Of 12 results (one compound at one point each), 11 can be compared between the rounds and 1 cannot. 5 are detections
in both rounds: 1 increased and 1 decreased beyond the field-duplicate criterion; for 3 no change is established. Of the
others, 2 are newly detected in Autumn round, 1 no longer detected, and 3 not detected in either round.
* Increased: Tetrachloroethene at 1 point.
* Decreased: Tetrachloroethene at 1 point.
* Newly detected in Autumn round: Trichloroethene at 1 point, Benzene at 1 point. 1 of these 2 detections is below the
other round’s reporting limit, or that limit is not on record: a change cannot be established there.
* Detected in Spring round, no longer detected in Autumn round: Trichloroethene at 1 point.
* Exposures: 10.0 days in Spring round, 10.0 to 14.0 days in Autumn round; at 4 points with both on record (of 4) the
later exposure is 1.0 to 1.4 times the earlier one (median 1.4). Masses are not normalised to exposure.
* Time between the last retrieval of Spring round and the first installation of Autumn round: 141.0 days.
"""


def sentences() -> str:
    """Return the sentences that open the section on the earlier round, as they are read."""
    first = section(page(CHANGES).blocks, "since-1").blocks[0]
    assert isinstance(first, Prose)
    return first.markdown.replace("\\", "")


def test_the_sentences_say_what_was_counted() -> None:
    """Points, results and compounds are counted as a person counts them in the table at the head of the survey."""
    assert " ".join(sentences().split()) == " ".join(EXPECTED.split())


def test_every_result_stands_beside_that_of_the_other_round_with_its_own_marks() -> None:
    """Both masses, the marks of their own round, what became of them, and both limits; of two non-detects nothing."""
    shown = table(page(CHANGES).blocks, "changes-masses-1")
    assert texts(shown) == [
        ["A", "Tetrachloroethene", "100 [custody]", "400 [custody]", "× 4.0", "10", "10"],
        ["A", "Trichloroethene", "<10 [custody]", "30 [custody]", "newly detected", "10", "10"],
        ["A", "Benzene", "50 [custody]", "60 [custody]", "× 1.2, no change established", "10", "10"],
        ["B", "Tetrachloroethene", "40 [custody]", "8 J [exposure] [custody] [trip blank]", "× 0.20", "10", "10"],
        ["B", "Trichloroethene", "25 [custody]", "<10 [exposure] [custody]", "no longer detected", "10", "10"],
        ["B", "Benzene", "<10 [custody]", "5 J [exposure] [custody]",
         "not determined: detected in the later round only, below the reporting limit of the earlier round",
         "10", "10"],
        ["C", "Benzene", "20 [custody]", "rejected (22) [custody]", "not determined: a result is rejected", "10", "10"],
        ["E2 (E1)", "Tetrachloroethene", "1000 [custody]", "900 [custody]", "× 0.90, no change established",
         "10", "10"],
        ["E2 (E1)", "Trichloroethene", "12 [custody]", "30 [custody]", "× 2.5, no change established", "10", "10"],
    ]  # fmt: skip
    assert shown.note.startswith(
        "3 rows of 12 (one compound at one point each) without a detection in either round are not listed"
    )


def test_no_factor_stands_beside_a_non_detect() -> None:
    """Wherever a table gives a factor, both results are detections: recomputed from the laboratory's file."""
    rows = list(csv.DictReader(io.StringIO(FILES["lab/results.csv"])))
    value = {(row["lab_sample_id"], row["analyte_id"]): float(row["value"] or "nan") for row in rows}
    runs = {"A": ("L-101", "L-201"), "B": ("L-103", "L-203"), "C": ("L-104", "L-204"), "E2": ("L-106", "L-206")}
    (earlier,) = earlier_rounds(context())
    for one in earlier.change.points:
        before, after = (value[run, one.analyte_id] for run in runs[one.location_id])
        told = re.match(r"× ([\d.]+)", change_text(one))
        if told:
            assert float(told[1]) == pytest.approx(after / before, rel=0.05)  # printed to two figures
        else:
            assert math.isnan(before) or math.isnan(after) or one.reason == "rejected"


def test_compounds_are_counted_by_kind_and_tested() -> None:
    """Points by kind; the sign test is that of scipy over the points with an order."""
    shown = table(page(CHANGES).blocks, "changes-compounds-1")
    assert [column.key for column in shown.columns[1:]] == [
        "grew", "shrank", "within", "appeared", "vanished", "below", "neither", "not_comparable", "higher", "lower",
        "ties", "p",
    ]  # fmt: skip
    rows = texts(shown)
    assert [row[:-1] for row in rows] == [
        ["Tetrachloroethene", "1", "1", "1", "0", "0", "0", "1", "0", "1", "2", "1"],
        ["Trichloroethene", "0", "0", "1", "1", "1", "0", "1", "0", "2", "1", "1"],
        ["Benzene", "0", "0", "1", "1", "0", "1", "1", "1", "1", "0", "2"],
    ]
    for row in rows:
        higher, lower = int(row[-4]), int(row[-3])
        assert float(row[-1]) == pytest.approx(binomtest(higher, higher + lower).pvalue, rel=0.05)


def test_what_the_samplers_met_stands_side_by_side() -> None:
    """Exposure, depth, surface, moisture and the rain between placing and retrieval of each point compared."""
    shown = table(page(CHANGES).blocks, "changes-conditions-1")
    assert texts(shown) == [
        ["A", "10.0", "14.0", "× 1.4", "1 m", "1 m", "soil", "soil", "moist", "wet", "7.5", "14.0"],
        ["B", "10.0", "10.0 [exposure]", "× 1.0", "1 m", "1 m", "asphalt", "asphalt", "moist", "–", "7.5", "10.0"],
        ["C", "10.0", "14.0", "× 1.4", "1 m", "1 m", "soil", "soil", "dry", "wet", "7.5", "14.0"],
        ["E2", "10.0", "14.0", "× 1.4", "1 m", "1 m", "soil", "soil", "moist", "wet", "7.5", "14.0"],
    ]


def test_what_was_matched_by_position_and_what_was_not_compared_is_named() -> None:
    """E1 and E2 lie a metre apart; D and G have no partner; benzene at C is rejected."""
    blocks = page(CHANGES).blocks
    matched = table(blocks, "changes-positions-1")
    assert texts(matched) == [["E2", "E1", "same position", "1.00", "yes"]]
    assert matched.rows[0][1].ref == Ref("page", "round-1", "E1")
    assert texts(table(blocks, "changes-apart-1")) == [
        ["D", "all compounds", "sampled only in Spring round"],
        ["G", "all compounds", "sampled only in Autumn round"],
        ["C", "Benzene", "a result is rejected"],
    ]


def test_nothing_to_tell_apart_is_said_with_its_number() -> None:
    """Where every result was compared the table says of how many, and names the points without a partner alone."""
    made = report(REJECTED_FALLS)
    rows = texts(table(page(CHANGES, made).blocks, "changes-apart-1"))
    assert [row[0] for row in rows] == ["D", "G"]
    assert "11 results" not in str(section(page(CHANGES, made).blocks, "since-1").blocks[0])
    assert "Of 12 results (one compound at one point each), 12 can be compared between the rounds." in (
        str(section(page(CHANGES, made).blocks, "since-1").blocks[0]).replace("\\\\", "")
    )


def test_how_a_change_is_judged_and_what_it_does_not_say_is_told() -> None:
    """The factor, its source, the pairs it would need; and that unequal exposures compare poorly."""
    blocks = page(CHANGES).blocks
    (judged,) = section(blocks, "judged-1").blocks
    assert isinstance(judged, Prose)
    words = judged.markdown.replace("\\", "")
    assert "more than 3.0 times the earlier one" in words
    assert "(source: project default, no published source)" in words
    assert "2 duplicate pairs with a compound detected in both are on record" in words
    assert "29 pairs would be required" in words  # 0.9^29 < 0.05 <= 0.9^28
    assert 0.9**29 < 0.05 <= 0.9**28
    assert isinstance(blocks[0], Callout)
    for word in ("exposure", "moisture", "temperature", "surface"):
        assert word in blocks[0].markdown


def test_the_data_file_has_every_pair_of_results() -> None:
    """round_changes.csv has the twelve pairs under keys of their own, a non-detect without a value or a factor."""
    export = next(one for one in report().exports if one.name == "round_changes")
    names = [field.name for field in export.fields]
    rows = [dict(zip(names, row, strict=True)) for row in export.rows]
    assert len({tuple(row[key] for key in export.key) for row in rows}) == len(rows) == 12
    at = {(row["location_id"], row["analyte_id"]): row for row in rows}
    assert at["A", "pce"]["factor"] == pytest.approx(4)
    assert at["E2", "pce"]["earlier_location_id"] == "E1"
    assert at["E2", "pce"]["distance"] == pytest.approx(1, abs=1e-6)
    assert at["C", "benzene"]["reason"] == "rejected"
    assert [at["B", "tce"][name] for name in ("before_value", "after_value", "after_rl", "kind", "factor")] == [
        25, None, 10, "vanished", None,
    ]  # fmt: skip
    assert at["B", "pce"]["after_shown"] == "8 J"
    assert at["B", "pce"]["after_marks"] == "exposure; custody; trip blank"
    for row in rows:
        assert (row["factor"] is None) or (row["before_detected"] and row["after_detected"])


def test_the_results_of_every_round_are_handed_out() -> None:
    """results.csv has each row of the laboratory's file once, with its round, under keys of its own."""
    export = next(one for one in report().exports if one.name == "results")
    keys = [tuple(row[export.at(name)] for name in export.key) for row in export.rows]
    assert export.key == ("round", "lab_sample_id", "analyte_id")
    rows = list(csv.DictReader(io.StringIO(FILES["lab/results.csv"])))
    assert [key[1:] for key in keys] == [(row["lab_sample_id"], row["analyte_id"]) for row in rows]
    assert {key[0] for key in keys if key[1] < "L-200"} == {"R1"}
    assert {key[0] for key in keys if key[1] > "L-200"} == {"R2"}


def test_a_table_without_room_keeps_to_the_mapped_compounds_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of nine rows three are of benzene, which has no map: they are left out, counted, and in the data file."""
    monkeypatch.setattr("sitegen.report.rounds.told.MOST_ROWS", 8)
    one = context()
    (earlier,) = earlier_rounds(one)
    (shown,) = masses_tables(one, earlier)
    assert {row[1] for row in texts(shown)} == {"Tetrachloroethene", "Trichloroethene"}
    assert shown.note.startswith("3 rows of compounds without a map are omitted here")


def test_every_kind_and_reason_of_the_comparison_has_words() -> None:
    """What the comparison may say of a result has words here, and no code is printed."""
    words = lexicon("rounds")
    assert set(words["reasons"]) == set(REASONS)
    assert set(words["kinds"]) == set(words["heads"]) == set(KINDS)
    assert set(words["below"]) == {"appeared", "vanished"}
