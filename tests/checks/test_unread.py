"""A cell that can't be read is told once: what follows from it is no slip of its own."""

from __future__ import annotations

import re
from operator import attrgetter

import pytest
from builders import Change, cell_at, changed, example, example_findings, rows_of, survey_findings
from in_memory import example_with
from longcases import mostly_long
from small_delivery import simple

from sitegen.checks.catalogue import catalogue
from sitegen.checks.unread import CODES, independent
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.schema import Column, Kind, TableSpec
from sitegen.project.tables import TABLE, TABLES

UNREADABLE = {
    Kind.NUMBER: "1,2.3",
    Kind.INTEGER: "x1",
    Kind.DATE: "31/12/2025",
    Kind.TIME: "2025-13-45",
    Kind.CHOICE: "zzz",
    Kind.FLAG: "zzz",
    Kind.ID: "4.71E+04",
    Kind.IDS: "4.71E+04",
    Kind.CAS: "12-xx",
}
name = attrgetter("name")
PRESENT = [spec for spec in TABLES if example().content(spec.path) is not None]


def new(*changes: Change) -> list[Finding]:
    """Return the findings that the example does not have at the same place."""
    before = {(f.code, f.where) for f in example_findings()}
    return [f for f in survey_findings(changed(*changes)) if (f.code, f.where) not in before]


def filled(spec: TableSpec, column: Column) -> int:
    """Return the number of the middle one of the rows that have something in a column, 0 where there is none.

    A point that the narrative names is passed over: without its row the narrative would be wrong as well.
    """
    header, rows = rows_of(example().content(spec.path) or b"")
    named = " ".join(file.content.decode() for path, file in example().files.items() if path.startswith("text/"))
    numbers = [
        at
        for at, row in enumerate(rows, start=2)
        if row.get(column.name, "") not in ("", "NA") and row.get("location_id", "") not in _points_in(named)
    ]
    return numbers[len(numbers) // 2] if numbers and column.name in header else 0


def _points_in(text: str) -> set[str]:
    return set(re.findall(r"\b[A-Z]{2}-\d+\b", text))


@pytest.mark.parametrize("spec", mostly_long(PRESENT, 4), ids=name)
def test_an_unreadable_cell_gives_one_finding(spec: TableSpec) -> None:
    """Of each column of each table, one cell that can't be read is told at its place, and nothing else is."""
    for column in spec.columns:
        bad, row = UNREADABLE.get(column.kind), filled(spec, column)
        if bad and row:
            found = new(cell_at(spec.path, row, column.name, bad))
            assert [(f.code in CODES, f.where.file, f.where.row, f.where.column) for f in found] == [
                (True, spec.path, row, column.name)
            ], [f.line() for f in found]


@pytest.mark.parametrize("spec", mostly_long(PRESENT, 4), ids=name)
def test_a_blank_where_something_must_stand_gives_one_finding(spec: TableSpec) -> None:
    """A required cell that is blank is told at its place, and nothing else is."""
    for column in spec.columns:
        row = filled(spec, column)
        if column.required and row:
            found = new(cell_at(spec.path, row, column.name, ""))
            assert [(f.code, f.where.row, f.where.column) for f in found] == [("cell-blank", row, column.name)], [
                f.line() for f in found
            ]


@pytest.mark.parametrize("spec", [spec for spec in PRESENT if rows_of(example().files[spec.path].content)[1]], ids=name)
def test_a_row_of_the_wrong_length_gives_one_finding(spec: TableSpec) -> None:
    """What stands in a row whose cells can't be told apart is not known: the row alone is told."""

    def cut(content: bytes) -> bytes:
        lines = content.splitlines(keepends=True)
        lines[1] = lines[1].partition(b",")[0] + b"\n"
        return b"".join(lines)

    found = new(Change(spec.path, cut))
    assert [(f.code, f.where.row) for f in found] == [("row-length", 2)], [f.line() for f in found]


def test_other_slips_are_told_beside_it() -> None:
    """A cell that can't be read silences what rests on it, and no more."""
    found = new(
        cell_at("field/deployments.csv", 2, "depth_ft", "three"),
        cell_at("field/deployments.csv", 3, "location_id", "SG-99"),
        cell_at("field/deployments.csv", 4, "depth_ft", ""),
    )
    codes = {f.code for f in found}
    assert {"number-unreadable", "unknown-id", "depth-missing"} <= codes
    assert [f.where.row for f in found if f.code == "depth-missing"] == [4]


def test_more_cells_than_are_listed_are_known_to_be_unreadable() -> None:
    """Where a whole column can't be read, its cells are not called missing, those beyond the listed ones neither."""

    def spoilt(content: bytes) -> bytes:
        return content.replace(b",3.0,", b",3 ft,").replace(b",2.9,", b",3 ft,").replace(b",3.1,", b",3 ft,")

    found = new(Change("field/deployments.csv", spoilt))
    assert {f.code for f in found} == {"number-unreadable"}
    assert any(f.where.row is None for f in found)


def test_a_laboratory_file_that_can_t_be_read_hides_no_other_slip_of_its_own() -> None:
    """Faults of a mapped file are told all at once; what rests on its results waits."""
    content = b"s,c,r,u\nL-1,pce,5,ng\nL-2,unobtainium,6,ng\n"
    found = survey_findings(example_with({"lab/a.csv": content, "lab/a.map.toml": simple().encode()}))
    assert {"lab-sample-unlisted", "compound-unmapped"} <= {f.code for f in found}


def test_every_column_that_a_check_needs_is_one_of_the_format() -> None:
    """A name that is mistyped in the catalogue would silence nothing."""
    for check in catalogue().values():
        for name in check.needs:
            table, _, column = name.partition(".")
            assert column in TABLE[table].column_names, (check.code, name)


NOT_KNOWN = (
    "cell-blank", "number-unreadable", "date-unreadable", "time-unreadable", "time-does-not-exist", "offset-disagrees",
    "zone-unknown", "word-unknown", "id-turned-number", "cas-unreadable", "cas-turned-date", "row-length",
    "number-impossible", "cell-too-long", "cell-without-value", "cell-format-speaks", "id-typed-as-date",
)  # fmt: skip
"""What is told of a cell whose content is then not known."""
FIELD = "field/deployments.csv"


def at(code: str, column: str | None, row: int | None = 3, severity: Severity = Severity.STOP) -> Finding:
    return Finding(code, severity, "s", Where(FIELD, row, column), "f", "e", "d")


@pytest.mark.parametrize("code", [*NOT_KNOWN, "time-occurs-twice", "cas-dashes", "column-unknown"])
def test_after_some_findings_of_reading_a_cell_is_not_known_and_after_others_it_is(code: str) -> None:
    """Then nothing is told of that cell; of the cell below, and of the next column, it is."""
    read = at(code, None if code == "row-length" else "placed_at")
    same, below, beside = at("condition-missing", "placed_at"), at("condition-missing", "placed_at", 4), at(
        "condition-missing", "comment")  # fmt: skip
    told = list(independent([read], [same, below, beside]))
    if code not in NOT_KNOWN:
        assert told == [same, below, beside]
    elif code == "row-length":
        assert told == [below]
    else:
        assert told == [below, beside]
    assert set(NOT_KNOWN) == CODES
    softer = at(code, "placed_at", severity=Severity.FLAG)
    assert list(independent([softer], [same])) == [same], "only what stops a build leaves something unknown"


def test_a_zone_that_is_not_known_leaves_the_times_of_its_row_unknown() -> None:
    read = at("zone-unknown", "tz")
    times, other = at("condition-missing", "retrieved_at"), at("condition-missing", "bag_id")
    assert list(independent([read], [times, other])) == [other]


def test_of_a_row_of_another_length_its_own_finding_is_told_and_no_other_of_reading() -> None:
    length, cell, elsewhere = (
        at("row-length", None),
        at("number-unreadable", None),
        at("number-unreadable", "depth_ft", 9),
    )
    read = [length, cell, elsewhere]
    assert list(independent(read, read)) == [length, elsewhere]


def test_a_column_with_more_such_cells_than_are_listed_is_not_known_in_any_row() -> None:
    rest, seen = at("number-unreadable", "depth_ft", None), at("condition-missing", "depth_ft", 77)
    assert list(independent([rest], [seen])) == []
