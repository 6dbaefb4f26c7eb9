"""After any edits a preview has the very bytes that a build without print has."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from previews import differing, edit, maker_of, on_show, update, written
from small_survey import small_survey

Edit = Callable[[Path], None]


def sentence(folder: Path) -> None:
    edit(folder / "text/summary.md", lambda text: text + "\nThe drums stood behind the shed.\n")


def cell(folder: Path) -> None:
    edit(folder / "lab/results.csv", lambda text: re.sub(r",(\d{2,}),\1,ng,", r",1\1,1\1,ng,", text, count=1))


def time(folder: Path) -> None:
    edit(folder / "field/deployments.csv", lambda text: re.sub(r"(T\d\d):(\d)\d", r"\1:\g<2>7", text, count=1))


def setting(folder: Path) -> None:
    edit(folder / "project.toml", lambda text: re.sub(r"^revision = \d+", "revision = 7", text, flags=re.MULTILINE))


def title(folder: Path) -> None:
    edit(folder / "project.toml", lambda text: re.sub(r'^title = "', 'title = "Once more: ', text, flags=re.MULTILINE))


def feature(folder: Path) -> None:
    edit(folder / "locations/features.geojson", lambda text: re.sub(r'("name": ?")', r"\1North ", text, count=1))


def photo(folder: Path) -> None:
    first = min((folder / "photos").glob("*.png"), default=None) or min((folder / "photos").glob("*.jp*g"))
    others = [path for path in sorted((folder / "photos").iterdir()) if path.suffix == first.suffix]
    assert first.read_bytes() != others[-1].read_bytes()
    shutil.copyfile(others[-1], first)


def new_text(folder: Path) -> None:
    (folder / "text/neighbours.md").write_text("They were told.\n", "utf-8")


def no_text(folder: Path) -> None:
    (folder / "text/neighbours.md").unlink()


@pytest.fixture
def small(example: Path, tmp_path: Path) -> Path:
    """Return a folder that is quick to build, with its narrative."""
    folder = small_survey(example, tmp_path / "survey")
    shutil.copytree(example / "text", folder / "text", dirs_exist_ok=True)
    edit(folder / "text/summary.md", lambda _: "What was found stands below.\n")
    for path in (folder / "text").glob("*.md"):
        path.write_text(re.sub(r"\{\{[^}]*\}\}|\b(?:SG|AI|AO)-\d+\b", "some", path.read_text("utf-8")), "utf-8")
    return folder


@pytest.mark.parametrize("level", ["internal", pytest.param("public", marks=pytest.mark.long)])
def test_a_changed_sentence_is_shown_before_the_whole_is_made(small: Path, tmp_path: Path, level: str) -> None:
    """The page with the sentence is at once what the whole gives; then every page is what a build writes."""
    edit(small / "field/deployments.csv", lambda text: text.replace("Varnhollow on 555-0142", "the gate keeper"))
    if level != "internal":
        edit(small / "project.toml", lambda text: text.replace('level = "internal"', f'level = "{level}"'))
    maker = maker_of(small)
    edit(small / "text/summary.md", lambda text: text + "\nThe drums stood behind the shed.\n")
    maker.look()
    assert maker.board.shown.working
    quick = {path: on_show(maker, path) for path in ("index.html", "report.html", "quality.html")}
    assert b"The drums stood behind the shed." in quick["index.html"]
    maker.make_whole()
    assert not maker.board.shown.working
    assert {path: on_show(maker, path) for path in quick} == quick
    assert differing(maker, written(small, tmp_path / "site")) == []


def test_nothing_is_made_where_nothing_changed(small: Path) -> None:
    """A file that is saved as it was, and a file of the editor's own, leave what is on show."""
    maker = maker_of(small)
    before = maker.board.shown
    (small / "text/summary.md").write_bytes((small / "text/summary.md").read_bytes())
    (small / "text/.summary.md.swp").write_bytes(b"An editor's own file.")
    maker.look()
    assert maker.board.shown is before


@pytest.mark.long
def test_a_small_survey_equals_its_build_after_each_edit(small: Path, tmp_path: Path) -> None:
    """A sentence, a result, a setting, and a text that comes and goes."""
    maker = maker_of(small)
    for number, change in enumerate((sentence, cell, title, new_text, no_text)):
        change(small)
        update(maker)
        assert differing(maker, written(small, tmp_path / f"site-{number}")) == [], change.__name__


@pytest.mark.long
def test_the_example_equals_its_build_after_each_kind_of_edit(example: Path, tmp_path: Path) -> None:
    """A sentence, a result, a time, a setting, a photograph, a feature, one after another in one preview."""
    folder = tmp_path / "survey"
    shutil.copytree(example, folder)
    maker = maker_of(folder)
    for number, change in enumerate((sentence, cell, time, setting, photo, feature, new_text, sentence)):
        before = maker.board.shown.pages
        change(folder)
        update(maker)
        assert maker.board.shown.pages is not before, change.__name__
        assert differing(maker, written(folder, tmp_path / f"site-{number}")) == [], change.__name__
