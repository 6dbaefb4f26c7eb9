"""A survey's tables as workbooks: as a person types them, numbers as numbers and times as dates.

in_one_workbook(example()), in_workbooks_of_their_own(example())
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from sitegen.project.folder import Folder, InputFile
from sitegen.project.schema import BOOK_FILE, Column, Kind, TableSpec
from sitegen.project.tables import TABLES

NUMBER = re.compile(r"-?\d{1,9}(\.\d{1,6})?")
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
DATE = re.compile(r"\d{4}-\d\d-\d\d")


def rows_of(content: bytes) -> list[list[str]]:
    """Return the rows of a CSV file in the format's own form, blank ones too."""
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def put(sheet: Worksheet, row: int, at: int, text: str, column: Column | None) -> None:
    """Write a cell as a person's spreadsheet holds it."""
    if not text:
        return
    cell = sheet.cell(row, at)
    kind = column.kind if column else Kind.TEXT
    if kind in (Kind.NUMBER, Kind.INTEGER) and (match := NUMBER.fullmatch(text)):
        cell.value = float(text)
        cell.number_format = f"0.{'0' * (len(match[1]) - 1)}" if match[1] else "0"
    elif kind is Kind.TIME and TIME.fullmatch(text):
        cell.value, cell.number_format = datetime.fromisoformat(text), "yyyy\\-mm\\-dd hh:mm"
    elif kind is Kind.DATE and DATE.fullmatch(text):
        cell.value, cell.number_format = datetime.fromisoformat(text), "d/m/yy"
    else:
        cell.value, cell.data_type, cell.number_format = text, "s", "@"


def fill(sheet: Worksheet, spec: TableSpec, rows: Iterable[Sequence[str]]) -> None:
    """Write the rows of a table, the first its header, in the places that they have in the file."""
    header: Sequence[str] = ()
    columns = {column.name: column for column in spec.columns}
    for number, row in enumerate(rows, start=1):
        header = header or row
        for at, text in enumerate(row, start=1):
            put(sheet, number, at, text, columns.get(header[at - 1]) if number > 1 else None)


def saved(book: Workbook) -> bytes:
    """Return a workbook as a file."""
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def workbook(sheets: Mapping[str, Sequence[Sequence[str]]]) -> bytes:
    """Return a workbook with a sheet for each table, by the table's name."""
    book = Workbook()
    book.remove(book.active)
    for spec in TABLES:
        if spec.name in sheets:
            fill(book.create_sheet(spec.name), spec, sheets[spec.name])
    for name in sheets.keys() - {spec.name for spec in TABLES}:
        sheet = book.create_sheet(name)
        for row in sheets[name]:
            sheet.append(list(row))
    return saved(book)


def with_files(folder: Folder, new: Mapping[str, bytes], without: Iterable[str] = ()) -> Folder:
    """Return a folder with some files added and some taken away."""
    kept = {path: file for path, file in folder.files.items() if path not in set(without)}
    kept |= {path: InputFile(path, hashlib.sha256(content).hexdigest(), content) for path, content in new.items()}
    return Folder(dict(sorted(kept.items())), folder.passed_over, folder.findings)


def in_one_workbook(folder: Folder) -> Folder:
    """Return a folder whose tables are sheets of ``survey.xlsx``, the sign-off in a workbook of its own."""
    there = {spec: rows_of(folder.files[spec.path].content) for spec in TABLES if spec.path in folder.files}
    sheets = {spec.name: rows for spec, rows in there.items() if spec.name != "signoff"}
    new = {BOOK_FILE: workbook(sheets)}
    new |= {spec.book_path: workbook({spec.name: rows}) for spec, rows in there.items() if spec.name == "signoff"}
    return with_files(folder, new, [spec.path for spec in there])


def in_workbooks_of_their_own(folder: Folder) -> Folder:
    """Return a folder of which each table is an XLSX file, on a sheet of some name."""
    there = [spec for spec in TABLES if spec.path in folder.files]
    new = {}
    for spec in there:
        book = Workbook()
        book.active.title = "Sheet1"
        fill(book.active, spec, rows_of(folder.files[spec.path].content))
        new[spec.book_path] = saved(book)
    return with_files(folder, new, [spec.path for spec in there])
