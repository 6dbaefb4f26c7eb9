"""The chapter of print on rounds and change."""

from __future__ import annotations

from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Block, Callout, Section
from sitegen.report.rounds.changes import change_maps, compound_tables, judged, masses_tables, positions_table, summary
from sitegen.report.rounds.overview import overview_table
from sitegen.report.rounds.sides import Earlier, earlier_rounds, words_of
from sitegen.report.rounds.stays import conditions_table
from sitegen.report.rounds.trending import trend_sections
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say


@traced
def rounds_blocks(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return the rounds side by side, then what changed since each earlier one, the last one first."""
    since = tuple(_since(context, one, ground) for one in reversed(earlier_rounds(context)))
    caution = Callout("caution", say("rounds.caution_title"), markdown("rounds.caution"))
    return (overview_table(context), *((caution,) if since else ()), *since, *trend_sections(context, points=False))


def _since(context: Context, earlier: Earlier, ground: Ground | None) -> Section:
    parts: list[tuple[str, tuple[Block, ...]]] = [
        ("judged", (judged(context, earlier),)),
        ("compounds", compound_tables(context, earlier)),
        ("maps", change_maps(context, earlier, ground)),
        ("conditions", (conditions_table(context, earlier),)),
        ("positions", (positions_table(context, earlier),)),
    ]
    sections = (
        Section(f"{key}-{earlier.number}", words_of("sections", key), blocks) for key, blocks in parts if blocks
    )
    blocks: tuple[Block, ...] = (summary(context, earlier), *sections)
    return Section(f"since-{earlier.number}", say("rounds.since", name=earlier.name), blocks)


@traced
def masses_blocks(context: Context) -> tuple[Block, ...]:
    """Return the masses of each earlier round beside those of the round reported, for the annex of print."""
    return tuple(
        Section(
            f"masses-{one.number}",
            say("rounds.since", name=one.name),
            masses_tables(context, one, limits=False),
        )
        for one in reversed(earlier_rounds(context))
    )
