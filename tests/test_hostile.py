"""Hostile text and files: correct text everywhere or a clear finding, bounded, and nothing runs.

One survey carries hostile words wherever the format takes free text; it is built once
and looked at in every form in which it leaves the house.
"""

from __future__ import annotations

import csv
import html
import io
import json
import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from builders import changed, content, rows_of, write
from docx import Document
from docx.oxml.ns import qn
from hostile_texts import COMMENTS, LONG_NAME, SAMPLERS
from PIL import Image
from pypdf import PdfReader

from sitegen.checking import check
from sitegen.findings.problems import Severity
from sitegen.pipeline import Built
from sitegen.project.features import read_features
from sitegen.project.folder import read_folder
from sitegen.project.read.csvtext import MAX_ROWS, read_csv
from sitegen.project.read.pictures import picture_opens, picture_size
from sitegen.render.data.findings import findings_json


def page_words(hostile: Built) -> dict[str, str]:
    """Return the source of every page by its path."""
    site = hostile.out / "site"
    return {path.relative_to(site).as_posix(): path.read_text("utf-8") for path in site.rglob("*.html")}


@pytest.mark.long
@pytest.mark.parametrize(("sampler", "words"), list(zip(SAMPLERS, COMMENTS, strict=True)))
def test_a_comment_stands_on_its_page_as_it_was_written(
    hostile: Built, hostile_folder: Path, sampler: str, words: str
) -> None:
    """The location's page quotes the comment in full, escaped, whatever it holds."""
    rows = rows_of((hostile_folder / "field/deployments.csv").read_bytes())[1]
    place = next(row["location_id"] for row in rows if row["sampler_id"] == sampler)
    page = page_words(hostile)[f"locations/{place}.html"]
    assert words.strip() in html.unescape(page)


@pytest.mark.long
def test_no_hostile_word_is_markup(hostile: Built) -> None:
    """No page holds an element, an attribute or an address that came from the texts."""
    for page, words in page_words(hostile).items():
        for markup in ("<script>alert", "<img src=x", "<i>Toluene", 'href="javascript:', 'src="http', "<b>x</b>"):
            assert markup not in words, (page, markup)


@pytest.mark.long
def test_the_search_index_and_the_map_hold_text_alone(hostile: Built) -> None:
    """The index is JSON whose markup is escaped; the map's data can't end their script element."""
    index = (hostile.out / "site/search/search_index.json").read_text("utf-8")
    assert "<script>alert" not in index
    assert json.loads(index)["docs"]
    page = (hostile.out / "site/map/index.html").read_text("utf-8")
    data = page.split('id="map-data">')[1].split("</script>")[0]
    assert "</script><script>alert(4)</script>" in json.dumps(json.loads(data), ensure_ascii=False)


@pytest.mark.long
def test_exports_hold_the_text_and_no_formula(hostile: Built) -> None:
    """No cell of a CSV export begins as a formula; GeoJSON is valid and keeps the words."""
    downloads = hostile.out / "site/downloads"
    tables, shapes = sorted(downloads.rglob("*.csv")), sorted(downloads.rglob("*.geojson"))
    assert tables
    assert shapes
    for path in tables:
        for row in csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline="")):
            assert not any(text.startswith(("=", "@", "+cmd")) for text in row), (path.name, row)
    for path in shapes:
        json.loads(path.read_text("utf-8"))


@pytest.mark.long
def test_the_pdf_prints_the_words_and_runs_none(hostile: Built) -> None:
    """Typst's own language in a comment is printed, and no file of the machine is."""
    sought, seen = {"#read(", "".join(LONG_NAME.split())}, ""
    for page in PdfReader(hostile.pdf).pages:
        seen += "".join(page.extract_text().split())
        sought -= {words for words in sought if words in seen}
        if not sought:
            break
    assert sought == set()
    assert "root:x:0" not in seen


@pytest.mark.long
def test_the_copy_for_comments_holds_the_words_as_text(hostile: Built) -> None:
    """Narrative with markup of every kind is paragraphs of text, without a link or a field of its own."""
    document = Document(str(hostile.out / "site/downloads/narrative.docx"))
    seen = next(one.text for one in document.paragraphs if one.text.startswith("Seen: "))
    assert '[words](javascript:alert(3)) p bold <b>x</b> and #read("/etc/passwd")' in seen
    assert not [*document.element.iter(qn("w:hyperlink"), qn("w:fldSimple"), qn("w:instrText"))]


@pytest.mark.parametrize("sign", ["\x00", "\x07", "\x1b", "\x7f", "\ufffe", "\uffff"])
def test_a_control_character_is_told_with_its_row(sign: str) -> None:
    """Signs that steer a terminal, or that no workbook can hold, reach no page: the file is refused, the row named."""
    table, told = read_csv("a.csv", f"id,note\n1,a\n2,b{sign}c\n".encode())
    assert table is None
    assert [(one.code, one.where.row) for one in told] == [("encoding-wrong", 3)]


# --- files ---------------------------------------------------------------------------------


def test_links_out_of_the_folder_are_told_and_not_read(tmp_path: Path) -> None:
    """A link to a file and one to a folder outside, and one to itself, are findings; nothing is read through them."""
    root, outside = write(changed(), tmp_path / "survey"), tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.txt").write_text("not for the report", encoding="utf-8")
    (root / "records/file.txt").symlink_to(outside / "secret.txt")
    (root / "records/folder").symlink_to(outside, target_is_directory=True)
    (root / "records/inner").symlink_to(root / "photos", target_is_directory=True)
    (root / "records/itself").symlink_to(root / "records/itself")
    read = read_folder(root)
    told = {finding.subject: finding.code for finding in read.findings}
    assert told == {
        "records/file.txt": "link-out-of-folder",
        "records/folder": "link-out-of-folder",
        "records/inner": "link-out-of-folder",
        "records/itself": "file-unreadable",
    }
    assert all(finding.severity is Severity.STOP for finding in read.findings)
    assert not any(b"not for the report" in file.content for file in read.files.values())


def test_a_pipe_a_socket_and_a_folder_in_place_of_a_file_are_told_and_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading a pipe would wait for ever; a folder with a file's name would make the file seem absent."""
    root = write(changed(), tmp_path / "survey")
    os.mkfifo(root / "records/pipe.txt")
    (root / "field/weather.csv").unlink()
    (root / "field/weather.csv").mkdir()
    monkeypatch.chdir(root / "text")
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind("socket.md")
    told = {finding.subject: finding.found for finding in read_folder(root).findings}
    odd = "a file that cannot be read (it is a pipe, a socket or a device)"
    folder = "a file that cannot be read (it is a folder)"
    assert told == {"records/pipe.txt": odd, "text/socket.md": odd, "field/weather.csv": folder}


def test_a_name_that_is_not_utf8_is_told_in_characters_that_can_be_written(tmp_path: Path) -> None:
    """Findings are written as JSON and printed; a name of other bytes is spelt with their values."""
    root = write(changed(), tmp_path / "survey")
    os.mkdir(os.fsencode(root) + b"/records/\xff")  # noqa: PTH102 - pathlib would need the name as text
    for name in (b"/records/\xe9.txt", b"/records/\xff/a.txt"):
        Path(os.fsdecode(os.fsencode(root) + name)).write_bytes(b"x")
    told = {finding.subject: finding.found for finding in read_folder(root).findings}
    found = "a file that cannot be read (its name is not UTF-8)"
    assert told == {"records/\\xff/a.txt": found, "records/\\xe9.txt": found}
    assert findings_json(read_folder(root).findings)


LIMITED = """
import sys
from sitegen.project.read.csvtext import read_csv
content = b"id,value,note\\n" + b"0001,12.5,seen\\n" * int(sys.argv[1])
table, findings = read_csv("a.csv", content)
print(len(table.rows) if table else findings[0].code)
"""
CPU_S = 30
"""Of the processor, whose time for a process other work on the machine takes nothing from."""


@pytest.mark.long
@pytest.mark.skipif(sys.platform == "win32", reason="memory can't be bounded this way there")
@pytest.mark.parametrize(("rows", "answer"), [(1_000_000, "1000000"), (MAX_ROWS + 2, "table-too-large")])
def test_a_huge_table_is_read_or_refused_in_bounded_memory(rows: int, answer: str) -> None:
    """A million rows are read in under 2 GB; above the declared number they are refused."""
    import resource  # noqa: PLC0415 - there is none on Windows

    limit = 2 * 1024**3

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))
        resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))

    command = [sys.executable, "-c", LIMITED, str(rows)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, preexec_fn=bound)
    assert done.stdout.split() == [answer]


def features(*geometries: dict[str, object]) -> bytes:
    made = [{"type": "Feature", "properties": {"kind": "other"}, "geometry": one} for one in geometries]
    return json.dumps({"type": "FeatureCollection", "features": made}).encode()


def test_shapes_with_holes_and_crossings_are_used_or_told() -> None:
    """A hole is kept; a shape that crosses itself is told and mended to the area it covers."""
    ring = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
    hole = [[1, 1], [1, 2], [2, 2], [2, 1], [1, 1]]
    bow = [[0, 0], [2, 2], [2, 0], [0, 2], [0, 0]]
    found, told = read_features(
        features({"type": "Polygon", "coordinates": [ring, hole]}, {"type": "Polygon", "coordinates": [bow]})
    )
    assert [round(one.geometry.area, 9) for one in found] == [15, 2]
    assert [one.code for one in told if one.subject == "feature 2"] == ["feature-doubtful"]


def test_lines_of_many_vertices_are_read_and_more_refused() -> None:
    """Five lines of 20,000 vertices are read within seconds; more in one, or in all, stops with its number."""

    def line(count: int, north: int = 0) -> dict[str, object]:
        return {"type": "LineString", "coordinates": [[at / count, 2 * north + at % 2] for at in range(count)]}

    five = [line(20_000, north) for north in range(5)]

    start = time.process_time()
    found, told = read_features(features(*five))
    assert len(found) == 5
    assert "feature-unusable" not in {one.code for one in told}
    assert time.process_time() - start < 10
    _, told = read_features(features(line(3), line(20_001)))
    assert [one.where.column for one in told if one.code == "feature-unusable"] == ["feature 2"]
    _, told = read_features(features(*five, line(3, 9)))
    assert [one.found for one in told if one.code == "feature-unusable"] == ["100,003 vertices"]


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_picture_tells_its_size_without_being_decoded(kind: str) -> None:
    """The size read from the header is that with which the picture was written."""
    out = io.BytesIO()
    Image.new("RGB", (301, 47), "grey").save(out, kind)
    assert picture_size(out.getvalue()) == (301, 47)
    assert picture_size(out.getvalue()[:15]) == (0, 0)


def test_a_picture_of_huge_dimensions_stops_before_it_is_opened(tmp_path: Path) -> None:
    """A few kilobytes that would unfold to gigabytes are a finding with the dimensions."""
    out = io.BytesIO()
    Image.new("1", (30_000, 3_000)).save(out, "PNG")
    assert len(out.getvalue()) < 100_000
    found = check(write(changed(content("photos/sg-35.png", out.getvalue())), tmp_path / "survey"))
    told = [finding for finding in found.findings if finding.code == "photo-too-large"]
    assert [finding.found for finding in told] == ["30000 by 3000 pixels"]
    assert found.stopped


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
@pytest.mark.parametrize("size", [(1, 1), (8, 6), (7, 900)])
def test_a_small_picture_opens(kind: str, size: tuple[int, int]) -> None:
    """A picture of fewer than eight pixels a side is one all the same."""
    out = io.BytesIO()
    Image.new("RGB", size, "grey").save(out, kind)
    assert picture_opens(out.getvalue())


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_a_picture_that_does_not_open_is_told_before_anything_is_built(tmp_path: Path, kind: str) -> None:
    """Of a picture cut in half the size is known and the pixels are not: the check says so, whatever it is for."""
    out = io.BytesIO()
    Image.frombytes("RGB", (64, 48), bytes(range(256)) * 36).save(out, kind)
    whole = out.getvalue()
    assert picture_opens(whole)
    for spoilt in (whole[: len(whole) // 2], whole[:30], b"GIF89a" + whole[6:]):
        assert not picture_opens(spoilt)
    found = check(write(changed(content("photos/sg-35.png", whole[: len(whole) // 2])), tmp_path / "survey"))
    told = [(one.code, one.where.file) for one in found.findings if one.code == "photo-unreadable"]
    assert told == [("photo-unreadable", "photos/sg-35.png")]


@pytest.mark.parametrize("name", ["CON", "aux.txt", "lpt1.csv", "a" * 200 + ".pdf", "x/" * 40 + "deep.pdf"])
def test_reserved_and_very_long_names_are_read_as_any_other(tmp_path: Path, name: str) -> None:
    """A name that another system reserves, or a very long one, is read and never ends the program."""
    path = tmp_path / "survey/records" / name
    path.parent.mkdir(parents=True)
    path.write_bytes(b"x")
    assert f"records/{name}" in read_folder(tmp_path / "survey").files
