"""Which points came with a supplement, and how long after its round."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builders import example, load
from rounds_survey import NEW, edited, read, table, two_rounds

from sitegen.compute.rounds.campaigns import Campaign, Supplement
from sitegen.compute.rounds.split import parts
from sitegen.compute.rounds.supplements import Supplemented, supplemented
from sitegen.report.results.mapdata import later_words

DEPLOYMENTS = "field/deployments.csv"


def test_the_points_of_a_supplement_are_those_that_its_samplers_stand_for() -> None:
    """Their days are 35 after those that they were made of; no point of the round is among them."""
    last = parts(load(two_rounds()))[-1]
    found = supplemented(last.evaluation, last.campaign)
    assert list(found) == list(NEW)
    (one,) = set(found.values())
    assert one == Supplemented("S1", "Six more points", one.days_later)
    assert one.days_later == pytest.approx(35, abs=1)


def test_a_round_without_a_supplement_has_no_such_point() -> None:
    """The first round names none, and a supplement that nothing was placed for has no point."""
    first, last = parts(load(two_rounds()))
    assert supplemented(first.evaluation, first.campaign) == {}
    other = replace(last.campaign, supplements=(Supplement("S9", "Never placed"),))
    assert supplemented(last.evaluation, other) == {}
    (alone,) = parts(load(example()))
    assert supplemented(alone.evaluation, Campaign()) == {}


def test_no_time_is_told_where_the_round_has_none_of_its_own() -> None:
    """A campaign whose every sampler came with the supplement has nothing to count from."""

    def change(content: bytes) -> bytes:
        del content
        rows = read(two_rounds(), DEPLOYMENTS)
        return table(row | {"round": "S1"} if row["round"] == "R2" else row for row in rows)

    last = parts(load(edited(DEPLOYMENTS, change)))[-1]
    assert {one.days_later for one in supplemented(last.evaluation, last.campaign).values()} == {None}


@pytest.mark.parametrize(
    ("days", "words"),
    [(35.0, "5 weeks"), (14.0, "2 weeks"), (13.4, "13 days"), (1.0, "1 day"), (0.5, ""), (-3.0, ""), (None, "")],
)
def test_time_is_told_in_weeks_from_two_on(days: float | None, words: str) -> None:
    """A supplement that was placed on the day of its round, or before it, is not said to be later."""
    assert later_words(days) == words
