"""Serials that are on record for the plan's labels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from sitegen.project.survey import Survey
from sitegen.project.tables import Sampler


def known_serials(survey: Survey) -> Mapping[str, str]:
    """Return the serial of each label that one row of ``samplers.csv`` alone has; where several have it, none is."""
    rows = [row for row in survey.rows(Sampler) if row.label and row.sampler_id]
    counts = Counter(row.label for row in rows)
    return {row.label: row.sampler_id for row in rows if counts[row.label] == 1}
