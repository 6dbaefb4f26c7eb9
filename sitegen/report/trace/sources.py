"""Pages that lead from a printed number back to the row that it came from."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isnan

from sitegen.compute.results.reported import limit_of, printed_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, shown
from sitegen.project.delivery.originals import Original, delivered_files, received_columns, received_rows, row_text
from sitegen.project.tables import TABLE
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
    Table,
    Volume,
)
from sitegen.report.trace.printed import mark_values, own_files, printed_values
from sitegen.report.write.context import Context, location_ref, row_ref
from sitegen.report.write.publish import allowed
from sitegen.report.write.values import UNIT_TEXT, source_ref
from sitegen.report.write.words import lexicon, markdown, say

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
    known = {line: _all_there(line, files) for line in {value.source for value in values if not value.origin}}
    filed = sum(known[value.source] for value in values if not value.origin)
    return Count(len(values), sum(value.in_print != "" for value in values), rowed, filed)


def _all_there(line: str, files: Container[str]) -> bool:
    """Say whether a source line names files (``path`` or ``path, which part``), all of them input files.

    The program's own defaults count as well: each stands beside its source.
    """
    own = say("sources.program")
    return all(part == own or part in files or part.rpartition(", ")[0] in files for part in line.split("; "))


def all_values(
    context: Context, pages: Sequence[Page], chapters: Sequence[Chapter], volumes: Sequence[Volume] = ()
) -> tuple[PrintedValue, ...]:
    """Return every number that the report prints: of pages, chapters and volumes, and the reasons of marks."""
    rows = {f.key: (f.where.file, f.where.row or 0, f.where.column or "") for f in context.findings}
    return (*printed_values(pages, chapters, source_files(context), volumes), *mark_values(pages, rows))


def line_refs(line: str) -> Iterator[tuple[str, Ref]]:
    """Yield the parts of a source line, each with the page of its rows, a file without rows with the list of files.

    >>> list(line_refs("field/samplers.csv; lab/a.xlsx, laboratory sample 7"))[1][1]
    Ref(kind='source', id='7', anchor='')
    """
    names = {path: name for name, path in own_files().items()}
    for part in line.split("; "):
        file, _, which = part.partition(", ")
        name = names.get(file, "")
        if which:
            yield part, Ref("source", which.removeprefix("laboratory sample "))
        elif part == say("sources.program"):
            yield part, Ref("page", "limits")
        elif name in LISTED_ELSEWHERE:
            yield part, LISTED_ELSEWHERE[name]
        else:
            yield part, Ref("source", f"file-{name}") if name in TABLE else Ref("page", "files")


def source_files(context: Context) -> dict[str, str]:
    """Return the printed name of the file or files of each table of the format, and of each text, that is there."""
    survey = context.survey
    results = survey.frame("results")
    own = {name: path for name, path in own_files().items() if path in survey.folder.files}
    texts = {f"text-{name}": f"text/{name}.md" for name in survey.texts}
    named = "; ".join(dict.fromkeys(results["_file"])) if len(results) else ""
    return own | texts | ({"results": named} if named else {})


def sources_page(context: Context, count: Count) -> Page:
    """Return the page that says where numbers lead, and lists the rows as received."""
    facts = {name: getattr(count, name) for name in ("printed", "paper", "rowed", "filed", "lost")}
    counted = {name: f"{number:,}" for name, number in facts.items()}
    blocks: tuple[Block, ...] = (
        Prose(markdown("sources.how", sheet="Calculation sheet")),
        Section("counter", "How many", (_counter(counted),)),
        Section("files", "Files", (_files_table(context),)),
        Section("samples", "Laboratory samples", (_samples_table(context),)),
    )
    return Page(SOURCES, "Sources of numbers", say("sources.lead", **counted), blocks, group="Data")


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
    texts = received_rows(context.survey.tables["results"], every=every)
    samples: dict[str, list[tuple[StoredResult, str]]] = {}
    for row, text in zip(context.results, texts, strict=True):
        original = files.get(row.origin.file)
        received = original.rows.get(row.origin.row, text) if original else text
        samples.setdefault(row.lab_sample_id, []).append((row, received))
    for name, rows in samples.items():
        yield _sample_page(context, name, rows, files, every=every)
    for name, table in context.survey.tables.items():
        if name not in NOT_LISTED and len(table.frame):
            yield _file_page(context, name, every=every)


def _sample_page(
    context: Context,
    name: str,
    rows: list[tuple[StoredResult, str]],
    files: Mapping[str, Original],
    *,
    every: bool,
) -> Page:
    first = rows[0][0]
    blocks: tuple[Block, ...] = (
        *(
            _file_facts(context, file, files.get(file), _header(context, file, files, every=every))
            for file in dict.fromkeys(r.origin.file for r, _ in rows)
        ),
        _rows_table(context, name, rows),
    )
    return Page(
        Ref("source", name),
        say("sources.sample_title", sample=name),
        say("sources.sample_lead", sample=name, sampler=first.sampler_id, location=first.location_id),
        blocks,
        parent=SOURCES,
        search=name,
    )


def _header(context: Context, file: str, files: Mapping[str, Original], *, every: bool) -> str:
    original = files.get(file)
    if original:
        return original.header
    return row_text(received_columns(context.survey.tables["results"], every=every))


def _file_facts(context: Context, file: str, original: Original | None, header: str) -> Facts:
    step = say("sources.mapped", mapping=original.mapping, sheet=original.sheet) if original else say("sources.own")
    return Facts(
        (
            ("File", Cell(file, Ref("page", "files"))),
            ("SHA-256", Cell(context.survey.folder.sha256(file))),
            ("Mapping step", Cell(step)),
            ("Columns as received", Cell(header)),
        )
    )


def _rows_table(context: Context, name: str, rows: list[tuple[StoredResult, str]]) -> Table:
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
            Cell(_place(row)),
            Cell(text),
            Cell(steps(row, context.display)),
            Cell(printed_text(row, context.display), marks=context.marks(row)),
        )
        for row, text in rows
    )
    note = say("sources.sample_note")
    return Table(f"rows-{name}", say("sources.sample_caption", sample=name), columns, body, note=note)


def _place(row: StoredResult) -> str:
    return ", ".join(filter(None, (str(row.origin.row), row.origin.column)))


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


def _file_page(context: Context, name: str, *, every: bool) -> Page:
    table = context.survey.tables[name]
    file = context.path(name)
    rows = tuple(
        (Cell(str(number), row_ref(name, int(number))), Cell(text))
        for number, text in zip(table.frame["_row"], received_rows(table, every=every), strict=True)
    )
    columns = (Column("row", "Row"), Column("received", "As received", kind="wide"))
    header = row_text(received_columns(table, every=every))
    note = "" if every else say("sources.some_columns")
    return Page(
        Ref("source", f"file-{name}"),
        file,
        say("sources.file_lead", file=file),
        (
            _file_facts(context, file, None, header),
            Table(f"rows-{name}", say("sources.file_caption", file=file), columns, rows, note=note),
        ),
        parent=SOURCES,
        search=file,
    )
