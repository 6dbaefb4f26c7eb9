"""The variance of a single sampler from duplicates: worked by hand, and what counts for it."""

from __future__ import annotations

import math

import pytest
from builders import changed, load, row_of

from sitegen.compute.evaluate import evaluate
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.duplicates import DIFFERS, Pair, PairResult
from sitegen.compute.quality.repeatability import Repeatability, repeatability
from sitegen.compute.results.store import StoredResult

LIMITS = {record.name: record for record in DEFAULTS}


def result(value: float | None, rl: float = 10.0, **other: object) -> StoredResult:
    shown = math.nan if value is None else value
    known: dict[str, object] = {"value": shown, "detected": value is not None, "rl": rl}
    return row_of(StoredResult, **({"medium": "soil_gas", "unit": "ng"} | known | other))


def pair(*results: tuple[StoredResult, StoredResult]) -> Pair:
    return Pair("P", "1", "2", tuple(PairResult("a", a, b, "rpd", 1.0, DIFFERS) for a, b in results))


def found(*pairs: Pair) -> Repeatability:
    return repeatability(pairs, LIMITS)


def test_the_variance_is_half_the_mean_square_of_the_log_ratios() -> None:
    """Ratios of 10, 100 and 1: d = 1, 2, 0; mean of d² = 5/3; of one sampler 5/6."""
    made = found(pair((result(1000), result(100))), pair((result(100), result(10_000))), pair((result(70), result(70))))
    assert made.variance_log10 == pytest.approx(5 / 6)
    assert (made.results, made.pairs) == (3, 3)
    assert made.floor == made.variance_log10


def test_results_that_say_too_little_are_left_out() -> None:
    """A non-detect, a value under 5 × RL on either side, air, another unit, a limit that is not known."""
    enough = (result(100), result(50))
    for other in (
        (result(100), result(None)),
        (result(100), result(49)),
        (result(100, rl=21), result(500)),
        (result(100, medium="indoor_air"), result(100, medium="indoor_air")),
        (result(100, unit="ug/m3"), result(100)),
        (result(100, rl=math.nan), result(100)),
    ):
        made = found(pair(enough, other), pair(enough), pair(enough))
        assert made.results == 3
        assert made.variance_log10 == pytest.approx(math.log10(2) ** 2 / 2)


def test_too_few_pairs_give_no_floor_and_are_counted() -> None:
    """Many results of two pairs are two pairs; a third pair without such results is none."""
    two = pair(*[(result(100), result(200))] * 20)
    made = found(two, two, pair((result(None), result(20))))
    assert made == Repeatability(None, 40, 2, 3)
    assert made.floor == 0.0


def test_the_example_s_duplicates_by_a_plain_loop() -> None:
    """The three pairs of the example, read from the store."""
    evaluation = evaluate(load(changed()))
    squares = [
        math.log10(one.primary.value / one.duplicate.value) ** 2
        for each in evaluation.pairs
        for one in each.results
        if one.measure == "rpd"
    ]
    made = repeatability(evaluation.pairs, evaluation.limits)
    assert made.results == len(squares) == 17
    assert made.variance_log10 == pytest.approx(sum(squares) / len(squares) / 2)
