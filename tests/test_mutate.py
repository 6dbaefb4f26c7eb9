"""Small wrong changes are drawn, tried against the tests of their lines, and told where nothing noticed."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import mutate
import pytest
from lines_of_tests import Part
from mutants import Mutant, alike_fields, mutants

BENCHMARKS = Path(__file__).resolve().parent.parent / "benchmarks"
MODULE = """
from functools import cache, cached_property

LIMIT = 10

def large(size):
    def asked_by_nobody():
        return size + 3
    return size >= LIMIT

def half(size):
    return size / 2

@cache
def third(size):
    return size / 3

class Pair:
    def __init__(self, one):
        self.one = one

    @cached_property
    def two(self):
        return self.one + 1
"""
TESTS = """
import functools
import pytest
from toy.room import sizes
from toy.room.sizes import Pair, half, large

@functools.cache
def shared():
    return half(6)

@pytest.fixture(scope="module")
def pair():
    return Pair(4)

def test_little():
    assert shared()
    assert sizes.third(6)

def test_little_of_a_pair(pair):
    assert pair.two

def test_much():
    assert shared() == 3
    assert sizes.third(6) == 2

def test_much_of_a_pair(pair):
    assert pair.two == 5

def test_sizes():
    assert large(50)
    assert not large(5)
"""
ACCEPTED = '[[accepted]]\nwhere = "large"\nbefore = "size >= LIMIT"\nafter = "size > LIMIT"\nreason = "a size of 10"\n'


def changes(source: str) -> set[str]:
    """Return the changed sources of a line, each short of the parentheses around the change."""
    text = source.encode()
    found = [m.applied(text) for m in mutants("sitegen/room/m.py", text, alike_fields([ast.parse(source)]))]
    return {ast.unparse(ast.parse(changed)).splitlines()[-1].strip() for changed in found if changed}


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("x = a < b", {"x = a <= b"}),
        ("x = é < b", {"x = é <= b"}),
        ("x = a == b", {"x = a != b"}),
        ("x = a + b", {"x = a - b"}),
        ("x = 'a' + b", set()),
        ("x = a and not b", {"x = a or not b", "x = a and b"}),
        ("x = 3", {"x = 4", "x = 2"}),
        ("x = rows[0]", {"x = rows[-1]", "x = rows[1]"}),
        ("x = min(a, b)", {"x = max(a, b)", "x = min(b, a)"}),
        ("x = sorted(rows)", {"x = sorted(rows, reverse=True)"}),
        ("x = cell(a, tone=b)", {"x = cell(a)"}),
        ("x = ('rl', 'mdl')", {"x = ('mdl', 'rl')", "x = ('mdl',)", "x = ('rl',)"}),
        ("x = a.find(('b', 'c'))", {"x = a.find(('c', 'b'))", "x = a.find(('b',))", "x = a.find(('c',))"}),
        (
            "x = a.startswith(('b', 'c'))",
            {f"x = a.{one}" for one in ("startswith(('b',))", "startswith(('c',))", "endswith(('b', 'c'))")},
        ),
        ("with suppress(A, B): x()", set()),
        ("x = {a: b, c: d}", {"x = {a: d, c: b}", "x = {a: b}", "x = {c: d}"}),
        ("x = a if b else c", {"x = a if True else c", "x = a if False else c"}),
        ("def f() -> list[int]:\n    return a", {"return []"}),
        ("def f() -> bool:\n    return a", {"return not a"}),
        ("def f():\n    yield a", {"yield from ()"}),
        (
            "class C:\n    rl: float\n    mdl: float\n\nx = c.rl + c.mdl",
            {"x = c.mdl + c.mdl", "x = c.rl + c.rl", "x = c.rl - c.mdl"},
        ),
    ],
)
def test_each_operator_gives_these_changes_and_no_others(source: str, expected: set[str]) -> None:
    """What a line is changed to is what its operators say."""
    assert changes(source) == expected


def test_what_is_caught_is_left_out_and_never_changed_over() -> None:
    """The order of what an except names makes no difference."""
    assert {m.new for m in mutants("m.py", b"try: x()\nexcept (A, B): pass", {})} == {"(A,)", "(B,)"}


def test_words_for_readers_and_messages_stay_as_they_are() -> None:
    """Docstrings, annotations, decorators, guards and what is raised are not changed."""
    source = (
        '@cached(size=3)\ndef f(a: Literal[1, 2]) -> tuple[int, int]:\n    """Say 1, 2."""\n'
        '    zip(a, strict=True)\n    raise Stop("no", 1)'
    )
    assert not changes(source)


def recorded(*tests: str) -> mutate.Plans:
    """Return the plans for a module of one line, which each of these tests executes in a second.

    In ``a.py`` they use a fixture of their file.
    """
    lines = {"sitegen/room/sizes.py": 0b10}
    parts = {name: Part(True, 1.0, ["tests/a.py::pair"] * name.startswith("tests/a.py"), lines) for name in tests}
    tree = ast.parse("def f(): return x < 3")
    return mutate.Plans({"": Part(), "tests/a.py::pair": Part(seconds=0.5)} | parts, {"sitegen/room/sizes.py": tree})


def test_tests_that_notice_most_come_first_then_those_of_the_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then the others, until the time is over; of one room what notices most of another says nothing."""
    file, source = "sitegen/room/sizes.py", b"def f(): return x < 3"
    mutant: Mutant = next(mutants(file, source, {}))
    plans = recorded("tests/b.py::one", "tests/test_sizes.py::two", "tests/whole.py::three")
    monkeypatch.setattr(mutate, "NOTICE_MOST", {"room": ("tests/whole.py",)})
    assert plans.plan(mutant, 5) == (["tests/whole.py::three", "tests/test_sizes.py::two", "tests/b.py::one"], 0, 3)
    assert plans.plan(mutant, 2.5) == (["tests/whole.py::three", "tests/test_sizes.py::two"], 1, 2)
    monkeypatch.setattr(mutate, "NOTICE_MOST", {"other": ("tests/whole.py",)})
    assert plans.plan(mutant, 2.5) == (["tests/test_sizes.py::two", "tests/b.py::one"], 1, 2)


def test_files_of_tests_that_notice_most_are_there() -> None:
    assert [name for names in mutate.NOTICE_MOST.values() for name in names if not (mutate.ROOT / name).exists()] == []


def test_tests_that_share_a_fixture_of_their_file_follow_each_other() -> None:
    """Else it would be set up anew each time that a test of another file has been between."""
    mutant = next(mutants("sitegen/room/sizes.py", b"def f(): return x < 3", {}))
    names = ["tests/a.py::sizes", "tests/b.py::sizes", "tests/b.py::two", "tests/a.py::two"]
    order, _, seconds = recorded(*names).plan(mutant, 100)
    assert order == ["tests/b.py::sizes", "tests/a.py::sizes", "tests/a.py::two", "tests/b.py::two"]
    assert seconds == 4.5


def run(folder: Path, *options: str) -> list[str]:
    """Try every change of the toy, and return the lines that tell of them."""
    asked = ("--root", folder, "--package", "toy", "--rooms", "room", "--store", folder / "store", "--workers", "1")
    told = subprocess.run(
        [sys.executable, BENCHMARKS / "mutate.py", *asked, *options], capture_output=True, text=True, check=True
    )
    return told.stdout.split("\n\n")[-1].splitlines()


@pytest.mark.long
def test_survivors_are_told_and_what_a_test_noticed_is_not(tmp_path: Path) -> None:
    """Of a toy, the boundary that no test looks at and the line that none executes are told, until one is accepted.

    What ``half``, ``third`` and ``two`` give is kept for later; the test that asks first would let any change pass.
    """
    for name, text in {"toy/__init__": "", "toy/room/sizes": MODULE, "tests/test_sizes": TESTS}.items():
        path = tmp_path / f"{name}.py"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")

    told = run(tmp_path)
    assert [line.split(" in ")[-1].split(": ")[0] for line in told[:-1]] == ["LIMIT", "large.asked_by_nobody", "large"]
    assert told[2].endswith("size >= LIMIT → size > LIMIT (1 tests passed, 0 left out)")
    assert told[1].endswith("(no test)")
    assert told[-1].startswith("room: 3 of 6 noticed (50 %)")

    (tmp_path / "benchmarks").mkdir()
    (tmp_path / "benchmarks/survivors.toml").write_text(ACCEPTED, "utf-8")
    told = run(tmp_path)
    assert len(told) == 3
    assert told[-1].startswith("room: 3 of 5 noticed")

    with (tmp_path / "tests/test_sizes.py").open("a") as tests:
        tests.write("def test_the_limit():\n    assert large(10)\n    assert not large(9)\n")
    told = run(tmp_path)
    assert len(told) == 2
    assert told[-1].startswith("room: 5 of 6 noticed")

    with (tmp_path / "toy/room/sizes.py").open("a") as module:
        module.write("def fourth(size):\n    return size / 4\n")
    assert not any("sizes.py" in line for line in run(tmp_path, "--stale")), "nothing is known of a changed source"
    assert "in fourth: " in " ".join(run(tmp_path))
