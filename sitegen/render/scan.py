"""Look through everything that was written for words that must not be published."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterable, Iterator
from html import unescape
from io import BytesIO
from pathlib import Path

from pypdf import PdfReader
from pypdf.errors import PyPdfError

from sitegen.render.pictures import has_metadata

_TAG = re.compile(r"<[^>]*>")
_PACKED = (".xlsx", ".zip")
_PICTURES = (".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff")
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")


def leaks(folder: Path, words: Iterable[str], *, pictures: str = "") -> list[str]:
    """Return what must not be in a folder's files, one line for each file and word, sorted.

    Words are looked for as whole words, letter case and line breaks aside, in names and
    contents of all files: HTML without its escapes, PDF by its text, its properties and its
    attachments, workbooks by their parts. Pictures below ``pictures`` must carry no data of
    a camera.
    """
    wanted = {word: _compact(word) for word in words if word.strip()}
    found = []
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        name = path.relative_to(folder).as_posix()
        content = path.read_bytes()
        text = _compact(" ".join((name, *texts(name, content))))
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
    if lower.endswith(".pdf"):
        yield from _pdf_texts(content)
    elif lower.endswith(_PACKED):
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


def _pdf_texts(content: bytes) -> Iterator[str]:
    try:
        reader = PdfReader(BytesIO(content))
        for page in reader.pages:
            text = page.extract_text()
            yield text
            yield text.replace("-\n", "").replace("\n", "")
        yield from map(str, (reader.metadata or {}).values())
        for name, parts in reader.attachments.items():
            for part in parts:
                yield from texts(name, part)
    except PyPdfError as error:
        yield f"unreadable PDF: {error}"
