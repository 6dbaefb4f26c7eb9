"""The claim ledger: each sentence that claims something, what it names, and what the record has of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sitegen.compute.evidence.difference import Difference
from sitegen.compute.statistics.rounding import shown
from sitegen.compute.text.claims import CLAIMING, Claim, Judged, Measured, Record, claims
from sitegen.compute.text.claimtext import is_word
from sitegen.compute.text.tokens import fill
from sitegen.report.record.pages import Block, Cell, Column, Page, Ref, Section, Table
from sitegen.report.results.mapdata import sum_text
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.narrative import token_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import value_cell
from sitegen.report.write.words import prose, say, word

LEDGER = Ref("page", "claims")
SUMS = Ref("page", "relations", "sums")
"""Where the masses of a group are shown together, point by point."""

_BLANK = Cell("")


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
    told = [_Told(claim, tuple(record.judged(claim))) for claim in claims(context.survey)]
    numbers = sum(not is_word(row.location_id) for row in context.locations)
    blocks: list[Block] = [prose("ledger.how", team=context.for_team, compared=difference is not None, numbers=numbers)]
    at = 0
    for section in CLAIMING:
        mine = [one for one in told if one.claim.section == section]
        if mine:
            table = _table(context, section, mine, at, difference)
            blocks.append(Section(f"claims-{section}", word("section", section), (table,)))
            at += len(mine)
    return Page(LEDGER, "Claim ledger", _lead(told, team=context.for_team), tuple(blocks), group="Quality")


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
    columns = (
        Column("number", "No."),
        Column("claim", "Sentence", kind="wide", tells=True),
        Column("values", "Values in it", kind="wide", tells=True),
        Column("map", "Compound or group"),
        Column("point", "Point"),
        Column("said", "Read as"),
        Column("mass", "On record", context.mass_unit.text, "number"),
        Column("rank", "Rank among detections", tells=True),
        Column("verdict", "Beside the record", tells=True),
        *((Column("state", "Since the previous revision"),) if difference else ()),
    )
    rows = tuple(
        row for number, one in enumerate(told, start=at + 1) for row in _rows(context, one, number, difference)
    )
    caption = say("ledger.caption", section=word("section", section).lower())
    return Table(f"claims-{section}", caption, columns, rows, row_header=-1)


def _rows(context: Context, told: _Told, number: int, difference: Difference | None) -> Iterator[tuple[Cell, ...]]:
    """Yield a row for each value, each pair and each name alone of a sentence; the first has its text."""
    claim = told.claim
    text = fill(claim.text, _Printed(context.tokens))
    state = (_state(context, claim, difference),) if difference else ()
    for at, leans in enumerate([*_leanings(context, told)] or [_row(values=Cell(say("ledger.no_value")))]):
        if at == 0:
            yield (Cell(str(number), section_ref(claim.section)), Cell(text), *leans, *state)
        else:
            again = Cell(str(number)), Cell(say("ledger.again"), tone="muted")
            yield (*again, *leans, *(_BLANK for _ in state))


def _row(**cells: Cell) -> tuple[Cell, ...]:
    names = ("values", "map", "point", "said", "mass", "rank", "verdict")
    return tuple(cells.get(name, _BLANK) for name in names)


def _leanings(context: Context, told: _Told) -> Iterator[tuple[Cell, ...]]:
    claim, read = told.claim, told.claim.read
    for name in claim.tokens:
        yield _row(values=Cell(f"{name}: {context.tokens.get(name, '–')}", token_ref(context, name)))
    for judged in told.judged:
        yield _pair(context, judged)
    if read.unpaired:
        yield _row(said=Cell(say("ledger.unpaired"), tone="flag"))
    paired = {judged.reading.what for judged in told.judged} | {judged.reading.point for judged in told.judged}
    paired |= {judged.reading.other[1] for judged in told.judged if judged.reading.other}
    alone = Cell(say("ledger.alone"), tone="muted")
    for key in read.compounds:
        if key not in paired:
            yield _row(map=_what(context, "compound", key), said=alone)
    for group in read.groups:
        if group not in paired:
            yield _row(map=_what(context, "group", group), said=alone)
    for name in read.points:
        if name not in paired:
            yield _row(point=Cell(name, location_ref(name)), said=alone)


def _what(context: Context, kind: str, key: str) -> Cell:
    if kind == "compound":
        return Cell(context.name(key), Ref("compound", key))
    return Cell(say("ledger.group", group=word("compound_group", key)), SUMS)


def _pair(context: Context, judged: Judged) -> tuple[Cell, ...]:
    reading, found = judged.reading, judged.found
    other = ""
    if reading.other:
        kind, key = reading.other
        other = key if kind == "point" else _what(context, kind, key).text
    told_open = reading.limited and judged.verdict == "open"
    tone = "flag" if judged.verdict in ("differs", "no result") or told_open else ""
    return _row(
        map=_what(context, reading.kind, reading.what),
        point=Cell(reading.point, location_ref(reading.point)),
        said=Cell(say("ledger.said", relation=reading.relation, other=other, of=reading.of)),
        mass=_mass(context, judged),
        rank=Cell(f"{found.rank} of {found.detections}" if found and found.rank else "–"),
        verdict=Cell(_verdict(judged, limited=told_open, team=context.for_team), tone=tone),
    )


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
    return shown(found.mass) if found.mass is not None else say("ledger.not_detected")


class _Printed(dict[str, str]):
    """Token texts; an unknown token stays as it is written."""

    def __missing__(self, name: str) -> str:
        return f"{{{{ {name} }}}}"


def _state(context: Context, claim: Claim, difference: Difference) -> Cell:
    compounds = {change.key.rpartition("+")[2] for change in difference.values}
    groups = {context.compounds[key].group for key in compounds if key in context.compounds}
    what = [
        *(name for name in claim.tokens if name in difference.changed_tokens),
        *(name for name in claim.compounds if name in compounds),
        *(word("compound_group", group) for group in claim.read.groups if group in groups),
        *(name for name in claim.read.points if name in difference.points),
    ]
    if what:
        return Cell(say("ledger.changed", what="; ".join(what)), tone="flag")
    return Cell(say("ledger.same"))
