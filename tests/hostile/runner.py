"""Runs the program on a hostile input in a child process with little of everything, and judges what it did.

What the program imports is loaded once; each run is a fork of that process. The processor's time, the
address space and the size of a written file are bounded there, so an input that asks for too much ends
its own process alone.
"""

from __future__ import annotations

import gc
import importlib
import json
import os
import resource
import shutil
import signal
import stat
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

from hostile_case import Answer, Hostile, Impossible, Place
from hostile_output import output_faults

NEEDED = ("sitegen.cli", "sitegen.checking", "sitegen.pipeline", "sitegen.render.data.findings")
WRITTEN_BYTES = 400_000_000
WALL_S = 90
IMPOSSIBLE, UNWRITTEN = 77, 78
TOLD_BYTES = 20_000


@dataclass(frozen=True)
class Limits:
    """What a run may take: processor seconds, and megabytes of address space above the idle program."""

    check_cpu_s: int = 20
    build_cpu_s: int = 60
    memory_mb: int = 1024
    build_memory_mb: int = 1024


LIMITS = Limits()


class Ended(NamedTuple):
    """How a child process ended: exit code (None after a signal), signal, processor seconds, peak megabytes."""

    code: int | None
    signal: int
    cpu_s: float
    peak_mb: float


@dataclass(frozen=True)
class Verdict:
    """What came of one input; no ``faults`` means that it was answered as it must be."""

    input: Hostile
    code: int | None = None
    cpu_s: float = 0.0
    peak_mb: float = 0.0
    faults: tuple[str, ...] = ()
    skipped: str = ""
    built: bool = False


def run_all(inputs: Iterable[Hostile], scratch: Path, limits: Limits = LIMITS) -> Iterator[Verdict]:
    """Run the inputs one after another; each has a folder of its own below ``scratch``, removed afterwards."""
    for name in NEEDED:
        importlib.import_module(name)
    gc.collect()
    gc.freeze()
    for number, one in enumerate(inputs):
        case = scratch / f"{number:04}"
        for name in ("tmp", "out", "around/neighbour"):
            (case / name).mkdir(parents=True)
        (case / "around/neighbour/keep.txt").write_text("nobody may change this", encoding="utf-8")
        try:
            yield _run(one, case, limits)
        finally:
            shutil.rmtree(case, onerror=_opened)  # a folder without permission is opened first


def _opened(function: Callable[..., Any], path: str, _: object) -> None:
    Path(path).parent.chmod(0o700)
    if Path(path).is_dir() and not Path(path).is_symlink():
        Path(path).chmod(0o700)
    function(path)


def _run(one: Hostile, case: Path, limits: Limits) -> Verdict:
    root = case / "around/survey"
    made = forked(lambda: _make(one, root, case / "out/reason"))
    if made.code == IMPOSSIBLE:
        return Verdict(one, skipped=(case / "out/reason").read_text("utf-8"))
    if made.code != 0:
        return Verdict(one, faults=(f"the input could not be written: {_words(case / 'out/reason')}",))
    before = fingerprint(case / "around")
    ended = forked(lambda: _ask(one.command, case, limits.check_cpu_s, limits.memory_mb))
    faults = [*_breakdown(ended, case), *_answer_faults(one, ended, case)]
    built = False
    if one.answer is Answer.BUILT and not faults:
        command = ("build", "FOLDER", "--out", "OUT/report")
        second = forked(lambda: _ask(command, case, limits.build_cpu_s, limits.build_memory_mb))
        built = second.code == 0
        faults += _breakdown(second, case)
        faults += [] if built else [f"build: exit code {second.code}, not 0: {_words(case / 'out/said')}"]
        faults += output_faults(case / "out/report") if built else []
        ended = ended._replace(cpu_s=ended.cpu_s + second.cpu_s, peak_mb=max(ended.peak_mb, second.peak_mb))
    faults += _touched(before, fingerprint(case / "around"))
    faults += [f"left in the temporary folder: {path.name}" for path in sorted((case / "tmp").iterdir())]
    return Verdict(one, ended.code, ended.cpu_s, ended.peak_mb, tuple(faults), built=built)


# --- the child processes -------------------------------------------------------------------


def forked(work: Callable[[], int]) -> Ended:
    """Do something in a copy of this process, and return how that ended."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        code = 99
        try:
            code = work()
        except BaseException:  # noqa: BLE001 - whatever it is, the child ends here and is judged by its code
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    _, status, used = os.wait4(child, 0)
    code = os.WEXITSTATUS(status) if os.WIFEXITED(status) else None
    stopped_by = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
    return Ended(code, stopped_by, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def _make(one: Hostile, root: Path, reason: Path) -> int:
    try:
        one.make(root)
    except Impossible as error:
        reason.write_text(str(error), encoding="utf-8")
        return IMPOSSIBLE
    except Exception:  # noqa: BLE001 - told with the input that can't be written
        reason.write_text(traceback.format_exc(), encoding="utf-8")
        return UNWRITTEN
    return 0


def _ask(command: Iterable[str], case: Path, cpu_s: int, memory_mb: int) -> int:
    """Be the program: its streams in files, its temporary files in a folder of their own, and little of everything."""
    from sitegen import cli  # noqa: PLC0415 - loaded by run_all

    said = os.open(case / "out/said", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(said, 1)
    os.dup2(said, 2)
    os.environ["TMPDIR"] = tempfile.tempdir = str(case / "tmp")
    os.chdir(case / "tmp")
    _bound(cpu_s, memory_mb)
    named = {"FOLDER": case / "around/survey", "BESIDE": case / "around", "OUT": case / "out"}
    words = [_filled(word, named) for word in command]
    told = ["--json", str(case / "out/findings.json")] if words[0] == "check" else []
    sys.argv = ["sitegen", "--details", str(case / "out/details"), *words, *told]
    try:
        cli.main()
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else int(leaving.code is not None)
    return 0


def _filled(word: str, named: dict[str, Path]) -> str:
    first, slash, rest = word.partition("/")
    return f"{named.get(first, first)}{slash}{rest}"


def _bound(cpu_s: int, memory_mb: int) -> None:
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    most = pages * resource.getpagesize() + memory_mb * 1024**2
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 1))
    resource.setrlimit(resource.RLIMIT_FSIZE, (WRITTEN_BYTES, WRITTEN_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.alarm(
        WALL_S + 4 * cpu_s
    )  # its default ends the process: who waits for ever on a pipe takes no processor time


# --- judging -------------------------------------------------------------------------------


def _breakdown(ended: Ended, case: Path) -> list[str]:
    """Tell of a run that ended in another way than by an answer."""
    said = _words(case / "out/said")
    if ended.signal in (signal.SIGXCPU, signal.SIGKILL):
        return [f"over time: {ended.cpu_s:.1f} s of the processor"]
    if ended.signal == signal.SIGALRM:
        return [f"over time: it waited for more than {WALL_S} s"]
    if ended.signal:
        return [f"breakdown: signal {signal.Signals(ended.signal).name}"]
    details = _words(case / "out/details")
    if any(word in part for word in ("MemoryError", "bad_alloc") for part in (said, details)):
        return [f"over memory: {details[-1500:] or said[-1500:]}"]
    if ended.code in (3, 4) or details:
        return [f"breakdown: exit code {ended.code}: {details[-1500:] or said[-1500:]}"]
    return [f"traceback: {said[-1500:]}"] if "Traceback" in said else []


def _answer_faults(one: Hostile, ended: Ended, case: Path) -> list[str]:
    """Tell where the answer is not the one that the input must get."""
    allowed = {Answer.REFUSED: (1, 2), Answer.BOUNDED: (0, 1, 2)}.get(one.answer, (0,))
    if ended.code not in allowed:
        return [] if ended.code in (3, 4, None) else [f"answer: exit code {ended.code}, not {allowed}"]
    if one.answer is Answer.REFUSED and (ended.code == 2 or one.command[0] != "check"):
        return _unplaced(one, _words(case / "out/said"))
    file = case / "out/findings.json"
    found = json.loads(file.read_bytes()) if file.is_file() else []
    if one.answer is Answer.REFUSED:
        stops = [row for row in found if row["severity"] == "stop"]
        return ([] if stops else ["answer: no stop"]) + _missing(one.places, stops)
    return _missing(one.places, found) if one.answer is Answer.TOLD else []


def _unplaced(one: Hostile, said: str) -> list[str]:
    unbroken = "".join(said.split())
    return [
        f"answer: {place.file} is not named in {said[:300]!r}" for place in one.places if place.file not in unbroken
    ]


def _missing(places: Iterable[Place], found: list[dict[str, Any]]) -> list[str]:
    """Return the places aimed at for which there is no finding."""
    rows = {(row["file"], row["row"], row["column"]) for row in found}
    told = rows | {(file, row, None) for file, row, _ in rows} | {(file, None, column) for file, _, column in rows}
    told |= {(file, None, None) for file, _, _ in rows}
    return [f"answer: nothing is told of {tuple(place)}" for place in places if tuple(place) not in told]


def _words(path: Path) -> str:
    if not path.is_file():
        return ""
    with path.open("rb") as stream:
        stream.seek(max(0, path.stat().st_size - TOLD_BYTES))
        return stream.read().decode("utf-8", "replace").strip()


# --- what else was touched -----------------------------------------------------------------


def fingerprint(top: Path) -> dict[bytes, str]:
    """Return kind, permissions and content of everything below a folder, by its path as bytes."""
    marks = {}
    for folder, names, files in os.walk(os.fsencode(top)):
        for name in [*names, *files]:
            path = os.path.join(folder, name)  # noqa: PTH118 - names need not be UTF-8
            marks[path] = _mark(path)
    return marks


def _mark(path: bytes) -> str:
    state = os.lstat(path)
    about = f"{state.st_mode:o} {state.st_mtime_ns}"
    if stat.S_ISLNK(state.st_mode):
        return f"{about} {os.readlink(path)!r}"  # noqa: PTH115 - as above
    if not stat.S_ISREG(state.st_mode):
        return about if stat.S_ISDIR(state.st_mode) else f"{state.st_mode:o}"
    with open(path, "rb") as stream:  # noqa: PTH123 - as above
        return f"{about} {state.st_size} {sha256(stream.read(50_000_000)).hexdigest()}"


def _touched(before: dict[bytes, str], after: dict[bytes, str]) -> list[str]:
    paths = sorted(path for path in before.keys() | after.keys() if before.get(path) != after.get(path))
    return [f"touched outside: {path!r}" for path in paths]
