"""Air: concentrations by volume, their uncertainty, and indoor air beside outdoor air."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.compute.limits import LimitRecord
from sitegen.compute.quality.duplicates import Pair, rpd
from sitegen.compute.results.concentration import Concentration
from sitegen.project.schema import AIR_MEDIA
from sitegen.units import STANDARD_PRESSURE, ug_m3_to_ppbv

REFERENCE_TEMPERATURE_C = 25.0
"""Temperature at which ppbv is stated where the rate names none (common practice, no source)."""

HIGHER_INDOORS, HIGHER_OUTDOORS, ALIKE = "higher indoors", "higher outdoors", "no difference beyond that of duplicates"
ONLY_INDOORS, ONLY_OUTDOORS = "detected indoors only", "detected outdoors only"
NEITHER, CANNOT_TELL = "detected in neither", "inconclusive (limits overlap)"


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
    """One compound at an indoor and an outdoor point: the answer in words, and the ratio of two detections.

    Each point enters with its highest result.
    """

    analyte_id: str
    indoor_at: str
    outdoor_at: str
    indoor: Concentration
    outdoor: Concentration
    answer: str
    ratio: float | None


def by_volume(concentration: Concentration, molar_mass_g_mol: float) -> ByVolume:
    """Convert a concentration to ppbv at the rate's temperature, else at 25 °C, and at 1,013.25 hPa."""
    stated = concentration.rate.temperature_c if concentration.rate else None
    temperature = REFERENCE_TEMPERATURE_C if stated is None else stated
    pressure = STANDARD_PRESSURE.value
    value = ug_m3_to_ppbv(concentration.ug_m3, molar_mass_g_mol, temperature, pressure)
    limit = ug_m3_to_ppbv(concentration.rl_ug_m3, molar_mass_g_mol, temperature, pressure)
    return ByVolume(value, limit, concentration.detected, temperature, pressure)


def rate_uncertainty_ug_m3(concentration: Concentration) -> float | None:
    """Return the standard uncertainty that the rate alone brings, None where its table gives none.

    C is proportional to 1/U, so that u(C)/C = u(U)/U (JCGM 100:2008, 5.1.6). The
    laboratory's own uncertainty is not in it.
    """
    if not concentration.detected or concentration.rate is None or concentration.rate.uncertainty_pct is None:
        return None
    return concentration.ug_m3 * concentration.rate.uncertainty_pct / 100.0


def air_margins_pct(
    pairs: Iterable[Pair], analyte_ids: Iterable[str], in_force: Mapping[str, LimitRecord]
) -> dict[str, float]:
    """Return by compound the RPD in % up to which two air results are not told apart.

    It is the limit for duplicates, or the largest RPD between the survey's own air duplicates
    of that compound where that is more.
    """
    limit = in_force["duplicate_rpd_pct"].value
    margins = dict.fromkeys(analyte_ids, limit)
    for pair in pairs:
        for one in pair.results:
            both = one.primary.detected and one.duplicate.detected
            if both and one.primary.medium in AIR_MEDIA:
                apart = rpd(one.primary.value, one.duplicate.value)
                margins[one.analyte_id] = max(margins.get(one.analyte_id, limit), apart)
    return margins


def answer(indoor: Concentration, outdoor: Concentration, margin_pct: float) -> tuple[str, float | None]:
    """Compare one compound indoors with outdoors; the ratio only of two detections.

    Two detections differ where their RPD exceeds ``margin_pct``.
    """
    if indoor.detected and outdoor.detected:
        ratio = indoor.ug_m3 / outdoor.ug_m3
        if rpd(indoor.ug_m3, outdoor.ug_m3) <= margin_pct:
            return ALIKE, ratio
        return (HIGHER_INDOORS if ratio > 1 else HIGHER_OUTDOORS), ratio
    if not (indoor.detected or outdoor.detected):
        return NEITHER, None
    seen, unseen = (indoor, outdoor) if indoor.detected else (outdoor, indoor)
    if seen.ug_m3 >= unseen.rl_ug_m3:
        return (ONLY_INDOORS if indoor.detected else ONLY_OUTDOORS), None
    return CANNOT_TELL, None


def air_pairs(
    concentrations: Iterable[Concentration], at: Mapping[str, str], margins_pct: Mapping[str, float]
) -> tuple[AirPair, ...]:
    """Pair each indoor point with each outdoor one, compound by compound.

    ``at`` gives the point of a laboratory sample, ``margins_pct`` by compound what duplicates
    disagree by. A point enters with its highest detection, else with its highest limit. Order:
    compound by first appearance, then as given.
    """
    by_compound: dict[str, dict[str, Concentration]] = {}
    for item in concentrations:
        if not math.isnan(item.ug_m3):
            points = by_compound.setdefault(item.analyte_id, {})
            place = at[item.lab_sample_id]
            points[place] = max(points.get(place, item), item, key=decisive)
    return tuple(
        AirPair(name, inside, outside, indoor, outdoor, *answer(indoor, outdoor, margins_pct[name]))
        for name, points in by_compound.items()
        for inside, indoor in points.items()
        if indoor.medium == "indoor_air"
        for outside, outdoor in points.items()
        if outdoor.medium == "outdoor_air"
    )


def decisive(concentration: Concentration) -> tuple[bool, float]:
    """Return the rank by which the highest result at a point is taken: a detection before any non-detect."""
    return concentration.detected, concentration.ug_m3
