"""The cumulative distribution of a compound over points: the share of points at or below each mass."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.censored import kaplan_meier, percentile

LEAST_DETECTIONS = 3
"""Detections from which on a distribution is drawn (project default, no published source)."""


class Level(NamedTuple):
    """A mass or a limit of detection: how many results have it, and the share at or below it.

    ``share`` is None at a limit that no detection has: the estimate is stepped at detections alone.
    """

    mass: float
    detections: int
    nondetects: int
    share: float | None


class Cumulative(NamedTuple):
    """The distribution in order of mass; ``below`` is the share under the lowest detection, in no known order.

    ``median`` is None where it lies among the non-detects.
    """

    levels: tuple[Level, ...]
    below: float
    median: float | None

    @property
    def steps(self) -> tuple[tuple[float, float], ...]:
        """The steps: each mass with a detection, and the share at or below it."""
        return tuple((level.mass, level.share) for level in self.levels if level.share is not None)


def cumulative(rows: Sequence[StoredResult]) -> Cumulative | None:
    """Return the Kaplan–Meier distribution of results of one compound, rejected ones left out.

    None with too few detections, and where a result has no mass or limit above zero. A non-detect counts by its
    limit of detection, as in the percentiles.
    """
    usable = [row for row in rows if not row.rejected]
    masses = np.array([row.value if row.detected else row.lod for row in usable], dtype=float)
    detected = np.array([row.detected for row in usable], dtype=bool)
    return distribution(masses, detected) if detected.sum() >= LEAST_DETECTIONS and (masses > 0).all() else None


def distribution(masses: NDArray[np.float64], detected: NDArray[np.bool_]) -> Cumulative:
    """Return the distribution of masses, and limits of non-detects.

    >>> distribution(np.array([1.0, 2.0, 2.0, 4.0]), np.array([False, True, True, True])).levels
    (Level(mass=1.0, detections=0, nondetects=1, share=None), Level(mass=2.0, detections=2, nondetects=0, share=0.75), \
Level(mass=4.0, detections=1, nondetects=0, share=1.0))
    """
    step = kaplan_meier(masses, detected)
    shares = dict(zip(step.values.tolist(), step.cumulative.tolist(), strict=True))
    levels = (
        Level(at, int(detected[masses == at].sum()), int((~detected[masses == at]).sum()), shares.get(at))
        for at in np.unique(masses).tolist()
    )
    return Cumulative(tuple(levels), step.below, percentile(step, 0.5))
