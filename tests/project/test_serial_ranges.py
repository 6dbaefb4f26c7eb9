"""Rows of samplers.csv that stand for a range of serials."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.problems import Finding
from sitegen.project.intake.ranges import serial_range, with_serials
from sitegen.project.intake.text import TableText
from sitegen.project.limits import SERIALS
from sitegen.project.read.csvtext import RawTable
from sitegen.project.survey import Rule
from sitegen.project.tables import SAMPLERS

HEADER = ("sampler_id", "label", "kind")


def roster(*rows: str) -> TableText:
    """Return samplers.csv as text, each row given as ``id,label,kind``."""
    raw = RawTable(HEADER, tuple(row.split(",") for row in rows), tuple(range(2, len(rows) + 2)))
    return TableText(SAMPLERS, SAMPLERS.path, raw, raw)


def read(*rows: str) -> tuple[list[str], list[int], list[Finding]]:
    """Return the serials that are read, the row that each stands in, and findings."""
    text, findings = with_serials(roster(*rows))
    assert len(text.received.rows) == len(text.read.rows) == len(text.read.numbers)
    return [row[0] for row in text.read.rows], list(text.read.numbers), findings


def test_both_ends_belong_to_a_range() -> None:
    """Every serial from the first to the last has a row, which stands where the range stands."""
    serials, numbers, findings = read("0047102-0047105,,sample", "0047110,,spare")
    assert serials == ["0047102", "0047103", "0047104", "0047105", "0047110"]
    assert numbers == [2, 2, 2, 2, 3]
    assert findings == []


def test_what_was_filled_before_goes_with_its_row() -> None:
    """A cell of a range's row that a rule had filled is told of each of its samplers."""
    rule, other = Rule("rule", "rule"), Rule("other", "other")
    text = replace(roster("7,,", "8-9,,sample"), derived={(1, "kind"): rule, (0, "label"): other})
    told, _ = with_serials(text)
    one_of = Rule("one of the serials 8-9", "one of the serials 8-9")
    serials = dict.fromkeys(((1, "sampler_id"), (2, "sampler_id")), one_of)
    assert told.derived == {(0, "label"): other, (1, "kind"): rule, (2, "kind"): rule} | serials


def test_a_row_of_its_own_goes_before_a_range() -> None:
    """A serial with a row is left out of the range around it, wherever the row stands."""
    serials, numbers, findings = read("008,,trip_blank", "007-010,,sample")
    assert (serials, numbers, findings) == (["008", "007", "009", "010"], [2, 3, 3, 3], [])


def test_two_ranges_that_overlap_are_left_to_the_check_of_keys() -> None:
    """No range goes before another: the serial stands twice, and is told as any id is that does."""
    serials, _, _ = read("1-3,,", "3-4,,")
    assert serials == ["1", "2", "3", "3", "4"]


@pytest.mark.parametrize("cell", ["0047102 - 0047104", "0047102\u20130047104", "0047102\u2009-\u20090047104"])
def test_blanks_and_dashes_of_a_range_do_not_count(cell: str) -> None:
    """A range is read with blanks around its hyphen, and with the dash that a word processor makes of it."""
    assert read(f"{cell},,")[0] == ["0047102", "0047103", "0047104"]


@pytest.mark.parametrize("cell", ["A-12", "T1-0012", "AB-CD", "A12-B15", "x", "", "-", "12-", "-12"])
def test_a_serial_with_a_hyphen_is_a_serial(cell: str) -> None:
    """What has no two ends of one form is no range, and is not told here."""
    assert read(f"{cell},,") == ([cell], [2], [])


@pytest.mark.parametrize(
    ("rows", "found", "expected"),
    [
        (("0047110-0047102,,",), "0047110-0047102", "the lower serial first"),
        (("98-102,,",), "98-102", "a first and a last serial with the same number of digits"),
        (("1000000000000-1999999999999,,",), "1,000,000,000,000 serials", SERIALS.at_most),
        ((f"{'0' * 90}-{'9' * 90},,",), "the range 000000", SERIALS.at_most),
        (("0047102-0047105,SG-1,",), "one label for 4 samplers", "a label for one sampler only"),
    ],
    ids=["backwards", "widths", "too many", "longer than a number", "label"],
)
def test_a_range_that_cant_be_read_is_told_and_loses_nothing(rows: tuple[str, ...], found: str, expected: str) -> None:
    """One finding names the row; the row stays as it is written."""
    text, findings = with_serials(roster(*rows))
    assert [row[0] for row in text.read.rows] == [rows[0].split(",")[0]]
    assert [(one.code, one.where.row) for one in findings] == [("serial-range-invalid", 2)]
    assert found in findings[0].found
    assert findings[0].expected == expected


def test_all_ranges_together_are_bounded() -> None:
    """Many ranges, each of them small enough, are read as far as the bound goes."""
    half = SERIALS.value // 2
    serials, _, findings = read(f"000000-{half - 1:06d},,", f"100000-{100_000 + half - 1:06d},,", "900000-900001,,")
    assert len(serials) == 2 * half + 1
    assert [one.where.row for one in findings] == [4]


@given(st.integers(0, 9_999), st.integers(0, 300), st.sampled_from(["", "T-", "A1-"]), st.integers(0, 4))
def test_a_range_is_its_serials(first: int, more: int, head: str, zeros: int) -> None:
    """The serials of any range are those that a person would write down one by one."""
    width = len(str(first + more)) + zeros
    cell = f"{head}{first:0{width}d}-{head}{first + more:0{width}d}"
    found = serial_range(cell)
    assert found is not None
    assert list(found.serials()) == [f"{head}{number:0{width}d}" for number in range(first, first + more + 1)]
