"""Tables and workbooks that lie in ``lab/`` beside the files of the format: which they are, and their text."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable
from datetime import date
from difflib import get_close_matches
from pathlib import PurePosixPath

from sitegen.project.folder import Folder
from sitegen.project.read.xlsxtext import read_sheet, sheet_names
from sitegen.project.tables import TABLES
from sitegen.project.zones import YEARS

WORKBOOKS = (".xlsx", ".xlsm")
OTHER_WORKBOOKS = (".xls", ".xlsb", ".ods")
"""Kinds of workbooks that this program can't look into."""
TEXT_TABLES = (".csv", ".tsv", ".tab")
_BETWEEN = re.compile(r"[\t\r\n,;|\"]+")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = rf"(?P<month>(?i:{'|'.join(_MONTHS)})[a-z]*)\.?"
_ISO = re.compile(r"(?<!\d)\d{4}-\d\d-\d\d(?!\d)")
_DAY_FIRST = re.compile(rf"(?<!\d)(?P<day>\d{{1,2}})[ -]{_MONTH}[ -](?P<year>\d{{4}})(?!\d)")
_MONTH_FIRST = re.compile(rf"\b{_MONTH} (?P<day>\d{{1,2}}),? (?P<year>\d{{4}})(?!\d)")
_REVISION = re.compile(
    r"[ _.-]*(?:(?:rev(?:ision|ised)?|re-?issued?|amended|corrected)[ _.-]*(\d{0,3})|[ _.-][rv](\d{1,3}))$"
)


def lab_tables(folder: Folder, own_files: Container[str] = ()) -> tuple[str, ...]:
    """Return the tables and workbooks in ``lab/`` that are no files of the format, in order of their paths.

    ``own_files`` has the workbooks that are.
    """
    own = {spec.path for spec in TABLES}
    kinds = (*WORKBOOKS, *OTHER_WORKBOOKS, *TEXT_TABLES)
    there = (path for path in folder.files if path.startswith("lab/") and path.lower().endswith(kinds))
    return tuple(path for path in there if path not in own and path not in own_files)


def missing_name(path: str, missing: Iterable[str]) -> str:
    """Return the file of the format that a path is surely meant for, or nothing.

    ``missing`` are those that the folder lacks: nothing is to be written over. A workbook is no CSV.

    >>> missing_name("field/wether.csv", ["field/weather.csv"]), missing_name("lab/results.xlsx", ["lab/results.csv"])
    ('field/weather.csv', '')
    """
    kind = PurePosixPath(path).suffix.lower()
    alike = sorted(name for name in missing if PurePosixPath(name).suffix == kind)
    return next(iter(get_close_matches(path, alike, n=1, cutoff=0.75)), "")


def table_text(folder: Folder, path: str, encoding: str = "utf-8") -> str:
    """Return the text of a table, or of all cells of a workbook, a line each; nothing where it can't be looked into."""
    content = folder.content(path) or b""
    if path.lower().endswith(OTHER_WORKBOOKS):
        return ""
    if path.lower().endswith(WORKBOOKS):
        sheets = (read_sheet(path, content, name)[0] for name in sheet_names(content))
        return "\n".join(cell for sheet in sheets if sheet for row in sheet.grid.rows for cell in row)
    try:
        return content.decode(encoding, "replace")
    except LookupError:
        return content.decode("utf-8", "replace")


def cells_in(text: str) -> frozenset[str]:
    """Return the distinct cells of a table's text, by whatever sign they are parted."""
    return frozenset(cell.strip() for cell in _BETWEEN.split(text))


def latest_date(text: str) -> str:
    """Return the latest date of a text, as YYYY-MM-DD; "" where it has none that can be read in one way alone.

    Dates such as 02/03/2025 are passed over: which number is the month is not said.

    >>> latest_date("analysed 2025-11-20, reported 2 December 2025; printed 12/31/2025")
    '2025-12-02'
    """
    days = [match[0] for match in _ISO.finditer(text)]
    for pattern in (_DAY_FIRST, _MONTH_FIRST):
        for match in pattern.finditer(text):
            month = _MONTHS.index(match["month"][:3].lower()) + 1
            days.append(f"{match['year']}-{month:02}-{int(match['day']):02}")
    return max(filter(_is_day, days), default="")


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).year in YEARS
    except ValueError:
        return False


def revision_of(path: str) -> tuple[str, int]:
    """Return a file's name without the words of a revision, and the revision: 0 where the name tells none.

    >>> revision_of("lab/L25-0447_rev2.xlsx"), revision_of("lab/L25-0447 R1.csv"), revision_of("lab/L25-0447.csv")
    (('l25-0447', 2), ('l25-0447', 1), ('l25-0447', 0))
    """
    stem = PurePosixPath(path).stem.casefold()
    found = _REVISION.search(stem)
    return (stem[: found.start()], int(found[1] or found[2] or 1)) if found else (stem, 0)
