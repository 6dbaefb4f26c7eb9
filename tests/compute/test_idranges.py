"""Lists of ids as ranges: nothing is named that is not in the list, and nothing is lost."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sitegen.compute.field.idranges import id_ranges


def test_three_in_a_row_are_a_range_and_two_are_not() -> None:
    """A gap ends a range; two ids are named as they are."""
    ids = ["SG-01", "SG-02", "SG-03", "SG-05", "SG-06", "SS-01", "SG-07", "SG-08", "SG-09"]
    assert id_ranges(ids) == ("SG-01 to SG-03", "SG-05", "SG-06", "SS-01", "SG-07 to SG-09")


def test_words_and_digits_must_be_the_same() -> None:
    """SG-9 does not count on to SG-10 in the same digits, nor SG to SS; ids without a number stand alone."""
    assert id_ranges(["SG-8", "SG-9", "SG-10"]) == ("SG-8", "SG-9", "SG-10")
    assert id_ranges(["A-1", "B-2", "C-3", "yard", "yard"]) == ("A-1", "B-2", "C-3", "yard", "yard")


@given(st.lists(st.sampled_from([f"{word}-{n:02d}" for word in ("SG", "SS") for n in range(15)]), max_size=25))
def test_a_range_read_back_gives_the_list(ids: list[str]) -> None:
    """Written out again, ranges give the ids in their order, no more and no fewer."""
    back: list[str] = []
    for part in id_ranges(ids):
        first, to, last = part.partition(" to ")
        word, _, low = first.rpartition("-")
        high = int(last.rpartition("-")[2]) if to else int(low)
        back += [f"{word}-{n:02d}" for n in range(int(low), high + 1)]
    assert back == ids
