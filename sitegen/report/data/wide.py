"""Results with a row for each point, for maps: a table for each medium and unit, and for each round.

A mass and a concentration never stand in one table. A non-detect has no number: its text has the
limit (``<10``), its class says ``not detected``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sitegen.compute.evaluate import Compound
from sitegen.compute.marks import MarkFact
from sitegen.compute.picture.leading import leading
from sitegen.compute.results.reported import printed_text, qualifier
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.classes import size_class
from sitegen.figures.symbols import STATES, shape_of
from sitegen.project.schema import MEDIA, SOIL_MEDIA
from sitegen.project.tables import Location
from sitegen.report.data.places import depth_of
from sitegen.report.data.signs import WITHOUT_NUMBER, Legend, compound_style, sign_shape
from sitegen.report.field.surveyed import coordinate_fields, place_crs, place_of
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.naming import plain_name, unique_names, unit_name
from sitegen.report.record.specs import INTEGER, NUMBER, Spec, export
from sitegen.report.record.styles import Style
from sitegen.report.record.takeaway import BY_POINT
from sitegen.report.rounds.sides import round_ids
from sitegen.report.write.context import Context
from sitegen.report.write.fields import location_field
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import say, word
from sitegen.units import MASS_UNITS, RESULT_UNITS, UNIT_TEXT

MOST_COMPOUNDS = 300
"""Compounds of one table: six columns for each, and SQLite takes 2,000 in all (sqlite.org/limits.html)."""


@dataclass(frozen=True, slots=True)
class Part:
    """What one wide table is about: results of a round, of a medium, in a unit, of some compounds.

    ``round`` names it as a layer can, "" where there is one round; ``number`` counts the parts of a long
    list of compounds, 0 where there is one. ``columns`` says what the columns of each compound begin with.
    """

    context: Context
    round: str
    medium: str
    unit: str
    columns: tuple[tuple[str, Compound], ...]
    number: int = 0

    @property
    def name(self) -> str:
        """The table's name: ``by_point_soil_gas_ng_per_sampler``."""
        number = f"part_{self.number}" if self.number else ""
        unit = unit_name(self.unit) if self.unit else ""
        return "_".join((BY_POINT, *(plain_name(text) for text in (self.round, self.medium, unit, number) if text)))

    @property
    def is_mass(self) -> bool:
        """Whether its numbers are masses on a sampler."""
        return self.unit in MASS_UNITS

    @property
    def is_classed(self) -> bool:
        """Whether the report's maps show its numbers by size: masses of the media of the soil alone."""
        return self.is_mass and self.medium in SOIL_MEDIA

    def result(self, row: Location, compound: Compound) -> StoredResult | None:
        """Return the result that stands for a point, whatever its unit."""
        return self.context.at_point.get((row.location_id, compound.analyte_id))

    def number_of(self, row: Location, compound: Compound) -> float | None:
        """Return the number of a detection in the table's unit; None for all else."""
        found = self.result(row, compound)
        return float(found.value) if found and found.unit == self.unit and found.detected else None

    def class_of(self, row: Location, compound: Compound) -> str:
        """Return in a word what a map shows of a compound at a point."""
        found, state = self.result(row, compound), self.context.state_of(row)
        if state in STATES:
            return word("state", state)
        if found is None:
            return say("takeaway.not_analysed")
        if found.rejected:
            return say("takeaway.rejected")
        if not found.detected:
            return say("takeaway.not_detected")
        if found.unit != self.unit:
            return say("takeaway.other_unit")
        return self.labels[size_class(found.value)] if self.is_classed else say("takeaway.detected")

    @property
    def labels(self) -> tuple[str, ...]:
        """The classes of mass, lowest first, as the report's maps have them."""
        return self.context.class_labels


def wide_tables(context: Context) -> tuple[ExportTable, ...]:
    """Return the wide tables of every round, those of the reported round first."""
    ids = round_ids(context) if context.earlier else ("",)
    names = unique_names(ids) if context.earlier else ids
    rounds = list(zip(ids, names, context.rounds, strict=True))
    return tuple(_table(part, called) for called, name, one in reversed(rounds) for part in _parts(name, one))


def _parts(name: str, context: Context) -> Iterator[Part]:
    found = {(row.medium, row.unit) for row in context.at_point.values()}
    listed = context.evaluation.compounds
    mapped = [compound for compound in listed if compound.mapped] or listed
    named = tuple(zip(unique_names(compound.analyte_id for compound in mapped), mapped, strict=True))
    groups = [named[at : at + MOST_COMPOUNDS] for at in range(0, len(named), MOST_COMPOUNDS)]
    for medium, unit in ((medium, unit) for medium in MEDIA for unit in RESULT_UNITS if (medium, unit) in found):
        for number, columns in enumerate(groups, start=1):
            yield Part(context, name, medium, unit, columns, number if len(groups) > 1 else 0)


def _table(part: Part, called: str) -> ExportTable:
    """Return a wide table, whose round, where there are several, is ``called`` as in other data files."""
    context = part.context
    rows = tuple(row for row in context.locations if row.medium == part.medium)
    told = {"medium": word("medium", part.medium), "unit": UNIT_TEXT.get(part.unit, part.unit), "round": called}
    return export(
        part.name,
        say("takeaway.wide_title", **told),
        say("takeaway.wide_note", mass=part.is_mass, number=_column(part), **told),
        [*_point_fields(part), *(spec for name, compound in part.columns for spec in _fields(part, name, compound))],
        rows,
        lon="longitude",
        lat="latitude",
        places=tuple(place_of(context, context.points.get(row.location_id)) for row in rows),
        crs=place_crs(context),
        key=("location_id",),
        styles=_styles(part, rows),
    )


def _column(part: Part) -> str:
    return "mass" if part.is_mass else "concentration"


def _point_fields(part: Part) -> list[Spec[Location]]:
    context = part.context
    standing, marks = context.primary_at, context.evaluation.marks.by_sampler

    def marked(row: Location) -> str:
        placed = standing(row.location_id)
        return _words(marks.get(placed.sampler_id, ())) if placed else ""

    return [
        location_field(),
        Spec("medium", meaning="medium", value=lambda row: row.medium, choices=MEDIA),
        Spec("surface", meaning="surface", value=lambda row: row.surface),
        Spec("shape", meaning="shape of the report's symbol, by surface", value=_shape, required=True),
        Spec("state", meaning="state of the point", value=context.state_of, required=True),
        Spec("sampler_id", meaning="serial of the sampler that represents the point, with leading zeros",
             value=lambda row: placed.sampler_id if (placed := standing(row.location_id)) else ""),
        Spec("depth_m", unit="m", type=NUMBER, meaning="depth of the sampler",
             value=lambda row: depth_of(standing(row.location_id))),
        Spec("exposure_min", unit="min", type=INTEGER, meaning="exposure in UTC minutes",
             value=lambda row: placed.exposure_min if (placed := standing(row.location_id)) else None),
        Spec("sampler_marks", meaning="qualifications of the sampler and of its custody, separated by a semicolon",
             value=marked),
        *_place_fields(context),
    ]  # fmt: skip


def _place_fields(context: Context) -> list[Spec[Location]]:
    at = context.points
    return [
        Spec("position", meaning="surveyed or, where no survey is on record, planned; empty without a position",
             value=lambda row: ("planned" if point.as_planned else "surveyed") if (point := at.get(row.location_id))
             else ""),
        Spec("longitude", unit="degrees", type=NUMBER, meaning="WGS 84; empty where no position is on record",
             value=lambda row: point.lon if (point := at.get(row.location_id)) else None),
        Spec("latitude", unit="degrees", type=NUMBER, meaning="WGS 84; empty where no position is on record",
             value=lambda row: point.lat if (point := at.get(row.location_id)) else None),
        *coordinate_fields(context),
    ]  # fmt: skip


def _words(marks: Iterable[MarkFact]) -> str:
    """Write marks, each word once."""
    return "; ".join(dict.fromkeys(mark.word for mark in mark_words(marks)))


def _shape(row: Location) -> str:
    return sign_shape(shape_of(row.medium, row.surface))


def _styles(part: Part, rows: Sequence[Location]) -> tuple[Style, ...]:
    """Return a style for each compound, first the one that the report's first map shows."""
    surfaces: dict[str, dict[str, None]] = {}
    for row in rows:
        surfaces.setdefault(_shape(row), {})[word("surface", row.surface) if part.is_classed else ""] = None
    told = {shape: ", ".join(words) for shape, words in surfaces.items()}
    unit = UNIT_TEXT.get(part.unit, part.unit)
    opens = leading(part.context.evaluation)
    first = opens.summary.analyte_id if opens else ""
    labels = part.labels if part.is_classed else ()
    return tuple(
        compound_style(
            compound.name,
            say("takeaway.style", compound=compound.name, unit=unit, classed=part.is_classed),
            Legend(name, unit, labels, told, _others(part, rows, compound)),
        )
        for name, compound in sorted(part.columns, key=lambda one: one[1].analyte_id != first)
    )


def _others(part: Part, rows: Sequence[Location], compound: Compound) -> tuple[str, ...]:
    """Return why points have no number of a compound, non-detects aside: each reason that occurs."""
    words = {part.class_of(row, compound) for row in rows}
    why = tuple(key for key in WITHOUT_NUMBER if say(f"takeaway.{key}") in words)
    return (*why, *(state for state in STATES if word("state", state) in words))


def _fields(part: Part, name: str, compound: Compound) -> tuple[Spec[Location], ...]:
    """Return the columns of a compound: number, text, qualifier, marks, class, ring."""
    context, title = part.context, compound.name
    own = context.evaluation.marks.by_result

    def of(row: Location) -> StoredResult | None:
        return part.result(row, compound)

    return (
        Spec(f"{name}_{_column(part)}", unit=UNIT_TEXT.get(part.unit, part.unit), type=NUMBER,
             meaning=say(f"takeaway.{_column(part)}_meaning", compound=title),
             value=lambda row: part.number_of(row, compound)),
        Spec(f"{name}_text", meaning=say("takeaway.text_meaning", compound=title),
             value=lambda row: printed_text(found, context.display) if (found := of(row)) else ""),
        Spec(f"{name}_qualifier", meaning=say("takeaway.qualifier_meaning", compound=title),
             value=lambda row: qualifier(found) if (found := of(row)) else ""),
        Spec(f"{name}_marks", meaning=say("takeaway.marks_meaning", compound=title),
             value=lambda row: _words(own.get(found.key, ())) if (found := of(row)) else ""),
        Spec(f"{name}_class", meaning=say("takeaway.class_meaning", compound=title),
             value=lambda row: part.class_of(row, compound), required=True),
        Spec(f"{name}_ringed", type=INTEGER, meaning=say("takeaway.ringed_meaning", compound=title),
             value=lambda row: int((found := of(row)) is not None and context.has_ring(found)), required=True),
    )  # fmt: skip
