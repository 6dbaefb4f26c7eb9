"""Look through everything that was written for words that must not be published."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import unescape
from io import BytesIO
from pathlib import Path

from sitegen.render.pictures import has_metadata
from sitegen.render.print_tree import document_tree
from sitegen.report.records import Report

PDF = "downloads/report.pdf"
_TAG = re.compile(r"<[^>]*>")
_PACKED = (".xlsx", ".zip")
_PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff")
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")


def leaks(folder: Path, report: Report, words: Iterable[str], *, pictures: str = "") -> list[str]:
    """Return what must not be in a folder's files, one line for each file and word, sorted.

    Words are looked for as whole words, letter case and line breaks aside, in names and
    contents of all files: HTML without its escapes, workbooks by their parts. The text of the
    report's PDF is compressed; it is searched as the text that it was set from, and what is
    attached to it are files of the folder. Pictures below ``pictures`` must carry no data of
    a camera.
    """
    wanted = {word: _compact(word) for word in words if word.strip()}
    found = []
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name = path.relative_to(folder).as_posix()
        content = path.read_bytes()
        printed = _strings(document_tree(report)) if name == PDF else texts(name, content)
        text = _compact(" ".join((name, *printed)))
        found += [f"{name}: {word!r}" for word, plain in wanted.items() if _holds(text, plain)]
        if pictures and name.startswith(pictures) and name.endswith(_PICTURES) and has_metadata(content):
            found.append(f"{name}: data of a camera")
    return found


def _compact(text: str) -> str:
    return " ".join(text.split()).casefold()


def _holds(text: str, word: str) -> bool:
    if word not in text:
        return False
    return re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text) is not None


def texts(name: str, content: bytes) -> Iterator[str]:
    """Yield the texts that a file holds, by the ending of its name; others are read as UTF-8."""
    lower = name.lower()
    if lower.endswith(_PACKED):
        with zipfile.ZipFile(BytesIO(content)) as packed:
            for member in packed.namelist():
                yield member
                yield from texts(member, packed.read(member))
    else:
        text = content.decode("utf-8", errors="replace")
        yield text
        if lower.endswith((".html", ".xml", ".svg", ".rels")):
            yield unescape(_TAG.sub(" ", text))
            yield unescape(text)
        elif "\\u" in text:
            yield _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)


def _strings(value: object) -> Iterator[str]:
    """Yield every text of a print tree."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, Sequence):
        for inner in value:
            yield from _strings(inner)
