"""Where a point is, in words: a named place with the point's id, ``beneath the Laundry (SS-01)``."""

from __future__ import annotations

from sitegen.compute.place.named import place_of
from sitegen.report.write.context import Context
from sitegen.report.write.words import say


def where_text(context: Context, location_id: str) -> str:
    """Name the place of a point with its id; the id alone where no named place is on record for it."""
    row = next((row for row in context.locations if row.location_id == location_id), None)
    place = place_of(context.survey, row, context.points.get(location_id)) if row else None
    return say(
        "front.where",
        id=location_id,
        relation=place.relation if place else "",
        name=place.name if place else "",
        numbered=any(letter.isdigit() for letter in place.name) if place else False,
    )
