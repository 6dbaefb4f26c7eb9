"""The spread of two rounds: from the duplicates of both, or the default."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from builders import row_of, settings_added
from tworounds import At, a_round

from sitegen.compute.limits import DEFAULTS, OWN
from sitegen.compute.quality.duplicates import DIFFERS, Pair, PairResult
from sitegen.compute.results.store import StoredResult
from sitegen.compute.rounds.changes import Spread, round_change
from sitegen.compute.rounds.spread import PAIRS, pair_draw, spread
from sitegen.project.schema import AIR_MEDIA, SOIL_MEDIA

LIMITS = {record.name: record for record in DEFAULTS}


def result(value: float | None, **other: object) -> StoredResult:
    shown = math.nan if value is None else value
    known: dict[str, object] = {"value": shown, "detected": value is not None, "medium": "soil_gas", "unit": "ng"}
    return row_of(StoredResult, **(known | other))


def pair(*results: tuple[StoredResult, StoredResult]) -> Pair:
    return Pair("P", "1", "2", tuple(PairResult("a", a, b, "rpd", 1.0, DIFFERS) for a, b in results))


def of(factors: list[float]) -> list[Pair]:
    """Return a pair for each factor, the larger mass now in the one sampler and now in the other."""
    masses = [(100.0, 100.0 * f) if at % 2 else (100.0 * f, 100.0) for at, f in enumerate(factors)]
    return [pair((result(a), result(b))) for a, b in masses]


def test_29_pairs_give_the_largest_ratio_and_28_the_default() -> None:
    """1 − 0.9²⁹ = 0.953 and 1 − 0.9²⁸ = 0.948, beside a confidence of 0.95."""
    factors = [1.0 + at / 10 for at in range(29)]
    found = spread(of(factors), SOIL_MEDIA, LIMITS)
    assert found == Spread(pytest.approx(3.8), 29, "pairs", 0.9, 0.95, PAIRS, 29)
    assert spread(of(factors[1:]), SOIL_MEDIA, LIMITS) == Spread(3.0, 28, "default", 0.9, 0.95, OWN, 29)


def test_with_46_pairs_one_outlier_no_longer_decides() -> None:
    """The second largest of 46 is the limit: P(X ≤ 44; 46, 0.9) = 0.952."""
    factors = [1.5] * 44 + [2.0, 50.0]
    assert spread(of(factors), SOIL_MEDIA, LIMITS).factor == pytest.approx(2.0)
    assert spread(of(factors[1:]), SOIL_MEDIA, LIMITS).factor == pytest.approx(50.0)


def test_a_pair_gives_one_draw_its_largest_ratio_either_way() -> None:
    """Ratios of 2, 1/5 and 1: ln 5. Compounds of one pair of samplers are no independent draws."""
    made = pair((result(20), result(10)), (result(10), result(50)), (result(7), result(7)))
    assert pair_draw(made, SOIL_MEDIA) == pytest.approx(math.log(5))
    assert spread([made], SOIL_MEDIA, LIMITS).pairs == 1


def test_results_that_give_no_ratio_are_left_out() -> None:
    """A non-detect, another medium, a mass beside a concentration, an unknown unit, no mass at all."""
    for a, b in (
        (result(100), result(None)),
        (result(100, medium="indoor_air"), result(100, medium="indoor_air")),
        (result(100, unit="ug/m3"), result(100)),
        (result(100, unit="?"), result(100, unit="?")),
        (result(0.0), result(100)),
    ):
        assert pair_draw(pair((a, b)), SOIL_MEDIA) is None
    assert pair_draw(pair((result(9, medium="indoor_air"), result(9))), AIR_MEDIA) == 0
    assert pair_draw(pair((result(0.2, unit="ug"), result(100))), SOIL_MEDIA) == pytest.approx(math.log(2))


def test_a_factor_below_one_and_a_coverage_of_everything_are_not_taken_at_their_word() -> None:
    """A project can't make every difference a change, nor cover all pairs."""
    odd = {"round_factor": 0.5, "round_coverage_pct": 100}
    own = LIMITS | {name: replace(LIMITS[name], value=value) for name, value in odd.items()}
    found = spread(of([1.1] * 60), SOIL_MEDIA, own)
    assert (found.factor, found.rule, found.needed) == (1.0, "default", 0)


def test_the_pairs_of_both_rounds_are_counted() -> None:
    """Two duplicates before and one after, at a coverage of 20 % and a confidence of 60 % that three suffice for.

    P(X ≤ r − 1; 3, 0.2) is 0.512, 0.896, 0.992 for r of 1, 2, 3: the second smallest of 2, 4 and 1.5.
    """
    own = settings_added(
        '[limits.round_coverage_pct]\nvalue = 20\nsource = "X"\n[limits.round_confidence_pct]\nvalue = 60\nsource = "X"'
    )
    before = a_round(
        At("P-1", pce="100"), At("P-1", twin="D", pce="200"), At("P-2", x=50, pce="100"),
        At("P-2", x=50, twin="D", pce="25"),
    )  # fmt: skip
    after = a_round(At("P-1", pce="190"), At("P-1", twin="D", pce="285"), At("P-2", x=50, pce="210"), changes=(own,))
    found = round_change(before, after)
    assert (found.spread.factor, found.spread.pairs, found.spread.rule) == (pytest.approx(2.0), 3, "pairs")
    assert [(p.location_id, p.kind) for p in found.points] == [("P-1", "within"), ("P-2", "grew")]
