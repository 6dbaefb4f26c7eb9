"""Custody forms: one for each shipment out, for each return bag and for the shipment back, with their samplers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sitegen.compute.design.allocation import Use
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit.boxes import Node, box_words, number, shown
from sitegen.fieldwork.kit.inplace import open_tasks, record
from sitegen.fieldwork.kit.serials import known_serials
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, ReturnBag, Sampler, Shipment


def custody_forms(survey: Survey, plan: FieldPlan) -> Node:
    """Return what the template of the custody forms draws: each form with what is known of it and its rows."""
    items = _items(survey, plan)
    bags = dict.fromkeys(item["bag"] for item in items if item["bag"])
    return {
        "forms": [
            *_outward(survey, items),
            *(_bag(survey, str(bag), [item for item in items if item["bag"] == bag]) for bag in bags),
            _homeward(survey, [str(bag) for bag in bags]),
        ],
        "zone": survey.time_zone,
        "words": {
            **box_words("shipments", ("seal_condition", "items_declared", "items_received", "carrier_ref")),
            **box_words("return_bags", ("seal_applied", "sealed_at", "sealed_by", "count_declared", "trip_blank_id")),
            **box_words("custody", ("signature", "organisation", "place")),
        },
    }


def _items(survey: Survey, plan: FieldPlan) -> list[Node]:
    """Return each sampler, in walking order, with its serial and bag where these are on record.

    They are those of the plan, less duplicates that were placed elsewhere, and those on record that the plan has not.
    """
    known = record(survey)
    left = {task.label for task in open_tasks(survey, plan)}
    serials = known_serials(survey)
    labels = {serial: label for label, serial in serials.items()}
    placed: dict[tuple[str, Use], list[Deployment]] = {}
    for row in known.rows:
        if known.use(row) != "field_blank":
            placed.setdefault((row.location_id, known.use(row)), []).append(row)
    bags = {row.sampler_id: row.bag_id for row in known.rows if row.bag_id}
    bags |= {row.trip_blank_id: row.bag_id for row in survey.rows(ReturnBag) if row.trip_blank_id}
    found = []
    for slot in plan.allocation.slots:
        own = placed.get((slot.location_id, slot.use))
        first = own.pop(0) if own else None
        serial = first.sampler_id if first else serials.get(slot.label, "")
        if first or slot.use != "field_duplicate" or slot.label in left:
            found.append(_item(slot.label, slot.use, serial, bags.get(serial, slot.bag_id)))
    planned = {slot.location_id: slot.bag_id for slot in plan.allocation.of("sample")}
    for (location_id, use), beyond in placed.items():
        for row in beyond:
            bag = row.bag_id or planned.get(location_id, "")
            found.append(_item(labels.get(row.sampler_id, location_id), use, row.sampler_id, bag))
    return found


def _item(label: str, use: str, serial: str, bag: str) -> Node:
    return {"label": label, "use": use, "use_shown": shown(use), "serial": serial, "bag": bag}


def _outward(survey: Survey, items: list[Node]) -> Iterator[Node]:
    """Yield a form for each shipment that came out to the field, or one to fill in where none is on record."""
    shipments = [row for row in survey.rows(Shipment) if row.direction == "out"]
    samplers = survey.rows(Sampler)
    labels = {str(item["serial"]): item for item in items if item["serial"]}
    for row in shipments:
        sent = [_sent(one, labels) for one in samplers if one.shipment_id == row.shipment_id]
        yield {"kind": "out", "name": row.shipment_id, "rows": sent or items, "known": _known(row)}
    if not shipments:
        yield {"kind": "out", "name": "", "rows": items, "known": {}}


def _sent(row: Sampler, items: Mapping[str, Node]) -> Node:
    """Return a sampler as the laboratory sent it; its label is the plan's where the plan has one."""
    item = items.get(row.sampler_id)
    return {
        "label": row.label or (item["label"] if item else ""), "use": row.kind, "use_shown": shown(row.kind),
        "serial": row.sampler_id, "bag": "",
    }  # fmt: skip


def _bag(survey: Survey, bag: str, rows: list[Node]) -> Node:
    """Return the form of a bag, its trip blank last; one that is not known yet has boxes."""
    blanks = [row for row in rows if row["use"] == "trip_blank"]
    rows = [row for row in rows if row["use"] != "trip_blank"] + (blanks or [_item("", "trip_blank", "", bag)])
    on_record = next((row for row in survey.rows(ReturnBag) if row.bag_id == bag), None)
    known: Node = {}
    if on_record:
        known = {"seal": on_record.seal_applied, "sealed_at": on_record.sealed_at, "sealed_by": on_record.sealed_by}
    return {"kind": "bag", "name": bag, "rows": rows, "known": known}


def _homeward(survey: Survey, bags: list[str]) -> Node:
    back = [row for row in survey.rows(Shipment) if row.direction == "return"]
    seals = {row.bag_id: row.seal_applied for row in survey.rows(ReturnBag)}
    rows: list[Node] = [{"bag": bag, "seal": seals.get(bag, "")} for bag in bags]
    one = back[0] if len(back) == 1 else None
    return {"kind": "return", "name": one.shipment_id if one else "", "rows": rows, "known": _known(one) if one else {}}


def _known(row: Shipment) -> Node:
    texts = ("carrier_ref", "packed_at", "received_at", "seal_received", "seal_condition")
    counts = {"items_declared": row.items_declared, "items_received": row.items_received}
    known: Node = {name: getattr(row, name) for name in texts}
    return known | {name: number(value) for name, value in counts.items()} | {"seal": row.seal_outer}
