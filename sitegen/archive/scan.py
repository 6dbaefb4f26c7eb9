"""Look for private words in everything that a bag is about to hold."""

from __future__ import annotations

import html
import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path

from sitegen.render.print_tree import document_tree
from sitegen.report.records import Report

THIRD_PARTY = ("data/site/assets/",)
"""Scripts and style sheets of installed packages, the same for every project."""

REPORT_PDF = "data/site/downloads/report.pdf"
"""Its text is compressed; it is searched as the text that it was set from."""

_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")
_TAG = re.compile(r"<[^<>]{0,400}>")
_PACKED = (".xlsx", ".docx", ".zip", ".ods", ".odt")


def private_places(root: Path, report: Report, words: Sequence[str]) -> tuple[str, ...]:
    """Return the paths below the bag ``root`` whose name or text holds one of ``words``.

    Found are words in text, in web pages (with and without mark-up), in JSON, in office
    files and in the report's PDF. Pictures, scans and other PDFs can't be searched.
    """
    if not words:
        return ()
    names = sorted(path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())
    return tuple(name for name in names if _holds(name, root / name, report, words))


def _holds(name: str, path: Path, report: Report, words: Sequence[str]) -> bool:
    if name.startswith(THIRD_PARTY):
        return False
    texts = _strings(document_tree(report)) if name == REPORT_PDF else _texts(name, path.read_bytes())
    return any(has_word(text, words) for text in (name, *texts))


def has_word(text: str, words: Iterable[str]) -> bool:
    """Tell whether a text holds one of the words, whole and in any case.

    >>> has_word("Rang Mr O&#39;Example twice", ["o'example"]), has_word("Wellington", ["well"])
    (True, False)
    """
    return any(_has_plain(_even(plain), words) for plain in _readings(text))


def _has_plain(text: str, words: Iterable[str]) -> bool:
    return any(_even(word) in text and _whole(_even(word)).search(text) for word in words)


@cache
def _whole(word: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(word)}(?!\w)")


def _even(text: str) -> str:
    return " ".join(text.casefold().split())


def _readings(text: str) -> Iterator[str]:
    """Yield a text as it is, and as a reader of HTML or JSON would see it."""
    yield text
    if "&" in text or "<" in text:
        yield html.unescape(text)
        yield html.unescape(_TAG.sub("", text))
    if "\\u" in text:
        yield _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)


def _texts(name: str, content: bytes) -> Iterator[str]:
    if not name.endswith(_PACKED):
        yield from _decoded(content)
        return
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as pack:
            for member in pack.namelist():
                yield from _decoded(pack.read(member))
    except (zipfile.BadZipFile, RuntimeError, NotImplementedError, OSError):
        yield from _decoded(content)


def _decoded(content: bytes) -> Iterator[str]:
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        yield content.decode("utf-16", "replace")
        return
    yield content.decode("utf-8", "replace")
    if not content.isascii():
        yield content.decode("cp1252", "replace")


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from _strings(item)
    elif isinstance(value, Sequence):
        for item in value:
            yield from _strings(item)
