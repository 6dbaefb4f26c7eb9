"""Defaults of project.toml: what they fill, what they never fill, and how a slip is told."""

from __future__ import annotations

import pytest
from builders import cell, changed, column_renamed, every, example, load, settings_added, survey_findings, table
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.findings.problems import Finding, Severity
from sitegen.project.folder import Folder
from sitegen.project.intake.allowed import ALLOWED, CONDITIONS, OTHER_UNIT, refusal
from sitegen.project.load import load_folder
from sitegen.project.schema import Kind
from sitegen.project.tables import TABLE

PLACED = "field/deployments.csv"
NOT_CONSTANT = {Kind.ID, Kind.IDS, Kind.TIME, Kind.DATE, Kind.CAS}


def with_defaults(words: str, *changes: object) -> Folder:
    """Return the example with these lines at the end of project.toml."""
    return changed(*changes, settings_added(words))  # type: ignore[arg-type]


def told(words: str) -> list[Finding]:
    """Return what is told of these lines of project.toml."""
    return [one for one in load_folder(with_defaults(words))[1] if one.where.file == "project.toml"]


def closures(folder: Folder) -> dict[str, str]:
    frame = load(folder).frame("deployments")
    return dict(zip(frame["sampler_id"], frame["closure"], strict=True))


HOLES = [f"{number:07d}" for number in range(47102, 47127)]
CLOSURE = '[defaults.deployments]\nclosure = "cap"'
BLANK_CLOSURES = every(PLACED, lambda row: {"closure": "" if row["closure"] != "NA" else "NA"})


def test_a_default_fills_blank_cells() -> None:
    """Where nothing is written the default stands, with its line."""
    survey = load(with_defaults(CLOSURE, cell(PLACED, "0047102", "closure", "")))
    frame = survey.frame("deployments").set_index("sampler_id")
    assert frame.at["0047102", "closure"] == "cap"
    (one,) = survey.tables["deployments"].filled.values()
    line = survey.folder.files["project.toml"].content.decode().splitlines().index('closure = "cap"') + 1
    assert one == ("cap", *[f"default of project.toml, line {line}"] * 2)


def test_a_filled_cell_and_na_stay() -> None:
    """No default changes what somebody wrote, and NA is something."""
    assert closures(with_defaults(CLOSURE)) == closures(example())


@settings(max_examples=25, deadline=None)
@given(st.dictionaries(st.sampled_from(HOLES), st.sampled_from(["", "NA", "other"])))
def test_a_default_never_changes_a_filled_cell(cells: dict[str, str]) -> None:
    """Whatever is blank, NA or filled: blank cells alone have the default, in rows with a hole in soil gas."""
    chosen = every(PLACED, lambda row: {"closure": cells.get(row["sampler_id"], row["closure"])})
    before, after = closures(changed(chosen)), closures(with_defaults(CLOSURE, chosen))
    no_hole = {"0047120"}  # sub-slab
    for name, was in before.items():
        filled = cells.get(name) == "" and name not in no_hole
        assert after[name] == ("cap" if filled else was)


def test_an_absent_column_is_filled_and_not_missed() -> None:
    """A needed column that is constant may be left out of the file as a whole."""
    gone = column_renamed("locations/locations.csv", "medium", "x_medium")
    assert "column-missing" in [one.code for one in survey_findings(changed(gone))]
    words = '[defaults.locations]\nmedium = "soil_gas"'
    findings = survey_findings(with_defaults(words, gone))
    assert "column-missing" not in [one.code for one in findings]
    assert set(load(with_defaults(words, gone)).frame("locations")["medium"]) == {"soil_gas"}


def test_a_where_row_is_for_its_day_and_goes_before_the_constant() -> None:
    """A day is that of the time which the condition names."""
    words = f'{CLOSURE}\n[[defaults.deployments.where]]\nplaced_on = 2025-10-23\nset = {{ closure = "other" }}'
    frame = load(with_defaults(words, BLANK_CLOSURES)).frame("deployments")
    soil = frame[frame["hole_method"].isin(["slide_hammer", "rotary_hammer"])]
    by_day = soil.groupby(soil["placed_at"].str[:10])["closure"].unique()
    assert {day: list(values) for day, values in by_day.items()} == {"2025-10-23": ["other"], "2025-10-24": ["cap"]}


def test_a_where_row_may_be_for_a_crew() -> None:
    """A condition on a role takes the cells that the file has."""
    words = '[[defaults.deployments.where]]\nplaced_by = "FS-2"\nset = { closure = "other" }'
    frame = load(with_defaults(words, BLANK_CLOSURES)).frame("deployments")
    holes = frame[frame["hole_method"].isin(["slide_hammer", "rotary_hammer"])]
    assert set(holes[holes["placed_by"] == "FS-2"]["closure"]) == {"other"}
    assert set(holes[holes["placed_by"] == "FS-1"]["closure"]) == {""}


def test_a_hole_is_in_soil_gas_unless_a_where_row_says_otherwise() -> None:
    """A constant of the hole says nothing of air, nor of a slab; a where row may name the slab."""
    assert closures(with_defaults(CLOSURE, BLANK_CLOSURES))["0047120"] == ""
    words = '[[defaults.deployments.where]]\nmedium = "sub_slab"\nset = { closure = "cap" }'
    found = closures(with_defaults(words, BLANK_CLOSURES))
    assert {name for name, closure in found.items() if closure} == {"0047120"}
    air = every(PLACED, lambda row: {"closure": "" if row["closure"] == "NA" else row["closure"]})
    assert closures(with_defaults(CLOSURE, air))["0047127"] == ""


def test_a_field_blank_has_no_hole() -> None:
    """A blank that was opened at a point of soil gas was in no hole."""
    blank = cell("field/samplers.csv", "0047103", "kind", "field_blank")
    found = closures(with_defaults(CLOSURE, BLANK_CLOSURES, blank))
    assert (found["0047102"], found["0047103"]) == ("cap", "")


def test_a_depth_is_one_number_in_one_unit_and_not_that_of_a_refusal() -> None:
    """Where the depth stands in metres, or the hole could not be made to depth, the default in feet says nothing."""
    blank = table(PLACED, lambda rows: [row | {"depth_ft": ""} for row in rows], "depth_m")
    metres, refused = cell(PLACED, "0047102", "depth_m", "0.9"), cell(PLACED, "0047103", "refusal", "yes")
    frame = load(with_defaults("[defaults.deployments]\ndepth_ft = 3", blank, metres, refused)).frame("deployments")
    depths = frame.set_index("sampler_id")["depth_ft"]
    assert depths[["0047102", "0047103"]].isna().all()
    assert depths["0047104"] == 3


def test_nobody_retrieved_what_was_not_retrieved() -> None:
    """A role is filled only where the moment of its act is on record."""
    out = table(PLACED, lambda rows: [row | {"retrieved_by": "", "retrieved_at": ""} for row in rows])
    survey = load(with_defaults('[defaults.deployments]\nretrieved_by = "FS-1"', out))
    assert set(survey.frame("deployments")["retrieved_by"]) == {""}


def test_where_rows_that_differ_are_told_and_neither_is_taken() -> None:
    """Two values for one cell stop the build; both lines are named, and the constant of the table is not taken."""
    words = (
        '[[defaults.deployments.where]]\nplaced_on = 2025-10-23\nset = { closure = "cap" }\n'
        '[[defaults.deployments.where]]\nplaced_by = "FS-1"\nset = { closure = "other" }'
    )
    folder = with_defaults(f"{CLOSURE}\n{words}", BLANK_CLOSURES)
    (finding,) = [one for one in load_folder(folder)[1] if one.where.file == "project.toml"]
    assert (finding.code, finding.severity) == ("default-ambiguous", Severity.STOP)
    assert finding.found.startswith("'other' for closure of field/deployments.csv, row 2, and 'cap' in line ")
    assert closures(folder)["0047102"] == ""


REFUSED = "default-refused"
INVALID = "default-invalid"


@pytest.mark.parametrize(
    ("words", "code", "line"),
    [
        ('[defaults.deployments]\ncondition = "intact"', REFUSED, 2),
        ('[defaults.deployments]\nplaced_at = "2025-10-23T08:00"', REFUSED, 2),
        ('[defaults.deployments]\nbag_id = "RB-1"', REFUSED, 2),
        ('[defaults.custody]\nsignature = "ink"', REFUSED, 2),
        ('[defaults.custody]\nby_role = "FS-1"', REFUSED, 2),
        ('[defaults.custody]\norganisation = "Example Field Group (invented)"', REFUSED, 2),
        ('[defaults.deployments]\nnonesuch = "x"', REFUSED, 2),
        ("[defaults.results]\nvalue = 3", REFUSED, 1),
        ('[defaults.deployments]\ndepth_ft = "3.0"', INVALID, 2),
        ("[defaults.deployments]\ndepth_ft = nan", INVALID, 2),
        ("[defaults.deployments]\ndepth_ft = true", INVALID, 2),
        ("[defaults.deployments]\nsleeve = true", INVALID, 2),
        ("[defaults.samplers]\nlot = 925", INVALID, 2),
        ('[defaults.samplers]\nlot = ""', INVALID, 2),
        ('[defaults.samplers]\nlot = "NA"', INVALID, 2),
        ('[defaults.samplers]\nlot = "a\\nb"', INVALID, 2),
        ('[defaults.samplers]\nlot = ["a"]', INVALID, 2),
        ('[defaults.deployments]\nwhere = "all"', INVALID, 2),
        ('[[defaults.deployments.where]]\nset = { closure = "cap" }', INVALID, 1),
        ("[[defaults.deployments.where]]\nplaced_on = 2025-10-23", INVALID, 1),
        ('[[defaults.deployments.where]]\nplaced_on = "2025-10-23"\nset = { closure = "cap" }', INVALID, 2),
        ('[[defaults.deployments.where]]\nmood = "good"\nset = { closure = "cap" }', INVALID, 2),
        ('[[defaults.deployments.where]]\nplaced_by = 3\nset = { closure = "cap" }', INVALID, 2),
        ('[defaults.deployments]\nclosure = "mud"', "word-unknown", 2),
        ("[defaults.deployments]\ndepth_ft = 5000", "number-impossible", 2),
        ('[defaults.deployments]\ntz = "Mars/Base"', "zone-unknown", 2),
        (f'[defaults.samplers]\nlot = "{"x" * 400}"', "cell-too-long", 2),
    ],
)
def test_a_slip_is_told_at_its_line(words: str, code: str, line: int) -> None:
    """One finding names project.toml and the line; nothing is filled."""
    before = len(example().files["project.toml"].content.decode().splitlines()) + 1
    findings = told(words)
    assert [(one.code, one.severity, (one.where.row or 0) - before) for one in findings] == [
        (code, Severity.STOP, line)
    ]
    survey, _ = load_folder(with_defaults(words, BLANK_CLOSURES))
    assert survey is not None
    assert all(not one.filled for one in survey.tables.values())


def test_the_line_of_the_second_where_row_is_its_own() -> None:
    """Of several where rows each is told at its own line, however its values are laid out."""
    words = (
        '[[defaults.deployments.where]]\nplaced_on = 2025-10-23\nset = { closure = "cap" }\n\n'
        '[[defaults.deployments.where]]\nplaced_on = 2025-10-24\n[defaults.deployments.where.set]\nclosure = "mud"'
    )
    before = len(example().files["project.toml"].content.decode().splitlines()) + 1
    (finding,) = told(words)
    assert (finding.where.row or 0) - before == 8


def test_the_same_condition_twice_is_told_once() -> None:
    """Forty where rows that contradict each other are told as far as anybody reads, and the rest is counted."""
    words = "\n".join(
        f'[[defaults.deployments.where]]\nplaced_on = 2025-10-23\nset = {{ placed_by = "R-{number}" }}'
        for number in range(40)
    )
    folder = with_defaults(words, every(PLACED, lambda _: {"placed_by": ""}))
    findings = [one for one in load_folder(folder)[1] if one.code == "default-ambiguous"]
    assert len(findings) == 21
    assert findings[-1].found == "19 more cells of this kind"


@pytest.mark.parametrize(
    "value",
    ['"' + "x" * 20_000 + '"', "1e400", "-inf", "9" * 18, "0001-01-01", "{ a = { b = 1 } }", '"\\u202eabc"', '"=1+1"'],
    ids=["long", "too large", "infinite", "eighteen figures", "a day", "tables", "turned about", "a formula"],
)
def test_a_hostile_value_is_told_in_few_words(value: str) -> None:
    """Whatever it is, a number's default is refused at its line."""
    findings = told(f"[defaults.deployments]\ndepth_ft = {value}")
    assert [one.severity for one in findings] == [Severity.STOP]
    assert len(findings[0].line()) < 500


def test_thousands_of_defaults_that_are_none_are_counted() -> None:
    """A table full of unknown columns is told as far as anybody reads."""
    findings = told("[defaults.samplers]\n" + "\n".join(f"c{number} = 1" for number in range(5_000)))
    assert len(findings) == 21
    assert findings[-1].found == "4,980 more settings of this kind"


def test_a_slip_elsewhere_in_the_settings_keeps_the_defaults() -> None:
    """An invalid setting of another table does not make a column look missing."""
    gone = column_renamed("locations/locations.csv", "medium", "x_medium")
    words = '[defaults.locations]\nmedium = "soil_gas"\n[archive.more]\nx = 1\n[x_plan]\n'
    findings = load_folder(with_defaults(words.replace("[x_plan]", "[derive]\nsamplers = 3"), gone))[1]
    assert [one.code for one in findings if one.severity is Severity.STOP] == ["setting-invalid"]


def test_the_closed_list_names_no_id_moment_result_or_signature() -> None:
    """Each column that may have a default is of the format and has a reason, and none is an identity or a moment."""
    for name, columns in ALLOWED.items():
        for column, one in columns.items():
            spec = TABLE[name].column(column)
            assert one.why
            assert spec.kind not in NOT_CONSTANT
            assert column not in ("signature", "condition", "outcome", "kind", "value", "by_role", "count_declared")
            assert not one.beside or one.beside in TABLE[name].column_names
    assert not {"results", "analytes", "lab_qc", "signoff", "comments", "dispositions"} & set(ALLOWED)
    assert set(CONDITIONS) == set(ALLOWED)
    assert all(OTHER_UNIT[other] == column for column, other in OTHER_UNIT.items())


@pytest.mark.parametrize("table_name", ALLOWED)
def test_each_refusal_has_its_reason(table_name: str) -> None:
    """Whoever asks for a default that is not to be had is told why."""
    for column in TABLE[table_name].column_names:
        assert refusal(table_name, column)
