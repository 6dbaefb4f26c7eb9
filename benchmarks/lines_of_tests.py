"""Record which test executes which line, by one run of the tests under coverage.

Of each test, and of each fixture or cached helper that tests share, are kept its own seconds of the processor, what it
uses, and its lines of each file as the bits of a number. What is executed on import stands under no name.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
from collections.abc import Callable, Generator, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from functools import cache, cached_property, wraps
from itertools import chain
from pathlib import Path

import pytest
from coverage import Coverage

PYTEST = (
    *("-q", "--no-header", "--tb=no", "-p", "no:xdist", "-p", "no:cacheprovider", "-o", "addopts="),
    *("--doctest-modules", "--import-mode=importlib"),
)
CACHED = type(cache(len))


@dataclass
class Part:
    """A test, or what tests share."""

    test: bool = False
    seconds: float = 0.0
    uses: list[str] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)


def fork(copy: Path, log: Path, work: Callable[[], int]) -> int:
    """Start work in a process of its own, for which the program is that of a copy; return its id."""
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        os.setsid()
        os.chdir(copy)
        sys.path.insert(0, str(copy))
        os.environ["PYTHONPATH"] = os.pathsep.join((str(copy), os.environ.get("PYTHONPATH", "")))
        sys.dont_write_bytecode = False  # compiled modules and templates are kept in the copy
        out = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 1)
        os.dup2(out, 2)
        code = work()
    finally:
        os._exit(code)


def exit_code(child: int) -> int:
    """Wait for a process."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


class Recorder:
    """Tell coverage whose lines are executed.

    What the program keeps for later (caches, cached properties) is dropped after each test, so that each test
    executes what it rests on.
    """

    def __init__(self, measured: Coverage, package: str) -> None:
        self.parts: dict[str, Part] = {"": Part()}
        self._measured, self._package = measured, package
        self._stack, self._since = [""], time.process_time()
        self._clear: list[Callable[[], None]] = []
        self._fresh: list[tuple[object, str]] = []

    def _uses(self, name: str, used: str) -> None:
        uses = self.parts.setdefault(name, Part()).uses
        if name and used not in uses:
            uses.append(used)

    def _turn(self, to: list[str]) -> None:
        now = time.process_time()
        self.parts[self._stack[-1]].seconds += now - self._since
        self._stack, self._since = to, now
        self._measured.switch_context(to[-1])

    @contextmanager
    def _within(self, name: str) -> Iterator[None]:
        """Count lines and time to one name."""
        before = self._stack
        self._uses(before[-1], name)
        self.parts.setdefault(name, Part())
        self._turn([*before, name])
        try:
            yield
        finally:
            self._turn(before)

    def _helper(self, inner: Callable[..., object]) -> Callable[..., object]:
        @wraps(inner)
        def noted(*args: Hashable, **named: Hashable) -> object:
            with self._within(f"{inner.__module__}.{inner.__qualname__}#{hash((args, *named.items()))}"):
                return inner(*args, **named)

        return noted

    def _lazy(self, kept: cached_property[object]) -> None:
        inner = kept.func

        def noted(owner: object) -> object:
            self._fresh.append((owner, kept.attrname))
            return inner(owner)

        kept.func = noted

    def pytest_collection_finish(self) -> None:
        """Find what the program and the tests keep for later."""
        helpers: dict[int, Callable[..., object]] = {}
        for module in [m for m in sys.modules.values() if str(getattr(m, "__file__", "")).startswith(str(Path.cwd()))]:
            ours = module.__name__.split(".")[0] == self._package
            for name, value in list(vars(module).items()):
                if isinstance(value, CACHED) and ours:
                    self._clear.append(value.cache_clear)
                elif isinstance(value, CACHED) and value.__module__.split(".")[0] != self._package:
                    setattr(module, name, helpers.setdefault(id(value), self._helper(value)))
                elif ours and isinstance(value, type) and value.__module__ == module.__name__:
                    for lazy in [v for v in vars(value).values() if isinstance(v, cached_property)]:
                        self._lazy(lazy)

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        """Count what a test executes to the test."""
        self.parts[item.nodeid] = Part(test=True)
        info = getattr(item, "_fixtureinfo", None)
        for one in chain.from_iterable(info.name2fixturedefs.values() if info else ()):
            if one.scope != "function":
                self._uses(item.nodeid, f"{one.baseid}::{one.argname}")
        with self._within(item.nodeid):
            result = yield
        for owner, name in self._fresh:
            vars(owner).pop(name, None)
        self._fresh.clear()
        for clear in self._clear:
            clear()
        return result

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[object]) -> Generator[None, object, object]:
        """Count what a shared fixture executes to the fixture."""
        if fixturedef.scope == "function":
            return (yield)
        with self._within(f"{fixturedef.baseid}::{fixturedef.argname}"):
            return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Take no test that fails, or is skipped, without any change."""
        if report.outcome != "passed":
            print(f"not taken: {report.nodeid}")
            self.parts[report.nodeid].test = False


def _record(copy: Path, package: str, files: list[str], left: list[str]) -> dict[str, Part]:
    """Run tests under coverage; return what each executes."""
    measured = Coverage(data_file=None, source=[str(copy / package)], config_file=False, messages=False)
    recorder = Recorder(measured, package)
    measured.start()
    pytest.main([*PYTEST, *(f"--ignore-glob={copy}/{name}*" for name in left), *files], plugins=[recorder])
    measured.stop()
    data = measured.get_data()
    for file in sorted(data.measured_files()):
        name = str(Path(file).relative_to(copy))
        for line, parts in data.contexts_by_lineno(file).items():
            for part in set(parts):
                lines = recorder.parts[part].lines
                lines[name] = lines.get(name, 0) | 1 << line
    return recorder.parts


def _digests(copy: Path, package: str, left: list[str]) -> tuple[str, dict[str, str], dict[str, str]]:
    """Return one digest of all that tests rest on beside the sources, and one of each source and file of tests."""
    rest, sources, tests = hashlib.sha256(), {}, {}
    for path in sorted(p for p in copy.rglob("*") if p.is_file() and p.suffix != ".pyc"):
        name, digest = path.relative_to(copy).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest()
        if any(name.startswith(part) for part in left):
            continue
        if path.name.startswith("test_"):
            tests[name] = digest
        elif name.startswith(f"{package}/") and path.suffix == ".py":
            sources[name] = digest
        elif "/" in name and not name.startswith(("benchmarks/", "docs/")):
            rest.update(f"{name} {digest}\n".encode())
    return rest.hexdigest(), sources, tests


def lines_of_tests(
    copy: Path, package: str, left: list[str], store: Path, *, stale: bool
) -> tuple[dict[str, Part], set[str]]:
    """Return what each test executes, and the sources of which that is known.

    Only files of tests that changed since the record in ``store`` run again, as long as nothing else changed. With
    ``stale`` they are all that runs even where sources changed; of these nothing is known then.
    """
    old = json.loads(store.read_text("utf-8")) if store.exists() else {}
    rest, sources, files = _digests(copy, package, left)
    if not old or (not stale and (old["rest"], old["sources"]) != (rest, sources)):
        old = {"rest": rest, "sources": sources, "files": {}, "parts": {}}
    changed = [name for name, digest in files.items() if old["files"].get(name) != digest]
    gone = (old["files"].keys() - files.keys()) | set(changed)
    parts = {name: part for name, part in old["parts"].items() if name.split("::")[0] not in gone}

    def work() -> int:
        found = _record(copy, package, changed if parts else ["tests", package], left)
        whole = parts | {name: asdict(part) for name, part in found.items() if name or not parts}
        return int(not store.write_text(json.dumps(old | {"files": files, "parts": whole}), "utf-8"))

    if changed:
        print(f"coverage: {len(changed)} files of tests", flush=True)
        if exit_code(fork(copy, store.with_suffix(".log"), work)):
            raise SystemExit(f"the tests could not be recorded: see {store.with_suffix('.log')}")
    kept = json.loads(store.read_text("utf-8"))["parts"]
    known = {name for name, digest in sources.items() if old["sources"].get(name) == digest}
    return {name: Part(**part) for name, part in kept.items()}, known
