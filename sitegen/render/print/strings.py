"""Every text that a file or a tree of plain data holds, and whether private words are in it.

Site and archive look here alike. Cells of a database are read through SQLite, for neighbours run
together in its bytes.
"""

from __future__ import annotations

import re
import sqlite3
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from html import unescape
from io import BytesIO
from pathlib import Path

PACKED = (".xlsx", ".docx", ".ods", ".odt", ".zip")
DATABASES = (".gpkg", ".sqlite")
_TAG = re.compile(r"<[^<>]*>")
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")
_PIECE, _OVERLAP = 1 << 20, 1 << 13
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


def strings(value: object) -> Iterator[str]:
    """Yield every text of a tree of plain data, the names in it aside.

    >>> list(strings({"a": ["x", 1, ("y",)], "b": "z"}))
    ['x', 'y', 'z']
    """
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from strings(inner)
    elif isinstance(value, Sequence):
        for inner in value:
            yield from strings(inner)


class Words:
    """Words to look for: whole, in any letter case, and over line breaks, mark-up and escapes.

    >>> words = Words(["O'Example", "well"])
    >>> list(words.found_in(["Rang Mr O&#39;Example twice", "Wellington"]))
    ["O'Example"]
    """

    def __init__(self, words: Iterable[str]) -> None:
        """Take the words; blank ones are left out."""
        self._patterns = {
            word: (_even(word), re.compile(rf"(?<!\w){re.escape(_even(word))}(?!\w)"))
            for word in dict.fromkeys(words)
            if word.strip()
        }

    def __bool__(self) -> bool:
        """Whether there is anything to look for."""
        return bool(self._patterns)

    def found_in(self, texts: Iterable[str]) -> Iterator[str]:
        """Yield the words that one of the texts holds, each once."""
        left = dict(self._patterns)
        for text in texts:
            for piece in _pieces(text):
                for reading in map(_even, _readings(piece)):
                    there = [
                        word for word, (plain, whole) in left.items() if plain in reading and whole.search(reading)
                    ]
                    for word in there:
                        del left[word]
                    yield from there


def search_files(
    root: Path, words: Words, printed: Mapping[str, Callable[[], Iterable[str]]], passed_over: tuple[str, ...] = ()
) -> Iterator[tuple[str, str]]:
    """Yield (path, word) for each file below ``root`` whose name or content holds a word, in path order.

    The text of the report's own PDFs is compressed: it is searched as the texts that each was set from,
    which ``printed`` yields by path, and what is attached are files of the folder. Pictures,
    scans and other PDFs can't be searched. Paths that begin with one of ``passed_over`` are not.
    """
    paths = {path.relative_to(root).as_posix(): path for path in root.rglob("*") if path.is_file()}
    for name, path in sorted(paths.items()):
        if not name.startswith(passed_over):
            own = printed.get(name)
            texts = own() if own else texts_of(name, path.read_bytes())
            yield from ((name, word) for word in words.found_in((name, *texts)))


def texts_of(name: str, content: bytes) -> Iterator[str]:
    """Yield the texts that a file holds, by the ending of its name.

    Of a packed file (workbook, archive) they are the names and texts of its members, of a
    database the cells of its tables as well as its bytes; any other file is read as text.
    """
    lower = name.lower()
    if lower.endswith(PACKED):
        yield from _members(content)
    else:
        yield from _decoded(content)
        if lower.endswith(DATABASES):
            yield from _cells(content)


def _members(content: bytes) -> Iterator[str]:
    try:
        with zipfile.ZipFile(BytesIO(content)) as packed:
            for member in packed.namelist():
                yield member
                yield from texts_of(member, packed.read(member))
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError):
        yield from _decoded(content)


def _cells(content: bytes) -> Iterator[str]:
    """Yield the texts in the tables of an SQLite file: in its bytes neighbouring cells run together."""
    with closing(sqlite3.connect(":memory:")) as base:
        try:
            base.deserialize(content)
            tables = base.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        except sqlite3.Error:
            return
        for (table,) in tables:
            quoted = table.replace('"', '""')
            try:
                for row in base.execute(f'SELECT * FROM "{quoted}"'):  # noqa: S608 - a name, quoted
                    yield from (cell for cell in row if isinstance(cell, str))
            except sqlite3.Error:  # an index of an extension that is not loaded; its bytes were read
                continue


def _decoded(content: bytes) -> Iterator[str]:
    if content.startswith(_UTF_16):
        yield content.decode("utf-16", "replace")
        return
    yield content.decode("utf-8", "replace")
    if not content.isascii():
        yield content.decode("cp1252", "replace")


def _pieces(text: str) -> Iterator[str]:
    """Yield a long text in pieces that overlap, so that no copy of all of it is made."""
    for start in range(0, max(1, len(text) - _OVERLAP), _PIECE - _OVERLAP):
        yield text[start : start + _PIECE]


def _readings(text: str) -> Iterator[str]:
    """Yield a text as it is, and as a reader of HTML or JSON would see it."""
    yield text
    if "&" in text or "<" in text:
        text = text.replace("<wbr>", "")
        yield unescape(text)
        yield unescape(_TAG.sub("", text))
        yield unescape(_TAG.sub(" ", text))
    if "\\u" in text:
        yield _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)


def _even(text: str) -> str:
    return " ".join(text.casefold().split())
