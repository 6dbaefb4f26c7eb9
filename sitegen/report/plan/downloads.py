"""The plan to download: its points, its samplers and its utility tickets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from sitegen.compute.design.allocation import Slot
from sitegen.compute.design.fieldplan import PlannedPoint
from sitegen.project.schema import MEDIA
from sitegen.project.tables import TABLE, Ticket
from sitegen.report.data.exports import columns_export, findings_export
from sitegen.report.data.records import custody_export, departures_export, filled_export, limits_export
from sitegen.report.data.signs import state_style
from sitegen.report.field.surveyed import place_crs, place_of
from sitegen.report.plan.points import Planned, in_plan
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Meta
from sitegen.report.record.specs import INTEGER, NUMBER, Spec, Value, export
from sitegen.report.write.context import Context
from sitegen.report.write.fields import location_field
from sitegen.report.write.words import lexicon, say
from sitegen.voice import worded

_TIES = 2


def plan_exports(context: Context, meta: Meta, points: Sequence[Planned]) -> tuple[ExportTable, ...]:
    """Return the tables to download, first the one that explains the others; empty ones of the record are left out."""
    records = (departures_export(context), custody_export(context), limits_export(context), filled_export(context))
    tables = (
        points_export(context, points),
        allocation_export(context),
        tickets_export(context),
        findings_export(context),
        *(one for one in records if one.rows),
    )
    return (columns_export(context, tables, meta), *tables)


def points_export(context: Context, points: Sequence[Planned]) -> ExportTable:
    """Return every point of the plan, its position blank where none is on record."""
    planned = in_plan(context, points)
    states = tuple(dict.fromkeys(context.state_of(one.row) for one in planned))
    return export(
        "planned_points",
        say("plan.points_title"),
        say("plan.points_note"),
        [*_point_fields(context), *_place_fields(context), *_tie_fields()],
        planned,
        lon="longitude",
        lat="latitude",
        places=tuple(place_of(context, context.points.get(one.location_id)) for one in planned),
        crs=place_crs(context),
        key=("location_id",),
        styles=(state_style(say("takeaway.states_name"), say("takeaway.states_style"), "state", states),),
    )


def _point_fields(context: Context) -> list[Spec[Planned]]:
    column = TABLE["locations"].column
    return [
        location_field(),
        Spec("order", type=INTEGER, meaning="position in the walking order, from 1", value=lambda one: one.number),
        Spec("medium", meaning="medium", value=lambda one: one.row.medium, choices=MEDIA),
        Spec("design", meaning="design of the point", value=lambda one: one.row.design,
             choices=column("design").choices),
        Spec("rationale", meaning="rationale of the point", value=lambda one: one.row.rationale),
        Spec("state", meaning="state of the point", value=lambda one: context.state_of(one.row), required=True,
             choices=tuple(lexicon("labels")["state"])),
        Spec("surface", meaning="surface", value=lambda one: one.row.surface, choices=column("surface").choices),
        _place_field("surface_thickness", "thickness of paving or slab", "in", lambda at: at.surface_thickness_in),
        Spec("building", meaning="building it is in or next to", value=lambda one: one.row.building),
        Spec("planned_depth", meaning="planned depth with its unit; empty for air",
             value=lambda one: one.place.depth_text if one.place else ""),
        Spec("duplicate", meaning="field sample ID of its planned duplicate", value=lambda one: one.duplicate),
    ]  # fmt: skip


def _place_fields(context: Context) -> list[Spec[Planned]]:
    code = context.survey.settings.space.crs
    return [
        _place_field("easting", "easting (longitude where crs is geographic) as the plan gives it", "as in project_crs",
                     lambda at: at.easting),
        _place_field("northing", "northing (latitude) as the plan gives it", "as in project_crs",
                     lambda at: at.northing),
        Spec("project_crs", meaning="coordinate reference system of easting and northing",
             value=lambda one: code if one.place else ""),
        _place_field("x", "easting on the map grid", "m", lambda at: round(at.x_m, 3)),
        _place_field("y", "northing on the map grid", "m", lambda at: round(at.y_m, 3)),
        _place_field("longitude", "WGS 84", "degrees", lambda at: at.longitude),
        _place_field("latitude", "WGS 84", "degrees", lambda at: at.latitude),
    ]  # fmt: skip


def _place_field(key: str, meaning: str, unit: str, value: Callable[[PlannedPoint], float | None]) -> Spec[Planned]:
    """Return a column of a number at a place, empty where no position or no number is on record."""
    told = worded("{meaning}; empty where none is on record", meaning=worded(meaning))
    return Spec(key, unit=unit, type=NUMBER, meaning=told,
                value=lambda one: value(one.place) if one.place else None)  # fmt: skip


def _tie_fields() -> Iterator[Spec[Planned]]:
    """Yield the columns of the fixed features that a point is measured from, and of the nearest utility."""
    for at in range(_TIES):
        number = at + 1
        yield _tie_field(
            f"tie_{number}", worded("fixed feature {number} to measure from", number=number), "", at, "name"
        )
        yield _tie_field(
            f"tie_{number}_distance",
            worded("distance from fixed feature {number}", number=number),
            "m",
            at,
            "distance_m",
        )
        yield _tie_field(f"tie_{number}_direction", "direction from the feature to the point", "", at, "direction")
    yield Spec("nearest_utility", meaning="nearest mapped utility",
               value=lambda one: one.utility.name if one.utility else "")  # fmt: skip
    yield Spec("utility_distance", unit="m", type=NUMBER, meaning="its distance; empty where none is mapped",
               value=lambda one: one.utility.distance_m if one.utility else None)  # fmt: skip


def _tie_field(key: str, meaning: str, unit: str, at: int, name: str) -> Spec[Planned]:
    def value(one: Planned) -> Value:
        ties = one.place.ties if one.place else ()
        found: Value = getattr(ties[at], name) if at < len(ties) else (None if unit else "")
        return found

    return Spec(key, unit=unit, type=NUMBER if unit else "string", meaning=meaning, value=value)


def allocation_export(context: Context) -> ExportTable:
    """Return every sampler of the plan."""
    fields: list[Spec[Slot]] = [
        Spec("label", meaning="field sample ID", value=lambda slot: slot.label, required=True),
        Spec("use", meaning="type of sampler", value=lambda slot: slot.use, required=True,
             choices=TABLE["samplers"].column("kind").choices),
        location_field("point; empty for blanks and spares", required=False),
        Spec("duplicate_of", meaning="field sample ID of its primary", value=lambda slot: slot.parent),
        Spec("bag_id", meaning="return bag; empty for spares", value=lambda slot: slot.bag_id),
    ]  # fmt: skip
    slots = context.evaluation.plan.allocation.slots
    return export("planned_samplers", say("plan.allocation_title"), say("plan.allocation_note"), fields, slots,
                  key=("label",))  # fmt: skip


def tickets_export(context: Context) -> ExportTable:
    """Return the utility tickets as recorded."""
    fields: list[Spec[Ticket]] = [
        Spec("ticket", meaning="ticket number", value=lambda row: row.ticket, required=True),
        Spec("requested_at", meaning="time of the request", value=lambda row: row.requested_at),
        Spec("valid_from", meaning="start of validity", value=lambda row: row.valid_from),
        Spec("valid_to", meaning="end of validity", value=lambda row: row.valid_to),
        Spec("scope", meaning="scope of the ticket", value=lambda row: row.scope),
        Spec("location_ids", meaning="points covered; empty for all", value=lambda row: row.location_ids),
    ]
    rows = context.survey.rows(Ticket)
    note = say("plan.tickets_export_note")
    return export("utility_tickets", say("plan.tickets_title"), note, fields, rows, key=("ticket",))
