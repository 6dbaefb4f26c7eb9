"""Surveyed positions of points from a file of measured ones: converted, filled in where a row has none, and told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.folder import Folder
from sitegen.project.intake.text import TableText
from sitegen.project.limits import TOLD
from sitegen.project.place.coordinates import WGS84, crs, operation_words, transform
from sitegen.project.place.drawn import Unusable
from sitegen.project.place.measured import read_measured
from sitegen.project.positions import DEGREES, METRES, Measured, Supplied
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import RawTable
from sitegen.project.settings import FilePart, Settings
from sitegen.project.survey import Rule
from sitegen.voice import thousands, worded

_LOCATIONS = "locations"
_NOT_DONE = "not_done"
"""The status of a point that was planned and not done."""


def measured_positions(
    folder: Folder, settings: Settings | None, texts: Mapping[str, TableText]
) -> tuple[dict[str, TableText], dict[int, Supplied], list[Finding]]:
    """Return the tables with measured positions filled in, those positions by row of the points, and findings."""
    table = texts.get(_LOCATIONS)
    if settings is None or not settings.points.file or crs(settings.space.crs) is None:
        return dict(texts), {}, []
    file, target = settings.points.file, settings.space.crs
    try:
        found = _read(folder, settings)
        made, how = _in_system(found, target)
    except Unusable as fault:
        where = Where(file)
        told = Finding("points-unusable", Severity.STOP, file, where, fault.found, fault.expected, fault.do, "file")
        return dict(texts), {}, [told]
    if table is None or "location_id" not in table.read.header:
        return dict(texts), {}, []
    supplied = _matched(table.read, dict(zip(found, made, strict=True)), how, target)
    findings = [*_told(file, how, supplied, target), *_left_over(table, found, supplied, file)]
    return {**texts, _LOCATIONS: _filled(table, supplied)}, supplied, findings


def _read(folder: Folder, settings: Settings) -> tuple[Measured, ...]:
    file = settings.points.file
    content = folder.content(file)
    if content is None or file.startswith("private/"):
        found = "no such file" if content is None else "a file of private/"
        raise Unusable(found, "a GPX file or a table in the folder", "put it there, or correct file under [points]")
    return read_measured(content, settings.points, settings.files.get(file, FilePart()))


def _in_system(found: Sequence[Measured], target: str) -> tuple[list[tuple[str, str]], str]:
    """Return positions as text in the project's system, and by which operation they came there ("" for none).

    Computed metres and feet have three decimals. What needs no operation stays as the file writes it.
    """
    source = WGS84 if found and found[0].columns == DEGREES else target
    if source == target:
        return [one.texts for one in found], ""
    x, y = transform(source, target, np.array([one.x for one in found]), np.array([one.y for one in found]))
    if not (np.isfinite(x) & np.isfinite(y)).all():
        at = int(np.flatnonzero(~(np.isfinite(x) & np.isfinite(y)))[0])
        lost = f"the position of {found[at].location_id[:60]!r} ({found[at].number}), not valid in {target}"
        raise Unusable(lost, "a position at the site", "correct it")
    how = operation_words(source, target, [(one.x, one.y) for one in found])
    return [(f"{a:.3f}", f"{b:.3f}") for a, b in zip(x.tolist(), y.tolist(), strict=True)], how


def _matched(table: RawTable, made: Mapping[Measured, tuple[str, str]], how: str, target: str) -> dict[int, Supplied]:
    """Return the measured position of each row that has one, by the row's number; ids are taken as written."""
    columns = DEGREES if target == WGS84 else METRES
    own = (METRES, DEGREES) if target == WGS84 else (METRES,)
    by_id = {one.location_id: one for one in reversed(list(made)) if one.location_id}
    at = {name: place for place, name in enumerate(table.header)}
    supplied: dict[int, Supplied] = {}
    for row, place in zip(table.rows, table.numbers, strict=True):
        one = by_id.get(tidy(row[at["location_id"]]))
        if one is not None:
            filled = any(tidy(row[at[name]]) for pair in own for name in pair if name in at)
            given = METRES if one.columns == METRES else columns
            supplied[place] = Supplied(one, given, made[one], how, not filled)
    return supplied


def _filled(table: TableText, supplied: Mapping[int, Supplied]) -> TableText:
    """Return the table with positions in the rows that have none; what it has received stays as it is."""
    fills = {place: one for place, one in supplied.items() if one.fills}
    if not fills:
        return table
    names = dict.fromkeys(name for one in fills.values() for name in one.columns)
    header = (*table.read.header, *(name for name in names if name not in table.read.header))
    at = {name: place for place, name in enumerate(header)}
    rows, derived = [], dict(table.derived)
    for index, (row, place) in enumerate(zip(table.read.rows, table.read.numbers, strict=True)):
        new = [*row, *[""] * (len(header) - len(row))]
        if place in fills:
            for name, text in zip(fills[place].columns, fills[place].texts, strict=True):
                new[at[name]] = text
                derived[index, name] = Rule(fills[place].rule, fills[place].general_rule)
        rows.append(new)
    return replace(table, read=RawTable(header, tuple(rows), table.read.numbers), derived=derived)


def _told(file: str, how: str, supplied: Mapping[int, Supplied], target: str) -> list[Finding]:
    """Note how many positions came from the file, and what was computed on the way."""
    count = sum(one.fills for one in supplied.values())
    if not count:
        return []
    given = worded("{count} positions of points", count=count) if count > 1 else worded("1 position of a point")
    said = (
        worded("{given}, converted from WGS 84 to {system} by: {how}", given=given, system=target, how=how)
        if how
        else worded("{given}, as in the file", given=given)
    )
    do, wanted = worded("compare the map with the field notes"), worded("a look at the map")
    return [Finding("points-supplied", Severity.NOTE, file, Where(file), said, wanted, do, "file")]


def _left_over(
    table: TableText, found: Sequence[Measured], supplied: Mapping[int, Supplied], file: str
) -> list[Finding]:
    """Tell positions of no point, and points that the file has no position of; each kind once.

    A point that was planned and not done has no position to be measured.
    """
    header = table.read.header
    at, status = header.index("location_id"), header.index("status") if "status" in header else len(header)
    ids = {tidy(row[at]) for row in table.read.rows}
    strangers = [
        one.location_id or worded("without a name ({number})", number=one.number)
        for one in found
        if one.location_id not in ids
    ]
    numbered = zip(table.read.rows, table.read.numbers, strict=True)
    done = ((row, place) for row, place in numbered if [tidy(text) for text in row[status : status + 1]] != [_NOT_DONE])
    lacking = [tidy(row[at]) for row, place in done if place not in supplied]
    findings = []
    if strangers:
        do = worded("name the point as in its row, add its row, or remove it from the file if it is not a point")
        said = worded(
            "{positions} without a point: {names}", positions=_count(strangers, "position"), names=_few(strangers)
        )
        expected = worded("a row in {table}", table=table.called)
        findings.append(Finding("points-without-row", Severity.FLAG, file, Where(file), said, expected, do, "file"))
    if lacking:
        subject, where = f"{table.file}+{file}", table.where(None, "location_id")
        said = worded(
            "{points} without a position in {file}: {names}",
            points=_count(lacking, "point"),
            file=file,
            names=_few(lacking),
        )
        do = worded("add the measured points to {file}, each named as in its row", file=file)
        wanted = worded("one of each")
        findings.append(Finding("rows-without-point", Severity.NOTE, subject, where, said, wanted, do, "file"))
    return findings


def _count(names: Sequence[str], what: str) -> str:
    return f"{thousands(f'{len(names):,}')} {worded(f'{what}s' if len(names) > 1 else what)}"


def _few(names: Sequence[str]) -> str:
    more = worded(" and {count:,} more", count=len(names) - TOLD.value) if len(names) > TOLD.value else ""
    return ", ".join(name[:40] for name in names[: TOLD.value]) + more
