"""A made-up map for trials: 57 points on a leaning grid, or as many as asked for."""

from __future__ import annotations

import math
from typing import Any

from sitegen.figures.look import CLASS_RADII_PX
from sitegen.report.record.maps import MapData, MapLayer, MapMark, MapPoint, MapValue
from sitegen.report.record.pages import Meta

LON0, LAT0 = -99.3700, 43.0800
EASTING0, NORTHING0 = 470000.0, 4770000.0
METRES_PER_DEGREE_LAT = 111_132.0
SURFACES = ("soil", "vegetation", "gravel", "asphalt", "concrete", "interior_slab")
TRIP_BLANK, WATER = MapMark("trip blank"), MapMark("water", "Water was inside.")
CUSTODY = MapMark("custody", "No holder is recorded.", ring=False)
CLASS_LABELS = ("under 10", "10 to 99", "100 to 999", "1,000 to 9,999", "10,000 and over")


def lon_lat(x_m: float, y_m: float) -> tuple[float, float]:
    """Turn metres from the corner into degrees, flat: good enough for a drawing."""
    scale = METRES_PER_DEGREE_LAT * math.cos(math.radians(LAT0))
    return LON0 + x_m / scale, LAT0 + y_m / METRES_PER_DEGREE_LAT


def places(count: int = 57) -> list[tuple[float, float]]:
    """Return metres east and north of the corner for each point."""
    columns = max(1, round(math.sqrt(count * 1.3)))
    spots = []
    for i in range(count):
        row, column = divmod(i, columns)
        spots.append((18.0 * column + 3.1 * row + (i * 37 % 11) * 0.5, 21.0 * row + (i * 53 % 13) * 0.4))
    return spots


def mass_ng(x_m: float, y_m: float, layer: int) -> float:
    """Return a plume with its source near the middle, shifted from layer to layer."""
    dx, dy = x_m - 70 - 9 * layer, y_m - 75 + 5 * layer
    return 30_000 * math.exp(-((dx / 34) ** 2) - (dy / 26) ** 2) + 0.02 * x_m


def value_at(i: int, x_m: float, y_m: float, layer: int) -> MapValue:
    """Class, text and marks; under 10 ng is a non-detect, a few are not analysed."""
    if (i + layer) % 29 == 28:
        return MapValue("", None, ())
    mass = mass_ng(x_m, y_m, layer)
    marks = (TRIP_BLANK,) if (i + layer) % 17 == 3 else ()
    if mass < 1:
        return MapValue("<10", -1, marks)
    return MapValue(f"{mass:,.0f}" if mass >= 10 else "6 J", min(4, int(math.log10(mass))), marks)


def map_data(count: int = 57, compounds: int = 3, **changes: object) -> MapData:
    """Build map data; ``changes`` replace fields of the record."""
    spots = places(count)
    made = []
    for i, (x_m, y_m) in enumerate(spots):
        lon, lat = lon_lat(x_m, y_m)
        name = f"SG-{i + 1:02d}"
        state = {11: "lost", 23: "not_installed"}.get(i, "retrieved")
        medium = "indoor_air" if i in (30, 31) else "soil_gas"
        surface = "" if medium == "indoor_air" else SURFACES[i * 5 % len(SURFACES)]
        marks = (WATER,) if i == 25 else ()
        made.append(MapPoint(name, name, lon, lat, EASTING0 + x_m, NORTHING0 + y_m, medium, surface, state, marks, ""))
    drawn = [
        MapLayer(
            f"c{k:02d}",
            f"Compound {k:02d}",
            "ng per sampler",
            tuple(value_at(i, x_m, y_m, k) for i, (x_m, y_m) in enumerate(spots)),
        )
        for k in range(compounds)
    ]
    fields: dict[str, object] = {
        "points": tuple(made),
        "layers": tuple(drawn),
        "features": features(),
        "class_labels": CLASS_LABELS,
        "first_layer": "c00",
        "crs_text": "WGS 84 / UTM zone 14N (EPSG:32614)",
    }
    return MapData(**(fields | changes))


def ring(*corners: tuple[float, float]) -> list[list[list[float]]]:
    """Return a GeoJSON polygon's coordinates from corners in metres."""
    return [[list(lon_lat(*corner)) for corner in (*corners, corners[0])]]


def feature(kind: str, name: str, geometry: str, coordinates: list) -> dict[str, Any]:
    """Return a GeoJSON feature."""
    properties = {"kind": kind, "name": name, "public": "yes"}
    return {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": geometry, "coordinates": coordinates},
    }


def features() -> tuple[dict[str, Any], ...]:
    """One feature of most kinds."""
    line = [list(lon_lat(*at)) for at in ((20, 20), (60, 55), (135, 62))]
    flow = [list(lon_lat(*at)) for at in ((75, 95), (150, 60))]
    return (
        feature("site_boundary", "Depot boundary", "Polygon", ring((-12, -12), (170, -12), (182, 140), (0, 146))),
        feature("building", "Laundry", "Polygon", ring((50, 62), (88, 62), (88, 92), (50, 92))),
        feature("paved_area", "Yard", "Polygon", ring((92, 30), (160, 30), (160, 110), (92, 110))),
        feature("suspected_source", "Floor sump", "Polygon", ring((66, 70), (74, 70), (74, 78), (66, 78))),
        feature("utility", "Sewer lateral", "LineString", line),
        feature("flow_line", "Flow", "LineString", flow),
        feature("well", "MW-1", "Point", list(lon_lat(140, 20))),
    )


def meta(**changes: object) -> Meta:
    """Return the page words of the made-up project."""
    fields: dict[str, object] = {
        "project_id": "OB-001",
        "title": "Passive soil-gas survey (invented)",
        "site": "Former Kesterly Depot",
        "client": "Ostrel Bend Redevelopment Board (invented)",
        "prepared_by": "Example Field Group (invented)",
        "revision": 1,
        "status_word": "in review",
        "report_date": "2025-12-12",
        "digest": "0" * 64,
        "publish_level": "internal",
        "tool": "sitegen",
        "notices": ("All data are invented.",),
    }
    return Meta(**(fields | changes))


assert len(CLASS_LABELS) <= len(CLASS_RADII_PX)
