"""What a report gives to people who work on in programs of their own, beside its pages and tables."""

from __future__ import annotations

from dataclasses import dataclass

from sitegen.report.record.exports import ExportTable

BY_POINT = "by_point"
"""What the name of every table of results by point begins with."""


@dataclass(frozen=True, slots=True)
class TakeAway:
    """Tables that only the map data hold, and the notes in plain words of the two folders.

    A table of ``tables`` whose rows are places is a layer, and a GeoJSON file where it has a ``lon``.
    """

    tables: tuple[ExportTable, ...] = ()
    gis_note: str = ""
    office_note: str = ""


NOTHING = TakeAway()
