"""Where the points of a plan are, for instruments and maps: CSV in two systems, GPX, GeoJSON and KML.

Points stand in walking order in each, by their ids as text. No comment and no rationale leaves the folder with them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator

from sitegen.compute.design.fieldplan import FieldPlan, PlannedPoint
from sitegen.compute.place.systems import is_geographic, system
from sitegen.figures.svg import element, words
from sitegen.findings.problems import no_formula
from sitegen.project.place.coordinates import WGS84
from sitegen.project.survey import Survey
from sitegen.render.data.exports import csv_lines

_TOLD = ("ground", "surface", "depth", "duplicate")
_XML = '<?xml version="1.0" encoding="UTF-8"?>\n'


def stakeout_files(survey: Survey, plan: FieldPlan) -> dict[str, bytes]:
    """Return the files by their paths; points without a position are in none of them.

    ``points.csv`` is in the project's own system, whose code and unit stand in its header; all others are in
    WGS 84 degrees.
    """
    doubled = {slot.location_id for slot in plan.allocation.of("field_duplicate")}
    told = [_told(number, point, doubled) for number, point in enumerate(plan.points, start=1)]
    name = survey.settings.project.id
    return {
        "stakeout/points.csv": _own_system(survey, plan, told),
        "stakeout/points_wgs84.csv": _degrees(plan, told),
        "stakeout/points.gpx": _gpx(name, plan, told),
        "stakeout/points.geojson": _geojson(plan, told),
        "stakeout/points.kml": _kml(name, plan, told),
    }


def _told(number: int, point: PlannedPoint, doubled: Iterable[str]) -> dict[str, str]:
    """Return what every file tells of a point, beside its position."""
    twice = "yes" if point.location_id in doubled else "no"
    return {
        "order": str(number),
        "location_id": point.location_id,
        "ground": point.ground,
        "surface": point.surface,
        "depth": point.depth_text,
        "duplicate": twice,
    }


def _own_system(survey: Survey, plan: FieldPlan, told: list[dict[str, str]]) -> bytes:
    code = survey.settings.space.crs
    own, degrees = system(code), is_geographic(code)
    names = ("longitude", "latitude") if degrees else ("easting", "northing")
    unit = f"{own.unit} {code}" if own else code
    places = 8 if degrees else 3
    spots = [(f"{point.easting:.{places}f}", f"{point.northing:.{places}f}") for point in plan.points]
    return _csv([f"{name} [{unit}]" for name in names], spots, told)


def _degrees(plan: FieldPlan, told: list[dict[str, str]]) -> bytes:
    names = [f"{name} [degree {WGS84}]" for name in ("longitude", "latitude")]
    return _csv(names, [_lon_lat(point) for point in plan.points], told)


def _csv(names: list[str], spots: list[tuple[str, str]], told: list[dict[str, str]]) -> bytes:
    """Write the points; a coordinate may begin with a minus, what is text may not be taken for a formula."""
    lines = [
        [one["order"], no_formula(one["location_id"]), *spot, *(no_formula(one[name]) for name in _TOLD)]
        for one, spot in zip(told, spots, strict=True)
    ]
    return csv_lines(["order", "location_id", *names, *_TOLD], lines)


def _lon_lat(point: PlannedPoint) -> tuple[str, str]:
    return f"{point.longitude:.7f}", f"{point.latitude:.7f}"


def _said(one: dict[str, str]) -> str:
    """Say in a line what is told of a point."""
    parts = [f"no. {one['order']}", one["ground"], one["surface"].replace("_", " "), one["depth"]]
    return "; ".join([*(part for part in parts if part), *(["with duplicate"] if one["duplicate"] == "yes" else [])])


def _gpx(name: str, plan: FieldPlan, told: list[dict[str, str]]) -> bytes:
    """Write waypoints of GPX 1.1, children in the order of its schema."""
    marks = [
        element(
            "wpt", element("name", words(one["location_id"])), element("desc", words(_said(one))),
            element("type", words(one["ground"])), lat=_lon_lat(point)[1], lon=_lon_lat(point)[0],
        )
        for point, one in zip(plan.points, told, strict=True)
    ]  # fmt: skip
    head = element("metadata", element("name", words(name)))
    whole = element("gpx", head, *marks, version="1.1", creator="sitegen", xmlns="http://www.topografix.com/GPX/1/1")
    return (_XML + whole + "\n").encode()


def _geojson(plan: FieldPlan, told: list[dict[str, str]]) -> bytes:
    """Write a collection of points by RFC 7946: longitude before latitude, WGS 84 without saying so."""
    features = [
        {
            "type": "Feature",
            "id": point.location_id,
            "geometry": {"type": "Point", "coordinates": [point.longitude, point.latitude]},
            "properties": one,
        }
        for point, one in zip(plan.points, told, strict=True)
    ]
    collection = {"type": "FeatureCollection", "features": features}
    return (json.dumps(collection, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _kml(name: str, plan: FieldPlan, told: list[dict[str, str]]) -> bytes:
    """Write placemarks of KML 2.2 (OGC 07-147r2), what is told of each as untyped data."""
    marks = [
        element(
            "Placemark", element("name", words(one["location_id"])), element("description", words(_said(one))),
            element("ExtendedData", *_data(one)),
            element("Point", element("coordinates", ",".join(_lon_lat(point)))),
        )
        for point, one in zip(plan.points, told, strict=True)
    ]  # fmt: skip
    document = element("Document", element("name", words(name)), *marks)
    return (_XML + element("kml", document, xmlns="http://www.opengis.net/kml/2.2") + "\n").encode()


def _data(one: dict[str, str]) -> Iterator[str]:
    for key, value in one.items():
        yield element("Data", element("value", words(value)), name=key)
