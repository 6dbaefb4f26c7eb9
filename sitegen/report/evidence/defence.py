"""The defensibility sheet, the proposed qualifiers, and the analysis batches."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sitegen.compute.evidence.bases import Basis
from sitegen.compute.evidence.defence import ANSWERS, NO_RECORD, Answer, defence
from sitegen.compute.quality.batches import QC_TYPES, Batch, batches
from sitegen.compute.quality.blanks import BlankHit
from sitegen.findings.problems import Finding
from sitegen.project.tables import LabSample
from sitegen.report.record.pages import Cell, Column, Page, Ref, Section, Table
from sitegen.report.review.findings import about_text
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import lexicon, say

PAGE = Ref("page", "defensibility")
QUALITY = Ref("page", "quality")


def defence_pages(context: Context) -> Iterator[Page]:
    """Yield the defensibility sheet and a page for each batch."""
    given = [answer.answer for answer in defence(context.findings, context.bases)]
    facts = {"total": len(given), "counts": [(answer, given.count(answer)) for answer in ANSWERS]}
    yield Page(PAGE, "Defensibility sheet", say("defence.lead", **facts), (defence_table(context),), group="Quality")
    for batch in batches(context.survey):
        yield _batch_page(context, batch)


@traced
def defence_table(context: Context) -> Table:
    """Return the statements with their answers and the evidence."""
    columns = (
        Column("statement", "Statement", kind="wide"),
        Column("answer", "Answer"),
        Column("rests", "What it rests on", kind="wide", tells=True),
        Column("against", "What speaks against it", kind="wide", tells=True),
    )
    rows = tuple(
        (
            Cell(answer.statement.text, Ref("page", answer.statement.page)),
            Cell(answer.answer, tone=answer.answer.replace(" ", "-")),
            Cell("; ".join(rests(basis) for basis in answer.rests_on)),
            Cell(
                "; ".join(_against(context, answer.against)) or _unopposed(answer),
                Ref("finding", answer.against[0].key) if answer.against else None,
            ),
        )
        for answer in defence(context.findings, context.bases)
    )
    return Table(
        "defensibility", say("defence.caption"), columns, rows, note=say("defence.note", team=context.for_team)
    )


def _unopposed(answer: Answer) -> str:
    """Say that no finding speaks against a statement; of one without a record that says nothing."""
    return "–" if answer.answer == NO_RECORD else say("defence.nothing")


def rests(basis: Basis) -> str:
    """Say what something rests on: ``seals read at the other end: 2 of 3``, ``no seal on record``."""
    words = lexicon("bases")[basis.name]
    return say("defence.rests", what=words["what"], one=words["one"], on=basis.on, of=basis.of)


def _against(context: Context, findings: Iterable[Finding]) -> Iterable[str]:
    """Say what each finding is about, where it does not say so itself, and what it found; each once."""
    told = ((about_text(context, f), f.found) for f in findings)
    return dict.fromkeys(
        found if about in found else say("defence.against", about=about, found=found) for about, found in told
    )


@traced
def batches_table(context: Context) -> Table:
    """Return the batches with what was analysed in each."""
    columns = (
        Column("batch", "Batch"),
        Column("samples", "Samples", kind="number"),
        Column("blanks", "Method blanks", kind="number"),
        Column("controls", "Controls", kind="number"),
        Column("touched", "Detections touched", kind="number"),
    )
    rows = tuple(
        (
            Cell(batch.batch_id, batch_ref(batch.batch_id)),
            Cell(str(len(batch.samples) - len(batch.of_type(*QC_TYPES)))),
            Cell(str(len(batch.of_type("method_blank")))),
            Cell(str(len(batch.of_type("control", "control_duplicate")))),
            Cell(
                str(len({key for hit in _hits(context, batch) for key in hit.touched}))
                if _blanks(context, batch)
                else "no record"
            ),
        )
        for batch in batches(context.survey)
    )
    return Table("batches", say("defence.batches_caption"), columns, rows, empty=say("quality.batches_none"))


def batch_ref(batch_id: str) -> Ref:
    """Return the pointer to a batch's page."""
    return Ref("page", f"batch-{batch_id}")


def _hits(context: Context, batch: Batch) -> list[BlankHit]:
    hits = context.evaluation.blank_hits
    return [hit for hit in hits if hit.kind == "method_blank" and hit.group == batch.batch_id]


def _blanks(context: Context, batch: Batch) -> int:
    """Return how many method blanks of a batch have results."""
    return sum(blank.kind == "method_blank" and blank.group == batch.batch_id for blank in context.evaluation.blanks)


@traced
def _batch_page(context: Context, batch: Batch) -> Page:
    hits = _hits(context, batch)
    touched = {key for hit in hits for key in hit.touched}
    lead = say(
        "defence.batch_lead",
        samples=len(batch.samples) - len(batch.of_type(*QC_TYPES)),
        blanks=len(batch.of_type("method_blank")),
        controls=len(batch.of_type("control", "control_duplicate")),
        hits=len(hits),
        touched=len(touched),
        analysed=_blanks(context, batch),
    )
    blocks = (
        Section("touched", "Results that its method blank touches", (_touched_table(context, batch, touched),)),
        Section("members", "Samples of the batch", (_members_table(context, batch),)),
    )
    return Page(
        batch_ref(batch.batch_id), f"Batch {batch.batch_id}", lead, blocks, parent=QUALITY, search=batch.batch_id
    )


@traced
def _touched_table(context: Context, batch: Batch, touched: set[tuple[str, str]]) -> Table:
    columns = (
        Column("point", "Point"),
        Column("compound", "Compound"),
        Column("result", "Result", context.mass_unit.text, "number"),
    )
    rows = tuple(
        (
            Cell(row.location_id or row.label, location_ref(row.location_id) if row.location_id else None),
            Cell(context.name(row.analyte_id), Ref("compound", row.analyte_id)),
            value_cell(row, context.display, context.marks(row)),
        )
        for key, row in context.by_key.items()
        if key in touched
    )
    caption = say("defence.batch_touched_caption", batch=batch.batch_id)
    empty = say("quality.none_touched", hits=len(_hits(context, batch)), blanks=_blanks(context, batch))
    return Table(f"touched-{batch.batch_id}", caption, columns, rows, empty=empty)


@traced
def _members_table(context: Context, batch: Batch) -> Table:
    columns = (
        Column("sample", "Laboratory sample"),
        Column("type", "Type"),
        Column("sampler", "Sampler"),
        Column("point", "Point"),
        Column("analysed", "Analysed"),
    )
    rows = tuple(_member_row(context, row) for row in batch.samples)
    return Table(
        f"members-{batch.batch_id}",
        say("defence.batch_members_caption", batch=batch.batch_id),
        columns,
        rows,
    )


def _member_row(context: Context, row: LabSample) -> tuple[Cell, ...]:
    sampler = row.sampler_id
    placement = context.placed.get(sampler)
    return (
        Cell(row.lab_sample_id),
        Cell(row.type.replace("_", " ")),
        Cell(sampler or "–", Ref("sampler", sampler) if sampler else None),
        Cell(placement.location_id, location_ref(placement.location_id)) if placement else Cell("–"),
        Cell(context.moment(row.analysed_at_utc)),
    )
