"""A preview begins and ends as a program: with signals, leaving nothing behind."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from previews import edit
from small_survey import small_survey

from sitegen.findings.problems import WrongUse
from sitegen.preview import watch
from sitegen.preview.run import serving
from sitegen.preview.watch import watching


@pytest.fixture
def small(example: Path, tmp_path: Path) -> Path:
    """Return a folder that is quick to build."""
    return small_survey(example, tmp_path / "here" / "survey")


@contextmanager
def started(folder: Path, scratch: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Start a preview as a user does, with a place for temporary files of its own; yield it and its address."""
    scratch.mkdir()
    command = [sys.executable, "-m", "sitegen", "preview", str(folder)]
    environment = os.environ | {"TMPDIR": str(scratch), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    ) as process:
        try:
            assert process.stdout is not None
            found = re.search(r"http://127\.0\.0\.1:\d+/", process.stdout.readline())
            assert found, process.stderr and process.stderr.read()
            yield process, found[0]
        finally:
            process.kill()


@pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")
@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_it_ends_with_the_terminal_and_leaves_nothing(small: Path, tmp_path: Path, name: str) -> None:
    """Ctrl-C, another program or a closed terminal end it in good order; no file is left, and none was ever written."""
    before = {path: path.stat().st_mtime_ns for path in small.parent.rglob("*")}
    with started(small, tmp_path / "scratch") as (process, url):
        with urllib.request.urlopen(url, timeout=60) as page:  # noqa: S310 - our own address
            assert b"Preview, not a report" in page.read()
        stream = urllib.request.urlopen(f"{url}-preview/events?after=0", timeout=60)  # noqa: S310 - our own address
        process.send_signal(getattr(signal, name))
        said = process.communicate(timeout=60)
        stream.close()
        assert process.returncode == 0, said
        assert "Traceback" not in said[1]
    assert list((tmp_path / "scratch").iterdir()) == []
    assert {path: path.stat().st_mtime_ns for path in small.parent.rglob("*")} == before


def test_a_change_on_the_disk_comes_to_the_page(small: Path) -> None:
    """From the watcher to the page: a sentence that is written is served, and nothing is told for a mere look."""
    with serving(small) as server:
        shown = server.board.shown
        while shown.working:
            shown = server.board.newer(shown.number, 60) or shown
        number = shown.number
        assert (small / "project.toml").read_bytes()
        assert server.board.newer(number, 0.5) is None
        edit(small / "project.toml", lambda text: text.replace('title = "', 'title = "Once more: ', 1))
        while shown.pages is None or b"Once more" not in (shown.pages.get("index.html") or b""):
            newer = server.board.newer(shown.number, 60)
            assert newer is not None
            shown = newer


def test_a_folder_that_is_not_there_is_wrong_use(tmp_path: Path) -> None:
    """Nothing is served of what is no folder."""
    with pytest.raises(WrongUse, match="nowhere is not a folder"), serving(tmp_path / "nowhere"):
        pass
    with pytest.raises(WrongUse, match=r"holds no project\.toml"), serving(tmp_path):
        pass


@pytest.mark.parametrize("native", [True, False])
def test_changes_are_told_and_looks_are_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, native: bool) -> None:
    """A write in a folder below is told, by the system or, where it has no room to watch, by looking."""
    (tmp_path / "text").mkdir()
    (tmp_path / "text/summary.md").write_text("One.\n", "utf-8")

    class Full(watch.Observer):  # type: ignore[misc,valid-type] - which class it is depends on the system
        def start(self) -> None:
            raise OSError(28, "inotify watch limit reached")

    if not native:
        monkeypatch.setattr(watch, "Observer", Full)
        monkeypatch.setattr(watch, "LOOK_S", 0.05)
    told = threading.Event()
    with watching(tmp_path, told.set):
        (tmp_path / "text/summary.md").read_bytes()
        assert not told.wait(0.3)
        (tmp_path / "text/summary.md").write_text("Two sentences. Or three.\n", "utf-8")
        assert told.wait(60)
