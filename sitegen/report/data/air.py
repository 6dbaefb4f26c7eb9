"""Air concentrations to download, each beside the levels for its compound and medium."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.reported import qualifier
from sitegen.compute.results.screening import Comparison
from sitegen.compute.results.store import StoredResult
from sitegen.report.field.surveyed import coordinate_fields
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.specs import BOOLEAN, NUMBER, TEXT, Spec, Value, export
from sitegen.report.results.aircells import concentration_text
from sitegen.report.write.context import Context
from sitegen.report.write.fields import (
    TO_COMPOUNDS,
    compound_fields,
    figure_field,
    location_field,
    number_or_none,
    unit_field,
)
from sitegen.report.write.words import say
from sitegen.voice import worded


class _InAir(NamedTuple):
    """A concentration in air, and what a level says of it; None where no level is on file."""

    row: StoredResult
    concentration: Concentration
    comparison: Comparison | None

    @property
    def location_id(self) -> str:
        return self.row.location_id

    @property
    def analyte_id(self) -> str:
        return self.concentration.analyte_id

    @property
    def unit(self) -> str:
        return "ug/m3"


def air_export(context: Context) -> ExportTable:
    """Return each air concentration, once for each level for its compound and medium."""
    return export(
        "air",
        say("export.air_title"),
        say("export.air_note"),
        [*_concentration_fields(context), *_level_fields(), *coordinate_fields(context)],
        _in_air(context),
        links=(TO_COMPOUNDS,),
    )


def _in_air(context: Context) -> Iterator[_InAir]:
    beside: dict[tuple[str, str], list[Comparison]] = {}
    for one in context.evaluation.comparisons:
        beside.setdefault((one.concentration.lab_sample_id, one.concentration.analyte_id), []).append(one)
    for key, concentration in context.evaluation.concentrations.items():
        row = context.by_key.get(key)
        if row is not None:
            for comparison in beside.get(key) or (None,):
                yield _InAir(row, concentration, comparison)


def _concentration_fields(context: Context) -> list[Spec[_InAir]]:
    return [
        location_field(required=False),
        Spec(
            "medium",
            meaning="medium of concentration and level",
            value=lambda air: air.concentration.medium,
            required=True,
        ),
        Spec(
            "lab_sample_id",
            meaning="laboratory sample",
            value=lambda air: air.concentration.lab_sample_id,
            required=True,
        ),
        Spec("sampler_id", meaning="serial of the sampler", value=lambda air: air.row.sampler_id, required=True),
        Spec("role", meaning="role of the sampler at its point", value=lambda air: air.row.role, required=True),
        *compound_fields(context),
        Spec(
            "detected",
            type=BOOLEAN,
            meaning="false for a non-detect",
            value=lambda air: air.concentration.detected,
            required=True,
        ),
        figure_field(
            "concentration",
            "empty for a non-detect, which has no numerical value",
            lambda air: float(air.concentration.ug_m3) if air.concentration.detected else None,
        ),
        figure_field(
            "reporting_limit",
            "reporting limit as a concentration",
            lambda air: number_or_none(air.concentration.rl_ug_m3),
        ),
        unit_field(),
        Spec(
            "shown",
            meaning="as the report shows it",
            value=lambda air: concentration_text(air.concentration, qualifier(air.row)),
        ),
        Spec(
            "qualifier",
            meaning="the qualifier in force: a reviewer's before the laboratory's",
            value=lambda air: qualifier(air.row),
        ),
        Spec(
            "marks",
            meaning="qualifications, separated by a semicolon",
            value=lambda air: "; ".join(mark.word for mark in context.marks(air.row)),
        ),
        Spec(
            "rate_source",
            meaning="source of the uptake rate; empty where the laboratory gave a concentration",
            value=lambda air: air.concentration.rate.source if air.concentration.rate else "",
        ),
    ]


def _level_fields() -> list[Spec[_InAir]]:
    return [
        _level_field(
            "level_set", "set of the level; empty where no level is on record", lambda one: one.level.level_set
        ),
        _level_field("land_use", "land use that the level is for", lambda one: one.level.land_use),
        figure_field(
            "level",
            "screening level",
            lambda air: float(air.comparison.level.ug_m3) if air.comparison else None,
        ),
        _level_field("level_source", "source of the level, with its edition", _level_source),
        _level_field("answer", "above, at or below, or inconclusive", lambda one: one.answer),
        _level_field("near", "true for a detection near the level, on either side", lambda one: one.near, BOOLEAN),
        _level_field("ratio", "concentration over level, of detections", lambda one: one.ratio, NUMBER),
    ]


def _level_field(key: str, meaning: str, value: Callable[[Comparison], Value], type_: str = TEXT) -> Spec[_InAir]:
    """Return a column of what a level says, empty where there is none."""
    none = "" if type_ == TEXT else None
    return Spec(key, type=type_, meaning=meaning, value=lambda air: value(air.comparison) if air.comparison else none)


def _level_source(comparison: Comparison) -> str:
    level = comparison.level
    edition = level.edition_date or worded("unknown date")
    return worded("{source}, edition of {edition}", source=level.source, edition=edition)
