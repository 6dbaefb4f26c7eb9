"""Keys of a mapping file: the line on which one stands, and what its table may hold beside it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import Any, get_args

from sitegen.project.delivery.parts import MappingForm, Part

_NAME = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\[^\n])*"|'[^'\n]*')"""
_KEY = re.compile(rf"[ \t]*({_NAME}(?:[ \t]*\.[ \t]*{_NAME})*)[ \t]*=")
_HEADER = re.compile(rf"[ \t]*\[\[?[ \t]*({_NAME}(?:[ \t]*\.[ \t]*{_NAME})*)[ \t]*\]")
_ONE = re.compile(_NAME)


def line_at(location: Sequence[str], text: str) -> int | None:
    r"""Return the line of a key, of the nearest table around it where it has no line of its own, or None.

    A key of an inline table stands on the line of that table.

    >>> line_at(("crosstab", "rows", "rl"), "[crosstab]\nacross = 'samples'\nrows = { rl = 4 }"), line_at(("a",), "")
    (3, None)
    """
    lines: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    for number, line in enumerate(text.split("\n"), start=1):
        if header := _HEADER.match(line):
            table = _names(header[1])
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            names = _names(key[1])
            for end in range(1, len(names) + 1):
                lines.setdefault((*table, *names[:end]), number)
    found = (lines.get(tuple(location[:end])) for end in range(len(location), 0, -1))
    return next(filter(None, found), None)


def _names(dotted: str) -> tuple[str, ...]:
    return tuple(name.strip("\"'") for name in _ONE.findall(dotted))


def allowed(location: Sequence[str]) -> tuple[str, ...]:
    """Return the keys that the table at a location may have; none where every key is allowed.

    >>> allowed(("control",)), allowed(("units", "ng")), allowed(("names",))
    (('rows', 'detected_rows', 'sum_detected'), ('factor', 'unit'), ())
    """
    part: Any = MappingForm
    for name in location:
        fields = getattr(part, "model_fields", {})
        part = next(_parts(fields[name].annotation), None) if name in fields else part
    return tuple(getattr(part, "model_fields", ()))


def _parts(annotation: object) -> Iterator[type[Part]]:
    """Yield the tables that a type is made of."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        yield annotation
    for inner in get_args(annotation):
        yield from _parts(inner)


def nearest(name: str, names: Sequence[str], taken: Sequence[str]) -> str:
    """Say what to do with a key that is none of ``names``: the nearest one that is not ``taken``, or its removal.

    >>> nearest("shet", ["sheet", "file"], []), nearest("shet", ["sheet", "file"], ["sheet"])
    ('rename it to sheet', 'remove it')
    """
    free = [other for other in names if other not in taken]
    found = get_close_matches(name, free, n=1, cutoff=0.6)
    return f"rename it to {found[0]}" if found else "remove it"
