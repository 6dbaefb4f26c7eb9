"""A reporting limit that is missing decides nothing in silence: no pair agrees for want of it, no number is lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from math import isnan, nan

import builders
import pytest

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality import air
from sitegen.compute.quality.blanks import blank_rule, propose
from sitegen.compute.quality.duplicates import (
    AGREES,
    DIFFERENCE,
    DIFFERS,
    NO_LIMIT,
    NOT_CALCULABLE,
    ONE_DETECTED,
    RPD,
    RPD_NO_LIMIT,
    compare,
)
from sitegen.compute.results import concentration, screening
from sitegen.compute.results.concentration import Concentration, UptakeRate
from sitegen.compute.results.store import StoredResult
from sitegen.compute.text.tokens import tokens
from sitegen.report.assemble import assemble, draft
from sitegen.report.record.pages import Block, Figure, Report, Section
from sitegen.report.trace.printed import tables_in

IN_FORCE = {limit.name: limit for limit in DEFAULTS}


@pytest.mark.parametrize(
    ("a", "b", "rl", "measure", "figure", "verdict"),
    [
        (100.0, 500.0, nan, RPD_NO_LIMIT, 200 * 400 / 600, DIFFERS),
        (100.0, 110.0, nan, RPD_NO_LIMIT, 200 * 10 / 210, AGREES),
        (500.0, None, nan, NO_LIMIT, None, NOT_CALCULABLE),
        (None, 500.0, nan, NO_LIMIT, None, NOT_CALCULABLE),
        (None, None, nan, "", None, NOT_CALCULABLE),
        (100.0, 500.0, 10.0, RPD, 200 * 400 / 600, DIFFERS),
        (20.0, 45.0, 10.0, DIFFERENCE, 25.0, DIFFERS),
        (None, 15.0, 10.0, ONE_DETECTED, 15.0, AGREES),
    ],
)
def test_a_pair_without_a_limit_is_compared_by_rpd_or_not_at_all(
    a: float | None, b: float | None, rl: float, measure: str, figure: float | None, verdict: str
) -> None:
    """100 and 500 differ by 133 % with a limit of 10 and without one; beside a non-detect nothing can be said."""
    found = compare(a, b, rl, IN_FORCE)
    assert found == (measure, pytest.approx(figure) if figure is not None else None, verdict)


@cache
def without_limits(*, nondetects: bool = True) -> Evaluation:
    """Return the example with no reporting limit beside any detection, and with its non-detects or without them."""

    def edit(rows: list[builders.Row]) -> list[builders.Row]:
        kept = [row for row in rows if nondetects or row["detected"] == "yes"]
        return [row | {"rl": "" if row["detected"] == "yes" else row["rl"]} for row in kept]

    return evaluate(builders.load(builders.changed(builders.table("lab/results.csv", edit))))


def test_no_pair_of_the_example_agrees_for_want_of_a_limit() -> None:
    """PCE at SG-42, 1,650 beside 4,140 (RPD 86 %), differs with both limits blank; so do TCE and cis-1,2-DCE there."""
    results = [(pair.location_id, one) for pair in without_limits().pairs for one in pair.results]
    assert {one.measure for _, one in results} == {RPD_NO_LIMIT, NO_LIMIT, ""}
    assert [(at, one.analyte_id) for at, one in results if one.verdict == DIFFERS] == [
        ("SG-42", "pce"), ("SG-42", "tce"), ("SG-42", "cis12dce"),
    ]  # fmt: skip


@pytest.mark.parametrize("sample", ["04417-043", "04417-044"])
def test_a_limit_that_is_missing_on_one_side_is_missing(sample: str) -> None:
    """Whichever of the two has no limit, the pair is told apart by its RPD, and the limit is told."""
    change = builders.cell("lab/results.csv", f"{sample}+pce", "rl", "")
    (pair,) = (p for p in evaluate(builders.load(builders.changed(change))).pairs if p.location_id == "SG-42")
    first = pair.results[0]
    assert (first.analyte_id, first.measure, first.verdict) == ("pce", RPD_NO_LIMIT, DIFFERS)
    assert first.figure == pytest.approx(200 * 2490 / 5790)


def test_a_detection_without_a_limit_has_a_concentration_and_nothing_reads_below_for_want_of_one() -> None:
    """40 ng over 10,000 min at 0.5 mL/min are 8 µg/m³; an unknown limit is never at or below a level."""
    rates = {("T", "pce", "indoor_air"): UptakeRate("T", "pce", "indoor_air", 0.5, "source")}
    whose = {"lab_sample_id": "L", "analyte_id": "pce", "medium": "indoor_air", "sampler_type": "T"}
    row = builders.row_of(StoredResult, **whose, unit="ng", value=40.0, rl=nan, detected=True)
    made = concentration.concentration(row, 10_000.0, rates)
    assert made is not None
    assert made.ug_m3 == pytest.approx(8.0)
    assert isnan(made.rl_ug_m3)
    unseen = Concentration("M", "pce", "indoor_air", nan, nan, detected=False, rate=None)
    level = screening.Level("set", "pce", "indoor_air", "", 9.0, "source", "")
    assert screening.compare(made, level, 10.0).answer == screening.AT_OR_BELOW
    assert screening.compare(unseen, level, 10.0).answer == screening.CANNOT_TELL
    assert air.answer(made, unseen, 30.0) == (air.CANNOT_TELL, None)


def test_a_blank_rule_without_a_limit_still_reaches_a_detection() -> None:
    """With no limit on file 30 beside a blank of 6 is J+, 31 is left, and a non-detect has no limit to be shown at."""
    rule = blank_rule("five_times_estimate", IN_FORCE)
    assert [propose(rule, value, nan, 6.0).qualifier for value in (30.0, 31.0)] == ["J+", ""]
    assert propose(rule, None, nan, 6.0).limit is None


def test_points_that_are_low_stay_low_without_limits() -> None:
    """Neighbours without a limit are judged by the compound's highest on file: SG-10 alone drops out."""
    assert [low.location_id for low in without_limits().local_lows] == ["SG-29", "SG-37"]


@pytest.mark.parametrize("nondetects", [True, False])
def test_no_page_prints_a_limit_that_is_not_a_number(nondetects: bool) -> None:
    """A missing limit is a dash or is left out, in every sentence, cell and token."""
    ev = without_limits(nondetects=nondetects)
    facts = tokens(ev.survey, ev)
    report: Report = assemble(draft(ev.survey, ev, ()))
    said = [page.lead for page in report.pages] + list(facts.values())
    said += [text for page in report.pages for t in tables_in(page.blocks) for text in (t.caption, t.note)]
    said += [c.text for page in report.pages for t in tables_in(page.blocks) for row in t.rows for c in row]
    said += [f.description for page in report.pages for f in figures_in(page.blocks)]
    assert len(said) > 3000
    assert [text for text in said if re.search(r"\bnan\b", text, re.IGNORECASE)] == []


def figures_in(blocks: tuple[Block, ...]) -> Iterator[Figure]:
    for block in blocks:
        if isinstance(block, Figure):
            yield block
        elif isinstance(block, Section):
            yield from figures_in(block.blocks)
