"""Surveys of a few rows, and findings in a line each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from builders import Row, changed, load, settings_added
from journeys import folder

from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey

Tables = Mapping[str, list[Row]]


def survey_of(tables: Tables, settings: str = "") -> Survey:
    """Return a survey of a few rows, and of settings beside those that each must have."""
    return load(changed(settings_added(settings), folder=folder(tables)))


def told(findings: Iterable[Finding]) -> list[str]:
    """Write what findings are about, where they lead, and what was found."""
    return [f"{f.subject_kind} {f.subject} ({f.where.row} {f.where.column}): {f.found}" for f in findings]


def deployed(placed: str, retrieved: str, **others: str) -> Row:
    """Return the row of a sampler in the ground at P-1."""
    return {"sampler_id": "S-1", "location_id": "P-1", "placed_at": placed, "retrieved_at": retrieved} | others


def sampler(kind: str = "sample", **others: str) -> Row:
    """Return the row of a sampler."""
    return {"sampler_id": "S-1", "kind": kind} | others
