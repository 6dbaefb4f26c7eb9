"""The copy for comments: which chapters of the printed report it holds, and what it says of itself."""

from __future__ import annotations

from collections.abc import Sequence

from sitegen.report.record.pages import Chapter, CommentCopy, Meta
from sitegen.report.write.context import Context
from sitegen.report.write.words import say

COPIED = ("summary", "interpretation", "methods")
"""The chapters made of the project's own text, conclusions included, and the one on methods."""


def comment_copy(context: Context, printed: Sequence[Chapter], meta: Meta) -> CommentCopy | None:
    """Return the copy of the printed chapters that the project asks for, None where it asks for none."""
    if not context.survey.settings.publish.narrative_docx:
        return None
    notices = (
        say("export.copy_notice", meta=meta, team=context.for_team),
        say("export.report", meta=meta),
        *meta.notices,
    )
    chapters = tuple(chapter for chapter in printed if chapter.id in COPIED)
    return CommentCopy(notices, say("export.copy_running", meta=meta), chapters)
