"""Custody as time lines and tables, for samplers, bags and shipments alike."""

from __future__ import annotations

from datetime import date, timedelta

from sitegen.compute.custody.chains import Chain
from sitegen.compute.custody.events import Event
from sitegen.compute.custody.walk import GAPS, LABORATORY, OVERLAP, UNNAMED, SilentChange, Span
from sitegen.compute.formats import duration_text, short_day
from sitegen.figures.inputs import CustodyRow, CustodySegment, Tick
from sitegen.figures.timeline import custody_timeline
from sitegen.report.record.pages import Cell, Figure, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.trace.printed import record_ref
from sitegen.report.write.context import Context
from sitegen.report.write.derived import derived_text
from sitegen.report.write.scans import scan_ref
from sitegen.report.write.traced import traced
from sitegen.report.write.values import place_text
from sitegen.report.write.words import say, word
from sitegen.voice import worded

_KINDS = {"sampler": "sampler", "bag": "bag", "shipment": "shipment"}


def timeline_row(label: str, chain: Chain) -> CustodyRow:
    """Return a chain as a row of a time line, up to where it is drawn, its analyses ticked."""
    end = chain.drawn_to
    segments = tuple(
        CustodySegment(s.start, min(s.end, end), s.state, holder_text(s)) for s in chain.spans if s.start < end
    )
    analysed = tuple(Tick(event.utc, worded("analysed")) for event in chain.events if event.kind == "analysed")
    changes = tuple(dict.fromkeys(change.event.utc for change in changes_drawn(chain)))
    return CustodyRow(label, segments, analysed, changes)


def changes_drawn(chain: Chain) -> tuple[SilentChange, ...]:
    """Return the changes of custodian without a transfer on record that a drawing of the chain reaches."""
    return tuple(change for change in chain.silent_changes if change.event.utc <= chain.drawn_to)


def _change_text(context: Context, change: SilentChange) -> str:
    return say(
        "custody.silent_change",
        when=context.told_at(change.event.utc),
        before=worded(change.before),
        after=worded(change.event.by),
    )


def holder_text(span: Span) -> str:
    """Write who held a thing; of a time without a custodian, who gave it and who took it next."""
    if span.state == OVERLAP:
        return worded("{first} and {last}", first=_party(span.giver), last=_party(span.taker))
    return " → ".join(map(_party, span.holder.split(" → ")))


def _party(role: str) -> str:
    """Return a role's code as it is on record; in words where none is."""
    return worded(role) if role in (UNNAMED, LABORATORY) else role


def after_analysis(context: Context, chain: Chain) -> str:
    """Return in words what became of a sampler that was kept after its analysis, "" where nothing is on record."""
    end = chain.spans[-1].end
    if end <= chain.drawn_to:
        return ""
    disposed = any(event.kind == "disposed" and event.utc == end for event in chain.events)
    return say("custody.after_analysis", when=context.told_at(end), disposed=disposed)


def day_ticks(context: Context, start: int, end: int) -> tuple[Tick, ...]:
    """Return a tick at local midnight of days between two moments, at most about a dozen."""
    first, last = context.when(start)[:10], context.when(end)[:10]
    days = _days(first, last)
    step = max(1, -(-len(days) // 12))
    ticks = []
    for day in days[::step]:
        at = context.local_midnight(day)
        if at is not None and start <= at <= end:
            ticks.append(Tick(at, short_day(date.fromisoformat(day))))
    return tuple(ticks)


def _days(first: str, last: str) -> list[str]:
    one, two = date.fromisoformat(first), date.fromisoformat(last)
    return [(one + timedelta(days=n)).isoformat() for n in range((two - one).days + 1)]


@traced
def chain_figure(context: Context, figure_id: str, label: str, chain: Chain, kind: str) -> Figure | None:
    """Draw one chain with its holders; None where nothing is recorded."""
    if not chain.spans:
        return None
    start, end = chain.spans[0].start, chain.drawn_to
    svg = custody_timeline(figure_id, (timeline_row(label, chain),), start, end, day_ticks(context, start, end))
    states = "; ".join(f"{worded(span.state)} {duration_text(span.minutes)}" for span in chain.spans)
    facts = {"what": f"{word('subject_kind', kind)} {label}", "states": states, "spans": len(chain.spans)}
    changes = [_change_text(context, change) for change in changes_drawn(chain)]
    ends = chain.spans[-1].end > end
    later = say("custody.line_ends", later=after_analysis(context, chain)) if ends else ""
    return Figure(
        figure_id,
        svg,
        say("custody.chain_caption", **facts),
        say("custody.chain_alt", **facts),
        say("custody.chain_words", states=states, changes=changes, later=later),
    )


@traced
def sampler_figure(context: Context, sampler_id: str, chain: Chain) -> Figure | None:
    """Draw a sampler's chain, once for every page that shows it."""
    if sampler_id not in context.chains:
        context.chains[sampler_id] = chain_figure(context, f"chain-{sampler_id}", sampler_id, chain, "sampler")
    return context.chains[sampler_id]


@traced
def spans_table(context: Context, table_id: str, chain: Chain, caption: str) -> Table:
    """Return who held it, from when to when."""
    columns: list[Spec[Span]] = [
        Spec("from", "From", cell=lambda span: context.when(span.start)),
        Spec("to", "To", cell=lambda span: context.when(span.end)),
        Spec("time", "Duration", kind="number", cell=lambda span: duration_text(span.minutes)),
        Spec("state", "State", cell=_state_cell),
        Spec("holder", "Custodian", cell=lambda span: holder_text(span) or "–"),
        Spec("place", "Place", kind="wide", cell=lambda span: span.place or "–"),
        Spec("evidence", "Recorded in", cell=lambda span: _recorded_cell(context, span.events[0])),
    ]
    return table(table_id, caption, columns, chain.spans, row_header=-1)


def _state_cell(span: Span) -> Cell:
    return Cell(worded(span.state), tone="flag" if span.state in GAPS else "stop" if span.state == OVERLAP else "")


def _recorded_cell(context: Context, event: Event) -> Cell:
    """Return the row that records an event, or the row of another table that it is derived from."""
    derived = context.survey.settings.derive.custody and not event.event_id
    return Cell(derived_text(event) if derived else place_text(event.origin), record_ref(event.origin.where()))


@traced
def events_table(context: Context, table_id: str, events: tuple[Event, ...], caption: str) -> Table:
    """Return each event with the row and the document that record it."""
    columns: list[Spec[Event]] = [
        Spec("at", "Date and time", cell=lambda event: context.when(event.utc)),
        Spec("event", "Event", cell=_event_text),
        Spec("subject", "Item", cell=_subject_cell),
        Spec("by", "By", cell=lambda event: event.by or "–"),
        Spec("to", "To", cell=lambda event: event.to or "–"),
        Spec("signature", "Signed", cell=_signature_cell),
        Spec("seal", "Seal", cell=lambda event: event.seal_number or "–"),
        Spec("place", "Place and remark", kind="wide", cell=_remark_text),
        Spec("evidence", "Recorded in", cell=lambda event: _evidence_cell(context, event)),
    ]
    return table(table_id, caption, columns, events, row_header=-1)


def _event_text(event: Event) -> str:
    kind, seal = word("event", event.kind), event.seal_condition
    return worded("{event}, seal {condition}", event=kind, condition=word("seal_condition", seal)) if seal else kind


def _subject_cell(event: Event) -> Cell:
    kind = _KINDS.get(event.subject_kind, "")
    return Cell(
        f"{word('subject_kind', event.subject_kind)} {event.subject_id}", Ref(kind, event.subject_id) if kind else None
    )


def _signature_cell(event: Event) -> Cell:
    return (
        Cell(worded("not signed"), tone="flag")
        if event.signature == "none"
        else Cell(word("signed", event.signature) if event.signature else "–")
    )


def _remark_text(event: Event) -> str:
    return ". ".join(part for part in (event.place, event.comment) if part) or "–"


def _evidence_cell(context: Context, event: Event) -> Cell:
    """Return the row and the document that record an event."""
    recorded = _recorded_cell(context, event)
    text = f"{recorded.text}; {event.scan_file}" if event.scan_file else recorded.text
    ref = scan_ref(context.survey, event.scan_file) or recorded.ref
    return recorded._replace(text=text, ref=ref, origin=event.origin.cell(event.column))
