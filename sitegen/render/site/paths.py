"""Where everything lives: a pointer (Ref) to a URL below the output folder.

File names made from ids are plain ASCII, hold no separator, are none of the names
that Windows keeps for devices, and keep their case. An id that had to be changed
gets a short hash, so that two ids never share a name by being cleaned alike.
"""

from __future__ import annotations

import hashlib
import re
from functools import cache
from pathlib import PurePosixPath
from urllib.parse import quote

from sitegen.findings.problems import OutputFault
from sitegen.report.record.pages import Ref

FOLDERS = {
    "location": "locations",
    "compound": "compounds",
    "sampler": "samplers",
    "bag": "bags",
    "shipment": "shipments",
    "source": "sources",
}
"""Kinds of Ref that have a page each, and the folder of those pages."""

SHARED_PAGES = {"finding": "findings", "check": "checks", "term": "glossary"}
"""Kinds of Ref that are a place on one shared page, and the name of that page."""

SCANS = "scans/"
"""Where scans stand: what follows ``#`` in the address of one is the page to open it at."""

MAP_PAGE = "map.html"
"""The page of the web map: what follows ``#`` in its URL is a place on the map."""

START = "start"
"""The slug of the start page, which is written as ``index.html``."""

_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_NOT_PLAIN = re.compile(r"[^A-Za-z0-9._-]+")
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])", re.IGNORECASE)
_FORBIDDEN_IN_FILES = re.compile(r'[\\<>:"|?*\x00-\x1f]')


def is_plain_name(text: str) -> bool:
    """Say whether a text can stand as a file name on every system as it is."""
    is_device = _DEVICES.fullmatch(text.split(".", 1)[0]) is not None
    return _PLAIN_NAME.fullmatch(text) is not None and not text.endswith(".") and not is_device


@cache
def safe_name(text: str) -> str:
    """Return a file name (without its ending) for an id.

    >>> safe_name("SG-01")
    'SG-01'
    >>> safe_name("../SG 01")
    'SG-01-22a40385'
    >>> safe_name("CON").startswith("CON-")
    True
    """
    if is_plain_name(text):
        return text
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    words = _NOT_PLAIN.sub("-", text).strip(".-_")[:40].rstrip(".-_")
    return f"{words or 'id'}-{digest}"


def anchor(text: str) -> str:
    """Return the HTML id for a section, a finding's key or a term.

    >>> anchor("custody-gap:S-0007")
    'custody-gap-S-0007-e9155b6a'
    """
    return safe_name(text)


@cache
def page_url(ref: Ref) -> str:
    """Return the URL of a Ref, relative to the output folder.

    Raises ``OutputFault`` for a kind that is not known.

    >>> page_url(Ref("location", "SG-01"))
    'locations/SG-01.html'
    >>> page_url(Ref("page", "start", "status"))
    'index.html#status'
    >>> page_url(Ref("scan", "records/day.pdf", "2"))[-11:]
    '.pdf#page=2'
    >>> page_url(Ref("check", "custody-gap"))
    'checks.html#custody-gap'
    """
    if ref.kind == "file":
        return quote(ref.id) + (f"#{quote(ref.anchor, safe='=')}" if ref.anchor else "")
    if ref.kind == "scan":
        return scan_file(ref.id) + (
            f"#page={quote(ref.anchor)}" if ref.anchor and ref.id.lower().endswith(".pdf") else ""
        )
    if ref.kind == "map":
        return f"{MAP_PAGE}#{quote(ref.id)}" if ref.id else MAP_PAGE
    if ref.kind in SHARED_PAGES:
        return f"{SHARED_PAGES[ref.kind]}.html#{anchor(ref.id)}"
    tail = f"#{anchor(ref.anchor)}" if ref.anchor else ""
    if ref.kind in FOLDERS:
        return f"{FOLDERS[ref.kind]}/{safe_name(ref.id)}.html{tail}"
    if ref.kind == "page":
        return _slug(ref.id) + ".html" + tail
    raise OutputFault(f"a link of the unknown kind {ref.kind!r} to {ref.id!r}")


def scan_file(path: str) -> str:
    """Return where a scan of the project folder stands on the site; its ending stays, in small letters.

    >>> scan_file("records/sheet.pdf").startswith("scans/records-sheet-"), scan_file("records/a.PDF")[-4:]
    (True, '.pdf')
    >>> scan_file("records/a.PDF") == scan_file("records/a.pdf")
    False
    """
    stem, _, ending = path.rpartition(".")
    return f"{SCANS}{safe_name(stem if ending.islower() else path)}.{ending.lower()}"


def _slug(page_id: str) -> str:
    """Return the file name of a page; no slug but the start page's becomes ``index``."""
    if page_id == START:
        return "index"
    name = safe_name(page_id)
    return name + "-page" if name.lower() == "index" else name


def root_of(url: str) -> str:
    """Return the way from a page up to the output folder: ``""`` or ``"../"`` and so on.

    >>> root_of("locations/SG-01.html")
    '../'
    """
    return "../" * url.count("/")


def relative(here: str, target: str) -> str:
    """Return the link from the page ``here`` to ``target``, both relative to the folder.

    >>> relative("locations/SG-01.html", "compounds/pce.html")
    '../compounds/pce.html'
    >>> relative("findings.html", "findings.html#a")
    '#a'
    """
    page, mark, fragment = target.partition("#")
    if page == here and mark:
        return "#" + fragment
    return root_of(here) + target


def checked_file(path: str) -> str:
    """Return a path for an extra file if it stays below the output folder.

    Raises ``OutputFault`` for absolute paths, parent steps, drive letters and names
    that can't be written on every system.

    >>> checked_file("photos/hole 1.png")
    'photos/hole 1.png'
    """
    parts = PurePosixPath(path).parts
    bad = (
        not parts
        or path.startswith("/")
        or str(PurePosixPath(path)) != path
        or _FORBIDDEN_IN_FILES.search(path) is not None
        or any(_is_bad_part(part) for part in parts)
    )
    if bad:
        raise OutputFault(f"{path!r} can't be written below the output folder")
    return path


def _is_bad_part(part: str) -> bool:
    return part == ".." or part[-1:] in {".", " "} or _DEVICES.fullmatch(part.split(".", 1)[0]) is not None
