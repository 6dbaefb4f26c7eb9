"""What the folder's own tables hold, by key, as an export is compared with it."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from sitegen.fieldwork.takein.exports import NAMES
from sitegen.project.delivery.mapping import mapped_files
from sitegen.project.folder import Folder
from sitegen.project.intake.ranges import COLUMN, serial_range
from sitegen.project.intake.text import TableText, table_texts
from sitegen.project.limits import SERIALS
from sitegen.project.read.cells import number
from sitegen.project.read.textsafe import plain
from sitegen.project.reading import read_reading, readable
from sitegen.project.schema import SETTINGS_FILE, Column, Kind, TableSpec
from sitegen.project.settings import FilePart
from sitegen.project.tables import TABLE
from sitegen.project.zones import read_time

Key = tuple[str, ...]
_UNSEEN = "\u00a0\u200b\ufeff"


class UnreadError(Exception):
    """A table of the folder has a fault that must be mended before anything is merged into it."""


@dataclass(frozen=True, slots=True)
class HeldRow:
    """A row of the folder: its number in the file and its texts, as read and as the file has them.

    ``ranged`` says that it is one sampler of a row that stands for a range of serials.
    """

    number: int
    texts: Mapping[str, str]
    received: Mapping[str, str]
    ranged: bool = False


@dataclass(frozen=True, slots=True)
class Held:
    """A table of the folder: the file (and sheet) that has it, how that is written, and its rows by key."""

    spec: TableSpec
    file: str
    sheet: str
    content: bytes | None
    how: FilePart
    rows: Mapping[Key, HeldRow]
    time_zone: str

    @property
    def is_book(self) -> bool:
        """Whether a workbook has the table, which is not edited."""
        return self.file.endswith(".xlsx")

    @property
    def called(self) -> str:
        """The file, and its sheet, as a line names it."""
        return f"{self.file} (sheet {self.sheet})" if self.sheet else self.file

    def same(self, column: str, one: str, other: str, row: HeldRow | None = None) -> bool:
        """Tell whether a text of an export and one of the folder (in ``row``) say the same."""
        kind = self.spec.column(column)
        zone = self.zone_of(kind, row)
        return settled(kind, one, self.time_zone) == settled(kind, other, zone)

    def zone_of(self, column: Column, row: HeldRow | None) -> str:
        """Return the zone that a time of a row of the folder is in."""
        return (tidied(row.texts.get("tz", "")) if column.zone and row else "") or self.time_zone


def held_tables(folder: Folder, names: Iterable[str]) -> dict[str, Held]:
    """Return the folder's tables of these names. Raises UnreadError where one can't be read without a fault."""
    stated = folder.content(SETTINGS_FILE) or b""
    declared, unclear, place = read_reading(stated)
    derive = readable(stated).get("derive")
    ranges = isinstance(derive, dict) and derive.get("serial_ranges") is True
    found = table_texts(folder, declared, mapped_files(folder))
    wanted = [TABLE[name] for name in NAMES if name in set(names)]
    paths = {path for spec in wanted for path in (spec.path, spec.book_path)}
    faults = [one for one in found.findings if one.where.file in paths or one.subject in paths]
    if faults:
        raise UnreadError(faults[0].line())
    if bad := sorted(paths & unclear):
        raise UnreadError(f"project.toml, [files.{bad[0]!r}]: how the file is written can't be read")
    tables = {}
    for spec in wanted:
        text = found.tables.get(spec.name)
        if text is None:
            how = declared.get(spec.path, FilePart())
            tables[spec.name] = Held(spec, spec.path, "", folder.content(spec.path), how, {}, place)
            continue
        rows = dict(_rows(text, ranges=ranges and spec.name == "samplers"))
        content = folder.content(text.file)
        tables[spec.name] = Held(spec, text.file, text.sheet, content, text.how, rows, place)
    return tables


def _rows(text: TableText, *, ranges: bool) -> Iterator[tuple[Key, HeldRow]]:
    """Yield the rows by key, those of a range of serials first: a serial's own row is the one that counts."""
    spec, read = text.spec, text.read
    if absent := [name for name in spec.key if name not in read.header]:
        raise UnreadError(f"{text.called} has no column {absent[0]}")
    own: dict[Key, HeldRow] = {}
    left = SERIALS.value
    for at, cells, received in zip(read.numbers, read.rows, text.received.rows, strict=True):
        row = HeldRow(at, dict(zip(read.header, cells, strict=True)), dict(zip(read.header, received, strict=True)))
        key = key_of(row.texts[name] for name in spec.key)
        found = serial_range(row.texts[COLUMN]) if ranges else None
        left -= found.size if found else 0
        if left < 0:
            raise UnreadError(f"{text.called} has more than {SERIALS.text}")
        if found:
            ranged = HeldRow(row.number, row.texts, row.received, ranged=True)
            yield from (((serial,), ranged) for serial in found.serials())
        elif key in own:
            raise UnreadError(f"{text.called}, row {at}: {' + '.join(key)} stands in row {own[key].number} too")
        elif all(key):
            own[key] = row
    yield from own.items()


def key_of(texts: Iterable[str]) -> Key:
    """Return a key as rows are compared by it: in plain characters, without blanks at its ends."""
    return tuple(plain(tidied(text)) for text in texts)


def tidied(text: str) -> str:
    """Return a cell without blanks and unseen characters at its ends; "" where nothing is in it.

    >>> tidied(" NA\u00a0")
    'NA'
    """
    return text.strip().strip(_UNSEEN).strip()


def settled(column: Column, text: str, zone: str) -> Hashable:
    """Return what a text says, so that two ways to write it are equal."""
    text = tidied(text)
    if column.kind in (Kind.NUMBER, Kind.INTEGER):
        return text if number(text) is None else Decimal(text)
    if column.kind is Kind.TIME:
        minutes = read_time(text, zone).utc_min
        return text if minutes is None else minutes
    if column.kind is Kind.ID:
        return plain(text)
    return text.replace("\r\n", "\n")
