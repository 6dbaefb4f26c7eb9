"""Faults of the machine: whatever happens, the last good output and the inputs stay whole."""

from __future__ import annotations

import errno
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from small_survey import small_survey

from sitegen.findings.problems import OutputFault, Stopped, WrongUse
from sitegen.pipeline import build
from sitegen.project import folder as reading
from sitegen.project.folder import read_folder
from sitegen.render.place import swap
from sitegen.render.place.fixity import fixities_below, tree_digest
from sitegen.render.place.swap import clear_leftovers, put_in_place, scratch_beside, swap_in

HELD = """
import signal, sys
from pathlib import Path
from sitegen import cli, pipeline

mark, survey, out = sys.argv[1:]

def hold(*_):
    Path(mark).touch()
    signal.pause()

pipeline.require_same_data = hold
sys.argv[1:] = ["build", survey, "--out", out]
cli.main()
"""
"""The command with a stop where it has written its pages and would read them again."""


def held_build(survey: Path, out: Path, mark: Path) -> subprocess.Popen[bytes]:
    """Start a build, and return it when it holds still in the middle of its work."""
    command = [sys.executable, "-c", HELD, str(mark), str(survey), str(out)]
    run = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    while not mark.exists():
        assert run.poll() is None
        time.sleep(0.01)
    return run


def digest(folder: Path) -> str:
    return tree_digest(fixities_below(folder))


@pytest.fixture(scope="module")
def survey(example: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a small survey that builds in a second or two."""
    return small_survey(example, tmp_path_factory.mktemp("survey") / "survey")


@pytest.fixture(scope="module")
def good(survey: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a finished report of the small survey."""
    return build(survey, tmp_path_factory.mktemp("good") / "out").out


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Mount a disk of a few megabytes; only the superuser of a Linux can."""
    disk = tmp_path / "disk"
    disk.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=4m", "sitegen-test", str(disk)]
    if not shutil.which("mount") or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("a small disk can't be mounted here (not the superuser of a Linux)")
    yield disk
    subprocess.run(["umount", "-l", str(disk)], check=True)


def an_old_output(out: Path) -> str:
    """Write an earlier output and return its digest."""
    out.mkdir()
    (out / "build.json").write_bytes(b"{}")
    (out / "old.html").write_bytes(b"the last good report")
    return digest(out)


def test_a_full_disk_leaves_the_last_output(survey: Path, small_disk: Path) -> None:
    """A build that fills a real disk ends with a plain message; the old output is whole, scratch is gone."""
    out = small_disk / "out"
    before, inputs = an_old_output(out), digest(survey)
    (small_disk / "ballast").write_bytes(bytes(2_500_000))
    with pytest.raises(OutputFault, match="No space left on device; what was there before is as it was"):
        build(survey, out)
    assert digest(out) == before
    assert sorted(path.name for path in small_disk.iterdir()) == ["ballast", "out"]
    assert digest(survey) == inputs


def test_a_read_only_place_is_told(survey: Path, small_disk: Path) -> None:
    """Where nothing can be written the message says so, and nothing changes."""
    before = an_old_output(small_disk / "out")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(OutputFault, match="Read-only file system; what was there before is as it was"):
        build(survey, small_disk / "out")
    assert digest(small_disk / "out") == before


@pytest.mark.long
def test_inputs_may_be_read_only(survey: Path, good: Path, small_disk: Path, tmp_path: Path) -> None:
    """A project on a read-only disk is built as any other: nothing is written into it."""
    shutil.copytree(survey, small_disk / "survey")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    assert digest(build(small_disk / "survey", tmp_path / "out").out) == digest(good)


RUNS = """
import sys, time
from pathlib import Path
from sitegen.render.place.swap import swap_in
out, rounds = Path(sys.argv[1]), int(sys.argv[2])
for number in range(rounds):
    with swap_in(out) as new:
        for at in range(30):
            (new / f"{at}.txt").write_text(f"{sys.argv[3]}-{number}")
        (new / "build.json").write_text(f"{sys.argv[3]}-{number}")
print("done", flush=True)
"""


def is_whole(out: Path) -> bool:
    """Tell whether all 31 files of an output are of one round of one run.

    Another run may swap the output while it is looked at; the name then stands for another
    folder than the one that was opened, and it is looked at again.
    """
    for _ in range(1000):
        folder = os.open(out, os.O_RDONLY | os.O_DIRECTORY)
        try:
            texts = [_text(entry.name, folder) for entry in os.scandir(folder)]
            if out.stat().st_ino == os.fstat(folder).st_ino:
                return len(texts) == 31 and len(set(texts)) == 1
        finally:
            os.close(folder)
    raise AssertionError("the output was swapped at each of 1000 looks")


def _text(name: str, folder: int) -> str | None:
    """Return the text of a file in an open folder, or None where it went away meanwhile."""
    try:
        with open(name, encoding="utf-8", opener=partial(os.open, dir_fd=folder)) as file:
            return file.read()
    except FileNotFoundError:
        return None


@pytest.mark.long
def test_kills_at_any_moment_leave_a_whole_output(tmp_path: Path) -> None:
    """Sixty processes that do nothing but write and swap are killed at it; the output is always there and whole."""
    out, rng = tmp_path / "out", random.Random(5)  # noqa: S311 - moments, no secrets
    command = [sys.executable, "-c", RUNS, str(out), "100000"]
    subprocess.run([sys.executable, "-c", RUNS, str(out), "1", "first"], check=True, capture_output=True)
    for number in range(60):
        left = set(tmp_path.glob(".out.new-*"))
        run = subprocess.Popen([*command, str(number)])
        while not set(tmp_path.glob(".out.new-*")) - left:
            assert run.poll() is None
            time.sleep(0.002)
        time.sleep(rng.random() * 0.15)
        run.send_signal(signal.SIGKILL)
        run.wait()
        assert is_whole(out), number
    subprocess.run([sys.executable, "-c", RUNS, str(out), "1", "last"], check=True, capture_output=True)
    assert (out / "build.json").read_text() == "last-0"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.long
def test_a_killed_build_leaves_the_last_output(
    survey: Path, good: Path, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A real build is killed while it writes; the last report stays, and the next build tidies up."""
    out = tmp_path / "out"
    shutil.copytree(good, out)
    (out / "site/index.html").write_bytes(b"the last good report")
    before, inputs = digest(out), digest(survey)
    run = held_build(survey, out, tmp_path_factory.mktemp("mark") / "held")
    run.send_signal(signal.SIGKILL)
    run.communicate()
    assert run.returncode == -signal.SIGKILL
    assert list(tmp_path.glob(".out.new-*/new/site/index.html"))
    assert (digest(out), digest(survey)) == (before, inputs)
    build(survey, out)
    assert digest(out) == digest(good)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_two_runs_at_once_leave_one_whole_output(tmp_path: Path) -> None:
    """Four processes that write to one place at once all end well; the output is whole at every look."""
    out = tmp_path / "out"
    subprocess.run([sys.executable, "-c", RUNS, str(out), "1", "first"], check=True, capture_output=True)
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", RUNS, str(out), "60", f"run{number}"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )
        for number in range(4)
    ]  # fmt: skip
    try:
        for run in runs:
            _, said = run.communicate()
            assert run.returncode == 0, said.decode()
            assert is_whole(out)
    finally:
        for run in runs:
            run.kill()
            run.communicate()
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.long
def test_two_builds_at_once_both_end_well(survey: Path, good: Path, tmp_path: Path) -> None:
    """Two real builds of one survey into one place, at once, give the one whole report."""
    command = [sys.executable, "-m", "sitegen", "build", str(survey), "--out", str(tmp_path / "out")]
    runs = [subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) for _ in range(2)]
    for run in runs:
        _, said = run.communicate()
        assert run.returncode == 0, said.decode()
    assert digest(tmp_path / "out") == digest(good)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_scratch_in_use_is_left_alone(tmp_path: Path) -> None:
    """A run tidies what a dead run left, and never the scratch of one that is at work."""
    out = tmp_path / "out"
    (tmp_path / ".out.new-dead").mkdir()
    with scratch_beside(out) as first, scratch_beside(out) as second:
        assert first.is_dir()
        assert second.is_dir()
        assert not (tmp_path / ".out.new-dead").exists()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_what_a_dead_run_left_is_told_and_what_is_in_use_is_not(survey: Path, tmp_path: Path) -> None:
    """The command removes a scratch folder that nobody works in, and says so in one line."""
    out = tmp_path / "out"
    (tmp_path / ".out.new-dead/new/site").mkdir(parents=True)
    command = [sys.executable, "-m", "sitegen", "build", str(survey), "--out", str(out)]
    first, second = (subprocess.run(command, capture_output=True, text=True, check=True).stdout for _ in range(2))
    assert [line for line in first.splitlines() if "interrupted" in line] == [
        "removed, left by an interrupted run: .out.new-dead"
    ]
    assert "interrupted" not in second
    with scratch_beside(out) as used:
        assert clear_leftovers(out) == ()
        assert used.is_dir()


def test_an_interrupted_pair_of_renames_is_put_right(tmp_path: Path) -> None:
    """Where names can't be exchanged, an output left aside between two renames comes back."""
    left = tmp_path / ".out.new-dead/replaced"
    left.mkdir(parents=True)
    (left / "build.json").write_bytes(b"{}")
    out = tmp_path / "out"
    with pytest.raises(OutputFault, match="disk trouble"), swap_in(out):
        raise OSError("disk trouble")
    assert (out / "build.json").read_bytes() == b"{}"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_two_renames_serve_where_names_cannot_be_exchanged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the one-step exchange the new output takes the place; a failing rename puts the old one back."""
    monkeypatch.setattr(swap, "_exchanged", lambda *_: False)
    out = tmp_path / "out"
    before = an_old_output(out)
    rename = Path.rename

    def only_the_old(self: Path, target: Path) -> Path:
        if self.name == "new":
            raise OSError("refused")
        return rename(self, target)

    with scratch_beside(out) as scratch:
        (scratch / "new").mkdir()
        monkeypatch.setattr(Path, "rename", only_the_old)
        with pytest.raises(OSError, match="refused"):
            put_in_place(scratch / "new", out)
        monkeypatch.setattr(Path, "rename", rename)
    assert digest(out) == before
    with swap_in(out) as new:
        (new / "build.json").write_bytes(b"new")
    assert [path.name for path in out.iterdir()] == ["build.json"]


def test_a_place_relative_to_here_is_exchanged_as_an_absolute_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one step where the system can, whatever way the place is named."""
    renamed = list[Path]()
    monkeypatch.setattr(swap, "_renamed_twice", lambda _, out: renamed.append(out))
    monkeypatch.chdir(tmp_path)
    an_old_output(tmp_path / "out")
    for out in (tmp_path / "out", Path("out")):
        with swap_in(out) as new:
            (new / "build.json").write_bytes(b"new")
    assert renamed in ([], [tmp_path / "out", Path("out")])


def test_files_put_in_the_place_meanwhile_are_kept(tmp_path: Path) -> None:
    """A folder of someone else's that appears at the place during a build is not replaced."""
    out = tmp_path / "out"
    with scratch_beside(out) as scratch:
        (scratch / "new").mkdir()
        out.mkdir()
        (out / "thesis.txt").write_bytes(b"mine")
        with pytest.raises(WrongUse, match="did not write"):
            put_in_place(scratch / "new", out)
    assert (out / "thesis.txt").read_bytes() == b"mine"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_output_inside_input_is_refused_behind_a_link(survey: Path, tmp_path: Path) -> None:
    """A link that leads into the project folder is seen through."""
    (tmp_path / "way").symlink_to(survey, target_is_directory=True)
    inputs = digest(survey)
    for out in (tmp_path / "way" / "out", tmp_path / "way", survey / "field"):
        with pytest.raises(WrongUse):
            build(survey, out)
    assert digest(survey) == inputs


def test_each_input_file_is_opened_once(
    survey: Path, good: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every input file is read once; changed just after, none changes anything in the report."""
    folder = tmp_path / "survey"
    shutil.copytree(survey, folder)
    opened: list[str] = []
    read = reading._steady

    def then_change(path: Path) -> bytes:
        content = read(path)
        opened.append(path.relative_to(folder).as_posix())
        path.write_bytes(b"changed since")
        return content

    monkeypatch.setattr(reading, "_steady", then_change)
    report = build(folder, tmp_path / "out").out
    monkeypatch.undo()
    assert len(opened) == len(set(opened))
    assert set(opened) == set(read_folder(survey).files)
    assert digest(report) == digest(good)


def test_a_file_that_changes_while_it_is_read_stops_the_build(
    survey: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file written to during the reading is told, with what to do, and nothing is written."""
    folder = tmp_path / "survey"
    shutil.copytree(survey, folder)
    read = Path.read_bytes

    def while_changing(self: Path) -> bytes:
        content = read(self)
        if self == folder / "lab/results.csv":
            self.write_bytes(content + b"\n")
        return content

    monkeypatch.setattr(Path, "read_bytes", while_changing)
    with pytest.raises(Stopped) as stopped:
        build(folder, tmp_path / "out")
    monkeypatch.undo()
    told = [f for f in stopped.value.findings if f.code == "file-unreadable"]
    assert [f.where.file for f in told] == ["lab/results.csv"]
    assert "changed while it was read" in told[0].found
    assert not (tmp_path / "out").exists()


@pytest.mark.long
@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_an_interrupt_tidies_up(survey: Path, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Ctrl-C during a build leaves nothing aside."""
    out = tmp_path / "out"
    before = an_old_output(out)
    # A run in the background of a shell is born deaf to the interrupt, and so are its children.
    kept = signal.signal(signal.SIGINT, signal.default_int_handler)
    run = held_build(survey, out, tmp_path_factory.mktemp("mark") / "held")
    signal.signal(signal.SIGINT, kept)
    assert list(tmp_path.glob(".out.new-*/new/site/index.html"))
    run.send_signal(signal.SIGINT)
    _, said = run.communicate()
    assert run.returncode != 0, said.decode()
    assert b"Traceback" not in said
    assert digest(out) == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.fixture
def no_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the disk know no locks, as some network drives and other systems do not."""

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(swap.fcntl, "flock", refuse)


@pytest.mark.usefixtures("no_locks")
def test_without_locks_two_runs_at_once_leave_one_whole_output(tmp_path: Path) -> None:
    """Each works in a folder of its own that says whose it is; the one that ends last prevails, and nothing is left."""
    out = tmp_path / "out"
    with swap_in(out) as first:
        (first / "build.json").write_text("first", "utf-8")
        with swap_in(out) as second:
            (second / "build.json").write_text("second", "utf-8")
            assert first.is_dir()
            assert f"process {os.getpid()} on " in (second.parent / "owner.txt").read_text("utf-8")
        assert (out / "build.json").read_text("utf-8") == "second"
    assert (out / "build.json").read_text("utf-8") == "first"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.usefixtures("no_locks")
@pytest.mark.parametrize(("hours", "left"), [(0, True), (23.9, True), (24.1, False)])
def test_without_locks_age_tells_what_was_left(tmp_path: Path, hours: float, *, left: bool) -> None:
    """A scratch folder that was written to within a day stays; an older one gives its output back and goes."""
    out, scratch = tmp_path / "out", tmp_path / ".out.new-abc"
    (scratch / "replaced").mkdir(parents=True)
    (scratch / "replaced" / "build.json").write_text("old", "utf-8")
    (scratch / "new").mkdir()
    then = time.time() - hours * 3600
    for path in (scratch / "replaced", scratch / "new", scratch):
        os.utime(path, (then, then))
    assert clear_leftovers(out) == (() if left else (".out.new-abc",))
    assert scratch.exists() == left
    assert out.exists() != left
    assert not list(tmp_path.glob(".sitegen-now-*"))
