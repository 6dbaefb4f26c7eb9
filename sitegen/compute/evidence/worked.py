"""One worked example per formula, taken from the project's own data.

Each example is a set of named figures, written out far enough to be computed again by
hand. A formula for which the folder holds no case has no example.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.formats import stamp_text
from sitegen.compute.place.neighbours import neighbours
from sitegen.compute.quality.air import rate_uncertainty_ug_m3
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.compute.statistics.censored import kaplan_meier, percentile
from sitegen.compute.statistics.intervals import CONFIDENCE
from sitegen.compute.statistics.rank import orders
from sitegen.project.schema import SOIL_MEDIA
from sitegen.units import GAS_CONSTANT, INTERNATIONAL_FOOT, RESULT_UNITS, ZERO_CELSIUS, molar_volume_l
from sitegen.voice import worded

Facts = Mapping[str, str]
Example = Callable[[Evaluation], Facts | None]


def figure(value: float, digits: int = 6) -> str:
    """Write a number to some significant figures, without exponent or needless zeros.

    >>> figure(0.82), figure(18780.0), figure(1234567.0), figure(2 / 3)
    ('0.82', '18780', '1234570', '0.666667')
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{round(value, places):.{max(places, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def examples(evaluation: Evaluation) -> dict[str, Facts]:
    """Return the example of each formula that the data have a case for, by the formula's name."""
    every = {name: example(evaluation) for name, example in EXAMPLES.items()}
    return {name: facts for name, facts in every.items() if facts is not None}


def _exposure(ev: Evaluation) -> Facts | None:
    for p in ev.placements:
        if p.exposure_min is not None and p.exposure_days is not None:
            return {
                "sampler": p.sampler_id,
                "point": p.location_id,
                "placed": stamp_text(p.placed_at),
                "retrieved": stamp_text(p.retrieved_at),
                "placed_utc": str(p.placed_utc),
                "retrieved_utc": str(p.retrieved_utc),
                "minutes": str(p.exposure_min),
                "days": figure(p.exposure_days),
            }
    return None


def _depth(ev: Evaluation) -> Facts | None:
    for p in ev.placements:
        if p.depth_m is not None and p.depth_text.endswith(" ft"):
            feet = p.depth_text.removesuffix(" ft")
            factor = figure(INTERNATIONAL_FOOT.value)
            return {"point": p.location_id, "feet": feet, "factor": factor, "metres": figure(p.depth_m)}
    return None


def _from_rate(ev: Evaluation) -> Concentration | None:
    from_rate = (c for c in ev.concentrations.values() if c.rate and c.detected)
    return next(from_rate, None)


def _concentration(ev: Evaluation) -> Facts | None:
    concentration = _from_rate(ev)
    if concentration is None or concentration.rate is None:
        return None
    row = _result(ev, concentration.lab_sample_id, concentration.analyte_id)
    minutes = {p.sampler_id: p.exposure_min for p in ev.placements}[row.sampler_id]
    return {
        "compound": _name(ev, concentration.analyte_id),
        "point": row.location_id,
        "mass": figure(RESULT_UNITS[row.unit].factor * row.value),
        "rate": figure(concentration.rate.rate_ml_min),
        "source": concentration.rate.source,
        "minutes": str(minutes),
        "result": figure(concentration.ug_m3),
    }


def _by_volume(ev: Evaluation) -> Facts | None:
    concentration = _from_rate(ev)
    mixing = ev.by_volume.get((concentration.lab_sample_id, concentration.analyte_id)) if concentration else None
    if concentration is None or mixing is None:
        return None
    molar = next(c.molar_mass_g_mol for c in ev.compounds if c.analyte_id == concentration.analyte_id)
    return {
        "compound": _name(ev, concentration.analyte_id),
        "gas": figure(GAS_CONSTANT.value, 10),
        "kelvin": figure(mixing.temperature_c + ZERO_CELSIUS.value),
        "celsius": figure(mixing.temperature_c),
        "pascal": figure(100 * mixing.pressure_hpa),
        "volume": figure(molar_volume_l(mixing.temperature_c, mixing.pressure_hpa)),
        "concentration": figure(concentration.ug_m3),
        "molar": figure(molar or 0.0),
        "result": figure(mixing.ppbv),
    }


def _uncertainty(ev: Evaluation) -> Facts | None:
    for concentration in ev.concentrations.values():
        uncertainty = rate_uncertainty_ug_m3(concentration)
        if uncertainty is not None and concentration.rate is not None:
            return {
                "compound": _name(ev, concentration.analyte_id),
                "concentration": figure(concentration.ug_m3),
                "pct": figure(concentration.rate.uncertainty_pct or 0.0),
                "result": figure(uncertainty),
            }
    return None


def _screening(ev: Evaluation) -> Facts | None:
    for comparison in ev.comparisons:
        if comparison.ratio is not None:
            return {
                "compound": _name(ev, comparison.level.analyte_id),
                "concentration": figure(comparison.concentration.ug_m3),
                "level": figure(comparison.level.ug_m3),
                "use": comparison.level.land_use,
                "ratio": figure(comparison.ratio),
                "answer": worded(comparison.answer),
            }
    return None


def _pair(measure: str) -> Example:
    def example(ev: Evaluation) -> Facts | None:
        for pair in ev.pairs:
            for result in pair.results:
                if result.measure == measure and result.figure:
                    return {
                        "compound": _name(ev, result.analyte_id),
                        "point": pair.location_id,
                        "a": figure(result.primary.value),
                        "b": figure(result.duplicate.value),
                        "rl": figure(max(result.primary.rl, result.duplicate.rl)),
                        "result": figure(result.figure),
                    }
        return None

    return example


def _blank(ev: Evaluation) -> Facts | None:
    for hit in ev.blank_hits:
        if hit.touched:
            lab_sample_id, analyte_id = hit.touched[0]
            row = _result(ev, lab_sample_id, analyte_id)
            return {
                "compound": _name(ev, analyte_id),
                "blank": hit.label,
                "value": figure(hit.value),
                "ratio": figure(ev.blank_rule.ratio),
                "limit": figure(ev.blank_rule.ratio * hit.value),
                "result": figure(row.value),
            }
    return None


def _frequency(ev: Evaluation) -> Facts | None:
    for (analyte_id, group), summary in ev.summaries.items():
        if group == "soil" and 0 < summary.detected < summary.analysed:
            return {
                "compound": _name(ev, analyte_id),
                "found": str(summary.detected),
                "of": str(summary.analysed),
                "share": figure(100 * summary.detected / summary.analysed, 4),
                "confidence": figure(100 * CONFIDENCE),
                "low": figure(100 * summary.frequency.low, 4),
                "high": figure(100 * summary.frequency.high, 4),
            }
    return None


def _ordering(ev: Evaluation) -> Facts | None:
    """Show the step at which the median is reached, of the first compound with one."""
    soil = ev.primary[ev.primary["medium"].isin(SOIL_MEDIA) & ~ev.primary["rejected"]]
    for compound in ev.compounds:
        rows = soil[soil["analyte_id"] == compound.analyte_id]
        detected = rows["detected"].to_numpy(dtype=bool)
        if detected.all() or not len(rows):
            continue
        ordered = rows["value"].where(rows["detected"], rows["lod"]).to_numpy(dtype=float)
        step = kaplan_meier(ordered, detected)
        median = percentile(step, 0.5)
        at = list(step.values).index(median) if median is not None else 0
        if median is None or at == 0 or at + 1 == len(step.values):
            continue
        following = float(step.values[at + 1])
        steps = int((detected & (ordered == following)).sum())
        return {
            "compound": compound.name,
            "median": figure(median),
            "next": figure(following),
            "steps": str(steps),
            "risk": str(int((ordered <= following).sum())),
            "f_next": figure(float(step.cumulative[at + 1])),
            "f_median": figure(float(step.cumulative[at])),
            "f_before": figure(float(step.cumulative[at - 1])),
        }
    return None


def _mean(estimator: str) -> Example:
    def example(ev: Evaluation) -> Facts | None:
        for (analyte_id, group), summary in ev.summaries.items():
            for mean in summary.means if group == "soil" else ():
                if mean.demand.estimator == estimator and mean.value is not None:
                    return {
                        "compound": _name(ev, analyte_id),
                        "found": str(summary.detected),
                        "of": str(summary.analysed),
                        "tail": "" if mean.tail is None else figure(mean.tail),
                        "result": figure(mean.value),
                    }
        return None

    return example


def _shares(ev: Evaluation) -> Facts | None:
    family = ev.related.ethenes
    makeup = next((m for m in family.makeups if all(m.detected)), None)
    if makeup is None:
        return None
    molar = {c.analyte_id: c.molar_mass_g_mol or 0.0 for c in ev.compounds}
    rows = {row.analyte_id: row for row in stored_results(ev.primary[ev.primary["location_id"] == makeup.location_id])}
    parts = [(rows[name].value, molar[name]) for name in family.analyte_ids]
    names = [_name(ev, name) for name in family.analyte_ids]
    return {
        "point": makeup.location_id,
        "terms": "; ".join(
            f"{name} {figure(mass)} / {figure(weight)} = {figure(mass / weight)}"
            for name, (mass, weight) in zip(names, parts, strict=True)
        ),
        "sum": figure(math.fsum(mass / weight for mass, weight in parts)),
        "first": names[0],
        "share": figure(makeup.shares[0].low or 0.0),
        "chlorine": figure(makeup.chlorine.low or 0.0),
    }


def _share_bounds(ev: Evaluation) -> Facts | None:
    family = ev.related.ethenes
    makeup = next((m for m in family.makeups if not all(m.detected)), None)
    if makeup is None:
        return None
    least, most = zip(*makeup.amounts, strict=True)
    names = [_name(ev, name) for name in family.analyte_ids]
    return {
        "point": makeup.location_id,
        "names": ", ".join(name for name, seen in zip(names, makeup.detected, strict=True) if not seen),
        "first": names[0],
        "a": figure(least[0]),
        "b": figure(most[0]),
        "others_least": figure(math.fsum(least[1:])),
        "others_most": figure(math.fsum(most[1:])),
        "low": figure(makeup.shares[0].low or 0.0),
        "high": figure(makeup.shares[0].high or 0.0),
        "chlorine_low": figure(makeup.chlorine.low or 0.0),
        "chlorine_high": figure(makeup.chlorine.high or 0.0),
    }


def _cis(ev: Evaluation) -> Facts | None:
    limit = ev.limits["cis_share_pct"]
    known = [makeup for makeup in ev.related.ethenes.makeups if makeup.cis.low is not None]
    if not known:
        return None
    makeup = min(known, key=lambda m: abs((m.cis.high or 0.0) - (m.cis.low or 0.0)))
    ends = dict.fromkeys(figure(bound or 0.0) for bound in (makeup.cis.low, makeup.cis.high))
    return {
        "point": makeup.location_id,
        "bounds": " to ".join(ends),
        "limit": limit.text,
        "source": limit.source,
    }


def _correlation(ev: Evaluation) -> Facts | None:
    if not ev.related.correlations:
        return None
    relation = max(ev.related.correlations, key=lambda c: c.tau)
    soil = ev.primary[ev.primary["medium"].isin(SOIL_MEDIA) & ~ev.primary["rejected"]]
    sides = [soil[soil["analyte_id"] == name].set_index("location_id") for name in (relation.first, relation.second)]
    common = sides[0].index.intersection(sides[1].index)
    signs = [
        orders(
            s["value"].where(s["detected"], s["lod"]).to_numpy(dtype=float),
            s["detected"].to_numpy(dtype=bool),
        )
        for s in (side.loc[common] for side in sides)
    ]
    products = signs[0].astype(int) * signs[1]
    return {
        "first": _name(ev, relation.first),
        "second": _name(ev, relation.second),
        "points": str(relation.points),
        "alike": str(int((products > 0).sum())),
        "opposed": str(int((products < 0).sum())),
        "n_first": str(int((signs[0] != 0).sum())),
        "n_second": str(int((signs[1] != 0).sum())),
        "tau": figure(relation.tau),
    }


def _distance(ev: Evaluation) -> Facts | None:
    near = neighbours(ev.points, 1)
    places = {point.location_id: point for point in ev.points}
    for point in ev.points:
        for other in near[point.location_id]:
            place = places[other.location_id]
            return {
                "point": point.location_id,
                "other": other.location_id,
                "east": figure(place.x - point.x),
                "north": figure(place.y - point.y),
                "result": figure(other.distance_m),
                "direction": worded(other.direction),
            }
    return None


def _local_low(ev: Evaluation) -> Facts | None:
    if not ev.local_lows:
        return None
    low = ev.local_lows[0]
    part = low.compounds[0]
    share = ev.limits["local_low_share"].value
    return {
        "point": low.location_id,
        "neighbours": ", ".join(low.neighbours),
        "compound": _name(ev, part.analyte_id),
        "value": figure(part.at_most_ng) if part.detected else f"<{figure(part.at_most_ng)}",
        "lowest": figure(part.lowest_neighbour_ng),
        "share": figure(share),
        "limit": figure(share * part.lowest_neighbour_ng),
        "compounds": str(len(low.compounds)),
    }


def _sum(ev: Evaluation) -> Facts | None:
    total = ev.soil_sum
    if not total.detected:
        return None
    return {"mass": figure(total.mass_ng), "found": str(total.detected), "of": str(total.analysed)}


def _result(ev: Evaluation, lab_sample_id: str, analyte_id: str) -> StoredResult:
    store = ev.store
    row = store[(store["lab_sample_id"] == lab_sample_id) & (store["analyte_id"] == analyte_id)]
    return stored_results(row)[0]


def _name(ev: Evaluation, analyte_id: str) -> str:
    return next((c.name for c in ev.compounds if c.analyte_id == analyte_id), analyte_id)


EXAMPLES: Mapping[str, Example] = {
    "exposure": _exposure,
    "depth": _depth,
    "concentration": _concentration,
    "by_volume": _by_volume,
    "uncertainty": _uncertainty,
    "screening": _screening,
    "rpd": _pair("rpd"),
    "difference": _pair("difference"),
    "blank": _blank,
    "frequency": _frequency,
    "ordering": _ordering,
    "kaplan_meier": _mean("kaplan_meier"),
    "order_statistics": _mean("order_statistics"),
    "lognormal": _mean("lognormal"),
    "shares": _shares,
    "share_bounds": _share_bounds,
    "cis": _cis,
    "correlation": _correlation,
    "distance": _distance,
    "local_low": _local_low,
    "sum": _sum,
}
