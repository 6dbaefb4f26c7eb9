"""A map of what became of one compound's masses from one round to a later one."""

from __future__ import annotations

from collections.abc import Sequence

from sitegen.figures.changesigns import change_rows, factor_rows, sign_of
from sitegen.figures.ground import Ground
from sitegen.figures.inputs import PlaceChange
from sitegen.figures.sitemap import feature_rows, sheet
from sitegen.voice import worded


def change_map(figure_id: str, ground: Ground, changes: Sequence[PlaceChange], factor_labels: Sequence[str]) -> str:
    """Draw a sign at each point of the ground, with its label.

    Parameters
    ----------
    figure_id
        Sets this drawing's ids apart from all others on a page.
    ground
        The prepared ground with the points of both rounds.
    changes
        One per point, in the points' order.
    factor_labels
        Words of each class of factor, lowest first.

    Raises
    ------
    ValueError
        There are more or fewer changes than points.
    """
    signs = [sign_of(point, change) for point, change in zip(ground.points, changes, strict=True)]
    spots = [(point.easting_m, point.northing_m) for point in ground.points]
    legend = [
        (worded("Mass, earlier to later round: points"), change_rows(ground.points, changes)),
        (worded("Size of an arrow: factor"), factor_rows(factor_labels)),
        (worded("Site features"), feature_rows(ground.features)),
    ]
    return sheet(figure_id, ground, list(zip(signs, spots, strict=True)), legend)
