"""The field programme: planned days, exposure window, and which ticket covers which points on which day."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sitegen.compute.design.programme import FieldDay, Programme, points_of, programme
from sitegen.compute.field.idranges import id_ranges
from sitegen.compute.formats import day_text
from sitegen.project.tables import Ticket
from sitegen.report.record.pages import Block, Page, Prose, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

PAGE = Ref("page", "programme")


def programme_page(context: Context) -> Page:
    """Return the page on the field programme."""
    return Page(PAGE, worded("Field programme"), programme_lead(context), programme_blocks(context), group="Work plan")


def programme_lead(context: Context) -> str:
    """Say when samplers are to be placed and retrieved."""
    return say("plan.programme_lead", **_windows(programme(context.survey, context.evaluation.plan)))


def _windows(found: Programme) -> dict[str, str]:
    return {"placing": window_text(found.placing), "retrieving": window_text(found.retrieving)}


def window_text(days: tuple[date, date] | None) -> str:
    """Write a window of days, "" for none."""
    if days is None:
        return ""
    first, last = days
    return day_text(first) if first == last else say("plan.window", first=day_text(first), last=day_text(last))


@traced
def programme_blocks(context: Context) -> tuple[Block, ...]:
    """Return the days of the programme, the exposure that it allows, and the tickets."""
    found = programme(context.survey, context.evaluation.plan)
    return (
        Section("exposure", worded("Exposure"), (exposure(context, found),)),
        Section("days", worded("Field days"), (days_table(context, found),)),
        Section(
            "tickets", worded("Utility clearance tickets"), (tickets_table(context, found), prose("plan.tickets_note"))
        ),
    )


@traced
def exposure(context: Context, found: Programme) -> Prose:
    """Say how long samplers will be in place, beside what the plan asks for, and when clocks change meanwhile."""
    least, most = (context.evaluation.limits[f"exposure_days_{end}"] for end in ("min", "max"))
    days = found.exposure_days
    return prose(
        "plan.exposure",
        **_windows(found),
        days=days,
        least=least,
        most=most,
        short=bool(days and days[0] < least.value),
        long=bool(days and days[1] > most.value),
        changes=found.changes,
        zone=context.survey.time_zone,
        closed=", ".join(day_text(day) for day in found.closed),
    )


@traced
def days_table(context: Context, found: Programme) -> Table:
    """Return the planned days with the tickets that are valid on each."""
    columns: list[Spec[FieldDay]] = [
        Spec("day", "Day", cell=lambda one: _day(one.day)),
        Spec("work", "Work", cell=lambda one: worded(one.work)),
        Spec("closed", "Closed", cell=lambda one: worded("closed") if one.closed else "–"),
        Spec("whole", "Tickets valid all day", cell=lambda one: ", ".join(one.tickets) or "–"),
        Spec("part", "Tickets valid for part of the day", cell=lambda one: ", ".join(one.part) or "–"),
        Spec("uncovered", "Points with a planned hole and no ticket valid all day", kind="wide",
             cell=lambda one: _uncovered(context, one)),
    ]  # fmt: skip
    empty = say("plan.no_days")
    return table("field-days", say("plan.days_caption"), columns, found.days, empty=empty)


def _day(day: date) -> str:
    return say("plan.day", day=day, weekday=word("weekday", str(day.weekday())))


def _uncovered(context: Context, one: FieldDay) -> str:
    holes = sum(point.ground != "air" for point in context.evaluation.plan.points)
    if len(one.uncovered) == holes and holes:
        return say("plan.all_points")
    return _ranges(context, one.uncovered) or "–"


def _ranges(context: Context, names: tuple[str, ...]) -> str:
    """Write points as ranges where they appear under their own ids."""
    shown = id_ranges(names) if "location_ids" in allowed_classes(context.survey.settings.publish) else names
    return "; ".join(shown)


class _Covered(NamedTuple):
    """A ticket, and the planned days for all of which it is valid."""

    row: Ticket
    days: tuple[date, ...]


@traced
def tickets_table(context: Context, found: Programme) -> Table:
    """Return each ticket with its validity, its points, and the planned days that it covers."""
    columns: list[Spec[_Covered]] = [
        Spec("ticket", "Ticket", cell=lambda one: one.row.ticket),
        Spec("scope", "Scope", kind="wide", cell=lambda one: one.row.scope or "–"),
        Spec("points", "Points", kind="wide", cell=lambda one: _ranges(context, points_of(one.row)) or worded("all")),
        Spec("from", "Valid from", cell=lambda one: context.moment(one.row.valid_from_utc)),
        Spec("to", "Valid to", cell=lambda one: context.moment(one.row.valid_to_utc)),
        Spec("days", "Planned field days covered", kind="wide",
             cell=lambda one: ", ".join(day.isoformat() for day in one.days) or say("plan.no_day_covered")),
    ]  # fmt: skip
    tickets = [
        _Covered(row, tuple(day.day for day in found.days if row.ticket in day.tickets))
        for row in context.survey.rows(Ticket)
    ]
    return table("planned-tickets", say("plan.tickets_caption"), columns, tickets, empty=say("plan.no_tickets"))
