"""One bad line of project.toml does not make every file look wrong."""

from __future__ import annotations

import pytest
from builders import Change, changed, content, setting, settings_added, survey_findings

from sitegen.findings.problems import Finding
from sitegen.project.load import load_folder
from sitegen.project.reading import read_reading

WEATHER = "field/weather.csv"
DECLARED = f'[files."{WEATHER}"]\nencoding = "latin-1"\ndelimiter = ";"'


def latin(old: bytes) -> bytes:
    """Return a table with semicolons and a byte that is no UTF-8, as an old program saves it."""
    return old.replace(b",", b";").replace(b"Bend", b"B\xe9nd")


def told(*changes: Change) -> list[Finding]:
    """Return the findings of the example whose weather file is written in another way, which is declared."""
    return list(survey_findings(changed(Change(WEATHER, latin), settings_added(DECLARED), *changes)))


BAD_LINES = {
    "a value of the wrong form": setting("samplers_per_bag = 30", 'samplers_per_bag = "30"'),
    "a value that is no TOML": setting("samplers_per_bag = 30", "samplers_per_bag = thirty"),
    "a line that is no TOML": setting("samplers_per_bag = 30", "samplers per bag 30"),
    "a quote left open": setting('crs = "EPSG:32614"', 'crs = "EPSG:32614'),
    "a key twice": setting("samplers_per_bag = 30", "samplers_per_bag = 30\nsamplers_per_bag = 30"),
    "a table twice": setting("[signoff]", "[publish]"),
    "a bad date beside the zone": setting("report_date = 2025-12-12", "report_date = 12/12/2025"),
}


@pytest.mark.parametrize("name", BAD_LINES)
def test_a_bad_line_is_the_only_finding(name: str) -> None:
    """How files are written, and the zone of times, hold whatever else in the settings is wrong."""
    assert not [f for f in told() if f.where.file == WEATHER]
    found = told(BAD_LINES[name])
    assert [(f.where.file, f.code.startswith("setting")) for f in found] == [("project.toml", True)], [
        f.line() for f in found
    ]


@pytest.mark.parametrize("line", ['delimiter = ":"', "delimiter = ;", 'encoding = 8\ndelimiter = ";"'])
def test_a_file_whose_own_declaration_is_wrong_is_not_judged(line: str) -> None:
    """Where how a file is written can't be read, the file is not called wrong; others are read as declared."""
    declared = f'[files."{WEATHER}"]\n{line}\n[files."field/photos.csv"]\ndelimiter = ","'
    found = list(survey_findings(changed(Change(WEATHER, latin), settings_added(declared))))
    assert found
    assert {f.where.file for f in found} == {"project.toml"}
    assert "field/photos.csv" in read_reading(declared.encode()).files


def test_a_zone_that_can_t_be_read_judges_no_time() -> None:
    """Times with an offset are not called wrong while the project's zone is not known."""
    zoned = content("field/weather.csv", b"at,rain_mm\n2025-10-22T07:00-05:00,0\n")
    found = survey_findings(changed(setting('time_zone = "America/Chicago"', 'time_zone = "Central"'), zoned))
    assert [(f.code, f.where.column) for f in found] == [("setting-invalid", "project.time_zone")]


def test_sound_settings_give_what_the_whole_file_says() -> None:
    """What is kept for reading is the settings' own where nothing is wrong."""
    folder = changed(settings_added(DECLARED))
    survey, _ = load_folder(folder)
    assert survey is not None
    reading = read_reading(folder.content("project.toml") or b"")
    assert reading.files == survey.settings.files
    assert reading.time_zone == survey.settings.project.time_zone
    assert not reading.unclear


def test_without_settings_nothing_is_declared() -> None:
    """Bytes that are no text, and none at all, declare nothing and raise nothing."""
    for settings in (b"", b"\xff\xfe\x00", b"[files]\n'a.csv' = 3\n", b"files = 3\nproject = []", b"[" * 5000):
        assert read_reading(settings).time_zone == ""
    assert read_reading(b"[files]\n'a.csv' = 3\n").unclear == {"a.csv"}
