"""What a point's sampler met in each round: exposure, depth, surface, moisture, condition, rain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from sitegen.compute.field.exposure import Placement
from sitegen.compute.rounds.changes import ExposurePair
from sitegen.compute.rounds.overview import rain_between_mm
from sitegen.compute.statistics.rounding import rounded_text
from sitegen.project.tables import Deployment
from sitegen.report.record.pages import Cell, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.rounds.sides import Earlier, apart, reported_name
from sitegen.report.write.columns import point_cell, sampler_cell
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import say, word
from sitegen.voice import worded


class Stay(NamedTuple):
    """A point in one round: what the round is called, what it is written from, and its sampler; None for none.

    ``moisture`` is that of the soil as noted, "" where it is not on record.
    """

    name: str
    context: Context
    location_id: str
    placement: Placement | None
    moisture: str

    @property
    def sampler(self) -> Cell:
        """The sampler, which leads to its page where the round reported has it."""
        return apart(self.context, sampler_cell(self.placement.sampler_id if self.placement else ""))

    @property
    def days(self) -> Cell:
        """The exposure in days, with the marks of the sampler itself."""
        if self.placement is None or self.placement.exposure_min is None:
            return Cell("–", tone="muted")
        marks = self.context.evaluation.marks.by_sampler.get(self.placement.sampler_id, ())
        own = mark_words(mark for mark in marks if mark.scope == "sampler")
        return apart(self.context, Cell(self.context.days_text(self.placement.exposure_min), marks=own))

    @property
    def surface(self) -> str:
        """The surface at the point."""
        return word("surface", self.placement.surface) if self.placement and self.placement.surface else "–"

    @property
    def depth(self) -> str:
        """The depth as the record writes it."""
        return (self.placement.depth_text if self.placement else "") or "–"

    @property
    def condition(self) -> str:
        """The condition on retrieval."""
        if self.placement is None:
            return say("rounds.no_sampler")
        return worded(self.placement.condition.replace("_", " ")) or say("rounds.no_record")

    @property
    def rain(self) -> str:
        """The rain over its exposure in mm."""
        if self.placement is None:
            return "–"
        fell = rain_between_mm(self.context.weather, self.placement.placed_utc, self.placement.retrieved_utc)
        return "–" if fell is None else f"{fell:.1f}"


def stays_in(context: Context, name: str) -> Callable[[str], Stay]:
    """Return what gives, by its id, what is on record of the sampler that stands for a point in a round."""
    moisture = {row.sampler_id: row.moisture for row in context.survey.rows(Deployment)}

    def stay(location_id: str) -> Stay:
        placement = context.primary_at(location_id)
        noted = moisture.get(placement.sampler_id, "") if placement else ""
        return Stay(name, context, location_id, placement, noted)

    return stay


@traced
def stays_table(table_id: str, caption: str, stays: Sequence[Stay]) -> Table:
    """Return what the samplers of one point met, a round in each row."""
    columns: list[Spec[Stay]] = [
        Spec("round", say("rounds.head_round"), cell=lambda one: one.name),
        Spec("point", "Point", cell=lambda one: Cell(one.location_id)),
        Spec("sampler", "Sampler", cell=lambda one: one.sampler),
        Spec("days", "Exposure", "days", "number", cell=lambda one: one.days),
        Spec("depth", "Depth", kind="number", cell=lambda one: one.depth),
        Spec("surface", "Surface", cell=lambda one: one.surface),
        Spec("moisture", "Moisture", cell=lambda one: worded(one.moisture) or "–"),
        Spec("rain", say("rounds.head_rain"), "mm", "number", cell=lambda one: one.rain),
        Spec("condition", "Condition", cell=lambda one: one.condition),
    ]
    return table(table_id, caption, columns, stays)


class _Pair(NamedTuple):
    """A point in two rounds."""

    location_id: str
    before: Stay
    after: Stay
    exposure: ExposurePair | None


@traced
def conditions_table(context: Context, earlier: Earlier) -> Table:
    """Return exposure, surface, moisture and rain of each point compared, the rounds side by side."""
    old, now = earlier.name, reported_name(context)
    before, after = stays_in(earlier.context, old), stays_in(context, now)
    ratios = {one.location_id: one for one in earlier.change.exposures}
    pairs = [
        _Pair(
            one.location_id,
            before(one.earlier_id),
            after(one.location_id),
            ratios.get(one.location_id),
        )
        for one in earlier.change.matches
        if not one.moved
    ]
    columns: list[Spec[_Pair]] = [
        Spec("point", "Point", cell=lambda pair: point_cell(pair.location_id)),
        Spec("days_before", _of("Exposure", later=False), "days", "number", cell=lambda pair: pair.before.days),
        Spec("days_after", _of("Exposure", later=True), "days", "number", cell=lambda pair: pair.after.days),
        Spec("ratio", say("rounds.head_ratio"), kind="number", cell=lambda pair: _ratio_text(pair.exposure)),
        Spec("depth_before", _of("Depth", later=False), kind="number", cell=lambda pair: pair.before.depth),
        Spec("depth_after", _of("Depth", later=True), kind="number", cell=lambda pair: pair.after.depth),
        Spec("surface_before", _of("Surface", later=False), cell=lambda pair: pair.before.surface),
        Spec("surface_after", _of("Surface", later=True), cell=lambda pair: pair.after.surface),
        Spec("moisture_before", _of("Moisture", later=False), cell=lambda pair: worded(pair.before.moisture) or "–"),
        Spec("moisture_after", _of("Moisture", later=True), cell=lambda pair: worded(pair.after.moisture) or "–"),
        Spec("rain_before", _of("Rain", later=False), "mm", "number", cell=lambda pair: pair.before.rain),
        Spec("rain_after", _of("Rain", later=True), "mm", "number", cell=lambda pair: pair.after.rain),
    ]
    caption = say("rounds.conditions_caption", before=old, after=now)
    note, empty = say("rounds.conditions_note"), say("rounds.none_matched")
    return table(f"changes-conditions-{earlier.number}", caption, columns, pairs, note=note, empty=empty)


def _of(what: str, *, later: bool) -> str:
    return say("rounds.head_of", what=worded(what), later=later)


def _ratio_text(pair: ExposurePair | None) -> str:
    return "–" if pair is None or pair.ratio is None else f"× {rounded_text(pair.ratio)}"
