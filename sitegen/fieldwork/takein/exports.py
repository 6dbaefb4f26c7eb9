"""An export of the field form: one JSON file, refused as a whole where anything in it is not as it should be."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, NoReturn

from sitegen.checks.files import leaves_folder
from sitegen.findings.problems import Severity
from sitegen.project import limits
from sitegen.project.read.csvtext import CONTROL, RawTable
from sitegen.project.read.ranges import within_ranges
from sitegen.project.read.typed import type_table
from sitegen.project.schema import Column, Kind, TableSpec
from sitegen.project.tables import TABLE

FORMAT = "sitegen field record 1"
NAMES = ("locations", "samplers", "deployments", "return_bags", "shipments", "custody", "photos", "products")
"""The tables that a device fills in; of a point, that it was not done, and why."""

_COLUMNS = {name: frozenset(TABLE[name].column_names) for name in NAMES}
_MEMBERS = ("format", "project", "kit", "device", "number", "made_at", "tables", "changes", "sha256")
_CHANGE = ("at", "table", "key", "column", "from", "to", "reason")
_FORMS = {
    "kit": re.compile(r"[0-9a-f]{16}"),
    "device": re.compile(r"[A-Za-z0-9]{4}"),
    "number": re.compile(r"[1-9][0-9]{0,5}"),
    "made_at": re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?", re.ASCII),
    "sha256": re.compile(r"[0-9a-f]{64}"),
}
_FORMULA = re.compile(r"[=@\t\r＝＠]|[+\-＋－](?=.*[=(|!@])", re.DOTALL)
_PARTIAL = ("cell-blank", "column-missing")
"""What a row of an export need not have: the folder may have it, or another device."""


class RefusedError(Exception):
    """A file is no export that may be taken in; the message says why."""


class Change(NamedTuple):
    """One entry of a device: a cell had the text ``old`` and has ``new``, for a ``reason`` where it was corrected."""

    at: str
    table: str
    key: tuple[str, ...]
    column: str
    old: str
    new: str
    reason: str


@dataclass(frozen=True, slots=True)
class Export:
    """What one device wrote down until it was exported for the ``number``-th time, and the file's own bytes."""

    name: str
    content: bytes
    kit: str
    device: str
    number: int
    made_at: str
    tables: Mapping[str, Mapping[tuple[str, ...], Mapping[str, str]]]
    changes: tuple[Change, ...]

    @property
    def sort_key(self) -> tuple[str, int, str, bytes]:
        """Device by device, older exports first; the same whatever order the files are named in."""
        return (self.device, self.number, self.made_at, self.content)

    @property
    def called(self) -> str:
        """The export as a line names it."""
        return f"device {self.device}, export {self.number}"


def read_export(name: str, content: bytes, project: str, time_zone: str) -> Export:
    """Read one export of the project whose id is ``project``. Raises RefusedError with the reason."""
    data = _json(content)
    _members(data, _MEMBERS, "the export")
    stated = {member: _text(data[member], member) for member in _MEMBERS if member not in ("tables", "changes")}
    if stated["format"] != FORMAT:
        raise RefusedError(f"its format is {_shown(stated['format'])}; this version reads {FORMAT!r}")
    if stated["project"] != project:
        raise RefusedError(f"it is of the project {_shown(stated['project'])}; this folder is {_shown(project)}")
    for member, form in _FORMS.items():
        if not form.fullmatch(stated[member]):
            raise RefusedError(f"its {member} is {_shown(stated[member])}, which the form does not write")
    if stated["sha256"] != digest(data):
        raise RefusedError("its SHA-256 does not match its content: it was changed or cut off after it was exported")
    return Export(
        name, content, stated["kit"], stated["device"], int(stated["number"]), stated["made_at"],
        _tables(data["tables"], time_zone), tuple(_changes(data["changes"])),
    )  # fmt: skip


def digest(data: Mapping[str, Any]) -> str:
    """Return the SHA-256 of an export without its own ``sha256``: keys in code-point order, no blanks, UTF-8.

    >>> text = '{"a":"1","b":"ä"}'
    >>> digest({"b": "ä", "a": "1", "sha256": "not counted"}) == hashlib.sha256(text.encode()).hexdigest()
    True
    """
    rest = {name: value for name, value in data.items() if name != "sha256"}
    text = json.dumps(rest, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    try:
        return hashlib.sha256(text.encode()).hexdigest()
    except UnicodeEncodeError as error:
        raise RefusedError("it has half of a character (a lone surrogate)") from error


def _json(content: bytes) -> dict[str, Any]:
    """Read JSON whose every value is text; refuse what is too large, too deep, double or no text."""
    if len(content) > limits.EXPORT_BYTES.value:
        raise RefusedError(f"it has {len(content):,} bytes, more than {limits.EXPORT_BYTES.text}")
    try:
        data = json.loads(
            content.decode("utf-8"),
            object_pairs_hook=_once,
            parse_int=_number,
            parse_float=_number,
            parse_constant=_number,
        )
    except UnicodeDecodeError as error:
        raise RefusedError("its bytes are not UTF-8") from error
    except RecursionError as error:
        raise RefusedError("its parts lie too deep inside one another") from error
    except json.JSONDecodeError as error:
        raise RefusedError(f"it is no JSON ({error.msg}, line {error.lineno}): it may be cut off") from error
    if not isinstance(data, dict):
        raise RefusedError("it is no JSON object")
    return data


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, value in pairs:
        if name in found:
            raise RefusedError(f"{_shown(name)} stands in it twice")
        found[name] = value
    return found


def _number(text: str) -> NoReturn:
    raise RefusedError(f"it has the number {_shown(text)} where the form writes text in quotes")


def _members(data: Mapping[str, Any], wanted: Iterable[str], what: str) -> None:
    if missing := [name for name in wanted if name not in data]:
        raise RefusedError(f"{what} lacks {', '.join(missing)}")
    if strange := sorted(set(data) - set(wanted)):
        raise RefusedError(f"{what} has {_shown(strange[0])}, which the form does not write")


def _text(value: object, what: str) -> str:
    """Return a text that may stand in a cell; refuse what is none, and signs that steer a terminal or a printer."""
    if not isinstance(value, str):
        raise RefusedError(f"{what} is no text")
    if len(value) > limits.CELL.value:
        raise RefusedError(f"{what} has {len(value):,} characters, more than {limits.CELL.text}")
    if CONTROL.search(value):
        raise RefusedError(f"{what} has a control character")
    return value


def _rows(value: object, what: str) -> list[Mapping[str, Any]]:
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        raise RefusedError(f"{what} is no list of rows")
    if len(value) > limits.EXPORT_ROWS.value:
        raise RefusedError(f"{what} has {len(value):,} rows, more than {limits.EXPORT_ROWS.value:,}")
    return value


def _tables(value: object, time_zone: str) -> Mapping[str, Mapping[tuple[str, ...], Mapping[str, str]]]:
    if not isinstance(value, dict):
        raise RefusedError("tables is no object")
    if strange := sorted(set(value) - set(NAMES)):
        raise RefusedError(f"it has the table {_shown(strange[0])}, which the form does not write")
    return {name: _table(TABLE[name], value[name], time_zone) for name in NAMES if name in value}


def _table(spec: TableSpec, value: object, time_zone: str) -> Mapping[tuple[str, ...], Mapping[str, str]]:
    """Return the rows of a table by key, filled cells alone; each must be what the folder could have."""
    found: dict[tuple[str, ...], Mapping[str, str]] = {}
    for number, row in enumerate(_rows(value, spec.name), start=1):
        cells = {name: _cell(spec, name, text, f"{spec.name}, row {number}") for name, text in row.items()}
        cells = {name: text for name, text in cells.items() if text}
        key = tuple(cells.get(name, "") for name in spec.key)
        if not all(key) or "NA" in key:
            raise RefusedError(f"{spec.name}, row {number} lacks its {' and '.join(spec.key)}")
        if key in found:
            raise RefusedError(f"{spec.name} has {_shown(' + '.join(key))} twice")
        found[key] = cells
    _fits(spec, found, time_zone)
    return found


def _cell(spec: TableSpec, name: str, value: object, where: str) -> str:
    """Return a cell's text, blanks at its ends left out."""
    if name not in _COLUMNS[spec.name]:
        raise RefusedError(f"{where} has the column {_shown(name)}, which {spec.path} does not know")
    text = _text(value, f"{where}, {name}").replace("\r\n", "\n").strip()
    if unsafe := _unsafe(spec.column(name), text):
        raise RefusedError(f"{where}, {name} is {_shown(text)}: {unsafe}")
    return text


def _unsafe(column: Column, text: str) -> str:
    """Say why a text may not stand in a table, "" where it may.

    >>> _unsafe(TABLE["deployments"].column("comment"), '=HYPERLINK("x")')
    'a spreadsheet would run it as a formula; correct it in the form and export again'
    >>> _unsafe(TABLE["deployments"].column("comment"), "- wet below 2 ft")
    ''
    >>> _unsafe(TABLE["photos"].column("file"), "a/b.jpg")
    'a photograph is named below photos/'
    """
    if _FORMULA.match(text) and column.kind not in (Kind.NUMBER, Kind.INTEGER):
        return "a spreadsheet would run it as a formula; correct it in the form and export again"
    if column.kind is Kind.PATH and text:
        if leaves_folder(text) or any(part.startswith(".") for part in text.split("/")):
            return "the path leads out of the project folder"
        if column.name == "file" and not text.startswith("photos/"):
            return "a photograph is named below photos/"
        if text.startswith("private/"):
            return "nothing in private/ is named in a table"
    return ""


def _fits(spec: TableSpec, rows: Mapping[tuple[str, ...], Mapping[str, str]], time_zone: str) -> None:
    """Refuse a table with a cell that would stop the folder's own table: no number, no time, an unknown word."""
    if not rows:
        return
    texts = tuple([row.get(name, "") for name in spec.column_names] for row in rows.values())
    raw = RawTable(spec.column_names, texts, tuple(range(1, len(texts) + 1)))
    table, problems = type_table(spec, raw, time_zone)
    _, outside = within_ranges(table)
    for finding in (*problems, *outside):
        if finding.severity is Severity.STOP and finding.code not in _PARTIAL:
            place = f"{spec.name}, row {finding.where.row}, {finding.where.column}"
            raise RefusedError(f"{place}: found {finding.found}; expected {finding.expected}")


def _changes(value: object) -> Iterator[Change]:
    for number, row in enumerate(_rows(value, "changes"), start=1):
        where = f"changes, row {number}"
        _members(row, _CHANGE, where)
        texts = {name: _text(row[name], f"{where}, {name}") for name in _CHANGE}
        if texts["column"] not in _COLUMNS.get(texts["table"], ()):
            raise RefusedError(f"{where} names {_shown(texts['table'] + ', ' + texts['column'])}, which is no column")
        old, new = (texts[name].replace("\r\n", "\n").strip() for name in ("from", "to"))
        yield Change(
            texts["at"], texts["table"], (texts["key"].strip(),), texts["column"], old, new, texts["reason"].strip()
        )


def _shown(text: str) -> str:
    """Return a text from a file as a message shows it: in quotes, with no sign that steers a terminal, and short."""
    short = text if len(text) <= 60 else f"{text[:57]}…"
    return repr(short.encode("utf-8", "backslashreplace").decode())
