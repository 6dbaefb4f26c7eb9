"""Sensitivity, for the reviewer: statements and claims without the qualified samplers, and at other limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from sitegen.compute.evidence.sensitivity import (
    TOP,
    Answer,
    Detections,
    Direction,
    Highest,
    Ranking,
    Recomputed,
    Variant,
    recomputed,
    variants,
)
from sitegen.compute.picture.leading import highest_by_group
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.results.summary import Summary
from sitegen.compute.statistics.rounding import percent
from sitegen.figures.ground import Ground
from sitegen.figures.multiples import Panel, small_multiples
from sitegen.report.evidence.ledger import LEDGER
from sitegen.report.record.pages import Block, Cell, Figure, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.mapdata import place_values
from sitegen.report.results.patterns import PATTERNS, shown_flows
from sitegen.report.write.columns import compound_cell, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word

PAGE = Ref("page", "sensitivity")

PER_FIGURE = 3
"""Compounds on one sheet of maps, each with two."""


def sensitivity_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the page, for the team alone; nothing where there is no other reading of the data, or no statement."""
    page = sensitivity_page(context, ground) if context.for_team else None
    if page:
        yield page


@traced
def sensitivity_page(context: Context, ground: Ground | None) -> Page | None:
    """Return the page with each statement under each variant, and the maps of the leading compounds."""
    others = variants(context.evaluation)
    without = next((one for one in others if one.name == "unqualified"), None)
    maps = map_figures(context, ground, without) if ground and without else ()
    lines = shown_flows(context)
    found = recomputed(context.evaluation, others, lines) if others else ()
    if not found:
        return None
    left_out = without.left_out if without else ()
    how = prose(
        "resultpictures.sensitivity_how",
        left_out=len(left_out),
        points=", ".join(left_out),
        sampled=len(context.by_location),
        lifted=sum(one.lifted for one in others),
    )
    made = statements_table(context, others, found, lines)
    blocks: list[Block] = [how, Section("statements", say("resultpictures.sensitivity_statements"), (made,))]
    if maps:
        blocks.append(Section("maps", say("resultpictures.sensitivity_maps"), maps))
    title = say("resultpictures.sensitivity_title")
    return Page(PAGE, title, _lead(others, found), tuple(blocks), group="Quality")


def _lead(others: Sequence[Variant], found: Sequence[Recomputed]) -> str:
    counted = []
    for at, one in enumerate(others):
        states = [statement.outcomes[at].state for statement in found]
        counts = (states.count(state) for state in ("unchanged", "changed", "undetermined"))
        counted.append((one.name, len(one.left_out), one.lifted, *counts))
    return say("resultpictures.sensitivity_lead", total=len(found), variants=counted)


@traced
def statements_table(
    context: Context, others: Sequence[Variant], found: Sequence[Recomputed], lines: Sequence[FlowPath]
) -> Table:
    """Return each statement as all results give it, and what becomes of it under each variant."""
    columns: list[Spec[Recomputed]] = [
        Spec("statement", _head("statement"), kind="wide", cell=lambda one: _about(context, one, lines), tells=True),
        Spec("base", _head("base"), cell=lambda one: _answer_text(context, one.answer), tells=True),
        *(_outcome_column(context, one, at) for at, one in enumerate(others)),
    ]
    caption, note = (say(f"resultpictures.sensitivity_{what}") for what in ("caption", "note"))
    return table("sensitivity", caption, columns, found, note=note)


def _head(name: str) -> str:
    return say("resultpictures.sensitivity_column", name=name)


def _outcome_column(context: Context, variant: Variant, at: int) -> Spec[Recomputed]:
    def cell(one: Recomputed) -> Cell:
        state, now = one.outcomes[at]
        text = _answer_text(context, now) if now else ""
        detail = text if state == "unchanged" and text != _answer_text(context, one.answer) else ""
        tone = {"changed": "flag", "undetermined": "muted"}.get(state, "")
        return Cell(say("resultpictures.sensitivity_outcome", state=state, now=text, detail=detail), tone=tone)

    return Spec(variant.name, _head(variant.name), cell=cell, tells=True)


def _about(context: Context, one: Recomputed, lines: Sequence[FlowPath]) -> Cell:
    """Say what a statement is about, with a link to where the report has it."""
    subject = one.subject
    facts: dict[str, object] = {"kind": subject.kind, "top": TOP, "number": subject.number}
    if subject.claim and subject.judged:
        reading = subject.judged.reading
        of_group = reading.kind == "group"
        facts["section"] = word("section", subject.claim.section).lower()
        facts["what"] = word("compound_group", reading.what) if of_group else context.name(reading.what)
        other = reading.other[1] if reading.other else ""
        other = context.name(other) if reading.other and reading.other[0] == "compound" else other
        facts["said"] = say("ledger.said", relation=reading.relation, other=other, of=reading.of)
        facts["ends"] = not reading.other and reading.of == 1
        return Cell(say("resultpictures.sensitivity_about", **facts, point=reading.point), LEDGER)
    if subject.kind == "highest":
        return Cell(say("resultpictures.sensitivity_about", **facts, group=word("compound_group", subject.group)))
    facts["name"] = context.name(subject.analyte_id)
    ref = Ref("compound", subject.analyte_id)
    if subject.kind == "direction":
        facts["line"] = lines[subject.line].name
        ref = PATTERNS
    return Cell(say("resultpictures.sensitivity_about", **facts), ref)


def _answer_text(context: Context, answer: Answer) -> str:
    """Write what the data say of a statement."""
    facts: dict[str, object]
    match answer:
        case Highest(analyte_id, point):
            facts = {"kind": "highest", "name": context.name(analyte_id), "point": point}
        case Ranking(points):
            facts = {"kind": "ranking", "points": points}
        case Detections(detected, analysed):
            share = percent(detected, analysed)
            facts = {"kind": "detections", "detected": detected, "analysed": analysed, "share": share}
        case Direction(sign, s, ordered):
            facts = {"kind": "direction", "sign": sign, "pairs": (ordered + abs(s)) // 2, "ordered": ordered}
        case verdict:
            facts = {"kind": "claim", "verdict": verdict.word}
    return say("resultpictures.sensitivity_answer", **facts)


class _Shown(NamedTuple):
    """One small map: its compound, whether the qualified samplers are left out, and the summary of its soil points."""

    analyte_id: str
    without: bool
    soil: Summary | None

    def words(self, context: Context) -> str:
        """Name the map."""
        return say("resultpictures.sensitivity_panel", name=context.name(self.analyte_id), without=self.without)

    @property
    def found(self) -> str:
        """How many soil points have it."""
        detected, analysed = (self.soil.detected, self.soil.analysed) if self.soil else (0, 0)
        return say("resultpictures.sensitivity_panel_note", detected=detected, analysed=analysed)

    @property
    def highest_at(self) -> str:
        """The point of the highest mass, "" where none was detected."""
        return self.soil.highest_at if self.soil else ""


def map_figures(context: Context, ground: Ground, without: Variant) -> tuple[Figure, ...]:
    """Return the maps of the leading compounds with and without the qualified samplers, some to a figure."""
    leading = [one.analyte_id for one in highest_by_group(context.evaluation).values()]
    sheets = [leading[at : at + PER_FIGURE] for at in range(0, len(leading), PER_FIGURE)]
    return tuple(
        _map_figure(context, ground, without, sheet, (number, len(sheets)))
        for number, sheet in enumerate(sheets, start=1)
    )


@traced
def _map_figure(
    context: Context, ground: Ground, without: Variant, names: Sequence[str], sheet: tuple[int, int]
) -> Figure:
    number, count = sheet
    shown = [
        _Shown(name, left_out, evaluation.summaries.get((name, "soil")))
        for name in names
        for left_out, evaluation in ((False, context.evaluation), (True, without.evaluation))
    ]
    pairs = zip(shown[::2], shown[1::2], strict=True)
    facts = {
        "unit": context.mass_unit.text,
        "number": number,
        "count": count,
        "maps": len(shown),
        "names": [context.name(name) for name in names],
        "left_out": len(without.left_out),
        "points": ", ".join(without.left_out),
        "tops": [(context.name(before.analyte_id), before.highest_at, now.highest_at) for before, now in pairs],
    }
    figure_id = f"sensitivity-{number}"
    panels = [_panel(context, ground, without, one) for one in shown]
    columns: list[Spec[_Shown]] = [
        Spec("compound", _map_head("compound"), cell=lambda one: compound_cell(context, one.analyte_id)),
        Spec("shown", _map_head("shown"), cell=lambda one: _head("unqualified" if one.without else "base")),
        Spec("found", _map_head("found"), cell=lambda one: one.found, tells=True),
        Spec("where", _map_head("where"), cell=lambda one: point_cell(one.highest_at)),
    ]
    return Figure(
        figure_id,
        small_multiples(figure_id, ground, panels, context.class_labels, context.mass_unit.text, columns=2),
        say("resultpictures.sensitivity_maps_caption", **facts),
        say("resultpictures.sensitivity_maps_alt", **facts),
        say("resultpictures.sensitivity_maps_words", **facts),
        table(f"{figure_id}-data", say("resultpictures.sensitivity_maps_data"), columns, shown),
        ground.room.placing,
    )


def _map_head(name: str) -> str:
    return say("resultpictures.sensitivity_maps_column", name=name)


def _panel(context: Context, ground: Ground, without: Variant, one: _Shown) -> Panel:
    """Return a small map; one without the qualified samplers does not draw their points."""
    values = place_values(context, one.analyte_id)
    if not one.without:
        return Panel(one.words(context), one.found, values)
    kept = [at for at, point in enumerate(ground.points) if point.label not in without.left_out]
    points = tuple(ground.points[at] for at in kept)
    return Panel(one.words(context), one.found, [values[at] for at in kept], points)
