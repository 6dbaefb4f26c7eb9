"""What compounds say of each other and of the way the water runs: one record for the report."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.limits import LimitRecord
from sitegen.compute.place.points import Point, map_crs, on_map
from sitegen.compute.results.relations import Along, Relation, along_line, ethenes, fuels
from sitegen.compute.statistics.rank import Correlation, correlations
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.units import MASS_UNITS

MOST_CORRELATED = 12
"""Compounds in the table of correlations; more make no readable table."""


@dataclass(frozen=True, slots=True)
class Listed:
    """What is needed to know of a compound here: id, CAS number, molar mass (g/mol), mapped or not."""

    analyte_id: str
    cas: str
    molar_mass_g_mol: float | None
    mapped: bool


@dataclass(frozen=True, slots=True)
class FlowPath:
    """The soil points beside one flow line of the project, or another line, in order along it."""

    name: str
    public: bool
    length_m: float
    points: tuple[Along, ...]


@dataclass(frozen=True, slots=True)
class Related:
    """Molar shares of the ethenes, mass shares of the fuels, flow paths, rank correlations."""

    ethenes: Relation
    fuels: Relation
    flows: tuple[FlowPath, ...]
    correlations: tuple[Correlation, ...]


def relate(
    survey: Survey,
    primary: pd.DataFrame,
    points: tuple[Point, ...],
    listed: tuple[Listed, ...],
    in_force: Mapping[str, LimitRecord],
) -> Related:
    """Relate the compounds over the soil points of a survey."""
    soil = primary[primary["medium"].isin(SOIL_MEDIA) & primary["unit"].isin(MASS_UNITS)]
    cas = {item.analyte_id: item.cas for item in listed}
    molar = {item.analyte_id: item.molar_mass_g_mol or 0.0 for item in listed}
    mapped = [item.analyte_id for item in listed if item.mapped][:MOST_CORRELATED]
    return Related(
        ethenes(soil, cas, molar),
        fuels(soil, cas),
        flow_paths(survey, points, in_force["flow_line_reach_m"].value),
        correlations(soil, mapped),
    )


def flow_paths(
    survey: Survey, points: tuple[Point, ...], reach_m: float, kind: str = "flow_line"
) -> tuple[FlowPath, ...]:
    """Return the points along each flow line of the site features, or each line of another kind, in file order."""
    paths = []
    for feature in survey.features:
        if feature.kind == kind and feature.geometry.geom_type == "LineString":
            line = on_map(feature.geometry, map_crs(survey))
            near = along_line(line, points, reach_m)
            paths.append(FlowPath(feature.name, feature.public, float(line.length), near))
    return tuple(paths)
