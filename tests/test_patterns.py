"""Patterns that read texts: twice the text takes twice the time, whatever the text."""

from __future__ import annotations

import importlib
import re
import time
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

import sitegen

ROOT = Path(sitegen.__file__).parent
SHORT = 1_500
"""Characters of the shorter text; the longer one has twice as many."""
FLOOR_S = 0.008
"""A text that is read in less has told nothing of the rest: a square of these lengths takes longer."""
PIECES = (
    "a", "A", "1", " ", "\t", "\n", "\u00a0", "é", "(", "[", "]", "{", "<", "`", "\\", "*", "_", "-", ".", ",", "%",
    '"', "'", ">", "#", "/", ":", ";", "|", "&#", "*_", "1,", "1.", "1 ", "1-", "a-", "a.", "a@", "a ", " a", " \n",
    "\n ", "{{ ", "{{ a", "}}", "https://", "<a ", "<svg ", "<svg\n", "](", "[a](", "[x", "!", "0", "0.", "- ", "1) ",
    "not ", "no ", " and ", ", and ", "data:", 'a="', "/*", "url(", '@import "', "--", "\\u", "_x0000_", "e+", "<!--",
    "XXX", "<tbody", "<script", "+1 (23) ", "12 ", "Payload-Oxum: 1", "Bagging-Date: ", "é\u0301",
)  # fmt: skip
"""What a hostile text repeats: each letter of the patterns, and the beginnings that they look for."""
METHODS = {"match", "fullmatch", "search", "finditer", "sub", "split", "findall"}
ENDS = ("", "!", "\n", "b")

OF_OUR_OWN_OUTPUT = ("sitegen.render.proof.pdf_text.",)
"""Patterns that read nothing but what this program itself wrote a moment before."""
BOUNDED = ("sitegen.project.delivery.files._REVISION.",)
"""Patterns over a file's name, whose length is bounded where it is read."""


def modules() -> Iterator[tuple[str, object, str]]:
    """Yield the name, the module and the source of each module of the program."""
    for path in sorted(ROOT.rglob("*.py")):
        name = ".".join(("sitegen", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__")
        if not name.endswith("__main__"):
            yield name, importlib.import_module(name), path.read_text("utf-8")


def uses(name: str, source: str) -> set[str]:
    """Return the methods of a pattern that a source calls: what is only matched whole is never searched for."""
    called = set(re.findall(rf"\b{name}\.(\w+)\(", source)) & METHODS
    return called or {"finditer"}


@cache
def patterns() -> dict[str, tuple[re.Pattern[str] | re.Pattern[bytes], frozenset[str]]]:
    """Return every pattern that is a constant of a module, or stands in one, with how it is used."""
    gathered = {}
    for module_name, module, source in modules():
        for name, value in vars(module).items():
            held = value if isinstance(value, tuple | list) else value.values() if isinstance(value, dict) else (value,)
            for at, one in enumerate(held):
                if isinstance(one, re.Pattern) and not f"{module_name}.{name}.".startswith(
                    (*OF_OUR_OWN_OUTPUT, *BOUNDED)
                ):
                    gathered[f"{module_name}.{name}.{at}"] = (one, frozenset(uses(name, source)))
    return gathered


def seconds(pattern: re.Pattern[str] | re.Pattern[bytes], method: str, text: str) -> float:
    """Return the processor's time of one use of a pattern over a text."""
    given = text.encode() if isinstance(pattern.pattern, bytes) else text
    call: Callable[..., object] = getattr(pattern, "finditer" if method in ("sub", "split", "findall") else method)
    start = time.process_time()
    told = call(given)
    if method not in ("match", "fullmatch", "search"):
        for _ in told:  # type: ignore[attr-defined]
            pass
    return time.process_time() - start


def too_slow(pattern: re.Pattern[str] | re.Pattern[bytes], method: str) -> list[str]:
    """Return the repeated pieces over which a pattern takes more than in proportion to the length."""
    slow = []
    for piece in PIECES:
        for end in ENDS:
            text = (piece * SHORT)[:SHORT]
            long = seconds(pattern, method, text + text + end)
            if long < FLOOR_S:
                continue
            long = min(long, *(seconds(pattern, method, text + text + end) for _ in range(2)))
            short = min(seconds(pattern, method, text + end) for _ in range(3))
            if long > FLOOR_S and long > 3 * short:
                slow.append(f"{piece!r} … {end!r}: {short:.3f} s, {long:.3f} s")
    return slow


@pytest.mark.parametrize("name", patterns())
def test_a_pattern_takes_time_in_proportion(name: str) -> None:
    """Over every repeated piece, twice the length takes less than three times as long."""
    pattern, methods = patterns()[name]
    assert [fault for method in sorted(methods) for fault in too_slow(pattern, method)] == []


def test_a_pattern_that_is_not_in_proportion_would_be_seen() -> None:
    """A pattern that begins anew at every place is told, searched for or matched."""
    assert too_slow(re.compile(r"\w+@"), "finditer")
    assert too_slow(re.compile(r"\s*\s*x"), "match")
    assert not too_slow(re.compile(r"\w+"), "finditer")


def test_patterns_are_gathered() -> None:
    """The list has patterns of the checks, of the readers and of those who prove."""
    rooms = {name.split(".")[1] for name in patterns()}
    assert {"checks", "project", "compute", "render", "report", "archive"} <= rooms
