"""The example before its field work: points as planned, nothing placed, no sampler on record, nothing analysed."""

from __future__ import annotations

from builders import Change, changed, content, every, load

from sitegen.compute.design.allocation import allocate, count_samplers
from sitegen.compute.design.fieldplan import FieldPlan, field_plan
from sitegen.project.folder import Folder
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLE

LOCATIONS = "locations/locations.csv"
FIELD = ("samplers", "deployments", "return_bags", "shipments", "custody")
LAB = ("lab_samples", "results", "lab_qc")


def header(name: str) -> Change:
    """Leave a table its header alone."""
    return content(TABLE[name].path, (",".join(TABLE[name].column_names) + "\n").encode())


def planned_folder(*changes: Change) -> Folder:
    """Return the planned folder with changes."""
    as_planned = {"easting": "", "northing": "", "status": "planned", "comment": "told in private"}
    return changed(every(LOCATIONS, lambda _: as_planned), *map(header, FIELD + LAB), *changes)


def planned(*changes: Change) -> tuple[Survey, FieldPlan]:
    """Return the planned survey with changes, and its plan."""
    survey = load(planned_folder(*changes))
    return survey, field_plan(survey)


def forty() -> FieldPlan:
    """Return a plan of forty samplers: primaries, duplicates, a field blank, trip blanks and spares."""
    counts = count_samplers(31, 0.1, field_blanks=1, spares=2)
    return FieldPlan((), (), allocate([f"SG-{number:02}" for number in range(1, 32)], counts))
