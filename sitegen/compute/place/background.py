"""Whether the picture that a project lays under its maps can be used."""

from __future__ import annotations

from sitegen.project.read.pictures import picture_kind
from sitegen.project.survey import Survey


def background_fault(survey: Survey) -> str:
    """Return what keeps the background picture from being used, "" where nothing does.

    ``absent``: not in the folder, or in ``private/``. ``kind``: no PNG, JPEG or WebP
    picture. ``edges``: west is not below east, or south not below north.
    """
    stated = survey.settings.map.background
    if stated is None:
        return ""
    content = survey.folder.content(stated.file)
    if content is None or stated.file.startswith("private/"):
        return "absent"
    if not picture_kind(content):
        return "kind"
    return "" if stated.west < stated.east and stated.south < stated.north else "edges"
