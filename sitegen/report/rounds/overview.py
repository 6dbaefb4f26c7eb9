"""The page on rounds: what was done in each, side by side and together."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from sitegen.compute.field.completeness import STAGES
from sitegen.compute.formats import day_text
from sitegen.compute.rounds.overview import RoundFigures, Span, own_part, round_figures, together
from sitegen.report.record.pages import Cell, Facts, Page, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.rounds.naming import round_name
from sitegen.report.rounds.sides import OVERVIEW, reported_name, round_ref, words_of
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import limits_text
from sitegen.report.write.words import say, word
from sitegen.units import minutes_to_days
from sitegen.voice import thousands, worded


class Side(NamedTuple):
    """A round, a supplement, or all together: its name and page, and its figures.

    ``what`` is ``round``, ``supplement`` or ``together``, ``part`` the id of a supplement.

    ``gap_min`` lies between the last retrieval of the round before and the first placing of this one.
    """

    key: str
    name: str
    kind: str
    season: str
    ref: Ref | None
    context: Context
    figures: RoundFigures
    what: str = "round"
    part: str = ""
    gap_min: float | None = None


class Line(NamedTuple):
    """A line of the overview: its code, and what it says of each round."""

    key: str
    cell: Callable[[Side], str]


def overview_page(context: Context) -> Page:
    """Return the page on rounds."""
    told = ", ".join(round_name(context, one) for one in context.rounds)
    lead = say(
        "rounds.overview_lead",
        rounds=len(context.rounds),
        supplements=sum(len(one.campaign.supplements) for one in context.rounds),
        told=told,
        reported=reported_name(context),
    )
    return Page(OVERVIEW, say("rounds.overview_title"), lead, (overview_table(context),), group="Findings and advice")


def sides(context: Context) -> tuple[Side, ...]:
    """Return the rounds and supplements in order of time, a round with its supplements after these."""
    found: list[Side] = []
    for number, one in enumerate(context.rounds, start=1):
        own = _sides_of(context, one, number)
        before = found[-1].figures if found else None
        found += [side._replace(gap_min=_gap_min(last, side.figures)) for last, side in _after(before, own)]
    return tuple(found)


def _after(before: RoundFigures | None, own: Sequence[Side]) -> Iterator[tuple[RoundFigures | None, Side]]:
    """Yield each side of a round with what came before it: a supplement follows its round, all together nothing."""
    for at, side in enumerate(own):
        yield (before if at == 0 else None if side.what == "together" else own[at - 1].figures), side


def _sides_of(context: Context, one: Context, number: int) -> list[Side]:
    """Return a round, then its supplements and both together, where it has any."""
    name, campaign = round_name(context, one), one.campaign
    earlier = number < len(context.rounds)
    kind = say("rounds.kind_round", reported=not earlier, source=campaign.source)
    ref = round_ref(number) if earlier else None
    if not campaign.supplements:
        figures = round_figures(one.evaluation)
        return [Side(f"round-{number}", name, kind, campaign.season, ref, one, figures)]

    def figures_of(part: str) -> RoundFigures:
        return round_figures(one.evaluation, own_part(one.survey, part))

    more = [
        Side(
            f"supplement-{number}-{at}",
            extra.title or extra.id,
            say("rounds.kind_supplement", of=name, addendum=extra.addendum),
            extra.season,
            None,
            one,
            figures_of(extra.id),
            "supplement",
            extra.id,
        )
        for at, extra in enumerate(campaign.supplements, start=1)
    ]
    title = say("rounds.with_supplements", name=name, supplements=len(campaign.supplements))
    whole = Side(f"campaign-{number}", title, "", "", ref, one, round_figures(one.evaluation), "together")
    return [Side(f"round-{number}", name, kind, campaign.season, ref, one, figures_of(campaign.id)), *more, whole]


def _gap_min(before: RoundFigures | None, after: RoundFigures) -> float | None:
    """Return the minutes between the last retrieval of a round and the first placing of the next."""
    if before is None or before.retrieved is None or after.placed is None:
        return None
    return after.placed[0] - before.retrieved[1]


@traced
def overview_table(context: Context) -> Table:
    """Return what was done in each round, side by side and together."""
    shown = sides(context)
    if context.earlier:
        figures = together([round_figures(one.evaluation) for one in context.rounds])
        shown = (*shown, Side("together", say("rounds.together"), "", "", None, context, figures, "together"))
    columns: list[Spec[Line]] = [
        Spec("what", say("rounds.overview_head"), cell=lambda line: words_of("lines", line.key)),
        *map(_column, shown),
    ]
    note = say("rounds.overview_note", several=bool(context.earlier))
    return table("rounds", say("rounds.overview_caption"), columns, lines(context), note=note)


def _column(side: Side) -> Spec[Line]:
    """Return the column of a round; what it says of its page leads there."""

    def cell(line: Line) -> Cell:
        text = line.cell(side)
        return Cell(text, side.ref if line.key == "kind" and text else None) if text else Cell("–", tone="muted")

    return Spec(side.key, side.name, cell=cell, tells=True)


def side_facts(context: Context, side: Side) -> Facts:
    """Return what was done in one round as a list of facts."""
    told = [(line.key, line.cell(side)) for line in lines(context)]
    rows = tuple((words_of("lines", key), Cell(text)) for key, text in told if text)
    words = {words_of("lines", key) for key in ("kind", "season", "methods")}
    return Facts(rows, frozenset(label for label, _ in rows if label not in words))


def lines(context: Context) -> Sequence[Line]:
    """Return the lines of the overview in the order in which the work was done."""
    unit = context.mass_unit.text
    return (
        Line("kind", lambda side: side.kind),
        Line("season", lambda side: side.season),
        Line("placing", lambda side: _days_text(side, side.figures.placed)),
        Line("retrieving", lambda side: _days_text(side, side.figures.retrieved)),
        Line("gap", _gap_text),
        *(Line(stage, _points_of(stage)) for stage in STAGES),
        Line("exposure", _exposure_text),
        Line("duplicates", _duplicates_text),
        Line("blanks", _blanks_text),
        Line("custody", _custody_text),
        Line("seals", _seals_text),
        Line("rain", _rain_text),
        Line("temperature", lambda side: _degrees(side.figures.temperature_c)),
        Line("batches", lambda side: _listed(side.figures.batches)),
        Line("methods", lambda side: "; ".join(side.figures.methods) or say("rounds.no_record")),
        Line("reporting", lambda side: _limits(side.figures.reporting, unit)),
    )


def _points_of(stage: str) -> Callable[[Side], str]:
    return lambda side: thousands(f"{side.figures.count(stage):,}")


def _days_text(side: Side, moments: Span | None) -> str:
    """Write the first and the last day as local dates."""
    if moments is None:
        return say("rounds.no_record")
    first, last = (day_text(side.context.when(moment)[:10]) for moment in moments)
    return first if first == last else say("rounds.from_to", first=first, last=last)


def _gap_text(side: Side) -> str:
    return "" if side.gap_min is None else say("rounds.gap", days=minutes_to_days(side.gap_min))


def _exposure_text(side: Side) -> str:
    middle = side.figures.median_min
    if middle is None:
        return say("rounds.no_record")
    every = side.figures.exposures_min
    days = {"low": every[0], "high": every[-1], "median": middle}
    texts = {name: side.context.days_text(minutes) for name, minutes in days.items()}
    return say("rounds.exposure", samplers=len(every), **texts)


def _duplicates_text(side: Side) -> str:
    return say("rounds.duplicates", pairs=side.figures.pairs, primaries=side.figures.primaries)


def _blanks_text(side: Side) -> str:
    told = [(word("blank", one.kind).lower(), one.analysed, one.detected) for one in side.figures.blanks]
    return say("rounds.blanks", blanks=told)


def _custody_text(side: Side) -> str:
    return say("rounds.custody", gaps=side.figures.gaps, handed=side.figures.handed)


def _seals_text(side: Side) -> str:
    return say("rounds.seals", differ=side.figures.seals_differ, read=side.figures.seals_read)


def _rain_text(side: Side) -> str:
    if side.what == "together":
        return ""
    rain = side.figures.rain_mm
    return say("rounds.no_record") if rain is None else f"{rain:.1f} mm"


def _degrees(degrees: Span | None) -> str:
    """Write the lowest and highest temperature, once where they are the same.

    >>> _degrees((12.0, 14.0)), _degrees((12.0, 12.0))
    ('12 to 14 °C', '12 °C')
    """
    if degrees is None:
        return say("rounds.no_record")
    ends = list(dict.fromkeys(f"{end:g}" for end in degrees))
    return worded("{low} to {high} °C", low=ends[0], high=ends[-1]) if len(ends) > 1 else f"{ends[0]} °C"


def _listed(names: Sequence[str]) -> str:
    return say("rounds.batches", names=names) if names else say("rounds.no_record")


def _limits(limits: Span | None, unit: str) -> str:
    return f"{limits_text(*limits)} {unit}" if limits else say("rounds.no_record")
