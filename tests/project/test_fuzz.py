"""Whatever stands in a folder, loading it ends with findings, never with an exception."""

from __future__ import annotations

import io
import json
import os
import zipfile
from collections.abc import Mapping
from functools import cache
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from in_memory import folder_of
from lab_files import xlsx_bytes

from sitegen.findings.problems import Finding, Severity
from sitegen.project.load import load_folder
from sitegen.project.read.xlsxtext import read_sheet
from sitegen.project.settings import Settings
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLES

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "30"))
bounded = settings(max_examples=EXAMPLES, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])

SETTINGS = b"""
[project]
id = "T"
title = "t"
site = "s"
revision = 1
report_date = 2025-12-12
time_zone = "America/Chicago"
[space]
crs = "EPSG:32614"
[files."lab/a.csv"]
delimiter = ";"
"""
MAPPING = b"""
[source]
file = "lab/a.csv"
layout = "long"
joined_qualifiers = true
[columns]
lab_sample_id = "s"
analyte_id = "c"
cas = "cas"
result_text = "r"
unit = "u"
rl = "rl"
[units]
ng = 1
[nondetect]
tokens = ["ND"]
"""
NASTY = [
    *("", " ", "NA", "0047", "47", "12E5", "1.2E+05", "2005-01-04", "1/4/2005", "38266", "127-18-4", "1e999", "-0"),
    *("\u00a0", "\u200b", "\ufeff", "\u2212 5", "\u00b2", "\u0661", "nan", "1_0", "<10", "<<", "12 J", "ND", "yes"),
    *("sample", "2025-11-02T01:30", "2025-03-09T02:30", "9999-12-31T23:59", "0001-01-01T00:00Z", "Mars/Base"),
    *('"', ";", ";;", ",", "\n", "\r\n", "\x00", "\x85", "\u2028", "\ud7ff", "{{x}}", "../../x", "=1+1", "#N/A"),
    *("127\u201318\u20134", "x" * 3000, "1" * 400),
]
cell = st.one_of(st.sampled_from(NASTY), st.text(max_size=12))


@cache
def small() -> Mapping[str, bytes]:
    """Return a small sound folder, with every table and a laboratory's file."""
    files = {"project.toml": SETTINGS, "lab/a.map.toml": MAPPING, "text/summary.md": b"Nothing yet.\n"}
    for spec in TABLES:
        values = {"lab_sample_id": "L-1", "analyte_id": "pce", "cas": "127-18-4", "sampler_id": "A-1"}
        row = [values.get(c.name, c.choices[0] if c.choices else "") for c in spec.columns]
        files[spec.path] = f"{','.join(spec.column_names)}\n{','.join(row)}\n".encode()
    files["lab/a.csv"] = b"s;c;cas;r;u;rl\nL-1;pce;127-18-4;12;ng;10\n"
    boundary = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}
    site = {"type": "Feature", "properties": {"kind": "site_boundary"}, "geometry": boundary}
    files["locations/features.geojson"] = json.dumps({"type": "FeatureCollection", "features": [site]}).encode()
    return files


def loaded(changes: Mapping[str, bytes]) -> tuple[Survey | None, list[Finding]]:
    """Load the small folder with changes; what comes back is always well formed."""
    survey, findings = load_folder(folder_of(dict(small()) | changes))
    assert survey is None or isinstance(survey.settings, Settings)
    assert survey is not None or any(finding.severity is Severity.STOP for finding in findings)
    for finding in findings:
        assert finding.line()
        assert finding.found
        assert finding.do
        assert len(finding.line()) < 40_000
    return survey, findings


def as_csv(rows: list[list[str]], delimiter: str = ",") -> bytes:
    """Write rows as CSV with every cell quoted, NUL and half characters as they come."""
    lines = (delimiter.join('"' + text.replace('"', '""') + '"' for text in row) for row in rows)
    return "\r\n".join(lines).encode("utf-8", "replace")


def test_the_small_folder_is_sound_but_for_its_gaps() -> None:
    survey, findings = loaded({})
    assert survey is not None
    assert {finding.code for finding in findings} <= {"cell-blank", "duplicate-key", "deliverable-unsealed"}
    assert len(survey.frame("results")) == 2


@bounded
@given(st.data())
def test_any_text_in_any_cell_of_any_table(data: st.DataObject) -> None:
    spec = data.draw(st.sampled_from(TABLES))
    rows = data.draw(st.lists(st.lists(cell, min_size=len(spec.columns), max_size=len(spec.columns)), max_size=4))
    survey, _ = loaded({spec.path: as_csv([list(spec.column_names), *rows])})
    assert survey is not None
    assert list(survey.frame(spec.name).columns)[: len(spec.columns)]


@bounded
@given(st.data())
def test_any_header_and_rows_of_any_length(data: st.DataObject) -> None:
    spec = data.draw(st.sampled_from(TABLES))
    name = st.one_of(st.sampled_from(spec.column_names), cell)
    rows = data.draw(st.lists(st.lists(st.one_of(name, cell), max_size=6), max_size=4))
    loaded({spec.path: as_csv(rows)})


@bounded
@given(
    st.sampled_from([spec.path for spec in TABLES] + ["project.toml", "locations/features.geojson", "lab/a.csv"]),
    st.one_of(
        st.binary(max_size=60),
        st.text(max_size=40).map(lambda text: text.encode("utf-16")),
        st.text(max_size=40).map(lambda text: text.encode("utf-8-sig", "replace")),
    ),
)
def test_any_bytes_in_any_file(path: str, content: bytes) -> None:
    loaded({path: content})


@bounded
@given(
    st.one_of(
        st.text(max_size=12),
        st.sampled_from(
            ["utf-16", "utf-7", "idna", "punycode", "hex", "undefined", "unicode_escape", "cp037", "ascii"]
        ),
    ),
    st.one_of(st.binary(max_size=40), st.just("sampler_id,kind\nµ,sample\n".encode())),
)
def test_any_declared_encoding(encoding: str, content: bytes) -> None:
    declared = f'\n[files."field/samplers.csv"]\nencoding = {json.dumps(encoding)}\n'.encode("utf-8", "replace")
    loaded({"project.toml": SETTINGS + declared, "field/samplers.csv": content})


toml_value = st.one_of(
    st.booleans().map(lambda value: str(value).lower()),
    st.integers().map(str),
    st.floats().map(repr),
    st.text(max_size=8).map(json.dumps),
    st.sampled_from(["[]", "{}", "[1, [2]]", "{a = 1}", "2025-13-01", "2025-01-01", "1" * 5000, "1e999", "0x", "''"]),
)
KEYS = (
    *("id", "title", "crs", "revision", "status", "report_date", "file", "sha256", "sheet", "layout", "header_row"),
    *("skip_rows", "unit", "rl", "ng", "tokens", "rows", "less_than_prefix", "across", "qc_column", "encoding"),
)
names = st.sampled_from(
    ["project", "space", "plan", "files", "source", "columns", "units", "names", "qc", "crosstab", "control"]
)
toml_line = st.one_of(
    st.tuples(st.sampled_from(KEYS), toml_value).map(" = ".join),
    names.map(lambda name: f"[{name}]"),
    st.text(max_size=12),
)


@bounded
@given(st.sampled_from(["project.toml", "lab/a.map.toml"]), st.lists(toml_line, max_size=8), st.sampled_from([0, 1]))
def test_any_toml_in_settings_and_mapping(path: str, lines: list[str], after: int) -> None:
    sound = small()[path] if after else b""
    loaded({path: sound + "\n".join(lines).encode("utf-8", "replace")})


@bounded
@given(st.sampled_from(sorted(small())), st.data())
def test_a_sound_file_with_a_slip_of_bytes(path: str, data: st.DataObject) -> None:
    content = bytearray(small()[path])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, max(0, len(content) - 1)))
        content[at : at + data.draw(st.integers(0, 3))] = data.draw(st.binary(max_size=3))
    loaded({path: bytes(content)})


number = st.one_of(st.floats(), st.integers(), st.sampled_from([1e308, -1e308, 10**400, True, None, "0"]))
position = st.lists(number, max_size=4)
coordinates = st.recursive(position, lambda inner: st.lists(inner, max_size=5), max_leaves=8)
KINDS = ["Point", "Polygon", "LineString", "MultiPolygon", "GeometryCollection", "Nothing", None, 5]
geometry = st.one_of(
    st.none(),
    st.integers(),
    st.fixed_dictionaries({"type": st.sampled_from(KINDS), "coordinates": st.one_of(coordinates, st.none())}),
    st.fixed_dictionaries({"type": st.just("GeometryCollection"), "geometries": st.one_of(coordinates, st.none())}),
)
feature = st.one_of(
    st.none(),
    st.integers(),
    st.text(max_size=3),
    st.fixed_dictionaries(
        {
            "type": st.just("Feature"),
            "geometry": geometry,
            "properties": st.one_of(
                st.none(), st.integers(), st.just({"kind": "well", "name": 5, "public": []}), st.just({"kind": []})
            ),
        }
    ),
)


@bounded
@given(st.one_of(st.lists(feature, max_size=3), st.none(), st.integers()), st.sampled_from(["FeatureCollection", 1]))
def test_any_geojson(features: Any, kind: Any) -> None:  # noqa: ANN401 - anything that JSON can hold
    loaded({"locations/features.geojson": json.dumps({"type": kind, "features": features}).encode()})


def test_deeply_nested_json_and_toml() -> None:
    deep = b"[" * 100_000
    loaded({"locations/features.geojson": deep})
    loaded({"locations/features.geojson": b'{"type": "FeatureCollection", "features": ' + deep})
    loaded({"project.toml": b"a = " + deep, "lab/a.map.toml": b"a = " + deep})


@bounded
@given(st.lists(st.lists(cell, min_size=6, max_size=6), max_size=4))
def test_any_text_in_a_laboratory_file(rows: list[list[str]]) -> None:
    survey, _ = loaded({"lab/a.csv": as_csv([["s", "c", "cas", "r", "u", "rl"], *rows], ";")})
    assert survey is not None
    assert set(survey.frame("results")["_file"]) <= {"lab/results.csv", "lab/a.csv"}


@cache
def workbook() -> bytes:
    """Return a small sound workbook."""
    return xlsx_bytes([["s", "r"], ["L-1", 5], ["L-2", "<5"]])


@bounded
@given(st.lists(st.tuples(st.integers(0, 10_000), st.binary(min_size=1, max_size=4)), min_size=1, max_size=4))
def test_a_workbook_with_a_slip_of_bytes(slips: list[tuple[int, bytes]]) -> None:
    content = bytearray(workbook())
    for at, new in slips:
        content[at % len(content) : at % len(content) + len(new)] = new
    sheet, findings = read_sheet("lab/a.xlsx", bytes(content))
    assert sheet is not None or any(finding.severity is Severity.STOP for finding in findings)


junk = st.text('<>/="r A19&;', max_size=4)


@bounded
@given(
    st.sampled_from(["xl/worksheets/sheet1.xml", "xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels"]),
    st.lists(st.tuples(st.integers(0, 3000), st.integers(0, 6), junk), min_size=1, max_size=3),
)
def test_a_workbook_with_a_slip_in_its_xml(part: str, slips: list[tuple[int, int, str]]) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook())) as old, zipfile.ZipFile(buffer, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            for at, cut, text in slips if name == part else ():
                at = at % len(content)  # noqa: PLW2901 - a place inside the part
                content = content[:at] + text.encode() + content[at + cut :]
            new.writestr(name, content)
    sheet, findings = read_sheet("lab/a.xlsx", buffer.getvalue())
    assert sheet is not None or any(finding.severity is Severity.STOP for finding in findings)
