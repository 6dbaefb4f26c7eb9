"""Small planned folders: a site in metres, settings of a plan, and rows of points.

    planned(GRID, features=[area("building", "Shed", 20, 20, 40, 40)])

Metres are those of UTM zone 14 north from the site's south-west corner, which lies at EAST and NORTH.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.propose import Proposal, propose
from sitegen.project.folder import Folder, InputFile
from sitegen.project.load import load_folder
from sitegen.project.place.coordinates import transform
from sitegen.project.survey import Survey

EAST, NORTH = 470_000.0, 4_770_000.0
SETTINGS = """\
[project]
id = "P-1"
title = "A plan"
site = "A yard"
revision = 0
report_date = 2025-10-01
time_zone = "America/Chicago"

[space]
crs = "{crs}"
{more}
[plan]
spacing = {{ value = 20.0, unit = "m" }}
"""
HEADER = "location_id,medium,design,rationale,plan_easting,plan_northing,easting,northing,surface,status,off_site\n"
Drawn = tuple[BaseGeometry, Mapping[str, str]]


def area(kind: str, name: str, west: float, south: float, east: float, north: float, **more: str) -> Drawn:
    """Return a rectangle of a kind, in metres from the site's corner."""
    return shapely.box(west, south, east, north), {"kind": kind, "name": name, **more}


def line(kind: str, name: str, *places: tuple[float, float], **more: str) -> Drawn:
    """Return a line of a kind."""
    return shapely.LineString(places), {"kind": kind, "name": name, **more}


def spot(kind: str, name: str, x: float, y: float) -> Drawn:
    """Return a place of a kind."""
    return shapely.Point(x, y), {"kind": kind, "name": name}


YARD = area("site_boundary", "Yard", 0, 0, 100, 100)


def drawing(features: Iterable[Drawn]) -> bytes:
    """Return features as GeoJSON in WGS 84."""

    def degrees(xy: np.ndarray[Any, np.dtype[np.float64]]) -> np.ndarray[Any, np.dtype[np.float64]]:
        return np.column_stack(transform("EPSG:32614", "EPSG:4326", xy[:, 0] + EAST, xy[:, 1] + NORTH))

    drawn = [
        {
            "type": "Feature",
            "properties": dict(properties),
            "geometry": shapely.geometry.mapping(shapely.transform(shape, degrees)),
        }
        for shape, properties in features
    ]
    return json.dumps({"type": "FeatureCollection", "features": drawn}).encode()


def planned_folder(
    plan: str,
    *,
    features: Iterable[Drawn] = (),
    rows: str = "",
    crs: str = "EPSG:32614",
    more: str = "",
    site: Drawn = YARD,
) -> Folder:
    """Return a folder with a site, a plan and rows of points below :data:`HEADER`."""
    settings = SETTINGS.format(crs=crs, more=more) + plan + "\n"
    contents = {
        "locations/features.geojson": drawing([site, *features]),
        "locations/locations.csv": (HEADER + rows).encode(),
        "project.toml": settings.encode(),
    }
    return Folder({path: InputFile(path, hashlib.sha256(c).hexdigest(), c) for path, c in contents.items()}, (), ())


def planned(plan: str, **how: Any) -> Survey:  # noqa: ANN401 - handed on
    """Return the survey of such a folder."""
    survey, _ = load_folder(planned_folder(plan, **how))
    assert survey is not None
    return survey


def proposed(plan: str, **how: Any) -> Proposal:  # noqa: ANN401 - handed on
    """Return what is proposed for such a folder."""
    return propose(planned(plan, **how))


def places(proposal: Proposal) -> list[tuple[float, float]]:
    """Return the proposed places in metres from the site's corner, to the centimetre."""
    return [(round(float(p.easting) - EAST, 2), round(float(p.northing) - NORTH, 2)) for p in proposal.points]
