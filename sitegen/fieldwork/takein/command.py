"""The command: read exports, merge them, write all of it or nothing, say what was done."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping, Sequence
from itertools import chain
from pathlib import Path

from sitegen.checking import Progress, check, silent
from sitegen.fieldwork.takein.claims import Cell, claims
from sitegen.fieldwork.takein.decisions import FILE, entries_of, read_entries, with_entries
from sitegen.fieldwork.takein.edits import table_files, typed_files
from sitegen.fieldwork.takein.exports import Export
from sitegen.fieldwork.takein.held import Held, UnreadError, held_tables, key_of, settled
from sitegen.fieldwork.takein.lines import check_line, kit_lines, merge_lines
from sitegen.fieldwork.takein.merge import Merged, merge
from sitegen.fieldwork.takein.originals import Given, copies, given_exports, kept_exports
from sitegen.fieldwork.takein.writing import write_all
from sitegen.findings.outcomes import Outcome
from sitegen.project.folder import Folder, read_folder
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.settings import Settings, read_settings
from sitegen.project.tables import TABLE


def take_in(folder: Path, exports: Sequence[Path], *, progress: Progress | None = None) -> Outcome:
    """Merge exports of the field form into the tables of a folder, and keep the originals in ``records/field/``.

    Not all is done where an export is refused, a conflict is open or a workbook is to be typed into; what
    agrees is merged all the same. Where a table of the folder can't be read or edited, nothing is written.
    Raises WrongUse where a file can't be used, OutputFault where the system refuses to write.
    """
    say = progress or silent
    say("read", 0, 1)
    snapshot = read_folder(folder)
    settings, _ = read_settings(snapshot.content(SETTINGS_FILE) or b"")
    if settings is None:
        return Outcome((f"{SETTINGS_FILE} can't be read; sitegen check states why. Nothing was written.",), done=False)
    given = given_exports(exports, settings)
    if not given.exports:
        return Outcome((*given.refused, "Nothing was written."), done=False)
    kept = kept_exports(snapshot, settings, given.exports)
    try:
        tables = held_tables(snapshot, {name for export in given.exports for name in export.tables})
        merged = _merged(tables, given.exports, kept.exports, settings, snapshot)
        files = _files(snapshot, tables, merged, given.exports)
    except (UnreadError, ValueError) as error:
        return Outcome((*given.refused, f"{error}. Correct it first; nothing was written."), done=False)
    write_all(folder, snapshot, files)
    return _outcome(given, kept, tables, merged, files, check_line(check(folder, progress)))


def _merged(
    tables: Mapping[str, Held],
    given: Sequence[Export],
    kept: Sequence[Export],
    settings: Settings,
    snapshot: Folder,
) -> Merged:
    """Merge the exports that are given; those that were taken in earlier say what devices said before."""
    zone = settings.project.time_zone

    def meaning(table: str, column: str, text: str) -> Hashable:
        return settled(TABLE[table].column(column), text, zone)

    known = frozenset(export.content for export in kept)
    every = {export.content: export for export in (*kept, *given)}
    said = claims(every.values(), known, meaning)
    return merge(tables, said, _asked(given) & said.keys(), read_entries(snapshot.content(FILE)))


def _asked(given: Sequence[Export]) -> Collection[Cell]:
    """Return the cells that exports have or changed."""
    cells = (
        Cell(table, key_of(key), column)
        for export in given
        for table, rows in export.tables.items()
        for key, row in rows.items()
        for column in row
    )
    changes = (change for export in given for change in export.changes)
    return {*cells, *(Cell(one.table, key_of(one.key), one.column) for one in changes)}


def _files(
    snapshot: Folder, tables: Mapping[str, Held], merged: Merged, given: Sequence[Export]
) -> dict[str, bytes | None]:
    """Return what is to be written, the originals first: a table never has what no kept export shows."""
    entries = chain.from_iterable(entries_of(told.cell, told.folder, told.against) for told in merged.conflicts)
    conflicts = with_entries(snapshot.content(FILE), list(entries))
    return {
        **copies(snapshot, given),
        **({FILE: conflicts} if conflicts is not None else {}),
        **typed_files(tables, merged, snapshot),
        **table_files(tables, merged),
    }


def _outcome(
    given: Given,
    kept: Given,
    tables: Mapping[str, Held],
    merged: Merged,
    files: Mapping[str, bytes | None],
    checked: str,
) -> Outcome:
    typed = any(held.is_book and (merged.fills.get(name) or merged.rows.get(name)) for name, held in tables.items())
    originals = sorted(path for path in files if path.endswith(".json"))
    lines = (
        *given.refused,
        *kept.refused,
        *kit_lines(given.exports),
        *merge_lines(tables, merged),
        *(f"kept: {path}" for path in originals),
        checked,
    )
    return Outcome(lines, done=not (given.refused or merged.conflicts or typed))
