"""Places that a command is given and can't use: said in one line, with an exit code, never a traceback."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from small_survey import small_survey

from sitegen import cli
from sitegen.archive import verify as verifying
from sitegen.project.folder import read_folder
from sitegen.render.place.bag import Label, close_bag, zip_bag

Run = Callable[..., int]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch) -> Run:
    """Return a way to run the command line in this process, giving its exit code."""

    def command(*args: str | Path) -> int:
        monkeypatch.setattr(sys, "argv", ["sitegen", *map(str, args)])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        return int(ended.value.code or 0)

    return command


def bad_places(root: Path) -> dict[str, Path]:
    """Return places at which nothing can be written, whoever asks."""
    (root / "a file").write_text("", "utf-8")
    (root / "loop").symlink_to("loop")
    (root / "nowhere").symlink_to(root / "missing" / "x")
    return {
        "under a file": root / "a file" / "x",
        "in a missing folder": root / "missing" / "x",
        "a folder": root,
        "a link to itself": root / "loop",
        "a link to nowhere": root / "nowhere",
        "a name that is too long": root / ("x" * 300),
        "no disk": Path("/proc/sitegen-x"),
    }


@pytest.mark.parametrize("what", ["under a file", "in a missing folder", "a folder", "a link to itself", "no disk"])
@pytest.mark.parametrize("option", ["--json", "--csv"])
def test_findings_that_can_t_be_written_are_wrong_use(
    tmp_path: Path, run: Run, capsys: pytest.CaptureFixture[str], what: str, option: str
) -> None:
    """The findings are told, then the place and the reason in plain words, with exit code 2."""
    place = bad_places(tmp_path)[what]
    folder = tmp_path / "survey"
    assert run("new", folder) == 0
    capsys.readouterr()
    assert run("check", folder, option, place) == 2
    said = capsys.readouterr()
    assert "findings: " in said.out
    assert said.err.startswith(f"sitegen: {place} can't be used: ")


@pytest.mark.parametrize("what", ["under a file", "a link to itself", "a link to nowhere", "a name that is too long"])
def test_a_new_folder_that_can_t_be_made_is_wrong_use(
    tmp_path: Path, run: Run, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    """No folder is made under a file or at a link that leads nowhere; nothing is left behind."""
    place = bad_places(tmp_path)[what]
    before = sorted(tmp_path.rglob("*"))
    assert run("new", place) == 2
    assert capsys.readouterr().err.startswith(f"sitegen: {place} can't be used: ")
    assert sorted(tmp_path.rglob("*")) == before


def test_a_disk_that_is_read_only_or_fills_leaves_no_half_of_a_folder(
    tmp_path: Path, run: Run, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the first or a later file is refused, what was begun is taken away, so that the next try begins anew."""
    real, written = Path.write_bytes, []

    def refuse(path: Path, content: bytes) -> int:
        written.append(path)
        if len(written) == 4:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(path, content)

    monkeypatch.setattr(Path, "write_bytes", refuse)
    assert run("new", tmp_path / "mine") == 2
    assert "No space left on device" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    monkeypatch.undo()

    def read_only(path: Path, *_: object, **__: object) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))

    monkeypatch.setattr(Path, "mkdir", read_only)
    assert run("new", tmp_path / "mine") == 2
    assert "Read-only file system" in capsys.readouterr().err


@pytest.mark.parametrize(
    "command", ["check", "build", "archive", "verify", "compare", "out of build", "out of archive"]
)
@pytest.mark.parametrize("what", ["under a file", "a link to itself", "a link to nowhere", "a name that is too long"])
def test_no_place_ends_in_a_traceback(
    tmp_path: Path, run: Run, capsys: pytest.CaptureFixture[str], example: Path, command: str, what: str
) -> None:
    """Every command says in one line what is wrong with a place that it was given."""
    place = bad_places(tmp_path)[what]
    if command.startswith("out of "):
        assert run("new", tmp_path / "survey") == 0
        assert run(command.removeprefix("out of "), tmp_path / "survey", "--out", place) == 2
    else:
        assert run(command, place, *([example] if command == "compare" else [])) == 2
    assert capsys.readouterr().err.startswith("sitegen: ")


def test_a_report_that_can_t_be_put_in_its_place_ends_with_3(
    tmp_path: Path, run: Run, example: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the file system takes no folder, no report is written; the reason stands in one line."""
    place = bad_places(tmp_path)["no disk"]
    assert run("build", small_survey(example, tmp_path / "survey"), "--out", place) == 3
    assert capsys.readouterr().err.startswith(f"sitegen: {place} could not be written: ")


def test_an_archive_that_can_t_be_unpacked_ends_with_3(
    tmp_path: Path, run: Run, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a verification finds no room to unpack, nothing is said of the archive but the reason."""
    (tmp_path / "bag/data").mkdir(parents=True)
    (tmp_path / "bag/data/a.txt").write_text("one", "utf-8")
    close_bag(tmp_path / "bag", [Label("Bag-Software-Agent", "sitegen 0.1.0")], date(2025, 12, 12))
    zip_bag(tmp_path / "bag", tmp_path / "bag.zip", date(2025, 12, 12), "bag")

    def refuse(**_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(verifying, "TemporaryDirectory", refuse)
    assert run("verify", tmp_path / "bag.zip") == 3
    assert "no room to unpack the archive: No space left on device" in capsys.readouterr().err


def test_a_folder_that_can_t_be_listed_is_a_finding(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What stands in a closed folder is not told to be missing alone: the folder itself is told."""
    (tmp_path / "field").mkdir()
    real = os.scandir

    def refuse(path: str) -> object:
        if str(path).endswith("field"):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", refuse)
    (finding,) = read_folder(tmp_path).findings
    assert finding.line() == (
        "field: found a folder that cannot be read (Permission denied); expected a readable folder; "
        "check its permissions"
    )
