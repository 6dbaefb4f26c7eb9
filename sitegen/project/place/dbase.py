"""The attribute table of a shapefile: dBASE III, texts, numbers, dates and yes or no."""

from __future__ import annotations

import codecs
import re
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sitegen.project import limits
from sitegen.project.place.drawn import Unusable, number
from sitegen.project.place.layers import quoted

_CODE_PAGES = {1: "cp437", 2: "cp850", 3: "cp1252", 0x64: "cp852", 0xC8: "cp1250", 0xC9: "cp1251", 0xCA: "cp1254"}
"""The byte of the header that names a code page; 0x57 says only that there is one."""
_TRUTH = {"y": True, "t": True, "n": False, "f": False}
_FIELD = 32
_DELETED = b"*"


@dataclass(frozen=True, slots=True)
class _Column:
    name: str
    kind: str
    start: int
    end: int


def read_dbase(content: bytes, encoding: str, file: str) -> tuple[dict[str, Any] | None, ...]:
    """Return the rows of a dBASE file without blank cells; None stands for a deleted one. Raises Unusable.

    ``encoding`` is the one that is declared beside it, "" where none is.
    """
    try:
        count, start, size = struct.unpack_from("<4xIHH", content)
        how = encoding or _CODE_PAGES.get(content[29], "")
        columns = _columns(content[_FIELD:start], how, file)
    except (struct.error, IndexError) as error:
        raise Unusable(f"a table {file} that cannot be read", "a dBASE file", "export it again") from error
    if count > limits.FEATURES.value:
        raise Unusable(f"{count:,} rows in {file}", limits.FEATURES.at_most, "leave out what the report does not need")
    if len(content) < start + count * size or (columns and columns[-1].end > size):
        raise Unusable(f"a table {file} that ends too early", f"{count:,} rows", "export it again")
    return tuple(_row(content[at : at + size], columns, how, file) for at in range(start, start + count * size, size))


def _columns(head: bytes, encoding: str, file: str) -> Sequence[_Column]:
    columns, at = [], 1
    for start in range(0, len(head) - _FIELD + 1, _FIELD):
        part = head[start : start + _FIELD]
        if part[0] == 0x0D:
            break
        name = _text(part[:11].split(b"\x00")[0], encoding, file)
        columns.append(_Column(name, chr(part[11]), at, at + part[16]))
        at += part[16]
    if len(columns) > limits.PROPERTIES.value:
        raise Unusable(f"{len(columns):,} columns in {file}", limits.PROPERTIES.at_most, "leave some out")
    return columns


def _row(row: bytes, columns: Sequence[_Column], encoding: str, file: str) -> dict[str, Any] | None:
    if row[:1] == _DELETED:
        return None
    cells = {one.name: _value(one.kind, _text(row[one.start : one.end], encoding, file)) for one in columns}
    return {name: value for name, value in cells.items() if value not in (None, "")}


def _text(cell: bytes, encoding: str, file: str) -> str:
    try:
        return cell.rstrip(b" \x00").decode(encoding or "utf-8").strip()
    except UnicodeDecodeError as error:
        found = f"text in {file} that is not {encoding or 'UTF-8, with no stated encoding'}"
        do = f"write under [features] in project.toml the encoding of its texts, such as encoding = {quoted('cp1252')}"
        raise Unusable(found, "texts whose encoding is stated (.cpg) or UTF-8", do) from error


def _value(kind: str, text: str) -> Any:  # noqa: ANN401 - text, a number, a truth or nothing
    if kind in "NF":
        try:
            found = number(text)
        except ValueError:
            return None  # blanks or stars: no number is there
        return int(text) if text.lstrip("+-").isdigit() else found
    if kind == "L":
        return _TRUTH.get(text.lower())
    if kind == "D":
        return f"{text[:4]}-{text[4:6]}-{text[6:]}" if len(text) == 8 and text.isdigit() else text
    return text if kind == "C" else None


def codec_of(stated: str) -> str:
    """Return Python's name of the encoding that a ``.cpg`` states, "" where there is none of that name.

    >>> codec_of("UTF-8"), codec_of("ANSI 1252"), codec_of("88591"), codec_of("zlib")
    ('utf-8', 'cp1252', 'iso8859-1', '')
    """
    name = re.sub(r"^(ANSI|OEM|CP)[ _-]?", "", stated.strip()[:40], flags=re.IGNORECASE)
    if name.isdigit():
        name = f"iso8859-{name[4:]}" if name.startswith("8859") else "utf-8" if name == "65001" else f"cp{name}"
    try:
        codec = codecs.lookup(name.replace(" ", "-"))
        return codec.name if isinstance(codecs.decode(b"a", codec.name), str) else ""
    except (LookupError, ValueError, zlib.error):
        return ""
