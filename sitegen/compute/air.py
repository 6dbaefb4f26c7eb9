"""Air: concentrations by volume, their uncertainty, and indoor air beside outdoor air."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.compute.concentration import Concentration
from sitegen.units import STANDARD_PRESSURE, ug_m3_to_ppbv

REFERENCE_TEMPERATURE_C = 25.0
"""Temperature at which ppbv is stated where the rate names none (common practice, no source)."""

HIGHER_INDOORS, HIGHER_OUTDOORS, ALIKE = "higher indoors", "higher outdoors", "equal"
ONLY_INDOORS, ONLY_OUTDOORS = "detected indoors only", "detected outdoors only"
NEITHER, CANNOT_TELL = "detected in neither", "cannot tell (limits overlap)"


@dataclass(frozen=True, slots=True)
class ByVolume:
    """A concentration in ppbv at a stated temperature and pressure; the limit alone for a non-detect."""

    ppbv: float
    rl_ppbv: float
    detected: bool
    temperature_c: float
    pressure_hpa: float


@dataclass(frozen=True, slots=True)
class AirPair:
    """One compound indoors and outdoors: the answer in words, and the ratio of two detections."""

    analyte_id: str
    indoor_at: str
    outdoor_at: str
    indoor: Concentration
    outdoor: Concentration
    answer: str
    ratio: float | None


def by_volume(found: Concentration, molar_mass_g_mol: float) -> ByVolume:
    """Convert a concentration to ppbv at the rate's temperature, else at 25 °C, and at 1,013.25 hPa."""
    stated = found.rate.temperature_c if found.rate else None
    temperature = REFERENCE_TEMPERATURE_C if stated is None else stated
    pressure = STANDARD_PRESSURE.value
    value = ug_m3_to_ppbv(found.ug_m3, molar_mass_g_mol, temperature, pressure)
    limit = ug_m3_to_ppbv(found.rl_ug_m3, molar_mass_g_mol, temperature, pressure)
    return ByVolume(value, limit, found.detected, temperature, pressure)


def rate_uncertainty_ug_m3(found: Concentration) -> float | None:
    """Return the standard uncertainty that the rate alone brings, None where its table gives none.

    C is proportional to 1/U, so that u(C)/C = u(U)/U (JCGM 100:2008, 5.1.6). The
    laboratory's own uncertainty is not in it.
    """
    if not found.detected or found.rate is None or found.rate.uncertainty_pct is None:
        return None
    return found.ug_m3 * found.rate.uncertainty_pct / 100.0


def answer(indoor: Concentration, outdoor: Concentration) -> tuple[str, float | None]:
    """Compare one compound indoors with outdoors; the ratio only of two detections."""
    if indoor.detected and outdoor.detected:
        ratio = indoor.ug_m3 / outdoor.ug_m3
        word = ALIKE if ratio == 1 else HIGHER_INDOORS if ratio > 1 else HIGHER_OUTDOORS
        return word, ratio
    if not (indoor.detected or outdoor.detected):
        return NEITHER, None
    seen, unseen = (indoor, outdoor) if indoor.detected else (outdoor, indoor)
    if seen.ug_m3 < unseen.rl_ug_m3:
        return CANNOT_TELL, None
    return (ONLY_INDOORS if indoor.detected else ONLY_OUTDOORS), None


def air_pairs(found: Iterable[Concentration], at: Mapping[str, str]) -> tuple[AirPair, ...]:
    """Pair each indoor concentration with each outdoor one of its compound.

    ``at`` gives the point of a laboratory sample. Order: compound by first appearance,
    then as given.
    """
    by_compound: dict[str, list[Concentration]] = {}
    for item in found:
        if not math.isnan(item.ug_m3):
            by_compound.setdefault(item.analyte_id, []).append(item)
    return tuple(
        _pair(inside, outside, at)
        for items in by_compound.values()
        for inside in items
        if inside.medium == "indoor_air"
        for outside in items
        if outside.medium == "outdoor_air"
    )


def _pair(indoor: Concentration, outdoor: Concentration, at: Mapping[str, str]) -> AirPair:
    points = (at[indoor.lab_sample_id], at[outdoor.lab_sample_id])
    return AirPair(indoor.analyte_id, *points, indoor, outdoor, *answer(indoor, outdoor))
