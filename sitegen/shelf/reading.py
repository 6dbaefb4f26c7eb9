"""Read what a shelf page says of one archive: its labels, and a few files of its inputs and report within bounds."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256, sha512
from pathlib import Path
from urllib.parse import quote

from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from sitegen.archive.make import PROJECT
from sitegen.archive.provenance import PROGRAM
from sitegen.archive.reading import Bag, Overfull, opened_bag
from sitegen.findings.problems import WrongUse
from sitegen.project import limits
from sitegen.project.folder import Folder, InputFile
from sitegen.project.load import load_folder
from sitegen.project.packed import UNREADABLE
from sitegen.project.schema import BOOK_FILE, SETTINGS_FILE
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment
from sitegen.shelf.records import Kept, Place, Told, Unread, allows

_INFO, _SEALED = "bag-info.txt", "tagmanifest-sha512.txt"
_START, _COMPOUNDS = "data/site/index.html", "data/site/downloads/compounds.csv"
_READ = (f"{PROJECT}locations/", f"{PROJECT}field/deployments", f"{PROJECT}field/samplers", f"{PROJECT}{BOOK_FILE}")
"""Beginnings of the inputs that place and days come from; photographs and results are left where they are."""
_LABEL = re.compile(r"([A-Za-z0-9-]{1,60}):[ \t]*(.*)")
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_NAMED = 200
"""Compounds that a page names of an archive; a list is of some tens."""


def read_archive(path: Path, beside: Path, readers: str) -> Kept | Unread:
    """Read one archive for a page in the folder ``beside``; whatever is wrong with it is told, and stops nothing."""
    name = way(path, beside)
    try:
        with opened_bag(path) as bag:
            if faults := (*bag.faults, *bag.doubts):
                first = faults[0]
                return Unread(name, f"{first.path}: {first.said}" if first.path not in ("", path.name) else first.said)
            kept = _kept(bag, path, name, f"./{quote(os.fsencode(_relative(path, beside)))}")
            if allows(kept.access, readers):
                return replace(kept, told=None if kept.private else _told(bag))
            return replace(kept, report="", withheld=not kept.private)
    except (WrongUse, Overfull, KeyError, csv.Error, *UNREADABLE) as error:
        return Unread(name, str(error).replace(str(path), name))


def way(path: Path, beside: Path) -> str:
    """Return the path of an archive as seen from the page; bytes that are no text in its name are replaced."""
    return os.fsencode(_relative(path, beside)).decode("utf-8", "replace")


def _relative(path: Path, beside: Path) -> str:
    try:
        return Path(os.path.relpath(os.path.realpath(path), os.path.realpath(beside))).as_posix()
    except ValueError:  # another drive
        return path.name


def _kept(bag: Bag, path: Path, name: str, href: str) -> Kept:
    """Return what the labels of an archive say. Raises ValueError where another program wrote it."""
    info = _labels(bag.read(_INFO, limits.INFO_BYTES).decode("utf-8")) if _INFO in bag.names else {}
    if info.get("Bag-Software-Agent", "").partition(" ")[0] != PROGRAM:
        raise ValueError("it is not an archive written by sitegen")
    project, revision = info.get("Project", ""), info.get("Revision", "")
    if not project or not re.fullmatch(r"[0-9]{1,9}", revision):
        raise ValueError(f"{_INFO} states no project or no revision")
    if _SEALED not in bag.names:
        raise ValueError(f"{_SEALED} is missing")
    private = f"{PROJECT}{SETTINGS_FILE}" not in bag.names
    return Kept(
        name,
        href,
        f"{href}/{_START}" if path.is_dir() and _START in bag.names else "",
        _short(project),
        int(revision),
        _short(info.get("Report-Status", "")),
        info["Bagging-Date"] if _DAY.fullmatch(info.get("Bagging-Date", "")) else "",
        _short(info.get("Access-Level", "")) or "not stated",
        _short(info.get("Content-Digest", "")),
        path.stat().st_size if path.is_file() else sum((path / one).stat().st_size for one in bag.names),
        sha512(bag.read(_SEALED, limits.LIST_BYTES)).hexdigest(),
        private,
    )


def _labels(text: str) -> dict[str, str]:
    r"""Return the labels of a bag by name, the first of each; a line that begins with a blank goes on (RFC 8493).

    >>> _labels("Project: A\nNote: one\n two\nProject: B\n")
    {'Project': 'A', 'Note': 'one two'}
    """
    lines = re.sub(r"\r?\n[ \t]+", " ", text).splitlines()
    found: dict[str, str] = {}
    for line in lines:
        if match := _LABEL.fullmatch(line):
            found.setdefault(match[1], match[2].strip())
    return found


def _short(text: str) -> str:
    """Return a label cut to what a name may have."""
    return text[: limits.NAME.value]


def _told(bag: Bag) -> Told | None:
    """Return what the inputs and the report of an archive tell; None where its settings can't be read."""
    survey, _ = load_folder(_inputs(bag))
    if survey is None:
        return None
    project = survey.settings.project
    looked_for, found = _compounds(bag)
    public = survey.settings.archive.access != "internal"
    return Told(
        project.title, project.site, project.client, _sampled(survey), found, looked_for,
        _middle(survey, public_only=public),
    )  # fmt: skip


def _inputs(bag: Bag) -> Folder:
    """Read the few inputs that are wanted into memory. Raises ValueError where they are larger than what is read."""
    files: dict[str, InputFile] = {}
    left = limits.TOTAL_BYTES.value
    for name in bag.names:
        if name == f"{PROJECT}{SETTINGS_FILE}" or name.startswith(_READ):
            content = bag.read(name, limits.MEMBER_BYTES)
            left -= len(content)
            if left < 0:
                raise ValueError(f"its inputs have more than {limits.TOTAL_BYTES.value:,} bytes")
            relative = name.removeprefix(PROJECT)
            files[relative] = InputFile(relative, sha256(content).hexdigest(), content)
    return Folder(files, (), ())


def _sampled(survey: Survey) -> tuple[str, str] | None:
    """Return the first and the last day on which a sampler was placed or retrieved, in the project's own time."""
    texts = [text for row in survey.rows(Deployment) for text in (row.placed_at, row.retrieved_at)]
    days = sorted(text[:10] for text in texts if _DAY.fullmatch(text[:10]))
    return (days[0], days[-1]) if days else None


def _middle(survey: Survey, *, public_only: bool) -> Place | None:
    """Return the middle of the site's boundary; one that is not public is left out of what leaves the house."""
    bounds: list[BaseGeometry] = [
        one.geometry
        for one in survey.features
        if one.kind == "site_boundary" and (one.public or not public_only) and not one.geometry.is_empty
    ]
    if not bounds:
        return None
    middle = unary_union(bounds).centroid
    inside = not middle.is_empty and abs(middle.x) <= 180 and abs(middle.y) <= 90
    return Place(round(middle.x, 4) + 0.0, round(middle.y, 4) + 0.0) if inside else None


def _compounds(bag: Bag) -> tuple[int | None, tuple[str, ...]]:
    """Return how many compounds were analysed and which were detected, as the archived report's own table has them."""
    if _COMPOUNDS not in bag.names:
        return None, ()
    text = bag.read(_COMPOUNDS, limits.MEMBER_BYTES).decode("utf-8-sig")
    analysed: dict[str, bool] = {}
    for row in csv.DictReader(io.StringIO(text, newline="")):
        if _count(row, "analysed"):
            name = _plain(row.get("compound") or row.get("analyte_id") or "")
            analysed[name] = analysed.get(name, False) or _count(row, "detected") > 0
    return (len(analysed) or None), tuple(name for name, found in analysed.items() if found)[:_NAMED]


def _count(row: Mapping[str, str | None], column: str) -> int:
    text = row.get(column) or ""
    return int(text) if re.fullmatch(r"[0-9]{1,9}", text) else 0


def _plain(text: str) -> str:
    """Return a cell as it was before it was kept from running as a formula."""
    return _short(text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@") else text)
