"""Read back the text of a finished PDF of ours, in the order of its content, for comparison.

This reads what Typst writes, not PDF at large: text in fonts with two-byte codes (Identity-H)
and a ToUnicode table, or with a stated ActualText (ISO 32000-1, 9.4, 9.10 and 14.9.4). What is
marked as an artifact (running heads, repeated header rows, rules) and what stands in drawings is
left out. Blanks, soft hyphens and zero-width spaces are dropped: lines end where print broke them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
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
_UNSEEN = dict.fromkeys(map(ord, "\u00ad\u200b\u2060"))

Glyphs = Mapping[int, str]
"""What each code of a font means."""


class Document(NamedTuple):
    """What a PDF holds: its text without blanks, and the files attached to it by name."""

    text: str
    attachments: Mapping[str, bytes]


def squeezed(text: str) -> str:
    """Return a text as `read_pdf` gives it: without blanks and without signs that have no width.

    >>> squeezed("1,250 J,  trip\u00ad blank")
    '1,250J,tripblank'
    """
    return "".join(text.split()).translate(_UNSEEN)


def read_pdf(data: bytes | Path, *, parsed: bool = False) -> Document:
    """Return the text and the attachments of a PDF that Typst wrote; from a file they are read faster.

    Pages are searched for the places where text begins and ends; by chance the codes of a
    text look like one. ``parsed`` takes pages apart sign by sign, which takes ten times as
    long and can't be led astray. Raises ValueError where the text is not written as this module knows it, and
    pikepdf.PdfError where `data` is no PDF.
    """
    with pikepdf.open(BytesIO(data) if isinstance(data, bytes) else data) as document:
        reader = _Reader()
        text = squeezed("".join(map(reader.parsed_text if parsed else reader.page_text, document.pages)))
        attachments = {name: spec.get_file().read_bytes() for name, spec in document.attachments.items()}
    return Document(text, attachments)


class _Reader:
    """Reads pages; knows the fonts met so far, and the texts, for many are written the same way."""

    def __init__(self) -> None:
        self._fonts: dict[tuple[int, int], Glyphs] = {}
        self._texts: dict[tuple[tuple[tuple[int, int], ...], bytes], str] = {}

    def page_text(self, page: pikepdf.Page) -> str:
        """Return the text of a page: of each text object (BT to ET) that is no artifact and in no drawing."""
        fonts = self._fonts_of(page)
        known = {name[1:].encode(): self._fonts[font.objgen] for name, font in fonts.items()}
        key = tuple(font.objgen for font in fonts.values())
        page.contents_coalesce()
        before, *objects = page.obj.Contents.read_bytes().split(b"BT ")
        texts, left_out = [], False
        for part in objects:
            left_out = _is_left_out(before, already=left_out)
            shown, _, before = part.partition(b"\nET")
            if not left_out:
                if (key, shown) not in self._texts:
                    self._texts[key, shown] = _shown(shown, known)
                texts.append(self._texts[key, shown])
        return "".join(texts)

    def _fonts_of(self, page: pikepdf.Page) -> dict[str, pikepdf.Object]:
        resources = page.obj.get("/Resources", pikepdf.Dictionary())
        fonts = dict(resources.get("/Font", pikepdf.Dictionary()).items())
        for font in fonts.values():
            if font.objgen not in self._fonts:
                self._fonts[font.objgen] = _glyphs(font)
        return fonts

    def parsed_text(self, page: pikepdf.Page) -> str:
        """Return the same text as `page_text`, from every operator of the page and what it works on."""
        fonts = self._fonts_of(page)
        texts: list[str] = []
        glyphs: Glyphs = {}
        hidden: list[bool] = []
        for step in pikepdf.parse_content_stream(page):
            operands: Any = step.operands
            name = str(step.operator)
            if name in {"BMC", "BDC"}:
                hidden.append(any(hidden) or _hides(operands, texts))
            elif name == "EMC":
                hidden.pop()
            elif name == "Tf":
                glyphs = self._fonts[fonts[str(operands[0])].objgen]
            elif name in {"Tj", "TJ"} and not any(hidden):
                shown = operands[0] if name == "TJ" else operands
                texts += [_drawn(bytes(one), glyphs) for one in shown if isinstance(one, pikepdf.String)]
        return "".join(texts)


def _hides(operands: Any, texts: list[str]) -> bool:  # noqa: ANN401 - a list of PDF objects
    """Say whether marked content hides the text inside it; what it stands for instead is added to the texts."""
    properties: Any = operands[1] if len(operands) > 1 and isinstance(operands[1], pikepdf.Dictionary) else {}
    if str(operands[0]) == "/Artifact" or "/Alt" in properties:
        return True
    if "/ActualText" in properties:
        texts.append(str(properties["/ActualText"]))
        return True
    return False


def _drawn(codes: bytes, glyphs: Glyphs) -> str:
    return codes.decode("utf-16-be", "replace").translate(glyphs)


def _is_left_out(between: bytes, *, already: bool) -> bool:
    """Say whether what follows is an artifact or a drawing, from what stands between two text objects."""
    opened = between.rfind(b"BDC")
    if opened < 0:
        return already
    tag = between[between.rfind(b"EMC", 0, opened) + 1 : opened]
    return b"/Artifact" in tag or b"/Alt(" in tag or b"/Alt<" in tag


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
