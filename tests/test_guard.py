"""The outermost guard: an error that nobody foresaw is told in a sentence, and leaves what was there."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path

import pytest

from sitegen import cli
from sitegen.checks import run


class Planted(RuntimeError):
    """An error that no part of the program expects."""


@pytest.fixture
def folder(example: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(example, tmp_path / "survey"))


def command(monkeypatch: pytest.MonkeyPatch, *words: str | Path) -> int:
    """Run a command line in this process, and return its exit code."""
    monkeypatch.setattr(sys, "argv", ["sitegen", *map(str, words)])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return int(ended.value.code or 0)


def planted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the first rule of a check fail with the words of a record."""

    def rule(_: object) -> None:
        raise Planted("a name from the record")

    monkeypatch.setattr(run, "SURVEY_RULES", (rule,))


def test_it_says_step_folder_and_what_to_do_and_no_more(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 4, one line without a trace and without the record's words; the last report stays."""
    planted(monkeypatch)
    last = folder.with_name("survey-report")
    last.mkdir()
    (last / "build.json").write_text("{}", "utf-8")
    assert command(monkeypatch, "build", folder) == 4
    told = capsys.readouterr().err
    assert re.fullmatch(
        rf"sitegen: Planted while checking the record \({re.escape(str(folder))}\)\. .*--details FILE.*\n", told
    )
    assert "a name from the record" not in told
    assert sorted(path.name for path in folder.parent.iterdir()) == ["survey", "survey-report"]
    assert [path.name for path in last.iterdir()] == ["build.json"]


def test_details_are_written_where_they_are_asked_for(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file has version, step and trace; a place that can't be written is said."""
    planted(monkeypatch)
    details = tmp_path / "details.txt"
    assert command(monkeypatch, "--details", details, "check", folder) == 4
    assert str(details) in capsys.readouterr().err
    written = details.read_text("utf-8")
    assert written.startswith("sitegen ")
    assert "checking the record" in written
    assert "Planted: a name from the record" in written
    assert command(monkeypatch, "--details", tmp_path / "none" / "details.txt", "check", folder) == 4
    assert "could not be written" in capsys.readouterr().err


def test_what_is_foreseen_is_not_taken_for_a_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that is none still ends with 2."""
    assert command(monkeypatch, "check", tmp_path / "nowhere") == 2
    assert "fault of the program" not in capsys.readouterr().err
