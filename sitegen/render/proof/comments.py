"""Read the copy for comments again, paragraph by paragraph and cell by cell, without the library that wrote it."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from itertools import islice, zip_longest
from pathlib import Path
from xml.parsers import expat

from sitegen.render.comment.parts import clean, copy_texts
from sitegen.report.record.pages import CommentCopy, Meta

_BODY, _HEADER = "word/document.xml", "word/header1.xml"
_NAMESPACE = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
_PARAGRAPH, _RUN, _TEXT, _TAB, _BREAK = (f"{_NAMESPACE} {name}" for name in ("p", "r", "t", "tab", "br"))
_SIGNS = {_TAB: "\t", _BREAK: "\n"}


def copy_differences(path: Path, copy: CommentCopy, meta: Meta) -> Iterator[str]:
    """Yield the first paragraph or cell of a copy that does not say what the report's chapters say."""
    try:
        with zipfile.ZipFile(path) as package:
            found, above = (paragraph_texts(package.read(name)) for name in (_BODY, _HEADER))
    except (zipfile.BadZipFile, KeyError, OSError, expat.ExpatError) as error:
        yield f"{path.name} can't be read: {error}"
        return
    if above != [clean(copy.running)]:
        yield f"{path.name}: another line above each page: {above}"
    pairs = enumerate(zip_longest(copy_texts(copy, meta), found), 1)
    yield from islice((f"{path.name}, text {at}: {read!r}" for at, (meant, read) in pairs if meant != read), 1)


def paragraph_texts(xml: bytes) -> list[str]:
    r"""Return the text of each paragraph of a part, those in tables included, in document order.

    Raises expat.ExpatError where the part is not XML.

    >>> ns = "http://schemas.openxmlformats.org/wordprocessingml/2006/main"
    >>> paragraph_texts(f'<w:p xmlns:w="{ns}"><w:r><w:t>a</w:t><w:br/></w:r><w:r><w:t>b</w:t></w:r></w:p>'.encode())
    ['a\nb']
    """
    texts: list[list[str]] = []
    inside: list[str] = []

    def start(name: str, _: dict[str, str]) -> None:
        inside.append(name)
        if name == _PARAGRAPH:
            texts.append([])
        elif name in _SIGNS and inside[-2] == _RUN:
            texts[-1].append(_SIGNS[name])

    def data(text: str) -> None:
        if inside[-1] == _TEXT:
            texts[-1].append(text)

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler, parser.CharacterDataHandler = start, data
    parser.EndElementHandler = lambda _: inside.pop()
    parser.Parse(xml, True)
    return ["".join(parts) for parts in texts]
