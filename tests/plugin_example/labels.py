"""A check: every point has a label for public outputs."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.findings.problems import Finding, Where
from sitegen.project.survey import Survey
from sitegen.project.tables import Location

CATALOGUE = [
    {
        "code": "labels-missing",
        "severity": "flag",
        "subject": "place",
        "rule": "Every point has a label for public outputs.",
        "do": "Write the label.",
        "source": "The example package's own.",
    }
]


def points_have_labels(survey: Survey) -> Iterator[Finding]:
    """Every point has a label for public outputs."""
    for row in survey.rows(Location):
        if not row.public_label:
            where = Where(row.origin.file, row.origin.row, "public_label")
            yield find("labels-missing", row.location_id, where, "a blank label", "a label", kind="location")


RULES = [points_have_labels]
