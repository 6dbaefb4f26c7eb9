"""A revision to compare with: a project folder, an archive folder, or an archive as a zip file."""

from __future__ import annotations

import hashlib
import re
import zipfile
from pathlib import Path
from typing import NamedTuple

from sitegen.findings.problems import WrongUse, usable
from sitegen.project.folder import MAX_FILE_BYTES, Folder, InputFile, belongs, read_folder
from sitegen.project.schema import SETTINGS_FILE

IN_ARCHIVE = "data/project/"
"""Where an archive keeps the project's files."""
_TOOL = re.compile(r"^Bag-Software-Agent:\s*(\S.*?)\s*$", re.MULTILINE)


class Opened(NamedTuple):
    """A revision's files, and the tool that wrote the archive ("" for a plain folder)."""

    folder: Folder
    tool: str


def open_revision(path: Path) -> Opened:
    """Read a revision from a project folder, an archive folder or a zipped archive.

    Raises WrongUse where there is no project at ``path``.
    """
    with usable(path):
        if path.is_file():
            return _from_zip(path)
        if (path / SETTINGS_FILE).is_file():
            return Opened(read_folder(path), "")
        inside = path / IN_ARCHIVE
        if (inside / SETTINGS_FILE).is_file():
            info = path / "bag-info.txt"
            text = info.read_text("utf-8", errors="replace") if info.is_file() else ""
            return Opened(read_folder(inside), _tool(text))
    raise WrongUse(f"{path} holds no project: neither {SETTINGS_FILE} nor {IN_ARCHIVE}{SETTINGS_FILE}")


def _tool(text: str) -> str:
    match = _TOOL.search(text)
    return match[1] if match else ""


def _from_zip(path: Path) -> Opened:
    """Read the project's files of a zip file into memory; nothing is unpacked."""
    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            start = _project_root(names)
            if start is None:
                raise WrongUse(f"{path} holds no project: no {SETTINGS_FILE} in it")
            files = _members(archive, start)
            info = next((name for name in names if name.endswith("bag-info.txt")), "")
            text = archive.read(info).decode("utf-8", errors="replace") if info else ""
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError) as error:
        raise WrongUse(f"{path} can't be read as a zip file ({error})") from error
    return Opened(Folder(files, (), ()), _tool(text))


def _project_root(names: list[str]) -> str | None:
    """Return the folder that holds the settings: an archive's project first, then the shallowest."""
    found = [name.removesuffix(SETTINGS_FILE) for name in names if f"/{name}".endswith(f"/{SETTINGS_FILE}")]
    return min(found, key=lambda start: (not start.endswith(IN_ARCHIVE), start.count("/"), start), default=None)


def _members(archive: zipfile.ZipFile, start: str) -> dict[str, InputFile]:
    files = {}
    for member in sorted(archive.infolist(), key=lambda member: member.filename):
        relative = member.filename.removeprefix(start)
        if member.is_dir() or not member.filename.startswith(start) or not belongs(relative):
            continue
        if member.file_size > MAX_FILE_BYTES:
            raise WrongUse(f"{member.filename} in the zip file is larger than {MAX_FILE_BYTES} bytes")
        content = archive.read(member)
        files[relative] = InputFile(relative, hashlib.sha256(content).hexdigest(), content)
    return files
