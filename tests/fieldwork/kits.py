"""What tests of the kit share: the planned survey with changes, its plan, and PDFs read again."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any, cast

import numpy as np
import pikepdf
from planned_survey import CRS, folder, in_field, texts

from sitegen.compute.design.fieldplan import FieldPlan, field_plan
from sitegen.fieldwork.kit.typeset import set_pdf
from sitegen.project.load import load_folder
from sitegen.project.place.coordinates import transform
from sitegen.project.survey import Survey
from sitegen.render.proof.pdf_text import read_pdf

Node = Mapping[str, Any]


def survey_of(files: Mapping[str, str]) -> Survey:
    """Return the survey of files in memory."""
    survey, _ = load_folder(folder(files))
    assert survey is not None
    return survey


def planned(**edits: str) -> tuple[Survey, FieldPlan]:
    """Return the planned survey and its plan, with some files replaced: ``_`` for ``/`` in their stems."""
    survey = survey_of(texts() | {path.replace("__", "/"): text for path, text in edits.items()})
    return survey, field_plan(survey)


def begun() -> tuple[Survey, FieldPlan]:
    """Return the same survey while six samplers were placed and three of them retrieved."""
    survey = survey_of(in_field())
    return survey, field_plan(survey)


def edited(path: str, old: str, new: str, files: Mapping[str, str] | None = None) -> dict[str, str]:
    """Return the planned survey's files with a text of one of them replaced, which must be there."""
    made = dict(files or texts())
    assert old in made[path]
    made[path] = made[path].replace(old, new)
    return made


def in_degrees(code: str) -> dict[str, str]:
    """Return the planned survey's files with its points in a system of degrees, its map in the metres it was in."""
    files = texts()
    files["project.toml"] = files["project.toml"].replace(f'crs = "{CRS}"', f'crs = "{code}"\nmap_crs = "{CRS}"')
    rows = list(csv.DictReader(io.StringIO(files["locations/locations.csv"])))
    for row in rows:
        x, y = (np.array([float(row[name])]) for name in ("plan_easting", "plan_northing"))
        lon, lat = transform(CRS, code, x, y)
        row |= {"plan_easting": f"{lon[0]:.9f}", "plan_northing": f"{lat[0]:.9f}"}
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    return files | {"locations/locations.csv": out.getvalue()}


def project(survey: Survey) -> Node:
    """Return what head and foot of a form say."""
    return {"id": survey.settings.project.id, "title": "T", "prepared_by": "P", "revision": 0, "digest8": "01234567"}


def printed(template: str, survey: Survey, data: Node, paper: str = "a4") -> bytes:
    """Return a form as a PDF."""
    day = survey.settings.project.report_date
    return set_pdf(template, {"project": project(survey), **data}, paper=paper, day=day)


def text_of(pdf: bytes) -> str:
    """Return the text of a PDF without blanks, signs of no width left out."""
    return read_pdf(pdf, parsed=True).text


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Return width and height of each page, in points."""
    with pikepdf.open(BytesIO(pdf)) as document:
        boxes = [[float(side) for side in cast("Any", page.mediabox)] for page in document.pages]
    return [(round(box[2], 1), round(box[3], 1)) for box in boxes]


def lines(text: str) -> Sequence[str]:
    """Return the lines of a text."""
    return io.StringIO(text).read().splitlines()
