"""The trend over rounds: what it says of three rounds and of four, and that of two it says nothing."""

from __future__ import annotations

import csv
import io
from functools import cache
from itertools import combinations, permutations

import pytest
from hand_rounds import FILES, context, folder, page, report, section, table, texts, texts_with
from scipy.stats import kendalltau

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.report.record.pages import Block, Prose, Ref, Report, Section
from sitegen.report.trace.printed import tables_in

CHANGES = Ref("page", "round-changes")
KIND = 'title = "One more point"\nkind = "supplement"\nof = "R2"\naddendum = "Addendum 1 (invented)"'
THIRD = (("project.toml", KIND, 'title = "Third round"'), ("field/deployments.csv", "301,G,", "301,A,"))
FOURTH = {
    "project.toml": '\n[[rounds]]\nid = "R4"\ntitle = "Fourth round"\n',
    "field/samplers.csv": "401,A-4,sample,T1,used\n",
    "field/deployments.csv": "401,A,,R4,2026-01-05T09:00,2026-01-15T09:00,1.0,wet,intact,RB-4,FS-1,FS-1\n",
    "field/return_bags.csv": "RB-4,,2026-01-15T12:00,1\n",
    "lab/lab_samples.csv": "L-401,401,sample,2026-01-16T09:00,2026-01-20T09:00,B4,M-2 (invented),yes\n",
    "lab/results.csv": "L-401,pce,12,12,ng,10,2,,,,yes\nL-401,tce,<10,,ng,10,2,U,,,no\n"
    "L-401,benzene,90,90,ng,10,2,,,,yes\n",
}
RUNS = ("L-101", "L-201", "L-301", "L-401")


@cache
def four() -> Report:
    """Return the report of four rounds: the supplement as a third one at A, and one more after it."""
    given = {path: text + FOURTH.get(path, "") for path, text in texts_with(*THIRD).items()}
    given["project.toml"] = given["project.toml"].replace("2026-01-15", "2026-02-15")
    return compose(check_snapshot(folder(given)))[1]


def trend(made: Report) -> Section:
    return section(page(CHANGES, made).blocks, "trend")


def said(blocks: tuple[Block, ...]) -> str:
    words = next(one for one in blocks if isinstance(one, Prose)).markdown
    return " ".join(words.replace("\\", "").split())


def test_two_rounds_have_no_trend_and_no_word_of_one() -> None:
    """Neither the page nor the chapter of print speaks of a trend, and no table of one is there."""
    assert not context().trends.compounds
    chapters = [one for one in report().chapters if one.id.startswith("rounds")]
    for blocks in (page(CHANGES).blocks, *(one.blocks for one in chapters)):
        assert not [one for one in blocks if isinstance(one, Section) and one.id.startswith("trend")]
        assert "trend" not in str(blocks).lower()


def test_three_rounds_say_what_p_they_can_never_give() -> None:
    """2 / 3! = 0.33, which is above 0.05: no trend can be told; three compounds have results in all three, at A."""
    words = said(trend(report(*THIRD)).blocks)
    begin = "3 rounds with results are on record; 3 compounds have comparable results in 3 or more of them"
    assert words.startswith(begin)
    assert "With 3 rounds p cannot be below 0.33, irrespective of the number of points: " in words
    assert "a trend cannot be distinguished from chance at p ≤ 0.05" in words
    assert "Many compounds are tested" not in words


def test_the_sums_are_those_a_person_counts() -> None:
    """At A over three rounds: pce 100, 400, 15: +1, −1, −1. tce <10, 30, <10: +1 and −1, a tie. Benzene 50, 60, <10.

    p is the share of the 6 orders with |S| as large: of three results all different each order has |S| 1 (4 of 6) or
    3 (2 of 6), so 1 for S = −1; of S = 0 it is 1.
    """
    shown = table(trend(report(*THIRD)).blocks, "trend-compounds")
    # tau-b of S = −1 over 3 pairs, all ordered: −1/3; of tce 0
    assert texts(shown) == [
        ["Tetrachloroethene", "1", "3", "3", "−1", "−0.33", "1.0"],
        ["Trichloroethene", "1", "3", "2", "0", "0.00", "1.0"],
        ["Benzene", "1", "3", "3", "−1", "−0.33", "1.0"],
    ]
    assert "trend-points" not in {one.id for one in tables_in(page(CHANGES, report(*THIRD)).blocks)}


def test_print_has_the_same_words_and_numbers() -> None:
    """The chapter on rounds holds the paragraph and the table of the page."""
    made = report(*THIRD)
    (chapter,) = [one for one in made.chapters if "trend-compounds" in {t.id for t in tables_in(one.blocks)}]
    assert texts(table(chapter.blocks, "trend-compounds")) == texts(table(trend(made).blocks, "trend-compounds"))
    assert said(section(chapter.blocks, "trend").blocks) == said(trend(made).blocks)


def results_at_a(compound: str) -> list[tuple[float, bool]]:
    """Return what each of the four rounds has of a compound at A: a value or a limit, and whether it was detected."""
    rows = csv.DictReader(io.StringIO(FILES["lab/results.csv"] + FOURTH["lab/results.csv"]))
    at = {row["lab_sample_id"]: row for row in rows if row["analyte_id"] == compound}
    return [(float(at[run]["value"] or at[run]["rl"]), at[run]["detected"] == "yes") for run in RUNS]


@pytest.mark.parametrize(("number", "compound"), [(0, "pce"), (2, "benzene")])
def test_four_rounds_tell_of_each_point_as_scipy_does(number: int, compound: str) -> None:
    """tau-b at A is that of scipy (exact without ties); p is the share of the 24 orders, counted one by one."""
    shown = texts(table(trend(four()).blocks, "trend-points"))
    assert [row[0] for row in shown] == ["A"] * 3
    known = results_at_a(compound)
    ranks = [value if detected else value - 5 for value, detected in known]  # the one non-detect lies below all
    found = kendalltau(range(4), ranks, method="exact")
    assert shown[number][2:5] == ["4", "6", "6"]
    assert float(shown[number][6].replace("−", "-")) == pytest.approx(found.statistic, abs=0.005)
    sums = [sum(1 if b > a else -1 for a, b in combinations(order, 2)) for order in permutations(ranks)]
    own = sum(1 if b > a else -1 for a, b in combinations(ranks, 2))
    assert float(shown[number][7]) == pytest.approx(sum(abs(s) >= abs(own) for s in sums) / 24, rel=0.05)
    assert "1 in 12 series without ties" in table(trend(four()).blocks, "trend-points").note
    words = said(trend(four()).blocks)
    assert "With 4 rounds p cannot be below 0.083, irrespective of the number of points: a trend cannot be" in words
