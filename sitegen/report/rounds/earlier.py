"""A page for each earlier round: what was done, how sure it is, and its numbers with their own marks.

Everything is made by the functions that make it for the round reported, from what that round was written from. A
point that the reported round has no page of leads to its row here.
"""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.report.evidence.defence import batches_table
from sitegen.report.field.custodyfindings import trouble_table
from sitegen.report.field.weatherview import weather_blocks
from sitegen.report.points.location import locations_table
from sitegen.report.quality.labcontrol import controls_table, surrogates_table
from sitegen.report.quality.page import completeness_tables, over_table, pairs_table, rates_table
from sitegen.report.record.pages import Block, Page, Section
from sitegen.report.results.blanktables import affected_table, before_after_table, blanks_analysed_table, blanks_table
from sitegen.report.results.matrix import matrix_table
from sitegen.report.rounds.overview import Side, side_facts, sides
from sitegen.report.rounds.sections import to_changes
from sitegen.report.rounds.sides import OVERVIEW, Earlier, earlier_rounds, led_here, words_of
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say


def earlier_pages(context: Context) -> Iterator[Page]:
    """Yield a page for each earlier round, linked one to the next."""
    rounds = earlier_rounds(context)
    shown = sides(context) if rounds else ()
    for at, one in enumerate(rounds):
        own = [side for side in shown if side.context is one.context]
        yield Page(
            one.ref,
            one.name,
            _lead(one),
            earlier_blocks(context, one, own),
            parent=OVERVIEW,
            previous=rounds[at - 1].ref if at else None,
            following=rounds[at + 1].ref if at + 1 < len(rounds) else None,
            search=" ".join((one.name, *(row.location_id for row in one.context.locations))),
        )


def _lead(one: Earlier) -> str:
    counts = one.context.evaluation.completeness.every.counts
    return say("rounds.earlier_lead", planned=counts[0], results=counts[3])


@traced
def earlier_blocks(context: Context, one: Earlier, own: list[Side]) -> tuple[Block, ...]:
    """Return what an earlier round was and gave, the way to what changed since then first."""
    old = one.context
    done: list[Block] = []
    for side in own:
        facts = side_facts(context, side)
        done += [Section(side.key, side.name, (facts,))] if len(own) > 1 else [facts]
    parts: list[tuple[str, tuple[Block, ...]]] = [
        ("done", tuple(done)),
        ("changed", (to_changes(one.number),)),
        ("points", (locations_table(old),)),
        ("results", (matrix_table(old, reported=False),)),
        ("completeness", completeness_tables(old)),
        ("blanks", (blanks_analysed_table(old), blanks_table(old), affected_table(old), before_after_table(old))),
        ("duplicates", (rates_table(old), pairs_table(old))),
        ("control", (surrogates_table(old), controls_table(old), over_table(old), batches_table(old))),
        ("custody", (trouble_table(old),)),
        ("weather", weather_blocks(old)),
    ]
    sections = tuple(Section(key, words_of("earlier", key), blocks) for key, blocks in parts if blocks)
    return led_here(context, one, sections)
