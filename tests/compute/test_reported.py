"""A table prints what the laboratory wrote: worked by hand, case by case."""

from __future__ import annotations

from math import isnan, nan

import pytest
from builders import row_of

from sitegen.compute.results.reported import MOST_CHARACTERS, printed_text, reported_text
from sitegen.compute.results.store import StoredResult, is_within
from sitegen.compute.statistics.rounding import percent, rounded_text, whole_percent


def result(text: str, value: float = nan, lab: str = "", review: str = "", **more: object) -> StoredResult:
    """Return a row of the store with limits of 10 and 2; without a value it is a non-detect."""
    known: dict[str, object] = {"rl": 10.0, "mdl": 2.0, "detected": not isnan(value)}
    known |= {"result_text": text, "value": value, "lab_qualifier": lab, "validation_qualifier": review}
    return row_of(StoredResult, **(known | more))


@pytest.mark.parametrize(
    ("row", "printed"),
    [
        (result("445", 445.0), "445"),
        (result("2.50", 2.5), "2.50"),
        (result("1.27E+03", 1270.0), "1.27E+03"),
        (result("1.27E+03", 1270.0, review="J"), "1.27E+03 J"),
        (result("1,270", 1270.0), "1,270"),
        (result("11", 11.0, "J"), "11 J"),
        (result("11 J", 11.0, "J"), "11 J"),
        (result("11 J", 11.0, "J", "J+"), "11 J; J+"),
        (result("11", 11.0, "J", "J+"), "11 J+"),
        (result("<10", lab="U"), "<10"),
        (result("<10", lab="U", review="UJ"), "<10 UJ"),
        (result("12 U", lab="U", rl=12.0), "12 U"),
        (result("10", lab="U"), "10 U"),
        (result("ND", lab="U"), "ND"),
        (result("", 1270.0), "1,270"),
        (result("", lab="U"), "<10"),
    ],
)
def test_the_text_as_received_is_printed_with_the_qualifier_in_force(row: StoredResult, printed: str) -> None:
    """Nothing is rounded, a qualifier is not said twice, and a non-detect never looks like a detection."""
    assert reported_text(row) == printed


@pytest.mark.parametrize(
    ("row", "printed"),
    [
        (result("0.027", 27.0), "27 (0.027)"),
        (result("1.270", 1270.0, "J"), "1,270 J (1.270)"),
        (result("1,270", 1.27), "1.27 (1,270)"),
        (result("1.270,0", 1270.0), "1,270 (1.270,0)"),
        (result("b.d.l."), "<10 (b.d.l.)"),
        (result("0.010 U", lab="U"), "<10 (0.010 U)"),
        (result("10"), "<10 (10)"),
        (result("see note", 27.0), "27 (see note)"),
    ],
)
def test_a_text_that_reads_otherwise_follows_the_number_on_file(row: StoredResult, printed: str) -> None:
    """µg in a file that counts in ng, a comma for a point, a word: the number in the column's unit comes first."""
    assert reported_text(row) == printed


def test_a_person_turns_a_detection_into_a_nondetect_or_rejects_it() -> None:
    """The text stays to be compared; U goes with it, and a rejected result is no number to use."""
    lifted = result("23", review="U", rl=23.0, by_person=True)
    assert reported_text(lifted) == printed_text(lifted) == "23 U"
    assert reported_text(result("8", review="U", rl=10.0, by_person=True)) == "<10 U (8)"
    assert reported_text(result("27", review="R", rejected=True)) == "rejected (27)"
    assert reported_text(result("", review="R", rejected=True)) == "rejected"


def test_no_nondetect_is_printed_without_its_limit() -> None:
    """Where no column holds the limits, one follows a text that has none: the limit that the project chose."""
    assert printed_text(result("ND", lab="U")) == "ND (<10)"
    assert printed_text(result("ND", lab="U"), "mdl") == "ND (<2)"
    assert printed_text(result("<10", lab="U"), "mdl") == "<10"
    assert printed_text(result("445", 445.0)) == "445"


def test_a_long_or_broken_text_stays_in_its_cell() -> None:
    """A text is put on one line and cut; the row as received has all of it."""
    received = '=HYPERLINK("x")\n<b>detected, see the narrative</b>'
    long = reported_text(result(received, 27.0))
    assert long == f"27 ({received.replace(chr(10), ' ')[: MOST_CHARACTERS - 1]}…)"
    assert "\n" not in long


def test_numbers_are_rounded_half_up_on_their_shortest_decimal() -> None:
    """2.25 is 2.3, as a reader of laboratory sheets expects; 2.675 in binary lies below and is 2.7 all the same."""
    assert [rounded_text(x) for x in (2.25, 0.125, 2.675, 44.5, 1245.0, 2.35)] == [
        "2.3",
        "0.13",
        "2.7",
        "45",
        "1,250",
        "2.4",
    ]
    assert percent(1, 8) == "13 %"
    assert percent(26_999_999_996, 30_000_000_000, 90) == "89.99999999 %", "eight decimals keep it apart from its limit"
    assert whole_percent(0.145) == "15"


@pytest.mark.parametrize(
    ("value", "top", "within"),
    [(49_600.0, 100_000.0, True), (10_000.0, 10_000.0, True), (53_300.0, 10_000.0, False), (1.0, nan, False)],
)
def test_a_detection_is_within_its_calibration_up_to_its_top(value: float, top: float, within: bool) -> None:
    """The top itself is within; without a top on file nothing is, and a non-detect never."""
    assert is_within(result("", value, calibration_top=top)) is within
    assert not is_within(result("", calibration_top=top))
