"""Single defects of a plan that is ready to be carried out, and of a log that was typed twice, with what mends each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from builders import Change, cell, cells, changed, content, row_added, rows_of, setting, settings_added, text
from defects import CLEARANCE, DEPLOYMENTS, LOCATIONS, SAMPLERS, SETTINGS
from stages import as_of, half_placed, planned

from sitegen.project.folder import Folder
from sitegen.project.schema import SECOND_LOG

ACCESS = b"The tenants of the office are told a week ahead. Traffic is kept off by cones and a watchman.\n"
ACCESS_FILE = "text/access.md"
CLOSED = "closed_days = [2025-11-06]"
SENT = "2025-10-22T12:00"
"""A moment at which the samplers have come, and none is placed."""

LOG = half_placed().files[DEPLOYMENTS].content
_MOVED = cell(LOCATIONS, "SG-27", "plan_northing", "4770100.00")
"""The one point of the plan that lies too near a cable is moved off it."""


def ready(*changes: Change) -> Folder:
    """Return the planned example with nothing left to do before the crew sets out."""
    return changed(content(ACCESS_FILE, ACCESS), *changes, folder=planned())


def sent(*changes: Change) -> Folder:
    """Return the same once the samplers have come."""
    return changed(content(ACCESS_FILE, ACCESS), *changes, folder=as_of(SENT))


def typed_twice(*changes: Change) -> Folder:
    """Return the example after a day of placing with its log typed twice, the second time with changes."""
    return changed(content(SECOND_LOG, LOG), *changes, folder=half_placed())


@dataclass(frozen=True)
class Planned:
    """A defect: its folder, its one new finding (code, severity, file, row, words found), and what mends it."""

    code: str
    severity: str
    file: str
    row: int | None
    found: str
    base: Callable[..., Folder]
    changes: tuple[Change, ...]
    remedy: tuple[Change, ...]
    name: str = ""


def second(sampler_id: str, **values: str) -> Change:
    """Set cells of a sampler's row in the second log."""
    inner = cells(DEPLOYMENTS, sampler_id, **values)
    return Change(SECOND_LOG, inner.edit)


def without_second(*sampler_ids: str) -> Change:
    """Take rows out of the second log."""

    def edit(old: bytes) -> bytes:
        lines = old.decode().splitlines(keepends=True)
        return "".join(line for line in lines if line.split(",")[0] not in sampler_ids).encode()

    return Change(SECOND_LOG, edit)


def without_column(name: str) -> Change:
    """Take a column out of the second log."""

    def edit(old: bytes) -> bytes:
        header, rows = rows_of(old)
        kept = [column for column in header if column != name]
        return (
            "\n".join(
                ",".join(f'"{row[column]}"' for column in kept)
                for row in [dict(zip(header, header, strict=True)), *rows]
            ).encode()
            + b"\n"
        )

    return Change(SECOND_LOG, edit)


DAYS = (
    Planned("plan-without-days", "flag", SETTINGS, None, "no placing_to", ready,
            (setting("placing_to = 2025-10-24\n", ""),), (setting("[plan]\n", "[plan]\nplacing_to = 2025-10-24\n"),)),
    Planned("plan-days-reversed", "hold", SETTINGS, 30, "2025-10-22", ready,
            (setting("placing_to = 2025-10-24", "placing_to = 2025-10-22"), setting("_max = 14", "_max = 15")),
            (setting("placing_to = 2025-10-22", "placing_to = 2025-10-24"),)),
    Planned("planned-exposure-out", "flag", SETTINGS, 32,
            "15 days for the last sampler, installed 2025-10-24, retrieved 2025-11-08", ready,
            (setting("retrieving_to = 2025-11-06", "retrieving_to = 2025-11-08"),),
            (setting("retrieving_to = 2025-11-08", "retrieving_to = 2025-11-07"),)),
    Planned("planned-on-closed-day", "flag", SETTINGS, 33, "2025-11-06, a planned day of retrieving, is a closed day",
            ready, (setting("retrieving_to = 2025-11-06\n", f"retrieving_to = 2025-11-06\n{CLOSED}\n"),),
            (setting(CLOSED, "closed_days = [2025-11-11]"),)),
    Planned("samplers-past-shelf-life", "flag", SAMPLERS, 3,
            "prepared 6 September 2025, 61 days before 6 November 2025, the last planned day of retrieval", sent,
            (cell(SAMPLERS, "0047102", "prepared_on", "2025-09-06"),),
            (settings_added('[limits.shelf_days]\nvalue = 61\nsource = "the laboratory (invented)"'),)),
)  # fmt: skip

POINTS = (
    Planned("planned-position-missing", "flag", LOCATIONS, 25, "no position", ready,
            (cells(LOCATIONS, "SG-24", plan_easting="", plan_northing=""),),
            (cells(LOCATIONS, "SG-24", plan_easting="470073.00", plan_northing="4770074.00"),)),
    Planned("planned-near-utility", "flag", LOCATIONS, 28, "a hole planned 0.44 m from utility 12", planned,
            (content(ACCESS_FILE, ACCESS),), (_MOVED,)),
    Planned("planned-hole-without-ticket", "flag", LOCATIONS, 25,
            "a hole to be made that is not listed on any ticket", ready,
            (text(CLEARANCE, ";SG-24;", ";"),), (text(CLEARANCE, ";SG-25;", ";SG-24;SG-25;"),)),
    Planned("ticket-off-the-planned-days", "flag", CLEARANCE, 2, "a ticket that ends 23 October 2025, 23:59, for 52 "
            "holes to be made: SG-01, SG-02, SG-03, SG-04, SG-05, SG-06 and 46 more", ready,
            (cell(CLEARANCE, "OB-25-10417", "valid_to", "2025-10-23T23:59"),),
            (cell(CLEARANCE, "OB-25-10417", "valid_to", "2025-10-24T12:00"),)),
    Planned("ticket-off-the-planned-days", "flag", CLEARANCE, 2, "a ticket that begins 24 October 2025, 08:00, for 52 "
            "holes to be made: SG-01, SG-02, SG-03, SG-04, SG-05, SG-06 and 46 more", ready,
            (cell(CLEARANCE, "OB-25-10417", "valid_from", "2025-10-24T08:00"),),
            (row_added(CLEARANCE, ticket="OB-2", valid_from="2025-10-23T00:00", valid_to="2025-10-24T23:59"),),
            name="ticket-begins-late"),
    Planned("access-not-arranged", "flag", LOCATIONS, 53, "3 points inside, next to or below an "
            "occupied building, without access arrangements on record: SS-01, IA-01, IA-02", ready,
            (content(ACCESS_FILE, b""), *(cell(LOCATIONS, name, "comment", "No traffic.") for name in (
                "SG-19", "SG-30", "SG-31", "SG-32", "SG-34", "SG-35", "SG-37", "SG-40", "SG-45", "SG-46"))),
            (content(ACCESS_FILE, ACCESS),)),
    Planned("traffic-not-noted", "note", LOCATIONS, 20,
            "10 points on asphalt or concrete without traffic control on record: "
            "SG-19, SG-30, SG-31, SG-32, SG-34, SG-35 and 4 more", ready,
            (content(ACCESS_FILE, b"The tenants are told a week ahead.\n"),), (content(ACCESS_FILE, ACCESS),)),
    Planned("samplers-short", "flag", SAMPLERS, None, "4 field blanks, 1 trip blank too few, and 3 spares", sent,
            (setting("[plan]\n", "[plan]\nfield_blanks = 4\n"),), (setting("field_blanks = 4", "field_blanks = 2"),)),
)  # fmt: skip

TWICE = (
    Planned("entries-differ", "hold", DEPLOYMENTS, 3, f"3.1, and 3.7 in {SECOND_LOG}, row 3", typed_twice,
            (second("0047103", depth_ft="3.7"),), (second("0047103", depth_ft="3.10"),)),
    Planned("entries-differ", "hold", DEPLOYMENTS, 3, f"silty clay, and nothing in {SECOND_LOG}, row 3", typed_twice,
            (second("0047103", soil_type=""),), (second("0047103", soil_type="silty clay"),), name="blank-and-filled"),
    Planned("entry-in-one-log", "hold", DEPLOYMENTS, 3, f"sampler 0047103 in {DEPLOYMENTS} only", typed_twice,
            (without_second("0047103"),), (content(SECOND_LOG, LOG),)),
    Planned("second-log-incomplete", "flag", SECOND_LOG, None, "no column odour: no comparison made",
            typed_twice, (without_column("odour"),), (content(SECOND_LOG, LOG),)),
)  # fmt: skip

ALL = (*DAYS, *POINTS, *TWICE)
