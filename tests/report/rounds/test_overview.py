"""The rounds side by side: every figure of a small survey, worked out by a person from its record."""

from __future__ import annotations

import pytest
from builders import example
from hand_rounds import context, folder, page, report, table, texts, without_second

from sitegen.checking import check_snapshot
from sitegen.compute.rounds.overview import own_part, round_figures, together
from sitegen.pipeline import compose
from sitegen.report.record.pages import Page, Ref, Report
from sitegen.report.trace.printed import tables_in

OVERVIEW = Ref("page", "rounds")

# Spring | Autumn | supplement | Autumn with it | together. Exposures in whole days: six of 10 or 12, five of 10 or 14.
# D, B and G lie more than 10 % off the median of their round (10, 14 and 14 days) and so bear a mark: not usable.
# A counts once together, E1 and E2 are two ids: A, B, C, D, E1, E2 and G are seven. 13 May to 1 October are
# 18 + 30 + 31 + 31 + 30 + 1 = 141 days, 15 October to 5 November 21.
EXPECTED = {
    "Samplers installed": ["1 May 2025", "1 October 2025", "5 November 2025", "1 October 2025 to 5 November 2025",
                        "1 May 2025 to 5 November 2025"],
    "Samplers retrieved": ["11 May 2025 to 13 May 2025", "11 October 2025 to 15 October 2025", "15 November 2025",
                           "11 October 2025 to 15 November 2025", "11 May 2025 to 15 November 2025"],
    "Points planned or added": ["5", "4", "1", "5", "7"],
    "Points with a sampler installed": ["5", "4", "1", "5", "7"],
    "Points with the sampler recovered": ["5", "4", "1", "5", "7"],
    "Points with results": ["5", "4", "1", "5", "7"],
    "Points usable without qualification": ["4", "3", "0", "3", "5"],
    "Exposure": ["10.0 to 12.0 days, median 10.0 (6 samplers)", "10.0 to 14.0 days, median 14.0 (5 samplers)",
                 "10.0 days, median 10.0 (1 sampler)", "10.0 to 14.0 days, median 14.0 (6 samplers)",
                 "10.0 to 14.0 days, median 10.0 (12 samplers)"],
    "Field duplicates": ["1 pair with results, for 5 primaries with results",
                         "1 pair with results, for 4 primaries with results",
                         "no pair with results is on record, for 1 primary with results",
                         "1 pair with results, for 5 primaries with results",
                         "2 pairs with results, for 10 primaries with results"],
    "Blanks with results": ["trip blank: 1, none with a detection", "trip blank: 1, 1 with a detection", "no record",
                            "trip blank: 1, 1 with a detection", "trip blank: 2, 1 with a detection"],
    "Seal-number discrepancies": ["no record"] * 5,
    "Rainfall during exposure": ["7.5 mm", "14.0 mm", "no record", "–", "–"],
    "Air temperature during exposure": ["12 to 15 °C", "6 to 9 °C", "no record", "6 to 9 °C", "6 to 15 °C"],
    "Analysis batches": ["1: B1", "1: B2", "1: B3", "2: B2, B3", "3: B1, B2, B3"],
    "Methods": ["M-1 (invented)", "M-2 (invented)", "M-2 (invented)", "M-2 (invented)",
                "M-1 (invented); M-2 (invented)"],
    "Reporting limits at soil points": ["10 ng per sampler"] * 5,
}  # fmt: skip


def test_every_figure_of_the_overview_is_what_a_person_works_out() -> None:
    """The rounds, the supplement, the round with it and all together have the figures of the record."""
    shown = table(page(OVERVIEW).blocks, "rounds")
    assert [column.title for column in shown.columns[1:]] == [
        "Spring round", "Autumn round", "One more point", "Autumn round with its supplement", "Combined",
    ]  # fmt: skip
    rows = {row[0]: row[1:] for row in texts(shown)}
    assert {name: rows[name] for name in EXPECTED} == EXPECTED


def test_the_time_between_rounds_is_told_in_days_and_weeks() -> None:
    """141 days lie between the rounds, 21 days, which are 3 weeks, between a round and its supplement."""
    rows = {row[0]: row[1:] for row in texts(table(page(OVERVIEW).blocks, "rounds"))}
    told = rows["Since the preceding round"]
    assert told[1].startswith("141.0 days (20.1 weeks)")
    assert told[2].startswith("21.0 days (3.0 weeks)")
    assert [told[at] for at in (0, 3, 4)] == ["–"] * 3


def test_custody_without_a_hand_over_on_record_is_not_called_whole() -> None:
    """Of the supplement no hand-over is on record, and the cell says so; no round is told to have no gap."""
    rows = {row[0]: row[1:] for row in texts(table(page(OVERVIEW).blocks, "rounds"))}
    assert "no custody transfer is on record" in rows["Custody gaps"][2]
    assert "for 7 samplers" in rows["Custody gaps"][0]  # six placed, and the trip blank in their bag
    assert "for 6 samplers" in rows["Custody gaps"][1]
    assert not [cell for cell in rows["Custody gaps"] if cell.startswith("none")]


def test_parts_of_a_round_add_up_to_it() -> None:
    """What is counted of a round alone and of its supplement is what is counted of both."""
    one = context()
    parts = together([round_figures(one.evaluation, own_part(one.survey, name)) for name in ("R2", "S2")])
    whole = round_figures(one.evaluation)
    for name in ("points", "exposures_min", "pairs", "primaries", "blanks", "handed", "gaps", "batches", "reporting"):
        assert getattr(parts, name) == getattr(whole, name), name


def test_the_data_file_has_the_same_figures_as_numbers() -> None:
    """rounds.csv has a row for each round, the supplement, and the round with it, each under a key of its own."""
    export = next(one for one in report().exports if one.name == "rounds")
    rows = [dict(zip((field.name for field in export.fields), row, strict=True)) for row in export.rows]
    named = [(row["round"], row["part"], row["kind"]) for row in rows]
    assert named == [("R1", "", "round"), ("R2", "", "round"), ("R2", "S2", "supplement"), ("R2", "", "together")]
    figures = ("points_usable", "exposure_median", "duplicate_pairs", "trip_blanks", "trip_blanks_detected", "rain")
    assert [rows[0][name] for name in figures] == [4, 10, 1, 1, 0, 7.5]
    assert [rows[1][name] for name in figures] == [3, 14, 1, 1, 1, 14]
    assert [rows[2][name] for name in figures] == [0, 10, 0, 0, 0, None]
    assert [row["gap_days"] for row in rows] == [None, 141, 21, None]


@pytest.fixture(scope="module")
def one_round() -> Report:
    """Return the report of the example, which has one round."""
    return compose(check_snapshot(example()))[1]


def over_rounds(found: Page) -> list[str]:
    return [one.id for one in tables_in(found.blocks) if one.id.startswith(("round", "changes-"))]


def test_with_one_round_there_is_nothing_over_rounds(one_round: Report) -> None:
    """No page, chapter, table or data file tells of rounds, and results have no column of them."""
    assert not [one for one in one_round.pages if one.ref.id.startswith("round") or over_rounds(one)]
    assert not [one for one in one_round.chapters if one.id.startswith("rounds")]
    assert not {"rounds", "round_changes"} & {one.name for one in one_round.exports}
    results = next(one for one in one_round.exports if one.name == "results")
    assert "round" not in {field.name for field in results.fields}


def test_a_supplement_without_an_earlier_round_has_the_overview_alone() -> None:
    """Without a second round there is the page on rounds, and nothing that tells of change."""
    made = compose(check_snapshot(folder(without_second())))[1]
    assert not [one for one in made.pages if one.ref.id in ("round-changes", "round-1")]
    shown = table(page(OVERVIEW, made).blocks, "rounds")
    assert [column.title for column in shown.columns] == [
        "Item", "Spring round", "One more point", "Spring round with its supplement",
    ]  # fmt: skip
    assert texts(shown)[5][1:] == ["5", "1", "6"]
    assert "round" not in {field.name for field in next(e for e in made.exports if e.name == "results").fields}
