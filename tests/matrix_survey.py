"""A survey of a few points and compounds in every state of its optional parts, made in memory.

The example is cut to six points of soil gas and two of air, and to seven compounds. Each optional
table can be absent, hold its header only, its first row or all its rows; whole parts (air, duplicates,
blanks, pictures, features, texts) can be left out; the publish level and the rules can be any. Tables of the format
and levels are asked for, not listed: a new one takes part without a change here.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from itertools import combinations, product

from builders import EXAMPLE, Change, Row, changed, content, example, rows_of, setting, table
from in_memory import folder_of
from lab_files import csv_bytes

from sitegen.cli import template_folder
from sitegen.project.folder import Folder, read_folder
from sitegen.project.schema import Kind, Presence, TableSpec
from sitegen.project.tables import TABLE, TABLES
from sitegen.report.write.publish import ALLOWED

POINTS = ("SG-01", "SG-35", "SG-36", "SG-37", "SG-42", "SS-01")
AIR = ("IA-01", "OA-01")
COMPOUNDS = ("pce", "tce", "cis12dce", "benzene", "toluene", "mxylene", "124tmb")
BLANKS = ("trip_blank", "field_blank", "method_blank")
LEVELS = tuple(ALLOWED)
STATES = ("absent", "header", "one", "all")
OPTIONAL = tuple(spec for spec in TABLES if spec.presence is not Presence.REQUIRED)
FEATURES = "locations/features.geojson"
WITH = (True, False)

Value = str | bool
Case = Mapping[str, Value]
FACTORS: dict[str, tuple[Value, ...]] = {
    "level": LEVELS,
    "air": WITH,
    "pictures": WITH,
    "duplicates": WITH,
    "blanks": WITH,
    "map": ("all", "boundary", "absent"),
    "texts": WITH,
    "blank_rule": ("five_times_estimate", "five_times_nondetect", "five_ten_times", "mark_only"),
    "usual": WITH,
} | {spec.name: STATES for spec in OPTIONAL}
PARTS = ("air", "pictures", "comments", "duplicates", "blanks", "map")
"""What each table and each level is crossed with."""

_TEXTS = {
    "summary": "The survey looked for solvents at the laundry.",
    "limitations": "Mass is not concentration.",
    "setting": "The depot stands on sandy silt.",
    "conclusions": "Tetrachloroethene is highest at SG-36. Benzene was not detected at SG-01.",
    "recommendations": "Sample again at SG-37.",
}
_ROWS: dict[str, list[Row]] = {
    "changes": [
        {"revision": "1", "key": "results:04417-*", "reason": "The laboratory issued its file again."},
        {"revision": "1", "key": "text:summary", "reason": "A sentence was added."},
    ],
    "signoff": [
        {
            "revision": "1",
            "role": role,
            "statement": "read",
            "signed_at": "2025-12-12T09:00",
            "content_digest": "0" * 64,
        }
        for role in ("PM-1", "LR-1")
    ],
}
_AFFECTED = {"DV-6": "SG-37;0047154", "DV-5": "SG-36", "DV-2": "SG-42"}
_AT = {"P-1": "SS-01", "P-2": "IA-01", "P-3": "IA-01"}


def survey(case: Case) -> Folder:
    """Return the folder of a case: a value for each of :data:`FACTORS`."""
    points = (*POINTS, *(AIR if case["air"] else ()))
    kept = _kept(points, duplicates=bool(case["duplicates"]), blanks=bool(case["blanks"]))
    files = {path: file.content for path, file in kept.files.items() if not path.startswith(("private/", "text/"))}
    if not case["pictures"]:
        files = {path: data for path, data in files.items() if not path.startswith("photos/")}
    if case["texts"]:
        files |= {f"text/{name}.md": f"{words}\n".encode() for name, words in _TEXTS.items()}
    edits = [setting('level = "internal"', f'level = "{case["level"]}"'), *_map(case["map"]), *_rules(case)]
    edits += [edit for spec in OPTIONAL for edit in _table(spec, case[spec.name], points, kept)]
    return changed(*edits, folder=folder_of(files))


@cache
def _kept(points: tuple[str, ...], *, duplicates: bool, blanks: bool) -> Folder:
    """Return the example cut to points, with or without duplicates and blanks; optional tables are left as they are."""
    placed = _rows("field/deployments.csv")
    used = {
        row["sampler_id"]
        for row in placed
        if row["location_id"] in points and (duplicates or row["duplicate_of"] in ("", "NA"))
    }
    kinds = {row["sampler_id"]: row["kind"] for row in _rows("field/samplers.csv")}
    travelling = {name for name, kind in kinds.items() if kind in BLANKS} if blanks else set()
    samplers = used | travelling
    tested = [
        row
        for row in _rows("lab/lab_samples.csv")
        if row["sampler_id"] in samplers or (row["sampler_id"] in ("", "NA") and (blanks or row["type"] not in BLANKS))
    ]
    runs = {row["lab_sample_id"] for row in tested}
    keeps: dict[str, Callable[[Row], bool]] = {
        "locations/locations.csv": lambda row: row["location_id"] in points,
        "field/deployments.csv": lambda row: row["sampler_id"] in used,
        "field/samplers.csv": lambda row: row["sampler_id"] in samplers,
        "field/custody.csv": lambda row: row["subject_kind"] != "sampler" or row["subject_id"] in samplers,
        "lab/analytes.csv": lambda row: row["analyte_id"] in COMPOUNDS,
        "lab/lab_samples.csv": lambda row: row["lab_sample_id"] in runs,
        "lab/results.csv": lambda row: row["lab_sample_id"] in runs and row["analyte_id"] in COMPOUNDS,
        "lab/lab_qc.csv": lambda row: row["lab_sample_id"] in runs,
    }
    edits = [_only(path, keep) for path, keep in keeps.items()]
    if not blanks:
        edits.append(table("field/return_bags.csv", lambda rows: [row | {"trip_blank_id": ""} for row in rows]))
    return changed(*edits)


def _only(path: str, keep: Callable[[Row], bool]) -> Change:
    return table(path, lambda rows: filter(keep, rows))


def _rows(path: str, folder: Folder | None = None) -> list[Row]:
    return rows_of((folder or example()).content(path) or b"")[1]


def _rules(case: Case) -> Iterator[Change]:
    """Take a blank rule; where not all is as usual, ask for contours, means and limits of detection as well."""
    yield setting('blank = "five_times_estimate"', f'blank = "{case["blank_rule"]}"')
    if not case["usual"]:
        yield setting('nondetect_display = "rl"', 'mean = true\nnondetect_display = "mdl"')
        yield setting("contours = false", "contours = true")


def _map(state: Value) -> Iterator[Change]:
    """Leave the site's features as they are, cut them to its boundary, or take them away."""
    if state == "absent":
        yield Change(FEATURES, lambda _: None)
    elif state == "boundary":
        data = json.loads((EXAMPLE / FEATURES).read_text("utf-8"))
        kept = [feature for feature in data["features"] if feature["properties"]["kind"] == "site_boundary"]
        yield content(FEATURES, json.dumps(data | {"features": kept}).encode())


def _table(spec: TableSpec, state: Value, points: tuple[str, ...], kept: Folder) -> Iterator[Change]:
    if state == "absent":
        yield Change(spec.path, lambda _: None)
        return
    rows = [] if state == "header" else _rows_of(spec, points, kept)
    yield _filled(spec, rows[:1] if state == "one" else rows)


def _filled(spec: TableSpec, rows: list[Row]) -> Change:
    """Return a change that gives a table every column of the format, and these rows."""
    lines = [list(spec.column_names), *([row.get(name, "") for name in spec.column_names] for row in rows)]
    return content(spec.path, csv_bytes(lines))


def _rows_of(spec: TableSpec, points: tuple[str, ...], kept: Folder) -> list[Row]:
    """Return rows of an optional table that fit the points: the example's own, or made ones where it has none."""
    rows = _ROWS.get(spec.name) or [dict(row) for row in _rows(spec.path, kept)] or [_made(spec)]
    if spec.name == "deviations":
        rows = [
            row | {"affected_ids": _AFFECTED[row["deviation_id"]]} for row in rows if row["deviation_id"] in _AFFECTED
        ]
    if spec.name == "products":
        rows = [row | {"location_id": _AT[row["product_id"]], "analyte_ids": "124tmb;mxylene"} for row in rows]
    if spec.name == "clearance":
        rows = [row | {"location_ids": ";".join(points)} for row in rows]
    return [row for row in rows if _fits(row, points)]


def _fits(row: Row, points: tuple[str, ...]) -> bool:
    """Tell whether a row speaks of a point and a compound that are there."""
    return row.get("location_id", points[0]) in points and row.get("analyte_id", "pce") in COMPOUNDS


def _made(spec: TableSpec) -> Row:
    """Return a row of a table that the example does not have, by what each of its columns holds."""
    by_kind = {
        Kind.NUMBER: "1.0", Kind.INTEGER: "1", Kind.TIME: "2025-11-05T09:00", Kind.DATE: "2025-11-05",
        Kind.FLAG: "yes", Kind.CAS: "127-18-4", Kind.TEXT: "as on the field sheet", Kind.ID: "X-1",
    }  # fmt: skip
    row = {}
    for column in spec.columns:
        value = column.choices[0] if column.choices else by_kind.get(column.kind, "")
        if column.refers:
            value = {"locations": POINTS[0], "analytes": "pce"}.get(column.refers) or _first_id(column.refers)
        row[column.name] = "" if column.zone or column.kind is Kind.PATH or column.name == "tz" else value
    return row


def _first_id(name: str) -> str:
    spec = TABLE[name]
    rows = _rows(spec.path)
    return rows[0][spec.key[0]] if rows else ""


# --- a survey as it grows ------------------------------------------------------------------


_PLACED = ("locations", "samplers", "shipments", "deployments")
_BACK = (*_PLACED, "return_bags", "custody")
_WHOLE = (*_BACK, "analytes", "lab_samples", "results")
STAGES: dict[str, tuple[str, ...]] = {
    "new": (),
    "one point": ("locations",),
    "points": ("locations",),
    "sent out": ("locations", "samplers", "shipments"),
    "in the ground": _PLACED,
    "retrieved": _BACK,
    "received": (*_BACK, "lab_samples"),
    "analysed": _WHOLE,
    "non-detects": _WHOLE,
    "one result": _WHOLE,
    "one point with results": _WHOLE,
    "little noted": _WHOLE,
}
"""A folder straight from the template, and the tables that a project fills as it goes on."""

_LATER = ("retrieved_at", "condition", "bag_id", "hole_restored", "retrieved_by", "individually_bagged", "outcome")
_NEEDED = {"value", "rl", "unit", "detected", "sampler_id", "duplicate_of", "retrieved_at", "reportable"}
"""Beside what is required: without these a record contradicts itself."""
_OUTWARD = ("sent out", "in the ground")


def young(stage: str, level: str) -> Folder:
    """Return the folder of a new project at a stage: the template's files, and rows for what has happened."""
    files = {path: file.content for path, file in read_folder(template_folder()).files.items()}
    edits = [setting('level = "internal"', f'level = "{level}"\nspelling = "uk"')]
    if stage != "new":
        edits += [
            setting('time_zone = "Etc/UTC" ', 'time_zone = "America/Chicago" '),
            setting('crs = "EPSG:32633"', 'crs = "EPSG:32614"'),
            setting("# depth = {", "depth = {"),
            setting("report_date = 2000-01-01", f"report_date = {'2025-11-01' if stage in _OUTWARD else '2025-12-12'}"),
        ]
    alone = stage.startswith("one point")
    kept = _kept(POINTS[:1] if alone else POINTS, duplicates=not alone, blanks=not alone)
    edits += [_filled(TABLE[name], _shown(TABLE[name], _rows(TABLE[name].path, kept), stage)) for name in STAGES[stage]]
    return changed(*edits, folder=folder_of(files))


def _shown(spec: TableSpec, rows: list[Row], stage: str) -> list[Row]:
    """Return the rows of a table as they are at a stage."""
    if stage in _OUTWARD:
        rows = [row | dict.fromkeys(_LATER, "") for row in rows if row.get("direction") != "return"]
    if stage == "little noted":
        keep = {column.name for column in spec.columns if column.required} | _NEEDED
        rows = [{name: row.get(name, "") for name in keep} for row in rows]
    if spec.name == "results" and stage == "non-detects":
        said = {"result_text": "<10", "value": "", "rl": "10", "lab_qualifier": "U", "detected": "no"}
        rows = [row | said for row in rows]
    return rows[:1] if spec.name == "results" and stage == "one result" else rows


# --- which cases ---------------------------------------------------------------------------


Pick = tuple[tuple[str, Value], ...]


def wanted() -> set[Pick]:
    """Return what must stand together in a case: any two values, each state of a table with each level and part."""
    pairs = {
        ((one, a), (two, b))
        for one, two in combinations(sorted(FACTORS), 2)
        for a, b in product(FACTORS[one], FACTORS[two])
    }
    triples = {
        tuple(sorted(((spec.name, state), ("level", level), (part, value)), key=lambda pick: pick[0]))
        for spec in OPTIONAL
        for part in PARTS
        if part != spec.name
        for state, level, value in product(STATES, LEVELS, FACTORS[part])
    }
    return pairs | triples


def covered(case: Case, picks: Iterable[Pick]) -> set[Pick]:
    """Return which of the picks stand in a case."""
    return {pick for pick in picks if all(case[name] == value for name, value in pick)}


@cache
def cases() -> tuple[Case, ...]:
    """Return cases in which all that is wanted stands together, few of them, the same in each run.

    Each begins with what is still missing first in order, and takes for every other factor the value
    that brings most of what is missing.
    """
    missing = wanted()
    made: list[Case] = []
    while missing:
        case: dict[str, Value] = dict(min(missing, key=repr))
        for name in sorted(FACTORS, key=lambda name: (name in {spec.name for spec in OPTIONAL}, name)):
            if name not in case:
                case[name] = max(FACTORS[name], key=lambda value: _gain(case, name, value, missing))
        done = covered(case, missing)
        missing -= done
        made.append(case)
    return tuple(made)


def _gain(case: Case, name: str, value: Value, missing: Iterable[Pick]) -> int:
    """Count what is missing that a value would bring together with those chosen so far."""
    chosen = {*case.items(), (name, value)}
    return sum((name, value) in pick and chosen.issuperset(pick) for pick in missing)


def told(case: Case) -> str:
    """Return a case in words, what is whole left out."""
    return ", ".join(f"{name} {value}" for name, value in sorted(case.items()) if value not in (True, "all"))
