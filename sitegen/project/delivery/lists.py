"""Lists of laboratory samples and of compounds, from our own tables and from the laboratory's files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby, repeat
from typing import NamedTuple

import pandas as pd

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.mapped import MappedRows
from sitegen.project.delivery.supplied import Given, Supply
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.ranges import within_ranges
from sitegen.project.read.typed import type_table
from sitegen.project.schema import Origin, TableSpec
from sitegen.project.survey import SurveyTable
from sitegen.project.tables import TABLE
from sitegen.voice import worded

_TOLD = 5
_BLANK = Given("", "", Origin("", 0))


def with_supplied(own: SurveyTable, supply: Supply, place: str) -> tuple[SurveyTable | None, list[Finding]]:
    """Return a table with the rows that laboratory files supply, None where none is to supply any, and findings.

    A row of our own with the same key stands; where it differs, both values are told.
    """
    if not supply.rows:
        return (own if supply.promised else None), []
    pieces, findings = [], []
    for _, group in groupby(
        supply.rows.values(), key=lambda row: (_origin(own.spec, row).file, _origin(own.spec, row).sheet)
    ):
        piece, problems = _typed(own.spec, list(group), place)
        pieces.append(piece)
        findings += [problem for problem in problems if (problem.code, problem.where.column) != ("cell-blank", "type")]
    key = own.spec.key[0]
    there = set(own.frame[key])
    findings += list(_differences(own, pieces, supply))
    kept = [_without(piece, there) for piece in pieces]
    return _stacked([own, *(piece for piece in kept if len(piece.frame))]), findings


def rows_of(supply: Supply) -> MappedRows:
    """Return the rows of one file's supply, where their keys stand."""
    spec = TABLE[supply.table]
    mapped = MappedRows(spec.column_names)
    for row in supply.rows.values():
        place = _origin(spec, row)
        ours = {name: given.ours for name, given in row.items()}
        mapped.add(ours, {name: given.theirs for name, given in row.items()}, place.row, place.column)
    return mapped


def _origin(spec: TableSpec, row: dict[str, Given]) -> Origin:
    return row[spec.key[0]].place


def _typed(spec: TableSpec, group: Sequence[dict[str, Given]], place: str) -> tuple[SurveyTable, list[Finding]]:
    """Type rows of one sheet."""
    origins = [_origin(spec, row) for row in group]
    texts = [[row.get(name, _BLANK).ours for name in spec.column_names] for row in group]
    raw = RawTable(spec.column_names, tuple(texts), tuple(origin.row for origin in origins))
    table, problems = type_table(spec, raw, place, origins[0].file)
    frame = table.frame.assign(
        _sheet=pd.Series([origin.sheet for origin in origins], dtype=object),
        _column=pd.Series([origin.column for origin in origins], dtype=object),
        _cells=pd.Series([_cells(spec, row) for row in group], dtype=object),
    )
    received = [[row.get(name, _BLANK).theirs for name in spec.column_names] for row in group]
    turned = zip(*received, strict=True) if received else repeat(())
    whole = SurveyTable(spec, frame, dict(zip(spec.column_names, turned, strict=False)), present=True)
    whole, outside = within_ranges(whole)
    return whole, problems + outside


def _cells(spec: TableSpec, row: dict[str, Given]) -> tuple[tuple[str, str, int, str, str], ...]:
    """Return where each value of a row stands, beside the key's own place."""
    places = {name: given.place for name, given in row.items() if name != spec.key[0] and given.ours}
    return tuple((name, place.file, place.row, place.sheet, place.column) for name, place in places.items())


def _without(table: SurveyTable, keys: set[str]) -> SurveyTable:
    """Return a table without the rows of some keys."""
    stays = ~table.frame[table.spec.key[0]].isin(keys)
    received = {
        name: [text for text, stay in zip(texts, stays, strict=True) if stay] for name, texts in table.received.items()
    }
    return SurveyTable(table.spec, table.frame[stays].reset_index(drop=True), received, present=table.present)


def _stacked(parts: Sequence[SurveyTable]) -> SurveyTable:
    """Return the rows of tables one after another."""
    filled = [part for part in parts if len(part.frame)] or parts[:1]
    frame = pd.concat([part.frame for part in filled], ignore_index=True)
    for name, blank in (("_sheet", ""), ("_column", ""), ("_cells", ())):
        values = frame[name].tolist() if name in frame else repeat(blank, len(frame))
        frame[name] = pd.Series([value if isinstance(value, str | tuple) else blank for value in values], dtype=object)
    raw = pd.concat([part.raw for part in filled], ignore_index=True).fillna("")
    return SurveyTable(parts[0].spec, frame, {str(name): raw[name].tolist() for name in raw}, present=True)


class _Differing(NamedTuple):
    """A row of our own, its key and its text, beside what a file gives."""

    number: int
    key: str
    text: str
    given: Given


def _differences(own: SurveyTable, pieces: Sequence[SurveyTable], supply: Supply) -> Iterator[Finding]:
    """Yield one finding for each column in which rows of our own differ from those supplied; names may."""
    for column in own.spec.column_names:
        if column not in (own.spec.key[0], "name"):
            found = [one for piece in pieces for one in _differing(own, piece, supply, column)]
            if found:
                yield _differs(own, column, sorted(found, key=lambda one: one.number))


def _differing(own: SurveyTable, piece: SurveyTable, supply: Supply, column: str) -> Iterator[_Differing]:
    """Yield the rows of our own in which a column differs from a filled cell of a file."""
    key = own.spec.key[0]
    at = {name: index for index, name in enumerate(own.frame[key])}
    typed = f"{column}_utc" if f"{column}_utc" in own.frame else column
    ours, texts = own.frame[typed].tolist(), own.raw[column].tolist() if column in own.raw else []
    for name, theirs in zip(piece.frame[key], piece.frame[typed].tolist(), strict=True):
        given = supply.rows[name].get(column, _BLANK)
        if name in at and given.ours and ours[at[name]] != theirs:
            yield _Differing(at[name], name, texts[at[name]] if texts else "", given)


def _differs(own: SurveyTable, column: str, found: Sequence[_Differing]) -> Finding:
    listed = "; ".join(
        worded(
            "{key}: {ours!r} here, {theirs!r} in {place}",
            key=one.key,
            ours=one.text,
            theirs=one.given.theirs,
            place=one.given.place.where(one.given.place.column),
        )
        for one in found[:_TOLD]
    )
    more = worded("; and {count} more", count=len(found) - _TOLD) if len(found) > _TOLD else ""
    return Finding(
        "supplied-differs",
        Severity.FLAG,
        f"{own.spec.name}+{column}",
        own.where(found[0].number, column),
        f"{listed}{more}",
        worded("{column} as in the laboratory's file, or no entered row", column=column),
        worded(
            "find out which is correct: the row of {path} is used. Remove it if the file is correct", path=own.spec.path
        ),
        own.spec.name,
    )
