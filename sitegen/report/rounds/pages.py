"""The pages over several rounds, in the order of the navigation."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.figures.ground import Ground
from sitegen.report.record.pages import Page
from sitegen.report.rounds.changes import changes_page
from sitegen.report.rounds.earlier import earlier_pages
from sitegen.report.rounds.overview import overview_page
from sitegen.report.rounds.sides import several
from sitegen.report.write.context import Context


def round_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the pages on rounds and on what changed, and one for each earlier round; nothing where there is one."""
    if not several(context):
        return
    yield overview_page(context)
    if context.earlier:
        yield changes_page(context, ground)
        yield from earlier_pages(context)
