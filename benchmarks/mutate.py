"""Change the program in small ways, one at a time, and tell which changes no test notices.

    python benchmarks/mutate.py [--rooms compute,checks] [--sample 200] [--seed 1] [--minutes 20] [--again]

The tests run once under coverage (`lines_of_tests.py`); the record is kept, and next time only files of tests that
changed run again. Changes (`mutants.py`) are drawn by a seed, as many from each room. Each is made in a copy of the
tree in memory, where the tests that execute its line run until one fails: first those of the module's name and the
fastest, then those that execute most of the function around it, until their recorded time on the processor comes to
``--seconds``. How many were left out stands beside each survivor. Changes in `survivors.toml` are accepted,
each with its reason. ``--again`` takes only what survived last time; ``--stale`` keeps the record although sources
changed, and leaves these out.

Tests are taken as they are recorded: what a shared fixture or a kept helper executes counts for every test that uses
it. Not recorded, hence not tried, are processes that tests start, and what ``--without`` leaves out (at least
`tests/browser`). A survivor is a test to write, or a change that makes no difference, which goes into
`survivors.toml`.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import os
import random
import resource
import shutil
import signal
import tempfile
import time
import tomllib
from collections import Counter, defaultdict, deque
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import reduce
from itertools import chain, islice, zip_longest
from operator import or_
from pathlib import Path

import pytest
from lines_of_tests import PYTEST, Part, exit_code, fork, lines_of_tests
from mutants import Mutant, alike_fields, mutants

ROOT = Path(__file__).resolve().parent.parent
NOT_COPIED = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info", "build", "dist")
MEMORY = 8 << 30
NO_TEST_RAN = 5
LOST_ON_THE_WAY = 70
OVER_TIME = (-signal.SIGXCPU, -signal.SIGKILL)
Plan = tuple[list[str], int, float]


def start(copy: Path, tests: list[str], seconds: float, *options: str) -> int:
    """Run tests in a copy, in this order, in a process of its own; what fails stands in a file beside.

    ``seconds`` are what the tests took; the process has four times as many, and half a minute, of the processor.
    """
    beside, place = copy.parent / f"{copy.name}.failed", {name: at for at, name in enumerate(tests)}
    beside.write_text("", "utf-8")

    class Chosen:
        @pytest.hookimpl(trylast=True)
        def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
            items[:] = sorted((i for i in items if i.nodeid in place), key=lambda item: place[item.nodeid])

        def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
            if report.failed:
                with beside.open("a", encoding="utf-8") as file:
                    file.write(f"{report.nodeid}\n")

    def work() -> int:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (int(30 + 4 * seconds),) * 2)
        files = dict.fromkeys(name.split("::")[0] for name in tests)
        return int(pytest.main([*PYTEST, *options, *files], plugins=[Chosen()]))

    return fork(copy, beside.with_suffix(".log"), work)


def failed(copy: Path) -> list[str]:
    """Return the tests that failed in a copy."""
    return (copy.parent / f"{copy.name}.failed").read_text("utf-8").splitlines()


# --- which tests run for a change -----------------------------------------------------------


class Plans:
    """The tests of each line."""

    def __init__(self, parts: dict[str, Part], trees: dict[str, ast.Module]) -> None:
        self.parts, self.trees = parts, trees
        self.users: dict[str, set[str]] = defaultdict(set)
        self.shared = {name: self._shared(name) for name, part in parts.items() if part.test}
        for test, shared in self.shared.items():
            for name in (test, *shared):
                self.users[name].add(test)
        self.mentions: dict[str, set[tuple[str, int]]] = defaultdict(set)
        self.imports: dict[str, set[str]] = defaultdict(set)
        for file, node in ((f, n) for f, tree in trees.items() for n in ast.walk(tree)):
            if isinstance(node, ast.ImportFrom):
                self.imports[file] |= {str(node.module).split(".")[-1], *(alias.name for alias in node.names)}
            elif isinstance(node, ast.Name | ast.Attribute):
                self.mentions[node.id if isinstance(node, ast.Name) else node.attr].add((file, node.lineno))

    def _shared(self, name: str) -> set[str]:
        """Return all fixtures and helpers that a test uses, directly or not."""
        seen: set[str] = set()
        ask = [name]
        while ask:
            for used in self.parts[ask.pop()].uses:
                if used in self.parts and used not in seen:
                    seen.add(used)
                    ask.append(used)
        return seen

    def _at(self, file: str, line: int) -> set[str]:
        """Return the tests that execute a line."""
        parts = (name for name, part in self.parts.items() if part.lines.get(file, 0) >> line & 1)
        return set(chain.from_iterable(self.users.get(name, ()) for name in parts))

    def _bound(self, file: str, line: int) -> tuple[set[str], range]:
        """Return the names that a module binds by the statement around a line, and the statement's lines."""
        node = next(n for n in reversed(self.trees[file].body) if n.lineno <= line)
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        names = {n.id for target in targets if target for n in ast.walk(target) if isinstance(n, ast.Name)}
        return names or {getattr(node, "name", "")}, range(node.lineno, (node.end_lineno or 0) + 1)

    def _by_name(self, file: str, line: int, seen: frozenset[str] = frozenset()) -> set[str]:
        """Return the tests of what is executed on import: those of the lines that mention its name, or hold it."""
        names, lines = self._bound(file, line)
        stem = Path(file).stem
        spots = {(f, at) for name in names for f, at in self.mentions[name] if f == file or stem in self.imports[f]}
        spots |= {(file, at) for at in lines}
        tests = set(chain.from_iterable(self._at(f, at) for f, at in spots))
        beyond = sorted(spots) if not tests and not names & seen else []
        return tests.union(*(self._by_name(f, at, seen | names) for f, at in beyond if (f, at) != (file, line)))

    def tests(self, mutant: Mutant) -> set[str]:
        """Return the tests that execute the line of a change; of one executed on import alone, its name's."""
        lines = (mutant.line, mutant.statement)
        by_line = self._at(mutant.file, lines[0]) or self._at(mutant.file, lines[1])
        on_import = any(self.parts[""].lines.get(mutant.file, 0) >> at & 1 for at in lines)
        return by_line or (self._by_name(mutant.file, mutant.line) if on_import else set())

    def _around(self, mutant: Mutant) -> int:
        """Return the lines of the function around a change, as bits; outside of functions, all bits."""
        functions = (n for n in ast.walk(self.trees[mutant.file]) if isinstance(n, ast.FunctionDef))
        spans = [range(f.lineno, (f.end_lineno or 0) + 1) for f in functions]
        return sum(1 << at for at in min((s for s in spans if mutant.line in s), key=len, default=range(0))) or -1

    def plan(self, mutant: Mutant, seconds: float) -> Plan:
        """Return tests whose time comes to no more than ``seconds``, how many are left out, and their time.

        For half of the time those that bear the module's name come first, of these the fastest; then those that
        execute most lines of the function around the change.
        """
        own, around = {n: self.parts[n].seconds for n in self.parts}, self._around(mutant)
        order: dict[str, tuple[int, bool, float, str]] = {}
        for test in self.tests(mutant):
            parts = [self.parts[name] for name in (test, *self.shared[test])]
            lines = reduce(or_, (part.lines.get(mutant.file, 0) for part in parts)) & around
            cost = sum(part.seconds for part in parts)
            order[test] = -lines.bit_count(), mutant.module not in test, cost, test
        focused, thorough = sorted(order, key=lambda t: order[t][1:]), sorted(order, key=lambda t: order[t])
        chosen, paid, total = dict[str, None](), set[str](), 0.0
        for ordered, until in ((focused, seconds / 2), (thorough, seconds)):
            for test in (t for t in ordered if t not in chosen):
                more = own[test] + sum(own[s] for s in self.shared[test] - paid)
                if chosen and total + more > until:
                    break
                chosen[test] = None
                paid |= self.shared[test]
                total += more
        return list(chosen), len(order) - len(chosen), total


# --- changes, one after the other -----------------------------------------------------------


@dataclass(frozen=True)
class Trial:
    """What became of a change."""

    mutant: Mutant
    fate: str
    by: str = ""
    """The test that noticed."""
    passed: int = 0
    left_out: int = 0

    def __str__(self) -> str:
        beside = f"{self.passed} tests passed, {self.left_out} left out" if self.passed else "no test"
        return f"{self.mutant} ({beside})"


def draw(rooms: dict[str, list[Mutant]], sources: Mapping[str, bytes], sample: int, seed: int) -> list[Mutant]:
    """Draw as many changes from each room, at most one of a line, and deal them out in turns."""
    hands = []
    for room, every in sorted(rooms.items()):
        lines: dict[tuple[str, int], list[Mutant]] = defaultdict(list)
        for mutant in every:
            lines[mutant.file, mutant.line].append(mutant)
        dice = random.Random(f"{seed} {room}")  # noqa: S311 - a sample, no secret
        changes = (dice.choice(lines[spot]) for spot in dice.sample(sorted(lines), len(lines)))
        good = (m for m in changes if m.applied(sources[m.file]))
        hands.append(list(islice(good, sample // len(rooms))))
    return [m for turn in zip_longest(*hands) for m in turn if m]


@dataclass
class Running:
    """A change at work in a copy."""

    mutant: Mutant
    copy: Path
    source: bytes
    plan: Plan
    number: int
    child: int = 0
    until: float = 0.0
    _time: float = 0.0

    def begin(self) -> None:
        """Write the changed source, with a time of its own so that no compiled module is taken for it, and start."""
        path, (tests, _, seconds) = self.copy / self.mutant.file, self.plan
        self._time = path.stat().st_mtime
        path.write_bytes(self.mutant.applied(self.source) or b"")
        os.utime(path, (self.number, self.number))
        self.child, self.until = start(self.copy, tests, seconds, "-x"), time.monotonic() + 600 + 20 * seconds

    def end(self) -> Trial | None:
        """Return what became of the change once its tests are through or its time is over, and put the source back."""
        late = time.monotonic() > self.until
        if late:
            os.killpg(self.child, signal.SIGKILL)
        child, status = os.waitpid(self.child, 0 if late else os.WNOHANG)
        if not child:
            return None
        path = self.copy / self.mutant.file
        path.write_bytes(self.source)
        os.utime(path, (self._time, self._time))
        code, by, (tests, left_out, _) = os.waitstatus_to_exitcode(status), failed(self.copy), self.plan
        if late or code in OVER_TIME:
            return Trial(self.mutant, "out of time")
        if code in (NO_TEST_RAN, LOST_ON_THE_WAY):
            return Trial(self.mutant, "not tried")
        return Trial(self.mutant, "noticed" if code else "survived", *by[:1], passed=len(tests), left_out=left_out)


def trials(
    planned: Iterable[tuple[Mutant, Plan]], sources: Mapping[str, bytes], copies: list[Path], minutes: float
) -> Iterator[Trial]:
    """Try each change in one of the copies, as long as there is time."""
    end, free, running = time.monotonic() + 60 * minutes, list(copies), list[Running]()
    waiting = deque(enumerate(planned, 1_000_000_000))
    while waiting or running:
        while waiting and free:
            number, (mutant, plan) = waiting.popleft()
            if not plan[0]:
                yield Trial(mutant, "no test")
            elif time.monotonic() > end:
                yield Trial(mutant, "not tried")
            else:
                running.append(Running(mutant, free.pop(), sources[mutant.file], plan, number))
                running[-1].begin()
        for one in list(running):
            trial = one.end()
            if trial:
                running.remove(one)
                free.append(one.copy)
                yield trial
        time.sleep(0.02)


# --- the whole run --------------------------------------------------------------------------


def preload(trees: Iterable[ast.Module], package: str) -> None:
    """Import what the program imports from elsewhere, once for all processes to come."""
    nodes = [n for tree in trees for n in ast.walk(tree)]
    names = {a.name for n in nodes if isinstance(n, ast.Import) for a in n.names}
    names |= {n.module for n in nodes if isinstance(n, ast.ImportFrom) and n.module}
    for name in sorted(n for n in names if n.split(".")[0] != package):
        with suppress(ImportError):
            importlib.import_module(name)


def told(every: Iterable[Trial], accepted: dict[tuple[str, ...], str]) -> Iterator[str]:
    """Yield the survivors, and a line for each room."""
    fates: dict[str, Counter[str]] = defaultdict(Counter)
    for trial in sorted(every, key=lambda t: (t.mutant.file, t.mutant.line)):
        open_ = trial.fate in ("survived", "no test")
        reason = accepted.get(trial.mutant.key) if open_ else None
        fates[trial.mutant.room]["accepted" if reason else trial.fate] += 1
        if open_ and not reason:
            yield str(trial)
    for room, tally in sorted(fates.items()):
        noticed = tally["noticed"] + tally["out of time"]
        of = noticed + tally["survived"] + tally["no test"]
        yield f"{room}: {noticed} of {of} noticed ({100 * noticed / max(of, 1):.0f} %); {dict(sorted(tally.items()))}"


def options() -> argparse.Namespace:
    """Return what was asked for."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--rooms", default="compute,checks,report,render")
    asked.add_argument("--modules", default="", help="names of modules, to draw from these alone")
    asked.add_argument("--sample", type=int, default=200)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--minutes", type=float, default=20)
    asked.add_argument("--seconds", type=float, default=30)
    asked.add_argument("--workers", type=int, default=os.cpu_count())
    asked.add_argument("--again", action="store_true")
    asked.add_argument("--stale", action="store_true")
    asked.add_argument("--without", default="tests/browser", help="beginnings of files of tests")
    asked.add_argument("--root", type=Path, default=ROOT)
    asked.add_argument("--package", default="sitegen")
    asked.add_argument("--store", type=Path, default=Path(tempfile.gettempdir()) / "mutate")
    return asked.parse_args()


def run(asked: argparse.Namespace, scratch: Path) -> None:
    """Do it all in copies of the tree."""
    copies = [scratch / str(number) for number in range(asked.workers)]
    shutil.copytree(asked.root, copies[0], ignore=NOT_COPIED)
    files = {p.relative_to(copies[0]).as_posix(): p for p in sorted((copies[0] / asked.package).rglob("*.py"))}
    trees = {name: ast.parse(path.read_bytes()) for name, path in files.items()}
    preload(trees.values(), asked.package)
    left, store = asked.without.split(","), asked.store / "lines.json"
    parts, known = lines_of_tests(copies[0], asked.package, left, store, stale=asked.stale)
    for copy in copies[1:]:
        shutil.copytree(copies[0], copy)

    sources, fields = {name: path.read_bytes() for name, path in files.items()}, alike_fields(trees.values())
    every = [m for name, source in sources.items() for m in mutants(name, source, fields) if name in known]
    only = set(filter(None, asked.modules.split(","))) or {Path(name).stem for name in files}
    rooms = {room: [m for m in every if m.room == room and m.module in only] for room in asked.rooms.split(",")}
    drawn = draw(rooms, sources, asked.sample, asked.seed)
    listed, survivors = asked.root / "benchmarks" / "survivors.toml", asked.store / "survivors.txt"
    entries = tomllib.loads(listed.read_text("utf-8"))["accepted"] if listed.exists() else []
    accepted = {(e["where"], e["before"], e["after"]): e["reason"] for e in entries}
    if asked.again:
        last = {line.rpartition(" (")[0] for line in survivors.read_text("utf-8").splitlines()}
        drawn = [m for m in chain.from_iterable(rooms.values()) if str(m) in last and m.applied(sources[m.file])]
    plans, done = Plans(parts, trees), list[Trial]()
    planned = [(m, plans.plan(m, asked.seconds)) for m in drawn]
    for trial in trials(planned, sources, copies, asked.minutes):
        done.append(trial)
        print(f"{len(done)}/{len(drawn)} {trial.fate}: {trial.mutant} {trial.by}", flush=True)

    # A test that fails on the unchanged program too, run among these, has noticed nothing.
    exit_code(start(copies[0], sorted({t.by for t in done if t.by}), 24 * 3600))
    alone = failed(copies[0])
    lines = list(told([replace(t, fate="not tried") if t.by in alone else t for t in done], accepted))
    survivors.write_text("\n".join(lines) + "\n", "utf-8")
    print("", *lines, sep="\n")
    for old in sorted(accepted.keys() - {m.key for m in every}):
        print("no longer there:", *old)


def main() -> None:
    """Record, draw, try, tell."""
    asked = options()
    asked.store.mkdir(parents=True, exist_ok=True)
    memory = Path("/dev/shm")  # noqa: S108 - a folder of its own is made there
    scratch = Path(tempfile.mkdtemp(prefix="mutate-", dir=memory if memory.is_dir() else None))
    try:
        run(asked, scratch)
    finally:
        shutil.rmtree(scratch)


if __name__ == "__main__":
    main()
