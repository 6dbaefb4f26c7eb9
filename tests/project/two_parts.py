"""The example's results and quality control in two parts whose row numbers repeat.

    survey = load(example_with(two_parts(sheets=True)))

Every other laboratory sample is in the second part: another file, or another sheet of one workbook. Either
part has rows 2, 3, 4 and so on, each of another sample than the row of that number in the other part.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping

from lab_files import QC, RESULTS, csv_bytes, saved
from openpyxl import Workbook, load_workbook

PARTS = ("first", "second")
BOOK = "lab/both.xlsx"
COLUMNS = (
    "lab_sample_id", "analyte_id", "result_text", "unit", "rl", "mdl", "lab_qualifier", "validation_qualifier",
    "validation_reason", "detected", "calibration_top", "lower", "upper", "limit_source",
)  # fmt: skip
HEAD = ("kind", *COLUMNS)


def two_parts(*, sheets: bool) -> dict[str, bytes | None]:
    """Return the changes to the example: its two tables gone, the parts and their mapping files there."""
    parts = {name: _lines(at) for at, name in enumerate(PARTS)}
    files = {BOOK: _book(parts)} if sheets else {f"lab/{name}.csv": csv_bytes(lines) for name, lines in parts.items()}
    maps = {f"lab/{name}.map.toml": _mapping(name, sheets=sheets) for name in PARTS}
    return {"lab/results.csv": None, "lab/lab_qc.csv": None, **files, **maps}


def line_at(content: bytes, sheet: str, row: int) -> Mapping[str, str]:
    """Return a line of a part by the names of its header, read apart from the program."""
    if sheet:
        values = load_workbook(io.BytesIO(content))[sheet].values
        lines = [["" if cell is None else str(cell) for cell in line] for line in values]
    else:
        lines = list(csv.reader(io.StringIO(content.decode("utf-8"))))
    return dict(zip(lines[0], lines[row - 1], strict=True))


def _lines(part: int) -> list[list[str]]:
    samples = list(dict.fromkeys(row["lab_sample_id"] for row in (*RESULTS, *QC)))
    own = set(samples[part::2])
    results = (row | {"kind": "result"} for row in RESULTS)
    controls = (row | {"kind": row["qc_type"], "analyte_id": row["name"], "result_text": row["value"]} for row in QC)
    rows = (row for row in (*results, *controls) if row["lab_sample_id"] in own)
    return [list(HEAD), *([row.get(name, "") for name in HEAD] for row in rows)]


def _book(parts: Mapping[str, list[list[str]]]) -> bytes:
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, lines in parts.items():
        sheet = book.create_sheet(name)
        for line in lines:
            sheet.append(line)
    return saved(book)


def _mapping(name: str, *, sheets: bool) -> bytes:
    source = f'file = "{BOOK}"\nsheet = "{name}"' if sheets else f'file = "lab/{name}.csv"'
    columns = "\n".join(f'{column} = "{column}"' for column in COLUMNS)
    kinds = "\n".join(f'{kind} = "{kind}"' for kind in dict.fromkeys(["result", *(row["qc_type"] for row in QC)]))
    return f"""
[source]
{source}
layout = "long"
qc_column = "kind"
[columns]
{columns}
[units]
ng = 1
[nondetect]
tokens = ["ND"]
[qc]
{kinds}
""".encode()
