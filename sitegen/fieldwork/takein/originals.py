"""Exports as files: those that are given, and the originals that the folder keeps in ``records/field/``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from sitegen.fieldwork.takein.exports import Export, RefusedError, read_export
from sitegen.findings.problems import WrongUse
from sitegen.project import limits
from sitegen.project.folder import Folder
from sitegen.project.settings import Settings

PLACE = "records/field/"
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ()._-]{0,80}\.json")


class Given(NamedTuple):
    """The exports that can be taken in, each once, and the lines about those that are refused."""

    exports: tuple[Export, ...]
    refused: tuple[str, ...]


def given_exports(paths: Sequence[Path], settings: Settings) -> Given:
    """Read the exports that the command names; the same bytes under two names count once."""
    if len(paths) > limits.EXPORTS.value:
        raise WrongUse(f"{len(paths):,} exports; at most {limits.EXPORTS.text} are taken in at a time")
    found: dict[bytes, Export] = {}
    refused = []
    for path in sorted(paths, key=lambda path: (path.name, str(path))):
        try:
            export = read_export(path.name, _content(path), settings.project.id, settings.project.time_zone)
            found.setdefault(export.content, export)
        except RefusedError as error:
            refused.append(f"refused: {path}: {error}")
    return Given(tuple(sorted(found.values(), key=lambda export: export.sort_key)), tuple(refused))


def kept_exports(folder: Folder, settings: Settings, given: Iterable[Export]) -> Given:
    """Read the exports that the folder keeps; one that is ``given`` too is read already."""
    read = {export.content: export for export in given}
    found: list[Export] = []
    refused = []
    paths = [path for path in folder.files if path.startswith(PLACE) and path.endswith(".json")]
    if len(paths) > limits.EXPORTS.value:
        raise WrongUse(f"{PLACE} has {len(paths):,} files; at most {limits.EXPORTS.text} are read")
    for path in paths:
        content = folder.content(path) or b""
        try:
            zone = settings.project.time_zone
            found.append(read.get(content) or read_export(path, content, settings.project.id, zone))
        except RefusedError as error:
            refused.append(f"left out: {path}, kept in the folder: {error}")
    return Given(tuple(found), tuple(refused))


def copies(folder: Folder, exports: Iterable[Export]) -> Mapping[str, bytes]:
    """Return the originals to keep, by path: under their own names, with a number after a name that another has."""
    have = {content for path in folder.files if path.startswith(PLACE) and (content := folder.content(path))}
    taken = {path.lower() for path in (*folder.files, *folder.passed_over)}
    found: dict[str, bytes] = {}
    for export in exports:
        if export.content in have:
            continue
        plain = export.name if _NAME.fullmatch(export.name) else f"field-{export.device}-{export.number}.json"
        stem, number = plain.removesuffix(".json"), 1
        path = f"{PLACE}{plain}"
        while path.lower() in taken:
            number += 1
            path = f"{PLACE}{stem}-{number}.json"
        taken.add(path.lower())
        found[path] = export.content
    return found


def _content(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise RefusedError("there is no such file")
        if path.stat().st_size > limits.EXPORT_BYTES.value:
            raise RefusedError(f"it has {path.stat().st_size:,} bytes, more than {limits.EXPORT_BYTES.text}")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        raise RefusedError(f"it can't be read ({getattr(error, 'strerror', None) or error})") from error
