"""Invented journeys of samplers, with what their custody must be, minute by minute, known while they are made.

A journey is drawn step by step, each step with the state that it leads to. What comes out are the
tables of a folder, rows in any order, and for each sampler the states that were true.
"""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from in_memory import folder_of

from sitegen.compute.custody.walk import CARRIER, HELD, IN_PLACE, LABORATORY, STORED, UNHELD, UNRECORDED
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLES

ZONE = "America/Chicago"
BEGIN = int(datetime(2025, 10, 31, 14, 0, tzinfo=UTC).timestamp() // 60)
"""Clocks go back on 2 November, under way or in the ground."""
SETTINGS = f"""
[project]
id = "J-1"
title = "Journey"
site = "Nowhere"
client = "Nobody"
prepared_by = "Nobody"
revision = 1
status = "draft"
report_date = 2025-12-31
time_zone = "{ZONE}"
[space]
crs = "EPSG:32614"
[plan]
locations = 2
[lab]
name = "None"
"""
SAMPLERS = ("S-1", "S-2")
BAG, OUT, BACK = "B-1", "O-1", "R-1"


def local(utc: int) -> str:
    """Write UTC minutes as local time with its offset."""
    moment = datetime.fromtimestamp(utc * 60, UTC).astimezone(ZoneInfo(ZONE))
    return moment.isoformat(timespec="minutes")


@dataclass(frozen=True)
class Leg:
    """A hand-over: what of it is on record, on what level, and how long it takes.

    ``level`` is ``box`` (of the shipment), ``each`` (of every thing inside) or ``one`` (of one of them).
    """

    wait: int
    given: bool
    taken: bool
    named: bool
    delay: int
    level: str = "box"
    scanned: bool = False


@dataclass(frozen=True)
class Plan:
    """What a journey is made of."""

    out: tuple[Leg, Leg]
    bag: Leg
    back: tuple[Leg, Leg]
    stored: bool
    sealed: bool
    ground: tuple[int, int]
    seed: int


@dataclass
class Journey:
    """The tables of a journey, and of each sampler the states that it went through, each from its minute on."""

    tables: dict[str, list[dict[str, str]]] = field(default_factory=dict)
    lines: dict[str, list[tuple[int, str, str]]] = field(default_factory=dict)
    now: int = BEGIN
    number: int = 0

    def row(self, table: str, **values: str) -> None:
        """Add a row to a table."""
        self.tables.setdefault(table, []).append(values)

    def event(self, kind: str, name: str, event: str, by: str, to: str = "") -> None:
        """Add a custody row at the present minute."""
        self.number += 1
        self.row(
            "custody", event_id=f"E-{self.number}", subject_kind=kind, subject_id=name, event=event,
            at=local(self.now), by_role=by, to_role=to, organisation="Carrier" if by.startswith("CR") else "Other",
            signature="ink",
        )  # fmt: skip

    def true(self, state: str, holder: str = "", *names: str) -> None:
        """Note what is true of samplers from now on."""
        for name in names or SAMPLERS:
            self.lines.setdefault(name, []).append((self.now, state, holder))


def held(role: str) -> tuple[str, str]:
    """Return the state of what a role has taken."""
    return (CARRIER if role.startswith("CR") else HELD), role


def hand_over(j: Journey, leg: Leg, subject: tuple[str, str], things: list[tuple[str, str]], roles: list[str]) -> bool:
    """Hand a thing from the first role to the second; return whether any of it is on record."""
    giver, taker, word = roles
    j.now += leg.wait
    on = {"box": [subject], "each": things, "one": things[:1]}[leg.level]
    if leg.given:
        for one in on:
            j.event(*one, "relinquished", giver, taker if leg.named else "")
        j.true(UNRECORDED)
    j.now += leg.delay
    if leg.taken:
        for one in on:
            j.event(*one, "carrier_scan" if leg.scanned and taker.startswith("CR") else word, taker)
        j.true(*held(taker))
    return leg.given or leg.taken


def journey(plan: Plan) -> Journey:
    """Make a journey from the laboratory into the ground and back."""
    j = Journey()
    _out(j, plan)
    _ground(j, plan)
    _back(j, plan)
    for rows in j.tables.values():
        random.Random(plan.seed).shuffle(rows)  # noqa: S311 - the order of rows, no secret
    return j


def _trip(j: Journey, legs: tuple[Leg, Leg], name: str, things: list[tuple[str, str]], roles: list[str]) -> None:
    """Hand over a shipment twice, and receive it; its row says when it was packed and received."""
    first, carrier, last, word = roles
    packed = j.now
    before = {sampler: len(line) for sampler, line in j.lines.items()}
    recorded = hand_over(j, legs[0], ("shipment", name), things, [first, carrier, "accepted"])
    j.now += legs[1].wait
    if legs[1].given:
        j.event("shipment", name, "relinquished", carrier, last if legs[1].named else "")
        j.true(UNRECORDED)
    j.now += legs[1].delay
    if legs[1].taken:
        j.event("shipment", name, word, last)
    if not recorded and not legs[1].given:
        for sampler in SAMPLERS:
            j.lines[sampler].insert(before[sampler], (packed, UNRECORDED, ""))
    if legs[1].taken or word == "lab_received":
        j.true(HELD, last if legs[1].taken else LABORATORY)
    else:
        j.true(UNHELD)
    j.row(
        "shipments", shipment_id=name, direction="return" if name == BACK else "out", packed_at=local(packed),
        received_at=local(j.now),
    )  # fmt: skip


def _out(j: Journey, plan: Plan) -> None:
    j.event("shipment", OUT, "sealed", "LB-1")
    j.true(HELD, "LB-1")
    _trip(j, plan.out, OUT, [("sampler", name) for name in SAMPLERS], ["LB-1", "CR-1", "FS-1", "received"])
    if plan.stored:
        j.event("shipment", OUT, "stored", "FS-1")
        j.true(STORED, "FS-1")
        j.now += 600
        j.event("shipment", OUT, "removed", "FS-1")
        j.true(HELD, "FS-1")
    for at, name in enumerate(SAMPLERS, start=1):
        j.row("samplers", sampler_id=name, kind="sample", shipment_id=OUT, outcome="used")
        j.row("locations", location_id=f"P-{at}", medium="soil_gas", status="placed")


def _ground(j: Journey, plan: Plan) -> None:
    for at, name in enumerate(SAMPLERS, start=1):
        j.now += 7
        placed = j.now
        j.true(IN_PLACE, "", name)
        j.row(
            "deployments", sampler_id=name, location_id=f"P-{at}", placed_at=local(placed), placed_by="FS-1",
            retrieved_at=local(placed + plan.ground[0]), retrieved_by="FS-1", bag_id=BAG, condition="intact",
        )  # fmt: skip
        j.lines[name].append((placed + plan.ground[0], HELD, "FS-1"))
    j.now += plan.ground[0] + plan.ground[1]


def _back(j: Journey, plan: Plan) -> None:
    j.event("bag", BAG, "sealed", "FS-1")
    j.row("return_bags", bag_id=BAG, shipment_id=BACK, sealed_at=local(j.now), sealed_by="FS-1", seal_applied="77")
    j.true(HELD, "FS-1")
    hand_over(j, plan.bag, ("bag", BAG), [("bag", BAG)], ["FS-1", "PM-1", "accepted"])
    j.now += 30
    if plan.sealed:
        j.event("shipment", BACK, "sealed", "PM-1")
        j.true(HELD, "PM-1")
    _trip(j, plan.back, BACK, [("bag", BAG)], ["PM-1", "CR-2", "LB-1", "lab_received"])
    j.now += 15
    j.event("bag", BAG, "stored", "LB-1")
    j.true(STORED, "LB-1")
    j.now += 100
    j.event("bag", BAG, "disposed", "LB-1")


def folder(tables: Mapping[str, list[dict[str, str]]]) -> Folder:
    """Return the folder of a journey, in memory."""
    files = {"project.toml": SETTINGS.encode()}
    for spec in TABLES:
        if spec.name in tables:
            out = io.StringIO(newline="")
            writer = csv.DictWriter(out, spec.column_names, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(tables[spec.name])
            files[spec.path] = out.getvalue().encode()
    return folder_of(files)
