"""The tables of the field work, begun: what the plan knows is in them, what only the field can know is blank.

``tables/<name>.csv`` has the columns of the format and may take the place of the folder's own file: it begins with
every row that the folder has, as received, so that nothing is lost. After these come rows of the plan, where the
plan knows enough for a row:

============== ====================================================================================
samplers       each label without a sampler on record, with its kind. Its serial is blank until a
               person types it, and a folder with such a row stops there: by design, and nowhere else
return_bags    each bag, with the serial of its trip blank where that is on record
shipments      one out and one back, where the folder has none of that direction
deployments    none: a row needs its serial and the time of placing
custody        none: a row needs the time of the event
============== ====================================================================================

Each is written with the delimiter and in the encoding that project.toml states for the folder's own file.

For the last two ``deployments_to_fill.csv`` and ``custody_to_fill.csv`` have a row for each that is awaited. They
are no tables of the folder. Once their blanks are filled their rows go below those of the table; columns that
begin with ``x_`` are carried along and read by nobody, and keep what was planned apart from what was done.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TypeAlias

from sitegen.compute.design.allocation import Slot
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit.inplace import open_tasks
from sitegen.fieldwork.kit.serials import known_serials
from sitegen.findings.problems import WrongUse, no_formula
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLE, CustodyEvent, ReturnBag, Sampler, Shipment
from sitegen.render.data.exports import csv_lines

Row: TypeAlias = Mapping[str, str]

HOW_TO_USE = (
    "Enter each serial number next to its label in tables/samplers.csv, copy the file to the project folder field/, "
    "and make the kit again: all other tables then contain the serial numbers. Where that file already has serial "
    "numbers without labels, enter the label there and delete the row with the label only. The tables begin with the "
    "rows in the folder; rows of tables/deployments_to_fill.csv and tables/custody_to_fill.csv are copied to "
    "field/deployments.csv and field/custody.csv once completed. Leave blank what was not done."
)
"""What a person does with the tables; the kit prints it."""

_DEPTHS = ("depth_ft", "depth_m")


def prefilled_tables(survey: Survey, plan: FieldPlan) -> dict[str, bytes]:
    """Return the tables by their paths in the kit."""
    serials = known_serials(survey)
    return {
        "tables/samplers.csv": _table(survey, "samplers", _samplers(survey, plan)),
        "tables/deployments.csv": _table(survey, "deployments", ()),
        "tables/deployments_to_fill.csv": _to_fill(survey, "deployments", _placings(survey, plan, serials)),
        "tables/return_bags.csv": _table(survey, "return_bags", _bags(survey, plan, serials)),
        "tables/shipments.csv": _table(survey, "shipments", _shipments(survey)),
        "tables/custody.csv": _table(survey, "custody", ()),
        "tables/custody_to_fill.csv": _to_fill(survey, "custody", _hand_overs(survey)),
    }


def _samplers(survey: Survey, plan: FieldPlan) -> list[Row]:
    known = {row.label for row in survey.rows(Sampler)}
    return [{"label": slot.label, "kind": slot.use} for slot in plan.allocation.slots if slot.label not in known]


def _placings(survey: Survey, plan: FieldPlan, serials: Mapping[str, str]) -> list[Row]:
    """Return a row for each sampler that is still to be placed; a field blank is opened where the crew decides."""
    depths = {point.location_id: point.depth_text for point in plan.points}
    awaited = {task.label for task in open_tasks(survey, plan) if task.row is None}
    slots = [slot for slot in plan.allocation.slots if slot.label in awaited]
    return [_placing(slot, serials, depths.get(slot.location_id, "")) for slot in slots]


def _placing(slot: Slot, serials: Mapping[str, str], depth: str) -> Row:
    return {
        "sampler_id": serials.get(slot.label, ""),
        "location_id": slot.location_id,
        "duplicate_of": serials.get(slot.parent, ""),
        "x_label": slot.label,
        "x_kind": slot.use,
        "x_duplicate_of_label": slot.parent,
        "x_planned_depth": depth,
        "x_planned_bag": slot.bag_id,
    }


def _bags(survey: Survey, plan: FieldPlan, serials: Mapping[str, str]) -> list[Row]:
    """Return the plan's bags that the folder lacks; none where the folder has bags by names of its own."""
    known = {row.bag_id for row in survey.rows(ReturnBag)}
    blanks = plan.allocation.of("trip_blank")
    if known and not known & {slot.bag_id for slot in blanks}:
        return []
    return [
        {"bag_id": slot.bag_id, "trip_blank_id": serials.get(slot.label, ""), "x_trip_blank_label": slot.label}
        for slot in blanks
        if slot.bag_id not in known
    ]


def _shipments(survey: Survey) -> list[Row]:
    known = {row.direction for row in survey.rows(Shipment)}
    ways = (("SHIPMENT-OUT", "out"), ("SHIPMENT-RETURN", "return"))
    return [{"shipment_id": name, "direction": way} for name, way in ways if way not in known]


def _hand_overs(survey: Survey) -> list[Row]:
    """Return the hand-overs that are not on record: the crew takes over what came, and gives a carrier what goes."""
    known = {(row.subject_id, row.event) for row in survey.rows(CustodyEvent)}
    ways = [(row.shipment_id, row.direction) for row in survey.rows(Shipment)]
    ways += [(row["shipment_id"], row["direction"]) for row in _shipments(survey)]
    return [
        {"subject_kind": "shipment", "subject_id": name, "event": event}
        for name, way in ways
        for event in (("received",) if way == "out" else ("relinquished", "accepted"))
        if (name, event) not in known
    ]


def _table(survey: Survey, name: str, more: Iterable[Row]) -> bytes:
    """Write a table's rows as the folder has them, then those of the plan."""
    received = survey.tables[name].received
    count = max((len(column) for column in received.values()), default=0)
    rows: list[Row] = [{column: texts[at] for column, texts in received.items()} for at in range(count)]
    return _csv(survey, name, [*rows, *more])


def _to_fill(survey: Survey, name: str, rows: Iterable[Row]) -> bytes:
    return _csv(survey, name, list(rows))


def _csv(survey: Survey, name: str, rows: list[Row]) -> bytes:
    """Write rows under the columns of the format, then the further ones that a row has."""
    used = dict.fromkeys(column for row in rows for column in row)
    unit = survey.plan.depth.unit if survey.plan.depth else "ft"
    spare = {depth for depth in _DEPTHS if depth not in used and depth != f"depth_{'m' if unit == 'm' else 'ft'}"}
    columns = [column for column in TABLE[name].column_names if column not in spare]
    columns += [column for column in used if column not in columns]
    how = survey.settings.files.get(TABLE[name].path, FilePart())
    return _encoded(name, columns, ([_cell(row.get(column, "")) for column in columns] for row in rows), how)


def _encoded(name: str, columns: Iterable[str], lines: Iterable[Iterable[str]], how: FilePart) -> bytes:
    """Write CSV as the folder's own file is said to be. Raises WrongUse where its encoding lacks a character."""
    text = csv_lines(columns, lines, how.delimiter).decode()
    try:
        return text.encode(how.encoding)
    except UnicodeEncodeError as error:
        sign = text[error.start]
        raise WrongUse(f"{TABLE[name].path} is in {how.encoding}, which has no {sign!r}; save it as UTF-8") from error


def _cell(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula; a number stays one."""
    try:
        float(text)
    except ValueError:
        return no_formula(text)
    return text
