"""Made-up records for the drawings, from the made-up map's points."""

from __future__ import annotations

import math

from synthetic_map import (
    CLASS_LABELS,
    EASTING0,
    LAT0,
    LON0,
    METRES_PER_DEGREE_LAT,
    NORTHING0,
    features,
    lon_lat,
    map_data,
    places,
    value_at,
)

from sitegen.figures.ground import Ground, prepare_ground
from sitegen.figures.inputs import (
    CustodyRow,
    CustodySegment,
    ExposureWindow,
    PlaceFeature,
    PlacePoint,
    PlaceValue,
    ResultBar,
    Tick,
    WeatherRow,
)

CRS_TEXT = "WGS 84 / UTM zone 14N (EPSG:32614)"
GEOMETRIES = {"Polygon": "area", "LineString": "line", "Point": "point"}
LABELS = CLASS_LABELS


def metres(lon: float, lat: float) -> tuple[float, float]:
    """Turn the made-up map's degrees back into project metres."""
    per_degree_lon = 1 / (lon_lat(1, 0)[0] - LON0)
    return EASTING0 + (lon - LON0) * per_degree_lon, NORTHING0 + (lat - LAT0) * METRES_PER_DEGREE_LAT


def place_points(count: int = 57) -> tuple[PlacePoint, ...]:
    """Return the points, with plans some decimetres off and one moved."""
    made = []
    for i, point in enumerate(map_data(count, 1).points):
        moved = 4.0 if i == 16 else 0.2
        plan = (point.easting + moved, point.northing - 0.3)
        made.append(
            PlacePoint(point.label, point.easting, point.northing, *plan, point.medium, point.surface, point.state)
        )
    return tuple(made)


def place_features() -> tuple[PlaceFeature, ...]:
    """Return the features in metres."""
    made = []
    for item in features():
        geometry, properties = item["geometry"], item["properties"]
        coordinates = geometry["coordinates"]
        parts = {"Polygon": lambda c: c, "LineString": lambda c: [c], "Point": lambda c: [[c]]}
        rings = parts[geometry["type"]](coordinates)
        moved = tuple(tuple(metres(*corner) for corner in ring) for ring in rings)
        made.append(PlaceFeature(properties["kind"], properties["name"], GEOMETRIES[geometry["type"]], moved))
    return tuple(made)


def place_values(count: int = 57, layer: int = 0) -> tuple[PlaceValue, ...]:
    """Return one compound's values."""
    values = [value_at(i, *spot, layer) for i, spot in enumerate(places(count))]
    return tuple(PlaceValue(value.size_class, bool(value.marks)) for value in values)


def ground(count: int = 57) -> Ground:
    """Return the prepared ground of the made-up site."""
    return prepare_ground(place_points(count), place_features(), CRS_TEXT)


DAY = 24 * 60
TICKS = tuple(Tick(day * DAY, f"{day + 1} Nov") for day in range(0, 26, 2))


def custody_row(i: int = 0) -> CustodyRow:
    """Return one sampler's way from the laboratory and back, with a gap in every tenth."""
    placed, lifted = 2 * DAY + 600 + 9 * i, 15 * DAY + 560 + 9 * i
    gap = 130 if i % 10 == 4 else 0
    parts = (
        CustodySegment(0, DAY, "with a carrier", "CR"),
        CustodySegment(DAY, 2 * DAY + 400, "stored", "FS-1"),
        CustodySegment(2 * DAY + 400, placed, "held", "FS-1"),
        CustodySegment(placed, lifted, "in place, unattended"),
        CustodySegment(lifted, 17 * DAY, "held", "FS-2"),
        CustodySegment(17 * DAY, 17 * DAY + gap, "in transit, custody not recorded"),
        CustodySegment(17 * DAY + gap, 19 * DAY, "with a carrier", "CR"),
        CustodySegment(19 * DAY, 24 * DAY, "held", "LB-1"),
    )
    events = (
        Tick(placed, "placed by FS-1"),
        Tick(lifted, "retrieved by FS-2"),
        Tick(lifted + 40, "bagged"),
        Tick(17 * DAY, "handed to the carrier"),
        Tick(19 * DAY, "received by the laboratory"),
    )
    kept = tuple(part for part in parts if part.end_min > part.start_min)
    return CustodyRow(f"SG-{i + 1:02d}", kept, events)


def result_items() -> tuple[ResultBar, ...]:
    """Return a location's results: over four decades, with non-detects and marks."""
    return (
        ResultBar("Tetrachloroethene", "41,300", 41_300, 25, 4),
        ResultBar("Trichloroethene", "1,250", 1_250, 25, 3),
        ResultBar("cis-1,2-Dichloroethene", "88", 88, 10, 1, marked=True),
        ResultBar("Vinyl chloride", "<10", None, 10, -1),
        ResultBar("Toluene", "6.0 J", 6.0, 10, 0),
        ResultBar("Naphthalene", "<25", None, 25, -1, marked=True),
    )


def weather_rows() -> tuple[WeatherRow, ...]:
    """Return three-hourly weather with one wet day and one missing pressure."""
    rows = []
    for i in range(24 * 8):
        rain = 4.0 if 60 <= i < 67 else 0.0
        pressure = None if i == 100 else 1004 - 18 * math.exp(-(((i - 62) / 14) ** 2))
        rows.append(WeatherRow(i * 180, rain, pressure))
    return tuple(rows)


def exposure_windows(count: int = 57) -> tuple[ExposureWindow, ...]:
    """Return stays of thirteen days, one pulled early."""
    windows = []
    for i in range(count):
        start = 2 * DAY + 600 + 9 * i
        end = start + (5 * DAY if i == 12 else 13 * DAY - 30)
        windows.append(ExposureWindow(f"SG-{i + 1:02d}", start, end, marked=i == 12))
    return tuple(windows)
