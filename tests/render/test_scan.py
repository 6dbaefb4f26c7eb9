"""Private words are found wherever a file can hold them, and nowhere else."""

from __future__ import annotations

import json
import sqlite3
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from sample_report import sample_report

from sitegen.render.print.strings import Words, strings, texts_of
from sitegen.render.proof.scan import leaks

NAME = "O'Varnhollow"


def packed(members: dict[str, bytes]) -> bytes:
    """Return a zip file, compressed so that no member stands in its bytes as it is."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members.items():
            made.writestr(name, content)
    return out.getvalue()


def database(*cells: str) -> bytes:
    """Return an SQLite file with one row, whose cells stand side by side in its bytes."""
    base = sqlite3.connect(":memory:")
    columns = ", ".join(f"c{at} TEXT" for at in range(len(cells)))
    base.execute(f"CREATE TABLE points ({columns})")
    base.execute(f"INSERT INTO points VALUES ({', '.join('?' * len(cells))})", cells)  # noqa: S608 - question marks
    base.commit()
    return bytes(base.serialize())


SHEET = b"<sst><si><t>Rang O&apos;Varnhollow twice</t></si></sst>"
FILES = {
    "a.html": b"<p>o&#39;varn<b>hollow</b></p>",
    "b.json": json.dumps({"who": "O\u2019x O'Varnhollow"}).replace("'", "\\u0027").encode(),
    "c.csv": b'id,who\r\n1,"O\'VARNHOLLOW, by phone"\r\n',
    "d.txt": "é O'Varnhollow".encode("cp1252"),
    "e.txt": "O'Varnhollow".encode("utf-16"),
    "f.xlsx": packed({"xl/sharedStrings.xml": SHEET}),
    "g.zip": packed({"in/h.xlsx": packed({"xl/sharedStrings.xml": SHEET})}),
    "i.zip": packed({"O'Varnhollow.txt": b""}),
    "j.gpkg": database("SG-01", NAME, "555-0142"),
    "k.svg": f"<svg><text>{NAME}</text></svg>".encode(),
    "l/O'Varnhollow.txt": b"",
    "broken.zip": b"PK no zip, but O'Varnhollow",
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_name_is_found_in_every_kind_of_file(name: str, tmp_path: Path) -> None:
    """Whatever the packing, the escapes, the mark-up, the letter case and the code page."""
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_bytes(FILES[name])
    assert leaks(tmp_path, sample_report(), [NAME]) == [f"{name}: {NAME!r}"]


def test_a_word_is_found_across_a_place_where_a_page_may_break_it() -> None:
    """A cell's address may be broken after a dot, and its neighbours stand close: it is one word all the same."""
    row = "<tr><td>SG-01</td><td>see e_<wbr>varn@ostrel.<wbr>example</td><td>none yet</td></tr>"
    assert list(Words(["e_varn@ostrel.example"]).found_in([row])) == ["e_varn@ostrel.example"]


def test_cells_of_a_database_are_read_one_by_one() -> None:
    """In the bytes of a row neighbours run together, so that a whole word is not seen there."""
    content = database("SG01", "Varnhollow", "555")
    assert b"SG01Varnhollow555" in content
    assert list(Words(["varnhollow"]).found_in(texts_of("survey.gpkg", content))) == ["varnhollow"]


def test_a_longer_word_is_another_and_a_line_break_hides_none() -> None:
    """Whole words only, over line breaks and mark-up."""
    words = Words(["Long Name", "Long", " "])
    assert list(words.found_in(["Longname"])) == []
    assert sorted(words.found_in(["Long\n  Name"])) == ["Long", "Long Name"]
    assert not Words(["", " "])


@pytest.mark.parametrize("at", [0, 1_048_570, 1_048_576, 3_000_000])
def test_a_word_is_found_anywhere_in_a_long_text(at: int) -> None:
    """Long files are read in pieces; a word at the edge of a piece is found as well."""
    text = "a " * (at // 2) + "Varnhollow" + " b" * 1_000_000
    assert list(Words(["Varnhollow"]).found_in([text])) == ["Varnhollow"]


def test_the_text_of_the_pdf_is_searched_as_it_was_set(tmp_path: Path) -> None:
    """A word of the printed chapters is found in the PDF, whose own text is compressed."""
    (tmp_path / "downloads").mkdir()
    (tmp_path / "downloads/report.pdf").write_bytes(b"%PDF-1.7")
    report = sample_report()
    title = report.chapters[0].title
    assert leaks(tmp_path, report, [title]) == [f"downloads/report.pdf: {title!r}"]


def test_a_photograph_with_camera_data_is_named(tmp_path: Path) -> None:
    """Only below the folder of pictures, whatever the letter case of its ending."""
    exif = Image.Exif()
    exif[0x010F] = "Maker"
    (tmp_path / "photos").mkdir()
    for path in (tmp_path / "photos/a.JPG", tmp_path / "b.jpg"):
        Image.new("RGB", (4, 4)).save(path, "JPEG", exif=exif)
    assert leaks(tmp_path, sample_report(), [], pictures="photos/") == ["photos/a.JPG: data of a camera"]


def test_every_text_of_a_tree_is_read() -> None:
    """Texts in lists, tuples and mappings, whatever their depth."""
    assert list(strings({"a": [{"b": "x"}, ("y", 2)], "c": None, "d": "z"})) == ["x", "y", "z"]
