"""Draft the mapping of a laboratory's own file: one for each sheet that holds results or quality control."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from sitegen.project.delivery.mapping import SUFFIX
from sitegen.project.delivery.rows import Miss
from sitegen.project.delivery.tell import Totals
from sitegen.project.folder import Folder
from sitegen.project.proposal.controls import control_entries
from sitegen.project.proposal.kinds import kind_entries
from sitegen.project.proposal.layouts import LONG, Stopped, layout_of
from sitegen.project.proposal.lists import analyte_entries, sample_entries
from sitegen.project.proposal.mapped import (
    column_entries,
    crosstab_entries,
    name_entries,
    recovery_entries,
    unit_and_factor,
)
from sitegen.project.proposal.results import nondetect_entries, qualifier_entries, unreadable
from sitegen.project.proposal.seen import Seen, look
from sitegen.project.proposal.source import reading_entries, source_entries
from sitegen.project.proposal.stops import mark_columns, stop_of
from sitegen.project.proposal.sure import ASK, LIKELY, Entry
from sitegen.project.proposal.table import NAMED, Saved, Table, open_tables
from sitegen.project.proposal.totals import totals_of
from sitegen.project.proposal.words import Known, kind_of
from sitegen.project.proposal.write import text_of, value_text
from sitegen.project.settings import FilePart

_SLUG = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class Draft:
    """A drafted mapping: where it belongs, its text, its entries, the rows that it reads, and remarks."""

    path: str
    sheet: str
    text: str
    entries: tuple[Entry, ...]
    totals: Totals | None
    remarks: tuple[str, ...]

    @property
    def asked(self) -> tuple[Entry, ...]:
        """The entries that a person must say."""
        return tuple(entry for entry in self.entries if entry.sure == ASK)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why no mapping can be drafted: the sheet, the cell that stopped it, and what is wrong there."""

    sheet: str
    cell: str
    why: str


@dataclass(frozen=True, slots=True)
class Drafts:
    """What a file gave: drafts, sheets that could not be read, and how a CSV was saved."""

    drafts: tuple[Draft, ...]
    refused: tuple[Refusal, ...]
    saved: Saved | None = None


def draft_mappings(
    folder: Folder, file: str, known: Known, declared: FilePart | None = None, sheet: str = ""
) -> Drafts:
    """Draft a mapping for each sheet of a file of the folder that holds results or quality control."""
    content = folder.content(file) or b""
    tables, saved, findings = open_tables(file, content, declared, sheet)
    refused = [Refusal("", "", f"found {finding.found}; {finding.do}") for finding in findings]
    made: list[tuple[Table, Callable[[str], Draft | Refusal]]] = []
    for table in tables:
        layout = layout_of(table, known)
        if isinstance(layout, Stopped):
            refused.append(Refusal(table.sheet.name, layout.cell, layout.why))
            continue
        seen = look(table, layout, known)
        made.append((table, _drafter(seen, file, folder.sha256(file), saved)))
    names = _names(file, [table.sheet.name for table, _ in made])
    results = [draft(name) for (_, draft), name in zip(made, names, strict=True)]
    drafts = tuple(one for one in results if isinstance(one, Draft))
    return Drafts(drafts, (*refused, *(one for one in results if isinstance(one, Refusal))), saved)


def _drafter(seen: Seen, file: str, sha256: str, saved: Saved | None) -> Callable[[str], Draft | Refusal]:
    return lambda path: _draft(seen, path, file, sha256, saved)


def _draft(seen: Seen, path: str, file: str, sha256: str, saved: Saved | None) -> Draft | Refusal:
    name = seen.table.sheet.name
    if stop := stop_of(seen):
        return Refusal(name, *stop)
    entries = tuple(entries_of(seen, file, sha256))
    remarks = tuple(_remarks(seen, file, saved, entries))
    open_lines = [entry for entry in entries if entry.blocks]
    rest = [entry for entry in entries if not entry.blocks]
    totals, misses = totals_of(text_of(rest, None, ()), seen.table.sheet, path, file)
    totals = None if open_lines or seen.holds_qc else totals
    if misses:
        return Refusal(
            name, _cell(seen, misses[0]), f"found {misses[0].found}; expected {misses[0].expected}; {misses[0].do}"
        )
    return Draft(path, name, text_of(entries, totals, remarks), entries, totals, remarks)


def _cell(seen: Seen, miss: Miss) -> str:
    """Return the cell that something misses: of a heading that stands twice the second."""
    names, head = seen.layout.head.names, seen.layout.head.last
    places = [at for at, name in enumerate(names) if name == miss.column]
    return seen.table.ref(head, places[-1]) if places else f"{miss.column or ''}{miss.row or ''}"


def entries_of(seen: Seen, file: str, sha256: str) -> Iterator[Entry]:
    """Yield every entry of a table's mapping."""
    yield from source_entries(seen, file, sha256)
    yield from reading_entries(seen)
    if seen.holds_qc and len(set(seen.kinds.words.values())) < 2 and not seen.kinds.unknown:
        yield _qc_type(seen)
    else:
        yield from kind_entries(seen.kinds)
    yield from column_entries(seen)
    yield from recovery_entries(seen)
    yield from _marks(seen)
    yield from crosstab_entries(seen)
    yield from control_entries(seen)
    yield from unit_and_factor(seen)
    if not seen.holds_qc:
        yield from nondetect_entries(seen.results)
        yield from qualifier_entries(seen.results, seen.qualifiers)
        yield from name_entries(seen)
    yield from sample_entries(seen)
    yield from analyte_entries(seen)


def _marks(seen: Seen) -> Iterator[Entry]:
    """Yield a line that nothing is read with for the first column that may tell non-detects under an unknown name."""
    for column, mark in mark_columns(seen)[:1]:
        place = seen.table.ref(seen.layout.head.last, column.at)
        do = f"{place}: the column {column.name!r} contains {mark!r}: if it indicates non-detects, write its name"
        do += " here, or as lab_qualifier; otherwise remove this line"
        yield Entry("columns", "detected", "", ASK, do, blocks=True)


def _qc_type(seen: Seen) -> Entry:
    """Return the one kind of all QC rows: of their names or words, else of the sheet's."""
    told = seen.kinds.seen or f"the sheet is called {seen.table.sheet.name!r}"
    kind = next(iter(seen.kinds.words.values()), "") or kind_of("qc", seen.table.sheet.name)
    if not kind or kind == "result":
        return Entry("constants", "qc_type", "surrogate", ASK, "no cell gives the kind of these QC rows: state which")
    return Entry("constants", "qc_type", kind, LIKELY, told)


def _remarks(seen: Seen, file: str, saved: Saved | None, entries: Sequence[Entry]) -> Iterator[str]:
    """Yield what is said once above the mapping."""
    if saved and not saved.usual:
        sure = "certain" if saved.certain else "likely, confirm it"
        yield f"{sure}: {saved.seen}.\nAdd to project.toml:\n  " + declaration(file, saved).replace("\n", "\n  ")
    if odd := unreadable(seen.results) if not seen.holds_qc else []:
        yield f"Reading will stop at cells that are not results: {'; '.join(odd)}."
    unread = _unread(seen, entries)
    if unread:
        yield f"Columns that are not read: {'; '.join(unread)}."


def declaration(file: str, saved: Saved) -> str:
    """Return the lines of project.toml that say how a CSV was saved."""
    said = f"delimiter = {value_text(saved.delimiter)}  # {NAMED[saved.delimiter]}"
    return f"[files.{value_text(file)}]\nencoding = {value_text(saved.encoding)}\n{said}"


def _unread(seen: Seen, entries: Sequence[Entry]) -> list[str]:
    """Name the columns of a long table that no line names, each with its first cell."""
    if seen.layout.kind != LONG:
        return []
    head = seen.layout.head.last
    named = {entry.value for entry in entries if isinstance(entry.value, str)}
    columns = sorted((*seen.layout.roles.values(), *seen.layout.left), key=lambda column: column.at)
    told = [(column, next(iter(column.cells), "")) for column in columns if column.name not in named]
    return [f"{seen.table.ref(head, column.at)} {column.name!r} ({first[:30]!r})" for column, first in told[:30]]


def _names(file: str, sheets: Sequence[str]) -> list[str]:
    """Return a path for each mapping: one alone has the file's name, several add that of their sheet."""
    stem = PurePosixPath(file).stem
    if len(sheets) < 2:
        return [f"lab/{stem}{SUFFIX}" for _ in sheets]
    names: list[str] = []
    for at, sheet in enumerate(sheets, start=1):
        slug = _SLUG.sub("-", sheet[:60].casefold()).strip("-") or str(at)
        name = f"lab/{stem}-{slug}{SUFFIX}"
        names.append(name if name not in names else f"lab/{stem}-{slug}-{at}{SUFFIX}")
    return names
