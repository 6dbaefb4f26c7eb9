"""Utility lines of the site features that have points beside them, to be drawn along as flow lines are."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from sitegen.compute.results.relate import FlowPath, flow_paths
from sitegen.report.write.context import Context

MOST_LINES = 6
"""Utility lines that are drawn at most: those with most points (project default, no published source)."""

LEAST_BESIDE = 3
"""Points with results beside a utility line from which on it is drawn (project default, no published source)."""


class Line(NamedTuple):
    """A utility line: its number among those of the project, and the soil points with results beside it."""

    number: int
    path: FlowPath


def shown_lines(context: Context) -> tuple[Line, ...]:
    """Return the utility lines that this publish level shows and that have enough points beside them."""
    internal = context.survey.settings.publish.level == "internal"
    reach_m = context.evaluation.limits["flow_line_reach_m"].value
    paths = flow_paths(context.survey, context.evaluation.points, reach_m, "utility")
    with_results = (
        Line(number, replace(path, points=tuple(one for one in path.points if one.location_id in context.by_location)))
        for number, path in enumerate(paths, start=1)
        if path.public or internal
    )
    return tuple(line for line in with_results if len(line.path.points) >= LEAST_BESIDE)


def most_points(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Return the lines that are drawn, in their order: of more than that those with most points."""
    first = sorted(lines, key=lambda line: -len(line.path.points))[:MOST_LINES]
    return tuple(line for line in lines if line in first)
