"""Positions that an instrument gave, beside the rows of the points that they belong to."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import NamedTuple

from sitegen.voice import worded

DEGREES, METRES = ("longitude", "latitude"), ("easting", "northing")


class Measured(NamedTuple):
    """A measured position: x and y with their text, in degrees or in the project's system as ``columns`` says.

    ``number`` is the row of a table, or the place of a waypoint from 1; ``heads`` are what the file
    calls the two columns.
    """

    location_id: str
    columns: tuple[str, str]
    x: float
    y: float
    texts: tuple[str, str]
    file: str
    number: int
    heads: tuple[str, str]

    @property
    def words(self) -> str:
        """Where it stands: a row of a table, or a waypoint."""
        what = worded("waypoint") if PurePosixPath(self.file).suffix.lower() == ".gpx" else worded("row")
        return f"{self.file}, {what} {self.number}"


class Supplied(NamedTuple):
    """A measured position of a row of the points: in the project's system as text, and how that was made.

    ``how`` names the operation, "" where there was none. ``fills`` is True where the row has no
    position of its own, so that this one counts.
    """

    measured: Measured
    columns: tuple[str, str]
    texts: tuple[str, str]
    how: str
    fills: bool

    @property
    def rule(self) -> str:
        """Where a filled-in position comes from, and how it was computed."""
        (x_name, y_name), (x, y) = self.measured.columns, self.measured.texts
        given = f"{x_name} {x}, {y_name} {y} of {self.measured.words}"
        return f"computed from {given} by {self.how}" if self.how else given

    @property
    def general_rule(self) -> str:
        """The same of all positions of the file."""
        (x_name, y_name), file = self.measured.columns, self.measured.file
        given = f"{x_name} and {y_name} of {file}"
        return f"computed from {given} by {self.how}" if self.how else given
