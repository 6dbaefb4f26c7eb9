"""What keeps a plan from being carried out: a boundary, a name or a number of it. Nothing is proposed then."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from difflib import get_close_matches

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.asked import lattice, length_text, named, spacing_of
from sitegen.compute.design.propose import boundary
from sitegen.compute.limits import limits
from sitegen.compute.place.points import map_crs, on_map
from sitegen.findings.problems import Finding, Severity, Where, no_formula
from sitegen.project.limits import ID
from sitegen.project.place.coordinates import transform
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import read_id
from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE
from sitegen.project.settings import Length, line_of
from sitegen.project.survey import Survey
from sitegen.units import to_metres

MOST_POINTS = 5_000
"""Points that are asked for at most: a survey has some tens or hundreds (project default, no published source)."""

MOST_NODES = 2_000_000
"""Nodes of a grid that are looked at in the box around a boundary: a second of work (project default)."""

FURTHEST_BACKGROUND_M = 50_000.0
"""A background point further from the boundary is taken for a slip (project default, no published source)."""

_MOST_NAMES = 10
"""Names of features that are told where one is not known."""

_DIGITS = 8
"""Digits that may follow a prefix, with some to spare."""


def plan_faults(survey: Survey) -> tuple[Finding, ...]:
    """Return every fault of a plan; a survey without any can be handed to ``propose``."""
    edge = tuple(_boundary_faults(survey))
    faults = (*edge, *_prefix_faults(survey), *_named_faults(survey), *_length_faults(survey))
    faults = (*faults, *(() if edge else _background_faults(survey)))
    return faults or tuple(_too_many(survey, boundary(survey)))


def _boundary_faults(survey: Survey) -> Iterator[Finding]:
    shapes = [feature for feature in survey.features if feature.kind == "site_boundary"]
    subject, where = FEATURES_FILE, Where(FEATURES_FILE)
    if len(shapes) != 1:
        found = f"{len(shapes)} site boundaries" if shapes else "no site boundary"
        do = "keep one site_boundary" if shapes else (
            "draw the site's outline as an area of the kind site_boundary: points are proposed within it"
        )  # fmt: skip
        yield Finding("feature-doubtful", Severity.STOP, subject, where, found, "exactly one", do, "feature")
    elif not shapes[0].geometry.area > 0:
        found, do = "a site boundary that is no area", "draw the site's outline as a polygon"
        where = shapes[0].where
        yield Finding("feature-doubtful", Severity.STOP, subject, where, found, "an area", do, "feature")


def _prefix_faults(survey: Survey) -> Iterator[Finding]:
    prefix = survey.plan.id_prefix
    example = f"{prefix}01"
    plain = tidy(example) == example and no_formula(example) == example and read_id(example)[1] is None
    if not plain or ";" in prefix or len(prefix) + _DIGITS > ID.value:
        wanted = "a beginning of ids that is no formula, number or date, has no semicolon and no blank before it"
        yield _invalid(survey, "plan.id_prefix", repr(prefix[:60]), wanted, 'write such as "SG-"')


def _named_faults(survey: Survey) -> Iterator[Finding]:
    names = [feature.name for feature in survey.features if feature.name and feature.kind != "site_boundary"]
    plan = survey.plan
    asked = [(f"plan.along.{at}.feature", one.feature) for at, one in enumerate(plan.along)]
    asked += [(f"plan.around.{at}.feature", one.feature) for at, one in enumerate(plan.around)]
    for key, name in asked:
        features = named(survey, name)
        if not features:
            near = get_close_matches(name, names, n=1, cutoff=0.6)
            do = f"write {near[0]}" if near else _names_to_write(names)
            yield _invalid(survey, key, repr(name[:60]), "the name of a feature of the site", do)
        elif key.startswith("plan.along") and any(not _is_line(feature.geometry) for feature in features):
            do = "draw it as a line, or use plan.around"
            yield _invalid(survey, key, f"{name[:60]!r}, which is no line", "the name of a line", do)


def _names_to_write(names: Sequence[str]) -> str:
    """Say which names the map has, as far as a line holds them."""
    if not names:
        return "draw the feature, with a name"
    known = list(dict.fromkeys(names))
    more = f" or {len(known) - _MOST_NAMES} more" if len(known) > _MOST_NAMES else ""
    return f"write a name as the map has it: {', '.join(known[:_MOST_NAMES])}{more}"


def _is_line(geometry: BaseGeometry) -> bool:
    return geometry.geom_type in ("LineString", "MultiLineString")


def _length_faults(survey: Survey) -> Iterator[Finding]:
    """Spacings are at least what two points are kept apart by, and distances more than nothing."""
    plan = survey.plan
    spacings = [(f"plan.along.{at}.spacing", one.spacing) for at, one in enumerate(plan.along)]
    if plan.grid:
        own = plan.grid.spacing is not None
        try:
            spacings.insert(0, ("plan.grid.spacing" if own else "plan.spacing", spacing_of(survey)))
        except ValueError:
            yield _invalid(
                survey, "plan.grid.spacing", "no spacing", "a length", 'write spacing = { value = 20.0, unit = "m" }'
            )
    least = limits(survey.settings)["point_spacing_min_m"].value
    for key, length in spacings:
        if _metres(length) <= 0 or _metres(length) < least:
            wanted = f"more than 0, and at least {least:g} m (limit point_spacing_min_m)"
            yield _invalid(survey, key, length_text(length), wanted, "write a wider spacing")
    for at, one in enumerate(plan.around):
        if _metres(one.distance) <= 0:
            key = f"plan.around.{at}.distance"
            yield _invalid(survey, key, length_text(one.distance), "more than 0", "write how far from the feature")


def _background_faults(survey: Survey) -> Iterator[Finding]:
    """Tell a background point where no car gets to: swapped axes and other units put it there."""
    site, space = boundary(survey), survey.settings.space
    for at, one in enumerate(survey.plan.background):
        x, y = transform(space.crs, map_crs(survey), np.array([one.easting]), np.array([one.northing]))
        away_m = site.distance(shapely.Point(x[0], y[0])) if np.isfinite([x[0], y[0]]).all() else math.inf
        if away_m > FURTHEST_BACKGROUND_M:
            key = f"plan.background.{at}"
            found = f"{one.easting:.10g}, {one.northing:.10g}: {_far(away_m)}"
            wanted = f"a place in {space.crs}, at most {FURTHEST_BACKGROUND_M / 1000:g} km from the boundary"
            yield _invalid(survey, key, found, wanted, "write easting, then northing, in the system and unit of crs")


def _far(away_m: float) -> str:
    return "no place on earth in that system" if math.isinf(away_m) else f"{away_m / 1000:,.0f} km from the boundary"


def _too_many(survey: Survey, site: BaseGeometry) -> Iterator[Finding]:
    """Tell a plan of more points than are proposed, before any of them is made."""
    plan = survey.plan
    count = float(sum(one.points for one in plan.around) + len(plan.background))
    key = "plan.around"
    for at, line in enumerate(plan.along):
        shapes = [on_map(feature.geometry, map_crs(survey)) for feature in named(survey, line.feature)]
        count += (float(shapely.length(shapes).sum()) / _metres(line.spacing) + 1) * (2 if line.side == "both" else 1)
        key = f"plan.along.{at}.spacing" if count > MOST_POINTS else key
    if plan.grid:
        grid = lattice(plan.grid, spacing_of(survey), site)
        count += site.area / grid.cell_m2
        key = "plan.grid.spacing" if plan.grid.spacing else "plan.spacing"
        if count <= MOST_POINTS and grid.nodes_around(site.bounds) > MOST_NODES:
            found = f"a grid of {grid.nodes_around(site.bounds):,.0f} nodes in the box around the boundary"
            yield _invalid(survey, key, found, f"at most {MOST_NODES:,}", "write a wider spacing")
    if count > MOST_POINTS:
        found = f"a plan of about {float(f'{count:.3g}'):,.0f} points"
        yield _invalid(survey, key, found, f"at most {MOST_POINTS:,} points", "write a wider spacing, or fewer points")


def _metres(length: Length) -> float:
    return to_metres(length.value, length.unit)


def _invalid(survey: Survey, key: str, found: str, expected: str, do: str) -> Finding:
    text = (survey.folder.content(SETTINGS_FILE) or b"").decode("utf-8-sig", "replace")
    where = Where(SETTINGS_FILE, line_of(key, text), key)
    return Finding("setting-invalid", Severity.STOP, key, where, found, expected, do)
