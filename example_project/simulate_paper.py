"""The survey's paper: shipments, custody, clearance, departures, weather, photos, transcripts.

Who does what is written as role codes only; organisations are invented.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import simulate_field as field
from simulate_base import Row, bell, minute, png_bytes, stream, wall
from simulate_ground import points

LAB = "Example Laboratory (invented)"
CREW = "Example Field Group (invented)"
CARRIER = "Carrier (invented)"
ORGANISATION = {"LB-1": LAB, "LB-2": LAB, "FS-1": CREW, "FS-2": CREW, "PM-1": CREW, "CR": CARRIER}
DENVER, CHICAGO = "America/Denver", "America/Chicago"
SEAL_READ = {"RB-1": "448231", "RB-2": "448216"}
"""Seal numbers as the laboratory read them: two digits of RB-1's have changed places."""


def shipment_rows() -> list[Row]:
    """Give ``field/shipments.csv``: the case out, the case back."""
    issued = str(len(field.sampler_rows()))
    back = str(sum(row["outcome"] != "lost" for row in field.sampler_rows()))
    return [
        _shipment(
            "SH-O1 out CR-000417 2025-10-20T15:12 771020 2025-10-22T10:41 America/Chicago",
            issued, "Case dry and closed, list ticked off.", "records/custody_form_1.txt",
        ),
        _shipment(
            "SH-R1 return CR-000422 2025-11-07T09:14 771188 2025-11-10T09:32 America/Denver",
            back, "Seal of bag RB-1 reads 448231, form says 448213. Seal whole.",
            "records/receipt_1.txt",
        ),
    ]  # fmt: skip


def _shipment(line: str, items: str, note: str, scan_file: str) -> Row:
    names = ("shipment_id", "direction", "carrier_ref", "packed_at", "seal_outer", "received_at", "tz")
    row = dict(zip(names, line.split(), strict=True))
    return row | {
        "items_declared": items,
        "items_received": items,
        "seal_received": row["seal_outer"],
        "seal_condition": "intact",
        "receipt_note": note,
        "chilled": "no",
        "scan_file": scan_file,
    }


# --- custody --------------------------------------------------------------------------

Event = tuple[str, str, str, str, str, Row]

CABINET = {"place": "depot office, locked cabinet"}
OFFICE = {"place": "field group's office, locked store"}
FORM_1 = {"scan_file": "records/custody_form_1.txt"}
FORM_2 = {"scan_file": "records/custody_form_2.txt"}
RECEIPT = {"scan_file": "records/receipt_1.txt", "tz": DENVER}

OUTWARD: tuple[Event, ...] = (
    ("SH-O1", "released", "2025-10-20T14:12", "LB-1", "", {"tz": DENVER, "seal_number": "771020",
     "place": "laboratory", **FORM_1}),
    ("SH-O1", "relinquished", "2025-10-20T15:05", "LB-1", "CR",
     {"tz": DENVER, "place": "laboratory", **FORM_1}),
    ("SH-O1", "accepted", "2025-10-20T15:05", "CR", "", {"tz": DENVER,
     "signature": "electronic", "place": "laboratory"}),
    ("SH-O1", "carrier_scan", "2025-10-21T05:48", "CR", "", {"signature": "electronic",
     "place": "carrier depot"}),
    ("SH-O1", "relinquished", "2025-10-22T10:41", "CR", "FS-1", {"signature": "electronic",
     "place": "Former Kesterly Depot"}),
    ("SH-O1", "received", "2025-10-22T10:41", "FS-1", "", {"seal_number": "771020",
     "seal_condition": "intact", "place": "Former Kesterly Depot", **FORM_1}),
    ("SH-O1", "stored", "2025-10-22T11:05", "FS-1", "", {**CABINET, **FORM_1}),
    ("SH-O1", "removed", "2025-10-23T07:41", "FS-1", "", {**CABINET, **FORM_1}),
    ("SH-O1", "stored", "2025-10-23T13:22", "FS-1", "",
     {**CABINET, "comment": "remaining samplers, trip blanks and spares"}),
    ("SH-O1", "removed", "2025-10-24T07:38", "FS-1", "", CABINET),
    ("SH-O1", "stored", "2025-10-24T13:36", "FS-1", "",
     {**CABINET, "comment": "trip blanks and spares"}),
    ("SH-O1", "removed", "2025-11-05T07:44", "FS-1", "",
     {**CABINET, "comment": "trip blanks and spares"}),
    ("SH-O1", "stored", "2025-11-05T16:52", "FS-1", "",
     {**CABINET, "comment": "second trip blank and spares"}),
    ("SH-O1", "removed", "2025-11-06T07:09", "FS-1", "",
     {**CABINET, "comment": "second trip blank and spares"}),
)  # fmt: skip

HOMEWARD: tuple[Event, ...] = (
    ("RB-1", "bagged", "2025-11-05T16:09", "FS-1", "", {**FORM_2, "comment": "counted by both"}),
    ("RB-1", "sealed", "2025-11-05T16:17", "FS-1", "", {**FORM_2, "seal_number": "448213"}),
    ("RB-1", "stored", "2025-11-05T16:52", "FS-1", "", {**CABINET, **FORM_2}),
    ("RB-1", "removed", "2025-11-06T07:09", "FS-1", "", {**CABINET, **FORM_2}),
    ("RB-1", "relinquished", "2025-11-06T07:26", "FS-1", "PM-1", FORM_2),
    ("RB-1", "accepted", "2025-11-06T07:26", "PM-1", "", {**FORM_2, "signature": "none",
     "comment": "box on the form left empty"}),
    ("RB-1", "stored", "2025-11-06T08:03", "PM-1", "", OFFICE),
    ("RB-2", "bagged", "2025-11-06T15:58", "FS-1", "", {**FORM_2, "comment": "counted by both"}),
    ("RB-2", "sealed", "2025-11-06T16:08", "FS-1", "", {**FORM_2, "seal_number": "448216"}),
    ("RB-2", "relinquished", "2025-11-06T17:20", "FS-1", "PM-1",
     {**FORM_2, "place": "field group's office", "comment": "left at the front desk for PM-1"}),
    ("RB-2", "accepted", "2025-11-06T19:30", "PM-1", "",
     {**FORM_2, "place": "field group's office"}),
    ("RB-2", "stored", "2025-11-06T19:38", "PM-1", "", OFFICE),
    ("RB-1", "removed", "2025-11-07T08:51", "PM-1", "", OFFICE),
    ("RB-2", "removed", "2025-11-07T08:51", "PM-1", "", OFFICE),
    ("SH-R1", "sealed", "2025-11-07T09:14", "PM-1", "", {**FORM_2, "seal_number": "771188"}),
    ("SH-R1", "relinquished", "2025-11-07T10:05", "PM-1", "CR", FORM_2),
    ("SH-R1", "accepted", "2025-11-07T10:05", "CR", "", {"signature": "electronic"}),
    ("SH-R1", "carrier_scan", "2025-11-08T04:27", "CR", "", {"signature": "electronic",
     "place": "carrier depot"}),
    ("SH-R1", "lab_received", "2025-11-10T09:32", "LB-1", "", {**RECEIPT,
     "seal_number": "771188", "seal_condition": "intact", "place": "laboratory"}),
    ("RB-1", "seal_checked", "2025-11-10T09:41", "LB-1", "", {**RECEIPT,
     "seal_number": SEAL_READ["RB-1"], "seal_condition": "intact"}),
    ("RB-2", "seal_checked", "2025-11-10T09:44", "LB-1", "", {**RECEIPT,
     "seal_number": SEAL_READ["RB-2"], "seal_condition": "intact"}),
    ("RB-1", "stored", "2025-11-10T10:06", "LB-1", "", {**RECEIPT, "place": "laboratory store"}),
    ("RB-2", "stored", "2025-11-10T10:06", "LB-1", "", {**RECEIPT, "place": "laboratory store"}),
    ("RB-1", "removed", "2025-11-17T07:40", "LB-2", "",
     {"tz": DENVER, "place": "laboratory store"}),
    ("RB-2", "removed", "2025-11-18T07:40", "LB-2", "",
     {"tz": DENVER, "place": "laboratory store"}),
)  # fmt: skip


def custody_rows() -> list[Row]:
    """Give ``field/custody.csv`` in order of time, across both zones."""
    events = (*OUTWARD, *HOMEWARD, *_sampler_events())
    ordered = sorted(events, key=_moment)
    return [_event_row(number, event) for number, event in enumerate(ordered, start=1)]


def _moment(event: Event) -> datetime:
    behind = timedelta(hours=1) if event[5].get("tz") == DENVER else timedelta()
    return wall(event[2]) + behind


def _sampler_events() -> list[Event]:
    serials = {visit.label: visit.sampler_id for visit in field.visits()}
    early = serials[field.EARLY]
    events: list[Event] = [
        (early, "retrieved", minute(field.EARLY_OUT), "FS-1", "", {}),
        (early, "stored", "2025-10-28T07:31", "FS-1", "", CABINET),
        (early, "removed", "2025-11-05T07:44", "FS-1", "", CABINET),
        (early, "bagged", "2025-11-05T07:58", "FS-1", "", {"comment": "into RB-1"}),
    ]
    for spare in field.SPARE_SERIALS.values():
        events += [
            (spare, "relinquished", "2025-11-06T07:26", "FS-1", "PM-1", FORM_2),
            (spare, "accepted", "2025-11-06T07:26", "PM-1", "", FORM_2),
            (spare, "stored", "2025-11-06T08:03", "PM-1", "", OFFICE),
            (spare, "removed", "2025-11-07T08:51", "PM-1", "", {**OFFICE, "comment": "in SH-R1"}),
        ]
    used_up = {"tz": DENVER, "place": "laboratory", "comment": "sorbent spent"}
    for label in ("SG-50", "SG-28", "SG-29"):
        events.append((serials[label], "disposed", "2025-12-09T14:20", "LB-2", "", used_up))
    return events


def _event_row(number: int, event: Event) -> Row:
    subject, what, at, by_role, to_role, more = event
    kinds = {"SH": "shipment", "RB": "bag"}
    return {
        "event_id": f"E-{number:04d}",
        "subject_kind": kinds.get(subject[:2], "sampler"),
        "subject_id": subject,
        "event": what,
        "at": at,
        "tz": CHICAGO,
        "by_role": by_role,
        "organisation": ORGANISATION[by_role],
        "to_role": to_role,
        "signature": "ink",
        **more,
    }


# --- clearance, departures, weather -----------------------------------------------------


def clearance_rows() -> list[Row]:
    """Give ``field/clearance.csv``: the public tickets; the second covers the added point."""
    planned = [p.location_id for p in points() if p.surface != "NA" and p.design != "added"]
    whole = "public utilities, whole depot and the western verge, to 6 ft"
    return [
        _ticket("OB-25-10417", "2025-10-17T09:12", "2025-10-21T08:00", whole, planned),
        _ticket("OB-25-10436", "2025-10-20T11:40", "2025-10-23T08:00",
                "private locate by cable and pipe finder, south wall of the laundry", ["SG-52"]),
    ]  # fmt: skip


def _ticket(ticket: str, asked: str, start: str, scope: str, covered: list[str]) -> Row:
    return {
        "ticket": ticket,
        "requested_at": asked,
        "valid_from": start,
        "valid_to": "2025-11-14T23:59",
        "scope": scope,
        "location_ids": ";".join(covered),
    }


DEPARTURES: tuple[tuple[str, str, str, str, str, str], ...] = (
    ("2025-10-23", "plan 4.2", "SG-27 moved 1.8 m north of its peg",
     "peg on the paint mark of a power cable", "none expected", "SG-27"),
    ("2025-10-24", "plan 4.1", "SG-07 not drilled", "soil stockpile over the peg",
     "no result at the south-east corner of the grid", "SG-07"),
    ("2025-10-24", "plan 4.1", "SG-52 added", "capped pipe end seen at the laundry's south wall",
     "one point more than planned", "SG-52"),
    ("2025-10-28", "plan 4.5", "SG-30 pulled after five days",
     "paving contractor booked for the strip", "less mass than a full exposure gives", "SG-30"),
    ("2025-11-05", "plan 4.6", "SG-26 came up with a cracked cap", "broken on lifting",
     "vapour may have entered or left between hole and bag", "SG-26"),
    ("2025-11-06", "plan 4.6", "SG-37 came up with water in the vial",
     "water in the hole under the parking after the rain",
     "uptake hindered, the result may be low", "SG-37"),
    ("2025-11-06", "plan 4.5", "SG-21 not recovered", "marker lost to mowing, not found",
     "no result at this point", "SG-21"),
)  # fmt: skip


def deviation_rows() -> list[Row]:
    """Give ``field/deviations.csv``. The shallow refusal at SG-16 has no row: it was forgotten."""
    serials = {visit.label: visit.sampler_id for visit in field.visits()}
    names = ("date", "plan_ref", "what", "why", "effect", "affected_ids")
    rows: list[Row] = []
    for number, item in enumerate(DEPARTURES, start=1):
        row = dict(zip(names, item, strict=True))
        subject = row["affected_ids"]
        if subject in serials:
            row["affected_ids"] = f"{subject};{serials[subject]}"
        signed = {"agreed_by_role": "PM-1", "agreed_on": row["date"]}
        rows.append({"deviation_id": f"DV-{number}", **row, **signed})
    return rows


RAIN_MM = {
    "2025-10-29T06:00": 1.8, "2025-10-29T09:00": 4.6, "2025-10-29T12:00": 7.2,
    "2025-10-29T15:00": 6.0, "2025-10-29T18:00": 3.4, "2025-10-29T21:00": 1.6,
    "2025-10-30T00:00": 0.8, "2025-11-03T06:00": 1.4, "2025-11-03T09:00": 1.2,
}  # fmt: skip
PRESSURE_HPA = (
    (wall("2025-10-23T00:00"), 957.0), (wall("2025-10-26T00:00"), 953.5),
    (wall("2025-10-28T09:00"), 961.0), (wall("2025-10-29T15:00"), 943.0),
    (wall("2025-10-31T00:00"), 956.0), (wall("2025-11-03T09:00"), 950.5),
    (wall("2025-11-05T00:00"), 958.0), (wall("2025-11-07T00:00"), 955.0),
)  # fmt: skip
DAY_SWING_C = (-3.0, -4.0, -4.5, -1.0, 4.0, 5.5, 2.0, -1.0)


def weather_rows() -> list[Row]:
    """Give ``field/weather.csv``: every three hours by the wall clock, station pressure."""
    rng = stream("weather")
    start = wall("2025-10-23T00:00")
    times = [start + timedelta(hours=3 * step) for step in range(15 * 8 + 1)]
    return [
        {
            "at": minute(at),
            "rain_mm": f"{RAIN_MM.get(minute(at), 0.0):.1f}",
            "temperature_c": f"{7.5 + DAY_SWING_C[at.hour // 3] + 0.8 * bell(rng):.1f}",
            "pressure_hpa": f"{_pressure_hpa(at) + 0.1 * bell(rng):.1f}",
            "pressure_kind": "station",
            "source": "logger of the field group (invented)",
            "station": "Ostrel Bend water works (invented)",
            "distance_km": "3.4",
        }
        for at in times
    ]


def _pressure_hpa(at: datetime) -> float:
    for (early, low), (late, high) in pairwise(PRESSURE_HPA):
        if early <= at <= late:
            return low + (high - low) * ((at - early) / (late - early))
    return PRESSURE_HPA[-1][1]


# --- photos and transcripts ---------------------------------------------------------------

PHOTOS: tuple[tuple[str, str, str, str, str, str], ...] = (
    ("SG-35", "2025-10-23T10:53", "NW", "Patched hole in the loading pad",
     "Grey concrete with a round patch the width of a hand", "yes"),
    ("SG-37", "2025-11-06T11:49", "down", "Parking surface with standing water",
     "Dark asphalt, wet, with a small hole in the middle", "yes"),
    ("SG-52", "2025-10-24T11:15", "N", "Ground at the capped pipe end",
     "Brown bare soil with a round pipe end", "yes"),
    ("IA-02", "2025-10-23T12:37", "E", "Floor of the store room, with a paint tin",
     "Pale floor with one round tin", "no"),
)  # fmt: skip
TONES = {"SG-35": (150, 150, 146), "SG-37": (74, 76, 80), "SG-52": (136, 104, 72)}


def photo_rows() -> list[Row]:
    """Give ``field/photos.csv``; the pictures are drawn, and their texts say so."""
    names = ("location_id", "taken_at", "direction", "caption", "alt_text", "publish")
    rows = [dict(zip(names, item, strict=True)) for item in PHOTOS]
    for row in rows:
        row["file"] = f"photos/{row['location_id'].lower()}.png"
        row["caption"] += " (drawn for the example)"
        row["alt_text"] = f"Drawn texture: {row['alt_text'].lower()}, and a half-metre scale bar."
    return rows


def photo_bytes(location_id: str) -> bytes:
    """Draw one ground texture with a round spot and a scale bar, 224 by 126 pixels.

    >>> photo_bytes("SG-35")[1:4]
    b'PNG'
    """
    rng = stream("photo", location_id)
    blotch = np.kron(rng.random((18, 32)), np.ones((7, 7)))
    shade = 2 + (6 * blotch + 6 * rng.random((126, 224))).astype(np.uint8)
    y, x = np.mgrid[0:126, 0:224]
    shade[(x - 112) ** 2 + (y - 56) ** 2 < 18**2] //= 2
    shade[108:118, 12:112], shade[110:116, 14:62], shade[110:116, 62:110] = 0, 15, 1
    red, green, blue = TONES.get(location_id, (196, 190, 176))
    light = [40 + 8 * step for step in range(15)]
    palette = [tuple(min(255, c * k // 100) for c in (red, green, blue)) for k in light]
    return png_bytes(shade, [(r, g, b) for r, g, b in palette] + [(255, 255, 255)])


def transcripts() -> dict[str, str]:
    """Give the plain-text files that stand in for scans, by path.

    Field comments are left out: they stand word for word in the deployments.
    """
    lines: dict[str, list[str]] = {}
    for row in custody_rows():
        if scan_file := row.get("scan_file"):
            lines.setdefault(scan_file, []).append(_custody_line(row))
    for row in field.deployment_rows():
        lines.setdefault(row["scan_file"], []).append(_hole_line(row))
    return {path: _transcript(path, page) for path, page in lines.items()}


def _transcript(path: str, page: list[str]) -> str:
    title = path.removeprefix("records/").removesuffix(".txt").replace("_", " ").capitalize()
    head = (title, "Invented. This transcript stands in for the scan of a paper form.", "")
    return "\n".join((*head, *page, ""))


def _custody_line(row: Row) -> str:
    to = f" to {row['to_role']}" if row["to_role"] else ""
    seal = f", seal {row['seal_number']}" if row.get("seal_number") else ""
    signed = "not signed" if row["signature"] == "none" else f"signed ({row['signature']})"
    who = f"{row['event']} by {row['by_role']}{to}{seal}, {signed}"
    return f"{row['at']} {row['tz']}  {row['subject_id']:8}  {who}"


def _hole_line(row: Row) -> str:
    times = f"in {row['placed_at']}  out {row['retrieved_at']:16}"
    return f"{row['sampler_id']}  {row['location_id']:5}  {times}  depth {row['depth_ft']} ft"
