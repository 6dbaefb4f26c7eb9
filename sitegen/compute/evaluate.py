"""Everything that is computed, in one frozen record."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.air import AirPair, ByVolume, air_pairs, by_volume
from sitegen.compute.blanks import BlankHit, BlankRule, blank_hits, blank_marks, blank_rule
from sitegen.compute.completeness import Completeness, completeness
from sitegen.compute.concentration import Concentration, concentration, uptake_rates
from sitegen.compute.custody import Custody, custody
from sitegen.compute.duplicates import Pair, duplicate_pairs
from sitegen.compute.exposure import Placement, median_exposure_min, placements
from sitegen.compute.fieldmarks import custody_marks, laboratory_marks, placement_marks
from sitegen.compute.limits import LimitRecord, limits
from sitegen.compute.locallow import LocalLow, local_lows
from sitegen.compute.marks import Marks, gather
from sitegen.compute.place import Point, points
from sitegen.compute.proposals import Proposed, proposals
from sitegen.compute.relate import Listed, Related, relate
from sitegen.compute.screening import Comparison, comparisons, levels
from sitegen.compute.store import primary, result_store
from sitegen.compute.summary import Summary, summaries
from sitegen.compute.totals import DetectedSum, detected_sums, soil_sum
from sitegen.project.survey import Survey, records


@dataclass(frozen=True, slots=True)
class Compound:
    """A compound as listed: id, name, CAS, group, molar mass, whether it is mapped."""

    analyte_id: str
    name: str
    cas: str
    group: str
    molar_mass_g_mol: float | None
    mapped: bool
    common_contaminant: bool
    row: int


@dataclass(frozen=True, slots=True)
class Evaluation:
    """What was computed from a survey. ``primary`` is the part of ``store`` that stands for points.

    ``concentrations`` and ``by_volume`` go by (lab_sample_id, analyte_id), ``sums`` by point.
    """

    limits: Mapping[str, LimitRecord]
    compounds: tuple[Compound, ...]
    placements: tuple[Placement, ...]
    median_exposure_min: float | None
    points: tuple[Point, ...]
    custody: Custody
    store: pd.DataFrame
    primary: pd.DataFrame
    blank_rule: BlankRule
    blank_hits: tuple[BlankHit, ...]
    pairs: tuple[Pair, ...]
    marks: Marks
    proposed: tuple[Proposed, ...]
    summaries: Mapping[tuple[str, str], Summary]
    concentrations: Mapping[tuple[str, str], Concentration]
    comparisons: tuple[Comparison, ...]
    by_volume: Mapping[tuple[str, str], ByVolume]
    air_pairs: tuple[AirPair, ...]
    related: Related
    local_lows: tuple[LocalLow, ...]
    sums: Mapping[str, DetectedSum]
    soil_sum: DetectedSum
    completeness: Completeness


def evaluate(survey: Survey) -> Evaluation:
    """Compute everything that the survey supports."""
    in_force = limits(survey.settings)
    listed = compounds(survey)
    placed = placements(survey)
    median = median_exposure_min(placed)
    held = custody(survey, placed)
    store = result_store(survey, placed)
    rule = blank_rule(survey.settings.rules.blank, in_force)
    common = frozenset(c.analyte_id for c in listed if c.common_contaminant)
    hits = blank_hits(store, _days(placed), common, rule)
    pairs = duplicate_pairs(store, placed, in_force)
    marks = gather(
        [*placement_marks(placed, survey, in_force, median), *custody_marks(survey, held)],
        [
            *blank_marks(hits, {c.analyte_id: c.name for c in listed}),
            *laboratory_marks(store, survey, pairs, in_force),
        ],
    )
    first = primary(store)
    touched = frozenset(key for hit in hits for key in hit.touched)
    found = _concentrations(survey, first, placed)
    where = points(survey)
    return Evaluation(
        limits=in_force,
        compounds=listed,
        placements=placed,
        median_exposure_min=median,
        points=where,
        custody=held,
        store=store,
        primary=first,
        blank_rule=rule,
        blank_hits=hits,
        pairs=pairs,
        marks=marks,
        proposed=_proposals(store, hits, rule, common, marks),
        summaries=summaries(first, touched, [c.analyte_id for c in listed], with_means=survey.settings.rules.mean),
        concentrations=found,
        comparisons=comparisons(found.values(), levels(survey)),
        by_volume=_by_volume(found, listed),
        air_pairs=air_pairs(found.values(), dict(zip(first["lab_sample_id"], first["location_id"], strict=True))),
        related=relate(survey, first, where, _listed(listed), in_force),
        local_lows=local_lows(first, where, marks, in_force),
        sums=detected_sums(first, touched),
        soil_sum=soil_sum(first, touched),
        completeness=completeness(survey, placed, store, marks),
    )


def _proposals(
    store: pd.DataFrame, hits: tuple[BlankHit, ...], rule: BlankRule, common: frozenset[str], marks: Marks
) -> tuple[Proposed, ...]:
    wanted = {key for hit in hits for key in hit.touched} | set(marks.by_result)
    keys = zip(store["lab_sample_id"], store["analyte_id"], strict=True)
    rows = records(store[[key in wanted for key in keys]])
    by_key = {(row["lab_sample_id"], row["analyte_id"]): row for row in rows}
    return proposals(by_key, hits, rule, common, marks)


def compounds(survey: Survey) -> tuple[Compound, ...]:
    """Return the compounds in the order that the list asks for, else in file order."""
    rows = survey.records("analytes")
    ordered = sorted(rows, key=lambda row: (math.inf if math.isnan(row["order"]) else row["order"], row["_row"]))
    return tuple(
        Compound(
            row["analyte_id"],
            row["name"],
            row["cas"],
            row["group"] or "other",
            None if math.isnan(row["molar_mass_g_mol"]) else row["molar_mass_g_mol"],
            row["map"] == "yes",
            row["common_lab_contaminant"] == "yes",
            int(row["_row"]),
        )
        for row in ordered
    )


def _days(placed: tuple[Placement, ...]) -> dict[str, str]:
    return {p.sampler_id: p.retrieved_at[:10] for p in placed if p.retrieved_at}


def _concentrations(
    survey: Survey, first: pd.DataFrame, placed: tuple[Placement, ...]
) -> dict[tuple[str, str], Concentration]:
    rates = uptake_rates(survey)
    media = {medium for _, _, medium in rates}
    rows = first[(first["medium"].isin(media) | (first["unit"] == "ug/m3")) & ~first["rejected"]]
    exposure = {p.sampler_id: p.exposure_min for p in placed}
    found = {}
    for row in records(rows):
        made = concentration(row, exposure.get(row["sampler_id"]), rates)
        if made:
            found[row["lab_sample_id"], row["analyte_id"]] = made
    return found


def _by_volume(
    found: Mapping[tuple[str, str], Concentration], listed: tuple[Compound, ...]
) -> dict[tuple[str, str], ByVolume]:
    molar = {c.analyte_id: c.molar_mass_g_mol for c in listed}
    return {key: by_volume(item, mass) for key, item in found.items() if (mass := molar.get(item.analyte_id))}


def _listed(compounds: tuple[Compound, ...]) -> tuple[Listed, ...]:
    return tuple(Listed(c.analyte_id, c.cas, c.molar_mass_g_mol, c.mapped) for c in compounds)
