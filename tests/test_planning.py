"""The command plan: what it says, what it writes, and what it refuses."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
from pathlib import Path

import pytest
from builders import changed as changed_folder
from builders import content, write
from plan_folders import EAST, HEADER, NORTH, area, line, planned_folder
from workbooks import workbook

from sitegen.checking import check
from sitegen.cli import template_folder
from sitegen.findings.problems import OutputFault, Severity, Stopped, WrongUse
from sitegen.planning import plan
from sitegen.project.read.csvtext import read_csv
from sitegen.project.settings import read_settings

POINTS = "locations/locations.csv"
FIRST = f"SG-01,soil_gas,grid,first,{EAST + 10},{NORTH + 10},,,soil,planned,no\n"
PLAN = """\
locations = 20
field_blanks = 1
spares = 2
placing_from = 2025-10-20

[plan.grid]

[[plan.along]]
feature = "Sewer"
spacing = { value = 30, unit = "m" }
"""
DRAWN = [
    line("utility", "Sewer", (50, 0), (50, 100)),
    area("building", "Shed", 5, 25, 15, 35),
    area("paved_area", "Lot", 60, 60, 100, 100, surface="asphalt"),
]


def folder(root: Path, text: str = PLAN, rows: str = FIRST) -> Path:
    """Write the folder of a plan for a site with a sewer, a shed and a paved lot."""
    return write(planned_folder(text, features=DRAWN, rows=rows), root / "survey")


def digests(root: Path) -> dict[str, str]:
    return {
        str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in root.rglob("*")
        if path.is_file()
    }


def test_proposals_are_told_and_nothing_is_written(tmp_path: Path) -> None:
    """Ids, positions and reasons; what is left out is counted, targeted places one by one; samplers and the order.

    By hand: 25 nodes less the column on the sewer (5), the shed (1) and the point of the table (1) are 18, and
    none of the 4 places along the sewer. 18 + 1 are 19 points, 1.9 pairs are 2; 19 + 2 + 1 are 22 in one bag.
    """
    root = folder(tmp_path)
    before = digests(tmp_path)
    outcome = plan(root, accept=False)
    text = "\n".join(outcome.lines)
    assert outcome.done
    assert digests(tmp_path) == before
    assert "Proposed: 18 points, 18 on the grid" in text
    assert "  SG-02  grid    470030.00  4770010.00  not mapped  square grid, 20 m" in outcome.lines
    assert re.search(r"SG-\d\d  grid    470070\.00  4770070\.00  asphalt ", text)
    assert "Left out: 11 of the places" in text
    assert "  1 on the grid: at a point of the table" in outcome.lines
    assert "  5 on the grid: on the utility Sewer" in outcome.lines
    assert "  1 on the grid: in the building Shed" in outcome.lines
    each = "  targeted, 470050.00 4770030.00 (along Sewer, every 30 m): on the utility Sewer"
    assert each in outcome.lines
    assert "Samplers for 19 points (19 soil gas): 1 of the table and 18 proposed" in outcome.lines
    for said in (
        "19 primary samplers",
        " 2 field duplicates",
        " 1 field blank:",
        " 1 trip blank:",
        " 2 spares",
        "25 in all",
    ):
        assert said in text
    assert "The plan's own number of locations is 20" in text
    assert "Order for the laboratory: 25 samplers, needed by 2025-10-20, when placing begins" in outcome.lines
    assert "  17 primary samplers" not in text
    assert "  19 primary samplers for soil gas, no sampler type on record" in outcome.lines
    assert outcome.lines[-1] == "Nothing was written; --accept adds 18 rows to locations/locations.csv."


def test_cautions_and_the_limits_of_a_design_are_told(tmp_path: Path) -> None:
    """What was not drawn is not known; a chance that a point lies in an area is no promise of detection."""
    text = " ".join(plan(folder(tmp_path), accept=False).lines)
    assert "what is not drawn is not known here" in text
    assert "utility clearance" in text
    assert "the licensed professional decide" in text
    assert "draws from more than its hole" in text
    assert "nothing here promises detection" in text
    assert re.search(
        r"With 19 soil points on the site, a circular source area \d\d m across contains a point with a chance of 0\.9",
        text,
    )


def test_a_plan_in_feet_is_told_in_feet_as_well(tmp_path: Path) -> None:
    """4 ft are 1.2192 m: a crew with a tape in feet finds its own number. Points off the site find nothing on it."""
    feet = 'depth = { value = 3.0, unit = "ft" }\n'
    off = f"[[plan.background]]\neasting = {EAST + 150}\nnorthing = {NORTH + 150}\n"
    keep = '[plan.keep_off]\nutilities = { value = 4.0, unit = "ft" }\n'
    shifted = 'shift_east = { value = 1.0, unit = "m" }\n'
    text = f"{feet}[plan.grid]\n{shifted}{off}{keep}"
    drawn = [line("utility", "Sewer", (50, 0), (50, 100))]
    survey = write(planned_folder(text, features=drawn), tmp_path / "survey")
    told = " ".join(plan(survey, accept=False).lines)
    assert "5 on the grid: less than 1.22 m (4 ft) from the utility Sewer" in told
    assert "Samplers for 21 points" in told
    assert re.search(r"With 20 soil points on the site, a circular source area \d\d m \(\d\d+ ft\) across", told)


def test_accepted_rows_are_appended_and_read_as_planned_points(tmp_path: Path) -> None:
    """The rows that were there are as they were; no stop is about the new ones."""
    root = folder(tmp_path)
    before = digests(root)
    outcome = plan(root, accept=True)
    assert outcome.lines[-1] == "Added 18 rows to locations/locations.csv; its other rows are as they were."
    after = digests(root)
    assert {path for path in before if before[path] != after[path]} == {POINTS}
    made = (root / POINTS).read_bytes()
    assert made.startswith((HEADER + FIRST).encode())
    rows = made.decode().splitlines()[2:]
    assert rows[0] == 'SG-02,soil_gas,grid,"square grid, 20 m",470030.00,4770010.00,,,,planned,no'
    assert len(rows) == 18
    places = (POINTS, "project.toml", "locations/features.geojson")
    stops = [one for one in check(root).findings if one.severity is Severity.STOP and one.where.file in places]
    assert stops == []


def test_accepting_twice_adds_nothing(tmp_path: Path) -> None:
    """The table is the same file, byte for byte."""
    root = folder(tmp_path)
    plan(root, accept=True)
    once = digests(root)
    again = plan(root, accept=True)
    assert digests(root) == once
    assert again.done
    assert "No point is proposed." in again.lines
    assert again.lines[-1] == "Nothing to add: locations/locations.csv stays as it is."
    assert "  19 on the grid: at a point of the table" in again.lines


@pytest.mark.parametrize("form", ["semicolons", "degrees", "feet"])
def test_accepting_twice_adds_nothing_in_other_forms_and_systems(tmp_path: Path, form: str) -> None:
    """A table with semicolons and decimal commas; positions in degrees, and in feet."""
    how = f'[files."{POINTS}"]\ndelimiter = ";"\ndecimal = ","\n' if form == "semicolons" else ""
    crs = {"degrees": "EPSG:4326", "feet": "EPSG:6571"}.get(form, "EPSG:32614")
    more = "" if form == "semicolons" else 'map_crs = "EPSG:32614"\nfoot = "us_survey"\n'
    base = planned_folder(PLAN + how, features=DRAWN, crs=crs, more=more)
    header = HEADER.replace(",", ";").replace("\n", "\r\n") if how else HEADER
    root = write(changed_folder(content(POINTS, header.encode()), folder=base), tmp_path / "survey")
    first = plan(root, accept=True)
    assert "Added 19 rows" in first.lines[-1]
    made = (root / POINTS).read_bytes()
    if how:
        assert (
            made.splitlines(keepends=True)[1]
            == b"SG-01;soil_gas;grid;square grid, 20 m;470010,00;4770010,00;;;;planned;no\r\n"
        )
    assert plan(root, accept=True).lines[-1].startswith("Nothing to add")
    assert (root / POINTS).read_bytes() == made


def test_a_folder_without_a_table_gets_one(tmp_path: Path) -> None:
    """With every column of the format; that it was missing is no reason to refuse."""
    root = folder(tmp_path, rows="")
    (root / POINTS).unlink()
    assert "Added 19 rows" in plan(root, accept=True).lines[-1]
    table, findings = read_csv(POINTS, (root / POINTS).read_bytes())
    assert findings == []
    assert table is not None
    assert len(table.rows) == 19
    assert "longitude" in table.header


def test_a_missing_column_is_added_behind_the_header(tmp_path: Path) -> None:
    """The format asks for two columns; the others that the rows fill come behind a column of the project's own."""
    root = folder(tmp_path)
    (root / POINTS).write_bytes(b"location_id,x_note,medium\nSG-07,keep,soil_gas\n")
    plan(root, accept=True)
    lines = (root / POINTS).read_text().splitlines()
    added = "design,rationale,plan_easting,plan_northing,surface,status,off_site"
    assert lines[0] == f"location_id,x_note,medium,{added}"
    assert lines[1] == "SG-07,keep,soil_gas,,,,,,,"
    assert lines[2].startswith("SG-08,,soil_gas,grid,")


def test_a_workbook_is_not_edited_and_the_rows_are_written_beside_it(tmp_path: Path) -> None:
    """To paste; what lies there with other rows is not overwritten."""
    root = folder(tmp_path)
    (root / POINTS).unlink()
    rows = [HEADER.strip().split(","), FIRST.strip().split(",")]
    (root / "locations/locations.xlsx").write_bytes(workbook({"locations": rows}))
    before = digests(root)
    outcome = plan(root, accept=True)
    assert not outcome.done
    assert digests(root) == before
    beside = tmp_path / "survey-plan/locations.csv"
    assert str(beside) in " ".join(outcome.lines)
    table, _ = read_csv(POINTS, beside.read_bytes())
    assert table is not None
    assert len(table.rows) == 18
    assert not plan(root, accept=True).done
    beside.write_text("location_id\nmine\n")
    with pytest.raises(WrongUse, match="is there already"):
        plan(root, accept=True)
    assert beside.read_text() == "location_id\nmine\n"


def test_a_failure_while_writing_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is full: the folder is it is unchanged, without a scratch file."""
    root = folder(tmp_path)
    before = digests(root)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sitegen.project.tableedits.os.fsync", full)
    with pytest.raises(OutputFault, match="it is unchanged"):
        plan(root, accept=True)
    assert digests(root) == before


@pytest.mark.parametrize(
    ("path", "old", "new", "code"),
    [
        ("project.toml", b'value = 20.0, unit = "m"', b'value = "20"', "setting-invalid"),
        ("project.toml", b"spares = 2", b"spares = 1000000", "setting-invalid"),
        ("project.toml", b"EPSG:32614", b"EPSG:99999", "crs-unknown"),
        ("project.toml", b"EPSG:32614", b"EPSG:4326", "crs-not-projected"),
        ("project.toml", b'feature = "Sewer"', b'feature = "Sewers"', "setting-invalid"),
        ("locations/features.geojson", b"site_boundary", b"other", "feature-doubtful"),
        ("locations/features.geojson", b'"Polygon"', b'"Polygo"', "feature-unusable"),
        (POINTS, b",planned,", b",plannd,", "word-unknown"),
        (POINTS, FIRST.encode(), 2 * FIRST.encode(), "duplicate-key"),
    ],
)
def test_what_keeps_positions_from_being_trusted_is_refused(
    tmp_path: Path, path: str, old: bytes, new: bytes, code: str
) -> None:
    """Settings, systems, boundary, shapes and the table of points: with the finding, and nothing is written."""
    root = folder(tmp_path)
    file = root / path
    assert old in file.read_bytes()
    file.write_bytes(file.read_bytes().replace(old, new, 1))
    before = digests(tmp_path)
    with pytest.raises(Stopped) as stopped:
        plan(root, accept=True)
    assert code in {finding.code for finding in stopped.value.findings}
    assert {finding.severity for finding in stopped.value.findings} == {Severity.STOP}
    assert digests(tmp_path) == before


def test_stops_that_are_about_no_position_are_no_reason_to_refuse(tmp_path: Path) -> None:
    """A slip in the list of samplers stops a build, and moves no point."""
    root = folder(tmp_path)
    (root / "field").mkdir(exist_ok=True)
    (root / "field/samplers.csv").write_text("sampler_id,kind\n0001,sampel\n", "utf-8")
    assert any(one.severity is Severity.STOP for one in check(root).findings)
    assert plan(root, accept=False).done


def test_a_plan_that_asks_for_nothing_says_so(tmp_path: Path) -> None:
    """And counts the samplers of the points that are there."""
    lines = plan(folder(tmp_path, text=""), accept=True).lines
    assert lines[0].startswith("The plan asks for no points")
    assert any(said.startswith("Samplers for 1 point (1 soil gas): 1 of the table and 0 proposed") for said in lines)
    empty = plan(folder(tmp_path / "b", text="", rows=""), accept=False).lines
    assert "Samplers: none, for there is no point in the plan." in empty


def test_hostile_words_stay_words(tmp_path: Path) -> None:
    """A rationale that looks like a formula, with line breaks and delimiters, is one cell of text."""
    words = '=1+1, "x"\\n@y'
    text = f"[[plan.background]]\neasting = {EAST + 5}\nnorthing = {NORTH + 5}\nrationale = '{words}'\n"
    root = folder(tmp_path, text=text, rows="")
    plan(root, accept=True)
    table, findings = read_csv(POINTS, (root / POINTS).read_bytes())
    assert findings == []
    assert table is not None
    assert table.rows[0][3] == "'" + words


def test_a_wide_site_with_a_narrow_grid_is_refused_at_once(tmp_path: Path) -> None:
    """10 km at a millimetre: the reason and the most that is proposed, not hours of work."""
    wide = area("site_boundary", "Yard", 0, 0, 10_000, 10_000)
    narrow = (
        '[plan.grid]\nspacing = { value = 0.001, unit = "m" }\n[limits.point_spacing_min_m]\nvalue = 0\nsource = "x"\n'
    )
    root = write(planned_folder(narrow, site=wide), tmp_path / "survey")
    with pytest.raises(Stopped) as stopped:
        plan(root, accept=True)
    assert [one.found for one in stopped.value.findings] == ["a plan of about 100,000,000,000,000 points"]


def test_an_unknown_key_of_a_list_is_told_with_its_line() -> None:
    """A misspelt offset would put points on the sewer in silence."""
    text = (Path(template_folder()) / "project.toml").read_text("utf-8")
    entry = '\n[[plan.along]]\nfeature = "a"\nspacing = { value = 1.0, unit = "m" }\n'
    settings, findings = read_settings((text + entry + entry + "ofset = 2.0\n").encode())
    assert settings is not None
    (told,) = findings
    lines = (text + entry + entry).splitlines()
    assert (told.code, told.where.row, told.where.column) == ("setting-unknown", len(lines) + 1, "plan.along.1.ofset")
    assert told.do == "rename it to plan.along.1.offset"


def test_the_templates_lines_about_the_plan_are_settings() -> None:
    """With their marks taken away they are read, and none is unknown."""
    text = (Path(template_folder()) / "project.toml").read_text("utf-8")
    head, _, rest = text.partition("[plan]\n")
    part, _, tail = rest.partition("# A limit set by the project")
    live = re.sub(r"(?m)^# (?=\[|[a-z_]+ = )", "", part)
    settings, findings = read_settings(f"{head}[plan]\n{live}# A limit{tail}".encode())
    assert findings == []
    assert settings is not None
    stated = settings.plan
    assert stated.grid is not None
    assert (len(stated.along), len(stated.around), len(stated.background)) == (1, 1, 1)
    assert stated.model_fields_set == set(type(stated).model_fields)


def run(*args: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "sitegen", *map(str, args)]
    return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)


def test_the_command_line_tells_proposals_and_refusals(tmp_path: Path) -> None:
    """0 with a table of proposals, 1 with the finding where the boundary is missing."""
    root = folder(tmp_path)
    done = run("plan", root)
    assert done.returncode == 0, done.stderr
    assert "Proposed: 18 points" in done.stdout
    features = root / "locations/features.geojson"
    features.write_bytes(features.read_bytes().replace(b"site_boundary", b"other"))
    refused = run("plan", root, "--accept")
    assert refused.returncode == 1
    assert "no site boundary" in refused.stderr
    assert "draw the site's outline" in refused.stderr
    assert "nothing was written" in refused.stderr
