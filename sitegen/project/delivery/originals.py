"""Rows as received: the text that a person or a laboratory wrote, and how it came to our columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.header import lines, shown_header
from sitegen.project.delivery.mapping import mapping_files
from sitegen.project.delivery.opened import source_sheet
from sitegen.project.delivery.parts import MappingForm
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey, SurveyTable


@dataclass(frozen=True, slots=True)
class Original:
    """A laboratory's own file: its header and its rows as one line of text each, by row number.

    ``mapping`` is the mapping file that lifted it into our columns, ``sheet`` the sheet read, ``replaces``
    the former issue that it replaces.
    """

    file: str
    mapping: str
    sheet: str
    header: str
    rows: Mapping[int, str]
    replaces: str = ""


def row_text(cells: Iterable[str]) -> str:
    r"""Write the cells of a row as one line of CSV.

    >>> row_text(["SG-01", 'a "b", c', ""])
    'SG-01,"a ""b"", c",'
    """
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="").writerow(cells)
    return out.getvalue()


def received_columns(table: SurveyTable, *, every: bool) -> tuple[str, ...]:
    """Return the columns of a table's file: all of them, or only those that the format has."""
    known = set(table.spec.column_names)
    return tuple(name for name in table.raw.columns if every or name in known)


def received_rows(table: SurveyTable, *, every: bool) -> tuple[str, ...]:
    """Return each row of a table as received, as one line, in the table's order."""
    part = table.raw[list(received_columns(table, every=every))]
    return tuple(row_text(cells) for cells in part.itertuples(index=False, name=None))


def delivered_files(survey: Survey) -> dict[tuple[str, str], Original]:
    """Return the laboratory's own files that mapping files name, by path and sheet, every cell as received."""
    found = {}
    for path in mapping_files(survey.folder):
        form, _ = read_form(path, survey.folder.content(path) or b"")
        original = _delivered(survey, path, form) if form else None
        if original:
            found[original.file, original.sheet] = original
    return found


def _delivered(survey: Survey, mapping: str, form: MappingForm) -> Original | None:
    file = form.source.file
    sheet, _ = source_sheet(form, file, survey.folder, survey.settings.files.get(file, FilePart()))
    if sheet is None:
        return None
    rows = {number: row_text(cells) for number, cells in lines(sheet).items()}
    header = shown_header(form, sheet)
    return Original(file, mapping, sheet.name, row_text(header) if header else "", rows, form.source.replaces)
