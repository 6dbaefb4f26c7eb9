"""Photographs against the visits to their points, and what the camera wrote into them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import enumeration, first_rows, number_of, surplus
from sitegen.compute.evaluate import Evaluation
from sitegen.findings.problems import Finding, Where
from sitegen.project.read.pictures import has_position
from sitegen.project.survey import Survey
from sitegen.project.tables import Photo
from sitegen.voice import worded

Visits = Mapping[str, list[tuple[int, str, str]]]
"""Visits by point: minute (UTC), what was done, and its time as written."""


def times_near_visits(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """A photograph of a point was taken about when a sampler was placed or retrieved there."""
    table = survey.tables["photos"]
    limit = evaluation.limits["photo_visit_h"]
    visits = _visits(evaluation)
    photos = survey.rows(Photo)
    far = [_minutes_off(visits.get(p.location_id, []), p.taken_at_utc) > 60 * limit.value for p in photos]
    bad = pd.Series(far, index=table.frame.index, dtype=bool)
    for row in first_rows(table, bad, Photo):
        yield find(
            "photo-time-off",
            row.file,
            row.origin.where("taken_at"),
            _apart(row, visits),
            worded("within {limit} of installation or retrieval ({source})", limit=limit.text, source=limit.source),
            kind="photo",
        )
    yield from surplus("photo-time-off", table, bad, "taken_at")


def _visits(evaluation: Evaluation) -> dict[str, list[tuple[int, str, str]]]:
    found: dict[str, list[tuple[int, str, str]]] = {}
    for p in evaluation.deployed:
        for utc, done, written in (
            (p.placed_utc, "placed", p.placed_at),
            (p.retrieved_utc, "retrieved", p.retrieved_at),
        ):
            if utc is not None and utc >= 0:
                found.setdefault(p.location_id, []).append((utc, done, written))
    return found


def _minutes_off(visits: list[tuple[int, str, str]], taken_utc: float) -> float:
    """Return the minutes from a photograph to the nearest visit, 0 where either is not on record."""
    return min((abs(taken_utc - utc) for utc, _, _ in visits if not math.isnan(taken_utc)), default=0.0)


def _apart(row: Photo, visits: Visits) -> str:
    utc, done, written = min(visits[row.location_id], key=lambda visit: abs(visit[0] - row.taken_at_utc))
    hours = abs(utc - row.taken_at_utc) / 60
    words = {
        "placed": "taken at {taken_at}, {hours:.1f} h from the nearest visit to {point} (placed {written})",
        "retrieved": "taken at {taken_at}, {hours:.1f} h from the nearest visit to {point} (retrieved {written})",
    }
    return worded(
        words[done],
        taken_at=row.taken_at,
        hours=hours,
        point=row.location_id,
        written=written,
    )


def camera_positions(survey: Survey) -> Iterator[Finding]:
    """Pictures shown inside the team keep what the camera wrote; one note names those with a position."""
    stated = survey.settings.publish
    if stated.level != "internal" or "photo_metadata" in stated.withhold:
        return
    shown = [f for path, f in survey.folder.files.items() if path.startswith("photos/") and has_position(f.content)]
    if shown:
        yield find(
            "photo-position",
            "survey",
            Where(shown[0].path),
            worded(
                "the camera's position in {pictures}: {named}",
                pictures=number_of(len(shown), "picture"),
                named=enumeration(f.path for f in shown),
            ),
            worded(
                "awareness before this copy is distributed; copies at client and public level contain no camera data"
            ),
        )


RULES = (camera_positions,)
EVALUATION_RULES = (times_near_visits,)
