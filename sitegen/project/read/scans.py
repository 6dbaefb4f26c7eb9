"""Which files can be shown as scans of field sheets and forms: told by their bytes, never by their name alone."""

from __future__ import annotations

from pathlib import PurePosixPath

from sitegen.project.read.pictures import picture_kind

_ENDINGS = {"jpeg": "jpg"}
_LOOKED_AT = 4096
"""Bytes of a text that are looked at: a browser shows whatever follows as text too."""


def scan_kind(path: str, content: bytes | None) -> str:
    r"""Return ``pdf``, ``png``, ``jpg``, ``webp`` or ``txt``; "" where ending and bytes differ, or for anything else.

    A page with scripts is none of these, so nothing that a browser would run is taken for a scan.

    >>> scan_kind("records/day 1.pdf", b"%PDF-1.7"), scan_kind("records/day 1.PDF", b"<html>")
    ('pdf', '')
    >>> scan_kind("records/notes.txt", "moist, 3 ft".encode()), scan_kind("records/notes.html", b"moist")
    ('txt', '')
    """
    if not content:
        return ""
    ending = PurePosixPath(path).suffix.removeprefix(".").lower()
    ending = _ENDINGS.get(ending, ending)
    if ending == "txt":
        return "" if b"\0" in content[:_LOOKED_AT] else "txt"
    kind = "pdf" if content.startswith(b"%PDF-") else picture_kind(content)
    return kind if kind == ending else ""
