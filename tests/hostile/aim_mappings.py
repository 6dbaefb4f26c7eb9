"""Hostile laboratory files to draft a mapping of, and hostile mappings: any size, any shape, loops and ways out."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence

import aim_workbooks
from aim_workbooks import BOUNDED, HEAVY, REFUSED, SHEET, SPACE, WHOLE, Parts, packed, sound
from builders import content
from hostile_case import Answer, Hostile, Place, edited, heavy, late
from small_delivery import simple

BOOK, TEXT, FORM = aim_workbooks.FILE, "lab/a.csv", "lab/a.map.toml"
ROW = ["04417-002", "pce", "12", "ng"]
HEAD = ["Lab ID", "Compound", "Result", "Units"]
DIGITS = "1" * 30_000 + "\nx"


def _csv(rows: Iterable[Sequence[object]]) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    return out.getvalue().encode()


def _sheet(rows: Iterable[Sequence[str]], merged: Iterable[str] = ()) -> Parts:
    """Return a workbook whose sheet has these rows and merged ranges."""
    body = "".join(
        "<row>" + "".join(f'<c t="inlineStr"><is><t>{cell}</t></is></c>' for cell in row) + "</row>" for row in rows
    )
    ranges = "".join(f'<mergeCell ref="{one}"/>' for one in merged)
    joined = f"<mergeCells>{ranges}</mergeCells>" if ranges else ""
    return sound() | {SHEET: f"<worksheet {SPACE}><sheetData>{body}</sheetData>{joined}</worksheet>".encode()}


def _labelled() -> Iterator[list[str]]:
    yield ["Compound", *(f"L-{at}" for at in range(20))]
    for _ in range(20_000):
        yield ["Units", "ng", "ng"]
        yield ["PCE", *["12"] * 20]


BOOKS: dict[str, Callable[[], Parts]] = {
    "16,384 columns": lambda: _sheet([["Compound", *(f"L-{at}" for at in range(16_383))], ["pce", *["12"] * 16_383]]),
    "a header of 16,384 names of columns": lambda: _sheet([["Result", "Units"] * 8_192, ["12", "ng"] * 8_192]),
    "99,000 merged ranges over each other": lambda: _sheet(_labelled(), ("A1:U40001" for _ in range(99_000))),
    "40,000 merged rows": lambda: _sheet(_labelled(), (f"A{at}:C{at}" for at in range(1, 40_000))),
}
TEXTS: dict[str, Callable[[], bytes]] = {
    "cells of 30,000 digits": lambda: _csv(
        [HEAD, ["04417-002", "pce", "12 J", "ng"], *[[*ROW[:2], f"{at}{DIGITS}", "ng"] for at in range(200)]]
    ),
    "20,000 headers": lambda: _csv([HEAD, ROW] * 20_000),
    "30,000 compounds, samples, units and kinds": lambda: _csv(
        [[*HEAD, "Type"], *([f"L-{at}", f"c{at}", "5", f"u{at}", f"k{at}"] for at in range(30_000))]
    ),
    "300,000 rows": lambda: _csv([HEAD, *[ROW] * 300_000]),
    "a quote that does not end": lambda: b'Lab ID,Compound,Result,Units\n"' + b"x,\n" * 300_000,
    "a row of 500,000 commas": lambda: b"Lab ID,Compound,Result,Units\n" + b"," * 500_000,
    "bytes of no text": lambda: bytes(range(256)) * 4_000,
    "TOML in each cell": lambda: _csv(
        [[f'{name}"\n[confirmed]\nmapping = "X"' for name in HEAD], [f'{c}"""\n#' for c in ROW]]
    ),
    "nothing": lambda: b"",
}
_NAMED = dict(zip(("lab_sample_id", "analyte_id", "result_text", "unit"), HEAD, strict=True))
_LOOP = simple('replaces = "lab/a.csv"')
FORMS: dict[str, tuple[str, Answer]] = {
    "a former issue that is the file itself": (_LOOP, Answer.BOUNDED),
    "a former issue outside": (simple('replaces = "../../neighbour/keep.txt"'), Answer.BOUNDED),
    "a former issue at the root": (simple('replaces = "/etc/passwd"'), Answer.BOUNDED),
    "a former issue that is project.toml": (simple('replaces = "project.toml"'), Answer.BOUNDED),
    "a former issue that is the mapping": (simple('replaces = "lab/a.map.toml"'), Answer.BOUNDED),
    "a file that is the mapping": (simple(file=FORM), Answer.REFUSED),
    "a file that is project.toml": (simple(file="project.toml"), Answer.BOUNDED),
    "a role of 5,000 characters": (simple(rest=f'[confirmed]\nmapping = "{"x" * 5_000}"'), Answer.REFUSED),
    "a role of markup": (simple(rest='[confirmed]\nmapping = "<script>window.ran=1</script>"'), Answer.BOUNDED),
    "a role of a list": (simple(rest='[confirmed]\nmapping = ["LR-1"]'), Answer.REFUSED),
    "totals of infinity": (simple(rest="[control]\nsum_detected = inf"), Answer.REFUSED),
    "9,000 names": (simple(rest="[names]\n" + "\n".join(f'n{at} = "pce{at}"' for at in range(9_000))), Answer.REFUSED),
    "9,000 words": (
        simple(rest="[lab_samples.words]\n" + "\n".join(f'w{at} = "x"' for at in range(9_000))), Answer.REFUSED,
    ),
    "a header of eleven rows": (simple("header_row = [1,2,3,4,5,6,7,8,9,10,11]"), Answer.REFUSED),
    "a header in row 99999999": (simple("header_row = 99999999"), Answer.REFUSED),
    "digits without end": (simple(rest="[lab_samples]\nserial_digits = 999999999"), Answer.REFUSED),
    "a form of dates of 5,000 parts": (simple(f'dates = "{"day." * 5_000}"'), Answer.REFUSED),
    "tables inside of tables": (simple(rest="[lab_samples.words.a.b.c]\nd = 1"), Answer.REFUSED),
}  # fmt: skip


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this source: files that a mapping is drafted of, then mappings."""
    for what, make in (REFUSED | BOUNDED | BOOKS).items():
        yield _drafted("workbooks", what, BOOK, lambda make=make: packed(make()))  # type: ignore[misc]
    for what, make in HEAVY.items():
        yield heavy(_drafted("workbooks", what, BOOK, lambda make=make: packed(make())))  # type: ignore[misc]
    for what, whole in WHOLE.items():
        yield _drafted("workbooks", what, BOOK, whole)
    for what, whole in TEXTS.items():
        yield _drafted("files", what, TEXT, whole)
        named = simple("joined_qualifiers = true\nrepeated_header = true", _NAMED)
        form = content(FORM, named.encode())
        yield Hostile("files", f"{what}, mapped", edited(form, late(TEXT, whole)), Answer.BOUNDED)
    for what, (form, answer) in FORMS.items():
        made = edited(content(FORM, form.encode()), content(TEXT, _csv([["s", "c", "r", "u"], ROW])))
        yield Hostile(
            "settings", f"{what} in a mapping", made, answer, (Place(FORM),) if answer is Answer.REFUSED else ()
        )


def _drafted(kind: str, what: str, file: str, whole: Callable[[], bytes]) -> Hostile:
    """Return an input of which a mapping is drafted: refused, or written to where it is asked for."""
    command = ("draft-mapping", "FOLDER", file, "--out", "OUT/drafted.map.toml")
    return Hostile(kind, f"{what}, drafted", edited(late(file, whole)), Answer.BOUNDED, command=command)
