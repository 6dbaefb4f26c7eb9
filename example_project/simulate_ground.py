"""The invented ground: points, site features, and what is really there.

Plan positions are metres east and north of a corner peg (``ORIGIN``) in
EPSG:32614. The second half of the file holds the hidden truth: how much of
each compound reaches a sampler at a place. No other script knows it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass

from simulate_base import Row, bell, stream

ORIGIN = (470000.0, 4770000.0)
Place = tuple[float, float]

SUMP: Place = (50.0, 68.0)
PUMP: Place = (114.0, 97.0)
FLOW: Place = (0.927, -0.375)
LATERAL: tuple[Place, Place] = ((44.0, 58.0), (36.0, -14.0))


@dataclass(frozen=True)
class Point:
    """One planned or added point: where it stands (metres from the peg) and why."""

    location_id: str
    at_m: Place
    design: str = "grid"
    surface: str = "soil"
    medium: str = "soil_gas"
    building: str = "NA"
    rationale: str = "regular grid, 24 m"
    status: str = "placed"
    off_site: str = "no"
    comment: str = ""


# --- points -------------------------------------------------------------------------

GRID_X = (2.0, 26.0, 50.0, 74.0, 98.0, 122.0, 146.0)
GRID_Y = (2.0, 26.0, 50.0, 74.0, 98.0)
INSIDE_BUILDINGS = {(50.0, 74.0), (26.0, 98.0)}
PAVED = {
    (2.0, 50.0): "gravel",
    (98.0, 50.0): "asphalt",
    (74.0, 98.0): "asphalt",
    (98.0, 98.0): "asphalt",
    (122.0, 98.0): "concrete",
}
REMARKS = {
    "SG-07": "Soil stockpile over the peg, about 2 m high. Not drilled.",
    "SG-16": "Refusal on cobbles or rubble, two tries within a foot of each other.",
    "SG-21": "Area mown between the two visits.",
    "SG-27": "Peg stood on the paint line of the power cable, moved north.",
}
TARGETED: tuple[tuple[float, float, str, str], ...] = (
    (67.0, 70.0, "concrete", "laundry, loading pad, beside the floor drain"),
    (66.0, 62.0, "concrete", "laundry, loading pad, down-gradient corner"),
    (79.0, 57.0, "soil", "down-gradient of the laundry"),
    (92.0, 51.5, "asphalt", "down-gradient of the laundry, office parking"),
    (106.0, 45.0, "soil", "down-gradient of the laundry"),
    (124.0, 38.0, "vegetation", "down-gradient of the laundry"),
    (86.0, 44.0, "asphalt", "flank of the flow line, office parking"),
    (44.2, 46.0, "soil", "sewer lateral, trench backfill"),
    (39.8, 34.0, "soil", "sewer lateral, trench backfill"),
    (41.1, 18.0, "soil", "sewer lateral, trench backfill"),
    (36.5, 4.0, "vegetation", "sewer lateral, trench backfill"),
    (112.0, 93.0, "concrete", "old pump island, apron"),
    (119.0, 102.0, "concrete", "old pump island, apron"),
    (128.0, 92.0, "soil", "down-gradient of the old pump island"),
    (133.0, 84.0, "soil", "down-gradient of the old pump island"),
    (34.0, 68.0, "soil", "laundry, up-gradient wall"),
)


def points() -> tuple[Point, ...]:
    """Give every point of the survey in the order of its number, air points last.

    >>> [p.location_id for p in points()][:2]
    ['SG-01', 'SG-02']
    """
    return (*_grid_points(), *_targeted_points(), *_other_points(), *_air_points())


def _grid_points() -> Iterator[Point]:
    pegs = [(x, y) for y in GRID_Y for x in GRID_X if (x, y) not in INSIDE_BUILDINGS]
    for number, (x, y) in enumerate(pegs, start=1):
        grass = (x > 110 and y < 80) or y < 10
        location_id = f"SG-{number:02d}"
        yield Point(
            location_id,
            (x, y),
            surface=PAVED.get((x, y), "vegetation" if grass else "soil"),
            status="not_done" if location_id == "SG-07" else "placed",
            comment=REMARKS.get(location_id, ""),
        )


def _targeted_points() -> Iterator[Point]:
    for number, (x, y, surface, why) in enumerate(TARGETED, start=34):
        yield Point(f"SG-{number:02d}", (x, y), "targeted", surface, rationale=why)


def _other_points() -> Iterator[Point]:
    why = "up-gradient, outside the depot"
    for name, at_m in (("SG-50", (-40.0, 110.0)), ("SG-51", (-46.0, 84.0))):
        yield Point(name, at_m, "background", "vegetation", rationale=why, off_site="yes")
    yield Point(
        "SG-52",
        (56.0, 54.0),
        "added",
        rationale="added in the field, capped pipe end seen at the laundry's south wall",
    )
    yield Point(
        "SS-01", (45.5, 70.5), "targeted", "interior_slab", "sub_slab", "Laundry",
        "laundry floor, near the sump",
    )  # fmt: skip


def _air_points() -> Iterator[Point]:
    for name, at_m, medium, building, why in (
        ("IA-01", (87.0, 62.0), "indoor_air", "Office", "office, ground floor, meeting room"),
        ("IA-02", (93.0, 68.0), "indoor_air", "Office", "office, ground floor, store"),
        ("OA-01", (-6.0, 100.0), "outdoor_air", "NA", "outdoor air, up-wind fence"),
    ):
        yield Point(name, at_m, "targeted", "NA", medium, building, why)


def surveyed(point: Point) -> Place:
    """Give the surveyed position in metres from the peg: decimetres off the plan.

    SG-27 stands 1.8 m north of its peg, clear of the power cable.
    """
    rng = stream("survey", point.location_id)
    dx, dy = (max(-0.25, min(0.25, 0.12 * bell(rng))) for _ in range(2))
    x, y = point.at_m
    if point.location_id == "SG-27":
        return x + 0.05, y + 1.8
    return x + dx, y + dy


def location_rows() -> list[Row]:
    """Give ``locations/locations.csv`` row by row."""
    return [_location_row(point) for point in points()]


def _location_row(point: Point) -> Row:
    plan = ("NA", "NA") if point.design == "added" else _grid_text(point.at_m)
    done = ("NA", "NA") if point.status == "not_done" else _grid_text(surveyed(point))
    indoors = point.building != "NA"
    thickness = {"asphalt": "3.0", "concrete": "5.5", "interior_slab": "6.0"}
    return {
        "location_id": point.location_id,
        "medium": point.medium,
        "design": point.design,
        "rationale": point.rationale,
        "plan_easting": plan[0],
        "plan_northing": plan[1],
        "easting": done[0],
        "northing": done[1],
        "coordinate_method": "tape from building corners" if indoors else "GNSS, corrected live",
        "accuracy_m": "0.30" if indoors else "0.03",
        "surface": point.surface,
        "surface_thickness_in": thickness.get(point.surface, "NA"),
        "building": point.building,
        "status": point.status,
        "off_site": point.off_site,
        "public_label": point.location_id,
        "comment": point.comment,
    }


def _grid_text(at_m: Place) -> tuple[str, str]:
    return f"{ORIGIN[0] + at_m[0]:.2f}", f"{ORIGIN[1] + at_m[1]:.2f}"


# --- features -----------------------------------------------------------------------


def lon_lat(easting_m: float, northing_m: float) -> Place:
    """Turn UTM zone 14 north on WGS 84 into longitude and latitude in degrees.

    The series of Snyder (1987), Map Projections: a Working Manual, USGS
    Professional Paper 1395, equations 3-24, 3-26, 8-12, 8-17 and 8-18 to 8-25;
    the terms left out are below a millimetre within a zone.

    >>> lon, lat = lon_lat(500000.0, 4770000.0)
    >>> round(lon, 7)
    -99.0
    """
    axis, flattening = 6378137.0, 1 / 298.257223563
    e2 = flattening * (2 - flattening)
    ep2, root = e2 / (1 - e2), math.sqrt(1 - e2)
    e1 = (1 - root) / (1 + root)
    arc = northing_m / 0.9996
    mu = arc / (axis * (1 - e2 / 4 - 3 * e2**2 / 64 - 5 * e2**3 / 256))
    foot = (
        mu
        + (3 * e1 / 2 - 27 * e1**3 / 32) * math.sin(2 * mu)
        + (21 * e1**2 / 16 - 55 * e1**4 / 32) * math.sin(4 * mu)
        + (151 * e1**3 / 96) * math.sin(6 * mu)
        + (1097 * e1**4 / 512) * math.sin(8 * mu)
    )
    c, t = ep2 * math.cos(foot) ** 2, math.tan(foot) ** 2
    bulge = 1 - e2 * math.sin(foot) ** 2
    n, r = axis / math.sqrt(bulge), axis * (1 - e2) / bulge**1.5
    d = (easting_m - 500000.0) / (n * 0.9996)
    a4 = 5 + 3 * t + 10 * c - 4 * c**2 - 9 * ep2
    a6 = 61 + 90 * t + 298 * c + 45 * t**2 - 252 * ep2 - 3 * c**2
    b5 = 5 - 2 * c + 28 * t - 3 * c**2 + 8 * ep2 + 24 * t**2
    lat = foot - n * math.tan(foot) / r * (d**2 / 2 - a4 * d**4 / 24 + a6 * d**6 / 720)
    lon = (d - (1 + 2 * t + c) * d**3 / 6 + b5 * d**5 / 120) / math.cos(foot)
    return -99.0 + math.degrees(lon), math.degrees(lat)


def _box(west: float, south: float, east: float, north: float) -> list[Place]:
    return [(west, south), (east, south), (east, north), (west, north), (west, south)]


Feature = tuple[str, str, list[Place], dict[str, object]]

FEATURES: tuple[Feature, ...] = (
    ("site_boundary", "Former Kesterly Depot",
     [(-14, -14), (172, -14), (172, 110), (160, 122), (-14, 122), (-14, -14)], {}),
    ("building", "Laundry", _box(36, 58, 62, 82),
     {"surface": "interior_slab", "occupied": "no", "basement": "no"}),
    ("building", "Workshop", _box(8, 84, 30, 104),
     {"surface": "interior_slab", "occupied": "no", "basement": "no"}),
    ("building", "Office", _box(82, 58, 96, 71),
     {"surface": "interior_slab", "occupied": "yes", "basement": "no"}),
    ("paved_area", "North yard", _box(66, 80, 104, 112), {"surface": "asphalt"}),
    ("paved_area", "Office parking", _box(82, 40, 104, 56), {"surface": "asphalt"}),
    ("paved_area", "Pump apron", _box(104, 88, 126, 108), {"surface": "concrete"}),
    ("paved_area", "Loading pad", _box(62, 58, 72, 78), {"surface": "concrete"}),
    ("paved_area", "Storage yard", _box(-8, 30, 20, 60), {"surface": "gravel"}),
    ("utility", "Old sewer lateral", list(LATERAL), {"utility_type": "sewer", "depth_ft": 5.0}),
    ("utility", "Water main", [(-14, 116), (166, 116)],
     {"utility_type": "water", "depth_ft": 5.5}),
    ("utility", "Office power cable", [(172, 78), (96, 65)],
     {"utility_type": "power", "depth_ft": 2.5, "public": "no"}),
    ("tank", "Former fuel tank", _box(112, 95, 118, 99), {"depth_ft": 9.0}),
    ("suspected_source", "Laundry floor sump", [SUMP], {}),
    ("suspected_source", "Old pump island", [PUMP], {}),
    ("well", "MW-1", [(20, 76)], {"water_level_m": 431.84}),
    ("well", "MW-2", [(152, 34)], {"water_level_m": 431.02}),
    ("flow_line", "Groundwater flow, laundry to east-south-east", [SUMP, (160, 23.5)], {}),
)  # fmt: skip
"""Kind, name, corners in metres from the peg, further properties."""


def features_text() -> str:
    """Give ``locations/features.geojson``: WGS 84, seven decimals, one feature a line."""
    lines = ",\n".join(json.dumps(_feature(item)) for item in FEATURES)
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


def _feature(item: Feature) -> dict[str, object]:
    kind, name, corners, more = item
    degrees = [lon_lat(ORIGIN[0] + x, ORIGIN[1] + y) for x, y in corners]
    pairs = [[round(lon, 7), round(lat, 7)] for lon, lat in degrees]
    shape: dict[str, object] = {"type": "LineString", "coordinates": pairs}
    if len(pairs) == 1:
        shape = {"type": "Point", "coordinates": pairs[0]}
    elif corners[0] == corners[-1]:
        shape = {"type": "Polygon", "coordinates": [pairs]}
    properties = {"kind": kind, "name": name, "public": "yes", **more}
    return {"type": "Feature", "properties": properties, "geometry": shape}


# --- what is really there -----------------------------------------------------------


def along_across(at_m: Place, source: Place) -> Place:
    """Give the distance in metres along and across the flow, seen from a source.

    >>> along_across((50.0, 68.0), SUMP)
    (0.0, 0.0)
    """
    dx, dy = at_m[0] - source[0], at_m[1] - source[1]
    return dx * FLOW[0] + dy * FLOW[1], dy * FLOW[0] - dx * FLOW[1]


def true_mass_ng(at_m: Place) -> dict[str, float]:
    """Give the mass in ng that a sound sampler at a place takes up in thirteen days.

    Three causes add up: the laundry's sump with its plume, the sewer trench,
    and the old pump island. Shapes and figures are invented.
    """
    mass = dict.fromkeys(ANALYTES, 0.0)
    for cause in (_laundry_ng, _trench_ng, _pump_ng):
        for name, mass_ng in cause(at_m).items():
            mass[name] += mass_ng
    return mass


ANALYTES = (
    "pce", "tce", "cis12dce", "trans12dce", "11dce", "vc", "111tca", "11dca", "chloroform",
    "carbontet", "mecl2", "benzene", "toluene", "ethylbenzene", "mxylene", "oxylene", "124tmb",
    "naphthalene", "2mnaph", "undecane", "octane", "mtbe",
)  # fmt: skip


def _laundry_ng(at_m: Place) -> dict[str, float]:
    s, n = along_across(at_m, SUMP)
    halo = math.exp(-math.hypot(s, n) / 6)
    down = max(s, 0.0)
    width = 6 + 0.1 * down
    core = math.exp(-((n / width) ** 2) / 2) if s > 0 else 0.0
    tce = 2500 * halo + 3000 * core * (1.15 - math.exp(-down / 20)) * math.exp(-down / 45)
    cis = 300 * halo + 2500 * core * (1 - math.exp(-down / 35)) * math.exp(-down / 60)
    return {
        "pce": 62000 * halo + 20000 * core * math.exp(-down / 25),
        "tce": tce,
        "cis12dce": cis,
        "trans12dce": 0.05 * cis,
        "11dce": 0.03 * cis + 30 * halo,
        "vc": 600 * core * (1 - math.exp(-down / 60)) * math.exp(-down / 70),
        "111tca": 900 * halo,
        "11dca": 250 * halo + 40 * core * math.exp(-down / 60),
        "carbontet": 60 * halo,
    }


def _trench_ng(at_m: Place) -> dict[str, float]:
    (x0, y0), (x1, y1) = LATERAL
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    dx, dy = at_m[0] - x0, at_m[1] - y0
    run, off = dx * ux + dy * uy, abs(dx * uy - dy * ux)
    if run < 0:
        return {}
    share = math.exp(-run / 45) * math.exp(-off / 2.5)
    return {
        "pce": 6000 * share,
        "tce": 1100 * share,
        "cis12dce": 450 * share,
        "chloroform": 120 * share,
    }


PUMP_NG = {
    "benzene": (1300, 7.5),
    "toluene": (3600, 6.5),
    "ethylbenzene": (2000, 6.0),
    "mxylene": (5600, 6.5),
    "oxylene": (2300, 6.5),
    "124tmb": (38000, 5.5),
    "naphthalene": (2200, 6.0),
    "2mnaph": (600, 5.0),
    "undecane": (17000, 5.5),
    "octane": (8000, 6.5),
    "mtbe": (160, 10.0),
}


def _pump_ng(at_m: Place) -> dict[str, float]:
    s, n = along_across(at_m, PUMP)
    reach = math.hypot(s / 1.9 if s > 0 else s, n)
    return {name: top * math.exp(-reach / fade) for name, (top, fade) in PUMP_NG.items()}
