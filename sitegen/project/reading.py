"""What the tables of a folder are read by, kept where another line of the settings can't be read.

A slip in one line of ``project.toml`` stops a build. It must not make every file of another
encoding and every time look wrong as well.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any, NamedTuple

from pydantic import ValidationError

from sitegen.project.limits import KEY, SETTINGS_KEYS
from sitegen.project.settings import FilePart
from sitegen.project.tomltext import Excess, read_toml
from sitegen.project.zones import zone

_WHOLE = ("files", "defaults")
"""Tables of the settings of which a part is read as a whole or not at all."""

_PARTS = re.compile(r"^(?=[ \t]*\[)", re.MULTILINE)


class Reading(NamedTuple):
    """How files depart from UTF-8 with commas, and the project's zone.

    A file in ``unclear`` departs in a way that can't be read. ``time_zone`` is "" where none can be
    read: then no time can be judged.
    """

    files: Mapping[str, FilePart]
    unclear: frozenset[str]
    time_zone: str


def read_reading(settings: bytes) -> Reading:
    r"""Return what the tables are read by, whatever else in the settings is wrong.

    >>> read_reading(b"[plan]\nlocations = ?\n[files.'a.csv']\ndelimiter = ';'").files["a.csv"].delimiter
    ';'
    """
    data = readable(settings)
    files: dict[str, FilePart] = {}
    unclear: set[str] = set()
    for path, stated in _table(data, "files").items():
        try:
            files[path] = FilePart.model_validate(stated)
        except ValidationError:
            unclear.add(path)
    place = _table(data, "project").get("time_zone")
    return Reading(files, frozenset(unclear), place if isinstance(place, str) and zone(place) else "")


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = data.get(name)
    return found if isinstance(found, dict) else {}


def readable(content: bytes) -> dict[str, Any]:
    """Return the tables of a TOML text; where it has faults, what can be read of it part by part.

    Nothing is read of a text that says more than is read, or has more lines than that.
    """
    try:
        return read_toml(content)[1]
    except Excess:
        return {}
    except ValueError:
        text = content.decode("utf-8-sig", "replace")
    found: dict[str, Any] = {}
    if text.count("\n") > SETTINGS_KEYS.value:
        return found
    for part in _PARTS.split(text):
        for data in _pieces(part):
            for name, value in data.items():
                if isinstance(value, dict) and isinstance(found.get(name), dict):
                    found[name].update(value)
                else:
                    found[name] = value
    return found


def _pieces(part: str) -> Iterator[dict[str, Any]]:
    """Yield a part of a TOML text, from header to header, or those of its lines that can be read alone.

    How a file is written, and what is a default where, all lines of a part say together, so that one of
    them tells nothing.
    """
    head, *lines = part.splitlines() or [""]
    if len(head) > KEY.value:
        return
    for piece in (part, head, *(f"{head}\n{line}" for line in lines)):
        with suppress(ValueError):
            data = read_toml(piece.encode())[1]
            if piece is part:
                yield data
                return
            yield {name: dict.fromkeys(value) if name in _WHOLE else value for name, value in data.items()}
