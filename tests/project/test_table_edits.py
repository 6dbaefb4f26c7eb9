"""Rows added to a table: in the file's own form, nothing else changed, all or nothing."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.findings.problems import OutputFault, WrongUse
from sitegen.project.read.csvtext import read_csv
from sitegen.project.settings import FilePart
from sitegen.project.tableedits import replace_file, with_rows
from sitegen.project.tables import LOCATIONS, TABLE

NEW = {"location_id": "SG-02", "medium": "soil_gas"}
PLAIN = FilePart()


def test_rows_are_added_in_the_order_of_the_files_own_columns() -> None:
    """A column of the project's own stays, and is blank in the new row."""
    old = b"x_note,medium,location_id\nkeep,soil_gas,SG-01\n"
    assert with_rows(LOCATIONS, old, [NEW], PLAIN) == old + b",soil_gas,SG-02\n"


@pytest.mark.parametrize(
    ("old", "how", "added"),
    [
        (b"location_id,medium\r\nSG-01,soil_gas\r\n", PLAIN, b"SG-02,soil_gas\r\n"),
        (b"location_id,medium\rSG-01,soil_gas\r", PLAIN, b"SG-02,soil_gas\r"),
        (b"location_id,medium\r\nSG-01,soil_gas", PLAIN, b"\r\nSG-02,soil_gas"),
        (b"location_id,medium", PLAIN, b"\nSG-02,soil_gas"),
        (b"\xef\xbb\xbflocation_id;medium\n", FilePart(delimiter=";"), b"SG-02;soil_gas\n"),
        (b'"location_id"\t"medium"\n', FilePart(delimiter="\t"), b'"SG-02"\t"soil_gas"\n'),
        (b"\n,\nlocation_id,medium\n", PLAIN, b"SG-02,soil_gas\n"),
    ],
    ids=["crlf", "cr", "no end", "header alone", "mark", "quoted", "blank lines first"],
)
def test_line_ends_delimiter_marks_and_quotes_are_those_of_the_file(old: bytes, how: FilePart, added: bytes) -> None:
    """What is there stays, byte for byte."""
    assert with_rows(LOCATIONS, old, [NEW], how) == old + added


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-8-sig"])
def test_an_encoding_and_its_mark_are_kept(encoding: str) -> None:
    """The new rows are in it, and no second mark stands before them."""
    how = FilePart(encoding=encoding)
    old = "location_id,medium,comment\r\nSG-01,soil_gas,Zufahrt für Gerät\r\n".encode(encoding)
    made = with_rows(LOCATIONS, old, [NEW | {"comment": "dürr"}], how)
    assert made.startswith(old)
    inside = {"utf-16": "utf-16-le", "utf-8-sig": "utf-8"}.get(encoding, encoding)
    assert made[len(old) :].decode(inside) == "SG-02,soil_gas,dürr\r\n"


def test_a_missing_column_gives_each_row_a_blank_cell_and_no_other_change() -> None:
    """Also where a cell has line breaks, delimiters and quotes of its own; a blank line stays."""
    old = b'location_id,medium,comment\r\n"SG-01",soil_gas,"two\r\nlines, ""so"""\r\n\r\nSG-03,soil_gas,5" pipe\r\n'
    made = with_rows(LOCATIONS, old, [NEW | {"plan_easting": "1.50"}], PLAIN)
    assert made == (
        b'location_id,medium,comment,plan_easting\r\n"SG-01",soil_gas,"two\r\nlines, ""so""",\r\n\r\n'
        b'SG-03,soil_gas,5" pipe,\r\nSG-02,soil_gas,,1.50\r\n'
    )


def test_blank_cells_behind_the_header_give_way_to_a_new_column() -> None:
    """A spreadsheet leaves them; behind them the column would have no name beside it. The rows keep theirs."""
    made = with_rows(LOCATIONS, b"location_id,medium,,\nSG-01,soil_gas,,\n", [NEW | {"surface": "soil"}], PLAIN)
    assert made == b"location_id,medium,surface,\nSG-01,soil_gas,,\nSG-02,soil_gas,soil\n"


def test_numbers_have_the_files_decimal_sign() -> None:
    """Text keeps its point; a cell with the delimiter is quoted."""
    row = NEW | {"plan_easting": "470002.50", "comment": "no. 5, east"}
    made = with_rows(LOCATIONS, b"location_id,medium,plan_easting,comment\n", [row], FilePart(decimal=","))
    assert made.endswith(b'SG-02,soil_gas,"470002,50","no. 5, east"\n')


def test_no_text_becomes_a_formula() -> None:
    """A negative number is none."""
    row = NEW | {"rationale": "=HYPERLINK(1)", "comment": "-x", "plan_easting": "-1.00"}
    made = with_rows(LOCATIONS, b"", [row], PLAIN)
    assert b",'=HYPERLINK(1),-1.00," in made
    assert made.endswith(b",'-x\n")


def test_an_absent_table_gets_every_column_of_the_format() -> None:
    """In the declared form."""
    made = with_rows(LOCATIONS, b"", [NEW], FilePart(delimiter=";"))
    assert made.decode().splitlines()[0] == ";".join(LOCATIONS.column_names)


@pytest.mark.parametrize(
    ("old", "row", "how", "reason"),
    [
        (
            b"location_id,medium,comment\n",
            {"comment": "\u03b2"},
            FilePart(encoding="cp1252"),
            "no character .*\u03b2",
        ),
        (b"location_id,medium\nSG-01\n", {}, PLAIN, "row 2: 1 cells"),
        (b'location_id,medium\n"SG-01,soil_gas\n', {}, PLAIN, "does not end"),
        (b"location_id;medium\n", {}, PLAIN, "without the delimiter"),
        (b"\xff\xfe,\n", {}, PLAIN, "not utf-8"),
    ],
    ids=["character", "short row", "open quote", "delimiter", "encoding"],
)
def test_what_the_file_cannot_hold_is_refused(old: bytes, row: dict[str, str], how: FilePart, reason: str) -> None:
    """With the reason; a table that can't be read is not added to."""
    with pytest.raises(WrongUse, match=reason):
        with_rows(LOCATIONS, old, [NEW | row], how)


def test_a_date_is_not_written_in_another_form_than_the_files() -> None:
    """A file of month/day/year gets no ISO date in silence."""
    row = {"sampler_id": "1", "kind": "spare", "prepared_on": "2025-10-01"}
    with pytest.raises(WrongUse, match="month/day/year"):
        with_rows(TABLE["samplers"], b"sampler_id,kind\n", [row], FilePart(dates="month/day/year"))


CELL = st.text("aé;,\"\n\r '=-", max_size=5).map(str.strip)
ENDS = st.sampled_from(["\n", "\r\n"])


@given(st.lists(st.tuples(CELL, CELL)), st.lists(st.tuples(CELL, CELL), min_size=1), ENDS, st.sampled_from(",;\t|"))
def test_whatever_cells_hold_the_old_rows_and_the_new_read_back(
    old: list[tuple[str, str]], new: list[tuple[str, str]], end: str, delimiter: str
) -> None:
    """The function proves that itself; here it is proved by reading the file anew."""
    how = FilePart.model_validate({"delimiter": delimiter})
    head = f"location_id{delimiter}comment{end}"
    body = "".join(
        delimiter.join('"' + c.replace('"', '""') + '"' for c in (f"A{at}", b)) + end for at, (_, b) in enumerate(old)
    )
    rows = [{"location_id": f"B{at}", "rationale": a, "comment": b} for at, (a, b) in enumerate(new)]
    made = with_rows(LOCATIONS, (head + body).encode(), rows, how)
    table, findings = read_csv("t.csv", made, delimiter=delimiter)
    assert table is not None
    assert findings == []
    at = table.header.index("comment")
    assert [row[at] for row in table.rows[: len(old)]] == [b for _, b in old]
    guarded = ["'" + b if b[:1] in ("=", "-") else b for _, b in new]
    assert [row[at] for row in table.rows[len(old) :]] == guarded


def test_a_file_is_replaced_whole_and_keeps_its_permissions(tmp_path: Path) -> None:
    """No scratch file stays."""
    path = tmp_path / "t.csv"
    path.write_bytes(b"old")
    path.chmod(0o640)
    replace_file(path, b"old", b"new")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [one.name for one in tmp_path.iterdir()] == ["t.csv"]


def test_a_new_file_is_made_with_its_folder(tmp_path: Path) -> None:
    """A planned folder may have none for its points."""
    replace_file(tmp_path / "locations/t.csv", None, b"new")
    assert (tmp_path / "locations/t.csv").read_bytes() == b"new"


def test_a_file_that_changed_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    """Somebody saved it in a spreadsheet while the command ran; or it came to be."""
    path = tmp_path / "t.csv"
    path.write_bytes(b"saved meanwhile")
    for known in (b"old", None):
        with pytest.raises(WrongUse, match="changed while"):
            replace_file(path, known, b"new")
    assert path.read_bytes() == b"saved meanwhile"


def test_a_failure_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is full at the last moment: the old file is whole, and no scratch file stays."""
    path = tmp_path / "t.csv"
    path.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sitegen.project.tableedits.os.fsync", full)
    with pytest.raises(OutputFault, match="No space left"):
        replace_file(path, b"old", b"new")
    assert path.read_bytes() == b"old"
    assert [one.name for one in tmp_path.iterdir()] == ["t.csv"]


def test_a_link_to_a_file_stays_a_link(tmp_path: Path) -> None:
    """The file that it leads to gets the new content."""
    (tmp_path / "real.csv").write_bytes(b"old")
    (tmp_path / "t.csv").symlink_to("real.csv")
    replace_file(tmp_path / "t.csv", b"old", b"new")
    assert (tmp_path / "t.csv").is_symlink()
    assert (tmp_path / "real.csv").read_bytes() == b"new"
