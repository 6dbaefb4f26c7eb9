"""Columns that several tables of pages have, each told once, and the cells that lead to what they name."""

from __future__ import annotations

from typing import Protocol

from sitegen.compute.results.store import StoredResult
from sitegen.report.record.pages import Cell, Ref
from sitegen.report.record.specs import Spec
from sitegen.report.write.context import Context, location_ref
from sitegen.report.write.fields import AtPoint, OfCompound
from sitegen.report.write.values import value_cell


class OfSampler(Protocol):
    """What is about one sampler."""

    @property
    def sampler_id(self) -> str:
        """The sampler's id."""


def point_cell(location_id: str, otherwise: str = "–") -> Cell:
    """Return a point that leads to its page; where there is none, what stands in its place.

    >>> point_cell("SG-1").ref
    Ref(kind='location', id='SG-1', anchor='')
    >>> point_cell("", "trip blank").text
    'trip blank'
    """
    return Cell(location_id, location_ref(location_id)) if location_id else Cell(otherwise)


def compound_cell(context: Context, analyte_id: str) -> Cell:
    """Return a compound's name that leads to its page."""
    return Cell(context.name(analyte_id), Ref("compound", analyte_id))


def sampler_cell(sampler_id: str) -> Cell:
    """Return a sampler that leads to its page, a dash for none."""
    return Cell(sampler_id, Ref("sampler", sampler_id)) if sampler_id else Cell("–")


POINT: Spec[AtPoint] = Spec("point", "Point", cell=lambda item: point_cell(item.location_id))
"""The point that something stands at."""

POINT_ITSELF: Spec[str] = Spec("point", "Point", cell=point_cell)
"""The point, over ids of points."""

POINT_OR_LABEL: Spec[StoredResult] = Spec("point", "Point", cell=lambda row: point_cell(row.location_id, row.label))
"""The point of a result; the label of a blank that was opened nowhere."""

SAMPLER: Spec[OfSampler] = Spec("sampler", "Sampler", cell=lambda item: sampler_cell(item.sampler_id))
"""The sampler that something is about."""


def compound_column(context: Context) -> Spec[OfCompound]:
    """Return the column of the compound that something is about."""
    return Spec("compound", "Compound", cell=lambda item: compound_cell(context, item.analyte_id))


def result_column(context: Context, key: str = "result", title: str = "Result") -> Spec[StoredResult]:
    """Return the column of a result in the project's unit of mass, with its marks and its origin."""

    def cell(row: StoredResult) -> Cell:
        return value_cell(row, context.display, context.marks(row))

    return Spec(key, title, context.mass_unit.text, "number", cell)
