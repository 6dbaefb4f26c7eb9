"""What changed from the previous revision, in sentences that a cover letter can carry."""

from __future__ import annotations

from sitegen.compute.evidence.difference import Difference
from sitegen.report.evidence.changes import headline
from sitegen.report.write.context import Context


def change_sentences(context: Context, found: Difference) -> tuple[str, ...]:
    """Return sentences on what changed, the most important first."""
    del context
    return (headline(found),)
