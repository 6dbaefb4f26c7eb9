"""What is on show after good and bad edits: the last good pages stay, and every fault is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from previews import edit, maker_of, on_show, update
from small_survey import small_survey

from sitegen.findings.problems import OutputFault
from sitegen.preview import run
from sitegen.preview.build import READINGS, only_texts, read_steady
from sitegen.project import folder as reading
from sitegen.project.folder import Folder, read_folder


@pytest.fixture
def small(example: Path, tmp_path: Path) -> Path:
    """Return a folder that is quick to build, with a summary."""
    folder = small_survey(example, tmp_path / "survey")
    (folder / "text").mkdir(exist_ok=True)
    (folder / "text/summary.md").write_text("What was found stands below.\n", "utf-8")
    return folder


def test_a_stop_leaves_the_last_good_pages(small: Path) -> None:
    """Findings stop the newer pages, the earlier ones are there, and they come back when it is mended."""
    maker = maker_of(small)
    good = maker.board.shown.pages
    results = (small / "lab/results.csv").read_bytes()
    (small / "lab/results.csv").unlink()
    update(maker)
    assert maker.board.shown.stopped
    assert not maker.board.shown.working
    assert maker.board.shown.pages is good
    (small / "lab/results.csv").write_bytes(results)
    update(maker)
    assert not maker.board.shown.stopped


def test_a_sentence_that_stops_is_not_shown(small: Path) -> None:
    """A token that is not in the vocabulary stops the build; the page keeps the sentence before it."""
    maker = maker_of(small)
    before = on_show(maker, "index.html")
    edit(small / "text/summary.md", lambda text: text + "\n{{max.nonesuch}}\n")
    maker.look()
    assert on_show(maker, "index.html") == before
    maker.make_whole()
    assert maker.board.shown.stopped
    assert on_show(maker, "index.html") == before


def test_the_first_reading_may_be_stopped(small: Path) -> None:
    """Without any pages the findings are there, and the pages come when the folder gives some."""
    results = (small / "lab/results.csv").read_bytes()
    (small / "lab/results.csv").unlink()
    maker = maker_of(small)
    assert maker.board.shown.stopped
    assert maker.board.shown.pages is None
    (small / "lab/results.csv").write_bytes(results)
    update(maker)
    assert on_show(maker, "index.html")


def test_a_result_is_not_shown_before_the_whole_is_made(small: Path) -> None:
    """More than a sentence changed, so that nothing is shown beside pages that it may bear on."""
    maker = maker_of(small)
    pages = maker.board.shown.pages
    edit(small / "lab/results.csv", lambda text: text.replace(",ng,", ",ng ,", 1))
    maker.look()
    assert maker.board.shown.pages is pages
    assert maker.board.shown.working


def test_what_was_made_of_an_older_reading_is_not_shown(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that changes while the whole is made keeps what is newer on show, and the sentence is there."""
    maker = maker_of(small)
    edit(small / "text/summary.md", lambda text: text + "\nThe first sentence.\n")
    maker.look()
    made_whole = run.whole

    def slow(*args: object) -> object:
        edit(small / "text/summary.md", lambda text: text + "\nThe second sentence.\n")
        maker.look()
        return made_whole(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(run, "whole", slow)
    maker.make_whole()
    assert b"The second sentence." in on_show(maker, "index.html")
    assert maker.board.shown.working


@pytest.mark.parametrize("fault", [OutputFault("two pages share a name"), ValueError("unforeseen")])
def test_a_fault_is_told_and_the_pages_stay(small: Path, monkeypatch: pytest.MonkeyPatch, fault: Exception) -> None:
    """Whatever goes wrong while pages are made, the earlier ones stay and the next change is made again."""
    maker = maker_of(small)
    good = maker.board.shown.pages

    def fails(*_: object) -> None:
        raise fault

    with monkeypatch.context() as patch:
        patch.setattr(run, "whole", fails)
        edit(small / "text/summary.md", lambda text: text + "\nOne more.\n")
        update(maker)
    assert maker.board.shown.trouble
    edit(small / "text/summary.md", lambda text: text + "\nAnother.\n")
    update(maker)
    assert not maker.board.shown.trouble
    assert maker.board.shown.pages is not good


def test_a_file_that_changes_while_it_is_read_is_read_again(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An editor is at work: after a pause the file is whole, and no finding is left."""
    busy = [True, True]
    steady = reading._steady

    def unsteady(path: Path) -> bytes:
        if path.name == "summary.md" and busy:
            busy.pop()
            raise OSError(16, f"{reading._CHANGED}; close the program that writes it")
        return steady(path)

    monkeypatch.setattr(reading, "_steady", unsteady)
    pauses: list[int] = []
    snapshot = read_steady(small, lambda: pauses.append(1))
    assert not snapshot.unsteady
    assert snapshot.findings == ()
    assert len(pauses) == 2


def test_a_file_that_never_rests_is_told(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After a few readings the finding stands, and no thread hangs."""

    def unsteady(_: Path) -> bytes:
        raise OSError(16, f"{reading._CHANGED}; close the program that writes it")

    monkeypatch.setattr(reading, "_steady", unsteady)
    pauses: list[int] = []
    assert read_steady(small, lambda: pauses.append(1)).unsteady
    assert len(pauses) == READINGS


def changed(folder: Path, path: str, content: str | None) -> Folder:
    if content is None:
        (folder / path).unlink()
    else:
        (folder / path).parent.mkdir(exist_ok=True)
        (folder / path).write_text(content, "utf-8")
    return read_folder(folder)


@pytest.mark.parametrize(
    ("path", "content", "alone"),
    [
        ("text/summary.md", "Other words.\n", True),
        ("text/summary.md", None, False),
        ("text/more.md", "A new section.\n", False),
        ("lab/analytes.csv", "analyte_id\n", False),
        ("project.toml", "", False),
        ("records/note.txt", "A new record.", False),
        ("stray.txt", "A file that the format does not know.", True),
    ],
)
def test_sentences_alone(small: Path, tmp_path: Path, path: str, content: str | None, alone: bool) -> None:
    """Other words in a text that is there are sentences; whatever else differs of what is read is more than that."""
    other = tmp_path / "other"
    shutil.copytree(small, other)
    assert only_texts(read_folder(small), changed(other, path, content)) is alone
