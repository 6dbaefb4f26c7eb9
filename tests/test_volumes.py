"""Location sheets in volumes of their own: each sheet once, each volume whole, and named wherever files are."""

from __future__ import annotations

import csv
import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pikepdf
import pytest
from pypdf import PdfReader
from small_survey import small_survey

from sitegen.checking import check
from sitegen.pipeline import Built, build, compose
from sitegen.render.proof.print import print_differences
from sitegen.render.proof.scan import leaks
from sitegen.render.volumes import printed_reports, volume_sources
from sitegen.report.points import sheets
from sitegen.report.write.publish import relabel

FILES = ["report.pdf", "report-volume-2.pdf", "report-volume-3.pdf"]
POINTS = ["SG-01", "SG-02", "SG-03", "SG-50"]


def with_setting(folder: Path, lines: str) -> Path:
    """Add lines to the settings under ``[publish]``."""
    path = folder / "project.toml"
    path.write_text(path.read_text("utf-8").replace("[publish]\n", f"[publish]\n{lines}\n", 1), "utf-8")
    return folder


@pytest.fixture(scope="module")
def survey(example: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = small_survey(example, tmp_path_factory.mktemp("volumes") / "survey")
    return with_setting(folder, "sheets_in_report = 3\nsheets_per_volume = 3")


@pytest.fixture(scope="module", params=[pytest.param("built", marks=pytest.mark.long)])
def bound(survey: Path) -> Built:
    return build(survey, survey.parent / "out")


@pytest.fixture(scope="module")
def downloads(bound: Built) -> Path:
    return bound.out / "site/downloads"


def text_of(path: Path, *pages: int) -> str:
    """Return the text of a PDF (of those of its pages) without blanks."""
    found = PdfReader(path).pages
    return "".join("".join(page.extract_text() for page in ([found[at] for at in pages] or found)).split())


def outline_of(path: Path) -> list[str]:
    """Return the titles of a PDF's outline, without their numbers."""
    with pikepdf.open(path) as opened, opened.open_outline() as outline:
        every = [entry for top in outline.root for entry in (top, *top.children)]
        return [entry.title.partition(" ")[2] for entry in every]


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def test_every_sheet_is_printed_once_over_all_files(downloads: Path) -> None:
    """The outlines of report and volumes name each point once, and no file holds more than is allowed."""
    assert sorted(path.name for path in downloads.glob("report*.pdf")) == sorted(FILES)
    held = {name: [title for title in outline_of(downloads / name) if title in POINTS] for name in FILES}
    assert held == {FILES[0]: [], FILES[1]: POINTS[:3], FILES[2]: POINTS[3:]}
    results = {name: len(re.findall(r"ResultsatSG-\d+,", text_of(downloads / name))) for name in FILES}
    assert results == {FILES[0]: 0, FILES[1]: 3, FILES[2]: 1}


def test_the_report_says_which_volume_has_which_sheet(downloads: Path) -> None:
    """Each volume stands in a row with its points."""
    text = text_of(downloads / FILES[0])
    assert "2report-volume-2.pdf3SG-01,SG-02,SG-03" in text
    assert "3report-volume-3.pdf1SG-50" in text


@pytest.mark.parametrize(("number", "name"), list(enumerate(FILES, start=1)))
def test_each_volume_stands_alone(bound: Built, downloads: Path, number: int, name: str) -> None:
    """Its claims, its cover with status and number, its document control with digest, and its running lines."""
    meta = bound.report.meta
    with pikepdf.open(downloads / name) as opened:
        claims = opened.open_metadata()
        assert [claims[key] for key in ("pdfaid:part", "pdfaid:conformance", "pdfuaid:part")] == ["3", "A", "1"]
        assert claims["dc:title"] == f"{meta.title}, volume {number} of 3"
        assert str(opened.Root.Lang) == "en-GB"
        assert bool(opened.attachments) is (number == 1)
        count = len(opened.pages)
    cover, control, last = (text_of(downloads / name, at) for at in (0, 1, count - 1))
    for words in (meta.state, f"volume {number} of 3", f"Revision{meta.revision}"):
        assert "".join(words.split()) in cover, words
    for words in (meta.state, f"volume {number} of 3", meta.digest, f"Revision{meta.revision}", "Approved"):
        assert "".join(words.split()) in control, words
    for words in (meta.state, f"volume {number} of 3", meta.digest[:8], f"page {count} of {count}"):
        assert "".join(words.split()) in last, words


@pytest.mark.parametrize("name", FILES)
def test_no_link_of_a_volume_dangles(downloads: Path, name: str) -> None:
    """Each leads to a page of its own file, or to a web address."""
    with pikepdf.open(downloads / name) as opened:
        pages = {page.obj.objgen for page in opened.pages}
        links = [one for page in opened.pages for one in page.get("/Annots", []) if one.get("/Subtype") == "/Link"]
        inner = [one.get("/Dest", one.get("/A", {}).get("/D")) for one in links]
        named = {str(key) for key in _names(opened)}
        assert any(found is not None for found in inner)
        for found in inner:
            if isinstance(found, pikepdf.Array):
                assert found[0].objgen in pages
            elif found is not None:
                assert str(found) in named


def _names(opened: pikepdf.Pdf) -> list[str]:
    if "/Names" not in opened.Root or "/Dests" not in opened.Root.Names:
        return []
    return list(pikepdf.NameTree(opened.Root.Names.Dests))


def test_downloads_and_the_list_of_files_name_the_volumes(downloads: Path) -> None:
    """The page links to each with its size; files.csv, which the report carries, has its SHA-256."""
    page = (downloads.parent / "downloads.html").read_text("utf-8")
    listed = {row["file"]: row["sha256"] for row in rows_of(downloads / "files.csv")}
    for name in FILES[1:]:
        content = (downloads / name).read_bytes()
        assert f'href="downloads/{name}"' in page
        assert f"{len(content):,}" in page
        assert listed[f"downloads/{name}"] == hashlib.sha256(content).hexdigest()
    with pikepdf.open(downloads / FILES[0]) as opened:
        attached = opened.attachments["files.csv"].get_file().read_bytes()
    assert attached == (downloads / "files.csv").read_bytes()


def test_printed_numbers_name_the_volume_that_prints_them(downloads: Path) -> None:
    """In values.csv a result's way in print begins with its volume; what only a volume says has its file as page."""
    values = rows_of(downloads / "values.csv")
    ways = Counter(row["in_print"] for row in values if row["in_print"].startswith("Location sheets"))
    assert {way for way in ways if " / " in way} == {
        *(f"Location sheets, volume 2 / {name}" for name in POINTS[:3]),
        "Location sheets, volume 3 / SG-50",
    }
    own = {row["in_print"]: row["page"] for row in values if row["page"].startswith("downloads/report-volume")}
    assert own["Location sheets, volume 2"] == "downloads/report-volume-2.pdf"
    assert own["Location sheets, volume 3"] == "downloads/report-volume-3.pdf"


def test_volumes_are_searched_for_private_words(bound: Built, tmp_path: Path) -> None:
    """A word that only a volume's text holds is found in that volume, though its bytes are packed."""
    report = relabel(bound.report, {"SG-50": "Varnhollow"})
    (tmp_path / "downloads").mkdir()
    for name in FILES:
        (tmp_path / "downloads" / name).write_bytes(b"%PDF-1.7")
    found = leaks(tmp_path, report, ["Location sheets, volume 3"])
    assert found == ["downloads/report-volume-3.pdf: 'Location sheets, volume 3'"]
    assert f"downloads/{FILES[2]}: 'Varnhollow'" in leaks(tmp_path, report, ["Varnhollow"])
    assert list(printed_reports(report)) == [f"downloads/{name}" for name in FILES]


def test_a_volume_is_read_again(bound: Built, downloads: Path) -> None:
    """A volume that says something else than it was set from is told."""
    sources = [volume_sources(bound.report, volume) for volume in bound.report.volumes]
    assert not list(print_differences(downloads / FILES[1], sources[0], {}))
    assert list(print_differences(downloads / FILES[1], sources[1], {}))


@pytest.mark.long
def test_volumes_have_the_same_bytes_elsewhere(survey: Path, bound: Built, tmp_path: Path) -> None:
    """Another folder, zone and hash seed change no byte of the report, its volumes and what lists them."""
    copy = tmp_path / "else where"
    shutil.copytree(survey, copy)
    env = os.environ | {"TZ": "Pacific/Chatham", "PYTHONHASHSEED": "77"}
    command = [sys.executable, "-m", "sitegen", "build", str(copy), "--out", str(tmp_path / "out")]
    told = subprocess.run(command, check=True, capture_output=True, cwd=tmp_path, env=env, text=True)
    for name in (*FILES, "files.csv", "values.csv"):
        again = (tmp_path / "out/site/downloads" / name).read_bytes()
        assert again == (bound.out / "site/downloads" / name).read_bytes(), name
    assert FILES[2] in told.stdout


def test_as_many_as_are_allowed_stay_in_the_report(example: Path, tmp_path: Path) -> None:
    """At the stated number there are no volumes, and nothing speaks of any."""
    folder = with_setting(small_survey(example, tmp_path / "survey"), "sheets_in_report = 4\nsheets_per_volume = 1")
    _, report, _ = compose(check(folder))
    (chapter,) = (chapter for chapter in report.chapters if chapter.id == "sheets")
    assert [block.title for block in chapter.blocks[1:]] == POINTS  # type: ignore[union-attr]
    assert not report.volumes
    assert not report.meta.volume


def test_results_bound_a_volume_too(survey: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many points are allowed, a volume takes no more results than can be set; one point is never split."""
    monkeypatch.setattr(sheets, "MOST_SHEET_ROWS", 8)
    _, report, _ = compose(check(survey))
    assert [volume.locations for volume in report.volumes] == [("SG-01", "SG-02"), ("SG-03", "SG-50")]
    monkeypatch.setattr(sheets, "MOST_SHEET_ROWS", 1)
    _, report, _ = compose(check(survey))
    assert [volume.locations for volume in report.volumes] == [(name,) for name in POINTS]
