"""The picture under the maps: it is there, it is a picture, and its edges enclose something."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.compute.place.background import background_fault
from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.survey import Survey
from sitegen.voice import worded

_SAID = {
    "absent": ("background-missing", "a publishable file in the folder"),
    "kind": ("background-missing", "a PNG, JPEG or WebP picture"),
    "edges": ("background-edges", "west below east and south below north"),
}


def background_picture(survey: Survey) -> Iterator[Finding]:
    """The background is a picture of the folder that may be published, and its edges enclose something."""
    stated = survey.settings.map.background
    fault = background_fault(survey)
    if stated is None or not fault:
        return
    code, expected = _SAID[fault]
    edges = worded(
        "west {west:g}, east {east:g}, south {south:g}, north {north:g}",
        west=stated.west, east=stated.east, south=stated.south, north=stated.north,
    )  # fmt: skip
    found = {"absent": stated.file, "kind": worded("{file}, no such picture", file=stated.file), "edges": edges}[fault]
    yield find(code, stated.file, Where(SETTINGS_FILE, None, "map.background"), found, worded(expected))


RULES = (background_picture,)
