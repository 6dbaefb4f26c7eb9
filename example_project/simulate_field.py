"""The crew's days: samplers issued, placed, retrieved and bagged.

Two people walk the points together, north half on the first day and south
half on the second, and retrieve in the same order two weeks later.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from simulate_base import Row, between, minute, stream, wall
from simulate_ground import Point, points

NORTH_FROM_M = 56.0
DAYS = {
    "RB-1": (wall("2025-10-23T08:11"), wall("2025-11-05T08:24")),
    "RB-2": (wall("2025-10-24T08:06"), wall("2025-11-06T08:33")),
}
"""Bag: first hole of the day of placing, first hole of the day of retrieving."""

DUPLICATED = ("SG-36", "SG-42", "SG-45")
LOST, EARLY, REFUSED, MOVED = "SG-21", "SG-30", "SG-16", "SG-27"
CRACKED, FLOODED = "SG-26", "SG-37"
EARLY_OUT = wall("2025-10-28T07:04")
TRIP_BLANKS = {"RB-1": "TB-1", "RB-2": "TB-2"}
SPARES = ("SP-1", "SP-2", "SP-3")
AIR = ("indoor_air", "outdoor_air")

COMMENTS = {
    "SG-02": "Gopher mounds about, hole made clear of them.",
    "SG-11": "Damp at 2 ft, hole stood open.",
    "SG-16": "Refusal at 1.6 ft, rubble. Second try 1 ft east the same. Set shallow.",
    "SG-17": "Slight smell of solvent from the hole.",
    "SG-21": "Flag gone and grass mown. Probed and searched 25 min with magnet, not found.",
    "SG-26": "Cap cracked across the top on lifting, re-capped from the spare kit.",
    "SG-27": "Moved 1.8 m north off the cable mark.",
    "SG-50": "Gate was locked, rang Varnhollow on 555-0142 to open it; began 20 min late.",
    "SG-30": "Paving contractor needs this strip on the 28th, pulled early at PM-1's word.",
    "SG-32": "Apron 5.5 in thick. Smell of old fuel in the drill dust.",
    "SG-35": "Strong sweet solvent smell on opening.",
    "SG-37": "About half an inch of water in the vial, sorbent wet on one side. Capped as found.",
    "SG-42": "Backfill is loose sand, hole caved twice, finished by hand.",
    "SG-45": "Black staining at 2.5 ft.",
    "SG-49": "Very close to the downpipe, ground wet.",
    "SG-52": "Extra hole, capped clay pipe end showing at the wall base. Position surveyed after.",
    "SS-01": "Through the slab and 4 in of stone, sleeved. Floor drain taped over first.",
    "IA-01": "On the shelf, about 4 ft up. Asked staff to leave the windows as usual.",
    "IA-02": "Cleaning products and a paint tin in this room, see the photo.",
    "OA-01": "On the fence under a rain hood.",
}
"""What the crew wrote at a point, word for word."""


@dataclass(frozen=True)
class Visit:
    """One sampler in one hole: who, when, and the bag it came home in."""

    sampler_id: str
    label: str
    point: Point
    bag_id: str
    placed: datetime
    retrieved: datetime | None
    placed_by: str
    retrieved_by: str
    duplicate_of: str = ""

    @property
    def exposure_days(self) -> float:
        """Days in the ground by the wall clock (0 where lost); for the truth, not the report."""
        if self.retrieved is None:
            return 0.0
        return (self.retrieved - self.placed).total_seconds() / 86400


def visits() -> tuple[Visit, ...]:
    """Give every sampler placed, in the order of placing.

    >>> visits()[0].sampler_id
    '0047102'
    """
    serial = iter(range(47102, 47200))
    days = (_day(bag_id, walk) for bag_id, walk in _walks().items())
    numbered = (replace(visit, sampler_id=f"{next(serial):07d}") for day in days for visit in day)
    return tuple(_tie_duplicates(list(numbered)))


def _walks() -> dict[str, list[Point]]:
    north: list[Point] = []
    south: list[Point] = []
    for point in points():
        if point.status == "placed":
            outlying = point.at_m[1] >= NORTH_FROM_M or point.medium in AIR
            (north if outlying else south).append(point)
    return {"RB-1": _walk_order(north, -1), "RB-2": _walk_order(south, 1)}


def _walk_order(stops: list[Point], heading: int) -> list[Point]:
    """Order stops in strips 24 m wide, to and fro; air points come last."""

    def key(point: Point) -> tuple[int, int, float]:
        strip = int((point.at_m[1] + 10) // 24) * heading
        forth = 1 if strip % 2 == 0 else -1
        return int(point.medium in AIR), strip, point.at_m[0] * forth

    return sorted(stops, key=key)


def _day(bag_id: str, walk: list[Point]) -> list[Visit]:
    rng = stream("walk", bag_id)
    into, out = DAYS[bag_id]
    day: list[Visit] = []
    for place, point in enumerate(walk):
        into, out = (_after_lunch(at) for at in (into, out))
        crew = ("FS-1", "FS-2") if place % 7 < 4 else ("FS-2", "FS-1")
        lost = point.location_id == LOST
        pulled = EARLY_OUT if point.location_id == EARLY else out
        visit = Visit(
            "", point.location_id, point, bag_id, into, None if lost else pulled,
            crew[0], "FS-1" if point.location_id == EARLY else crew[1],
        )  # fmt: skip
        day.append(visit)
        if point.location_id in DUPLICATED:
            day.append(_duplicate(visit))
        into += timedelta(minutes=between(rng, 6, 12))
        out += timedelta(minutes=between(rng, 6, 11))
    return day


def _after_lunch(at: datetime) -> datetime:
    return at + timedelta(minutes=34) if at.hour == 12 and at.minute < 12 else at


def _duplicate(visit: Visit) -> Visit:
    assert visit.retrieved is not None
    return replace(
        visit,
        label=f"{visit.label}-D",
        placed=visit.placed + timedelta(minutes=3),
        retrieved=visit.retrieved + timedelta(minutes=2),
        duplicate_of="primary",
    )


def _tie_duplicates(day: list[Visit]) -> list[Visit]:
    serials = {visit.label: visit.sampler_id for visit in day}
    return [
        replace(visit, duplicate_of=serials[visit.label.removesuffix("-D")]) if visit.duplicate_of else visit
        for visit in day
    ]


BLANK_SERIALS = {"TB-1": "0047101", "TB-2": "0047163"}
SPARE_SERIALS = {"SP-1": "0047160", "SP-2": "0047161", "SP-3": "0047162"}


def sampler_rows() -> list[Row]:
    """Give ``field/samplers.csv``: every serial issued, in the order of serials."""
    rows = [_placed_sampler(visit) for visit in visits()]
    rows += [_sampler(serial, label, "trip_blank") for label, serial in BLANK_SERIALS.items()]
    for label, serial in SPARE_SERIALS.items():
        spare = _sampler(serial, label, "spare")
        rows.append({**spare, "outcome": "returned_unused", "note": "unopened"})
    return sorted(rows, key=lambda row: row["sampler_id"])


def _placed_sampler(visit: Visit) -> Row:
    row = _sampler(visit.sampler_id, visit.label, "field_duplicate" if visit.duplicate_of else "sample")
    if visit.retrieved is None:
        row |= {"outcome": "lost", "note": "not found at retrieval"}
    return row


def _sampler(serial: str, label: str, kind: str) -> Row:
    return {
        "sampler_id": serial,
        "label": label,
        "kind": kind,
        "sampler_type": "T1",
        "lot": "0925-B",
        "prepared_on": "2025-10-17",
        "shipment_id": "SH-O1",
        "outcome": "used",
    }


def deployment_rows() -> list[Row]:
    """Give ``field/deployments.csv`` in the order of placing."""
    return [_deployment(visit) for visit in visits()]


def _deployment(visit: Visit) -> Row:
    lost = visit.retrieved is None
    return {
        "sampler_id": visit.sampler_id,
        "location_id": visit.point.location_id,
        "duplicate_of": visit.duplicate_of or "NA",
        "placed_at": minute(visit.placed),
        "retrieved_at": minute(visit.retrieved) if visit.retrieved else "NA",
        "bag_id": "NA" if lost else visit.bag_id,
        "condition": _condition(visit.point.location_id),
        "individually_bagged": "NA" if lost else "yes",
        "placed_by": visit.placed_by,
        "retrieved_by": "NA" if lost else visit.retrieved_by,
        "scan_file": f"records/field_sheet_{'1' if visit.bag_id == 'RB-1' else '2'}.txt",
        "scan_page": "1",
        "comment": "" if visit.duplicate_of else COMMENTS.get(visit.label, ""),
        **_hole(visit),
    }


def _condition(location_id: str) -> str:
    marked = {LOST: "not_recovered", CRACKED: "cap_damaged", FLOODED: "water_inside"}
    return marked.get(location_id, "intact")


HOLE_METHODS = {
    "interior_slab": "core_drill",
    "asphalt": "rotary_hammer",
    "concrete": "rotary_hammer",
}
"""Paved surfaces and how they are opened; bare ground takes a slide hammer."""


def _hole(visit: Visit) -> Row:
    point = visit.point
    if point.medium in AIR:
        blank = "depth_ft hole_diameter_in hole_method sleeve closure refusal moved_ft soil_type"
        return dict.fromkeys([*blank.split(), "moisture", "odour", "hole_restored"], "NA")
    rng = stream("hole", visit.label)
    paved = point.surface in HOLE_METHODS
    refused = point.location_id == REFUSED
    return {
        "depth_ft": "1.6" if refused else f"{2.9 + 0.1 * between(rng, 0, 2):.1f}",
        "hole_diameter_in": "1.5" if paved else "1.0",
        "hole_method": HOLE_METHODS.get(point.surface, "slide_hammer"),
        "sleeve": "yes" if paved else "no",
        "closure": "foil_and_patch" if paved else "foil_and_soil",
        "refusal": "yes" if refused else "no",
        "moved_ft": "5.9" if point.location_id == MOVED else "0.0",
        "hole_restored": "NA" if visit.retrieved is None else _restored(point.surface),
        **_soil(point, rng.random() < 0.25),
    }


def _restored(surface: str) -> str:
    return "temporary" if surface == "asphalt" else "yes"


def _soil(point: Point, wet: bool) -> Row:
    trench = point.rationale.startswith("sewer")
    pump = "pump" in point.rationale or point.location_id == "SG-32"
    solvent = point.location_id in ("SG-17", "SG-35", "SS-01", "SG-52")
    soil = "sand, backfill" if trench else "silty clay" if point.at_m[0] < 60 else "sandy silt"
    flooded = point.location_id == FLOODED
    return {
        "soil_type": "fill, rubble and silt" if point.location_id == REFUSED else soil,
        "moisture": "saturated" if flooded else "wet" if wet else "moist",
        "odour": "fuel" if pump else "solvent" if solvent else "none",
    }


def bag_rows() -> list[Row]:
    """Give ``field/return_bags.csv``; the counts leave out the trip blanks."""
    sealed = {"RB-1": "2025-11-05T16:17", "RB-2": "2025-11-06T16:08"}
    return [
        {
            "bag_id": bag_id,
            "trip_blank_id": BLANK_SERIALS[label],
            "seal_applied": SEALS[bag_id],
            "sealed_at": sealed[bag_id],
            "sealed_by": "FS-1",
            "count_declared": str(len(bagged(bag_id))),
            "shipment_id": "SH-R1",
            "note": BAG_NOTES[bag_id],
        }
        for bag_id, label in TRIP_BLANKS.items()
    ]


SEALS = {"RB-1": "448213", "RB-2": "448216"}
BAG_NOTES = {
    "RB-1": "North half, and the sampler pulled on 28 October",
    "RB-2": "South half. Bag lay in the truck bed from late morning, beside the fuel can",
}


def bagged(bag_id: str) -> list[Visit]:
    """Give the samplers that came home in a bag, its trip blank left out."""
    return [visit for visit in visits() if visit.bag_id == bag_id and visit.retrieved is not None]
