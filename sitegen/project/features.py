"""Site features from GeoJSON (RFC 7946), each problem told with the feature's number."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.errors import ShapelyError
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project import limits
from sitegen.project.schema import FEATURE_KINDS, FEATURES_FILE
from sitegen.project.shapes import (
    crossings,
    meetings,
    of_one_kind,
    property_fault,
)
from sitegen.project.survey import Feature


class _Unusable(Exception):
    """A feature that can't be used: what there is, what is expected and what to do."""

    def __init__(self, found: str, expected: str, do: str) -> None:
        super().__init__(found)
        self.words = found, expected, do


@dataclass
class _Work:
    """What is left of the bounds that all features share."""

    meetings: int = limits.MEETINGS.value
    crossings: int = limits.CROSSINGS.value


def read_features(content: bytes) -> tuple[tuple[Feature, ...], list[Finding]]:
    """Read ``features.geojson``; a feature with a problem is left out and told."""
    try:
        items, extra = _items(content)
    except _Unusable as unusable:
        return (), [_problem(None, *unusable.words)]
    features: list[Feature] = []
    findings: list[Finding] = []
    work = _Work()
    for number, item in enumerate(items, start=1):
        try:
            feature, crossing = _feature(number, item, work)
        except _Unusable as unusable:
            findings.append(_problem(number, *unusable.words))
            continue
        features.append(feature)
        if crossing:
            expected, do = "a simple polygon", "redraw it; it is used as mended here"
            findings.append(_problem(number, crossing, expected, do, Severity.FLAG))
    return tuple(features), findings + _whole(extra, features)


def _items(content: bytes) -> tuple[list[Any], bool]:
    """Return the features of a file as they stand, and whether it has a ``crs`` member."""
    if len(content) > limits.FEATURES_BYTES.value:
        raise _Unusable(
            f"{len(content):,} bytes", limits.FEATURES_BYTES.at_most, "leave out what the report does not need"
        )
    try:
        data = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
        items = data["features"] if data["type"] == "FeatureCollection" else None
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        items, said = None, f" ({error})" if isinstance(error, ValueError) else ""
    else:
        said = ""
    if not isinstance(items, list):
        found = f"text that is not a FeatureCollection{said[:200]}"
        raise _Unusable(found, "GeoJSON (RFC 7946)", "export it again")
    if len(items) > limits.FEATURES.value:
        raise _Unusable(f"{len(items):,} features", limits.FEATURES.at_most, "leave out what the report does not need")
    return items, "crs" in data


def _no_constant(name: str) -> float:
    raise ValueError(f"the number {name}")


def _feature(number: int, item: Mapping[str, Any], work: _Work) -> tuple[Feature, str]:
    """Return a feature, and where it crossed itself ("" where it is sound). Raises _Unusable."""
    try:
        properties = dict(item.get("properties") or {})
        geometry = shape(item["geometry"])
        inside = bool(geometry.bounds) and _in_degrees(geometry)
    except (AttributeError, KeyError, TypeError, ValueError, IndexError, OverflowError, RecursionError, ShapelyError):
        raise _Unusable("a geometry that can't be read", "a GeoJSON geometry", "draw it again") from None
    if not inside:
        raise _Unusable(
            "coordinates outside longitude -180 to 180 and latitude -90 to 90, or none",
            "WGS 84 longitude, latitude",
            "export the layer in WGS 84 degrees, longitude first",
        )
    found, expected = property_fault(properties)
    if found:
        raise _Unusable(found, expected, "shorten or leave out the property")
    kind = str(properties.get("kind", ""))
    if kind not in FEATURE_KINDS:
        raise _Unusable(f"the kind {kind[:60]!r}", "one of " + ", ".join(FEATURE_KINDS), "correct the kind")
    geometry, crossing = _sound(_uniform(geometry), work)
    name = str(properties.get("name") or f"{kind} {number}")
    public = str(properties.get("public", "yes")).lower() not in ("no", "false")
    return Feature(number, kind, name, public, shapely.force_2d(geometry), properties), crossing


def _in_degrees(geometry: BaseGeometry) -> bool:
    west, south, east, north = geometry.bounds
    return -180 <= west <= east <= 180 and -90 <= south <= north <= 90


def _uniform(geometry: BaseGeometry) -> BaseGeometry:
    """Return a geometry whose parts are all places, all lines or all areas; what mixes them is told."""
    parts = shapely.get_parts(geometry)
    kinds = {part.geom_type.removeprefix("Multi") for part in parts}
    if len(kinds) != 1 or "GeometryCollection" in kinds:
        do = "make each shape a feature of its own"
        raise _Unusable("a GeometryCollection that mixes or nests shapes", "points, lines or polygons alone", do)
    for count, bound in (
        (len(parts), limits.SHAPE_PARTS),
        (int(shapely.get_num_coordinates(geometry)), limits.SHAPE_VERTICES),
    ):
        if count > bound.value:
            raise _Unusable(f"{count:,} {bound.unit}", bound.at_most, "simplify the shape or divide it")
    whole = of_one_kind(geometry, int(shapely.get_dimensions(geometry)))
    return geometry if whole is None else whole


def _sound(geometry: BaseGeometry, work: _Work) -> tuple[BaseGeometry, str]:
    """Return a shape as it is or mended, and where it crossed itself."""
    met = meetings([geometry], work.meetings)
    if met > work.meetings:
        found = f"edges that overlap, with those of the features before it more than {limits.MEETINGS.value:,} times"
        raise _Unusable(found, limits.MEETINGS.at_most, "redraw the shape with fewer and shorter edges")
    work.meetings -= met
    if geometry.is_valid:
        return geometry, ""
    where = f"a shape that crosses itself ({shapely.is_valid_reason(geometry)[:60]})"
    crossed = crossings(geometry, work.crossings)
    if crossed > work.crossings:
        raise _Unusable(where, f"{limits.CROSSINGS.at_most}, to be mended here", "redraw it without crossings")
    work.crossings -= crossed
    mended = of_one_kind(shapely.make_valid(geometry), int(shapely.get_dimensions(geometry)))
    if mended is None or shapely.get_num_coordinates(mended) > limits.SHAPE_VERTICES.value:
        raise _Unusable(where, "a shape that can be mended", "redraw it")
    return mended, where


def _whole(has_crs: bool, features: list[Feature]) -> list[Finding]:
    findings = []
    boundaries = [feature for feature in features if feature.kind == "site_boundary"]
    if len(boundaries) != 1:
        findings.append(
            _problem(
                None,
                f"{len(boundaries)} site boundaries" if boundaries else "no site boundary",
                "exactly one",
                "keep one site_boundary",
                Severity.HOLD,
            )
        )
    if has_crs:
        findings.append(
            _problem(None, "a crs member", "WGS 84 without a crs member", "export without it", Severity.FLAG)
        )
    shapes = [feature.geometry for feature in features]
    vertices = int(shapely.get_num_coordinates(shapes).sum()) if shapes else 0
    if vertices > limits.VERTICES.value:
        findings.append(_problem(None, f"{vertices:,} vertices", limits.VERTICES.at_most, "simplify the shapes"))
    elif shapes and meetings(shapes) > limits.MEETINGS.value:
        found = f"features whose edges overlap more than {limits.MEETINGS.value:,} times"
        findings.append(_problem(None, found, limits.MEETINGS.at_most, "leave out what the report does not need"))
    return findings


def _problem(number: int | None, found: str, expected: str, do: str, severity: Severity = Severity.STOP) -> Finding:
    where = Where(FEATURES_FILE, None, None if number is None else f"feature {number}")
    subject = FEATURES_FILE if number is None else f"feature {number}"
    return Finding(
        "feature-unusable" if severity is Severity.STOP else "feature-doubtful",
        severity,
        subject,
        where,
        found,
        expected,
        do,
        "feature",
    )
