"""What the laboratory is asked for: how many samplers of which use, for which medium, and of which type."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sitegen.compute.design.allocation import Allocation, Use
from sitegen.project.survey import Survey
from sitegen.project.tables import Location, Sampler, StatedRate

_USES: tuple[Use, ...] = ("sample", "field_duplicate", "field_blank", "trip_blank", "spare")


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Samplers of one use: ``medium`` is "" where they are for none, ``types`` are those on record for it."""

    use: Use
    medium: str
    count: int
    types: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Order:
    """The lines of an order, and the day by which the samplers are needed, None where the plan states none."""

    lines: tuple[OrderLine, ...]
    needed_by: date | None

    @property
    def samplers(self) -> int:
        """All samplers of the order."""
        return sum(line.count for line in self.lines)


def order(survey: Survey, allocation: Allocation) -> Order:
    """Return what is ordered for a plan, by use and by medium; blanks and spares are for every medium.

    The type of a medium is that of its uptake rates, or else that of the samplers in the table.
    """
    medium_of = {row.location_id: row.medium for row in survey.rows(Location)}
    media = tuple(dict.fromkeys(medium_of[slot.location_id] for slot in allocation.of("sample")))
    counts = Counter((slot.use, medium_of.get(slot.location_id, "")) for slot in allocation.slots)
    lines = (
        OrderLine(use, medium, counts[use, medium], _types(survey, [medium] if medium else media))
        for use in _USES
        for medium in (*media, "")
        if counts[use, medium]
    )
    return Order(tuple(lines), survey.plan.placing_from)


def _types(survey: Survey, media: Iterable[str]) -> tuple[str, ...]:
    wanted = set(media)
    rated = {row.sampler_type for row in survey.rows(StatedRate) if row.medium in wanted}
    listed = {row.sampler_type for row in survey.rows(Sampler)}
    return tuple(sorted((rated or listed) - {""}))
