"""What must not change a statistic does not: order, scale, units, the clock, lower limits."""

from __future__ import annotations

from random import Random
from typing import Any

import builders
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.results.relations import mean_chlorine, percent_shares
from sitegen.compute.statistics.censored import kaplan_meier, lowest, mean, percentile
from sitegen.compute.statistics.fits import lognormal_fit, order_fit, plotting_positions
from sitegen.compute.statistics.intervals import DEMANDS, TOO_FEW, TOO_MANY_NONDETECTS, means, share_interval
from sitegen.compute.statistics.rank import orders, tau_b

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
SHARES = (0.1, 0.25, 0.5, 0.75, 0.9, 0.95)

one = st.tuples(st.integers(1, 400), st.booleans())
samples = st.lists(one, min_size=4, max_size=40)


def arrays(items: list[tuple[int, bool]], two: bool = False) -> tuple[Floats, Flags]:
    """Return values and detections; with ``two``, only samples with two different detections."""
    values = np.array([float(value) for value, _ in items])
    detected = np.array([seen for _, seen in items])
    assume(len(np.unique(values[detected])) >= (2 if two else 1))
    return values, detected


@given(samples, st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_no_estimate(items: list[tuple[int, bool]], shuffler: Random) -> None:
    """Shuffled rows give the same steps, percentiles and means."""
    values, detected = arrays(items, two=True)
    order = list(range(len(items)))
    shuffler.shuffle(order)
    first, second = kaplan_meier(values, detected), kaplan_meier(values[order], detected[order])
    assert first.cumulative.tolist() == second.cumulative.tolist()
    assert first.below == second.below
    a, b = order_fit(values, detected), order_fit(values[order], detected[order])
    assert a.mean == pytest.approx(b.mean, rel=1e-12)
    assert a.sd_log == pytest.approx(b.sd_log, rel=1e-9, abs=1e-12)


@given(samples, st.sampled_from((0.001, 0.5, 3.0, 1000.0)))
def test_another_unit_scales_every_mean_and_percentile(items: list[tuple[int, bool]], factor: float) -> None:
    """µg for ng: positions stay, values scale."""
    values, detected = arrays(items, two=True)
    step, scaled = kaplan_meier(values, detected), kaplan_meier(values * factor, detected)
    assert step.cumulative.tolist() == scaled.cumulative.tolist()
    for share in SHARES:
        before, after = percentile(step, share), percentile(scaled, share)
        assert (before is None) == (after is None)
        assert before is None or after == pytest.approx(before * factor)
    tail = lowest(values)
    assert mean(scaled, tail * factor) == pytest.approx(mean(step, tail) * factor)
    assert order_fit(values * factor, detected).mean == pytest.approx(order_fit(values, detected).mean * factor)


@settings(max_examples=25)
@given(samples, st.sampled_from((0.001, 3.0, 1000.0)))
def test_another_unit_moves_a_lognormal_law_and_keeps_its_spread(items: list[tuple[int, bool]], factor: float) -> None:
    """The law's mean of logs moves by the log of the factor."""
    values, detected = arrays(items, two=True)
    assume(detected.mean() > 0.3)
    first, second = lognormal_fit(values, detected), lognormal_fit(values * factor, detected)
    assert second.mean_log == pytest.approx(first.mean_log + np.log(factor), abs=1e-5)
    assert second.sd_log == pytest.approx(first.sd_log, rel=1e-5)


@given(samples, st.data())
def test_a_lowered_limit_changes_no_percentile_at_or_above_it(
    items: list[tuple[int, bool]], data: st.DataObject
) -> None:
    """A laboratory that sees deeper says nothing new of what lies above the old limit."""
    values, detected = arrays(items)
    assume(not detected.all())
    at = data.draw(st.sampled_from(np.flatnonzero(~detected).tolist()))
    lowered = values.copy()
    lowered[at] = data.draw(st.floats(0.01, 1.0)) * values[at]
    before, after = kaplan_meier(values, detected), kaplan_meier(lowered, detected)
    above = before.values >= values[at]
    assert before.cumulative[above].tolist() == after.cumulative[above].tolist()
    for share in SHARES:
        found = percentile(before, share)
        if found is not None and found >= values[at]:
            assert percentile(after, share) == found


@given(samples)
def test_steps_rise_to_one_and_shares_add_up(items: list[tuple[int, bool]]) -> None:
    """The estimate is a distribution, and positions lie within (0, 1)."""
    values, detected = arrays(items)
    step = kaplan_meier(values, detected)
    assert step.cumulative[-1] == 1.0
    assert (np.diff(np.concatenate(([step.below], step.cumulative))) > 0).all()
    positions = plotting_positions(values, detected)
    assert ((positions > 0) & (positions < 1)).all()
    hits = np.argsort(values[detected], kind="stable")
    assert (np.diff(positions[detected][hits]) > 0).all()


@given(st.integers(1, 300), st.data())
def test_an_interval_holds_its_share_and_mirrors(of: int, data: st.DataObject) -> None:
    """The interval of detections is that of non-detects turned round."""
    found = data.draw(st.integers(0, of))
    interval, mirror = share_interval(found, of), share_interval(of - found, of)
    assert interval.low <= found / of <= interval.high
    assert interval.low == pytest.approx(1 - mirror.high, abs=1e-9)


@given(st.lists(st.tuples(one, one), min_size=3, max_size=25))
def test_tau_knows_nothing_of_units_and_of_which_comes_first(pairs: list[tuple[tuple[int, bool], ...]]) -> None:
    """Any rising change of scale, and the order of the two compounds, leave tau-b alone."""
    sides = [arrays([pair[at] for pair in pairs]) for at in (0, 1)]
    first, second = (orders(values, seen) for values, seen in sides)
    tau = tau_b(first, second)
    assume(not np.isnan(tau))
    assert -1 - 1e-12 <= tau <= 1 + 1e-12
    assert tau_b(second, first) == tau
    assert tau_b(orders(np.log(sides[0][0]), sides[0][1]), orders(sides[1][0] * 1000, sides[1][1])) == tau
    assert tau_b(first, first) == pytest.approx(1.0)


@given(st.lists(st.floats(0.001, 1e6), min_size=2, max_size=6), st.floats(0.001, 1000))
def test_shares_add_up_and_know_nothing_of_units(amounts: list[float], factor: float) -> None:
    """Shares are of 100, and the same in µg."""
    shares = percent_shares(amounts)
    assert shares is not None
    assert sum(shares) == pytest.approx(100.0)
    assert percent_shares([a * factor for a in amounts]) == pytest.approx(shares)
    number = mean_chlorine(amounts[:2], (4, 1))
    assert number is not None
    assert 1 <= number <= 4 + 1e-12


def test_means_are_refused_as_their_sources_ask() -> None:
    """One result fewer, or one non-detect more, than a source allows gives its refusal."""
    for demand in DEMANDS:
        at = DEMANDS.index(demand)
        few = np.arange(1.0, demand.least_results)
        assert means(few, np.ones(len(few), dtype=bool))[at].refusal == TOO_FEW
        values = np.arange(1.0, 101.0)
        seen = values > demand.most_nondetect_pct
        assert means(values, seen)[at].value is not None
        assert means(values, values > demand.most_nondetect_pct + 1)[at].refusal == TOO_MANY_NONDETECTS


# --- the same on a whole survey ------------------------------------------------------------

PROJECT, RESULTS = "project.toml", "lab/results.csv"


def evaluated(*changes: builders.Change) -> Evaluation:
    return evaluate(builders.load(builders.changed(*changes)))


def plain(ev: Evaluation) -> dict[str, Any]:
    """Return every statistic of masses."""
    return {
        "summaries": ev.summaries,
        "related": ev.related,
        "sums": ev.sums,
        "soil_sum": ev.soil_sum,
        "local_lows": ev.local_lows,
        "touched": {(hit.lab_sample_id, hit.analyte_id): set(hit.touched) for hit in ev.blank_hits},
        "pairs": [
            (p.location_id, {(r.analyte_id, r.measure, r.figure, r.verdict) for r in p.results}) for p in ev.pairs
        ],
        "concentrations": ev.concentrations,
        "answers": {(c.concentration.lab_sample_id, c.level): (c.answer, c.ratio) for c in ev.comparisons},
    }


@pytest.fixture(scope="module")
def before() -> Evaluation:
    return evaluated()


def test_the_order_of_rows_in_the_file_changes_no_statistic(before: Evaluation) -> None:
    """results.csv upside down gives the same numbers."""
    after = evaluated(builders.table(RESULTS, lambda rows: rows[::-1]))
    assert plain(after) == plain(before)


def scaled(rows: list[builders.Row]) -> list[builders.Row]:
    """Double every mass and limit; doubling is exact."""
    for row in rows:
        for name in ("value", "rl", "mdl", "calibration_top"):
            if row.get(name) not in (None, "", "NA"):
                row[name] = repr(2 * float(row[name]))
    return rows


def shares_of(ev: Evaluation) -> list[tuple[object, ...]]:
    """Return all shares of a survey, whatever the amounts behind them."""
    families = (ev.related.ethenes, ev.related.fuels)
    return [(m.location_id, m.shares, m.detected, m.chlorine, m.cis) for family in families for m in family.makeups]


def test_doubled_masses_double_masses_and_nothing_else(before: Evaluation) -> None:
    """Counts, shares, correlations and what stands out stay; masses and concentrations double."""
    after = evaluated(builders.table(RESULTS, scaled))
    for key, made in after.summaries.items():
        old = before.summaries[key]
        assert (made.analysed, made.detected, made.unblanked, made.highest_at) == (
            old.analysed, old.detected, old.unblanked, old.highest_at,
        )  # fmt: skip
        assert made.frequency == old.frequency
        assert [p.value for p in made.percentiles] == [p.value and 2 * p.value for p in old.percentiles]
    assert (after.related.flows, after.related.correlations) == (before.related.flows, before.related.correlations)
    assert shares_of(after) == shares_of(before)
    assert after.soil_sum.mass_ng == pytest.approx(2 * before.soil_sum.mass_ng)
    assert [(x.location_id, len(x.compounds)) for x in after.local_lows] == [
        (x.location_id, len(x.compounds)) for x in before.local_lows
    ]
    for key, found in after.concentrations.items():
        assert found.ug_m3 == pytest.approx(2 * before.concentrations[key].ug_m3)


def test_another_time_zone_moves_exposures_by_the_clock_change_alone(before: Evaluation) -> None:
    """Statistics of mass stay; a concentration follows the minutes of its exposure."""

    def elsewhere(content: bytes) -> bytes:
        return content.replace(b'time_zone = "America/Chicago"', b'time_zone = "Asia/Tokyo"')

    after = evaluated(builders.Change(PROJECT, elsewhere))
    for name in ("summaries", "related", "sums", "soil_sum", "pairs", "touched"):
        assert plain(after)[name] == plain(before)[name]
    minutes = {p.sampler_id: p.exposure_min for p in before.placements}
    moved = {p.sampler_id: p.exposure_min for p in after.placements}
    differences = {a - b for s, a in minutes.items() if a is not None and (b := moved[s]) is not None}
    assert 60 in differences <= {0, 60}
    sampler = dict(zip(before.primary["lab_sample_id"], before.primary["sampler_id"], strict=True))
    assert before.concentrations
    for key, found in before.concentrations.items():
        name = sampler[key[0]]
        there = after.concentrations[key].ug_m3 * (moved[name] or 0)
        assert found.ug_m3 * (minutes[name] or 0) == pytest.approx(there)
