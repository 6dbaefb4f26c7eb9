"""A compound in two rounds as pictures have it: where its masses were compared, and what became of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from sitegen.compute.evaluate import Compound
from sitegen.compute.results.store import StoredResult
from sitegen.compute.rounds.changes import PointChange, RoundChange
from sitegen.compute.rounds.factors import factor_class
from sitegen.figures.changesigns import CHANGE_WORDS
from sitegen.figures.inputs import PlaceChange, PlacePoint
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.rounds.placing import points_in
from sitegen.report.write.context import Context


@dataclass(frozen=True)
class Compared:
    """A compound in two rounds: the soil points of both, and what became of its mass at each.

    ``points`` are those of the later round with a position, then those that the earlier one alone has.
    """

    context: Context
    earlier: Context
    change: RoundChange
    compound: Compound

    @cached_property
    def rows(self) -> Mapping[str, PointChange]:
        """What became of the compound's mass in soil, by point of the later round."""
        wanted = [one for one in self.change.points if one.analyte_id == self.compound.analyte_id]
        return {one.location_id: one for one in wanted if any(r.medium in SOIL_MEDIA for r in results_of(one))}

    @cached_property
    def points(self) -> tuple[PlacePoint, ...]:
        """The points to draw, in metres of the later round's system."""
        alone = set(self.change.only_before) - {point.label for point in self.own}
        return (*self.own, *(point for point in points_in(self.context, self.earlier) if point.label in alone))

    @cached_property
    def own(self) -> tuple[PlacePoint, ...]:
        """The points of the later round."""
        return points_in(self.context, self.context)

    @cached_property
    def changes(self) -> tuple[PlaceChange, ...]:
        """What became of the mass at each of ``points``."""
        later = tuple(self._at(point.label) for point in self.own)
        return later + (PlaceChange("one_round"),) * (len(self.points) - len(self.own))

    def _at(self, location_id: str) -> PlaceChange:
        row = self.rows.get(location_id)
        if row is None:
            alone = location_id in self.change.only_after or location_id in self.change.only_before
            return PlaceChange("one_round" if alone else "not_comparable")
        found = factor_class(row.factor) if row.factor is not None else 0
        return PlaceChange(row.kind, found, self.ringed(row), row.below_limit)

    def ringed(self, row: PointChange) -> bool:
        """Tell whether a map draws a ring around either result."""
        marked = row.after is not None and self.context.has_ring(row.after)
        return marked or (row.before is not None and self.earlier.has_ring(row.before))

    @cached_property
    def kinds(self) -> Mapping[str, tuple[str, ...]]:
        """The soil points drawn by what became of the mass there, in the order of the legend."""
        drawn = [
            (change.kind, point.label)
            for point, change in zip(self.points, self.changes, strict=True)
            if point.medium in SOIL_MEDIA
        ]
        return {kind: tuple(name for own, name in drawn if own == kind) for kind in CHANGE_WORDS}


def results_of(one: PointChange) -> tuple[StoredResult, ...]:
    """Return the results of a point that there are, the earlier first."""
    return tuple(row for row in (one.before, one.after) if row is not None)


def compared(context: Context, change: RoundChange, compound: Compound) -> Compared:
    """Return a compound in the two rounds of one of ``context.changes``."""
    at = next(number for number, one in enumerate(context.changes) if one is change)
    return Compared(context, context.earlier[at], change, compound)
