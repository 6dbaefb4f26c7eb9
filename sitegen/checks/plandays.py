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
            "plan-without-days", "plan", where, f"no {', '.join(missing)}", "the days of installation and retrieval"
        )


def days_in_order(survey: Survey) -> Iterator[Finding]:
    """The days of a plan follow one another."""
    named = list(stated_days(survey).items())
    for (before, first), (after, second) in pairwise(named):
        if second < first:
            where = setting_where(survey, f"plan.{after}")
            yield find("plan-days-reversed", after, where, f"{second}", f"a day not before {before}, {first}")


def exposures(survey: Survey) -> Iterator[Finding]:
    """The first and the last sampler are to be exposed for as long as the plan asks."""
    days, in_force = stated_days(survey), limits(survey.settings)
    low, high = in_force["exposure_days_min"], in_force["exposure_days_max"]
    for which, begin, end in (("first", *DAYS[::2]), ("last", *DAYS[1::2])):
        if begin not in days or end not in days or days[end] < days[begin]:
            continue
        length = (days[end] - days[begin]).days
        if not low.value <= length <= high.value:
            yield find(
                "planned-exposure-out",
                f"plan.{end}",
                setting_where(survey, f"plan.{end}"),
                f"{number_of(length, 'day')} for the {which} sampler, installed {days[begin]}, retrieved {days[end]}",
                f"{low.value:g} to {high.value:g} days",
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
                found = f"{day}, a planned day of {word}, is a closed day"
                yield find(
                    "planned-on-closed-day", f"{word}+{day}", where, found, f"days of {word} that are not closed"
                )


def clocks(survey: Survey) -> Iterator[Finding]:
    """A change of the clocks during the planned exposure is told beforehand."""
    days = stated_days(survey)
    if DAYS[0] not in days or DAYS[3] not in days:
        return
    for change in clock_changes(survey.time_zone, days[DAYS[0]], days[DAYS[3]]):
        word = "forward" if change.minutes > 0 else "back"
        found = f"the clocks go {word} by {abs(change.minutes)} min on {day_text(change.day)} in {survey.time_zone}"
        where = setting_where(survey, "project.time_zone")
        yield find(
            "clocks-change",
            f"{change.day}",
            where,
            found,
            "careful recording of times on that day; durations are computed in UTC",
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
            f"prepared {day_text(row.prepared_on)}, {(last - date.fromisoformat(row.prepared_on)).days} days before "
            f"{day_text(last)}, the last planned day of retrieval",
            f"at most {limit.text} ({limit.source})",
            kind="sampler",
        )
    yield from surplus("samplers-past-shelf-life", table, bad, "prepared_on")


RULES = (days_stated, days_in_order, exposures, closed, clocks, shelf_life)
