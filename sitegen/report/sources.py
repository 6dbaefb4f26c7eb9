"""Pages that lead from a printed number back to the row that it came from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import isnan
from typing import Any

from sitegen.compute.rounding import RULE, as_reported, shown
from sitegen.project.originals import Original, delivered_files, received_columns, received_rows, row_text
from sitegen.project.survey import records
from sitegen.report.context import Context, location_ref, row_ref
from sitegen.report.printed import own_files
from sitegen.report.records import Block, Cell, Column, Facts, Page, PrintedValue, Prose, Ref, Section, Table
from sitegen.report.values import UNIT_TEXT, limit_of, qualifier, source_ref, value_text
from sitegen.report.words import lexicon, markdown, say

SOURCES = Ref("page", "sources")
NOT_LISTED = ("results", "comments", "dispositions", "changes", "signoff")
"""Results have a page for each laboratory sample; the review has pages of its own."""


@dataclass(frozen=True, slots=True)
class Count:
    """How many numbers are printed, and how many lead to a row, to files, and nowhere."""

    printed: int
    rowed: int
    filed: int

    @property
    def lost(self) -> int:
        """Numbers without any source."""
        return self.printed - self.rowed - self.filed


def count_values(values: Iterable[PrintedValue], files: Mapping[str, Any]) -> Count:
    """Count printed numbers by where they lead; a row counts only where its file is an input file."""
    printed = rowed = filed = 0
    for value in values:
        printed += 1
        if value.origin:
            rowed += value.origin[0] in files and value.origin[1] > 0
        else:
            filed += bool(value.source)
    return Count(printed, rowed, filed)


def source_files(context: Context) -> dict[str, str]:
    """Return the printed name of the file or files of each table of the format."""
    results = context.survey.frame("results")
    named = "; ".join(dict.fromkeys(results["_file"])) if len(results) else ""
    return own_files() | ({"results": named} if named else {})


def sources_page(context: Context, count: Count) -> Page:
    """Return the page that says where numbers lead, and lists the rows as received."""
    facts = {"printed": count.printed, "rowed": count.rowed, "filed": count.filed, "lost": count.lost}
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
    columns = (Column("what", "Numbers in tables"), Column("count", "Count"))
    return Table("counter", say("sources.counter_caption"), columns, rows)


def _files_table(context: Context) -> Table:
    columns = (
        Column("file", "File"),
        Column("rows", "Rows"),
        Column("sha", "SHA-256", kind="wide"),
    )
    rows = []
    for name, table in context.survey.tables.items():
        for file, part in table.frame.groupby("_file", sort=True):
            ref = None if name in NOT_LISTED else Ref("source", f"file-{name}")
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
    firsts = context.evaluation.store.drop_duplicates("lab_sample_id")
    rows = tuple(
        (
            Cell(row["lab_sample_id"], Ref("source", row["lab_sample_id"])),
            Cell(row["sampler_id"] or "–", Ref("sampler", row["sampler_id"]) if row["sampler_id"] else None),
            Cell(row["location_id"] or "–", location_ref(row["location_id"]) if row["location_id"] else None),
            Cell(row["_file"]),
        )
        for row in records(firsts)
    )
    return Table("source-samples", say("sources.samples_caption"), columns, rows)


def source_pages(context: Context) -> Iterator[Page]:
    """Yield a page of rows as received for each laboratory sample and for each other file."""
    every = context.survey.settings.publish.level == "internal"
    files = delivered_files(context.survey) if every else {}
    texts = received_rows(context.survey.tables["results"], every=every)
    samples: dict[str, list[tuple[dict[str, Any], str]]] = {}
    for row, text in zip(records(context.evaluation.store), texts, strict=True):
        original = files.get(row["_file"])
        received = original.rows.get(int(row["_row"]), text) if original else text
        samples.setdefault(row["lab_sample_id"], []).append((row, received))
    for name, rows in samples.items():
        yield _sample_page(context, name, rows, files, every=every)
    for name, table in context.survey.tables.items():
        if name not in NOT_LISTED and len(table.frame):
            yield _file_page(context, name, every=every)


def _sample_page(
    context: Context,
    name: str,
    rows: list[tuple[dict[str, Any], str]],
    files: Mapping[str, Original],
    *,
    every: bool,
) -> Page:
    first = rows[0][0]
    facts = {"sample": name, "sampler": first["sampler_id"], "location": first["location_id"]}
    blocks: tuple[Block, ...] = (
        *(_file_facts(context, file, files.get(file)) for file in dict.fromkeys(r["_file"] for r, _ in rows)),
        _rows_table(context, name, rows, _header(context, first, files, every=every)),
    )
    return Page(
        Ref("source", name),
        say("sources.sample_title", sample=name),
        say("sources.sample_lead", **facts),
        blocks,
        parent=SOURCES,
        search=name,
    )


def _header(context: Context, row: dict[str, Any], files: Mapping[str, Original], *, every: bool) -> str:
    original = files.get(row["_file"])
    if original:
        return original.header
    return row_text(received_columns(context.survey.tables["results"], every=every))


def _file_facts(context: Context, file: str, original: Original | None) -> Facts:
    step = say("sources.mapped", mapping=original.mapping, sheet=original.sheet) if original else say("sources.own")
    return Facts(
        (
            ("File", Cell(file, Ref("page", "files"))),
            ("SHA-256", Cell(context.survey.folder.sha256(file))),
            ("Mapping step", Cell(step)),
        )
    )


def _rows_table(context: Context, name: str, rows: list[tuple[dict[str, Any], str]], header: str) -> Table:
    columns = (
        Column("compound", "Compound"),
        Column("row", "Row"),
        Column("received", "As received", kind="wide"),
        Column("steps", "What was done", kind="wide"),
        Column("printed", "Printed"),
    )
    body = tuple(
        (
            Cell(context.name(row["analyte_id"]), source_ref(row)),
            Cell(_place(row)),
            Cell(text),
            Cell(steps(row, context.display)),
            Cell(value_text(row, context.display), marks=context.marks(row)),
        )
        for row, text in rows
    )
    note = f"{say('sources.header', header=header)} {say('sources.sample_note', rule=RULE)}"
    return Table(f"rows-{name}", say("sources.sample_caption", sample=name), columns, body, note=note)


def _place(row: dict[str, Any]) -> str:
    column = row.get("_column")
    return f"{row['_row']}, {column}" if column else str(row["_row"])


def steps(row: dict[str, Any], display: str) -> str:
    """Say what was done with a row between the file and the page."""
    words = lexicon("sources")["steps"]
    unit = UNIT_TEXT.get(row["unit"], row["unit"])
    kind = "nondetect"
    if row["rejected"]:
        kind = "rejected"
    elif row["detected"]:
        kind = "detected"
    elif row["by_person"]:
        kind = "person"
    limit = limit_of(row, display)
    text: str = words[kind].format(
        unit=unit,
        value=as_reported(row["value"]) if row["detected"] else "",
        rounded=shown(row["value"]) if row["detected"] else "",
        limit="–" if isnan(limit) else as_reported(limit),
    )
    if qualifier(row):
        text += words["reviewer" if row["validation_qualifier"] else "laboratory"].format(name=qualifier(row))
    return text if row["reportable"] else text + words["replaced"]


def _file_page(context: Context, name: str, *, every: bool) -> Page:
    table = context.survey.tables[name]
    file = context.path(name)
    rows = tuple(
        (Cell(str(number), row_ref(name, int(number))), Cell(text))
        for number, text in zip(table.frame["_row"], received_rows(table, every=every), strict=True)
    )
    columns = (Column("row", "Row"), Column("received", "As received", kind="wide"))
    header = say("sources.header", header=row_text(received_columns(table, every=every)))
    note = header if every else f"{header} {say('sources.some_columns')}"
    return Page(
        Ref("source", f"file-{name}"),
        file,
        say("sources.file_lead", file=file),
        (
            _file_facts(context, file, None),
            Table(f"rows-{name}", say("sources.file_caption", file=file), columns, rows, note=note),
        ),
        parent=SOURCES,
        search=file,
    )
