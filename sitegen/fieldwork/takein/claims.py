"""What each device says of each cell, all of its exports taken together."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby, pairwise
from typing import NamedTuple, TypeAlias

from sitegen.fieldwork.takein.exports import Change, Export
from sitegen.fieldwork.takein.held import Key, key_of
from sitegen.project.tables import TABLE

Meaning: TypeAlias = Callable[[str, str, str], Hashable]
"""Returns what a text of a table's column says, the same for two ways to write it: table, column, text."""


class Cell(NamedTuple):
    """A cell of the folder's tables: table, key of the row, column."""

    table: str
    key: Key
    column: str


@dataclass(frozen=True, slots=True)
class Claim:
    """What a device says last of a cell: a text, "" where it took back what it had said.

    ``before`` are the texts that the device itself replaced by it, each with the reasons it gave; ``kept``
    those of its texts that stand in exports that were taken in earlier. ``new`` says that the text
    stands in an export that was not. ``own`` says that the device may have written it: else it is the
    folder's own text, as the kit had it, in a row of which the device wrote other cells.
    """

    device: str
    text: str
    before: tuple[tuple[str, tuple[str, ...]], ...] = ()
    kept: frozenset[str] = frozenset()
    new: bool = True
    own: bool = True


class _Said(NamedTuple):
    """A text of one export, and whether the export was taken in earlier."""

    text: str
    kept: bool


def claims(exports: Iterable[Export], kept: frozenset[bytes], meaning: Meaning) -> Mapping[Cell, tuple[Claim, ...]]:
    """Return, by cell, what the devices say of it; a device that contradicts itself has a claim for each text.

    A later export replaces what an earlier one of its device said where the device's changes lead from the one
    text to the other. ``kept`` are the contents of the exports that were taken in earlier.
    """
    found: dict[Cell, list[Claim]] = {}
    for device, own in groupby(sorted(exports, key=lambda export: export.sort_key), lambda export: export.device):
        mine = list(own)
        steps, carried = _steps(mine), _carried(mine)
        for cell, said in _said(mine, kept).items():
            mean = partial(meaning, cell.table, cell.column)
            settled = _settle(device, said, steps.get(cell, []), mean)
            found.setdefault(cell, []).extend(replace(claim, own=cell not in carried) for claim in settled)
    return {cell: tuple(every) for cell, every in found.items()}


def _said(exports: Iterable[Export], kept: frozenset[bytes]) -> Mapping[Cell, list[_Said]]:
    """Return the texts that one device's exports have for each cell, oldest first.

    A cell that a later export lacks is no text, unless its row is there and a change says that it was cleared.
    """
    found: dict[Cell, list[_Said]] = {}
    for export in exports:
        was_kept = export.content in kept
        rows = {(table, key_of(key)): cells for table, own in export.tables.items() for key, cells in own.items()}
        for (table, key), cells in rows.items():
            for column, text in cells.items():
                found.setdefault(Cell(table, key, column), []).append(_Said(text, was_kept))
        for change in export.changes:
            cell = Cell(change.table, key_of(change.key), change.column)
            cells = rows.get(cell[:2], {})
            if not change.new and cell.column not in cells and cell in found:
                found[cell].append(_Said("", was_kept))
    return found


def _carried(exports: Iterable[Export]) -> frozenset[Cell]:
    """Return the cells that one device has from its kit alone: it changed others of their row, and did not begin it."""
    carried: set[Cell] = set()
    own: set[Cell] = set()
    for export in exports:
        changed: dict[tuple[str, Key], set[str]] = {}
        for one in export.changes:
            changed.setdefault((one.table, key_of(one.key)), set()).add(one.column)
        for table, rows in export.tables.items():
            keys = TABLE[table].key
            for key, cells in rows.items():
                touched = changed.get((table, key_of(key)), set())
                begun = not touched or not touched.isdisjoint(keys)
                for column in cells:
                    kind = own if begun or column in (*touched, *keys) else carried
                    kind.add(Cell(table, key_of(key), column))
    return frozenset(carried - own)


def _steps(exports: Iterable[Export]) -> Mapping[Cell, list[Change]]:
    """Return what one device changed in each cell, each entry once."""
    found: dict[Cell, dict[Change, None]] = {}
    for export in exports:
        for change in export.changes:
            cell = Cell(change.table, key_of(change.key), change.column)
            found.setdefault(cell, {})[change] = None
    return {cell: list(changes) for cell, changes in found.items()}


def _settle(device: str, said: list[_Said], steps: list[Change], mean: Callable[[str], Hashable]) -> Iterator[Claim]:
    """Yield the claim of one device on a cell, or one for each text that its changes do not explain."""
    texts = [next(own).text for _, own in groupby(said, lambda one: mean(one.text))]
    kept = frozenset(one.text for one in said if one.kept)
    known = {mean(text) for text in kept}
    before: list[tuple[str, tuple[str, ...]]] = []
    for old, new in pairwise(texts):
        reasons = _way(mean(old), mean(new), steps, mean)
        if reasons is None:
            for text in dict.fromkeys(texts):
                yield Claim(device, text, kept=kept, new=mean(text) not in known)
            return
        before = [(text, (*given, *reasons)) for text, given in before]
        before.append((old, reasons))
    yield Claim(device, texts[-1], tuple(before), kept, mean(texts[-1]) not in known)


def _way(old: Hashable, new: Hashable, steps: list[Change], mean: Callable[[str], Hashable]) -> tuple[str, ...] | None:
    """Return the reasons of the fewest changes that lead from one text to another; None where none do."""
    ahead: dict[Hashable, list[Change]] = {}
    for step in steps:
        ahead.setdefault(mean(step.old), []).append(step)
    came: dict[Hashable, tuple[Hashable, str]] = {}
    reached = [old]
    for text in reached:
        for step in ahead.get(text, ()):
            after = mean(step.new)
            if after != old and after not in came:
                came[after] = (text, step.reason)
                reached.append(after)
    if new not in came:
        return None
    reasons = []
    while new != old:
        new, reason = came[new]
        reasons.append(reason)
    return tuple(reason for reason in reversed(reasons) if reason)
