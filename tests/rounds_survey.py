"""A survey in two rounds and a supplement, made of the example: an invented second round a year later.

The second round is the example's own rows again, 364 days on, with ids of their own and masses times a factor that
is drawn for each point and compound from a stream fixed by their names; the supplement is six points around the
highest mass of tetrachloroethene, five weeks after it. By construction:

* SG-03 is missing in the second round, and toluene is not on its list of compounds;
* at SG-12 tetrachloroethene is exactly 2.5 times what it was, at SG-20 trichloroethene becomes a non-detect.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
import zlib
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, timedelta
from functools import cache

from sitegen.project.folder import Folder, InputFile
from tests.builders import Change, changed, example

Row = dict[str, str]
LATER = timedelta(days=364)
SUPPLEMENT = timedelta(days=364 + 35)
MISSING, UNLISTED = "SG-03", "toluene"
NEW = tuple(f"SG-{number}" for number in range(61, 67))
"""The points of the supplement."""
NEAR = "SG-50"
TIMES = (
    "placed_at", "retrieved_at", "sealed_at", "packed_at", "received_at", "at", "requested_at", "valid_from",
    "valid_to", "date", "agreed_on", "taken_at", "noted_at", "lab_received_at", "analysed_at", "prepared_on",
)  # fmt: skip
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\d)(.*)")
SETTINGS = """

[[rounds]]
id = "R1"
title = "First round, autumn 2025"
season = "autumn"

[[rounds]]
id = "R2"
title = "Second round, autumn 2026"
season = "autumn"
locations = 53

[[rounds]]
id = "S1"
title = "Six more points"
kind = "supplement"
of = "R2"
season = "winter"
addendum = "Addendum 1 (invented)"
locations = 6
"""


def read(folder: Folder, path: str) -> list[Row]:
    """Return the rows of a table of a folder."""
    return list(csv.DictReader(io.StringIO(folder.files[path].content.decode("utf-8"))))


def table(rows: Iterable[Row]) -> bytes:
    """Return rows as CSV; columns that some lack are blank there."""
    rows = list(rows)
    names = list(dict.fromkeys(name for row in rows for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode()


def drawn(*names: str) -> float:
    """Return a number from 0 to 1 that belongs to names, the same everywhere."""
    return zlib.crc32("/".join(names).encode()) / 2**32


def factor(location_id: str, analyte_id: str) -> float:
    """Return by what the second round's mass differs: 0.6 to 1.5; 3.5 to 6 and 0.1 to 0.25 at a few points."""
    if (location_id, analyte_id) == ("SG-12", "pce"):
        return 2.5
    share = drawn(location_id, analyte_id)
    if analyte_id not in ("pce", "tce", "cis12dce"):
        return 0.6 + 0.9 * share
    if location_id in ("SG-50", "SG-51", "SG-52", "SG-28"):
        return 3.5 + 2.5 * share
    return 0.1 + 0.15 * share if location_id in ("SG-16", "SG-22") else 0.6 + 0.9 * share


def moved(row: Row, by: timedelta) -> Row:
    """Return a row with its times moved."""
    return {name: _later(text, by) if name in TIMES else text for name, text in row.items()}


def _later(text: str, by: timedelta) -> str:
    match = _MOMENT.fullmatch(text)
    if match is None:
        return text
    day = datetime.fromisoformat(match[1]) + by
    return f"{day:%Y-%m-%d}{match[2]}"


class _Names:
    """New ids for old ones: a sampler, bag, shipment, laboratory sample or ticket of another round."""

    def __init__(self, mark: str) -> None:
        self.mark = mark

    def __call__(self, text: str) -> str:
        return f"{self.mark}{text}" if text and text != "NA" else text


IDS: Mapping[str, tuple[str, ...]] = {
    "field/samplers.csv": ("sampler_id", "shipment_id"),
    "field/deployments.csv": ("sampler_id", "duplicate_of", "bag_id"),
    "field/return_bags.csv": ("bag_id", "trip_blank_id", "shipment_id"),
    "field/shipments.csv": ("shipment_id", "carrier_ref"),
    "field/custody.csv": ("event_id", "subject_id"),
    "field/clearance.csv": ("ticket",),
    "field/deviations.csv": ("deviation_id",),
    "field/weather.csv": (),
    "lab/lab_samples.csv": ("lab_sample_id", "sampler_id", "batch_id"),
    "lab/results.csv": ("lab_sample_id",),
    "lab/lab_qc.csv": ("lab_sample_id",),
}
"""The tables that a round adds rows to, and their columns with ids of its own."""


ROUND_TOLD = ("field/return_bags.csv", "field/shipments.csv", "lab/lab_samples.csv")
"""Tables that may state a round, and here leave it to the placements."""


def again(path: str, rows: list[Row], mark: str, by: timedelta) -> list[Row]:
    """Return rows of a table as another round has them."""
    name = _Names(mark)
    found = []
    for row in rows:
        new = moved(row, by)
        new.update({column: name(new[column]) for column in IDS[path]})
        if "affected_ids" in new:
            parts = [part.strip() for part in new["affected_ids"].split(";")]
            new["affected_ids"] = ";".join(name(part) if part.isdigit() else part for part in parts)
        new.pop("scan_file", None)
        new.pop("scan_page", None)
        found.append(new)
    return found


def second_round(folder: Folder) -> dict[str, list[Row]]:
    """Return the rows that the second round adds."""
    rows = {path: again(path, read(folder, path), "2-", LATER) for path in IDS}
    gone = {r["sampler_id"] for r in rows["field/deployments.csv"] if r["location_id"] == MISSING}
    runs = {r["lab_sample_id"] for r in rows["lab/lab_samples.csv"] if r["sampler_id"] in gone}
    rows = {path: [r for r in found if not _of(r, gone, runs)] for path, found in rows.items()}
    at = {r["sampler_id"]: r["location_id"] for r in rows["field/deployments.csv"]}
    sampled = {r["lab_sample_id"]: at.get(r["sampler_id"], "") for r in rows["lab/lab_samples.csv"]}
    results = (r for r in rows["lab/results.csv"] if r["analyte_id"] != UNLISTED)
    rows["lab/results.csv"] = [_changed(r, sampled[r["lab_sample_id"]]) for r in results]
    for row in rows["field/return_bags.csv"]:
        inside = [r for r in rows["field/deployments.csv"] if r["bag_id"] == row["bag_id"]]
        row["count_declared"] = str(sum(1 for r in inside if r.get("condition") != "not_recovered"))
    for row in rows["field/shipments.csv"]:
        for column in ("items_declared", "items_received"):
            row[column] = str(int(row[column]) - len(gone))
        row["receipt_note"] = ""
    _own_seals(rows, "9")
    for row in rows["field/deployments.csv"]:
        row["round"], row["comment"] = "R2", ""
    return rows


def _own_seals(rows: Mapping[str, list[Row]], first: str) -> None:
    """Give seals of their own to the bags and shipments, and take out remarks that name others."""
    for path in ("field/return_bags.csv", "field/shipments.csv", "field/custody.csv"):
        for row in rows[path]:
            row["comment" if path.endswith("custody.csv") else "receipt_note"] = ""
            for column in ("seal_applied", "seal_outer", "seal_received", "seal_number"):
                if row.get(column, "").isdigit():
                    row[column] = first + row[column][1:]
    for row in rows["field/return_bags.csv"]:
        row.pop("receipt_note")


def _of(row: Row, samplers: set[str], runs: set[str]) -> bool:
    return row.get("sampler_id") in samplers or row.get("subject_id") in samplers or row.get("lab_sample_id") in runs


def _changed(row: Row, location_id: str) -> Row:
    if (location_id, row["analyte_id"]) == ("SG-20", "tce"):
        return row | {"result_text": "ND", "value": "", "detected": "no", "lab_qualifier": "U"}
    if not location_id or not row["value"] or row["detected"] != "yes":
        return row
    value = float(row["value"]) * factor(location_id, row["analyte_id"])
    text = f"{value:.4g}" if location_id == "SG-12" else f"{float(f'{value:.3g}'):.10g}"
    rl, mdl = float(row["rl"]), float(row["mdl"] or 0)
    if value < mdl:
        return row | {"result_text": "ND", "value": "", "detected": "no", "lab_qualifier": "U"}
    kept = row["lab_qualifier"] if row["lab_qualifier"] not in ("J", "E") else ""
    top = float(row["calibration_top"] or "inf")
    return row | {
        "result_text": text,
        "value": text,
        "lab_qualifier": "J" if value < rl else "E" if value > top else kept,
    }


def supplement(folder: Folder) -> dict[str, list[Row]]:
    """Return the rows that the supplement adds: six samplers in a bag of their own."""
    placed = [r for r in read(folder, "field/deployments.csv") if r["duplicate_of"] in ("", "NA")]
    like = [r for r in placed if r["location_id"].startswith("SG-") and r["condition"] == "intact"][: len(NEW)]
    near = next(r for r in read(folder, "locations/locations.csv") if r["location_id"] == NEAR)
    east, north = float(near["easting"]), float(near["northing"])
    spots = [(8, 0), (4, 7), (-4, 7), (-8, 0), (-4, -7), (4, -7)]
    rows: dict[str, list[Row]] = {path: [] for path in IDS}
    rows["locations/locations.csv"] = []
    sampler = read(folder, "field/samplers.csv")
    runs = read(folder, "lab/lab_samples.csv")
    results = read(folder, "lab/results.csv")
    blank = next(r for r in sampler if r["kind"] == "trip_blank")
    serials = {r["sampler_id"]: f"S-{at}" for at, r in enumerate(like, start=1)} | {blank["sampler_id"]: "S-TB"}
    for (dx, dy), new, row in zip(spots, NEW, like, strict=True):
        serial = serials[row["sampler_id"]]
        place = near | {
            "location_id": new, "design": "targeted", "rationale": "around the highest mass", "comment": "",
            "plan_easting": f"{east + dx:.2f}", "plan_northing": f"{north + dy:.2f}", "easting": f"{east + dx:.2f}",
            "northing": f"{north + dy:.2f}", "public_label": new, "round": "S1",
        }  # fmt: skip
        rows["locations/locations.csv"].append(place)
        hole = moved(row, SUPPLEMENT) | {
            "sampler_id": serial, "location_id": new, "bag_id": "S-RB", "round": "S1", "comment": "",
            "scan_file": "", "scan_page": "", "moved_ft": "0.0",
        }  # fmt: skip
        rows["field/deployments.csv"].append(hole)
    for row in sampler:
        if row["sampler_id"] in serials:
            at = list(serials).index(row["sampler_id"])
            label = "TB-S" if row["kind"] == "trip_blank" else NEW[at]
            new = moved(row, SUPPLEMENT) | {
                "sampler_id": serials[row["sampler_id"]],
                "label": label,
                "shipment_id": "S-SH-O1",
            }
            rows["field/samplers.csv"].append(new)
    bag = {"bag_id": "S-RB", "trip_blank_id": "S-TB", "count_declared": "6", "shipment_id": "S-SH-R1", "note": ""}
    rows["field/return_bags.csv"] = [moved(read(folder, "field/return_bags.csv")[0], SUPPLEMENT) | bag]
    for row in again("field/shipments.csv", read(folder, "field/shipments.csv"), "S-", SUPPLEMENT):
        rows["field/shipments.csv"].append(row | {"items_declared": "7", "items_received": "7", "receipt_note": ""})
    sent = {"SH-O1", "SH-R1"}
    for row in again(
        "field/custody.csv", [r for r in read(folder, "field/custody.csv") if r["subject_id"] in sent], "S-", SUPPLEMENT
    ):
        rows["field/custody.csv"].append(row)
    own = {r["lab_sample_id"] for r in runs if r["sampler_id"] in serials and r["reportable"] == "yes"}
    batch = {r["batch_id"] for r in runs if r["lab_sample_id"] in own}
    blanks = [r for r in runs if not r["sampler_id"] and r["batch_id"] in batch]
    kept = {*own, *(r["lab_sample_id"] for r in blanks)}
    for row in again("lab/lab_samples.csv", [r for r in runs if r["lab_sample_id"] in kept], "S-", SUPPLEMENT):
        old = row["sampler_id"].removeprefix("S-")
        rows["lab/lab_samples.csv"].append(row | {"sampler_id": serials.get(old, "")})
    rows["lab/results.csv"] = again(
        "lab/results.csv",
        [r for r in results if r["lab_sample_id"] in kept and r["analyte_id"] != UNLISTED],
        "S-",
        SUPPLEMENT,
    )
    rows["lab/lab_qc.csv"] = again(
        "lab/lab_qc.csv", [r for r in read(folder, "lab/lab_qc.csv") if r["lab_sample_id"] in kept], "S-", SUPPLEMENT
    )
    rows["field/weather.csv"] = again("field/weather.csv", read(folder, "field/weather.csv"), "S-", SUPPLEMENT)
    _own_seals(rows, "8")
    rows["field/clearance.csv"] = [
        again("field/clearance.csv", read(folder, "field/clearance.csv"), "S-", SUPPLEMENT)[0]
        | {"location_ids": ";".join(NEW)}
    ]
    return rows


@cache
def two_rounds() -> Folder:
    """Return the folder of both rounds and the supplement."""
    base = example()
    second, more = second_round(base), supplement(base)
    files = dict(base.files)

    def put(path: str, content: bytes) -> None:
        files[path] = InputFile(path, hashlib.sha256(content).hexdigest(), content)

    for path in (*IDS, "locations/locations.csv"):
        first = read(base, path)
        if path == "field/deployments.csv":
            first = [row | {"round": "R1"} for row in first]
        elif path in ROUND_TOLD:
            first = [row | {"round": ""} for row in first]
        put(path, table([*first, *second.get(path, []), *more[path]]))
    settings = base.files["project.toml"].content.decode()
    settings = settings.replace("report_date = 2025-12-12", "report_date = 2027-02-12").replace(
        "2026-06-30", "2027-06-30"
    )
    put("project.toml", (settings + SETTINGS).encode())
    for path in [path for path in files if path.startswith("text/")]:
        put(path, re.sub(rb"SG-03", b"SG-04", files[path].content))
    return Folder(dict(sorted(files.items())), base.passed_over, base.findings)


@cache
def second_alone() -> Folder:
    """Return the second round as a folder of its own, whose settings name the first one's: ``../first``."""
    base, second = example(), second_round(example())
    files = dict(base.files)

    def put(path: str, content: bytes) -> None:
        files[path] = InputFile(path, hashlib.sha256(content).hexdigest(), content)

    for path, rows in second.items():
        for row in rows:
            row.pop("round", None)
            if "location_ids" in row:
                row["location_ids"] = ";".join(one for one in row["location_ids"].split(";") if one != MISSING)
        put(path, table(rows))
    places = "locations/locations.csv"
    put(places, table(row for row in read(base, places) if row["location_id"] != MISSING))
    for path in ("lab/analytes.csv", "reference/uptake_rates.csv", "reference/screening_levels.csv"):
        put(path, table(row for row in read(base, path) if row["analyte_id"] != UNLISTED))
    settings = base.files["project.toml"].content.decode()
    for old, new in (
        ("report_date = 2025-12-12", 'report_date = 2026-12-11\nearlier = ["../first"]'),
        ("2026-06-30", "2027-06-30"),
        ('id = "KD-2025-01"', 'id = "KD-2026-01"'),
        ("locations = 55", "locations = 54"),
    ):
        settings = settings.replace(old, new)
    put("project.toml", settings.encode())
    for path in [path for path in files if path.startswith("text/")]:
        put(path, re.sub(rb"SG-03", b"SG-04", files[path].content))
    return Folder(dict(sorted(files.items())), base.passed_over, base.findings)


def edited_by(*changes: Change) -> Folder:
    """Return the folder of both rounds with changes."""
    return changed(*changes, folder=two_rounds())


def edited(path: str, change: Callable[[bytes], bytes]) -> Folder:
    """Return the folder with one file changed."""
    base = two_rounds()
    content = change(base.files[path].content)
    files = dict(base.files) | {path: InputFile(path, hashlib.sha256(content).hexdigest(), content)}
    return Folder(dict(sorted(files.items())), base.passed_over, base.findings)


THIRD_SETTINGS = """

[[rounds]]
id = "R3"
title = "Third round, autumn 2027"
season = "autumn"
locations = 53
"""


@cache
def three_rounds() -> Folder:
    """Return the folder of both rounds and the supplement with a third round, the second one's masses changed again."""
    base, second = two_rounds(), second_round(example())
    at = {row["sampler_id"]: row["location_id"] for row in second["field/deployments.csv"]}
    sampled = {row["lab_sample_id"]: at.get(row["sampler_id"], "") for row in second["lab/lab_samples.csv"]}
    results = [_changed(row, sampled[row["lab_sample_id"]]) for row in second["lab/results.csv"]]
    third = {path: again(path, rows, "3-", LATER) for path, rows in (second | {"lab/results.csv": results}).items()}
    _own_seals(
        third | {"field/return_bags.csv": [row | {"receipt_note": ""} for row in third["field/return_bags.csv"]]}, "7"
    )
    for row in third["field/deployments.csv"]:
        row["round"] = "R3"
    files = dict(base.files)

    def put(path: str, content: bytes) -> None:
        files[path] = InputFile(path, hashlib.sha256(content).hexdigest(), content)

    for path, rows in third.items():
        put(path, table([*read(base, path), *rows]))
    settings = base.files["project.toml"].content.decode() + THIRD_SETTINGS
    put("project.toml", settings.replace("2027-02-12", "2028-01-12").replace("2027-06-30", "2028-06-30").encode())
    return Folder(dict(sorted(files.items())), base.passed_over, base.findings)
