"""Where a survey lies, and the systems of coordinates that a message proposes for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import shapely

from sitegen.findings.problems import Finding
from sitegen.project.place.candidates import proposal
from sitegen.project.survey import Feature, SurveyTable

_SYSTEM = ("space", "space.crs")
_UNSET = ("setting-missing", "setting-invalid")


def site_degrees(features: Sequence[Feature], tables: Mapping[str, SurveyTable]) -> tuple[float, float] | None:
    """Return longitude and latitude of the middle of the site, by its features or by its points; None if unknown."""
    if features:
        west, south, east, north = shapely.total_bounds([feature.geometry for feature in features]).tolist()
        return (west + east) / 2, (south + north) / 2
    frame = tables["locations"].frame[["longitude", "latitude"]].dropna()
    if frame.empty:
        return None
    return float(frame["longitude"].median()), float(frame["latitude"].median())


def with_systems(findings: Iterable[Finding], at: tuple[float, float] | None) -> list[Finding]:
    """Return findings, that of a missing system of coordinates with the lines that would give one."""
    return [
        replace(one, do=proposal("crs", *at) or one.do)
        if at is not None and one.code in _UNSET and one.subject in _SYSTEM
        else one
        for one in findings
    ]
