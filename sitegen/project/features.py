"""Site features from GeoJSON (RFC 7946), each problem told with the feature's number."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import shapely
from shapely.errors import ShapelyError
from shapely.geometry import shape
from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.schema import FEATURE_KINDS, FEATURES_FILE
from sitegen.project.survey import Feature

MAX_VERTICES = 200_000
"""More vertices than this in the whole file are refused: project default, no published source."""


def read_features(content: bytes) -> tuple[tuple[Feature, ...], list[Finding]]:
    """Read ``features.geojson``; a feature with a problem is left out and told."""
    try:
        data = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
        items = data["features"] if data["type"] == "FeatureCollection" else None
    except (ValueError, KeyError, TypeError, RecursionError):
        items = None
    if not isinstance(items, list):
        return (), [_problem(None, "text that is not a FeatureCollection", "GeoJSON (RFC 7946)", "export it again")]
    features: list[Feature] = []
    findings: list[Finding] = []
    for number, item in enumerate(items, start=1):
        feature, problem = _feature(number, item)
        if feature:
            features.append(feature)
        if problem:
            findings.append(problem)
    return tuple(features), findings + _whole(data, features)


def _no_constant(name: str) -> float:
    raise ValueError(name)


def _feature(number: int, item: Mapping[str, Any]) -> tuple[Feature | None, Finding | None]:
    try:
        properties = dict(item.get("properties") or {})
        geometry = shape(item["geometry"])
        inside = bool(geometry.bounds) and _in_degrees(geometry)
    except (AttributeError, KeyError, TypeError, ValueError, IndexError, OverflowError, RecursionError, ShapelyError):
        return None, _problem(number, "a geometry that can't be read", "a GeoJSON geometry", "draw it again")
    if not inside:
        return None, _problem(
            number,
            "coordinates outside longitude -180 to 180 and latitude -90 to 90, or none",
            "WGS 84 longitude, latitude",
            "export the layer in WGS 84 degrees, longitude first",
        )
    kind = str(properties.get("kind", ""))
    if kind not in FEATURE_KINDS:
        return None, _problem(number, f"the kind {kind!r}", "one of " + ", ".join(FEATURE_KINDS), "correct the kind")
    return _sound(number, kind, properties, geometry)


def _in_degrees(geometry: BaseGeometry) -> bool:
    west, south, east, north = geometry.bounds
    return -180 <= west <= east <= 180 and -90 <= south <= north <= 90


def _sound(
    number: int, kind: str, properties: dict[str, Any], geometry: BaseGeometry
) -> tuple[Feature | None, Finding | None]:
    problem = None
    if not geometry.is_valid:
        problem = _problem(
            number,
            f"a shape that crosses itself ({shapely.is_valid_reason(geometry)[:60]})",
            "a simple polygon",
            "redraw it; it is used as mended here",
            Severity.FLAG,
        )
        geometry = shapely.make_valid(geometry)
    name = str(properties.get("name") or f"{kind} {number}")
    public = str(properties.get("public", "yes")).lower() not in ("no", "false")
    return Feature(number, kind, name, public, shapely.force_2d(geometry), properties), problem


def _whole(data: dict[str, Any], features: list[Feature]) -> list[Finding]:
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
    if "crs" in data:
        findings.append(
            _problem(None, "a crs member", "WGS 84 without a crs member", "export without it", Severity.FLAG)
        )
    vertices = sum(int(shapely.get_num_coordinates(feature.geometry)) for feature in features)
    if vertices > MAX_VERTICES:
        findings.append(_problem(None, f"{vertices} vertices", f"at most {MAX_VERTICES}", "simplify the shapes"))
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
