"""Files: paths in cells, photographs, empty tables, ids that are nearly alike, public labels."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from pathlib import PurePosixPath

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, first_numbers, first_rows, surplus
from sitegen.findings.problems import Finding, Where
from sitegen.project.read.pictures import MAX_PIXELS, picture_kind, picture_opens, picture_size
from sitegen.project.read.textsafe import alike
from sitegen.project.schema import Kind, Presence
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import Location, Photo
from sitegen.voice import worded

_EMPTY = {Presence.REQUIRED: "table-empty", Presence.EXPECTED: "table-without-rows"}
_DRIVE = re.compile(r"[A-Za-z]:|~|/|\\")


def leaves_folder(path: str) -> bool:
    """Tell whether a path as written leads out of the project folder, or could on some machine.

    >>> leaves_folder("records/a.pdf"), leaves_folder("../a.pdf"), leaves_folder("C:/a.pdf")
    (False, True, True)
    """
    return bool(_DRIVE.match(path)) or "\\" in path or ".." in PurePosixPath(path).parts


def paths_in_cells(survey: Survey) -> Iterator[Finding]:
    """A file named in a cell is inside the folder, is not private, and exists."""
    for table in survey.tables.values():
        for column in table.spec.columns:
            if column.kind is Kind.PATH:
                yield from _paths(survey, table, column.name)


def _paths(survey: Survey, table: SurveyTable, column: str) -> Iterator[Finding]:
    cells = table.frame[column]
    there = set(survey.folder.files)
    unsafe = cells.map(leaves_folder).astype(bool)
    private = ~unsafe & cells.str.startswith("private/")
    absent = ~unsafe & ~private & (cells != "") & ~cells.isin(there)
    missing = "photo-missing" if table.spec.name == "photos" else "scan-missing"
    for code, bad, expected in (
        ("path-unsafe", unsafe, worded("a path below the project folder")),
        ("path-private", private, worded("a publishable file")),
        (missing, absent, worded("a file of the folder")),
    ):
        yield from _first_use(code, table, bad, column, expected)


def _first_use(code: str, table: SurveyTable, bad: Mask, column: str, expected: str) -> Iterator[Finding]:
    """Yield one finding for each path, at the first row that names it."""
    cells = table.frame[column]
    once = bad & ~cells.where(bad, "").duplicated()
    for at in first_numbers(once):
        path = cells.iloc[at]
        count = int((bad & (cells == path)).sum())
        found = worded("{path}, listed in {count} rows", path=path, count=count) if count > 1 else path
        yield find(code, f"{table.spec.name}+{path}", table.where(at, column), found, expected, kind="file")
    yield from surplus(code, table, once, column)


def photos(survey: Survey) -> Iterator[Finding]:
    """A photograph is listed, and one to publish says in words what it shows."""
    table = survey.tables["photos"]
    frame = table.frame
    silent = (frame["publish"] == "yes") & (frame["alt_text"] == "")
    for row in first_rows(table, silent, Photo):
        where = row.origin.where("alt_text")
        expected = worded("a description of the picture in words")
        yield find("photo-without-words", row.file, where, worded("no alternative text"), expected, kind="photo")
    yield from surplus("photo-without-words", table, silent, "alt_text")
    named = set(frame["file"])
    for path in survey.folder.files:
        if path.startswith("photos/") and path not in named and path != "photos/README.txt":
            expected = worded("a row in {file}", file=table.called)
            yield find("photo-unlisted", path, Where(path), worded("an unlisted photograph"), expected, kind="file")


def picture_sizes(survey: Survey) -> Iterator[Finding]:
    """No picture that a report would show has more pixels than the program opens."""
    background = survey.settings.map.background
    shown = background.file if background else ""
    for path, file in survey.folder.files.items():
        width, height = picture_size(file.content) if path.startswith("photos/") or path == shown else (0, 0)
        if width * height > MAX_PIXELS:
            expected = worded("at most {most} pixels", most=MAX_PIXELS)
            found = worded("{width} by {height} pixels", width=width, height=height)
            yield find("photo-too-large", path, Where(path), found, expected, kind="file")


def pictures_open(survey: Survey) -> Iterator[Finding]:
    """A picture that a report would show is a PNG, JPEG or WebP picture, whole and undamaged."""
    background = survey.settings.map.background
    shown = dict.fromkeys((*survey.frame("photos")["file"], *([background.file] if background else [])))
    for path in shown:
        content = survey.folder.content(path)
        if content is None or math.prod(picture_size(content)) > MAX_PIXELS or picture_opens(content):
            continue
        found = worded("a damaged picture") if picture_kind(content) else worded("a file of another kind")
        expected = worded("a PNG, JPEG or WebP picture that opens")
        yield find("photo-unreadable", path, Where(path), found, expected, kind="file")


def tables_have_rows(survey: Survey) -> Iterator[Finding]:
    """A required or expected table has rows: a header alone records nothing, as an absent file does."""
    for table in survey.tables.values():
        code = _EMPTY.get(table.spec.presence)
        if code and table.present and table.frame.empty:
            found = worded("a header and no rows")
            yield find(code, table.spec.path, table.whole, found, worded("at least one row"), kind="file")


def ids_differ(survey: Survey) -> Iterator[Finding]:
    """No two ids of one table differ by case, leading zeros or signs alone."""
    for table in survey.tables.values():
        key = table.spec.key
        if len(key) != 1 or table.spec.column(key[0]).kind is not Kind.ID or not len(table.frame):
            continue
        ids = table.frame[key[0]]
        folded = ids.map(alike)
        bad = folded.duplicated() & ~ids.duplicated()
        for at in first_numbers(bad):
            name, other = ids.iloc[at], ids[folded == folded.iloc[at]].iloc[0]
            where = table.where(at, key[0])
            yield find(
                "ids-alike",
                f"{table.spec.name}+{name}",
                where,
                worded("{name}, in addition to {other}", name=name, other=other),
                worded("clearly different ids"),
            )
        yield from surplus("ids-alike", table, bad, key[0])


def public_labels(survey: Survey) -> Iterator[Finding]:
    """Where the ids of points are left out, every point has a label for the public, and no two the same."""
    stated = survey.settings.publish
    if stated.level != "public" and "location_ids" not in stated.withhold:
        return
    table = survey.tables["locations"]
    labels = table.frame["public_label"]
    for bad, found in (
        (labels == "", worded("no public label")),
        ((labels != "") & labels.duplicated(), worded("the label of another point")),
    ):
        for row in first_rows(table, bad, Location):
            where = row.origin.where("public_label")
            name = row.location_id
            expected = worded("a different public label for each point")
            yield find("public-label", name, where, found, expected, kind="location")
        yield from surplus("public-label", table, bad, "public_label")


RULES = (paths_in_cells, photos, picture_sizes, pictures_open, tables_have_rows, ids_differ, public_labels)
