"""Pages that lead from a printed number back to the row that it came from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import starmap
from math import isnan
from operator import itemgetter
from typing import NamedTuple, TypeAlias

from sitegen.compute.results.reported import limit_of, printed_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, rounded_text
from sitegen.project.delivery.originals import Original, delivered_files, received_columns, received_rows, row_text
from sitegen.project.featurefiles import feature_files
from sitegen.project.schema import FEATURES_FILE, Origin, text_file
from sitegen.project.survey import Survey, SurveyTable, called, origins
from sitegen.report.record.pages import (
    Block,
    Cell,
    Chapter,
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
from sitegen.report.record.specs import Spec, table
from sitegen.report.trace.printed import JOINED, OTHER_FILES, mark_values, printed_values, sources_of
from sitegen.report.write.columns import POINT, SAMPLER
from sitegen.report.write.context import Context, row_ref
from sitegen.report.write.filled import filled_cells, rules_text
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.values import source_ref
from sitegen.report.write.words import lexicon, markdown, say
from sitegen.units import UNIT_TEXT
from sitegen.voice import thousands, worded

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
    survey = context.record
    there = {name: _behind(name, table) for name, table in survey.tables.items()}
    there["locations"] += tuple(dict.fromkeys(file_source(one.measured.file) for one in survey.measured.values()))
    features = feature_files(survey.settings.features, survey.folder)
    there["features"] = tuple(file_source(path) for path in features if path in survey.folder.files)
    there |= {name: (file_source(path),) for name, path in OTHER_FILES.items() if path in survey.folder.files}
    there |= {f"text-{name}": (file_source(text_file(name)),) for name in survey.texts}
    if not context.with_results:
        there |= {"results": (), "lab_samples": ()}
    for one in context.earlier:
        there |= _mounted(one.survey)
    return {name: sources for name, sources in there.items() if sources}


def _mounted(survey: Survey) -> dict[str, tuple[Source, ...]]:
    """Return the files of an earlier survey that is part of this one, by what is noted when they are read."""
    if not survey.mount:
        return {}
    tables = {
        survey.mount + name: tuple(file_source(path) for path in dict.fromkeys(table.frame["_file"]))
        for name, table in survey.tables.items()
    }
    others = {f"{survey.mount}{name}": survey.mount + file for name, file in OTHER_FILES.items()}
    others[f"{survey.mount}features"] = survey.mount + FEATURES_FILE
    return tables | {name: (file_source(path),) for name, path in others.items() if path in survey.folder.files}


def _behind(name: str, table: SurveyTable) -> tuple[Source, ...]:
    """Return the files that the rows of a table came from; its own where it is there without rows."""
    ref = _rows_ref(name)
    paths = dict.fromkeys(table.frame["_file"]) or ([table.file] if table.present else [])
    return tuple(Source(_called(table, path), ref, path) for path in paths)


def _called(table: SurveyTable, path: str) -> str:
    """Name a file that rows of a table came from; the workbook of all tables with the sheet."""
    return table.called if path == table.file else path


def _rows_ref(name: str) -> Ref:
    """Return the pointer to the rows of a table as received."""
    return LISTED_ELSEWHERE.get(name) or Ref("source", f"file-{name}")


def file_source(path: str) -> Source:
    """Return the source of a file without rows, which leads to the list of files."""
    return Source(path, Ref("page", "files"), path)


def sources_page(context: Context, count: Count) -> Page:
    """Return the page that says where numbers lead, and lists the rows as received."""
    facts = {name: getattr(count, name) for name in ("printed", "paper", "rowed", "filed", "lost")}
    counted = {name: thousands(f"{number:,}") for name, number in facts.items()}
    blocks: tuple[Block, ...] = (
        Prose(markdown("sources.how", sheet=worded("Calculation sheet"), results=context.with_results)),
        Section("counter", worded("Number of values"), (_counter(counted),)),
        *((Section("joined", worded("Joined results"), (_joined(context),)),) if context.with_results else ()),
        Section("files", worded("Files"), (_files_table(context),)),
        *(
            (Section("samples", worded("Laboratory samples"), (_samples_table(context),)),)
            if context.with_results
            else ()
        ),
        *_filled_section(context),
    )
    return Page(SOURCES, worded("Sources of numbers"), say("sources.lead", **counted), blocks, group="Data")


def _joined(context: Context) -> Prose:
    """Say what the joined results are made from."""
    files = source_files(context)
    names = list(dict.fromkeys(source.text for source in sources_of(JOINED, files)))
    return Prose(markdown("sources.joined_how", files=names))


def _counter(counted: Mapping[str, str]) -> Table:
    names = lexicon("labels")["counter"]
    columns: list[Spec[str]] = [
        Spec("what", "Numbers", cell=lambda key: names[key]),
        Spec("count", "Count", kind="number", cell=lambda key: counted[key]),
    ]
    return table("counter", say("sources.counter_caption"), columns, counted)


def _filled_section(context: Context) -> Iterator[Section]:
    """Yield what was filled and by which rules, where anything was."""
    tables = context.record.tables
    found = Counter((tables[one.table].called, one.column, one.one.general) for one in filled_cells(context.record))
    columns: list[Spec[tuple[str, str, str]]] = [
        Spec("file", "File", cell=itemgetter(0)),
        Spec("column", "Column", cell=itemgetter(1)),
        Spec("rule", "Rule", kind="wide", cell=lambda one: worded(one[2])),
        Spec("cells", "Cells", kind="number", cell=lambda one: thousands(f"{found[one]:,}")),
    ]
    if found:
        made = table("filled-cells", say("sources.filled_caption"), columns, found, note=say("sources.filled_note"))
        yield Section("filled", say("sources.filled_title"), (made,))


class _ListedFile(NamedTuple):
    """A file that rows of a table came from: its path and name, the way to its rows, and how many they are."""

    file: str
    called: str
    ref: Ref
    rows: int


def _files_table(context: Context) -> Table:
    columns: list[Spec[_ListedFile]] = [
        Spec("file", "File", cell=lambda one: Cell(one.called, one.ref)),
        Spec("rows", "Rows", kind="number", cell=lambda one: thousands(f"{one.rows:,}")),
        Spec("sha", "SHA-256", kind="wide", cell=lambda one: context.record.folder.sha256(one.file)),
    ]
    given = [
        (name, str(file), _called(received, str(file)), len(part))
        for name, received in context.record.tables.items()
        for file, part in received.frame.groupby("_file", sort=True)
    ]
    tables = Counter(called for _, _, called, _ in given)
    files = [
        _ListedFile(file, f"{called} ({name})" if tables[called] > 1 else called, _rows_ref(name), rows)
        for name, file, called, rows in given
    ]
    return table("source-files", say("sources.files_caption"), columns, files)


def _samples_table(context: Context) -> Table:
    columns: list[Spec[StoredResult]] = [
        Spec("sample", "Laboratory sample", cell=lambda row: Cell(row.lab_sample_id, Ref("source", row.lab_sample_id))),
        SAMPLER,
        POINT,
        Spec("file", "File", cell=lambda row: called(row.origin.file, row.origin.sheet)),
    ]
    firsts: dict[str, StoredResult] = {}
    for row in context.every_result:
        firsts.setdefault(row.lab_sample_id, row)
    return table("source-samples", say("sources.samples_caption"), columns, firsts.values())


class _Result(NamedTuple):
    """A result and its row as received."""

    row: StoredResult
    text: str


def source_pages(context: Context) -> Iterator[Page]:
    """Yield a page of rows as received for each laboratory sample and for each other file."""
    every = "unknown_columns" in allowed_classes(context.record.settings.publish)
    files = delivered_files(context.record) if every else {}
    texts = _received(context.record.tables["results"], files, every=every)
    samples: dict[str, list[_Result]] = {}
    for row, text in zip(context.every_result, texts, strict=True):
        samples.setdefault(row.lab_sample_id, []).append(_Result(row, text))
    for name, rows in samples.items():
        yield _sample_page(context, name, rows, files, every=every)
    for name, own in context.record.tables.items():
        if name not in NOT_LISTED and len(own.frame):
            yield _file_page(context, name, files, every=every)


def _received(table: SurveyTable, files: Mapping[Part, Original], *, every: bool) -> Iterator[str]:
    """Yield each row of a table as received; one of a laboratory's own file as that file has it."""
    for origin, text in zip(origins(table.frame), received_rows(table, every=every), strict=True):
        original = files.get(_part(origin))
        yield original.rows.get(origin.row, text) if original else text


def _sample_page(
    context: Context, name: str, results: list[_Result], files: Mapping[Part, Original], *, every: bool
) -> Page:
    first = results[0].row
    parts = tuple(dict.fromkeys(_part(one.row.origin) for one in results))
    blocks: tuple[Block, ...] = (
        *(_file_facts(context, "results", part, files.get(part), every=every) for part in parts),
        _rows_table(context, name, results, several=len(parts) > 1),
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
    step = say("sources.own")
    if original:
        of = {"mapping": original.mapping, "sheet": original.sheet, "replaces": original.replaces}
        step = say("sources.mapped", **of)
    own = row_text(received_columns(context.record.tables[table], every=every))
    header = original.header if original else own
    return Facts(
        (
            (worded("File"), Cell(_called(context.record.tables[table], part[0]), Ref("page", "files"))),
            (worded("SHA-256"), Cell(context.record.folder.sha256(part[0]))),
            (worded("Mapping step"), Cell(step)),
            (worded("Columns as received"), Cell(header)),
        )
    )


def _rows_table(context: Context, name: str, results: list[_Result], *, several: bool) -> Table:
    display = context.display
    columns: list[Spec[_Result]] = [
        Spec("compound", "Compound", cell=lambda one: Cell(context.name(one.row.analyte_id), source_ref(one.row))),
        Spec("row", "Row", cell=lambda one: _place(one.row.origin, several=several)),
        Spec("received", "As received", kind="wide", cell=lambda one: one.text),
        Spec("steps", "Processing", kind="wide", cell=lambda one: steps(one.row, display)),
        Spec("printed", "Printed", cell=lambda one: Cell(printed_text(one.row, display), marks=context.marks(one.row))),
    ]
    caption = say("sources.sample_caption", sample=name)
    return table(f"rows-{name}", caption, columns, results, note=say("sources.sample_note"))


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
        rounded=rounded_text(row.value) if row.detected else "",
        limit="–" if isnan(limit) else as_reported(limit),
    )
    if qualifier(row):
        text += words["reviewer" if row.validation_qualifier else "laboratory"].format(name=qualifier(row))
    return text if row.reportable else text + words["replaced"]


class _Row(NamedTuple):
    """A row of a table and its text as received."""

    origin: Origin
    text: str


def _file_page(context: Context, name: str, files: Mapping[Part, Original], *, every: bool) -> Page:
    """Return a table's rows as received; one of a laboratory's own file names it, and no finding leads there."""
    own = context.record.tables[name]
    stands = tuple(origins(own.frame))
    parts = tuple(dict.fromkeys(map(_part, stands)))
    file = "; ".join(dict.fromkeys(_called(own, path) for path, _ in parts))
    columns: list[Spec[_Row]] = [
        Spec("row", "Row", cell=lambda row: _row_cell(own, row.origin)),
        Spec("received", "As received", kind="wide", cell=lambda row: row.text),
    ]
    rows: Iterable[_Row] = starmap(_Row, zip(stands, _received(own, files, every=every), strict=True))
    if own.filled:
        columns.append(_filled_column(own, stands))
        rows = dict.fromkeys(rows)  # of a range of serials, its one row
    note = "" if every else say("sources.some_columns")
    return Page(
        Ref("source", f"file-{name}"),
        file,
        say("sources.file_lead", file=file),
        (
            *(_file_facts(context, name, part, files.get(part), every=every) for part in parts),
            table(f"rows-{name}", say("sources.file_caption", file=file), columns, rows, note=note),
        ),
        parent=SOURCES,
        search=file,
    )


def _filled_column(own: SurveyTable, stands: Sequence[Origin]) -> Spec[_Row]:
    """Return the column of what was filled in each row, and by which rules."""
    filled: dict[Origin, dict[tuple[str, str], None]] = {}
    for (row, column), one in own.filled.items():
        filled.setdefault(stands[row], {})[column, one.general] = None
    title = say("sources.filled_title")
    return Spec("filled", title, kind="wide", cell=lambda row: rules_text(filled.get(row.origin, ())) or "–")


def _row_cell(own: SurveyTable, at: Origin) -> Cell:
    """Return the row of a table in our own file, with the way there; of a laboratory's, its place."""
    if at.column or at.file != own.file:
        return Cell(_place(at, several=True))
    return Cell(str(at.row), row_ref(own.spec.name, at.row))
