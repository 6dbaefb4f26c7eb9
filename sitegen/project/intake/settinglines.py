"""Where a default stands in project.toml: the line of a key, in a table that may stand there several times."""

from __future__ import annotations

import re
from collections.abc import Mapping

_HEADER = re.compile(r"[ \t]*\[\[?([^\[\]]{1,300})\]")

Place = tuple[str, int]
"""A table of project.toml and, where it is a list of tables, which of them, from 0."""


def lines_of(text: str) -> Mapping[Place, list[tuple[int, str]]]:
    r"""Return the lines of each table with their numbers, its header first; a table inside a where row is that row's.

    >>> lines_of("[[defaults.weather.where]]\non = 2025-10-23")["defaults.weather.where", 0]
    [(1, '[[defaults.weather.where]]'), (2, 'on = 2025-10-23')]
    """
    found: dict[Place, list[tuple[int, str]]] = {}
    count: dict[str, int] = {}
    place: Place = ("", 0)
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header:
            name = "".join(header[1].split())
            inside = name.removesuffix(".set")
            if inside == name or place[0] != inside:
                count[name] = count.get(name, -1) + 1
                place = (name, count[name])
        found.setdefault(place, []).append((number, line))
    return found


def line_in(lines: Mapping[Place, list[tuple[int, str]]], place: Place, key: str) -> int | None:
    """Return the line of a key in a table, the table's first line where the key is not found; None without a table."""
    own = lines.get(place, [])
    named = re.compile(rf"(?<![\w-]){re.escape(key)}[\"']?[ \t]*=")
    first = own[0][0] if own else None
    return next((number for number, line in own if key and named.search(line)), first)
