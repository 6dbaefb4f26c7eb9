"""Pages that lead from a printed number back to the row that it came from."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isnan
from typing import TypeAlias

from sitegen.compute.results.reported import limit_of, printed_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, shown
from sitegen.project.delivery.originals import Original, delivered_files, received_columns, received_rows, row_text
from sitegen.project.schema import Origin, text_file
from sitegen.project.survey import SurveyTable, origins
from sitegen.report.record.pages import (
    Block,
    Cell,
    Chapter,
    Column,
    Facts,
    Page,
    PrintedValue,
    Prose,
    Ref,
    Section,
    Source,
    Table,
    Volume,
)
from sitegen.report.trace.printed import JOINED, OTHER_FILES, mark_values, printed_values, sources_of
from sitegen.report.write.context import Context, location_ref, row_ref
from sitegen.report.write.publish import allowed
from sitegen.report.write.values import source_ref
from sitegen.report.write.words import lexicon, markdown, say
from sitegen.units import UNIT_TEXT

Part: TypeAlias = tuple[str, str]
"""A file, and the sheet of a workbook: rows of two parts have the same numbers."""

SOURCES = Ref("page", "sources")
LISTED_ELSEWHERE = {
    "results": Ref("page", "sources", "samples"),
    "comments": Ref("page", "review", "comments"),
    "dispositions": Ref("page", "findings"),
    "changes": Ref("page", "changes"),
    "signoff": Ref("page", "review", "signoff"),
}
"""Results have a page for each laboratory sample; the review has pages of its own."""
NOT_LISTED = tuple(LISTED_ELSEWHERE)


@dataclass(frozen=True, slots=True)
class Count:
    """How many numbers are printed, how many of them on paper, and how many lead to a row, to files, and nowhere."""

    printed: int
    paper: int
    rowed: int
    filed: int

    @property
    def lost(self) -> int:
        """Numbers without any source."""
        return self.printed - self.rowed - self.filed


def count_values(values: Sequence[PrintedValue], files: Container[str]) -> Count:
    """Count printed numbers by where they lead; only rows and names of input files count."""
    rowed = sum(value.origin is not None and value.origin[0] in files and value.origin[1] > 0 for value in values)
    behind = {value.sources for value in values if not value.origin}
    known = {sources: bool(sources) and all(s.file in files or not s.file for s in sources) for sources in behind}
    filed = sum(known[value.sources] for value in values if not value.origin)
    return Count(len(values), sum(value.in_print != "" for value in values), rowed, filed)


def all_values(
    context: Context, pages: Sequence[Page], chapters: Sequence[Chapter], volumes: Sequence[Volume] = ()
) -> tuple[PrintedValue, ...]:
    """Return every number that the report prints: of pages, chapters and volumes, and the reasons of marks."""
    rows = {f.key: (f.where.file, f.where.row or 0, f.where.column or "") for f in context.findings}
    files = source_files(context)
    return (*printed_values(pages, chapters, files, volumes), *mark_values(pages, rows, files))


def source_files(context: Context) -> dict[str, tuple[Source, ...]]:
    """Return what to call the files of each table, of the features, the settings and each text, with their rows."""
    survey = context.survey
    there = {name: _behind(name, table) for name, table in survey.tables.items()}
    there |= {name: (file_source(path),) for name, path in OTHER_FILES.items() if path in survey.folder.files}
    there |= {f"text-{name}": (file_source(text_file(name)),) for name in survey.texts}
    return {name: sources for name, sources in there.items() if sources}


def _behind(name: str, table: SurveyTable) -> tuple[Source, ...]:
    """Return the files that the rows of a table came from; its own where it is there without rows."""
    ref = LISTED_ELSEWHERE.get(name) or Ref("source", f"file-{name}")
    paths = dict.fromkeys(table.frame["_file"]) or ([table.spec.path] if table.present else [])
    return tuple(Source(path, ref, path) for path in paths)


def file_source(path: str) -> Source:
    """Return the source of a file without rows, which leads to the list of files."""
    return Source(path, Ref("page", "files"), path)


def sources_page(context: Context, count: Count) -> Page:
    """Return the page that says where numbers lead, and lists the rows as received."""
    facts = {name: getattr(count, name) for name in ("printed", "paper", "rowed", "filed", "lost")}
    counted = {name: f"{number:,}" for name, number in facts.items()}
    blocks: tuple[Block, ...] = (
        Prose(markdown("sources.how", sheet="Calculation sheet")),
        Section("counter", "How many", (_counter(counted),)),
        Section("joined", "Joined results", (_joined(context),)),
        Section("files", "Files", (_files_table(context),)),
        Section("samples", "Laboratory samples", (_samples_table(context),)),
    )
    return Page(SOURCES, "Sources of numbers", say("sources.lead", **counted), blocks, group="Data")


def _joined(context: Context) -> Prose:
    """Say what the joined results are made from."""
    files = source_files(context)
    return Prose(markdown("sources.joined_how", files=[source.text for source in sources_of(JOINED, files)]))


def _counter(counted: Mapping[str, str]) -> Table:
    names = lexicon("labels")["counter"]
    rows = tuple((Cell(names[key]), Cell(number)) for key, number in counted.items())
    columns = (Column("what", "Numbers"), Column("count", "Count", kind="number"))
    return Table("counter", say("sources.counter_caption"), columns, rows)


def _files_table(context: Context) -> Table:
    columns = (
        Column("file", "File"),
        Column("rows", "Rows", kind="number"),
        Column("sha", "SHA-256", kind="wide"),
    )
    rows = []
    for name, table in context.survey.tables.items():
        for file, part in table.frame.groupby("_file", sort=True):
            ref = LISTED_ELSEWHERE.get(name) or Ref("source", f"file-{name}")
            sha = context.survey.folder.sha256(str(file))
            rows.append((Cell(str(file), ref), Cell(f"{len(part):,}"), Cell(sha)))
    return Table("source-files", say("sources.files_caption"), columns, tuple(rows))


def _samples_table(context: Context) -> Table:
    columns = (
        Column("sample", "Laboratory sample"),
        Column("sampler", "Sampler"),
        Column("point", "Point"),
        Column("file", "File"),
    )
    firsts: dict[str, StoredResult] = {}
    for row in context.results:
        firsts.setdefault(row.lab_sample_id, row)
    rows = tuple(
        (
            Cell(row.lab_sample_id, Ref("source", row.lab_sample_id)),
            Cell(row.sampler_id or "–", Ref("sampler", row.sampler_id) if row.sampler_id else None),
            Cell(row.location_id or "–", location_ref(row.location_id) if row.location_id else None),
            Cell(row.origin.file),
        )
        for row in firsts.values()
    )
    return Table("source-samples", say("sources.samples_caption"), columns, rows)


def source_pages(context: Context) -> Iterator[Page]:
    """Yield a page of rows as received for each laboratory sample and for each other file."""
    every = "unknown_columns" in allowed(context.survey.settings.publish)
    files = delivered_files(context.survey) if every else {}
    texts = _received(context.survey.tables["results"], files, every=every)
    samples: dict[str, list[tuple[StoredResult, str]]] = {}
    for row, text in zip(context.results, texts, strict=True):
        samples.setdefault(row.lab_sample_id, []).append((row, text))
    for name, rows in samples.items():
        yield _sample_page(context, name, rows, files, every=every)
    for name, table in context.survey.tables.items():
        if name not in NOT_LISTED and len(table.frame):
            yield _file_page(context, name, files, every=every)


def _received(table: SurveyTable, files: Mapping[Part, Original], *, every: bool) -> Iterator[str]:
    """Yield each row of a table as received; one of a laboratory's own file as that file has it."""
    for origin, text in zip(origins(table.frame), received_rows(table, every=every), strict=True):
        original = files.get(_part(origin))
        yield original.rows.get(origin.row, text) if original else text


def _sample_page(
    context: Context,
    name: str,
    rows: list[tuple[StoredResult, str]],
    files: Mapping[Part, Original],
    *,
    every: bool,
) -> Page:
    first = rows[0][0]
    parts = tuple(dict.fromkeys(_part(row.origin) for row, _ in rows))
    blocks: tuple[Block, ...] = (
        *(_file_facts(context, "results", part, files.get(part), every=every) for part in parts),
        _rows_table(context, name, rows, several=len(parts) > 1),
    )
    return Page(
        Ref("source", name),
        say("sources.sample_title", sample=name),
        say("sources.sample_lead", sample=name, sampler=first.sampler_id, location=first.location_id),
        blocks,
        parent=SOURCES,
        search=name,
    )


def _part(origin: Origin) -> Part:
    return origin.file, origin.sheet


def _file_facts(context: Context, table: str, part: Part, original: Original | None, *, every: bool) -> Facts:
    step = say("sources.mapped", mapping=original.mapping, sheet=original.sheet) if original else say("sources.own")
    own = row_text(received_columns(context.survey.tables[table], every=every))
    header = original.header if original else own
    return Facts(
        (
            ("File", Cell(part[0], Ref("page", "files"))),
            ("SHA-256", Cell(context.survey.folder.sha256(part[0]))),
            ("Mapping step", Cell(step)),
            ("Columns as received", Cell(header)),
        )
    )


def _rows_table(context: Context, name: str, rows: list[tuple[StoredResult, str]], *, several: bool) -> Table:
    columns = (
        Column("compound", "Compound"),
        Column("row", "Row"),
        Column("received", "As received", kind="wide"),
        Column("steps", "What was done", kind="wide"),
        Column("printed", "Printed"),
    )
    body = tuple(
        (
            Cell(context.name(row.analyte_id), source_ref(row)),
            Cell(_place(row.origin, several=several)),
            Cell(text),
            Cell(steps(row, context.display)),
            Cell(printed_text(row, context.display), marks=context.marks(row)),
        )
        for row, text in rows
    )
    note = say("sources.sample_note")
    return Table(f"rows-{name}", say("sources.sample_caption", sample=name), columns, body, note=note)


def _place(origin: Origin, *, several: bool) -> str:
    """Return row and column of a result, and the file and sheet where there are ``several``."""
    file = _part(origin) if several else ()
    return ", ".join(filter(None, (*file, str(origin.row), origin.column)))


def steps(row: StoredResult, display: str) -> str:
    """Say what was done with a row between the file and the page."""
    words = lexicon("sources")["steps"]
    unit = UNIT_TEXT.get(row.unit, row.unit)
    kind = "nondetect"
    if row.rejected:
        kind = "rejected"
    elif row.detected:
        kind = "detected"
    elif row.by_person:
        kind = "person"
    limit = limit_of(row, display)
    text: str = words[kind].format(
        unit=unit,
        value=as_reported(row.value) if row.detected else "",
        rounded=shown(row.value) if row.detected else "",
        limit="–" if isnan(limit) else as_reported(limit),
    )
    if qualifier(row):
        text += words["reviewer" if row.validation_qualifier else "laboratory"].format(name=qualifier(row))
    return text if row.reportable else text + words["replaced"]


def _file_page(context: Context, name: str, files: Mapping[Part, Original], *, every: bool) -> Page:
    """Return a table's rows as received; one of a laboratory's own file names it, and no finding leads there."""
    table = context.survey.tables[name]
    stands = tuple(origins(table.frame))
    parts = tuple(dict.fromkeys(map(_part, stands)))
    file = "; ".join(dict.fromkeys(path for path, _ in parts))
    rows = tuple(
        (
            Cell(str(at.row), row_ref(name, at.row)) if at.file == table.spec.path else Cell(_place(at, several=True)),
            Cell(text),
        )
        for at, text in zip(stands, _received(table, files, every=every), strict=True)
    )
    columns = (Column("row", "Row"), Column("received", "As received", kind="wide"))
    note = "" if every else say("sources.some_columns")
    return Page(
        Ref("source", f"file-{name}"),
        file,
        say("sources.file_lead", file=file),
        (
            *(_file_facts(context, name, part, files.get(part), every=every) for part in parts),
            Table(f"rows-{name}", say("sources.file_caption", file=file), columns, rows, note=note),
        ),
        parent=SOURCES,
        search=file,
    )
