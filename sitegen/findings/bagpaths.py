"""Which file names an archive may hold: those that mean the same file on every system."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from pathlib import PurePosixPath

from sitegen.voice import worded

MAX_PATH_CHARS = 220
"""Longer paths can't be unpacked below a usual folder where a path ends at 260 characters."""

_EMPTY_STEP = "it has an empty step"
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])", re.IGNORECASE)
_DRIVE = re.compile(r"[A-Za-z]:")
_FORBIDDEN = re.compile(r'[<>:"|?*%\x00-\x1f\x7f]')


def path_fault(path: str) -> str:
    """Say why a path (posix, below the archive) is not safe; return "" where it is.

    >>> path_fault("data/site/index.html")
    ''
    >>> path_fault("data/../../etc/passwd")
    'it leads out of the archive (..)'
    >>> path_fault("C:/data")
    'it begins with a drive letter'
    """
    if fault := path_leads_out(path):
        return fault
    if len(path) > MAX_PATH_CHARS:
        return worded("it is longer than {most} characters", most=MAX_PATH_CHARS)
    return next((fault for part in path.split("/") if (fault := _part_fault(part))), "")


def path_leads_out(path: str) -> str:
    """Say how a path may lead out of the archive on some system; return "" where it can't.

    >>> path_leads_out("data/../../etc/passwd"), path_leads_out("records/scan 1: front.pdf")
    ('it leads out of the archive (..)', '')
    """
    if path.startswith(("/", "\\", "~")):
        return worded("it is not relative to the archive")
    if _DRIVE.match(path):
        return worded("it begins with a drive letter")
    if "\\" in path or "\0" in path:
        return worded("it holds a backslash or a zero byte")
    return worded("it leads out of the archive (..)") if ".." in path.split("/") else ""


def path_astray(path: str) -> str:
    """Say why a path is no plain way down from the archive's folder; return "" where it is one.

    >>> path_astray("data//a.txt"), path_astray("/data/a.txt"), path_astray("data/con.txt")
    ('it has an empty step', 'it is not relative to the archive', '')
    """
    return path_leads_out(path) or (worded(_EMPTY_STEP) if {"", "."} & set(path.split("/")) else "")


def _part_fault(part: str) -> str:
    if part in {"", "."}:
        return worded(_EMPTY_STEP)
    if any(0xD800 <= ord(char) <= 0xDFFF for char in part):
        return worded("it is not Unicode")
    if _FORBIDDEN.search(part):
        return worded("it holds a character that not every system or checker can read")
    if part[-1] in ". ":
        return worded("a name in it ends with a dot or a blank")
    if _DEVICES.fullmatch(part.split(".", 1)[0].rstrip(" ")):
        return worded("a name in it is kept for a device on Windows")
    return ""


def unsafe_paths(paths: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield (path, reason) for each path that is unsafe, or that another could be taken for.

    >>> list(unsafe_paths(["a/B.txt", "a/b.txt"]))
    [('a/b.txt', 'it differs from a/B.txt by letter case or Unicode form alone')]
    """
    safe = []
    for path in sorted(paths):
        fault = path_fault(path)
        if fault:
            yield path, fault
        else:
            safe.append(path)
    for path, other in clashes(safe):
        yield path, worded("it differs from {other} by letter case or Unicode form alone", other=other)


def clashes(paths: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield (path, other) for each path that some system takes for another one, steps on the way included.

    >>> list(clashes(["a/B.txt", "a/b.txt"]))
    [('a/b.txt', 'a/B.txt')]
    """
    seen: dict[str, str] = {}
    for path in sorted(paths):
        for step in (path, *map(str, PurePosixPath(path).parents)):
            first = seen.setdefault(_folded(step), step)
            if first != step:
                yield path, first
                break


def _folded(path: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", path).casefold())
