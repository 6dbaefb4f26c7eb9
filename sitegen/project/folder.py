"""The project folder as a snapshot: each file read once, hashed, never read again.

What is checked, computed, published and archived is the same bytes, even if a file
changes while the program runs.
"""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from sitegen.findings.problems import Finding, Severity, Where, WrongUse, usable
from sitegen.project.limits import FILE
from sitegen.project.schema import BOOK_FILE, ROOT_FOLDERS, SETTINGS_FILE

MAX_FILE_BYTES = FILE.value
_FLAT = ("locations", "field", "lab", "reference", "text", "review")
_CHANGED = "it changed while it was read"
_FILES = (".csv", ".geojson", ".md", ".toml", ".xlsx")


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file of the folder: path below it (posix), SHA-256, and content."""

    path: str
    sha256: str
    content: bytes

    @property
    def size(self) -> int:
        """Size in bytes."""
        return len(self.content)


@dataclass(frozen=True, slots=True)
class Folder:
    """The files of a project folder by path, in path order, and those passed over.

    ``beside`` holds the private files of earlier surveys, whose words must not be published either, and no others.
    """

    files: dict[str, InputFile]
    passed_over: tuple[str, ...]
    findings: tuple[Finding, ...]
    beside: tuple[Folder, ...] = ()

    def content(self, path: str) -> bytes | None:
        """Return a file's bytes, or None where it does not exist."""
        file = self.files.get(path)
        return file.content if file else None

    @property
    def unsteady(self) -> bool:
        """Whether a file changed while it was read, so that reading it again may do."""
        return any(finding.code == "file-unreadable" and _CHANGED in finding.found for finding in self.findings)

    def sha256(self, path: str) -> str:
        """Return a file's SHA-256 in hex, "" where it does not exist."""
        file = self.files.get(path)
        return file.sha256 if file else ""


def read_folder(root: Path) -> Folder:
    """Read every file that the format knows below ``root``.

    Raises WrongUse where ``root`` is no folder. Links that lead out of the folder, files
    that can't be read and files too large are findings and are not read.
    """
    with usable(root):
        if not root.is_dir():
            raise WrongUse(f"{root} is not a folder")
    files: dict[str, InputFile] = {}
    passed_over: list[str] = []
    findings: list[Finding] = []
    for path in _walk(root, lambda error: findings.append(_closed(error, root))):
        relative = _spelt(path, root)
        if path.is_symlink() and path.is_dir():
            findings.append(_folder_link(path, root, relative))
            continue
        if not belongs(relative):
            passed_over.append(relative)
            continue
        problem = _refusal(path, root, relative)
        if problem:
            findings.append(problem)
            continue
        try:
            content = _steady(path)
        except OSError as error:
            findings.append(_unreadable(relative, error.strerror or "error"))
            continue
        files[relative] = InputFile(relative, hashlib.sha256(content).hexdigest(), content)
    return Folder(files, tuple(passed_over), tuple(findings))


def _spelt(path: Path, root: Path) -> str:
    r"""Return a path below ``root`` as text that can be written anywhere; bytes that are not UTF-8 become ``\xff``."""
    return os.fsencode(path.relative_to(root).as_posix()).decode("utf-8", "backslashreplace")


def _steady(path: Path) -> bytes:
    """Read a file; raise OSError where it changed while it was read."""
    before = path.stat()
    content = path.read_bytes()
    after = path.stat()
    if (before.st_mtime_ns, before.st_size) != (after.st_mtime_ns, after.st_size) or len(content) != after.st_size:
        raise OSError(errno.EBUSY, f"{_CHANGED}; close the program that writes it")
    return content


def belongs(relative: str) -> bool:
    """Tell whether a path below the folder is one that the format knows."""
    parts = PurePosixPath(relative).parts
    if any(part.startswith(".") for part in parts):
        return False
    return relative in (SETTINGS_FILE, BOOK_FILE) or (len(parts) > 1 and parts[0] in ROOT_FOLDERS)


def _walk(root: Path, refused: Callable[[OSError], None]) -> Iterator[Path]:
    """Yield every file, every link to a folder, for none is followed, and every folder in place of a file."""
    for folder, names, files in os.walk(root, onerror=refused):
        names[:] = sorted(name for name in names if not _skipped(Path(folder), name, root))
        yield from (path for path in map(Path(folder).joinpath, names) if path.is_symlink() or _in_place(path, root))
        yield from map(Path(folder).joinpath, sorted(files))


def _in_place(folder: Path, root: Path) -> bool:
    """Tell whether a folder has the name of a file, where the format has no folders."""
    parts = folder.relative_to(root).parts
    return len(parts) == 2 and parts[0] in _FLAT and folder.suffix in _FILES


def _skipped(folder: Path, name: str, root: Path) -> bool:
    if name.startswith(".") or name == "__pycache__":
        return True
    return folder == root and name not in ROOT_FOLDERS


def _leads_out(path: Path, root: Path) -> bool:
    # realpath, for a link that leads to itself is an error of Path.resolve.
    return path.is_symlink() and not Path(os.path.realpath(path)).is_relative_to(root.resolve())


def _folder_link(path: Path, root: Path, relative: str) -> Finding:
    """Tell of a link to a folder: what lies behind it is never read, wherever it leads."""
    out = _leads_out(path, root)
    found = "a link to a folder" + (" that points outside the project folder" if out else ", which is not followed")
    return _link(relative, found, "a folder with its files")


def _link(relative: str, found: str, expected: str) -> Finding:
    do = "replace it with a copy"
    return Finding("link-out-of-folder", Severity.STOP, relative, Where(relative), found, expected, do)


def _refusal(path: Path, root: Path, relative: str) -> Finding | None:
    if _leads_out(path, root):
        return _link(relative, "a link that points outside the project folder", "a file inside the folder")
    if relative != path.relative_to(root).as_posix():
        return _unreadable(relative, "its name is not UTF-8", do="rename it")
    try:
        state = path.stat()
    except OSError as error:
        return _unreadable(relative, error.strerror or "error")
    if not stat.S_ISREG(state.st_mode):
        kind = "a folder" if stat.S_ISDIR(state.st_mode) else "a pipe, a socket or a device"
        return _unreadable(relative, f"it is {kind}", do="replace it with the file")
    size = state.st_size
    if size > MAX_FILE_BYTES:
        return Finding(
            "file-too-large",
            Severity.STOP,
            relative,
            Where(relative),
            f"{size} bytes",
            f"at most {MAX_FILE_BYTES} bytes",
            "split the file, or keep it outside the project folder",
        )
    return None


def _closed(error: OSError, root: Path) -> Finding:
    """Tell of a folder that can't be listed: what it holds is not known to be missing."""
    relative = _spelt(Path(error.filename or root), root)
    return _unreadable(relative, error.strerror or "error", "folder")


def _unreadable(relative: str, reason: str, what: str = "file", do: str = "check its permissions") -> Finding:
    return Finding(
        "file-unreadable",
        Severity.STOP,
        relative,
        Where(relative),
        f"a {what} that cannot be read ({reason})",
        f"a readable {what}",
        do,
    )
