"""The reviewer's working set: what to decide, what to read, what to check against its row."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from sitegen.checks.dispositions import open_findings
from sitegen.compute.formats import stamp_text
from sitegen.compute.statistics.sample import draw
from sitegen.findings.problems import Finding, Where
from sitegen.project.places import sheet_at
from sitegen.project.schema import Column
from sitegen.project.survey import SurveyTable, origins
from sitegen.project.tables import ReviewComment
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Facts,
    Figure,
    Page,
    Photo,
    PrintedValue,
    Prose,
    Quote,
    Ref,
    Section,
    Table,
)
from sitegen.report.record.specs import Spec, table
from sitegen.report.review.findings import about_text, subject_ref, target_ref, target_text
from sitegen.report.trace.sources import NOT_LISTED
from sitegen.report.write.audience import withheld_comments
from sitegen.report.write.context import Context, found_at
from sitegen.report.write.remarks import OPEN
from sitegen.report.write.sentences import plain
from sitegen.report.write.traced import traced
from sitegen.report.write.words import lexicon, markdown, say, word
from sitegen.voice import worded

WORKING = Ref("page", "working-set")
SHARE = 0.1
"""Part of the reported values that a reviewer checks against their rows: project default, no published source."""
NO_RESULT = ("rl", "mdl", "found", "against", "mark", "other")
"""Columns of limits, of words about a result, and of runs that are on file and not reported."""
MOST_TICKS = 300
"""More rows than this make no readable page; the file for download holds all of them."""
MOST_SEARCHED = 100
"""Cells of several words looked for inside longer texts, per column."""
_SHORT = re.compile(r"yes|no|[-+]?\d{1,2}(?:\.0*)?")
_WORD = re.compile(r"[^\s;,()]+")
_DIGIT = re.compile(r"\d")


def sample(context: Context, values: Iterable[PrintedValue]) -> tuple[PrintedValue, ...]:
    """Draw a tenth of the reported results, each as its point's page prints it, else as the first page that does.

    They are ordered as the laboratory's files have them.
    """
    parts = frozenset(_parts(context.survey.tables["results"]))
    found: dict[tuple[str, int, str], PrintedValue] = {}
    for value in values:
        if value.origin and _part(value.origin) in parts and value.column not in NO_RESULT:
            known = found.setdefault(value.origin, value)
            if known.page.kind != "location" and value.page.kind == "location":
                found[value.origin] = value
    by_name = {found[origin].name: found[origin] for origin in sorted(found)}
    return tuple(by_name[name] for name in draw(by_name, context.survey.settings.project.id, SHARE))


def _parts(results: SurveyTable) -> Iterator[tuple[str, str]]:
    """Yield the files of results, with the sheet where that is one of a workbook that has other tables as well."""
    frame = results.frame
    for origin in origins(frame.drop_duplicates(["_file", *frame.columns.intersection(["_sheet"])])):
        yield origin.file, sheet_at(origin.where())


def _part(origin: tuple[str, int, str]) -> tuple[str, str]:
    return origin[0], sheet_at(Where(*origin))


@traced
def working_page(context: Context, pages: Sequence[Page], ticks: tuple[PrintedValue, ...]) -> Page:
    """Return the page that a reviewer works from."""
    waiting = _findings_table(context)
    comments = _comments_table(context)
    silent = _columns_table(context, pages)
    blocks: tuple[Block, ...] = (
        Section("decide", worded("Findings awaiting a disposition"), (waiting,)),
        Section("comments", worded("Review comments awaiting action"), (comments,)),
        Section("sample", worded("Values to compare with their source rows"), (_tick_table(ticks),)),
        Section("formulas", worded("Formulas"), (Prose(markdown("working.formulas")), _formula_facts())),
        Section("columns", worded("Columns not found on any page"), (silent,)),
    )
    lead = say(
        "working.lead",
        findings=len(waiting.rows),
        comments=len(comments.rows),
        recorded=len(context.survey.rows(ReviewComment)),
        withheld=withheld_comments(context),
        ticks=len(ticks),
        columns=len(silent.rows),
    )
    return Page(WORKING, worded("Reviewer's working set"), lead, blocks, group="For reviewers")


@traced
def _findings_table(context: Context) -> Table:
    columns: list[Spec[Finding]] = [
        Spec("severity", "Severity", cell=_severity_cell),
        Spec("about", "Applies to", cell=lambda f: Cell(about_text(context, f), subject_ref(context, f))),
        Spec("key", "Key for dispositions.csv", cell=lambda f: f.key),
        Spec("found", "Found", kind="wide", cell=lambda f: Cell(f.found, origin=found_at(f)), tells=True),
    ]
    return table(
        "to-decide",
        say("working.findings_caption"),
        columns,
        open_findings(context.findings, context.dispositions),
        empty=say("working.nothing"),
        filters=("severity",),
    )


def _severity_cell(finding: Finding) -> Cell:
    severity = finding.severity.value
    return Cell(word("severity", severity), Ref("finding", finding.key), tone=severity)


@traced
def _comments_table(context: Context) -> Table:
    columns: list[Spec[ReviewComment]] = [
        Spec("id", "No.", cell=lambda row: row.comment_id),
        Spec("state", "State", cell=_state_cell),
        Spec(
            "target",
            "Applies to",
            cell=lambda row: Cell(target_text(context, row.target), target_ref(context, row.target)),
        ),
        Spec("text", "Comment", kind="wide", cell=lambda row: row.text),
        Spec("response", "Response", kind="wide", cell=lambda row: row.response or "–"),
    ]
    recorded = context.survey.rows(ReviewComment)
    waiting = [row for row in recorded if row.state in (*OPEN, "answered")]
    empty = withheld_comments(context) or say("working.no_comments", recorded=len(recorded))
    return table("to-read", say("working.comments_caption"), columns, waiting, empty=empty)


def _state_cell(row: ReviewComment) -> Cell:
    return Cell(
        word("comment_state", row.state or "open"),
        tone="hold" if row.class_ == "must_fix" and row.state in OPEN else "",
    )


def _tick_table(ticks: tuple[PrintedValue, ...]) -> Table:
    columns: list[Spec[PrintedValue]] = [
        Spec("tick", "Tick", cell=lambda _: "☐"),
        Spec("value", "Printed value", kind="number", cell=lambda value: value.text),
        Spec("row", "Row", cell=lambda value: value.row),
        Spec("where", "Page", cell=_where_cell),
        Spec("print", "In the PDF", kind="wide", cell=lambda value: value.in_print or "–"),
        Spec("origin", "Source row", kind="wide", cell=_origin_text),
    ]
    listed = ticks[:MOST_TICKS]
    note = say("working.ticks_note", shown=len(listed), all=len(ticks))
    return table("ticks", say("working.ticks_caption"), columns, listed, note=note, row_header=-1)


def _where_cell(value: PrintedValue) -> Cell:
    return Cell(value.page.id, Ref(value.page.kind, value.page.id, f"table-{value.id}"))


def _origin_text(value: PrintedValue) -> str:
    file, row, column = value.origin or ("", 0, "")
    return say("working.origin", file=file, row=row, column=column)


def _formula_facts() -> Facts:
    sheet = Cell(say("working.sheet"), Ref("page", "calculation"))
    return Facts(
        (
            (worded("Worked examples"), sheet),
            (worded("Limits applied"), Cell(worded("Limits and sources"), Ref("page", "limits"))),
        )
    )


@traced
def _columns_table(context: Context, pages: Sequence[Page]) -> Table:
    columns: list[Spec[SilentColumn]] = [
        Spec("file", "File", cell=lambda one: Cell(one.file, Ref("source", f"file-{one.table}"))),
        Spec("column", "Column", cell=lambda one: one.column.name),
        Spec("meaning", "Meaning", kind="wide", cell=lambda one: worded(one.column.meaning)),
        Spec("why", "Reason listed", cell=lambda one: say(f"working.{one.why}")),
    ]
    caption, note = say("working.columns_caption"), say("working.columns_note")
    return table("silent-columns", caption, columns, silent_columns(context, pages), note=note)


class SilentColumn(NamedTuple):
    """A filled column of a file that no page shows to print.

    ``why``: ``silent`` where no cell stands word for word on a page, ``short`` where its cells (yes, no, a
    digit) stand on pages for other reasons too, so that nothing can be told.
    """

    table: str
    file: str
    column: Column
    why: str


def silent_columns(context: Context, pages: Sequence[Page]) -> list[SilentColumn]:
    """Return the filled columns that no page shows to print."""
    texts, seen = _seen(pages)
    whole = "\n".join(sorted(texts))
    found = []
    for name, rows in context.survey.tables.items():
        for column in rows.spec.columns if name not in NOT_LISTED else ():
            received = rows.raw[column.name].unique() if column.name in rows.raw else ()
            filled = (one.text for (_, name_of_cell), one in rows.filled.items() if name_of_cell == column.name)
            stated = [text for text in dict.fromkeys((*received, *filled)) if text not in ("", "NA")]
            telling = [text for text in stated if not _SHORT.fullmatch(text)]
            telling += _moments(context, rows, column.name)
            if stated and not telling:
                found.append(SilentColumn(name, rows.called, column, "short"))
            elif stated and not _is_printed(telling, seen, whole):
                found.append(SilentColumn(name, rows.called, column, "silent"))
    return found


def _moments(context: Context, rows: SurveyTable, column: str) -> list[str]:
    """Return a column's times as pages write them: in the project's zone, for people and with its letters."""
    name = f"{column}_utc"
    utc = rows.frame[name].dropna().unique() if name in rows.frame else ()
    return [told for at in utc for told in (context.when(at), context.told_at(at))]


def _is_printed(cells: Sequence[str], seen: frozenset[str], whole: str) -> bool:
    forms = [form for text in cells for form in _forms(text)]
    if any(form in seen for form in forms):
        return True
    return any(" " in form and form in whole for form in forms[:MOST_SEARCHED])


def _forms(text: str) -> tuple[str, ...]:
    """Return the ways in which a page may write a cell."""
    words = (told for entries in lexicon("labels").values() if isinstance(told := entries.get(text), str))
    return (text, text.replace("T", " "), stamp_text(text), text.replace("_", " "), *words)


def _seen(pages: Sequence[Page]) -> tuple[set[str], frozenset[str]]:
    """Return every text that the pages print, and these with their words; rows as received aside.

    Of the words around tables and drawings, which are ours, only those with a digit are taken one by one:
    a *wet* vial is no moisture on record.
    """
    texts: set[str] = set()
    around: set[str] = set()
    for page in pages:
        if page.ref.kind != "source":
            texts.add(plain(page.lead))
            for block in page.blocks:
                _gather(block, texts, around)
    words = {found.strip(".:") for text in texts for found in _WORD.findall(text)}
    stated = {found.strip(".:") for text in around for found in _WORD.findall(text) if _DIGIT.search(found)}
    return texts | around, frozenset(texts | words | stated)


def _gather(block: Block, texts: set[str], around: set[str]) -> None:
    match block:
        case Section():
            for inner in block.blocks:
                _gather(inner, texts, around)
        case Table():
            around.update((block.caption, plain(block.note)))
            texts.update(cell.text for row in block.rows for cell in row)
        case Facts():
            texts.update(cell.text for _, cell in block.rows)
        case Figure():
            around.update((block.caption, block.alt, plain(block.description)))
            if block.table is not None:
                _gather(block.table, texts, around)
        case Quote():
            texts.add(block.text)
        case Photo():
            texts.update((block.file, block.caption, block.alt))
        case Prose() | Callout():
            texts.add(plain(block.markdown))
        case _:
            pass
