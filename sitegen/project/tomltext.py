"""TOML as tables of keys and values, bounded before it is parsed and before anything walks over it.

The parser's time grows with the square of the names in one dotted key, and most of what looks
into nested tables calls itself: so both are bounded here, for ``project.toml`` and mapping files.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from sitegen.project import limits
from sitegen.project.limits import Bound

_NAME = r"""[ \t]*(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*"""
_DEEP_KEY = re.compile(rf"^(?:[ \t]*\[\[?)?(?:{_NAME}\.){{{2 * limits.SETTINGS_DEPTH.value}}}", re.MULTILINE)
"""A line that begins with a key, or header, of twice as many names as tables may stand inside one another."""
_SHOWN = 60


class Excess(ValueError):
    """More than is read of something: what was found, what is expected, and the line and key if they are known."""

    def __init__(self, found: str, most: Bound, line: int | None = None, key: str = "") -> None:
        self.found = found
        self.expected = f"at most {most.text} ({most.reason})"
        self.line = line
        self.key = key
        super().__init__(f"{found}; expected {self.expected}")


def read_toml(content: bytes, parse_float: Callable[[str], Any] = float) -> tuple[str, dict[str, Any]]:
    r"""Return the text of a TOML file and its tables.

    Raises ValueError (or ArithmeticError, where ``parse_float`` does) for bytes that are not TOML in
    UTF-8, :class:`Excess` for more bytes, keys, depth or digits than are read.

    >>> read_toml(b"a.b = 1\n")[1]
    {'a': {'b': 1}}
    """
    if len(content) > limits.SETTINGS.value:
        raise Excess(f"{len(content):,} bytes", limits.SETTINGS)
    text = content.decode("utf-8-sig")
    if deep := _DEEP_KEY.search(text):
        line = text.count("\n", 0, deep.start()) + 1
        raise Excess(f"a key of {2 * limits.SETTINGS_DEPTH.value} names and more", limits.SETTINGS_DEPTH, line)
    try:
        data = tomllib.loads(text, parse_float=parse_float)
    except RecursionError:
        raise Excess("lists or tables too deep to be read", limits.SETTINGS_DEPTH) from None
    _measure(data)
    return text, data


def _measure(data: dict[str, Any]) -> None:
    """Raise Excess where tables are deeper, keys longer or more, or whole numbers larger than is read."""
    count = 0
    held: list[tuple[str, object]] = [("", data)]
    for depth in range(limits.SETTINGS_DEPTH.value + 2):
        if depth > limits.SETTINGS_DEPTH.value and held:
            raise Excess(f"{held[0][0][:_SHOWN]} inside {depth} others", limits.SETTINGS_DEPTH)
        count += len(held)
        if count > limits.SETTINGS_KEYS.value:
            raise Excess(f"more than {limits.SETTINGS_KEYS.text}", limits.SETTINGS_KEYS)
        held = list(_inside(held))


def _inside(held: Iterable[tuple[str, object]]) -> Iterator[tuple[str, object]]:
    """Yield what stands in tables and lists, each with its dotted key."""
    for key, value in held:
        if isinstance(value, dict):
            for name, inner in value.items():
                _check(key, name, inner)
                yield f"{key}.{name}" if key else name, inner
        elif isinstance(value, list):
            yield from ((key, inner) for inner in value)


def _check(table: str, name: str, value: object) -> None:
    if len(name) > limits.KEY.value:
        raise Excess(f"the key {name[:_SHOWN]}… of {len(name):,} characters", limits.KEY)
    if isinstance(value, int) and value.bit_length() > limits.WHOLE.value:
        key = f"{table}.{name}" if table else name
        raise Excess(f"a whole number of {value.bit_length():,} bits", limits.WHOLE, key=key)
