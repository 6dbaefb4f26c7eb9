"""Read back the text of a finished PDF of ours, in the order of its content, for comparison.

This reads what Typst writes, not PDF at large: text in fonts with two-byte codes (Identity-H)
and a ToUnicode table, or with a stated ActualText (ISO 32000-1, 9.4, 9.10 and 14.9.4). What is
marked as an artifact (running heads, repeated header rows, rules) and what stands in drawings is
left out. Blanks, soft hyphens and zero-width spaces are dropped: lines end where print broke them.

Pages are drawn from top to bottom, so of a row that goes on over a page the beginnings of all its
cells come first. The tree of tags (14.7) has each cell whole, as it is read aloud.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import pikepdf

_INNER = rb"(?:[^\\()]++|\\.)*+"
for _ in range(4):  # brackets that stand in pairs need no escape
    _INNER = rb"(?:[^\\()]++|\\.|\(" + _INNER + rb"\))*+"
_STRING = rb"\((" + _INNER + rb")\)|<([0-9A-Fa-f]+)>"
_TOKEN = re.compile(rb"/(\w+) [\d.]+ Tf|/ActualText ?(?:" + _STRING + rb")[^B]*?BDC|(EMC)|" + _STRING, re.DOTALL)
_ESCAPE = re.compile(rb"\\(?:[0-7]{1,3}|\r\n|.)", re.DOTALL)
_ESCAPED = {b"\\%0*o" % (width, code): bytes([code]) for width in (1, 2, 3) for code in range(256)}
_ESCAPED |= {b"\\n": b"\n", b"\\r": b"\r", b"\\t": b"\t", b"\\b": b"\b", b"\\f": b"\f"}
_ESCAPED |= {b"\\\n": b"", b"\\\r": b"", b"\\\r\n": b"", b"\\(": b"(", b"\\)": b")", b"\\\\": b"\\"}
_CHARACTERS = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_CHARACTER = re.compile(rb"<([0-9A-Fa-f]{4})>\s*<([0-9A-Fa-f]*)>")
_UTF_16 = b"\xfe\xff"
_UNSEEN = dict.fromkeys(map(ord, "\u00ad\u061c\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"))
_CONTENT_ID = re.compile(rb"/MCID (\d+)")
_LEFT_OUT, _UNTAGGED = -2, -1

Glyphs = Mapping[int, str]
"""What each code of a font means."""

Texts = list[tuple[int, str]]
"""The texts of a page as drawn, each with the id of the marked content that it stands in, or -1."""


class Document(NamedTuple):
    """What a PDF holds: its text without blanks, and the files attached to it by name."""

    text: str
    attachments: Mapping[str, bytes]


def squeeze(text: str) -> str:
    """Return a text as `read_pdf` gives it: without blanks and without signs that have no width.

    >>> squeeze("1,250 J,  trip\u00ad blank"), squeeze("a\u200c\u200db")
    ('1,250J,tripblank', 'ab')
    """
    return "".join(text.split()).translate(_UNSEEN)


def read_pdf(data: bytes | Path, *, tagged: bool = False, parsed: bool = False) -> Document:
    """Return the text and the attachments of a PDF that Typst wrote; from a file they are read faster.

    Text comes in the order in which it is drawn, or, ``tagged``, in that of the tree of tags,
    which takes three times as long. Pages are searched for the places where text begins and
    ends; by chance the codes of a text look like one. ``parsed`` takes pages apart sign by sign,
    which takes ten times as long and can't be led astray. Raises ValueError where the text is
    not written as this module knows it, and pikepdf.PdfError where `data` is no PDF.
    """
    with pikepdf.open(BytesIO(data) if isinstance(data, bytes) else data) as document:
        reader = _Reader()
        pages = {page.obj.objgen: (reader.parsed if parsed else reader.searched)(page) for page in document.pages}
        texts = _in_tree(document, pages) if tagged else (text for page in pages.values() for _, text in page)
        attachments = {name: spec.get_file().read_bytes() for name, spec in document.attachments.items()}
        return Document(squeeze("".join(texts)), attachments)


def _in_tree(document: pikepdf.Pdf, pages: Mapping[tuple[int, int], Texts]) -> Iterator[str]:
    """Yield the texts of pages in the order of the document's tree of tags."""
    contents: defaultdict[tuple[tuple[int, int], int], str] = defaultdict(str)
    for page, texts in pages.items():
        for content, text in texts:
            contents[page, content] += text
    nodes: list[tuple[Any, tuple[int, int]]] = [(document.Root.get("/StructTreeRoot"), (0, 0))]
    while nodes:
        node, page = nodes.pop()
        if isinstance(node, int):
            yield contents[page, node]
        elif isinstance(node, pikepdf.Array):
            nodes += ((kid, page) for kid in reversed(list(node)))
        elif node is not None:
            own, kids = node.get("/Pg"), node.get("/K")
            nodes.append((node.get("/MCID") if kids is None else kids, page if own is None else own.objgen))


class _Reader:
    """Reads pages; knows the fonts met so far, and the texts, for many are written the same way."""

    def __init__(self) -> None:
        self._fonts: dict[tuple[int, int], Glyphs] = {}
        self._texts: dict[tuple[tuple[tuple[int, int], ...], bytes], str] = {}

    def searched(self, page: pikepdf.Page) -> Texts:
        """Return the texts of a page: each text object (BT to ET) that is no artifact and in no drawing."""
        fonts = self._fonts_of(page)
        known = {name[1:].encode(): self._fonts[font.objgen] for name, font in fonts.items()}
        key = tuple(font.objgen for font in fonts.values())
        page.contents_coalesce()
        before, *objects = page.obj.Contents.read_bytes().split(b"BT ")
        texts: Texts = []
        content = _UNTAGGED
        for part in objects:
            content = _content_of(before, content)
            shown, _, before = part.partition(b"\nET")
            if content != _LEFT_OUT:
                if (key, shown) not in self._texts:
                    self._texts[key, shown] = _shown(shown, known)
                texts.append((content, self._texts[key, shown]))
        return texts

    def _fonts_of(self, page: pikepdf.Page) -> dict[str, pikepdf.Object]:
        resources = page.obj.get("/Resources", pikepdf.Dictionary())
        fonts = dict(resources.get("/Font", pikepdf.Dictionary()).items())
        for font in fonts.values():
            if font.objgen not in self._fonts:
                self._fonts[font.objgen] = _glyphs(font)
        return fonts

    def parsed(self, page: pikepdf.Page) -> Texts:
        """Return the same texts as `searched`, from every operator of the page and what it works on."""
        fonts = self._fonts_of(page)
        texts: Texts = []
        glyphs: Glyphs = {}
        contents: list[int] = [_UNTAGGED]
        for step in pikepdf.parse_content_stream(page):
            operands: Any = step.operands
            name = str(step.operator)
            if name in {"BMC", "BDC"}:
                contents.append(_opened(operands, contents[-1], texts))
            elif name == "EMC":
                contents.pop()
            elif name == "Tf":
                glyphs = self._fonts[fonts[str(operands[0])].objgen]
            elif name in {"Tj", "TJ"} and contents[-1] != _LEFT_OUT:
                shown = operands[0] if name == "TJ" else operands
                texts += [(contents[-1], _drawn(bytes(s), glyphs)) for s in shown if isinstance(s, pikepdf.String)]
        return texts


def _opened(operands: Any, around: int, texts: Texts) -> int:  # noqa: ANN401 - a list of PDF objects
    """Return the id of marked content that begins; what it stands for instead of itself is added to the texts."""
    properties: Any = operands[1] if len(operands) > 1 and isinstance(operands[1], pikepdf.Dictionary) else {}
    if around == _LEFT_OUT or str(operands[0]) == "/Artifact" or "/Alt" in properties:
        return _LEFT_OUT
    content = int(properties.get("/MCID", around))
    if "/ActualText" in properties:
        texts.append((content, str(properties["/ActualText"])))
        return _LEFT_OUT
    return content


def _drawn(codes: bytes, glyphs: Glyphs) -> str:
    return codes.decode("utf-16-be", "replace").translate(glyphs)


def _content_of(between: bytes, before: int) -> int:
    """Return the id of the marked content that holds what follows, from what stands between two text objects."""
    opened = between.rfind(b"BDC")
    if opened < 0:
        return before
    tag = between[between.rfind(b"EMC", 0, opened) + 1 : opened]
    if b"/Artifact" in tag or b"/Alt(" in tag or b"/Alt<" in tag:
        return _LEFT_OUT
    found = _CONTENT_ID.findall(tag)
    return int(found[-1]) if found else _UNTAGGED


def _glyphs(font: pikepdf.Object) -> Glyphs:
    table = font["/ToUnicode"].read_bytes() if "/ToUnicode" in font else b""
    if font.get("/Encoding") != "/Identity-H" or b"beginbfrange" in table:
        raise ValueError("its text is written in another way than this program reads")
    pairs = [pair for block in _CHARACTERS.findall(table) for pair in _CHARACTER.findall(block)]
    return {int(code, 16): bytes.fromhex(text.decode()).decode("utf-16-be") for code, text in pairs}


def _shown(content: bytes, fonts: Mapping[bytes, Glyphs]) -> str:
    """Return the text of one text object; what has an ActualText gives that."""
    texts: list[str] = []
    glyphs: Glyphs = {}
    replaced = False
    for font, stated, stated_hex, end, plain, coded in _TOKEN.findall(content):
        if font:
            glyphs = fonts.get(font, {})
        elif end:
            replaced = False
        elif stated or stated_hex:
            replaced = True
            raw = _bytes(stated, stated_hex)
            texts.append(raw.decode("utf-16") if raw.startswith(_UTF_16) else raw.decode("latin-1"))
        elif not replaced:
            texts.append(_drawn(_bytes(plain, coded), glyphs))
    return "".join(texts)


def _bytes(plain: bytes, coded: bytes) -> bytes:
    return bytes.fromhex(coded.decode()) if coded else _ESCAPE.sub(_unescaped, plain)


def _unescaped(found: re.Match[bytes]) -> bytes:
    return _ESCAPED.get(found[0], found[0][1:])
