"""Tables that come from a laboratory's own files, and a look at how they were mapped."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import repeat

import pandas as pd

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.header import shown_header
from sitegen.project.delivery.lists import rows_of, with_supplied
from sitegen.project.delivery.mapped import MappedRows
from sitegen.project.delivery.mapping import Delivery, mapping_files, read_deliveries
from sitegen.project.delivery.parts import MappingForm
from sitegen.project.delivery.reissue import Former, first_given, reissued
from sitegen.project.folder import Folder
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.ranges import within_ranges
from sitegen.project.read.typed import type_table
from sitegen.project.schema import TableSpec
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey, SurveyTable, rows
from sitegen.project.tables import Analyte, LabSample

PREVIEW_ROWS = 10
MAX_TOLD = 20


def delivered_tables(
    folder: Folder, declared: Mapping[str, FilePart], tables: Mapping[str, SurveyTable], place: str
) -> tuple[dict[str, SurveyTable], frozenset[str], list[Finding]]:
    """Read the laboratory files that mapping files speak of, and join them to our own tables.

    ``declared`` gives encodings and delimiters by path, ``place`` is the project's zone. Returns
    ``results``, and the other tables that such files add to, the paths of the mapping files and of
    their sources, and findings. Joined tables have ``_sheet`` and ``_column`` beside ``_file`` and
    ``_row``: the place in the laboratory's file, both "" for rows of our own CSV.
    """
    mappings = mapping_files(folder)
    if not mappings:
        return {}, frozenset(), []
    analytes, samples = rows(tables["analytes"].frame, Analyte), rows(tables["lab_samples"].frame, LabSample)
    read, sources, findings, lists = read_deliveries(folder, declared, analytes, samples)
    pieces = {"results": [tables["results"]], "lab_qc": [tables["lab_qc"]]}
    issues = [delivery.issue for delivery in read]
    for delivery, results in zip(read, first_given(issues), strict=True):
        for name, mapped in (("results", results), ("lab_qc", delivery.qc)):
            piece, problems = _typed(tables[name].spec, delivery, mapped)
            pieces[name] += [piece] if mapped.rows else []
            findings += problems
    joined = {name: _joined(parts) for name, parts in pieces.items() if name == "results" or len(parts) > 1}
    for supply in lists:
        table, problems = with_supplied(tables[supply.table], supply, place)
        joined |= {supply.table: table} if table else {}
        findings += problems
    findings += reissued(issues) + _twice(joined["results"])
    return joined, frozenset(mappings) | sources, findings


def _typed(spec: TableSpec, delivery: Delivery, mapped: MappedRows) -> tuple[SurveyTable, list[Finding]]:
    raw = RawTable(mapped.header, tuple(mapped.rows), tuple(mapped.numbers))
    table, problems = type_table(spec, raw, "UTC", delivery.file)
    frame = table.frame.assign(_sheet=delivery.sheet.name, _column=mapped.columns)
    frame = frame.astype({"_sheet": object, "_column": object})
    turned = zip(*mapped.received, strict=True) if mapped.received else repeat(())
    received = dict(zip(mapped.header, turned, strict=False))
    # A key that one file gives twice is told with those of different files.
    kept = [problem for problem in problems if problem.code != "duplicate-key"]
    whole, outside = within_ranges(SurveyTable(spec, frame, received, present=True))
    return whole, kept + outside


def _joined(parts: list[SurveyTable]) -> SurveyTable:
    filled = [part for part in parts if len(part.frame)] or parts[:1]
    frame = pd.concat([part.frame for part in filled], ignore_index=True)
    for name in ("_sheet", "_column"):
        frame[name] = frame[name].fillna("") if name in frame else ""
    raw = pd.concat([part.raw for part in filled], ignore_index=True).fillna("")
    received = {str(name): raw[name].tolist() for name in raw}
    return replace(parts[0], frame=frame, received=received, present=any(part.present for part in parts))


def _twice(table: SurveyTable) -> list[Finding]:
    """Tell results that stand twice for one laboratory sample and compound."""
    key = list(table.spec.key)
    again = table.frame.duplicated(key)
    if not again.any() or not table.frame["_column"].any():
        return []
    first = table.frame.drop_duplicates(key).set_index(key)
    findings = []
    for index in list(table.frame.index[again])[:MAX_TOLD]:
        ids = tuple(table.frame.loc[index, key])
        where = table.where(index, str(table.frame.at[index, "_column"]) or key[-1])
        other = first.loc[ids]
        findings.append(
            Finding(
                "duplicate-key",
                Severity.STOP,
                "+".join(ids),
                where,
                f"{' + '.join(ids)}, as in {other['_file']} row {other['_row']}",
                "one reportable result for each laboratory sample and compound",
                "map a reportable column, skip the row that does not count, or remove one of the two",
                table.spec.name,
            )
        )
    return findings


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """A row as its file has it, and what became of it: table and cells, for each result in it."""

    number: int
    original: tuple[str, ...]
    mapped: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class MappingPreview:
    """The first rows of a laboratory's file beside what the mapping makes of them.

    ``header`` belongs to the rows' ``original`` cells; ``columns`` names, by table, the
    columns of ``mapped`` cells. ``form`` is what the mapping says, ``former`` the issue that the
    file replaces.
    """

    mapping: str
    file: str
    sha256: str
    sheet: str
    layout: str
    header: tuple[str, ...]
    columns: Mapping[str, tuple[str, ...]]
    rows: tuple[PreviewRow, ...]
    results: int
    qc_rows: int
    passed_over: int
    form: MappingForm
    former: Former | None = None


def mapping_preview(survey: Survey) -> tuple[MappingPreview, ...]:
    """Return, for each mapping file in order, its first rows as received beside their mapping."""
    analytes, samples = survey.rows(Analyte), survey.rows(LabSample)
    read = read_deliveries(survey.folder, survey.settings.files, analytes, samples).read
    return tuple(_preview(delivery, survey.folder) for delivery in read)


def _preview(delivery: Delivery, folder: Folder) -> MappingPreview:
    source = delivery.form.source
    tables = {"results": delivery.results, "lab_qc": delivery.qc}
    tables |= {one.table: rows_of(one) for one in delivery.supplied if getattr(delivery.form, one.table)}
    numbers = sorted({number for given in tables.values() for number in given.numbers})[:PREVIEW_ROWS]
    made: dict[int, list[tuple[str, tuple[str, ...]]]] = {number: [] for number in numbers}
    for name, given in tables.items():
        for cells, number in zip(given.rows, given.numbers, strict=True):
            if number in made:
                made[number].append((name, tuple(cells)))
    lines = dict(zip(delivery.sheet.grid.numbers, delivery.sheet.grid.rows, strict=True))
    return MappingPreview(
        delivery.mapping,
        delivery.file,
        folder.sha256(delivery.file),
        delivery.sheet.name,
        source.layout,
        shown_header(delivery.form, delivery.sheet),
        {name: given.header for name, given in tables.items()},
        tuple(PreviewRow(number, tuple(lines[number]), tuple(made[number])) for number in numbers),
        len(delivery.results.rows),
        len(delivery.qc.rows),
        delivery.passed_over,
        delivery.form,
        delivery.former,
    )
