"""What print has of photographs and review comments, where the publish level allows it."""

from __future__ import annotations

from sitegen.project.tables import Photo as PhotoRow
from sitegen.project.tables import ReviewComment
from sitegen.project.zones import local_text
from sitegen.report.record.pages import Block, Photo
from sitegen.report.review.findings import comments_table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say


@traced
def photo_blocks(context: Context) -> tuple[Photo, ...]:
    """Return the photographs that may be shown, by point and as listed, each with its point, time and direction."""
    rows = [row for row in context.survey.rows(PhotoRow) if context.may_show(row)]
    places = {name: number for number, name in enumerate(row.location_id for row in context.locations)}
    rows.sort(key=lambda row: places.get(row.location_id, len(places)))
    return tuple(Photo(row.file, _caption(row), row.alt_text or _caption(row), _taken(context, row)) for row in rows)


def _caption(row: PhotoRow) -> str:
    return say("chapter.photo_caption", point=row.location_id, caption=row.caption)


def _taken(context: Context, row: PhotoRow) -> str:
    taken = local_text(row.taken_at_utc, context.survey.time_zone) if row.taken_at_utc == row.taken_at_utc else ""
    return say("chapter.photo_taken", taken=taken, direction=row.direction)


@traced
def comment_blocks(context: Context) -> tuple[Block, ...]:
    """Return the comments with their responses; nothing where none is on record or none may be shown."""
    comments = context.survey.rows(ReviewComment)
    return (comments_table(context, comments),) if comments else ()
