"""An invented survey of 24 points as its raw files: what instruments, the crew and the laboratory hand over.

Mill Race Yard (invented) lies in open grassland, where nothing of this stands. The files are as people save
them: waypoints in degrees, a logger's table with semicolons, decimal commas and cp1252, the crew's log as a
workbook with date cells, shipping papers with the month before the day, and the laboratory's workbook with
headers of three lines over merged cells, quality control among the samples, and a re-issue.
"""

from __future__ import annotations

import io
import random
from datetime import datetime, timedelta
from functools import cache
from typing import NamedTuple

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.worksheet.worksheet import Worksheet

SEED = 20251114
MORNING = datetime.fromisoformat("2025-10-14T07:00")
"""The crew begins: wall clock of the project."""
POINTS = tuple(f"SG-{number:02}" for number in range(1, 25))
SERIALS = tuple(f"00512{number:02}" for number in range(1, 31))
TRIP_BLANK, PRIMARIES, DUPLICATES, SPARES = SERIALS[0], SERIALS[1:25], SERIALS[25:27], SERIALS[27:]
DOUBLED = ("SG-05", "SG-17")
COMPOUNDS = (
    ("Vinyl chloride", "75-01-4", 25),
    ("1,1-Dichloroethene", "75-35-4", 10),
    ("trans-1,2-Dichloroethene", "156-60-5", 10),
    ("cis-1,2-Dichloroethene", "156-59-2", 10),
    ("Chloroform", "67-66-3", 10),
    ("Benzene", "71-43-2", 20),
    ("Trichloroethene", "79-01-6", 10),
    ("Toluene", "108-88-3", 20),
    ("Tetrachloroethene", "127-18-4", 10),
    ("Ethylbenzene", "100-41-4", 10),
    ("m,p-Xylene", "179601-23-1", 20),
    ("Naphthalene", "91-20-3", 10),
)
"""Name, CAS registry number (Chemical Abstracts Service) and reporting limit in ng of each compound."""
NAMES = tuple(name for name, _, _ in COMPOUNDS)
LIMIT_NG = {name: limit for name, _, limit in COMPOUNDS}
SOURCE = {"Tetrachloroethene": 5200, "Trichloroethene": 900, "cis-1,2-Dichloroethene": 260, "Toluene": 55}
WEST, SOUTH = -99.36120, 43.08310


class Amount(NamedTuple):
    """A result as it really is: mass in ng (None for a non-detect), limit in ng, qualifier."""

    mass_ng: int | None
    limit_ng: int
    qualifier: str


def position(point: str) -> tuple[float, float]:
    """Return longitude and latitude of a point: six by four, about 20 m apart."""
    row, column = divmod(POINTS.index(point), 6)
    return round(WEST + column * 0.000246, 6), round(SOUTH + row * 0.00018, 6)


def placed(at: int) -> datetime:
    """Return when the primary number ``at`` went in, wall clock of the project."""
    return MORNING + timedelta(minutes=65 + 11 * at)


def retrieved(at: int) -> datetime:
    """Return when the primary number ``at`` came out."""
    return MORNING + timedelta(days=10, minutes=80 + 9 * at)


def lab_id(serial: str) -> str:
    """Return the laboratory's id of a sampler."""
    return f"K5117-{SERIALS.index(serial) + 1:02}"


ANALYSED = (TRIP_BLANK, *PRIMARIES, *DUPLICATES)
METHOD_BLANK = "K5117-MB1"
CONTROL = "K5117-LCS1"


@cache
def amounts() -> dict[tuple[str, str], Amount]:
    """Return the first issue's results by laboratory id and compound, the method blank's with them."""
    draw = random.Random(SEED)  # noqa: S311 - a survey is drawn, no secret
    found = {}
    for serial in ANALYSED:
        for name in NAMES:
            found[lab_id(serial), name] = _amount(serial, name, draw.random())
    return found | {(METHOD_BLANK, name): Amount(None, LIMIT_NG[name], "U") for name in NAMES}


def _amount(serial: str, name: str, chance: float) -> Amount:
    limit = LIMIT_NG[name]
    if serial == TRIP_BLANK:
        return Amount(None, limit, "U")
    at = PRIMARIES.index(serial) if serial in PRIMARIES else POINTS.index(DOUBLED[DUPLICATES.index(serial)])
    row, column = divmod(at, 6)
    mass = round(SOURCE.get(name, 12) / (1 + (row - 1) ** 2 + (column - 2) ** 2) * (0.9 + 0.2 * chance))
    if mass < limit / 2:
        return Amount(None, limit, "U")
    return Amount(mass, limit, "J" if mass < limit else "")


@cache
def amounts_again() -> dict[tuple[str, str], Amount]:
    """Return the re-issue's results: three of the first issue's differ."""
    return amounts() | {
        (lab_id(PRIMARIES[8]), "Tetrachloroethene"): Amount(6150, 10, ""),
        (lab_id(PRIMARIES[8]), "Trichloroethene"): Amount(1104, 10, ""),
        (lab_id(PRIMARIES[23]), "Toluene"): Amount(24, 20, ""),
    }


CHANGED = 3


def waypoints() -> bytes:
    """Return the receiver's export: a waypoint for each point, longitude and latitude in degrees."""
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">']
    for point in POINTS:
        longitude, latitude = position(point)
        lines.append(f'<wpt lat="{latitude:.6f}" lon="{longitude:.6f}"><name>{point}</name></wpt>')
    return "\n".join((*lines, "</gpx>", "")).encode()


def shapes() -> bytes:
    """Return the site plan as a drawing program writes it: KML, in folders, two shapes with names."""
    east, north = WEST + 5 * 0.000246, SOUTH + 3 * 0.00018
    yard = _ring(WEST - 0.0003, SOUTH - 0.0003, east + 0.0003, north + 0.0003)
    pit = _ring(WEST + 0.00045, SOUTH + 0.00015, WEST + 0.00055, SOUTH + 0.00022)
    marks = (("Yard", "Mill Race Yard (invented)", yard), ("Suspected", "Former degreasing pit", pit))
    folders = "".join(
        f"<Folder><name>{folder}</name><Placemark><name>{name}</name><Polygon><outerBoundaryIs><LinearRing>"
        f"<coordinates>{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Folder>"
        for folder, name, ring in marks
    )
    head = '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    return f"{head}{folders}</Document></kml>\n".encode()


def _ring(west: float, south: float, east: float, north: float) -> str:
    corners = ((west, south), (east, south), (east, north), (west, north), (west, south))
    return " ".join(f"{longitude:.6f},{latitude:.6f},0" for longitude, latitude in corners)


def logger_table() -> bytes:
    """Return the weather logger's table: semicolons, decimal commas, cp1252, day before month."""
    lines = ["at;rain_mm;temperature_c;pressure_hpa;pressure_kind;source;station;distance_km"]
    for hours in range(0, 24 * 11 + 1, 6):
        at = MORNING + timedelta(hours=hours - MORNING.hour)
        rain = "1,4" if hours % 42 == 0 and hours else "0,0"
        warmth = f"{9 + (hours % 24) / 4:.1f}".replace(".", ",")
        pressure = f"{955 + hours % 18 / 2:.1f}".replace(".", ",")
        lines.append(
            f"{at:%d.%m.%Y %H:%M};{rain};{warmth};{pressure};station;Logger, 10 °C geprüft;Mühle (erfunden);0,4"
        )
    return "\r\n".join((*lines, "")).encode("cp1252")


def crew_log() -> bytes:
    """Return the crew's log: a workbook with date cells, one row for each sampler placed.

    A depth is written where it is another than that of the plan, and moisture where water stood in the hole.
    """
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "deployments"
    sheet.append(
        ["sampler_id", "location_id", "duplicate_of", "placed_at", "retrieved_at", "depth_ft", "condition", "moisture"]
    )
    for at, (serial, point) in enumerate(zip(PRIMARIES, POINTS, strict=True)):
        _log(sheet, serial, point, None, at)
        if point in DOUBLED:
            _log(sheet, DUPLICATES[DOUBLED.index(point)], point, serial, at)
    return _saved(book)


def _log(sheet: Worksheet, serial: str, point: str, of: str | None, at: int) -> None:
    late = timedelta(minutes=2 if of else 0)
    depth, moisture = None if at % 7 else 2.8, None if at % 5 else "wet"
    sheet.append([serial, point, of, placed(at) + late, retrieved(at) + late, depth, "intact", moisture])
    for column in (1, 3):
        sheet.cell(sheet.max_row, column).number_format = "@"


def lab_workbook(*, again: bool = False) -> bytes:
    """Return the laboratory's workbook: compounds down, samples across, headers of three lines over merged cells."""
    results = amounts_again() if again else amounts()
    book = Workbook()
    cover = book.worksheets[0]
    cover.title = "Cover"
    for line in ("Kettle Bend Laboratory (invented)", "Job K5117" + (", revision 1" if again else "")):
        cover.append([line])
    sheet = book.create_sheet("Results")
    sheet.append(["Kettle Bend Laboratory (invented)"])
    sheet.append(["Job K5117" + (", revision 1" if again else "")])
    sheet.append(["Received: 10/27/2025 9:15 AM"])
    sheet.append(["Batch: 5117-A"])
    sheet.append([])
    columns = [*map(lab_id, ANALYSED), METHOD_BLANK, CONTROL]
    clients = [*(int(serial) for serial in ANALYSED), "Method Blank", "Control"]
    sheet.append(["Compound", "CAS No.", "Units", "RL", *_wide(columns)])
    sheet.append([None, None, None, None, *_wide(clients)])
    sheet.append([None, None, None, None, *["Result", "Q"] * len(columns)])
    for column in range(1, 5):
        sheet.merge_cells(start_row=6, end_row=8, start_column=column, end_column=column)
    for at in range(len(columns)):
        for row in (6, 7):
            sheet.merge_cells(start_row=row, end_row=row, start_column=5 + 2 * at, end_column=6 + 2 * at)
            sheet.cell(row, 5 + 2 * at).alignment = Alignment(horizontal="center")
    for name, cas, limit in COMPOUNDS:
        line: list[object] = [name, cas, "ng/sampler", limit]
        for column in columns[:-1]:
            line += _shown(results[column, name])
        sheet.append([*line, 96, None])
    sheet.append([])
    sheet.append(["U: not detected at the reporting limit. J: estimated below it. Control: recovery in %, 70-130."])
    return _saved(book)


def _wide(cells: list[object] | list[str]) -> list[object]:
    """Return cells with a blank one behind each, to be merged with it."""
    return [part for cell in cells for part in (cell, None)]


def _shown(amount: Amount) -> list[object]:
    if amount.mass_ng is None:
        return [f"<{amount.limit_ng}", "U"]
    return [amount.mass_ng, amount.qualifier or None]


def _saved(book: Workbook) -> bytes:
    """Return a workbook as bytes."""
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()
