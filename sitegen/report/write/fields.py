"""Columns that several tables to download have, each told once."""

from __future__ import annotations

from collections.abc import Callable
from math import isnan
from typing import Protocol, TypeVar

from sitegen.project.schema import Origin
from sitegen.report.record.exports import ExportLink
from sitegen.report.record.specs import INTEGER, NUMBER, Spec, Value
from sitegen.report.write.context import Context
from sitegen.units import stated_unit
from sitegen.voice import worded

T = TypeVar("T")

TO_COMPOUNDS = ExportLink("analyte_id", "compounds", "analyte_id")
"""From a row about a compound to the compound's own rows."""


class AtPoint(Protocol):
    """What stands at a point."""

    @property
    def location_id(self) -> str:
        """The point's id."""


class OfCompound(Protocol):
    """What is about one compound."""

    @property
    def analyte_id(self) -> str:
        """The compound's id."""


class InUnit(Protocol):
    """What has figures in one unit."""

    @property
    def unit(self) -> str:
        """The unit as files write it."""


class FromFile(Protocol):
    """What was read from a row of a file."""

    @property
    def origin(self) -> Origin:
        """Where it stands."""


def location_field(meaning: str = "point", *, required: bool = True) -> Spec[AtPoint]:
    """Return the column of the point."""
    return Spec("location_id", meaning=meaning, value=lambda item: item.location_id, required=required)


def compound_fields(context: Context, name: str = "name of the compound") -> tuple[Spec[OfCompound], ...]:
    """Return the columns of a compound's id and name; ``name`` is the meaning of the second."""
    analyte: Spec[OfCompound] = Spec(
        "analyte_id", meaning="compound", value=lambda item: item.analyte_id, required=True
    )
    return (analyte, Spec("compound", meaning=name, value=lambda item: context.name(item.analyte_id)))


def unit_field(meaning: str = "unit of the numbers beside it", choices: tuple[str, ...] = ()) -> Spec[InUnit]:
    """Return the column of the unit, as pages write it."""
    return Spec(
        "unit",
        meaning=meaning,
        value=lambda item: stated_unit(item.unit),
        required=True,
        choices=choices,
    )


def figure_field(key: str, meaning: str, value: Callable[[T], Value], *, required: bool = False) -> Spec[T]:
    """Return a column of figures in the unit that the row names."""
    return Spec(key, unit="as in unit", type=NUMBER, meaning=meaning, value=value, required=required)


def source_row_field(meaning: str = "row in that file; the header is row 1") -> Spec[FromFile]:
    """Return the column of the row in the source."""
    return Spec("source_row", type=INTEGER, meaning=meaning, value=lambda item: item.origin.row, required=True)


def source_fields(column: str, what: str = "value") -> tuple[Spec[FromFile], ...]:
    """Return the columns of file, row and column that a value came from.

    ``column`` is where the format has the value, ``what`` the value in words.
    """
    file: Spec[FromFile] = Spec(
        "source_file", meaning="file that the row came from", value=lambda item: item.origin.file, required=True
    )
    place: Spec[FromFile] = Spec(
        "source_column",
        meaning=worded("column of the {what} in that file", what=worded(what)),
        value=lambda item: item.origin.cell(column)[2],
        required=True,
    )
    return (file, source_row_field(), place)


def number_or_none(value: float) -> float | None:
    """Return a number for a data file; None for NaN.

    >>> number_or_none(2), number_or_none(float("nan"))
    (2.0, None)
    """
    return None if isnan(value) else float(value)
