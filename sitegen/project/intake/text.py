"""The tables of a folder as text: what their files have, before a cell is read."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple, TypeAlias

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.folder import Folder
from sitegen.project.intake.leftover import without_examples
from sitegen.project.intake.reform import Typed, in_our_forms
from sitegen.project.intake.sheets import Book, Sheets, SheetTable, chosen_sheet, extra_sheets, open_book
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.schema import BOOK_FILE, Origin, TableSpec
from sitegen.project.settings import FilePart
from sitegen.project.survey import Rule, called
from sitegen.project.tables import TABLES

Rules: TypeAlias = Mapping[tuple[int, str], Rule]
"""The rule by which a cell was filled that its file leaves blank, by row (from 0) and column."""

APART = ("signoff",)
"""Tables that the workbook of all tables can't have: a sign-off is bound to the digest of what it signs."""


@dataclass(frozen=True, slots=True)
class TableText:
    """A table of the folder as text, and where it stands: a file, and a sheet where that is a workbook.

    ``received`` is what the file has. ``read`` are the same rows as they are to be read: in the
    forms of the format, blank cells filled where ``derived`` says by which rule. ``how`` is what is
    declared of the file, and ``typed`` has the rows, by column, whose cell is no text there.
    """

    spec: TableSpec
    file: str
    received: RawTable
    read: RawTable
    sheet: str = ""
    derived: Rules = field(default_factory=dict)
    how: FilePart = field(default_factory=FilePart)
    typed: Typed = field(default_factory=dict)

    @property
    def called(self) -> str:
        """The file, and its sheet where one workbook has all tables, as a sentence names it."""
        return called(self.file, self.sheet)

    def where(self, number: int | None, column: str | None = None) -> Where:
        """Return the place of a row, by its number in the file, and of a column for a finding."""
        return replace(Origin(self.file, number or 1, self.sheet).where(column), row=number)


class Texts(NamedTuple):
    """The tables that can be read, by name, findings, the files that were taken for tables, and those without any."""

    tables: dict[str, TableText]
    findings: list[Finding]
    files: frozenset[str]
    absent: tuple[TableSpec, ...]


class _Source(NamedTuple):
    """A file, or a sheet of the workbook of all tables, that has a table: None where that can't be read or is blank."""

    file: str
    text: TableText | None
    findings: list[Finding]
    sheet: str = ""


def table_texts(folder: Folder, declared: Mapping[str, FilePart], mapped: Container[str] = ()) -> Texts:
    """Read the tables of a folder as text.

    ``declared`` says by path how files are written. What is ``mapped`` is a laboratory's own file,
    whatever its name.
    """
    content = folder.content(BOOK_FILE)
    book, findings = open_book(BOOK_FILE, content) if content is not None else (None, [])
    sheets = Sheets(book) if book else None
    found: dict[str, TableText] = {}
    files: set[str] = {BOOK_FILE} if content is not None else set()
    absent = []
    for spec in TABLES:
        sources = [*_own_files(spec, folder, declared, mapped), *_sheets(spec, book, sheets, declared)]
        findings += [finding for source in sources for finding in source.findings]
        texts = [source.text for source in sources if source.text]
        files |= {source.file for source in sources}
        if len(texts) == 1:
            found[spec.name] = texts[0]
        elif texts:
            findings.append(_twice(spec, texts))
        elif not any(source.findings for source in sources) and not (content is not None and book is None):
            absent.append(spec)
    if book:
        names = frozenset(spec.name for spec in TABLES)
        findings += extra_sheets(book, names, [spec.name for spec in absent])
    return Texts(found, findings, frozenset(files), tuple(absent))


def _own_files(
    spec: TableSpec, folder: Folder, declared: Mapping[str, FilePart], mapped: Container[str]
) -> Iterator[_Source]:
    """Yield the CSV file and the workbook of a table, those that the folder has."""
    content = folder.content(spec.path)
    if content is not None:
        how = declared.get(spec.path, FilePart())
        raw, problems = read_csv(spec.path, content, encoding=how.encoding, delimiter=how.delimiter)
        yield _source(spec, spec.path, SheetTable("", raw, {}) if raw else None, how, problems)
    content = folder.content(spec.book_path)
    if content is not None and spec.book_path not in mapped:
        source = _own_book(spec, content, declared.get(spec.book_path, FilePart()))
        if not spec.path.startswith("lab/") or (source.text and _has_key(source.text)):
            yield source


def _own_book(spec: TableSpec, content: bytes, how: FilePart) -> _Source:
    """Read the workbook of one table."""
    book, problems = open_book(spec.book_path, content)
    if book is None:
        return _Source(spec.book_path, None, problems)
    part, problems = chosen_sheet(book, spec)
    if part is None:
        return _Source(spec.book_path, None, problems)
    table, problems = Sheets(book).table(spec, part)
    return _source(spec, book.path, table, how, problems)


def _has_key(text: TableText) -> bool:
    """Tell whether a table has its key: a workbook in ``lab/`` that lacks it is a laboratory's own file."""
    return all(name in text.received.header for name in text.spec.key)


def _sheets(
    spec: TableSpec, book: Book | None, sheets: Sheets | None, declared: Mapping[str, FilePart]
) -> Iterator[_Source]:
    """Yield the sheets of a table in the workbook of all tables: one, unless a slip made two."""
    how = declared.get(BOOK_FILE, FilePart())
    for part in book.named(spec.name) if book and sheets else ():
        table, problems = sheets.table(spec, part) if sheets else (None, [])
        if table and spec.name in APART:
            yield _Source(BOOK_FILE, None, [*problems, _apart(spec, part.name)])
        else:
            yield _source(spec, BOOK_FILE, table, how, problems)


def _source(spec: TableSpec, file: str, table: SheetTable | None, how: FilePart, findings: list[Finding]) -> _Source:
    """Return a source with its table as it is to be read, where there is one."""
    if table is None:
        return _Source(file, None, findings)
    raw, left = without_examples(spec, table.raw, file, table.sheet)
    read = in_our_forms(spec, raw, how, table.typed)
    text = TableText(spec, file, raw, read, table.sheet, how=how, typed=table.typed)
    return _Source(file, text, findings + left, table.sheet)


def _twice(spec: TableSpec, texts: Sequence[TableText]) -> Finding:
    """Tell that a table has more than one source; none of them is read."""
    names = [called(text.file, text.sheet) for text in texts]
    empty = [name for name, text in zip(names, texts, strict=True) if not text.received.rows]
    where = Where(names[0].partition(" (")[0])
    found = f"the table {spec.name} in {' and in '.join(names)}"
    do = "keep the correct one, and move the other to records/ or remove its sheet"
    if len(texts) - len(empty) == 1:
        do = f"remove {' and '.join(empty)}, which has only a header"
    return Finding("table-twice", Severity.STOP, spec.path, where, found, "one source for each table", do, "file")


def _apart(spec: TableSpec, sheet: str) -> Finding:
    where = Where(BOOK_FILE, None, f"{sheet}!")
    found = "a sign-off in the workbook that it would sign"
    do = f"move it to {spec.path} or {spec.book_path}: a sign-off changes the file it is in"
    return Finding("signoff-in-workbook", Severity.STOP, spec.path, where, found, "a separate file", do, "file")
