"""Ids that go on after those in use."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.compute.design.numbering import next_ids
from sitegen.project.read.textsafe import alike


@pytest.mark.parametrize(
    ("prefix", "used", "wanted", "expected"),
    [
        ("SG-", [], 3, ("SG-01", "SG-02", "SG-03")),
        ("SG-", ["SG-1"], 1, ("SG-02",)),  # beside SG-1, SG-01 would be the same but for a zero
        ("SG-", ["sg_0012", "SG-A3", "OA-99"], 2, ("SG-13", "SG-14")),
        ("SG-", ["SG-001"], 1, ("SG-002",)),
        ("SG-", ["SG-098"], 2, ("SG-099", "SG-100")),
        ("", ["7"], 1, ("08",)),
        ("B2-", ["B2-01", "b02-02"], 1, ("B2-03",)),
        ("SG-", ["SG-05"], 0, ()),
        ("A0", ["A3"], 3, ("A001", "A002", "A004")),  # A003 would be A3 but for zeros
    ],
)
def test_ids_go_on_after_those_in_use(prefix: str, used: list[str], wanted: int, expected: tuple[str, ...]) -> None:
    """By number, whatever case and zeros those have."""
    assert next_ids(prefix, used, wanted) == expected


def test_all_of_one_call_sort_as_they_are_numbered() -> None:
    """The hundredth of new points gives the first a further zero."""
    ids = next_ids("P", [], 120)
    assert list(ids) == sorted(ids)
    assert (ids[0], ids[-1]) == ("P001", "P120")


@given(st.text("sgSG-_0123", max_size=3), st.lists(st.text("sgSG-_0123", min_size=1, max_size=6)), st.integers(0, 12))
def test_no_id_is_like_one_in_use(prefix: str, used: list[str], wanted: int) -> None:
    """By the measure that the check of ids has."""
    ids = next_ids(prefix, used, wanted)
    known = {alike(name) for name in used}
    assert len({alike(name) for name in ids}) == wanted
    assert not known & {alike(name) for name in ids}
