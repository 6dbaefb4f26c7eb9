"""The template folder and the format agree, and a filled-in copy is within reach."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from sitegen.cli import template_folder
from sitegen.findings.problems import Severity
from sitegen.project.guide import columns_guide
from sitegen.project.load import load
from sitegen.project.schema import Presence, TableSpec
from sitegen.project.settings import read_settings
from sitegen.project.tables import TABLES

ALTERNATIVES = {"longitude", "latitude", "depth_m"}
"""Columns that stand in for others; the template shows the usual ones."""


@pytest.mark.parametrize("spec", TABLES, ids=lambda spec: spec.name)
def test_each_table_has_its_header_row(spec: TableSpec) -> None:
    """The template's header is the format's, in order."""
    with (template_folder() / spec.path).open(encoding="utf-8", newline="") as handle:
        lines = list(csv.reader(handle))
    assert lines == [[name for name in spec.column_names if name not in ALTERNATIVES]]


def test_the_settings_are_readable() -> None:
    """project.toml is valid as it stands and holds no unknown key."""
    settings, findings = read_settings((template_folder() / "project.toml").read_bytes())
    assert settings is not None
    assert findings == []


def test_the_readme_names_every_file_and_whether_it_is_needed() -> None:
    """Every table stands in the README with its need and its meaning."""
    text = (template_folder() / "README.md").read_text("utf-8")
    words = {Presence.REQUIRED: "required", Presence.EXPECTED: "expected", Presence.OPTIONAL: "optional"}
    for spec in TABLES:
        assert f"| `{spec.path}` | {words[spec.presence]} | {spec.meaning} |" in text


def test_the_guide_to_the_columns_is_the_formats() -> None:
    """COLUMNS.md is what ``python -m sitegen.project.guide`` prints."""
    assert (template_folder() / "COLUMNS.md").read_text("utf-8") == columns_guide()


def test_the_guide_names_the_properties_that_cautions_rest_on() -> None:
    """A building that nobody calls occupied has no caution of its occupants."""
    text = (template_folder() / "COLUMNS.md").read_text("utf-8")
    section = text.split("## `locations/features.geojson`")[1].split("\n## ")[0]
    for name in ("occupied", "basement", "utility_type"):
        assert f"| `{name}` |" in section


def test_every_column_stands_in_the_guide_with_its_words() -> None:
    """Nobody has to guess a column's name, its need or a word that it may hold."""
    text = (template_folder() / "COLUMNS.md").read_text("utf-8")
    for spec in TABLES:
        section = text.split(f"## `{spec.path}`")[1].split("\n## ")[0]
        for column in spec.columns:
            starts = (f"| `{column.name}`", f"| **`{column.name}`**")
            line = next(line for line in section.splitlines() if line.startswith(starts))
            assert all(f"`{choice}`" in line for choice in column.choices)
            assert line.startswith("| **") == column.required


def test_loading_the_template_stops_nothing() -> None:
    """An empty survey is read without a stop: what is missing is content, not form."""
    survey, findings = load(template_folder())
    assert survey is not None
    assert [f for f in findings if f.severity is Severity.STOP] == []


def test_the_template_holds_nothing_else() -> None:
    """Each file of the template is one of the format, or a README."""
    known = {spec.path for spec in TABLES} | {"project.toml", "locations/features.geojson"}
    for path in template_folder().rglob("*"):
        name = path.relative_to(template_folder()).as_posix()
        if path.is_file() and path.suffix not in (".md", ".txt"):
            assert name in known, name


def test_the_nested_readmes_are_plain(example: Path) -> None:
    """The example uses the template's layout: each of its tables is a known file."""
    known = {spec.path for spec in TABLES}
    tables = {p.relative_to(example).as_posix() for p in example.rglob("*.csv") if "private" not in p.parts}
    assert tables <= known
