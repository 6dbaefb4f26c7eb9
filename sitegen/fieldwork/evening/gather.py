"""The evening page's records, worked out from a survey; nothing here asks a clock."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import NamedTuple

from sitegen.checking import Checked
from sitegen.compute.field.exposure import FIELD_BLANK, IN_PLACE, NOT_RETRIEVED, Placement, placements
from sitegen.compute.field.idranges import id_ranges
from sitegen.compute.field.stage import stage
from sitegen.compute.field.standing import PLANNED, point_states, standing_samplers
from sitegen.compute.limits import limits
from sitegen.fieldwork.evening.conflicts import open_conflicts, told_conflicts
from sitegen.fieldwork.evening.findings import by_section
from sitegen.fieldwork.evening.record import Bag, Day, Evening, Exposure, InPlace, Latest, Sent, Unplaced, Unused
from sitegen.fieldwork.takein.originals import PLACE
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Deployment, Location, Photo, ReturnBag, Sampler, Shipment


class _Moment(NamedTuple):
    """A time on record: its minute, as it was written, where, what happened, and who did it."""

    utc: float
    text: str
    where: str
    event: str
    by: str = ""


def evening(checked: Checked, survey: Survey) -> Evening:
    """Return what is open at the end of the latest day on record."""
    placed = placements(survey)
    moments = tuple(_moments(survey))
    latest = _latest(survey, moments)
    shortest, longest = (limits(survey.settings)[f"exposure_days_{end}"] for end in ("min", "max"))
    project = survey.settings.project
    return Evening(
        project=project.id,
        title=project.title,
        site=project.site,
        stage=stage(survey),
        digest=survey.digest[:8],
        latest=latest,
        counts=_counts(survey, placed, moments),
        days=tuple(_days(moments)),
        unplaced=tuple(_unplaced(survey, placed)),
        in_place=tuple(_in_place(placed, latest, shortest.value)),
        unused=tuple(_unused(survey)),
        exposures=tuple(_exposures(placed, shortest.value, longest.value)),
        exposure_limits=(shortest.text, longest.text),
        bags=tuple(_bags(survey)),
        shipments=tuple(_shipments(survey)),
        conflicts=open_conflicts(survey.folder),
        findings=by_section(checked),
        evaluated=checked.evaluation is not None,
    )


def _moments(survey: Survey) -> Iterator[_Moment]:
    """Yield the times of the field record; readings of weather and what a laboratory did are none of the crew's."""
    for row in survey.rows(Deployment):
        yield _Moment(row.placed_at_utc, row.placed_at, _at(row, "placed_at"), "placed", row.placed_by)
        yield _Moment(row.retrieved_at_utc, row.retrieved_at, _at(row, "retrieved_at"), "retrieved", row.retrieved_by)
    for bag in survey.rows(ReturnBag):
        yield _Moment(bag.sealed_at_utc, bag.sealed_at, _at(bag, "sealed_at"), "bags_sealed", bag.sealed_by)
    for event in survey.rows(CustodyEvent):
        yield _Moment(event.at_utc, event.at, _at(event, "at"), "hand_overs", event.by_role)
    for photo in survey.rows(Photo):
        yield _Moment(photo.taken_at_utc, photo.taken_at, _at(photo, "taken_at"), "photographs")
    for sent in survey.rows(Shipment):
        yield _Moment(sent.packed_at_utc, sent.packed_at, _at(sent, "packed_at"), "")
        yield _Moment(sent.received_at_utc, sent.received_at, _at(sent, "received_at"), "")


def _at(row: Deployment | ReturnBag | CustodyEvent | Photo | Shipment, column: str) -> str:
    return str(row.origin.where(column))


def _latest(survey: Survey, moments: Iterable[_Moment]) -> Latest:
    """Return the latest time on record, the report's date where there is none."""
    last = max((one for one in moments if not math.isnan(one.utc)), key=lambda one: one.utc, default=None)
    if last is None:
        day = survey.settings.project.report_date
        return Latest(day, day.isoformat(), "")
    return Latest(date.fromisoformat(last.text[:10]), last.text, last.where)


def _counts(survey: Survey, placed: Sequence[Placement], moments: Iterable[_Moment]) -> dict[str, int]:
    """Return on how many records each section rests."""
    files = survey.folder.files
    return {
        "points": len(survey.rows(Location)),
        "placed": len(placed),
        "samplers": len(survey.rows(Sampler)),
        "times": sum(not math.isnan(one.utc) for one in moments),
        "exposures": sum(one.exposure_min is not None and one.role != FIELD_BLANK for one in placed),
        "bags": len(survey.rows(ReturnBag)),
        "photographs": len(survey.rows(Photo)),
        "pictures": sum(path.startswith("photos/") for path in files),
        "shipments": len(survey.rows(Shipment)),
        "exports": sum(path.startswith(PLACE) and path.endswith(".json") for path in files),
        "told": told_conflicts(survey.folder),
    }


def _days(moments: Iterable[_Moment]) -> Iterator[Day]:
    """Yield what is on record for each day, by its date as written."""
    dated = sorted((one for one in moments if not math.isnan(one.utc) and one.event), key=lambda one: one.text[:10])
    for day, own in groupby(dated, lambda one: one.text[:10]):
        of_day = list(own)
        count = Counter(one.event for one in of_day)
        people = tuple(sorted({one.by for one in of_day} - {""}))
        yield Day(
            day, count["placed"], count["retrieved"], count["bags_sealed"], count["hand_overs"], count["photographs"],
            people,
        )  # fmt: skip


def _unplaced(survey: Survey, placed: Sequence[Placement]) -> Iterator[Unplaced]:
    """Yield the points without a sampler of which nobody says that they are not done, by medium."""
    states = point_states(survey, standing_samplers(placed))
    missing = [row for row in survey.rows(Location) if states[row.location_id] == PLANNED]
    for medium, said in dict.fromkeys((row.medium, row.status == "placed") for row in missing):
        rows = [row for row in missing if (row.medium, row.status == "placed") == (medium, said)]
        points = ", ".join(id_ranges(row.location_id for row in rows))
        yield Unplaced(medium, len(rows), points, said, _rows_at([row.origin for row in rows]))


def _rows_at(origins: Sequence[Origin]) -> str:
    """Name the rows of one file.

    >>> _rows_at([Origin("field/samplers.csv", row) for row in (2, 5, 6, 7)])
    'field/samplers.csv, rows 2, 5 to 7'
    """
    numbers = id_ranges(str(origin.row) for origin in origins)
    sheet = f", sheet {origins[0].sheet}" if origins[0].sheet else ""
    return f"{origins[0].file}{sheet}, {'row' if len(origins) == 1 else 'rows'} {', '.join(numbers)}"


def _in_place(placed: Iterable[Placement], latest: Latest, shortest_days: float) -> Iterator[InPlace]:
    """Yield the samplers without a retrieval on record, the first due first; field blanks are to be closed at once."""
    still = [one for one in placed if one.state in (IN_PLACE, NOT_RETRIEVED)]
    for one in sorted(still, key=lambda one: (one.due_on, one.origin.row)):
        blank = one.role == FIELD_BLANK
        known = one.due_on != date.max
        start = _later(one.placed_at, shortest_days) if known else ""
        end = one.due_on.isoformat() if known else ""
        overdue = known and not blank and latest.day > one.due_on
        where = str(one.origin.where("retrieved_at"))
        yield InPlace(one.sampler_id, one.location_id, one.placed_at, start, end, overdue, blank, where)


def _later(placed_at: str, days: float) -> str:
    """Return the first day on which an exposure has lasted so many days.

    >>> _later("2025-10-24T09:20", 7)
    '2025-10-31'
    """
    return (date.fromisoformat(placed_at[:10]) + timedelta(days=math.ceil(days))).isoformat()


def _unused(survey: Survey) -> Iterator[Unused]:
    """Yield the samplers that were not placed, are no bag's trip blank, and of which no outcome is on record."""
    used = set(survey.frame("deployments")["sampler_id"]) | set(survey.frame("return_bags")["trip_blank_id"])
    idle = [row for row in survey.rows(Sampler) if row.sampler_id not in used and row.outcome in ("", "used")]
    for kind in dict.fromkeys(row.kind for row in idle):
        rows = [row for row in idle if row.kind == kind]
        places = [row.origin for row in rows]
        yield Unused(kind, len(rows), ", ".join(id_ranges(row.sampler_id for row in rows)), _rows_at(places))


def _exposures(placed: Iterable[Placement], shortest: float, longest: float) -> Iterator[Exposure]:
    """Yield the exposures outside the plan; an end before the beginning is told with the times."""
    for one in placed:
        days = one.exposure_days
        if days is None or one.role == FIELD_BLANK or not one.recovered:
            continue
        fault = "none" if days <= 0 else "short" if days < shortest else "long" if days > longest else ""
        if fault:
            where = str(one.origin.where("retrieved_at"))
            yield Exposure(one.sampler_id, one.location_id, _duration(one.exposure_min or 0), fault, where)


def _duration(minutes: int) -> str:
    """Write a duration to the minute, for two decimals of a day may read as the limit.

    >>> _duration(10_079), _duration(-61)
    ('6 d 23 h 59 min', '-0 d 1 h 1 min')
    """
    hours, rest = divmod(abs(minutes), 60)
    return f"{'-' if minutes < 0 else ''}{hours // 24} d {hours % 24} h {rest} min"


def _bags(survey: Survey) -> Iterator[Bag]:
    """Yield the return bags; a sampler that was not recovered is in none."""
    held = Counter(row.bag_id for row in survey.rows(Deployment) if row.condition != "not_recovered")
    for row in survey.rows(ReturnBag):
        counts = held[row.bag_id], _whole(row.count_declared)
        where = str(row.origin.where())
        yield Bag(row.bag_id, *counts, row.trip_blank_id, row.seal_applied, row.sealed_at, where)


def _shipments(survey: Survey) -> Iterator[Sent]:
    for row in survey.rows(Shipment):
        counts = _whole(row.items_declared), _whole(row.items_received)
        yield Sent(row.shipment_id, row.direction, row.packed_at, *counts, str(row.origin.where()))


def _whole(number: float) -> str:
    return "" if math.isnan(number) else f"{number:.0f}"
