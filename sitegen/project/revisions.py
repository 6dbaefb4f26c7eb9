"""A revision to compare with: a project folder, an archive folder, or an archive as a zip file."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path
from typing import NamedTuple

from sitegen.findings.problems import WrongUse, usable
from sitegen.project import limits
from sitegen.project.folder import Folder, InputFile, belongs, read_folder
from sitegen.project.packed import Pack, opened_pack
from sitegen.project.schema import SETTINGS_FILE

IN_ARCHIVE = "data/project/"
"""Where an archive keeps the project's files."""
INFO = "bag-info.txt"
_TOOL = re.compile(r"^Bag-Software-Agent:(.{1,200})", re.MULTILINE)


class Opened(NamedTuple):
    """A revision's files, and the tool that wrote the archive ("" for a plain folder)."""

    folder: Folder
    tool: str


def open_revision(path: Path) -> Opened:
    """Read a revision from a project folder, an archive folder or a zipped archive.

    Raises WrongUse where there is no project at ``path``, or what is there can't be read within bounds.
    """
    with usable(path):
        if path.is_file():
            return _from_zip(path)
        if (path / SETTINGS_FILE).is_file():
            return Opened(read_folder(path), "")
        inside = path / IN_ARCHIVE
        if (inside / SETTINGS_FILE).is_file():
            return _from_folder(path, inside)
    raise WrongUse(f"{path} contains no project: neither {SETTINGS_FILE} nor {IN_ARCHIVE}{SETTINGS_FILE}")


def _tool(info: bytes) -> str:
    match = _TOOL.search(info.decode("utf-8", errors="replace"))
    return match[1].strip() if match else ""


def _from_folder(path: Path, inside: Path) -> Opened:
    info = path / INFO
    content = b""
    if info.is_file():
        with info.open("rb") as stream:
            content = stream.read(limits.INFO_BYTES.value + 1)
        if len(content) > limits.INFO_BYTES.value:
            raise WrongUse(f"{info} is larger than {limits.INFO_BYTES.value:,} bytes")
    return Opened(read_folder(inside), _tool(content))


def _from_zip(path: Path) -> Opened:
    """Read the project's files of a zip file into memory; nothing is unpacked."""
    with opened_pack(path) as pack:
        start = _project_root(pack.names)
        if start is None:
            raise WrongUse(f"{path} contains no project: no {SETTINGS_FILE} in it")
        info = f"{start.removesuffix(IN_ARCHIVE)}{INFO}" if start.endswith(IN_ARCHIVE) else ""
        content = pack.read(info, limits.INFO_BYTES.value) if info in pack.names else b""
        return Opened(Folder(_members(pack, start), (), ()), _tool(content))


def _project_root(names: list[str]) -> str | None:
    """Return the folder that holds the settings: an archive's project first, then the shallowest."""
    found = [name.removesuffix(SETTINGS_FILE) for name in names if f"/{name}".endswith(f"/{SETTINGS_FILE}")]
    return min(found, key=lambda start: (not start.endswith(IN_ARCHIVE), start.count("/"), start), default=None)


def _members(pack: Pack, start: str) -> dict[str, InputFile]:
    files = {}
    for name in pack.names:
        relative = name.removeprefix(start)
        if name.startswith(start) and belongs(relative):
            content = pack.read(name)
            files[relative] = InputFile(relative, hashlib.sha256(content).hexdigest(), content)
    return files
