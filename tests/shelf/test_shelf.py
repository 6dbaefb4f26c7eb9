"""The shelf page: what it tells of which archive, and that no archive can hurt it."""

from __future__ import annotations

import csv
import hashlib
import os
import re
import shutil
import zipfile
from base64 import b64encode
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from itertools import permutations
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from shelf_bags import archive_at, square
from small_survey import small_survey

from sitegen.archive.make import archive
from sitegen.archive.verify import verify
from sitegen.findings.problems import WrongUse
from sitegen.shelf.command import make_shelf

DAY = date(2026, 11, 30)


class Page(HTMLParser):
    """A page as the standard library's parser reads it: rows by their cells, links, scripts, list items."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.items: list[str] = []
        self.handlers: list[str] = []
        self._into: list[str] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag, its handlers, and where its text goes."""
        self.tags.append(tag)
        self.handlers += [name for name, _ in attrs if name.startswith("on")]
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
            self._into = self.rows[-1]
        if tag == "li":
            self.items.append("")
            self._into = self.items
        if tag == "a":
            self.links.append(dict(attrs)["href"] or "")

    def handle_endtag(self, tag: str) -> None:
        """Let the text behind a cell go."""
        if tag in ("td", "th", "li"):
            self._into = None

    def handle_data(self, data: str) -> None:
        """Add a text to the cell that it stands in."""
        if self._into is not None:
            self._into[-1] = " ".join(f"{self._into[-1]} {data}".split())

    @property
    def body(self) -> list[list[str]]:
        """The rows of archives."""
        return self.rows[1:]


def text_of(folder: Path) -> str:
    return (folder / "shelf.html").read_text("utf-8")


def page_of(folder: Path, **how: object) -> Page:
    """Make the page over a folder of archives and read it."""
    make_shelf([folder], **how)  # type: ignore[arg-type]
    return Page(text_of(folder))


def test_a_public_archive_tells_its_survey_and_its_place(tmp_path: Path) -> None:
    """Title, site, client, revision, status, days, compounds and the middle of the boundary stand in its row."""
    archive_at(tmp_path, "AA-1", 2, at=(-99.0, 43.0), detected=["Toluene"])
    (row,) = page_of(tmp_path).body
    for said in ("1 AA-1", "Survey of an invented yard", "Invented Yard", "Client: Invented Trust"):
        assert said in row[0]
    assert "Location: 43.0000° N, 99.0000° W" in row[0]
    assert row[1:4] == ["2 for review 2025-12-12", "2025-10-23 to 2025-11-06", "1 of 3: Toluene"]
    assert row[5] == "not on record"


def test_the_place_is_the_middle_of_the_boundary_by_its_area(tmp_path: Path) -> None:
    """Of an L of three equal squares the centroid is that of its area: 5/6 of a square's side from the corner.

    Worked by hand: squares with middles (0.5, 0.5), (1.5, 0.5), (0.5, 1.5) give (2.5/3, 2.5/3).
    """
    ring = [[10, 20], [12, 20], [12, 21], [11, 21], [11, 22], [10, 22], [10, 20]]
    boundary = {**square(0, 0), "geometry": {"type": "Polygon", "coordinates": [ring]}}
    archive_at(tmp_path, features=[boundary])
    assert "Location: 20.8333° N, 10.8333° E" in page_of(tmp_path).body[0][0]


def test_an_archive_for_fewer_readers_is_told_in_short(tmp_path: Path) -> None:
    """Of an internal archive a public page tells id, revision, status, day and place on the shelf, and no word more."""
    archive_at(tmp_path, "II-1", access="internal", title="Secret title", site="Secret site", client="Secret client")
    archive_at(tmp_path, "CC-1", access="client", title="Client title", site="Client site", client="Client name")
    text = (make_shelf([tmp_path]), text_of(tmp_path))[1]
    for word in ("Secret", "Client title", "Client name", "43.0000", "Tetrachloroethene", "2025-10-23", "<svg"):
        assert word not in text
    assert "II-1" in text
    assert "access: internal" in text
    make_shelf([tmp_path], readers="client")
    assert "Client title" in text_of(tmp_path)
    assert "Secret" not in text_of(tmp_path)
    make_shelf([tmp_path], readers="internal")
    assert "Secret title" in text_of(tmp_path)


def test_a_boundary_that_is_not_public_places_a_site_for_internal_readers_alone(tmp_path: Path) -> None:
    """A client's archive whose boundary the project keeps back has no place; the house's own has one."""
    kept_back = [square(-99, 43, public="no")]
    archive_at(tmp_path, "CC-1", access="client", features=kept_back)
    archive_at(tmp_path, "II-1", access="internal", features=kept_back)
    client, internal = page_of(tmp_path, readers="internal").body
    assert "Location: not on record" in client[0]
    assert "Location: 43.0000° N" in internal[0]


def test_the_bag_of_private_files_is_there_for_the_house_alone(example: Path, tmp_path: Path) -> None:
    """A real archive and its private bag: readers outside see the one, in short, and internal readers both."""
    survey = small_survey(example, tmp_path / "survey")
    shelf = tmp_path / "kept"
    made = archive(survey, shelf)
    assert made.private_bag is not None
    (row,) = page_of(shelf).body
    assert "Kesterly" not in text_of(shelf)
    whole, private = page_of(shelf, readers="internal", verify_on=DAY).body
    assert "Former Kesterly Depot" in whole[0]
    assert "private files" in private[0]
    assert "access: restricted" in private[4]
    assert whole[5].startswith("2026-11-30: whole")
    seal = hashlib.sha512((made.bag / "tagmanifest-sha512.txt").read_bytes()).hexdigest()
    assert seal == made.seal
    assert seal in (shelf / "verified.csv").read_text("utf-8")
    assert row[4].startswith(made.bag.name)
    compounds = (made.bag / "data/site/downloads/compounds.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(compounds))
    detected = {one["compound"] for one in rows if int(one["detected"])}
    analysed = {one["compound"] for one in rows if int(one["analysed"])}
    assert whole[3].startswith(f"{len(detected)} of {len(analysed)}")


def test_the_newest_revision_stands_first_and_copies_are_told(tmp_path: Path) -> None:
    """Revisions run downwards by number, not by text; copies of one revision say so, others say that they differ."""
    for revision in (2, 10, 9):
        archive_at(tmp_path, "AA-1", revision)
    archive_at(tmp_path, "AA-1", 10, zipped=True, name="copy")
    archive_at(tmp_path, "AA-1", 9, title="Another title", name="other")
    rows = page_of(tmp_path).body
    assert [row[1].split()[0] for row in rows] == ["10", "10", "9", "9", "2"]
    assert ["older" in row[1] for row in rows] == [False, False, True, True, True]
    assert all("one of 2 copies of this revision with the same content" in row[4] for row in rows[:2])
    assert all("one of 2 archives of this revision, which differ" in row[4] for row in rows[2:4])
    assert "one of" not in rows[4][4]


def test_any_order_of_places_gives_the_same_bytes(tmp_path: Path) -> None:
    """Arguments in any order, given twice, or another folder above them change nothing."""
    pages = set()
    for top in ("one", "another place"):
        shelf = tmp_path / top / "shelf"
        places = [archive_at(shelf / "a", "BB-2"), archive_at(shelf / "b", "aa-1", zipped=True), shelf / "c"]
        archive_at(shelf / "c", "CC-3")
        for order in permutations([*places, places[0]]):
            make_shelf(order, shelf)
            pages.add((shelf / "shelf.html").read_bytes())
    assert len(pages) == 1


def test_links_lead_to_the_archives(tmp_path: Path) -> None:
    """Each link of the table, resolved from the page, is an archive or a start page, whatever its name."""
    shelf = tmp_path / "shelf"
    archive_at(tmp_path / "far", "AA-1", name="a #1 ? 100% ü")
    archive_at(shelf, "BB-1", zipped=True).rename(shelf / "javascript:alert(1).zip")
    make_shelf([tmp_path / "far", shelf], shelf)
    links = [link for link in Page(text_of(shelf)).links if not link.startswith("#")]
    assert len(links) == 3
    for link in links:
        parts = urlsplit(link)
        assert (parts.scheme, parts.netloc, parts.query, parts.fragment) == ("", "", "", "")
        assert (shelf / unquote(parts.path)).exists()


HOSTILE = '</title><script>window.ran=1</script><img src=x onerror=window.ran=1>" onload="window.ran=1'


def test_hostile_words_are_shown_and_do_not_run(tmp_path: Path) -> None:
    """Words of settings, labels and compounds become text: the page has its own one script and no handler."""
    info = {"Project": HOSTILE, "Report-Status": HOSTILE}
    folder = archive_at(tmp_path, "AA-1", title=HOSTILE, site=HOSTILE, client=HOSTILE, info=info)
    table = folder / "data/site/downloads/compounds.csv"
    quoted = HOSTILE.replace('"', '""')
    table.write_text(
        f'analyte_id,compound,group,analysed,detected\nx,"{quoted}",soil,3,1\ny,\'=1+1,soil,3,1\n', "utf-8"
    )
    page = page_of(tmp_path)
    assert page.tags.count("script") == 1
    assert page.tags.count("img") == 0
    assert page.handlers == []
    (row,) = page.body
    shown = " ".join(HOSTILE.split())
    assert all(shown in cell for cell in (row[0], row[1], row[3]))
    assert "=1+1" in row[3]


def broken(shelf: Path) -> Iterator[tuple[str, str]]:
    """Lay out archives that can't be read, and yield the name of each with a word of the reason."""
    (shelf / "no.zip").write_bytes(b"PK\x03\x04 nothing")
    yield "no.zip", "can't be read as a zip file"
    archive_at(shelf, "X-1", name="other", info={"Bag-Software-Agent": "another 1.0"})
    yield "other", "not an archive written by sitegen"
    archive_at(shelf, "X-2", name="unnumbered", info={"Revision": "two"})
    yield "unnumbered", "states no project or no revision"
    (archive_at(shelf, "X-3", name="unsealed") / "tagmanifest-sha512.txt").unlink()
    yield "unsealed", "tagmanifest-sha512.txt is missing"
    (archive_at(shelf, "X-4", name="linked") / "data/link").symlink_to("/etc/passwd")
    yield "linked", "it is a link"
    (archive_at(shelf, "X-5", name="bytes") / "bag-info.txt").write_bytes(b"\xff\xfe")
    yield "bytes", "can't decode"
    with zipfile.ZipFile(shelf / "astray.zip", "w") as pack:
        pack.writestr("bagit.txt", "x")
        pack.writestr("../outside.txt", "x")
    yield "astray.zip", "leads out"
    with zipfile.ZipFile(shelf / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("b/bagit.txt", "x")
        pack.writestr("b/bag-info.txt", b"Project: A\n" + bytes(300 << 20))
    yield "bomb.zip", "larger than 1,048,576 bytes"


def test_what_cannot_be_read_is_listed_with_its_reason_and_stops_nothing(tmp_path: Path) -> None:
    """Beside one sound archive each broken one is named: damaged, of another program, a bomb, leading out."""
    archive_at(tmp_path, "AA-1")
    told = dict(broken(tmp_path))
    page = page_of(tmp_path)
    assert len(page.body) == 1
    for name, reason in told.items():
        said = [item for item in page.items if item.startswith(f"{name} :")]
        assert len(said) == 1, name
        assert reason in said[0], said
    assert str(tmp_path) not in text_of(tmp_path)


def test_settings_that_cannot_be_read_leave_the_labels(tmp_path: Path) -> None:
    """An archive whose settings are damaged is still told by its labels."""
    (archive_at(tmp_path, "AA-1") / "data/project/project.toml").write_text("[project\n", "utf-8")
    (row,) = page_of(tmp_path).body
    assert "cannot be read" in row[0]
    assert row[1] == "1 for review 2025-12-12"


def test_a_check_is_kept_under_the_day_that_is_given(tmp_path: Path) -> None:
    """What was checked stands on later pages until the archive changes; a changed file is told as not whole."""
    sound, changed = archive_at(tmp_path, "AA-1"), archive_at(tmp_path, "BB-1")
    (changed / "data/site/index.html").write_text("changed", "utf-8")
    assert not verify(changed, rebuild=False).holds
    first, second = page_of(tmp_path, verify_on=DAY).body
    assert (
        first[5]
        == f"2026-11-30: whole, {sum(one.is_file() for one in sound.rglob('*'))} files agree with their digests"
    )
    assert second[5].startswith("2026-11-30: not whole")
    assert [row[5] for row in page_of(tmp_path).body] == [first[5], second[5]]
    page_of(tmp_path, verify_on=date(2026, 12, 1))
    assert page_of(tmp_path).body[0][5].startswith("2026-12-01")
    assert len((tmp_path / "verified.csv").read_text("utf-8").splitlines()) == 5
    shutil.rmtree(sound)
    archive_at(tmp_path, "AA-1", title="Written anew")
    assert page_of(tmp_path).body[0][5] == "not on record"


def test_a_fault_in_an_archive_that_is_withheld_names_no_file_of_it(tmp_path: Path) -> None:
    """The name of a file may tell what the page may not, such as whose photograph it is."""
    changed = archive_at(tmp_path, "AA-1", access="internal")
    (changed / "data/site/index.html").write_text("changed", "utf-8")
    assert page_of(tmp_path, verify_on=DAY).body[0][5] == "2026-11-30: not whole"
    assert "not whole: bag-info.txt" in page_of(tmp_path, readers="internal").body[0][5]


def test_a_table_of_checks_that_cannot_be_read_is_not_written_over(tmp_path: Path) -> None:
    """A person's file of that name, or a damaged one, is refused before anything is written."""
    archive_at(tmp_path, "AA-1")
    (tmp_path / "verified.csv").write_text("mine\n", "utf-8")
    with pytest.raises(WrongUse, match=r"verified\.csv can't be read"):
        make_shelf([tmp_path], verify_on=DAY)
    assert (tmp_path / "verified.csv").read_text("utf-8") == "mine\n"
    assert not (tmp_path / "shelf.html").exists()


def test_a_name_like_a_formula_comes_back_from_the_table_of_checks(tmp_path: Path) -> None:
    """A spreadsheet runs no name of an archive, and the next page still knows its check."""
    archive_at(tmp_path, "AA-1", name="=cmd")
    page_of(tmp_path, verify_on=DAY)
    assert "\n'=cmd," in (tmp_path / "verified.csv").read_text("utf-8")
    assert page_of(tmp_path).body[0][5].startswith("2026-11-30")


def test_the_page_never_goes_where_it_would_do_harm(tmp_path: Path) -> None:
    """Not into an archive or a project, not over another file, and not just anywhere when nothing says where."""
    one, two = archive_at(tmp_path, "AA-1"), archive_at(tmp_path, "BB-1")
    with pytest.raises(WrongUse, match="inside an archive"):
        make_shelf([one], one / "data")
    with pytest.raises(WrongUse, match="inside a project folder"):
        make_shelf([one], one / "data/project")
    with pytest.raises(WrongUse, match="--out"):
        make_shelf([one, two])
    with pytest.raises(WrongUse, match="is not there"):
        make_shelf([tmp_path / "none"], tmp_path)
    with pytest.raises(WrongUse, match="name one of public, client, internal"):
        make_shelf([tmp_path], readers="all")
    (tmp_path / "shelf.html").write_text("mine", "utf-8")
    with pytest.raises(WrongUse, match="not a page of this command"):
        make_shelf([tmp_path])
    assert (tmp_path / "shelf.html").read_text("utf-8") == "mine"


def test_a_folder_without_archives_is_told(tmp_path: Path) -> None:
    """An empty shelf has a page too, and says what lies there: nothing."""
    (tmp_path / "empty").mkdir()
    page = page_of(tmp_path / "empty")
    assert page.body == []
    assert ". : no archive is in this folder" in page.items


@pytest.mark.skipif(os.name == "nt", reason="such names can't be made there")
def test_a_name_that_is_no_text_is_shown_and_found(tmp_path: Path) -> None:
    """Bytes of a name that are not UTF-8 are replaced where it is shown, and kept in the link."""
    made = archive_at(tmp_path, "AA-1")
    made.rename(os.fsdecode(os.fsencode(tmp_path) + b"/na\xffme"))
    page = page_of(tmp_path)
    assert "na�me" in page.body[0][4]
    assert "./na%FFme" in page.links


def test_the_policy_lets_only_the_page_s_own_script_run(tmp_path: Path) -> None:
    """The one inline script is named by its SHA-256, as Content Security Policy Level 3 has it."""
    archive_at(tmp_path, "AA-1")
    make_shelf([tmp_path])
    text = text_of(tmp_path)
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    digest = b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'self' file: 'sha256-{digest}'" in text
    assert "default-src 'none'" in text
