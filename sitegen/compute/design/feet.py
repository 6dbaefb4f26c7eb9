"""Distances in words: in metres, and in feet beside them where a plan is made in feet."""

from __future__ import annotations

from sitegen.project.place.coordinates import crs
from sitegen.project.survey import Survey
from sitegen.units import LENGTHS

FEET = ("ft", "us_ft")


def in_feet(survey: Survey) -> bool:
    """Tell whether a plan is made in feet: its positions, or the spacing or depth that it states."""
    stated = [one.unit for one in (survey.plan.spacing, survey.plan.depth) if one]
    return any(unit in FEET for unit in stated) or positions_in_feet(survey)


def positions_in_feet(survey: Survey) -> bool:
    """Tell whether the project's system of positions is in feet."""
    system = crs(survey.settings.space.crs)
    return system is not None and "foot" in system.axis_info[0].unit_name


def distance_text(metres: float, *, feet: bool) -> str:
    """Write a distance.

    >>> distance_text(1.5, feet=False), distance_text(1.2192, feet=True), distance_text(20.0, feet=True)
    ('1.5 m', '1.22 m (4 ft)', '20 m (65.6 ft)')
    """
    return f"{metres:.3g} m ({metres / LENGTHS['ft'].value:.3g} ft)" if feet else f"{metres:g} m"
