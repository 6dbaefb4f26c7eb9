"""Screening: age and source of levels, what they can be compared with, uptake rates."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from sitegen.checks.catalogue import find
from sitegen.checks.rows import compound_names, enumeration, first_numbers, key_of, number_of, numbered_rows, surplus
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import DUPLICATE, PRIMARY
from sitegen.compute.formats import day_text
from sitegen.compute.limits import limits
from sitegen.compute.results.screening import Comparison, Exceedance
from sitegen.compute.results.store import stored_results
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.findings.problems import Finding, Touch
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey, rows
from sitegen.project.tables import StatedLevel, StatedRate
from sitegen.units import CONCENTRATION_UNITS
from sitegen.voice import worded


def editions(survey: Survey) -> Iterator[Finding]:
    """A set of levels says its edition, and is not old."""
    limit = limits(survey.settings)["screening_age_years"]
    report = survey.settings.project.report_date
    table = survey.tables["screening_levels"]
    for name, levels in table.frame.groupby("level_set", sort=True):
        where = table.where(levels.index[0], "edition_date")
        undated = levels[levels["edition_date"] == ""]
        if len(undated):
            first = table.where(undated.index[0], "edition_date")
            found = worded("{levels} of {name} without an edition", levels=number_of(len(undated), "level"), name=name)
            yield find("level-undated", str(name), first, found, worded("the date of the edition"), kind="level_set")
        dates = sorted(set(levels["edition_date"]) - {""})
        if dates and (report - date.fromisoformat(dates[0])).days > limit.value * 365.25:
            found = worded("an edition of {date}", date=day_text(dates[0]))
            wanted = worded("at most {limit} before {date}", limit=limit.text, date=day_text(report))
            yield find("level-old", str(name), where, found, wanted, kind="level_set")


def soil_levels(survey: Survey) -> Iterator[Finding]:
    """Levels for soil media are never compared with a mass."""
    table = survey.tables["screening_levels"]
    levels = table.frame[table.frame["medium"].isin(SOIL_MEDIA)]
    for (name, medium), group in levels.groupby(["level_set", "medium"], sort=True):
        yield find(
            "level-not-comparable",
            f"{name}+{medium}",
            table.where(group.index[0], "medium"),
            worded(
                "{levels} for {medium} in {name}",
                levels=number_of(len(group), "level"),
                medium=worded(str(medium).replace("_", " ")),
                name=name,
            ),
            worded("levels for media with concentrations; a mass per sampler is not a concentration"),
            kind="level_set",
        )


def attenuation(survey: Survey) -> Iterator[Finding]:
    """An attenuation factor has a source."""
    table = survey.tables["screening_levels"]
    bad = table.frame["attenuation_factor"].notna() & (table.frame["attenuation_source"] == "")
    for at, row in numbered_rows(table, bad, StatedLevel):
        yield find(
            "attenuation-unsourced",
            key_of(table, at),
            row.origin.where("attenuation_source"),
            worded("the factor {factor:g} without a source", factor=row.attenuation_factor),
            worded("the source of the factor"),
            kind="level_set",
        )
    yield from surplus("attenuation-unsourced", table, bad, "attenuation_source")


def rate_sources(survey: Survey) -> Iterator[Finding]:
    """An uptake rate says how old it is, and for which exposures it holds."""
    table = survey.tables["uptake_rates"]
    for column, lacks in (
        ("source_date", worded("the date of its source")),
        ("days_max", worded("the exposure durations it is valid for")),
    ):
        blank = (table.frame[column] == "") if column == "source_date" else table.frame[column].isna()
        for at in first_numbers(blank):
            yield find(
                "rate-incomplete",
                f"{key_of(table, at)}+{column}",
                table.where(at, column),
                worded("a rate without {lacks}", lacks=lacks),
                lacks,
                kind="rate",
            )
        yield from surplus("rate-incomplete", table, blank, column)


def rate_exposures(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A rate is used for the exposures that it holds for."""
    names = compound_names(survey)
    rates = dict(iter(survey.frame("uptake_rates").groupby(["sampler_type", "medium"])))
    for p in evaluation.placements:
        given = rates.get((p.sampler_type, p.medium))
        if p.exposure_days is None or not p.recovered or given is None:
            continue
        out = given[(given["days_min"] > p.exposure_days) | (given["days_max"] < p.exposure_days)]
        if len(out):
            (first,) = rows(out.head(1), StatedRate)
            yield find(
                "rate-out-of-range",
                p.sampler_id,
                p.origin.where("retrieved_at"),
                worded(
                    "{days:.1f} days, with {rates} valid for other exposure durations ({names})",
                    days=p.exposure_days,
                    rates=number_of(len(out), "uptake rate"),
                    names=enumeration(names.get(analyte, analyte) for analyte in out["analyte_id"]),
                ),
                worded(
                    "{least:g} to {most:g} days, as in uptake_rates.csv",
                    least=first.days_min,
                    most=first.days_max,
                ),
                kind="sampler",
                touches=[Touch(p.sampler_id, name) for name in out["analyte_id"]],
            )


def rates_for_levels(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A compound with a level for an air medium has an uptake rate, so that it can be compared."""
    media = {p.medium for p in evaluation.placements if p.recovered}
    table = survey.tables["screening_levels"]
    rates = survey.frame("uptake_rates")
    names = compound_names(survey)
    rated = set(zip(rates["analyte_id"], rates["medium"], strict=True))
    air = table.frame[
        table.frame["medium"].isin(media - set(SOIL_MEDIA)) & table.frame["unit"].isin(CONCENTRATION_UNITS)
    ]
    given = {
        m
        for m, unit in zip(evaluation.primary["medium"], evaluation.primary["unit"], strict=True)
        if unit in CONCENTRATION_UNITS
    }
    for (name, medium), group in air.groupby(["level_set", "medium"], sort=True):
        without = group[[(a, medium) not in rated for a in group["analyte_id"]]].drop_duplicates("analyte_id")
        if len(without) and medium not in given:
            compounds = enumeration(names.get(analyte, analyte) for analyte in without["analyte_id"])
            yield find(
                "level-without-rate",
                f"{name}+{medium}",
                table.where(without.index[0], "analyte_id"),
                worded(
                    "{compounds} with a level but no uptake rate: {names}",
                    compounds=number_of(len(without), "compound"),
                    names=compounds,
                ),
                worded("an uptake rate for {medium}", medium=worded(str(medium).replace("_", " "))),
                kind="level_set",
            )


def above_levels(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A concentration lies at or below the levels on file for its compound and medium."""
    above = evaluation.exceedances
    names = compound_names(survey)
    samples = {over.concentration.lab_sample_id for over in above}
    store = evaluation.measured
    by_key = {row.key: row for row in stored_results(store[store["lab_sample_id"].isin(samples)])}
    for over in above:
        found = over.concentration
        row = by_key[found.lab_sample_id, found.analyte_id]
        yield find(
            "above-screening-level",
            f"{over.location_id}+{found.analyte_id}",
            row.origin.where("value"),
            worded(
                "a mean {compound} concentration of {value} µg/m³ in {medium}{beside}",
                compound=names.get(found.analyte_id, found.analyte_id),
                value=rounded_text(found.ug_m3),
                medium=worded(found.medium.replace("_", " ")),
                beside=_beside(over, row.role),
            ),
            worded("at most {limit}", limit="; ".join(map(_level_text, over.above))),
            kind="location",
            touches=[Touch(row.sampler_id, found.analyte_id)],
        )


def _beside(over: Exceedance, role: str) -> str:
    """Say what else was found at the point, "" where one sampler was there."""
    if not over.others:
        return ""
    others = ", ".join(rounded_text(c.ug_m3) if c.detected else f"<{rounded_text(c.rl_ug_m3)}" for c in over.others)
    by = {DUPLICATE: worded("by the duplicate"), PRIMARY: worded("by the primary sampler")}.get(role, "")
    return worded(" {by} (other results there: {others})", by=by, others=others)


def _level_text(one: Comparison) -> str:
    """Write a level with what it is for: ``8.0 µg/m³ (EX-1, residential)``."""
    level = one.level
    return f"{as_reported(level.ug_m3)} µg/m³ ({', '.join(part for part in (level.level_set, level.land_use) if part)})"


RULES = (editions, soil_levels, attenuation, rate_sources)
EVALUATION_RULES = (rate_exposures, rates_for_levels, above_levels)
