"""How far a survey has come, as its own records show it."""

from __future__ import annotations

from typing import Literal, TypeAlias

from sitegen.project.survey import Survey
from sitegen.project.tables import Shipment

Stage: TypeAlias = Literal["planned", "in_field", "returned"]
"""``planned``: points, and nothing placed; ``in_field``: placed, and nothing at the laboratory; else ``returned``."""


def stage(survey: Survey) -> Stage:
    """Return how far a survey has come.

    It has ``returned`` once the laboratory has a sample or a result, or a return shipment was received. Without
    a point there is no plan yet, and nothing is taken for one: such a folder has ``returned`` too, so that every
    rule applies to it.
    """
    back = any(row.direction == "return" and row.received_at for row in survey.rows(Shipment))
    if back or len(survey.frame("lab_samples")) or len(survey.frame("results")):
        return "returned"
    if len(survey.frame("deployments")):
        return "in_field"
    return "planned" if len(survey.frame("locations")) else "returned"
