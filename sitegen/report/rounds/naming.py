"""What rounds are called beside each other, and when their samplers were in place."""

from __future__ import annotations

from sitegen.compute.formats import day_text
from sitegen.compute.results.summary import Summary
from sitegen.report.write.context import Context
from sitegen.report.write.words import say


def round_name(context: Context, one: Context) -> str:
    """Return what a round of ``context.rounds`` is called, by its place among them where it has no name of its own."""
    return one.campaign.name or say("roundpictures.numbered", number=round_number(context, one))


def round_number(context: Context, one: Context) -> int:
    """Return the place of a round among ``context.rounds``, from 1."""
    return next(at for at, other in enumerate(context.rounds, start=1) if other is one)


def id_in(context: Context, one: Context, analyte_id: str) -> str:
    """Return the id that a round has for a compound of this one, as they were compared; "" where it is another's."""
    if one is context:
        return analyte_id
    points = [
        point for point in context.changes[round_number(context, one) - 1].points if point.analyte_id == analyte_id
    ]
    if any(point.reason == "compound" for point in points):
        return ""
    return next((point.before.analyte_id for point in points if point.before), analyte_id)


def soil_of(context: Context, one: Context, analyte_id: str) -> Summary | None:
    """Return a round's summary over all soil points of a compound of this one, None where it has no result there."""
    return one.evaluation.summaries.get((id_in(context, one, analyte_id), "soil"))


def field_days(one: Context) -> str:
    """Return when a round's samplers were placed and retrieved, as days of its zone; "" where no time is on record."""
    placed = [p.placed_utc for p in one.evaluation.placements if p.placed_utc >= 0]
    retrieved = [p.retrieved_utc for p in one.evaluation.placements if p.retrieved_utc is not None]
    if not placed:
        return ""
    first, last = _day(one, min(placed)), _day(one, max(retrieved)) if retrieved else ""
    return say("roundpictures.days", first=first, last=last, supplements=len(one.campaign.supplements))


def _day(one: Context, utc_min: float) -> str:
    return day_text(one.when(utc_min)[:10])


def rounds_of_unit(context: Context) -> tuple[Context, ...]:
    """Return the rounds whose masses are in this one's unit: others share no classes of mass with it."""
    return tuple(one for one in context.rounds if one.mass_unit == context.mass_unit)


def left_out(context: Context) -> list[str]:
    """Return what the rounds are called whose masses are in another unit."""
    return [round_name(context, one) for one in context.rounds if one.mass_unit != context.mass_unit]
