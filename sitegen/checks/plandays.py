"""The days of a plan: stated, in order, open, long enough apart, and within the samplers' shelf life."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import pairwise

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_rows, number_of, setting_where, surplus
from sitegen.compute.field.stage import stage
from sitegen.compute.formats import day_text
from sitegen.compute.limits import limits
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey
from sitegen.project.tables import Sampler
from sitegen.project.zones import clock_changes
from sitegen.voice import worded

DAYS = ("placing_from", "placing_to", "retrieving_from", "retrieving_to")
"""The days that a plan states, in their order."""


def stated_days(survey: Survey) -> dict[str, date]:
    """Return the days that the plan states, by name; none once a survey has returned."""
    days = {name: getattr(survey.plan, name) for name in DAYS if stage(survey) != "returned"}
    return {name: day for name, day in days.items() if day is not None}


def days_stated(survey: Survey) -> Iterator[Finding]:
    """A plan states the days of placing and retrieving."""
    missing = [name for name in DAYS if getattr(survey.plan, name) is None]
    if missing and stage(survey) == "planned":
        where = setting_where(survey, f"plan.{missing[0]}")
        yield find(
            "plan-without-days",
            "plan",
            where,
            worded("no {settings}", settings=", ".join(missing)),
            worded("the days of installation and retrieval"),
        )


def days_in_order(survey: Survey) -> Iterator[Finding]:
    """The days of a plan follow one another."""
    named = list(stated_days(survey).items())
    for (before, first), (after, second) in pairwise(named):
        if second < first:
            where = setting_where(survey, f"plan.{after}")
            yield find(
                "plan-days-reversed",
                after,
                where,
                f"{second}",
                worded("a day not before {before}, {first}", before=before, first=first),
            )


def exposures(survey: Survey) -> Iterator[Finding]:
    """The first and the last sampler are to be exposed for as long as the plan asks."""
    days, in_force = stated_days(survey), limits(survey.settings)
    low, high = in_force["exposure_days_min"], in_force["exposure_days_max"]
    for words, begin, end in (
        ("{days} for the first sampler, installed {placed}, retrieved {retrieved}", *DAYS[::2]),
        ("{days} for the last sampler, installed {placed}, retrieved {retrieved}", *DAYS[1::2]),
    ):
        if begin not in days or end not in days or days[end] < days[begin]:
            continue
        length = (days[end] - days[begin]).days
        if not low.value <= length <= high.value:
            yield find(
                "planned-exposure-out",
                f"plan.{end}",
                setting_where(survey, f"plan.{end}"),
                worded(
                    words,
                    days=number_of(length, "day"),
                    placed=days[begin],
                    retrieved=days[end],
                ),
                worded("{low:g} to {high:g} days", low=low.value, high=high.value),
            )


def closed(survey: Survey) -> Iterator[Finding]:
    """No day of placing or retrieving is one that the plan states as closed."""
    days = stated_days(survey)
    for word, begin, end in (("placing", *DAYS[:2]), ("retrieving", *DAYS[2:])):
        first = days.get(begin)
        last = days.get(end, first)
        for day in sorted(set(survey.plan.closed_days)):
            if first and last and first <= day <= last:
                where = setting_where(survey, "plan.closed_days")
                found = worded("{day}, a planned day of {work}, is a closed day", day=day, work=worded(word))
                yield find(
                    "planned-on-closed-day",
                    f"{word}+{day}",
                    where,
                    found,
                    worded("days of {work} that are not closed", work=worded(word)),
                )


def clocks(survey: Survey) -> Iterator[Finding]:
    """A change of the clocks during the planned exposure is told beforehand."""
    days = stated_days(survey)
    if DAYS[0] not in days or DAYS[3] not in days:
        return
    for change in clock_changes(survey.time_zone, days[DAYS[0]], days[DAYS[3]]):
        facts = {"minutes": abs(change.minutes), "day": day_text(change.day), "zone": survey.time_zone}
        found = (
            worded("the clocks go forward by {minutes} min on {day} in {zone}", **facts)
            if change.minutes > 0
            else worded("the clocks go back by {minutes} min on {day} in {zone}", **facts)
        )
        where = setting_where(survey, "project.time_zone")
        yield find(
            "clocks-change",
            f"{change.day}",
            where,
            found,
            worded("careful recording of times on that day; durations are computed in UTC"),
        )


def shelf_life(survey: Survey) -> Iterator[Finding]:
    """Samplers are retrieved within their shelf life."""
    last = stated_days(survey).get(DAYS[3])
    if last is None:
        return
    limit, table = limits(survey.settings)["shelf_days"], survey.tables["samplers"]
    prepared = table.frame["prepared_on"]
    days = prepared.map({text: (last - date.fromisoformat(text)).days for text in prepared.unique() if text})
    bad = days.astype("float64") > limit.value
    for row in first_rows(table, bad, Sampler):
        yield find(
            "samplers-past-shelf-life",
            row.sampler_id,
            row.origin.where("prepared_on"),
            worded(
                "prepared {prepared}, {days} days before {last}, the last planned day of retrieval",
                prepared=day_text(row.prepared_on),
                days=(last - date.fromisoformat(row.prepared_on)).days,
                last=day_text(last),
            ),
            worded("at most {limit} ({source})", limit=limit.text, source=limit.source),
            kind="sampler",
        )
    yield from surplus("samplers-past-shelf-life", table, bad, "prepared_on")


RULES = (days_stated, days_in_order, exposures, closed, clocks, shelf_life)
