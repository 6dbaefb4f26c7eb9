"""Draft the mapping of a file on disk, write it beside the file, and say in a few lines what was found."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from sitegen.findings.problems import WrongUse
from sitegen.project.delivery.files import OTHER_WORKBOOKS, TEXT_TABLES, WORKBOOKS
from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.mapping import mapping_files
from sitegen.project.folder import Folder, read_folder
from sitegen.project.proposal.draft import Draft, Drafts, Refusal, declaration, draft_mappings
from sitegen.project.proposal.known import known_of
from sitegen.project.proposal.sure import ASK, CERTAIN, GUESS, LIKELY, Entry
from sitegen.project.proposal.write import key_text, value_text
from sitegen.project.reading import read_reading
from sitegen.project.schema import SETTINGS_FILE

TOLD = 12
"""So many lines of one kind are told on the screen; all of them stand in the mapping file."""


_BY_HAND = (
    "nothing was written. Correct the cells given in a copy of the file, or write the mapping by hand, as README.md of "
    'a new project folder shows under "The laboratory\'s own file"'
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """The mapping files written, none where no table could be read, and what is to be said."""

    written: tuple[Path, ...]
    lines: tuple[str, ...]


def draft_for(root: Path, file: Path, *, sheet: str = "", out: Path | None = None) -> Outcome:
    """Draft mappings for a laboratory's file in the folder's ``lab/``; nothing is ever written over.

    Raises WrongUse where the file is elsewhere, of no kind that can be read, or its mapping is there already.
    """
    folder = read_folder(root)
    path = place_of(root, file, folder)
    if sheet and not path.lower().endswith(WORKBOOKS):
        raise WrongUse(f"{path} has no sheets: leave --sheet out")
    declared = read_reading(folder.content(SETTINGS_FILE) or b"").files.get(path)
    drafts = draft_mappings(folder, path, known_of(folder), declared, sheet)
    if not drafts.drafts:
        said = tuple(_refusals(path, drafts.refused))
        return Outcome((), (*said, _BY_HAND))
    targets = _targets(root, drafts.drafts, out)
    _write(drafts.drafts, targets)
    return Outcome(tuple(targets), (*_told(path, drafts, targets), *_mapped_before(folder, path)))


def place_of(root: Path, file: Path, folder: Folder) -> str:
    """Return the path of a file below the folder; it may be given from the folder or from where one stands."""
    whole = Path(os.path.realpath(root))
    for one in (file, root / file):
        real = Path(os.path.realpath(one))
        if real.is_relative_to(whole) and (path := real.relative_to(whole).as_posix()) in folder.files:
            return _checked(path)
    if any(one.is_file() for one in (file, root / file)):
        raise WrongUse(f"{file} is not in {root / 'lab'}: copy it there, and give the copy")
    raise WrongUse(f"no file {file}; put the laboratory's file into {root / 'lab'} and give its name")


def _checked(path: str) -> str:
    kinds = (*WORKBOOKS, *TEXT_TABLES)
    if PurePosixPath(path).parts[0] != "lab":
        raise WrongUse(f"{path} is not in lab/: copy it there, and give the copy")
    if path.lower().endswith(OTHER_WORKBOOKS):
        raise WrongUse(f"{path} cannot be read: save its sheet as XLSX or CSV next to it, and give that file")
    if not path.lower().endswith(kinds):
        raise WrongUse(f"{path} is not a table: expected one of {', '.join(kinds)}")
    return path


def _mapped_before(folder: Folder, path: str) -> Iterator[str]:
    """Say which mapping files name the file already: two of them would give each result twice."""
    for other in mapping_files(folder):
        form, _ = read_form(other, folder.content(other) or b"")
        if form is not None and form.source.file == path:
            yield f"{other} already maps {path}: keep one mapping for each sheet"


def _targets(root: Path, drafts: Sequence[Draft], out: Path | None) -> list[Path]:
    if out is not None and len(drafts) > 1:
        names = ", ".join(repr(draft.sheet) for draft in drafts)
        raise WrongUse(f"--out gives one file, but {len(drafts)} sheets give a mapping ({names}): add --sheet")
    targets = [out] if out else [root / draft.path for draft in drafts]
    for target in targets:
        if target.exists() or target.is_symlink():
            raise WrongUse(f"{target} already exists and is not overwritten: move it, or give another path with --out")
    return targets


def _write(drafts: Sequence[Draft], targets: Sequence[Path]) -> None:
    """Write every mapping or none."""
    made: list[Path] = []
    try:
        for draft, target in zip(drafts, targets, strict=True):
            with target.open("x", encoding="utf-8", newline="\n") as handle:
                made.append(target)
                handle.write(draft.text)
    except OSError:
        for target in made:
            target.unlink(missing_ok=True)
        raise


def _told(path: str, drafts: Drafts, targets: Sequence[Path]) -> Iterator[str]:
    for draft, target in zip(drafts.drafts, targets, strict=True):
        yield from _summary(draft, target)
    yield from _refusals(path, drafts.refused)
    if drafts.saved and not drafts.saved.usual:
        yield f"add to project.toml ({drafts.saved.seen}):"
        yield from (f"    {line}" for line in declaration(path, drafts.saved).splitlines())
    yield "nothing is used as a result until your role code is entered under [confirmed] (mapping; control for totals)"


def _refusals(path: str, refused: Sequence[Refusal]) -> Iterator[str]:
    for one in refused:
        sheet = f", sheet {one.sheet!r}" if one.sheet else ""
        cell = f", cell {one.cell}" if one.cell else ""
        yield f"not read: {path}{sheet}{cell}: {one.why}"


def _summary(draft: Draft, target: Path) -> Iterator[str]:
    counts = {sure: [e for e in draft.entries if e.sure == sure] for sure in (CERTAIN, LIKELY, GUESS, ASK)}
    yield f"drafted  {target}" + (f"  (sheet {draft.sheet!r})" if draft.sheet else "")
    yield f"    {', '.join(f'{len(entries)} {sure}' for sure, entries in counts.items())}"
    for sure, word in ((ASK, "say"), (GUESS, "a guess"), (LIKELY, "likely")):
        yield from _entries(counts[sure], word)
    if draft.totals is None:
        yield "    no totals were counted: no row is a result, or a line must be completed first"
    else:
        total = draft.totals
        counted = f"{total.rows} rows, {total.detected_rows} detected, sum {total.sum_detected:f}"
        yield f"    counted from the file, to compare with the signed report: {counted}"


def _entries(entries: Sequence[Entry], word: str) -> Iterator[str]:
    """Yield a line for each entry; words of one table that say nothing of their own are counted."""
    told = [entry for entry in entries if entry.table not in ("lab_samples.words", "qc")]
    for entry in told[:TOLD]:
        line = f"{entry.table}: {key_text(entry.key)} = {value_text(entry.value)}"
        yield f"    {word:8} {line if len(line) < 90 else line[:89] + '…'}  [{entry.seen}]"
    for table in ("qc", "lab_samples.words"):
        if count := sum(entry.table == table for entry in entries):
            yield f"    {word:8} {table}: {count} words, listed in the file"
    if len(told) > TOLD:
        yield f"    {word:8} and {len(told) - TOLD} more, labelled in the file"
