"""Hostile workbooks, from a laboratory and of the tables: bombs, foreign XML, and sheets of any size."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from functools import cache

from builders import content, removed
from hostile_case import Answer, Hostile, Maker, Place, edited, heavy, late
from lab_files import xlsx_bytes
from small_delivery import simple

FILE = "lab/a.xlsx"
SHEET = "xl/worksheets/sheet1.xml"
BOOK, STYLES, RELATIONS, TYPES = "xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"
SPACE = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
ROWS = [["s", "c", "r", "u"], ["04417-002", "pce", "12", "ng"]]
Parts = dict[str, bytes]


@cache
def sound() -> Parts:
    """Return the parts of a workbook of two rows."""
    with zipfile.ZipFile(io.BytesIO(xlsx_bytes(ROWS))) as pack:
        return {name: pack.read(name) for name in pack.namelist()}


def packed(parts: Parts, method: int = zipfile.ZIP_DEFLATED) -> bytes:
    """Return parts as a zip file."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as pack:
        for name, part in parts.items():
            pack.writestr(zipfile.ZipInfo(name, (2025, 1, 1, 0, 0, 0)), part, method)
    return out.getvalue()


def sheet(body: str, before: str = "") -> Parts:
    """Return a workbook whose sheet has these rows, and these words before its root."""
    return sound() | {SHEET: f"{before}<worksheet {SPACE}><sheetData>{body}</sheetData></worksheet>".encode()}


_HEAD = "".join(
    f'<c r="{letter}1" t="inlineStr"><is><t>{name}</t></is></c>' for letter, name in zip("ABCD", "scru", strict=True)
)
HEAD = f'<row r="1">{_HEAD}</row>'
LAUGHS = "<!DOCTYPE x [<!ENTITY a 'aaaaaaaaaa'>" + "".join(
    f"<!ENTITY {new} '{f'&{old};' * 10}'>" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)
OUTSIDE = '<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'


def _cell(address: str, inside: str, kind: str = "n") -> str:
    return f'<c r="{address}" t="{kind}">{inside}</c>'


def _row(number: int, *cells: str) -> str:
    return f'<row r="{number}">{"".join(cells)}</row>'


def _one(inside: str, kind: str = "n") -> Parts:
    named = [
        _cell(f"{letter}2", f"<is><t>{text}</t></is>", "inlineStr")
        for letter, text in (("A", "04417-002"), ("B", "pce"))
    ]
    return sheet(HEAD + _row(2, *named, _cell("C2", inside, kind), _cell("D2", "<is><t>ng</t></is>", "inlineStr")))


LONG_FORMAT = b'<numFmt numFmtId="200" formatCode="' + b"0" * 100_000 + b'"/>'
Make = Callable[[], Parts]
REFUSED: dict[str, Make] = {
    "entities in entities": lambda: sheet(HEAD + _row(2, _cell("A2", "<v>&i;</v>")), LAUGHS + "]>"),
    "an entity from a file": lambda: sheet(HEAD + _row(2, _cell("A2", "<v>&a;</v>")), OUTSIDE),
    "a document type in the list of sheets": lambda: sound() | {BOOK: OUTSIDE.encode() + sound()[BOOK]},
    "a document type in the styles": lambda: sound() | {STYLES: OUTSIDE.encode() + sound()[STYLES]},
    "a document type in the relations": lambda: sound() | {RELATIONS: OUTSIDE.encode() + sound()[RELATIONS]},
    "XML in EBCDIC": lambda: sheet(HEAD, '<?xml version="1.0" encoding="cp037"?>'),
    "XML in UTF-7": lambda: sheet(HEAD, '<?xml version="1.0" encoding="utf-7"?>'),
    "XML that does not end": lambda: sound() | {SHEET: sound()[SHEET][:-30]},
    "XML of noise": lambda: sound() | {SHEET: b"\xff\xfe\x00" * 1000},
    "100,000 elements in each other": lambda: sheet("<row>" * 100_000 + "</row>" * 100_000),
    "a cell beyond the last": lambda: sheet(HEAD + _row(2, _cell("XFE2", "<v>1</v>"))),
    "a cell in row 99999999": lambda: sheet(HEAD + _row(2, _cell("A99999999", "<v>1</v>"))),
    "a row of 40 digits": lambda: sheet(HEAD + _row(int("9" * 40))),
    "a cell without a row": lambda: sheet(HEAD + _row(2, _cell("A", "<v>1</v>"))),
    "a cell in the last corner": lambda: sheet(HEAD + _row(1_048_576, _cell("XFD1048576", "<v>1</v>"))),
    "a sheet that is elsewhere": lambda: (
        sound() | {RELATIONS: sound()[RELATIONS].replace(b"worksheets/sheet1", b"../../../etc/x")}
    ),
    "no list of sheets": lambda: {name: part for name, part in sound().items() if name != BOOK},
    "an error in a cell": lambda: _one("<v>#DIV/0!</v>", "e"),
    "a formula without a value": lambda: _one("<f>1/0</f>"),
    "a number of 1e400": lambda: _one("<v>1e400</v>"),
    "a number of 400 digits": lambda: _one(f"<v>{'9' * 400}</v>"),
    "a number that is none": lambda: _one("<v>NaN</v>"),
    "a text of 40,000 characters": lambda: _one(f"<is><t>{'t' * 40_000}</t></is>", "inlineStr"),
    "a shared text that there is not": lambda: _one("<v>999999999</v>", "s"),
}
HEAVY: dict[str, Make] = {
    "a sheet that unfolds to 400 MB": lambda: sound() | {SHEET: b" " * (400 << 20)},
    "a list of texts of 290 MB": lambda: sound() | {"xl/sharedStrings.xml": b"<sst>" + b" " * (290 << 20) + b"</sst>"},
    "a list of texts below the bound": lambda: (
        sound() | {"xl/sharedStrings.xml": b"<sst>" + b" " * (120 << 20) + b"</sst>"}
    ),
    "10,000,000 tags": lambda: sheet(HEAD + "<c/>" * 10_000_000),
    "1,048,577 empty rows": lambda: sheet(HEAD + "<row/>" * 1_048_577),
    "5,100,000 cells": lambda: sheet(HEAD + ("<row>" + "<c><v>1</v></c>" * 51 + "</row>") * 100_000),
    "2,000,000 formulas": lambda: sheet(HEAD + "<row>" + "<c><f>1/0</f></c>" * 400_000 + "</row>"),
    "6,000 parts": lambda: sound() | {f"xl/media/{at}.png": b"" for at in range(6_000)},
    "styles of 60 MB": lambda: sound() | {STYLES: b"<styleSheet>" + b"<xf/>" * 12_000_000 + b"</styleSheet>"},
}
BOUNDED: dict[str, Make] = {
    "1,048,576 empty rows": lambda: sheet(HEAD + "<row/>" * 1_048_575),
    "a link to another workbook": lambda: _one("<f>[1]Sheet1!A1</f><v>5</v>")
    | {"xl/externalLinks/externalLink1.xml": b'<externalLink><externalBook r:id="rId1"/></externalLink>'},
    "a call to a program": lambda: _one("<f>cmd|'/C x'!A0</f><v>5</v>"),
    "macros": lambda: sound() | {"xl/vbaProject.bin": b"\xd0\xcf\x11\xe0" * 5_000},
    "a part called ../../x": lambda: sound() | {"../../../neighbour/planted.txt": b"x"},
    "a number format of 100,000 signs": lambda: sound()
    | {STYLES: sound()[STYLES].replace(b"<cellXfs", b"<numFmts>" + LONG_FORMAT + b"</numFmts><cellXfs")},
    "markup in a cell": lambda: _one("<is><t>&lt;script&gt;window.ran=1&lt;/script&gt;</t></is>", "inlineStr"),
    "a value before the first day": lambda: _one("<v>-1e9</v>"),
}  # fmt: skip
WHOLE: dict[str, Callable[[], bytes]] = {
    "nothing": lambda: b"",
    "noise": lambda: b"\xff" * 5_000,
    "a zip that is cut": lambda: packed(sound())[:900],
    "a zip without a workbook": lambda: packed({"a.txt": b"x"}),
    "an old workbook under the new name": lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(5_000),
    "a part packed by BZIP2": lambda: packed(sound(), zipfile.ZIP_BZIP2),
    "a part packed by LZMA": lambda: packed(sound(), zipfile.ZIP_LZMA),
    "flipped bytes": lambda: _flipped(packed(sound())),
    "a wrong size": lambda: packed(sound()).replace(b"PK\x01\x02\x14", b"PK\x01\x02\xff"),
}


def _flipped(whole: bytes) -> bytes:
    spoilt = bytearray(whole)
    for at in range(200, len(spoilt), 97):
        spoilt[at] ^= 0x10
    return bytes(spoilt)


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    told = (Place(FILE),)
    for what, make in REFUSED.items():
        yield Hostile("workbooks", what, _delivered(_packed(make)), places=told)
    for what, make in HEAVY.items():
        yield heavy(Hostile("workbooks", what, _delivered(_packed(make)), places=told))
    for what, whole in WHOLE.items():
        answer = Answer.BOUNDED if what == "a wrong size" else Answer.REFUSED
        yield Hostile("workbooks", what, _delivered(whole), answer, told if answer is Answer.REFUSED else ())
    for what, make in BOUNDED.items():
        yield Hostile("workbooks", what, _delivered(_packed(make)), Answer.BOUNDED)
        yield Hostile("workbooks", f"{what}, beside the tables", _unmapped(_packed(make)), Answer.BOUNDED)
    yield from _tables()


OF_TABLES = ("survey.xlsx", "field/products.xlsx")
COLUMNS = {b"s": b"product_id", b"c": b"location_id", b"r": b"product", b"u": b"comment"}
LEGAL = (
    "100,000 elements in each other",
    "a number of 1e400",
    "a number of 400 digits",
    "a number that is none",
    "a shared text that there is not",
)
"""What is refused in a laboratory's workbook, and may be a blank sheet or a text in a table's."""


def _of_table(make: Make) -> Callable[[], bytes]:
    """Return the workbook with its sheet and columns named as those of a table."""

    def made() -> bytes:
        parts = dict(make())
        for old, new in COLUMNS.items() if SHEET in parts and len(parts[SHEET]) < 1 << 20 else ():
            parts[SHEET] = parts[SHEET].replace(b"<t>" + old + b"</t>", b"<t>" + new + b"</t>")
        if BOOK in parts:
            parts[BOOK] = re.sub(rb'(<sheet [^>]*name=")[^"]*', rb"\1products", parts[BOOK])
        return packed(parts)

    return made


def _tables() -> Iterator[Hostile]:
    """Yield the inputs of this class as workbooks of tables."""
    gone = removed("field/products.csv")
    for file in OF_TABLES:
        told = (Place(file),)
        for what, make in REFUSED.items():
            legal = what in LEGAL or (what == "a sheet that is elsewhere" and file == OF_TABLES[0])
            answer, places = (Answer.BOUNDED, ()) if legal else (Answer.REFUSED, told)
            yield Hostile("workbooks", f"{what}, as {file}", edited(gone, late(file, _of_table(make))), answer, places)
        for what, make in HEAVY.items():
            made = edited(gone, late(file, _of_table(make)))
            yield heavy(Hostile("workbooks", f"{what}, as {file}", made, Answer.BOUNDED))
        for what, whole in WHOLE.items():
            answer = Answer.BOUNDED if what == "a wrong size" else Answer.REFUSED
            places = told if answer is Answer.REFUSED else ()
            yield Hostile("workbooks", f"{what}, as {file}", edited(gone, late(file, whole)), answer, places)
        for what, make in BOUNDED.items():
            made = edited(gone, late(file, _of_table(make)))
            yield Hostile("workbooks", f"{what}, as {file}", made, Answer.BOUNDED)


def _packed(make: Make) -> Callable[[], bytes]:
    return lambda: packed(make())


def _delivered(whole: Callable[[], bytes]) -> Maker:
    form = content("lab/a.map.toml", simple(file=FILE).encode())
    return edited(form, late(FILE, whole))


def _unmapped(whole: Callable[[], bytes]) -> Maker:
    return edited(late(FILE, whole))
