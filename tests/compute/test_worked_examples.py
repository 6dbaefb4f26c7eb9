"""The calculation sheet's examples can be computed again from the figures that it prints."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

import builders
import pytest

from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.worked import EXAMPLES, examples
from sitegen.report.write.words import lexicon
from sitegen.units import NANOGRAM

Facts = Mapping[str, str]
CLOSE = 2e-5
"""Figures are written out to six places at least."""


def asking_for_means(content: bytes) -> bytes:
    return content.replace(b"[rules]\n", b"[rules]\nmean = true\n", 1)


@pytest.fixture(scope="module")
def found() -> dict[str, Facts]:
    changes = (
        builders.Change("project.toml", asking_for_means),
        builders.table(
            "reference/uptake_rates.csv",
            lambda rows: [row | {"uncertainty_pct": "12.5"} for row in rows],
            "uncertainty_pct",
        ),
    )
    return examples(evaluate(builders.load(builders.changed(*changes))))


def numbers(facts: Facts, *names: str) -> list[float]:
    return [float(facts[name]) for name in names]


def test_every_formula_of_the_sheet_has_an_example_and_every_example_its_formula(found: dict[str, Facts]) -> None:
    """The words and the computation list the same formulas, and the full example serves them all."""
    assert set(lexicon("formulas")) == set(EXAMPLES) == set(found)
    for name, entry in lexicon("formulas").items():
        assert set(entry) == {"title", "formula", "meaning", "source", "example"}
        assert entry["example"].format_map(
            dict(found[name]) | {"tail_text": "", "unit": NANOGRAM.text, "moles": NANOGRAM.moles}
        )


def test_the_exposure_spans_the_clock_change_and_counts_minutes(found: dict[str, Facts]) -> None:
    """UTC minutes subtract to the exposure; local times would be an hour off."""
    later, earlier, minutes, days = numbers(found["exposure"], "retrieved_utc", "placed_utc", "minutes", "days")
    assert later - earlier == minutes == pytest.approx(1440 * days, rel=CLOSE)


def test_concentration_ppbv_uncertainty_and_ratio_follow_from_their_figures(found: dict[str, Facts]) -> None:
    """C = 1000 m/(U t), V = R T/p, x = C V/M, u = C u(U)/U, r = C/L."""
    mass, rate, minutes, result = numbers(found["concentration"], "mass", "rate", "minutes", "result")
    assert 1000 * mass / (rate * minutes) == pytest.approx(result, rel=CLOSE)
    gas, kelvin, pascal, volume = numbers(found["by_volume"], "gas", "kelvin", "pascal", "volume")
    assert gas * kelvin / pascal * 1000 == pytest.approx(volume, rel=CLOSE)
    concentration, molar, ppbv = numbers(found["by_volume"], "concentration", "molar", "result")
    assert concentration * volume / molar == pytest.approx(ppbv, rel=CLOSE)
    value, pct, unsure = numbers(found["uncertainty"], "concentration", "pct", "result")
    assert value * pct / 100 == pytest.approx(unsure, rel=CLOSE)
    above, level, ratio = numbers(found["screening"], "concentration", "level", "ratio")
    assert above / level == pytest.approx(ratio, rel=CLOSE)


def test_pairs_and_blanks_follow_from_their_figures(found: dict[str, Facts]) -> None:
    """RPD, difference, and the reach of a blank."""
    a, b, result = numbers(found["rpd"], "a", "b", "result")
    assert 200 * abs(a - b) / (a + b) == pytest.approx(result, rel=CLOSE)
    a, b, result = numbers(found["difference"], "a", "b", "result")
    assert abs(a - b) == pytest.approx(result, rel=CLOSE)
    ratio, value, limit, touched = numbers(found["blank"], "ratio", "value", "limit", "result")
    assert ratio * value == pytest.approx(limit)
    assert touched <= limit


def test_frequency_and_percentile_follow_from_their_figures(found: dict[str, Facts]) -> None:
    """The share, the tails of its interval by summing binomial terms, and the step at the median."""
    k, n, share, low, high = numbers(found["frequency"], "found", "of", "share", "low", "high")
    assert 100 * k / n == pytest.approx(share, abs=0.005)

    def chance(p: float, least: int, most: int) -> float:
        return sum(math.comb(int(n), i) * p**i * (1 - p) ** (int(n) - i) for i in range(least, most + 1))

    assert chance(low / 100, int(k), int(n)) == pytest.approx(0.025, abs=2e-4)
    assert chance(high / 100, 0, int(k)) == pytest.approx(0.025, abs=2e-4)
    names = ("f_next", "steps", "risk", "f_median", "f_before")
    following, steps, risk, at, before = numbers(found["ordering"], *names)
    assert following * (1 - steps / risk) == pytest.approx(at, rel=CLOSE)
    assert before < 0.5 <= at


def test_shares_correlation_and_places_follow_from_their_figures(found: dict[str, Facts]) -> None:
    """Molar shares term by term, tau from its counts, distance from its legs, the low from its share."""
    facts = found["shares"]
    terms = [tuple(map(float, m)) for m in re.findall(r"([\d.]+) / ([\d.]+) = ([\d.]+)", facts["terms"])]
    assert len(terms) == 4
    for mass, weight, moles in terms:
        assert mass / weight == pytest.approx(moles, rel=CLOSE)
    whole, share, chlorine = numbers(facts, "sum", "share", "chlorine")
    assert sum(moles for _, _, moles in terms) == pytest.approx(whole, rel=CLOSE)
    assert 100 * terms[0][2] / whole == pytest.approx(share, rel=CLOSE)
    weighted = sum(atoms * term[2] for atoms, term in zip((4, 3, 2, 1), terms, strict=True))
    assert weighted / whole == pytest.approx(chlorine, rel=CLOSE)
    bounds = found["share_bounds"]
    a, b, least, most = numbers(bounds, "a", "b", "others_least", "others_most")
    low, high, fewest, highest = numbers(bounds, "low", "high", "chlorine_low", "chlorine_high")
    assert 100 * a / (a + most) == pytest.approx(low, rel=CLOSE)
    assert 100 * b / (b + least) == pytest.approx(high, rel=CLOSE)
    assert 1 <= fewest <= highest <= 4
    alike, opposed, first, second, tau = numbers(found["correlation"], "alike", "opposed", "n_first", "n_second", "tau")
    assert (alike - opposed) / math.sqrt(first * second) == pytest.approx(tau, rel=CLOSE)
    east, north, away = numbers(found["distance"], "east", "north", "result")
    assert math.hypot(east, north) == pytest.approx(away, rel=CLOSE)
    value, lowest, part, limit = (found["local_low"][name] for name in ("value", "lowest", "share", "limit"))
    assert float(lowest) * float(part) == pytest.approx(float(limit))
    assert float(value.removeprefix("<")) < float(limit)
    feet, factor, metres = numbers(found["depth"], "feet", "factor", "metres")
    assert feet * factor == pytest.approx(metres, rel=CLOSE)


def test_an_empty_survey_has_no_examples_and_no_error() -> None:
    """Without results, pairs and rates the sheet stands without examples of them."""
    empty = builders.table("lab/results.csv", lambda _: [])
    found = examples(evaluate(builders.load(builders.changed(empty))))
    assert {"exposure", "depth", "distance"} == set(found)
