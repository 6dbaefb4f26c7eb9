"""The claim ledger: each sentence that claims something, what it names, and what the record has of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from sitegen.compute.evidence.difference import Difference
from sitegen.compute.evidence.statements import Statement
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.compute.text.claims import CLAIMING, Claim, Judged, Measured, Record, claims
from sitegen.compute.text.claimtext import is_word
from sitegen.compute.text.tokens import fill, shared
from sitegen.report.evidence.changeresults import reader_for
from sitegen.report.evidence.changetables import before_text, names_text
from sitegen.report.record.pages import Block, Cell, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.mapdata import sum_text
from sitegen.report.write.columns import compound_cell, point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import token_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

LEDGER = Ref("page", "claims")
SUMS = Ref("page", "relations", "sums")
"""Where the masses of a group are shown together, point by point."""

_Line: TypeAlias = Mapping[str, Cell]
"""A row of the ledger: cells by the key of their column; what it has no cell for stays empty."""


@dataclass(frozen=True, slots=True)
class _Told:
    """A sentence with its readings beside the record."""

    claim: Claim
    judged: tuple[Judged, ...]

    @property
    def leans(self) -> bool:
        """Whether it names any value, compound, group or point."""
        read = self.claim.read
        return bool(self.claim.tokens or read.compounds or read.groups or read.points)


def section_ref(section: str) -> Ref:
    """Return where a section's text is printed."""
    return Ref("page", "start", "summary") if section == "summary" else Ref("page", "report", f"text-{section}")


@traced
def ledger_page(context: Context, difference: Difference | None) -> Page:
    """Return the page that lists every claim: values, pairs with value and rank, and whether one changed."""
    record = Record(context.evaluation)
    told = [_Told(claim, tuple(record.judge(claim))) for claim in claims(context.survey)]
    numbers = sum(not is_word(row.location_id) for row in context.locations)
    blocks: list[Block] = [prose("ledger.how", team=context.for_team, compared=difference is not None, numbers=numbers)]
    at = 0
    for section in CLAIMING:
        mine = [one for one in told if one.claim.section == section]
        if mine:
            rows = _table(context, section, mine, at, difference)
            blocks.append(Section(f"claims-{section}", word("section", section), (rows,)))
            at += len(mine)
    return Page(
        LEDGER, worded("Claim ledger"), _lead(told, team=context.for_team), tuple(blocks), group="For reviewers"
    )


def _lead(told: Sequence[_Told], *, team: bool) -> str:
    verdicts = [judged.verdict for one in told for judged in one.judged if judged.verdict != "named"]
    return say(
        "ledger.lead",
        team=team,
        claims=len(told),
        sections=[word("section", name).lower() for name in CLAIMING if any(t.claim.section == name for t in told)],
        read=len(verdicts),
        agree=verdicts.count("agrees"),
        differ=verdicts.count("differs") + verdicts.count("no result"),
        open=verdicts.count("open"),
        bare=sum(not one.leans for one in told),
    )


@traced
def _table(context: Context, section: str, told: Sequence[_Told], at: int, difference: Difference | None) -> Table:
    state: list[Spec[_Line]] = [_column("state", "Since the previous revision", kind="wide")] if difference else []
    columns: list[Spec[_Line]] = [
        _column("number", "No."),
        _column("claim", "Sentence", kind="wide", tells=True),
        _column("values", "Values cited", kind="wide", tells=True),
        _column("map", "Compound or group"),
        _column("point", "Point"),
        _column("said", "Read as"),
        _column("mass", "On record", context.mass_unit.text, "number"),
        _column("rank", "Rank among detections", tells=True),
        _column("verdict", "Agreement with the record", tells=True),
        *state,
    ]
    lines = [line for number, one in enumerate(told, start=at + 1) for line in _lines(context, one, number, difference)]
    caption = say("ledger.caption", section=word("section", section).lower())
    return table(f"claims-{section}", caption, columns, lines, row_header=-1)


def _column(key: str, title: str, unit: str = "", kind: str = "text", *, tells: bool = False) -> Spec[_Line]:
    return Spec(key, title, unit, kind, cell=lambda line: line.get(key, Cell("")), tells=tells)


def _lines(context: Context, told: _Told, number: int, difference: Difference | None) -> Iterator[_Line]:
    """Yield a line for each value, each pair and each name alone of a sentence; the first has its text."""
    claim = told.claim
    head = {"number": Cell(str(number), section_ref(claim.section))}
    head["claim"] = Cell(fill(claim.text, _Printed(context.tokens)))
    if difference:
        head["state"] = _state(context, claim, difference)
    for leans in [*_leanings(context, told)] or [{"values": Cell(say("ledger.no_value"))}]:
        yield {**head, **leans}
        head = {"number": Cell(str(number)), "claim": Cell(say("ledger.again"), tone="muted")}
    one = _statement(claim, difference) if difference else None
    if difference and one and one.before != one.after:
        before = before_text(one, team=reader_for(context, difference).team)
        yield {**head, "state": Cell(say("ledger.before", before=before), tone="muted")}


def _leanings(context: Context, told: _Told) -> Iterator[_Line]:
    claim, read = told.claim, told.claim.read
    for name in claim.tokens:
        yield {"values": Cell(f"{name}: {context.tokens.get(name, '–')}", token_ref(context, name))}
    for judged in told.judged:
        yield _pair(context, judged)
    if read.unpaired:
        yield {"said": Cell(say("ledger.unpaired"), tone="flag")}
    paired = {judged.reading.what for judged in told.judged} | {judged.reading.point for judged in told.judged}
    paired |= {judged.reading.other[1] for judged in told.judged if judged.reading.other}
    alone = Cell(say("ledger.alone"), tone="muted")
    for key in read.compounds:
        if key not in paired:
            yield {"map": _what(context, "compound", key), "said": alone}
    for group in read.groups:
        if group not in paired:
            yield {"map": _what(context, "group", group), "said": alone}
    for name in read.points:
        if name not in paired:
            yield {"point": point_cell(name), "said": alone}


def _what(context: Context, kind: str, key: str) -> Cell:
    if kind == "compound":
        return compound_cell(context, key)
    return Cell(say("ledger.group", group=word("compound_group", key)), SUMS)


def _pair(context: Context, judged: Judged) -> _Line:
    reading, found = judged.reading, judged.found
    other = ""
    if reading.other:
        kind, key = reading.other
        other = key if kind == "point" else _what(context, kind, key).text
    told_open = reading.limited and judged.verdict == "open"
    tone = "flag" if judged.verdict in ("differs", "no result") or told_open else ""
    return {
        "map": _what(context, reading.kind, reading.what),
        "point": point_cell(reading.point),
        "said": Cell(say("ledger.said", relation=reading.relation, other=other, of=reading.of)),
        "mass": _mass(context, judged),
        "rank": Cell(shared(found.rank, found.detections) if found and found.rank else "–"),
        "verdict": Cell(_verdict(judged, limited=told_open, team=context.for_team), tone=tone),
    }


def _mass(context: Context, judged: Judged) -> Cell:
    """Return what the record has at the point, as the report writes it."""
    reading, found = judged.reading, judged.found
    if found is None:
        return Cell("–", tone="muted")
    if found.row is not None:
        return value_cell(found.row, context.display, context.marks(found.row))
    return Cell(sum_text(context, context.group_sums[reading.what][reading.point], "sum_short"))


def _verdict(judged: Judged, *, limited: bool, team: bool) -> str:
    found = judged.found
    return say(
        "ledger.verdict",
        team=team,
        verdict=judged.verdict,
        limited=limited,
        highest_at=found.highest_at if found and judged.reading.relation == "highest" else "",
        other=_short(judged.other) if judged.reading.other else "",
    )


def _short(found: Measured | None) -> str:
    if found is None:
        return say("ledger.no_result")
    return rounded_text(found.mass) if found.mass is not None else say("ledger.not_detected")


class _Printed(dict[str, str]):
    """Token texts; an unknown token stays as it is written."""

    def __missing__(self, name: str) -> str:
        return f"{{{{ {name} }}}}"


def _statement(claim: Claim, difference: Difference) -> Statement | None:
    """Return a sentence beside both revisions: that of its words, of which a line may have several."""
    mine = (one for one in difference.statements if (one.section, one.line) == (claim.section, claim.line))
    return next((one for one in mine if one.written == claim.text), None)


def _state(context: Context, claim: Claim, difference: Difference) -> Cell:
    """Say what of a sentence changed."""
    one = _statement(claim, difference)
    if one is None or not one.touched:
        return Cell(say("ledger.same"))
    what = names_text(context, one.names, team=reader_for(context, difference).team)
    return Cell(say("ledger.changed", what=what, otherwise=one.state == "changed"), tone="flag")
