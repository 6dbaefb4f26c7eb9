"""Whatever stands in a table or a setting: outside its limits it is told at its place, on them it is read."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from operator import attrgetter
from typing import Any

import pytest
from builders import Change, cell, cell_at, changed, content, example, new_findings, rows_of, setting
from in_memory import folder_of
from longcases import mostly_long
from pydantic import BaseModel
from small_delivery import simple

from sitegen.cli import template_folder
from sitegen.findings.problems import Finding, Severity
from sitegen.project import limits
from sitegen.project.delivery.form import read_form
from sitegen.project.guide import bounds_guide
from sitegen.project.intake.text import table_texts
from sitegen.project.intake.typed import typed_tables
from sitegen.project.read import csvtext
from sitegen.project.read.csvtext import read_csv, read_grid
from sitegen.project.schema import Column, Kind, TableSpec
from sitegen.project.settings import Settings, read_settings
from sitegen.project.survey import SurveyTable
from sitegen.project.tables import TABLES

name = attrgetter("name")
NUMBERS = (Kind.NUMBER, Kind.INTEGER)
NO_NUMBERS = ("nan", "inf", "-inf", "NaN", "1_000", "0x10", "1e", "1e9999", "٣", "1,5", "--1", "true")
WITH_NUMBERS = [spec for spec in TABLES if any(column.range for column in spec.columns)]
FILLED = [spec for spec in WITH_NUMBERS if rows_of(example().content(spec.path) or b"x\n")[1]]
SOUND = {
    Kind.DATE: "2025-10-23",
    Kind.FLAG: "yes",
    Kind.CAS: "127-18-4",
    Kind.INTEGER: "1",
}


def written(spec: TableSpec, column: Column, cells: list[str]) -> bytes:
    """Return a table with these cells in a column, and as much in others as must be there."""
    others = [other for other in spec.columns if other.name != column.name and (other.required or other.needed)]
    lines = [[column.name, *(other.name for other in others)]]
    for at, text in enumerate(cells):
        lines.append([text, *(sound(other, at) for other in others)])
    out = io.StringIO(newline="")
    csv.writer(out).writerows(lines)
    return out.getvalue().encode()


def sound(column: Column, at: int) -> str:
    """Return what a column may hold, another in each row where it is an id or a text."""
    if column.choices:
        return column.choices[0]
    if column.kind is Kind.NUMBER:
        return "1"
    if column.kind is Kind.TIME:
        return f"2025-10-23T{at // 60:02}:{at % 60:02}"
    return SOUND.get(column.kind, f"{column.name[0]}{at}")


def read(spec: TableSpec, content: bytes) -> tuple[SurveyTable, list[Finding]]:
    """Read one table as the program does."""
    texts, findings, *_ = table_texts(folder_of({spec.path: content}), {})
    tables, problems = typed_tables(texts, "UTC")
    return tables[spec.name], findings + problems


def told(findings: list[Finding]) -> list[tuple[str, int | None, str | None]]:
    """Return code, row and column of the stops."""
    return [(one.code, one.where.row, one.where.column) for one in findings if one.severity is Severity.STOP]


def beyond(column: Column) -> Iterator[str]:
    """Yield numbers just outside a column's range, and far outside."""
    assert column.range is not None
    low, high = column.range.low, column.range.high
    if column.kind is Kind.INTEGER:
        yield from (f"{low - 1:.0f}", f"{high + 1:.0f}", "999999999999", "-999999999999")
        return
    yield from (f"{low - abs(low) * 1e-9:.15g}" if low else "-1e-9", f"{high * (1 + 1e-9):.15g}", "1e308", "-1e308")
    if low > 0:
        yield from ("0", "1e-308", "-1")


def on_limits(column: Column) -> list[str]:
    assert column.range is not None
    form = ".0f" if column.kind is Kind.INTEGER else ".15g"
    return [f"{number:{form}}" for number in (column.range.low, column.range.high)]


def test_every_number_has_a_range_and_every_free_text_a_length() -> None:
    """A new column of the format can't do without."""
    for spec in TABLES:
        for column in spec.columns:
            assert (column.range is not None) == (column.kind in NUMBERS), (spec.name, column.name)
            free = column.kind in (Kind.ID, Kind.IDS, Kind.TEXT, Kind.PATH)
            assert (column.longest is not None) == free, (spec.name, column.name)


@pytest.mark.parametrize("spec", WITH_NUMBERS, ids=name)
def test_a_number_outside_its_range_is_told_once_and_left_out(spec: TableSpec) -> None:
    """Just outside, far outside, or none at all: one stop in its cell, and the cell is blank for all that follows."""
    for column in (column for column in spec.columns if column.range):
        assert column.range is not None
        outside = list(beyond(column))
        table, findings = read(spec, written(spec, column, [*outside, *NO_NUMBERS]))
        last = len(outside) + 1
        assert sorted(told(findings), key=lambda one: one[1] or 0) == [
            ("number-impossible" if row <= last else "number-unreadable", row, column.name)
            for row in range(2, last + len(NO_NUMBERS) + 1)
        ]
        assert table.frame[column.name].isna().all()
        assert column.range.text in next(f for f in findings if f.code == "number-impossible").expected


@pytest.mark.parametrize("spec", WITH_NUMBERS, ids=name)
def test_a_number_on_its_limits_is_read(spec: TableSpec) -> None:
    """Both ends of a range are part of it."""
    for column in (column for column in spec.columns if column.range):
        table, findings = read(spec, written(spec, column, on_limits(column)))
        assert told(findings) == []
        assert table.frame[column.name].tolist() == [column.range.low, column.range.high]  # type: ignore[union-attr]


@pytest.mark.parametrize("spec", mostly_long(FILLED, 4), ids=name)
def test_such_numbers_are_the_only_stops_of_a_survey(spec: TableSpec) -> None:
    """In the example a huge number in each column of a table gives a stop for each, and no other."""
    header, rows = rows_of(example().content(spec.path) or b"")
    columns = [column for column in spec.columns if column.range and column.name in header]
    huge = {column.name: "999999999999" if column.kind is Kind.INTEGER else "1e308" for column in columns}
    row = max(2, len(rows) // 2)
    found = new_findings(changed(*(cell_at(spec.path, row, column, text) for column, text in huge.items())))
    stops = [(f.code, f.where.file, f.where.row, f.where.column) for f in found if f.severity is Severity.STOP]
    assert sorted(stops) == sorted(("number-impossible", spec.path, row, column) for column in huge)


def test_many_numbers_outside_are_counted() -> None:
    """Of a thousand the first are told, and how many more there are."""
    spec = next(spec for spec in TABLES if spec.name == "weather")
    _, findings = read(spec, written(spec, spec.column("rain_mm"), ["1e308"] * 1000))
    stops = [f for f in findings if f.code == "number-impossible"]
    assert len(stops) == limits.TOLD.value + 1
    assert stops[-1].found == "980 more numbers of this kind, starting here"


def test_a_coordinate_that_leads_nowhere_is_told() -> None:
    """Inside the range of all systems, and outside what this one can place."""
    for column in ("easting", "plan_easting"):
        found = new_findings(changed(cell("locations/locations.csv", "SG-01", column, "1e8")))
        stops = [(f.code, f.where.column) for f in found if f.severity is Severity.STOP]
        assert stops == [("point-nowhere", column)]


@pytest.mark.parametrize("spec", TABLES, ids=name)
def test_a_text_longer_than_its_column_holds_is_told_once(spec: TableSpec) -> None:
    """One sign too many is a stop in its cell; as long as may be is read whole."""
    for column in (column for column in spec.columns if column.longest):
        assert column.longest is not None
        most = column.longest.value
        table, findings = read(spec, written(spec, column, ["x" * (most + 1), "y" * most]))
        at_column = [one for one in told(findings) if one[2] == column.name and one[:2] != ("zone-unknown", 3)]
        assert at_column == [("cell-too-long", 2, column.name)]
        assert table.frame[column.name].tolist() == ["", "y" * most]


def test_a_carried_column_has_a_length_too() -> None:
    """Columns of one's own hold as much as remarks do."""
    spec = TABLES[0]
    own = replace(spec.column("comment"), name="x_own")
    _, findings = read(spec, written(spec, own, ["x" * (limits.TEXT.value + 1), "x" * limits.TEXT.value]))
    assert told(findings) == [("cell-too-long", 2, "x_own")]


@pytest.mark.parametrize(("day", "fine"), [("1899-12-31", False), ("1900-01-01", True), ("2199-12-31", True)])
def test_days_of_tables_have_years_that_are_read(day: str, fine: bool) -> None:
    """Years far off are slips."""
    spec = next(spec for spec in TABLES if spec.name == "samplers")
    _, findings = read(spec, written(spec, spec.column("prepared_on"), [day]))
    assert told(findings) == ([] if fine else [("date-unreadable", 2, "prepared_on")])


# --- the shape of tables -------------------------------------------------------------------


def test_too_many_columns_rows_or_cells_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each is told without reading on."""
    columns = ",".join(f"x_{at}" for at in range(limits.TABLE_COLUMNS.value + 1)).encode()
    assert told(read_csv("a.csv", columns + b"\n")[1]) == [("table-too-large", 1, None)]
    assert read_csv("a.csv", columns.rpartition(b",")[0] + b"\n")[1] == []
    wide = b"," * limits.SHEET_COLUMNS.value
    assert told(read_grid("a.csv", b"a\n" + wide + b"x\n")[1]) == [("table-too-large", 2, None)]
    assert read_grid("a.csv", b"a\n" + wide + b"\n")[1] == []
    long = b"x" * limits.CELL.value
    assert read_csv("a.csv", b"a\n" + long + b"\n")[1] == []
    assert told(read_csv("a.csv", b"a\n" + long + b"x\n")[1]) == [("csv-unreadable", 2, None)]
    monkeypatch.setattr(csvtext, "MAX_ROWS", 3)
    assert read_csv("a.csv", b"a\n1\n2\n3\n")[1] == []
    assert told(read_csv("a.csv", b"a\n1\n2\n3\n4\n")[1]) == [("table-too-large", 5, None)]
    monkeypatch.setattr(csvtext, "MAX_CELLS", 5)
    assert told(read_csv("a.csv", b"a,b\n,\n,\n")[1]) == [("table-too-large", None, None)]


@pytest.mark.parametrize("quoted", [False, True])
def test_one_quote_left_open_is_told_with_its_row(quoted: bool) -> None:
    """Among a hundred thousand rows, whether or not other cells are quoted."""
    rows = [f'"W{at}",x' if quoted else f"W{at},x" for at in range(100_000)]
    rows[50_000] = '"W50000,x'
    assert told(read_csv("a.csv", ("id,note\n" + "\n".join(rows)).encode())[1]) == [("csv-unreadable", 50_002, None)]


# --- settings ------------------------------------------------------------------------------

METRES = {"value": 5.0, "unit": "m"}
FULL: dict[str, Any] = {
    "project": {
        "id": "P", "title": "t", "site": "s", "client": "c", "prepared_by": "p", "revision": 1, "status": "draft",
        "report_date": date(2025, 12, 12), "work_plan": "w", "time_zone": "America/Chicago", "previous": "../old",
        "notice": "n", "earlier": ["../before"], "round": "R1",
    },
    "space": {"crs": "EPSG:32614", "map_crs": "EPSG:32614", "foot": "international"},
    "features": {
        "files": ["locations/a.gpkg"], "layers": ["plan"], "kind": "TYPE", "name": "LABEL", "public": "SHOW",
        "words": {"BLDG": "building"}, "encoding": "cp1252",
    },
    "points": {"file": "locations/gps.csv", "columns": {"location_id": "P", "longitude": "X", "latitude": "Y"}},
    "plan": {
        "locations": 5, "duplicate_rate": 0.1, "samplers_per_bag": 3, "depth": {"value": 3.0, "unit": "ft"},
        "depth_tolerance": {"value": 0.5, "unit": "ft"}, "exposure_days_min": 7, "exposure_days_max": 14,
        "spacing": {"value": 24.0, "unit": "m"}, "standards": ["s"],
        "field_blank": "bag", "least_duplicates": 2, "field_blanks": 1,
        "spares": 2, "id_prefix": "P-", "placing_from": date(2025, 10, 20), "placing_to": date(2025, 10, 21),
        "retrieving_from": date(2025, 11, 1), "retrieving_to": date(2025, 11, 2), "closed_days": [date(2025, 10, 27)],
        "grid": {
            "pattern": "square", "spacing": METRES, "rotation_deg": 15.0, "shift_east": METRES, "shift_north": METRES,
        },
        "along": [{"feature": "Sewer", "spacing": METRES, "offset": METRES, "side": "both", "rationale": "r"}],
        "around": [{"feature": "Tank", "distance": METRES, "points": 4, "rationale": "r"}],
        "background": [{"easting": 470000.0, "northing": 4770000.0, "rationale": "r"}],
        "keep_off": {"buildings": METRES, "utilities": METRES, "water": METRES, "boundary": METRES},
    },
    "rounds": [
        {
            "id": "R1", "title": "t", "kind": "supplement", "of": "R0", "season": "s", "addendum": "a", "locations": 5,
            "placing_from": date(2025, 10, 20), "placing_to": date(2025, 10, 21),
            "retrieving_from": date(2025, 11, 1), "retrieving_to": date(2025, 11, 2),
        },
    ],
    "limits": {"hold_days": {"value": 30, "unit": "d", "source": "s", "kind": "plan"}},
    "rules": {"blank": "mark_only", "nondetect_display": "rl", "contours": False, "mean": False},
    "screening": {"land_use": "residential", "source": "s"},
    "lab": {
        "name": "l", "accreditation": "a", "valid_from": date(2025, 1, 1), "valid_to": date(2026, 1, 1),
        "methods": ["m"],
    },
    "publish": {
        "level": "internal", "withhold": ["team_notes"], "reviewer_pages": True, "paper": "a4", "narrative_docx": False,
        "fold_out_maps": False, "lists_in_report": True, "sheets_in_report": 250, "sheets_per_volume": 100,
        "workbook_qualifiers": "column", "spelling": "uk", "language": "en",
    },
    "map": {
        "background": {"file": "f", "west": 1.0, "south": 1.0, "east": 2.0, "north": 2.0, "licence": "l"},
        "tiles": {"url": "https://tiles.example/{z}/{x}/{y}.png", "attribution": "a"},
    },
    "theme": {"logo": "theme/l.png", "logo_alt": "a", "stylesheet": "theme/l.css", "pages": ["theme/p.md"]},
    "signoff": {"roles_required": ["PM-1"]},
    "roles": {"PM-1": "project_lead"},
    "archive": {"retention": "r", "review_on": date(2030, 1, 1), "access": "internal", "private_access": "p"},
    "defaults": {"samplers": {"lot": "L"}},
    "derive": {"serial_ranges": False, "samplers": False, "return_bags": False, "bags": False, "custody": False},
    "files": {"lab/results.csv": {"encoding": "utf-8", "delimiter": ";"}},
}  # fmt: skip
"""Every setting of the format with a value that it may have."""

MAPPING: dict[str, Any] = {
    "source": {
        "file": "lab/a.csv", "sha256": "", "sheet": "s", "header_row": 1, "layout": "long", "skip_rows": [3],
        "skip_containing": ["total"], "joined_qualifiers": False, "blank": "stop", "thousands": "", "decimal": ".",
        "qc_column": "q", "header_fill": "merged", "repeated_header": False, "holds": "results",
        "end_containing": ["Notes"], "dates": "day.month.year", "replaces": "records/a.csv",
    },
    "columns": {"lab_sample_id": "s", "analyte_id": "c", "result_text": "r"},
    "constants": {"unit": "ng"},
    "units": {"ng": {"factor": 1, "unit": "ng"}},
    "nondetect": {"tokens": ["ND"], "less_than_prefix": ["<"]},
    "names": {"PCE": "pce"},
    "qualifiers": {"x": "U"},
    "qc": {"SUR": "surrogate"},
    "control": {"rows": 1, "detected_rows": 1, "sum_detected": 1.5},
    "lab_samples": {
        "columns": {"sampler_id": "f"}, "constants": {"type": "sample"}, "words": {"Air": "sample"}, "serial_digits": 7,
    },
    "analytes": {"columns": {"cas": "n"}, "constants": {"group": "x"}},
    "lab_qc": {"columns": {"lower": "l"}, "constants": {"limit_source": "x"}},
    "confirmed": {"mapping": "LR-1", "control": "LR-1"},
}  # fmt: skip
"""A mapping with an entry of each kind that a long layout has."""


def toml(tables: Mapping[str, Any]) -> bytes:
    """Write tables as TOML, those inside others inline."""
    lines = []
    for table, parts in tables.items():
        head = f"[[{table}]]" if isinstance(parts, list) else f"[{table}]"
        for entries in parts if isinstance(parts, list) else [parts]:
            lines += [head, *(f"{json.dumps(key)} = {inline(value)}" for key, value in entries.items())]
    return "\n".join(lines).encode()


def inline(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {inline(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(inline, value)) + "]"
    if isinstance(value, date):
        return value.isoformat()
    return json.dumps(value).replace("NaN", "nan").replace("Infinity", "inf")


def leaves(tables: Mapping[str, Any], way: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield each value that is no table, with the keys that lead to it."""
    for key, value in tables.items():
        if isinstance(value, dict):
            yield from leaves(value, (*way, key))
            continue
        yield (*way, key), value
        if isinstance(value, list) and isinstance(value[0], dict):
            yield from leaves(value[0], (*way, key, "0"))


def changed_at(tables: Mapping[str, Any], way: tuple[str, ...], value: object) -> dict[str, Any]:
    """Return tables with another value at one place."""
    first, *rest = way
    if isinstance(tables.get(first), list) and rest:
        return {**tables, first: [changed_at(tables[first][0], tuple(rest[1:]), value)]}
    return {**tables, first: changed_at(tables[first], tuple(rest), value) if rest else value}


def hostile(value: object) -> tuple[object, ...]:
    """Return values of the same type that no setting may have."""
    if isinstance(value, bool):
        return ()
    if isinstance(value, int | float):
        return (float("nan"), float("inf"), 1e308, -1e308, 2**63 - 1, -(2**63) + 1)
    if isinstance(value, date):
        return (date(1979, 12, 31), date(2108, 1, 1), date(1, 1, 1), date(9999, 12, 31))
    if isinstance(value, str):
        return ("x" * (limits.TEXT.value + 1), "a\x00b", "a\x1bb")
    if isinstance(value, dict):
        return ()
    assert isinstance(value, list)
    return ([*value * (limits.SETTINGS_KEYS.value + 1)], *([one] for inner in value for one in hostile(inner)))


def names_of(model: type[BaseModel], way: str = "") -> Iterator[str]:
    for key, field in model.model_fields.items():
        inner = field.annotation
        parts = [inner, *getattr(inner, "__args__", ())]
        part = next((one for one in parts if isinstance(one, type) and issubclass(one, BaseModel)), None)
        if part is None:
            yield f"{way}{key}"
        elif key not in ("limits", "files", "units"):
            yield from names_of(part, f"{way}{key}.")


OF_ANY_NAME = ("roles", "defaults", "features.words", "points.columns")
"""Tables of settings whose keys are the project's own words."""


def test_the_settings_tried_here_are_all_there_are() -> None:
    """A new setting has to be added to the list, and the list is sound."""
    tried = {".".join(part for part in way if part != "0") for way, _ in leaves(FULL)}
    assert [one for one in names_of(Settings) if one not in tried and one not in OF_ANY_NAME] == []
    settings, findings = read_settings(toml(FULL))
    assert settings is not None
    assert findings == []
    form, findings = read_form("lab/a.map.toml", toml(MAPPING))
    assert findings == []
    assert form is not None


@pytest.mark.parametrize("way", [way for way, _ in leaves(FULL) if way[0] != "defaults"], ids=".".join)
def test_a_setting_outside_its_limits_is_told_at_its_key(way: tuple[str, ...]) -> None:
    """Whatever kind of value it is: one stop, at the setting, in few words."""
    for value in hostile(dict(leaves(FULL))[way]):
        settings, findings = read_settings(toml(changed_at(FULL, way, value)))
        assert settings is None, value
        (one,) = findings
        assert one.code in ("setting-invalid", "settings-unreadable")
        assert one.code == "settings-unreadable" or (one.where.column or "").startswith(".".join(way))
        assert len(one.line()) < 500


@pytest.mark.parametrize("way", [way for way, _ in leaves(MAPPING)], ids=".".join)
def test_a_mapping_outside_its_limits_is_told(way: tuple[str, ...]) -> None:
    """What a mapping file says is bounded as settings are; a column's name may hold any sign."""
    for value in hostile(dict(leaves(MAPPING))[way]):
        form, findings = read_form("lab/a.map.toml", toml(changed_at(MAPPING, way, value)))
        assert form is None, value
        assert 0 < len(findings) <= limits.TOLD.value + 1
        assert {one.code for one in findings} <= {"mapping-invalid", "mapping-unreadable"}


@pytest.mark.parametrize(
    ("way", "value"),
    [
        (("project", "id"), "x" * limits.ID.value),
        (("project", "title"), "x" * limits.NAME.value),
        (("project", "previous"), "/".join(["x" * 249] * 4)),
        (("project", "report_date"), date(1980, 1, 1)),
        (("project", "report_date"), date(2107, 12, 31)),
        (("project", "revision"), 9999),
        (("plan", "exposure_days_max"), 3650),
        (("plan", "depth"), {"value": 1e6, "unit": "m"}),
        (("lab", "methods"), ["m"] * limits.LIST.value),
        (("project", "notice"), "x\n" * (limits.TEXT.value // 2)),
    ],
)
def test_a_setting_on_its_limits_is_read(way: tuple[str, ...], value: object) -> None:
    """The ends are part of what may be."""
    settings, findings = read_settings(toml(changed_at(FULL, way, value)))
    assert settings is not None
    assert findings == []


def test_a_part_of_a_path_that_no_system_has_is_told() -> None:
    """Systems count bytes, not signs."""
    for part in ("x" * 256, "\u00e4" * 128):
        _, (one,) = read_settings(toml(changed_at(FULL, ("project", "previous"), part)))
        assert one.where.column == "project.previous"


@pytest.mark.parametrize(
    ("code", "do"),
    [
        ("EPSG:32614 ", "write EPSG:32614 if that is intended"),
        (" EPSG:32614", "write EPSG:32614 if that is intended"),
        ("epsg:32614", "write EPSG:32614 if that is intended"),
        ("32614", "write EPSG:32614 if that is intended"),
        ("EPSG:32614+5773", "write EPSG:32614 if that is intended"),
        ("urn:ogc:def:crs:EPSG::32614", "write EPSG:32614 if that is intended"),
        ("EPSG:032614", "correct space.crs"),
        ("+proj=utm +zone=14", "correct space.crs"),
        ("WGS 84 / UTM zone 14N", "correct space.crs"),
        ("EPSG:" + "3" * 5000, "correct space.crs"),
        ("EPSG:३२६१४", "correct space.crs"),
    ],
)
def test_a_system_is_named_in_one_form(code: str, do: str) -> None:
    """Every other is told, with the form to write where it is plain which system is meant."""
    for key in ("crs", "map_crs"):
        _, (one,) = read_settings(toml(changed_at(FULL, ("space", key), code)))
        assert (one.code, one.where.column) == ("setting-invalid", f"space.{key}")
        assert "such as EPSG:32614" in one.expected
        assert one.do == do.replace("crs", key)


@pytest.mark.parametrize("code", ["EPSG:5698", "EPSG:5773", "EPSG:4979", "EPSG:4978"])
def test_a_system_with_a_height_is_told(code: str) -> None:
    """Two projected axes are asked for: a compound, vertical, three-dimensional or geocentric system has others."""
    found = new_findings(changed(setting('crs = "EPSG:32614"', f'crs = "{code}"')))
    assert "crs-not-projected" in {one.code for one in found if one.severity is Severity.STOP}


EXCESSES = {
    "a dotted key": "a" + ".a" * 20_000 + " = 1",
    "a header": "[a" + ".a" * 20_000 + "]",
    "an inline table": "x = " + "{ a = " * 50 + "1" + " }" * 50,
    "a list": "x = " + "[" * 50 + "]" * 50,
    "a list of great depth": "x = " + "[" * 100_000 + "]" * 100_000,
    "a number": "x = " + "9" * 400,
    "a number of thousands of digits": "x = " + "9" * 5000,
    "a long key": "x" * 301 + " = 1",
    "many keys": "\n".join(f"x_{at} = 1" for at in range(10_001)),
    "many entries": "x = [" + "1," * 10_001 + "]",
    "a million bytes": "# " + "x" * 1_000_000,
}


@pytest.mark.parametrize("text", EXCESSES.values(), ids=EXCESSES)
def test_too_much_of_toml_is_told_by_settings_and_mappings(text: str) -> None:
    """Depth, numbers of keys and lengths are bounded before anything walks over them."""
    settings, (one,) = read_settings(f"{text}\n".encode() + toml(FULL))
    assert (settings, one.code, one.severity) == (None, "settings-unreadable", Severity.STOP)
    form, (one,) = read_form("lab/a.map.toml", f"{text}\n".encode() + toml(MAPPING))
    assert (form, one.code, one.severity) == (None, "mapping-unreadable", Severity.STOP)
    assert len(one.line()) < 500


def test_of_many_unknown_keys_the_first_are_told_and_the_rest_counted() -> None:
    """Thousands of slips of one kind are one cause."""
    more = {f"k{at:05}": 1 for at in range(3000)}
    settings, findings = read_settings(toml(FULL | {"lab": FULL["lab"] | more}))
    assert settings is not None
    assert [one.found for one in findings[-2:]] == ["the key lab.k00019", "2,980 more settings of this kind"]
    wrong = {f"k{at:05}": {"value": 1} for at in range(3000)}
    _, findings = read_settings(toml(FULL | {"limits": wrong}))
    assert len(findings) == limits.TOLD.value + 1
    _, findings = read_form(
        "lab/a.map.toml", toml(MAPPING | {"columns": MAPPING["columns"] | dict.fromkeys(more, "x")})
    )
    assert findings[-1].found == "2,980 more settings of this kind"


# --- a laboratory's own files --------------------------------------------------------------


@pytest.mark.parametrize(("amount", "rl"), [("1e300", "10"), ("1e-300", "10"), ("-1e300", "10"), ("5", "1e300")])
def test_a_laboratorys_number_meets_the_range_of_our_column(amount: str, rl: str) -> None:
    """What is mapped is the same table: the file, row and column of the laboratory are told."""
    lab = f"s,c,r,u,rl\n04417-002,pce,{amount},ng,{rl}\n".encode()
    found = new_findings(changed(*mapped(lab)))
    stops = {(f.code, f.where.file, f.where.row, f.where.column) for f in found if f.severity is Severity.STOP}
    column = "rl" if rl != "10" else "r"
    assert ("number-impossible", "lab/a.csv", 2, column) in stops


def mapped(lab: bytes) -> tuple[Change, ...]:
    """Add a laboratory's file and its mapping."""
    form = simple(columns={"rl": "rl"}).encode()
    return content("lab/a.csv", lab), content("lab/a.map.toml", form)


def test_the_bounds_stand_in_the_templates_readme() -> None:
    """Who fills the folder in can look them up."""
    text = (template_folder() / "README.md").read_text("utf-8")
    assert bounds_guide() in text
