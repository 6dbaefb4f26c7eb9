"""The field form as one HTML file."""

from __future__ import annotations

from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.project.survey import Survey


def field_form(survey: Survey, plan: FieldPlan) -> bytes:
    """Return the form."""
    raise NotImplementedError
