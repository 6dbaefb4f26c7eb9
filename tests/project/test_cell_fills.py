"""A CSV table edited in place: cells filled and rows added, every other byte as it was."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitegen.project.cellfills import Fill, NewRow, NotEditableError, edited_csv
from sitegen.project.settings import FilePart
from sitegen.project.tables import TABLE

BAGS = TABLE["return_bags"]
DEPLOYMENTS = TABLE["deployments"]


def test_only_the_cell_that_is_filled_changes() -> None:
    """Odd quotes, blank lines, unknown columns and line ends of two kinds stay byte for byte."""
    old = b'bag_id,"x_crate",note,own\r\n\r\n"RB-1",7,,"a ""b"""\nRB-2, 8 ,"",\r\n,,,\r\n'
    new = edited_csv(BAGS, old, FilePart(), [Fill(3, "note", "wet")], [])
    assert new == old.replace(b'"RB-1",7,,', b'"RB-1",7,wet,')


def test_a_row_is_added_with_the_line_end_of_the_file() -> None:
    """A file without an end of its last line has none afterwards either."""
    assert edited_csv(BAGS, b"bag_id,note\r\nRB-1,", FilePart(), [], [NewRow({"bag_id": "RB-2"})]) == (
        b"bag_id,note\r\nRB-1,\r\nRB-2,"
    )
    assert edited_csv(BAGS, b"bag_id,note", FilePart(), [], [NewRow({"bag_id": "RB-2"})]) == b"bag_id,note\nRB-2,"


def test_a_column_that_the_file_lacks_is_added_at_its_right() -> None:
    """Rows that are not filled get a blank cell, and surplus blank cells of a row are used first."""
    old = b"bag_id,x_a\nRB-1,1\nRB-2,2,\n"
    new = edited_csv(BAGS, old, FilePart(), [Fill(2, "seal_applied", "448213")], [])
    assert new == b"bag_id,x_a,seal_applied\nRB-1,1,448213\nRB-2,2,\n"


def test_a_table_that_is_not_there_is_made_with_the_columns_of_the_format() -> None:
    """The header is that of the template, in the form that the file will be read in."""
    new = edited_csv(BAGS, None, FilePart(delimiter=";"), [], [NewRow({"bag_id": "RB-1", "note": "a, b"})])
    assert new.decode().splitlines() == [";".join(BAGS.column_names), "RB-1;;;;;;;;a, b"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_the_encoding_of_a_file_is_kept(encoding: str) -> None:
    """Byte-order marks stay, and a letter is written in the file's own encoding."""
    old = "bag_id;note\r\nRB-ä;\r\n".encode(encoding)
    new = edited_csv(BAGS, old, FilePart(encoding=encoding, delimiter=";"), [Fill(2, "note", "für")], [])
    assert new == "bag_id;note\r\nRB-ä;für\r\n".encode(encoding)


def test_numbers_and_times_are_written_in_the_form_of_the_file() -> None:
    """A decimal comma and a declared form of dates are kept; what a form can't say stays ISO 8601."""
    how = FilePart(delimiter=";", decimal=",", dates="day.month.year hour:minute")
    row = NewRow({"sampler_id": "0047102", "placed_at": "2025-10-02T08:11", "depth_m": "0.9"})
    header = b"sampler_id;placed_at;depth_m\n"
    assert edited_csv(DEPLOYMENTS, header, how, [], [row]) == header + b"0047102;02.10.2025 08:11;0,9\n"
    how = FilePart(delimiter=";", dates="month/day/year")
    assert edited_csv(DEPLOYMENTS, header, how, [], [row]) == header + b"0047102;2025-10-02T08:11;0.9\n"


def test_a_row_like_another_has_its_other_cells() -> None:
    """A serial of a range gets the range's cells, unknown columns included, as the file has them."""
    old = b"sampler_id,lot,x_box\n001-003,A,7\n"
    new = edited_csv(TABLE["samplers"], old, FilePart(), [], [NewRow({"sampler_id": "002", "outcome": "lost"}, like=2)])
    assert new == b"sampler_id,lot,x_box,outcome\n001-003,A,7,\n002,A,7,lost\n"


def test_a_file_that_quotes_every_name_gets_quoted_cells() -> None:
    """New cells are quoted as those of the header are."""
    old = b'"bag_id","note"\n"RB-1",""\n'
    new = edited_csv(BAGS, old, FilePart(), [Fill(2, "note", "wet")], [NewRow({"bag_id": "RB-2"})])
    assert new == b'"bag_id","note"\n"RB-1","wet"\n"RB-2",""\n'


@pytest.mark.parametrize(
    ("old", "fill", "why"),
    [
        (b'bag_id,note\nRB-1,"a\n', Fill(2, "note", "b"), "does not end"),
        (b"bag_id,note\nRB-1\n", Fill(2, "note", "b"), "1 cells"),
        (b"bag_id,note\nRB-1,kept\n", Fill(2, "note", "b"), "a different note than before"),
        (b"bag_id,note\nRB-1,\n", Fill(2, "note", "\u0416"), "no character"),
        (b"", Fill(2, "note", "b"), "empty"),
    ],
)
def test_a_file_that_can_not_be_edited_without_loss_is_refused(old: bytes, fill: Fill, why: str) -> None:
    """An open quote, a short row, another text than expected, a missing character, an empty file."""
    with pytest.raises(NotEditableError, match=why):
        edited_csv(BAGS, old, FilePart(encoding="cp1252"), [fill], [])


_CELL = st.text(st.sampled_from('ab,;"\n \t'), max_size=5)


@settings(max_examples=150, deadline=None)
@given(
    rows=st.lists(st.tuples(_CELL, _CELL), max_size=4), text=_CELL.map(str.strip), end=st.sampled_from(["\n", "\r\n"])
)
def test_any_table_is_read_back_with_the_edit_and_nothing_else(
    rows: list[tuple[str, str]], text: str, end: str
) -> None:
    """The csv module of the standard library (RFC 4180) reads what was there, and the new row behind it."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator=end).writerows([("bag_id", "note"), *((f"k{a}", b) for a, b in rows)])
    old = out.getvalue().encode()
    new = edited_csv(BAGS, old, FilePart(), [], [NewRow({"bag_id": "new", "note": text})])
    assert new.startswith(old)
    assert list(csv.reader(io.StringIO(new.decode(), newline="")))[-1] == ["new", text]
