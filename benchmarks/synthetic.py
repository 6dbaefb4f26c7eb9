"""Write invented survey folders of any size: same number in, same bytes out.

    python benchmarks/synthetic.py 1000 /tmp/survey [--compounds 60]

Points stand on a square grid in open country; two made-up sources fall off with distance.
Nothing in it is real. A folder loads and computes without a stop.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

import numpy as np
from pyproj import Transformer

Row = tuple[object, ...]

SPACING_M = 20.0
EAST0, NORTH0 = 470_000.0, 4_770_000.0
CRS = "EPSG:32614"
ZONE = "America/Chicago"
PER_BAG = 30
PER_BATCH = 20
DUPLICATE_EVERY = 10
RL, MDL, TOP = 10.0, 2.5, 100_000.0
FIELD_GROUP, LABORATORY = "Example Field Group (invented)", "Example Laboratory (invented)"
METHOD = "thermal desorption, gas chromatography, mass spectrometry (EL-07, invented)"
PLACED_FROM = datetime(2025, 9, 8, 7, 0)  # noqa: DTZ001 - local wall-clock, as in the folder
EXPOSURE = timedelta(days=10)
GROUPS = ("chlorinated_ethenes", "chlorinated_other", "fuel_aromatics", "oxygenates", "pah", "other")

SETTINGS = """[project]
id = "KD-{points}"
title = "Survey of {points} points, Former Kesterly Depot (invented)"
site = "Former Kesterly Depot, Ostrel Bend (invented)"
client = "Ostrel Bend Redevelopment Board (invented)"
prepared_by = "Example Field Group (invented)"
revision = 1
status = "draft"
report_date = 2026-01-30
work_plan = "Work plan KD-WP-2, section 4 (invented)"
time_zone = "America/Chicago"

[space]
crs = "EPSG:32614"
foot = "international"

[plan]
locations = {points}
duplicate_rate = 0.1
samplers_per_bag = 30
depth = {{ value = 3.0, unit = "ft" }}
depth_tolerance = {{ value = 0.5, unit = "ft" }}
exposure_days_min = 7
exposure_days_max = 14
spacing = {{ value = 20.0, unit = "m" }}

[limits.hold_days]
value = 60
unit = "d"
source = "work plan KD-WP-2, section 5.1 (invented)"
kind = "plan"

[lab]
name = "Example Laboratory (invented)"
accreditation = "EX-0000 (invented)"
valid_from = 2025-01-01
valid_to = 2026-06-30
methods = ["thermal desorption, gas chromatography, mass spectrometry (EL-07, invented)"]

[publish]
level = "internal"

[signoff]
roles_required = ["PM-1", "LR-1"]
"""


@dataclass(frozen=True)
class Placed:
    """One sampler in the ground: its serial, its point's number, whether a duplicate, its bag."""

    serial: str
    point: int
    duplicate: bool
    bag: int


@dataclass(frozen=True)
class Plan:
    """What a folder of this size holds."""

    points: int
    compounds: int

    @cached_property
    def placed(self) -> tuple[Placed, ...]:
        """Every sampler, primaries and their duplicates side by side, bags filled in order."""
        spots = [(i, again) for i in range(self.points) for again in range(1 + (i % DUPLICATE_EVERY == 5))]
        return tuple(Placed(f"{n + 1:07d}", i, bool(again), n // PER_BAG) for n, (i, again) in enumerate(spots))

    @property
    def bags(self) -> int:
        """How many return bags there are."""
        return self.placed[-1].bag + 1

    @property
    def side(self) -> int:
        """How many points stand along a side of the grid."""
        return math.ceil(math.sqrt(self.points))

    @cached_property
    def digits(self) -> np.random.Generator:
        """Noise, from the size alone."""
        return np.random.default_rng(self.points * 1_000 + self.compounds)


def location_id(point: int) -> str:
    """Return a point's id."""
    return f"SG-{point + 1:04d}"


def blank_serial(bag: int) -> str:
    """Return the serial of a bag's trip blank."""
    return f"9{bag + 1:06d}"


def write_folder(points: int, target: Path, compounds: int = 60) -> Path:
    """Write a folder of ``points`` locations and ``compounds`` compounds below ``target``."""
    plan = Plan(points, compounds)
    for path, (header, rows) in _tables(plan).items():
        out = io.StringIO(newline="")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(header.split())
        writer.writerows(rows)
        _put(target / path, out.getvalue())
    _put(target / "project.toml", SETTINGS.format(points=points))
    _put(target / "locations/features.geojson", _features(plan))
    _put(target / "text/summary.md", "An invented survey, made to measure the time that a build takes.\n")
    return target


def _put(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode())


def _tables(plan: Plan) -> dict[str, tuple[str, Iterable[Row]]]:
    return {
        "locations/locations.csv": (
            (
                "location_id medium design rationale plan_easting plan_northing easting northing coordinate_method"
                " accuracy_m surface status off_site public_label"
            ),
            _locations(plan),
        ),
        "field/samplers.csv": (
            "sampler_id label kind sampler_type lot prepared_on shipment_id outcome",
            _samplers(plan),
        ),
        "field/deployments.csv": (
            (
                "sampler_id location_id duplicate_of placed_at retrieved_at depth_ft hole_diameter_in hole_method"
                " sleeve closure refusal moved_ft soil_type moisture odour condition individually_bagged bag_id"
                " hole_restored placed_by retrieved_by"
            ),
            _deployments(plan),
        ),
        "field/return_bags.csv": (
            "bag_id trip_blank_id seal_applied sealed_at sealed_by count_declared shipment_id",
            _bags(plan),
        ),
        "field/shipments.csv": (
            (
                "shipment_id direction carrier_ref packed_at seal_outer items_declared received_at tz"
                " items_received seal_received seal_condition"
            ),
            _shipments(plan),
        ),
        "field/custody.csv": (
            (
                "event_id subject_kind subject_id event at tz by_role organisation to_role signature seal_number"
                " seal_condition place"
            ),
            _custody(plan),
        ),
        "field/weather.csv": (
            "at rain_mm temperature_c pressure_hpa pressure_kind source station distance_km",
            _weather(plan),
        ),
        "field/clearance.csv": ("ticket requested_at valid_from valid_to scope location_ids", _clearance(plan)),
        "lab/analytes.csv": (
            "analyte_id name cas group molar_mass_g_mol map order synonyms common_lab_contaminant",
            _analytes(plan),
        ),
        "lab/lab_samples.csv": (
            (
                "lab_sample_id sampler_id type lab_received_at tz analysed_at batch_id method modification dilution"
                " reportable"
            ),
            _lab_samples(plan),
        ),
        "lab/results.csv": (
            "lab_sample_id analyte_id result_text value unit rl mdl lab_qualifier detected calibration_top",
            _results(plan),
        ),
        "lab/lab_qc.csv": ("lab_sample_id qc_type name value unit lower upper limit_source", _lab_qc(plan)),
    }


# --- the field -----------------------------------------------------------------------------


def place(plan: Plan, point: int) -> tuple[float, float]:
    """Return easting and northing of a point, in metres."""
    return EAST0 + SPACING_M * (point % plan.side), NORTH0 + SPACING_M * (point // plan.side)


def _locations(plan: Plan) -> Iterator[Row]:
    for i in range(plan.points):
        east, north = place(plan, i)
        yield (
            *(location_id(i), "soil_gas", "grid", "regular grid, 20 m", f"{east:.2f}", f"{north:.2f}"),
            *(f"{east + 0.1:.2f}", f"{north - 0.1:.2f}", "GNSS", 0.03, "soil", "placed", "no", location_id(i)),
        )


def _samplers(plan: Plan) -> Iterator[Row]:
    rest = ("T1", "0825-A", "2025-09-01", "SH-O1", "used")
    for sampler in plan.placed:
        label = location_id(sampler.point) + ("-D" if sampler.duplicate else "")
        yield (sampler.serial, label, "field_duplicate" if sampler.duplicate else "sample", *rest)
    for bag in range(plan.bags):
        yield (blank_serial(bag), f"TB-{bag + 1}", "trip_blank", *rest)


def placed_at(point: int) -> datetime:
    """Return when a point was done: 96 points a day, five minutes each."""
    return PLACED_FROM + timedelta(days=point // 96, minutes=5 * (point % 96))


def last_day(plan: Plan) -> datetime:
    """Return the morning of the day of the last retrieval."""
    last = placed_at(plan.points - 1) + EXPOSURE
    return last.replace(hour=7, minute=0)


def _deployments(plan: Plan) -> Iterator[Row]:
    primary = {s.point: s.serial for s in plan.placed if not s.duplicate}
    for sampler in plan.placed:
        down = placed_at(sampler.point)
        yield (
            *(sampler.serial, location_id(sampler.point)),
            primary[sampler.point] if sampler.duplicate else "NA",
            *(_time(down), _time(down + EXPOSURE), "3.0", "1.0", "slide_hammer", "no", "foil_and_soil", "no"),
            *("0.0", "silty clay", "moist", "none", "intact", "yes", f"RB-{sampler.bag + 1}", "yes"),
            *("FS-1", "FS-2"),
        )


def _bags(plan: Plan) -> Iterator[Row]:
    for bag in range(plan.bags):
        count = sum(1 for s in plan.placed if s.bag == bag)
        yield f"RB-{bag + 1}", blank_serial(bag), 448_000 + bag, _time(_sealed(plan, bag)), "FS-1", count, "SH-R1"


def _sealed(plan: Plan, bag: int) -> datetime:
    last = max(s.point for s in plan.placed if s.bag == bag)
    return placed_at(last) + EXPOSURE + timedelta(minutes=20)


def _shipments(plan: Plan) -> Iterator[Row]:
    items = len(plan.placed) + plan.bags
    sent = last_day(plan) + timedelta(days=1, hours=2)
    yield (
        *("SH-O1", "out", "CR-1", "2025-09-03T15:00", 771_000, items, "2025-09-05T10:00"),
        *("", items, 771_000, "intact"),
    )
    yield (
        *("SH-R1", "return", "CR-2", _time(sent), 771_001, items, _time(sent + timedelta(days=2))),
        *("", items, 771_001, "intact"),
    )


def _custody(plan: Plan) -> Iterator[Row]:
    for number, (kind, subject, event, at, by, to, seal) in enumerate(_events(plan), 1):
        group = {"LB-1": LABORATORY, "CR": "Carrier (invented)"}.get(by, FIELD_GROUP)
        where = "field store, locked cabinet" if event in ("stored", "removed") else ""
        condition = "intact" if seal and event in ("received", "lab_received", "seal_checked") else ""
        yield f"E-{number:05d}", kind, subject, event, _time(at), "", by, group, to, "ink", seal, condition, where


def _events(plan: Plan) -> Iterator[tuple[str, str, str, datetime, str, str, object]]:
    out, sent = datetime(2025, 9, 3, 15), last_day(plan) + timedelta(days=1, hours=2)  # noqa: DTZ001
    arrived, hour = datetime(2025, 9, 5, 10), timedelta(hours=1)  # noqa: DTZ001
    box, back = ("shipment", "SH-O1"), ("shipment", "SH-R1")
    yield *box, "released", out, "LB-1", "", 771_000
    yield *box, "relinquished", out + hour, "LB-1", "CR", ""
    yield *box, "accepted", out + hour, "CR", "", ""
    yield *box, "relinquished", arrived, "CR", "FS-1", ""
    yield *box, "received", arrived, "FS-1", "", 771_000
    yield *box, "stored", arrived + hour, "FS-1", "", ""
    yield *box, "removed", PLACED_FROM - hour / 4, "FS-1", "", ""
    for bag in range(plan.bags):
        name, sealed = f"RB-{bag + 1}", _sealed(plan, bag)
        yield "bag", name, "sealed", sealed, "FS-1", "", 448_000 + bag
        yield "bag", name, "stored", sealed + hour / 2, "FS-1", "", ""
        yield "bag", name, "removed", sent - hour, "FS-1", "", ""
    yield *back, "sealed", sent, "FS-1", "", 771_001
    yield *back, "relinquished", sent + hour, "FS-1", "CR", ""
    yield *back, "accepted", sent + hour, "CR", "", ""
    received = sent + timedelta(days=2)
    yield *back, "lab_received", received, "LB-1", "", 771_001
    for bag in range(plan.bags):
        yield "bag", f"RB-{bag + 1}", "seal_checked", received + hour, "LB-1", "", 448_000 + bag


def _weather(plan: Plan) -> Iterator[Row]:
    hours = (last_day(plan) + timedelta(days=1) - PLACED_FROM).total_seconds() / 3600
    for step in range(math.ceil(hours / 3) + 3):
        at = PLACED_FROM.replace(hour=0) + timedelta(hours=3 * step)
        rain = 4.0 if step % 41 == 7 else 0.0
        warm, pressure = 12 + 6 * math.sin(step / 4), 957 + 4 * math.sin(step / 19)
        yield (
            *(_time(at), rain, f"{warm:.1f}", f"{pressure:.1f}", "station", "logger (invented)"),
            *("water works (invented)", 3.4),
        )


def _clearance(plan: Plan) -> Iterator[Row]:
    every = ";".join(location_id(i) for i in range(plan.points))
    yield "OB-1", "2025-09-01T09:00", "2025-09-05T08:00", "2025-11-30T23:59", "whole depot, to 6 ft", every


def _features(plan: Plan) -> str:
    to_degrees = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    reach = SPACING_M * plan.side
    between = SPACING_M * (plan.side // 3) + 4  # the building stands between the points

    def ring(x0: float, y0: float, x1: float, y1: float) -> list[list[list[float]]]:
        corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))
        places = (to_degrees.transform(EAST0 + x, NORTH0 + y) for x, y in corners)
        return [[[round(lon, 7), round(lat, 7)] for lon, lat in places]]

    shapes = (
        ("site_boundary", "Former Kesterly Depot", ring(-30, -30, reach + 10, reach + 10)),
        ("building", "Laundry", ring(between, between, between + 12, between + 12)),
    )
    features = [
        {
            "type": "Feature",
            "properties": {"kind": kind, "name": name, "public": "yes"},
            "geometry": {"type": "Polygon", "coordinates": rings},
        }
        for kind, name, rings in shapes
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}) + "\n"


# --- the laboratory ------------------------------------------------------------------------


def _analytes(plan: Plan) -> Iterator[Row]:
    for k in range(plan.compounds):
        yield (
            *(f"c{k + 1:02d}", f"Compound {k + 1:02d} (invented)", cas_number(k), GROUPS[k % 6], 80 + k),
            *("yes", k + 1, "", "no"),
        )


def cas_number(k: int) -> str:
    """Return a number with a sound check digit from a range where no register is known to reach."""
    body = f"99999{900 + k:03d}{k % 100:02d}"[-9:]
    check = sum(int(digit) * (i + 1) for i, digit in enumerate(reversed(body))) % 10
    return f"{body[:-2]}-{body[-2:]}-{check}"


def _batches(plan: Plan) -> Iterator[tuple[int, Sequence[tuple[str, str, str]]]]:
    """Yield each batch's number and its runs as laboratory id, serial and type."""
    runs = [(f"L-{s.serial}", s.serial, "sample") for s in plan.placed]
    runs += [(f"L-{blank_serial(b)}", blank_serial(b), "trip_blank") for b in range(plan.bags)]
    for start in range(0, len(runs), PER_BATCH):
        batch = start // PER_BATCH + 1
        yield batch, [*_controls(batch), *runs[start : start + PER_BATCH]]


def _controls(batch: int) -> list[tuple[str, str, str]]:
    return [(f"L-B{batch}-MB", "", "method_blank"), (f"L-B{batch}-LC", "", "control")]


def _lab_samples(plan: Plan) -> Iterator[Row]:
    received = last_day(plan) + timedelta(days=3, hours=2)
    for batch, runs in _batches(plan):
        for n, (lab_id, serial, kind) in enumerate(runs):
            at = received + timedelta(days=1, hours=(batch - 1) * 3, minutes=25 * n)
            got = _time(received) if serial else "NA"
            modification = "passive sampler, mass per sampler"
            yield lab_id, serial, kind, got, "", _time(at), f"B{batch}", METHOD, modification, 1, "yes"


def masses_ng(plan: Plan) -> np.ndarray:
    """Return made-up masses, one row per sampler and one column per compound, in ng."""
    centre = SPACING_M * plan.side
    east, north = np.array([place(plan, s.point) for s in plan.placed]).T
    made = np.empty((len(plan.placed), plan.compounds))
    noise = plan.digits.normal(0, 0.03, made.shape)
    for k in range(plan.compounds):
        x, y = (EAST0 + centre * (0.3 + 0.4 * (k % 2)), NORTH0 + centre * (0.3 + 0.02 * (k % 20)))
        away = np.hypot(east - x, north - y) / (0.12 * centre)
        made[:, k] = 20_000 / (1 + k) * np.exp(-away)
    return made * np.exp(noise)


def _results(plan: Plan) -> Iterator[Row]:
    masses = dict(zip((s.serial for s in plan.placed), masses_ng(plan), strict=True))
    clean = np.zeros(plan.compounds)
    for _, runs in _batches(plan):
        for lab_id, serial, _ in (run for run in runs if run[2] != "control"):
            for k, mass in enumerate(masses.get(serial, clean)):
                yield lab_id, f"c{k + 1:02d}", *_as_reported(float(mass))


def _as_reported(mass_ng: float) -> Row:
    if mass_ng < MDL:
        return f"<{RL:g}", "", "ng", RL, MDL, "U", "no", TOP
    value = f"{mass_ng:.3g}" if mass_ng < 1000 else f"{round(mass_ng, -1):.0f}"
    return value, value, "ng", RL, MDL, "J" if float(value) < RL else "", "yes", TOP


def _lab_qc(plan: Plan) -> Iterator[Row]:
    for _, runs in _batches(plan):
        for n, (lab_id, _, _) in enumerate(runs):
            yield lab_id, "surrogate", "Toluene-d8", 90 + n % 20, "%", 70, 130, "laboratory's plan EL-QP (invented)"


def _time(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M")


def main() -> None:
    """Write one folder."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("points", type=int)
    ask.add_argument("target", type=Path)
    ask.add_argument("--compounds", type=int, default=60)
    told = ask.parse_args()
    print(write_folder(told.points, told.target, told.compounds))


if __name__ == "__main__":
    main()
