"""Earlier surveys of a site become part of what is read, and of what is signed and archived."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path

import pytest
from rounds_survey import second_alone

from sitegen.checking import check
from sitegen.checks.privacy import private_words
from sitegen.findings.problems import Severity
from sitegen.project.earlier import mount_of, with_earlier
from sitegen.project.folder import read_folder
from sitegen.project.load import content_digest
from sitegen.project.reads import reading
from tests.builders import EXAMPLE, write


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """Return the second survey's folder, the first one's beside it."""
    shutil.copytree(EXAMPLE, tmp_path / "first")
    return write(second_alone(), tmp_path / "second")


def test_an_earlier_survey_is_a_round_before_the_folders_own(place: Path) -> None:
    """Both are told apart by their project's id, and the report is about the later."""
    checked = check(place)
    assert [part.campaign.name for part in checked.parts] == ["KD-2025-01", "KD-2026-01"]
    assert [len(part.survey.frame("results")) for part in checked.parts] == [1386, 1302]
    assert checked.evaluation is checked.parts[-1].evaluation


def test_rows_of_an_earlier_survey_stand_in_files_of_their_own(place: Path) -> None:
    """A row of the first survey's results is not taken for one of the second's with the same number."""
    first = check(place).parts[0].survey
    assert set(first.frame("results")["_file"]) == {"earlier/first/lab/results.csv"}
    assert first.folder.sha256("earlier/first/lab/results.csv")
    with reading() as seen:
        len(first.frame("results"))
        _ = first.plan
    assert seen == {"earlier/first/results", "earlier/first/project"}


def test_private_files_and_pictures_of_an_earlier_survey_stay_where_they_are(place: Path) -> None:
    """Only what is compared is taken along."""
    taken = [path for path in with_earlier(read_folder(place), place).files if path.startswith("earlier/")]
    assert "earlier/first/project.toml" in taken
    assert not [path for path in taken if "/private/" in path or "/photos/" in path or "/records/" in path]


def test_private_files_of_an_earlier_survey_inside_the_folder_are_not_taken_along(place: Path) -> None:
    """Whoever moves the whole folder of the first survey in hands on nothing that is private in it."""
    (place / "earlier").mkdir()
    shutil.move(place.parent / "first", place / "earlier/first")
    assert (place / "earlier/first/private/contacts.csv").is_file()
    files = with_earlier(read_folder(place), place).files
    assert "earlier/first/lab/results.csv" in files
    assert "private/contacts.csv" in files
    assert not [path for path in files if path.startswith("earlier/") and "/private/" in path]
    assert len(check(place).parts) == 2


@pytest.mark.parametrize("way", [".", "../second", "../copy.zip"])
def test_a_survey_is_no_earlier_survey_of_itself(place: Path, way: str) -> None:
    """The folder, and an archive of it, would be compared with themselves: nothing would ever have changed."""
    with zipfile.ZipFile(place.parent / "copy.zip", "w") as pack:
        for path in sorted(place.rglob("*")):
            pack.write(path, f"data/project/{path.relative_to(place)}")
    settings = place / "project.toml"
    settings.write_text(settings.read_text("utf-8").replace("../first", way), "utf-8")
    checked = check(place)
    (finding,) = (one for one in checked.findings if one.code == "earlier-unreadable")
    assert "it is this survey, or contains part of it" in finding.found
    assert len(checked.parts) == 1


def test_an_earlier_survey_that_is_not_read_whole_is_compared_with_nothing(place: Path) -> None:
    """A record of which a file is left out is not told as the record of that round."""
    weather = place.parent / "first/field/weather.csv"
    weather.unlink()
    weather.symlink_to("/etc/hostname")
    checked = check(place)
    (finding,) = (one for one in checked.findings if one.code == "earlier-unreadable")
    assert "field/weather.csv" in finding.found
    assert len(checked.parts) == 1


def test_a_finding_on_an_earlier_survey_names_no_place_on_the_disk(place: Path) -> None:
    """The findings are published, and the same wherever the folder lies."""
    (place.parent / "first/project.toml").unlink()
    found = {one.found for one in check(place).findings if one.code == "earlier-unreadable"}
    moved = place.parent / "elsewhere"
    moved.mkdir()
    for name in ("first", "second"):
        shutil.move(place.parent / name, moved / name)
    assert {one.found for one in check(moved / "second").findings if one.code == "earlier-unreadable"} == found
    assert found
    assert not [text for text in found if str(place.parent) in text]


@pytest.mark.parametrize("inside", [False, True])
def test_private_words_of_an_earlier_survey_are_looked_for_too(place: Path, inside: bool) -> None:
    """A name that the first survey keeps to itself leaves the house with neither report."""
    contacts = place.parent / "first/private/contacts.csv"
    contacts.write_text(contacts.read_text("utf-8") + "x,,Quellmark,555-0199\n", "utf-8")
    if inside:
        (place / "earlier").mkdir()
        shutil.move(place.parent / "first", place / "earlier/first")
    assert "Quellmark" in private_words(with_earlier(read_folder(place), place))


def test_the_digest_covers_an_earlier_survey(place: Path) -> None:
    """Who signs the comparison has signed what it rests on."""
    before = content_digest(with_earlier(read_folder(place), place))
    results = place.parent / "first/lab/results.csv"
    results.write_bytes(results.read_bytes().replace(b",10000\n", b",20000\n", 1))
    assert content_digest(with_earlier(read_folder(place), place)) != before


def test_an_earlier_survey_inside_the_folder_is_read_from_there(place: Path) -> None:
    """An archive holds it below earlier/, and gives the same without the other folder."""
    outside = with_earlier(read_folder(place), place)
    write(outside, place)
    shutil.rmtree(place.parent / "first")
    inside = with_earlier(read_folder(place), place)
    assert content_digest(inside) == content_digest(outside)
    assert len(check(place).parts) == 2


def test_an_earlier_survey_may_be_a_zip_file(place: Path) -> None:
    """A zipped folder or archive serves as well, under the name without its ending."""
    first = place.parent / "first"
    with zipfile.ZipFile(place.parent / "first.zip", "w") as pack:
        for path in sorted(first.rglob("*")):
            pack.write(path, f"data/project/{path.relative_to(first)}")
    settings = place / "project.toml"
    settings.write_text(settings.read_text("utf-8").replace("../first", "../first.zip"), "utf-8")
    shutil.rmtree(first)
    assert [part.survey.mount for part in check(place).parts] == ["earlier/first/", ""]


def test_an_earlier_survey_that_is_not_there_holds_the_issue(place: Path) -> None:
    """A draft builds, and says so; nothing is compared."""
    shutil.rmtree(place.parent / "first")
    checked = check(place)
    (finding,) = (one for one in checked.findings if one.code == "earlier-unreadable")
    assert finding.severity is Severity.HOLD
    assert len(checked.parts) == 1


def test_where_the_folder_lies_is_told_by_its_settings_alone(place: Path) -> None:
    """What is printed of an earlier survey that is not there has no path of this machine."""
    shutil.rmtree(place.parent / "first")
    (finding,) = (one for one in check(place).findings if one.code == "earlier-unreadable")
    assert "first contains no project" in finding.found
    assert str(place.parent) not in finding.found


def test_what_an_earlier_survey_kept_inside_stops_a_report_that_leaves_the_house(place: Path) -> None:
    """The first survey names a person in a comment, which its own level allowed; the second is for the client."""
    settings = place / "project.toml"
    settings.write_text(settings.read_text("utf-8").replace('"internal"', '"client"'), "utf-8")
    own = place / "field/deployments.csv"
    own.write_text(own.read_text("utf-8").replace("Varnhollow on 555-0142", "the owner"), "utf-8")
    stops = [one for one in check(place).findings if one.severity is Severity.STOP]
    assert {(one.code, one.where.file) for one in stops} == {
        ("personal-data", "earlier/first/field/deployments.csv"),
    }
    settings.write_text(settings.read_text("utf-8").replace('"client"', '"internal"'), "utf-8")
    assert not [one for one in check(place).findings if one.where.file.startswith("earlier/")]


def test_an_earlier_survey_that_stops_holds_the_issue(place: Path) -> None:
    """A record that contradicts itself is compared with nothing."""
    (place.parent / "first/field/deployments.csv").unlink()
    checked = check(place)
    assert [one.severity.value for one in checked.findings if one.code == "earlier-unreadable"] == ["hold"]
    assert len(checked.parts) == 1


def test_two_earlier_surveys_of_one_name_are_told(place: Path) -> None:
    """The second would be read from the first one's files."""
    other = place.parent / "other/first"
    shutil.copytree(place.parent / "first", other)
    settings = place / "project.toml"
    settings.write_text(settings.read_text("utf-8").replace('"../first"', '"../first", "../other/first"'), "utf-8")
    checked = check(place)
    assert [one.subject for one in checked.findings if one.code == "earlier-unreadable"] == ["../other/first"]


def test_a_name_never_leaves_the_folder() -> None:
    """Whatever the way to an earlier survey, its files stand below earlier/."""
    assert {mount_of(path) for path in ("..", "../..", "a/../..")} == {"earlier/survey/"}
