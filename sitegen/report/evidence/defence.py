"""The defensibility sheet, the proposed qualifiers, and the analysis batches."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sitegen.compute.evidence.bases import Basis
from sitegen.compute.evidence.defence import ANSWERS, NO_RECORD, Answer, defence
from sitegen.compute.quality.batches import QC_TYPES, Batch, batches
from sitegen.compute.quality.blanks import BlankHit
from sitegen.compute.results.store import StoredResult
from sitegen.findings.problems import Finding
from sitegen.project.tables import LabSample
from sitegen.report.record.pages import Cell, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.review.findings import about_text
from sitegen.report.write.columns import POINT_OR_LABEL, SAMPLER, compound_column, point_cell, result_column
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import lexicon, say, word
from sitegen.voice import worded

PAGE = Ref("page", "defensibility")
QUALITY = Ref("page", "quality")


def defence_pages(context: Context) -> Iterator[Page]:
    """Yield the defensibility sheet and a page for each batch."""
    given = [answer.answer for answer in defence(context.own_findings, context.bases)]
    facts = {"total": len(given), "counts": [(answer, given.count(answer)) for answer in ANSWERS]}
    yield Page(
        PAGE, worded("Defensibility sheet"), say("defence.lead", **facts), (defence_table(context),), group="Quality"
    )
    for batch in batches(context.survey):
        yield _batch_page(context, batch)


@traced
def defence_table(context: Context) -> Table:
    """Return the statements with their answers and the evidence."""
    columns: list[Spec[Answer]] = [
        Spec("statement", "Statement", kind="wide", cell=_statement_cell),
        Spec(
            "answer",
            "Answer",
            cell=_answer_cell,
        ),
        Spec("rests", "Evidence", kind="wide", cell=_basis_text, tells=True),
        Spec(
            "against",
            "Exceptions",
            kind="wide",
            cell=lambda answer: _against_cell(context, answer),
            tells=True,
        ),
    ]
    answers = defence(context.own_findings, context.bases)
    note = say("defence.note", team=context.for_team)
    return table("defensibility", say("defence.caption"), columns, answers, note=note)


def _answer_cell(answer: Answer) -> Cell:
    return Cell(word("answer", answer.answer), tone=answer.answer.replace(" ", "-"))


def _statement_cell(answer: Answer) -> Cell:
    return Cell(worded(answer.statement.text), Ref("page", answer.statement.page))


def _basis_text(answer: Answer) -> str:
    return "; ".join(rests(basis) for basis in answer.rests_on)


def _against_cell(context: Context, answer: Answer) -> Cell:
    text = "; ".join(_against(context, answer.against)) or _unopposed(answer)
    return Cell(text, Ref("finding", answer.against[0].key) if answer.against else None)


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
    columns: list[Spec[Batch]] = [
        Spec("batch", "Batch", cell=lambda batch: Cell(batch.batch_id, batch_ref(batch.batch_id))),
        Spec("samples", "Samples", kind="number", cell=lambda batch: str(_samples(batch))),
        Spec("blanks", "Method blanks", kind="number", cell=lambda batch: str(_method_blanks(batch))),
        Spec("controls", "Controls", kind="number", cell=lambda batch: str(_controls(batch))),
        Spec("touched", "Detections affected", kind="number", cell=lambda batch: _touched_text(context, batch)),
    ]
    empty = say("quality.batches_none")
    return table("batches", say("defence.batches_caption"), columns, batches(context.survey), empty=empty)


def _samples(batch: Batch) -> int:
    """Return how many samples of a batch are none of quality control."""
    return len(batch.samples) - len(batch.of_type(*QC_TYPES))


def _method_blanks(batch: Batch) -> int:
    return len(batch.of_type("method_blank"))


def _controls(batch: Batch) -> int:
    return len(batch.of_type("control", "control_duplicate"))


def _touched_text(context: Context, batch: Batch) -> str:
    return str(len(_touched(context, batch))) if _blanks(context, batch) else worded("no record")


def batch_ref(batch_id: str) -> Ref:
    """Return the pointer to a batch's page."""
    return Ref("page", f"batch-{batch_id}")


def _hits(context: Context, batch: Batch) -> list[BlankHit]:
    hits = context.evaluation.blank_hits
    return [hit for hit in hits if hit.kind == "method_blank" and hit.group == batch.batch_id]


def _touched(context: Context, batch: Batch) -> set[tuple[str, str]]:
    """Return the keys of the detections that a method blank of a batch touches."""
    return {key for hit in _hits(context, batch) for key in hit.touched}


def _blanks(context: Context, batch: Batch) -> int:
    """Return how many method blanks of a batch have results."""
    return sum(blank.kind == "method_blank" and blank.group == batch.batch_id for blank in context.evaluation.blanks)


@traced
def _batch_page(context: Context, batch: Batch) -> Page:
    touched = _touched(context, batch)
    lead = say(
        "defence.batch_lead",
        samples=_samples(batch),
        blanks=_method_blanks(batch),
        controls=_controls(batch),
        hits=len(_hits(context, batch)),
        touched=len(touched),
        analysed=_blanks(context, batch),
    )
    blocks = (
        Section("touched", worded("Results affected by its method blank"), (_touched_table(context, batch, touched),)),
        Section("members", worded("Samples in the batch"), (_members_table(context, batch),)),
    )
    return Page(
        batch_ref(batch.batch_id),
        worded("Batch {batch}", batch=batch.batch_id),
        lead,
        blocks,
        parent=QUALITY,
        search=batch.batch_id,
    )


@traced
def _touched_table(context: Context, batch: Batch, touched: set[tuple[str, str]]) -> Table:
    columns: list[Spec[StoredResult]] = [POINT_OR_LABEL, compound_column(context), result_column(context)]
    rows = [row for key, row in context.by_key.items() if key in touched]
    caption = say("defence.batch_touched_caption", batch=batch.batch_id)
    empty = say("quality.none_touched", hits=len(_hits(context, batch)), blanks=_blanks(context, batch))
    return table(f"touched-{batch.batch_id}", caption, columns, rows, empty=empty)


@traced
def _members_table(context: Context, batch: Batch) -> Table:
    columns: list[Spec[LabSample]] = [
        Spec("sample", "Laboratory sample", cell=lambda row: row.lab_sample_id),
        Spec("type", "Type", cell=lambda row: word("sample_type", row.type)),
        SAMPLER,
        Spec("point", "Point", cell=lambda row: _placed_cell(context, row)),
        Spec("analysed", worded("Analysed"), cell=lambda row: context.moment(row.analysed_at_utc)),
    ]
    caption = say("defence.batch_members_caption", batch=batch.batch_id)
    return table(f"members-{batch.batch_id}", caption, columns, batch.samples)


def _placed_cell(context: Context, row: LabSample) -> Cell:
    placement = context.placed.get(row.sampler_id)
    return point_cell(placement.location_id if placement else "")
