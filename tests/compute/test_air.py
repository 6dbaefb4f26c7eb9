"""Indoors beside outdoors, parts per billion, and what the rate's uncertainty brings."""

from __future__ import annotations

import builders
import pytest

from sitegen.compute.evaluate import evaluate
from sitegen.compute.quality import air
from sitegen.compute.results.concentration import Concentration, UptakeRate, from_mass


def conc(ug_m3: float, rl: float = 1.0, *, detected: bool = True, medium: str = "indoor_air") -> Concentration:
    return Concentration(medium, "pce", medium, ug_m3, rl, detected, None)


@pytest.mark.parametrize(
    ("indoor", "outdoor", "answer", "ratio"),
    [
        (conc(6), conc(2), air.HIGHER_INDOORS, 3.0),
        (conc(2), conc(4), air.HIGHER_OUTDOORS, 0.5),
        (conc(2), conc(2), air.ALIKE, 1.0),
        (conc(2.7), conc(2), air.ALIKE, 1.35),
        (conc(2.8), conc(2), air.HIGHER_INDOORS, 1.4),
        (conc(6), conc(1, detected=False), air.ONLY_INDOORS, None),
        (conc(1, detected=False), conc(6), air.ONLY_OUTDOORS, None),
        (conc(2), conc(5, rl=5, detected=False), air.CANNOT_TELL, None),
        (conc(1, detected=False), conc(1, detected=False), air.NEITHER, None),
    ],
)
def test_a_ratio_stands_for_two_detections_alone(
    indoor: Concentration, outdoor: Concentration, answer: str, ratio: float | None
) -> None:
    """A difference counts beyond an RPD of 30 %: 2.7 and 2.0 are 29.8 % apart, 2.8 and 2.0 are 33.3 %."""
    assert air.answer(indoor, outdoor, 30.0) == (answer, pytest.approx(ratio) if ratio else None)


def test_parts_per_billion_stand_at_the_temperature_of_the_rate() -> None:
    """At 20 °C a molar volume of 24.055 L, at 25 °C without a rate's temperature 24.465 L."""
    rate = UptakeRate("T1", "pce", "indoor_air", 0.5, "source", temperature_c=20.0)
    with_rate = Concentration("L", "pce", "indoor_air", 100.0, 1.0, detected=True, rate=rate)
    assert air.by_volume(with_rate, 100.0).ppbv == pytest.approx(24.055, abs=5e-4)
    assert air.by_volume(conc(100.0), 100.0).ppbv == pytest.approx(24.465, abs=5e-4)
    assert air.by_volume(conc(100.0), 100.0).temperature_c == 25.0


def test_the_uncertainty_of_the_rate_passes_on_and_only_if_it_is_on_file() -> None:
    """15 % of the rate is 15 % of the concentration; none for a non-detect, none without a figure."""

    def edit(rows: list[builders.Row]) -> list[builders.Row]:
        for row in rows:
            if row["analyte_id"] == "benzene":
                row["uncertainty_pct"] = "15"
        return rows

    change = builders.table("reference/uptake_rates.csv", edit, "uncertainty_pct")
    ev = evaluate(builders.load(builders.changed(change)))
    known = {key: air.rate_uncertainty_ug_m3(c) for key, c in ev.concentrations.items()}
    given = {key for key, value in known.items() if value is not None}
    assert {name for _, name in given} == {"benzene"}
    for key in given:
        assert known[key] == pytest.approx(0.15 * ev.concentrations[key].ug_m3)
    plain = evaluate(builders.load(builders.example()))
    assert all(air.rate_uncertainty_ug_m3(c) is None for c in plain.concentrations.values())


def test_a_reporting_limit_is_turned_like_a_value() -> None:
    """Twice the mass is twice the concentration, limits alike; a rate must be positive."""
    assert from_mass(20, 0.5, 10_000) == 2 * from_mass(10, 0.5, 10_000) == 4.0
    with pytest.raises(ValueError, match="positive"):
        from_mass(20, 0.0, 10_000)
