"""The picture under the maps, checked before anything is drawn."""

from __future__ import annotations

import pytest
from builders import changed, content, load, new_findings, settings_added

from sitegen.checks.background import background_picture
from sitegen.compute.place.background import background_fault
from sitegen.project.settings import read_settings

PICTURE = b"\x89PNG\r\n\x1a\n" + bytes(20)
TABLE = """[map]
background = {{ file = "{file}", west = {west}, south = 43.0, east = -99.3, north = 43.1, licence = "CC0" }}"""


def table(file: str = "records/drone.png", west: float = -99.4) -> str:
    return TABLE.format(file=file, west=west)


@pytest.mark.parametrize(
    ("words", "file", "bytes_in_it", "fault", "code"),
    [
        (table(), "records/drone.png", PICTURE, "", None),
        (table(), "records/other.png", PICTURE, "absent", "background-missing"),
        (table("private/drone.png"), "private/drone.png", PICTURE, "absent", "background-missing"),
        (table(), "records/drone.png", b"<svg onload='x()'/>", "kind", "background-missing"),
        (table(west=-99.2), "records/drone.png", PICTURE, "edges", "background-edges"),
    ],
)
def test_a_background_that_can_t_be_used_holds_the_issue(
    words: str, file: str, bytes_in_it: bytes, fault: str, code: str | None
) -> None:
    folder = changed(settings_added(words), content(file, bytes_in_it))
    survey = load(folder)
    assert background_fault(survey) == fault
    found = [(f.code, f.severity.value, f.where.file) for f in background_picture(survey)]
    assert found == ([(code, "hold", "project.toml")] if code else [])
    assert [f.code for f in new_findings(folder) if f.code.startswith("background")] == ([code] if code else [])


@pytest.mark.parametrize(
    "words",
    [
        'tiles = { url = "http://tiles.invalid/{z}/{x}/{y}.png", attribution = "a" }',
        'tiles = { url = "https://tiles.invalid/one.png", attribution = "a" }',
        'tiles = { url = "https://tiles.invalid/{z}/{x}/{y}.png", attribution = "" }',
        'background = { file = "a.png", west = -200, south = 0, east = 1, north = 1, licence = "x" }',
        'background = { file = "a.png", west = 0, south = 0, east = 1, north = 1 }',
    ],
)
def test_a_map_table_that_says_too_little_stops(words: str) -> None:
    settings = """[project]
id = "a"
title = "a"
site = "a"
revision = 0
report_date = 2025-01-01
time_zone = "UTC"
[space]
crs = "EPSG:32614"
[map]
"""
    assert read_settings(settings.encode())[0] is not None
    read, problems = read_settings((settings + words).encode())
    assert read is None
    assert problems
