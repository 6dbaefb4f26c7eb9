"""Close a folder as a bag: the BagIt 1.0 layout of RFC 8493, the same bytes every time.

The payload lies in ``data/`` already, and so do the tag files of our own. What is added
are ``bagit.txt``, ``bag-info.txt``, and the manifests and tag manifests for SHA-256 and
SHA-512. Times and modes of the files are set as well, so that packing the folder with
any tool starts from the same state.
"""

from __future__ import annotations

import os
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import NamedTuple

from sitegen.findings.bagpaths import unsafe_paths
from sitegen.findings.problems import OutputFault
from sitegen.render.place.fixity import Fixity, fixities_below, fixity_of_file

ALGORITHMS = ("sha256", "sha512")
DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
"""Content of ``bagit.txt`` (RFC 8493, section 2.1.1)."""

PAYLOAD = "data/"
_ZIP_YEARS = (1980, 2107)
"""The first and the last year that a zip file can tell (APPNOTE 4.4.6)."""
_MAX_TOLD = 5


class Label(NamedTuple):
    """One line of ``bag-info.txt``."""

    name: str
    value: str


def close_bag(root: Path, info: Sequence[Label], day: date) -> None:
    """Make a bag of the folder ``root``, whose payload and own tag files are in place.

    Raises OutputFault where a path in it would not mean the same file on every system.
    """
    payload = fixities_below(root / "data")
    refuse_unsafe([*(PAYLOAD + name for name in payload), *_tag_names(root)])
    oxum = Label("Payload-Oxum", f"{sum(fixity.size for fixity in payload.values())}.{len(payload)}")
    (root / "bagit.txt").write_bytes(DECLARATION)
    (root / "bag-info.txt").write_bytes(info_bytes([*info, oxum]))
    listed = {PAYLOAD + name: fixity for name, fixity in payload.items()}
    for algorithm in ALGORITHMS:
        (root / f"manifest-{algorithm}.txt").write_bytes(manifest_bytes(listed, algorithm))
    tags = {name: fixity_of_file(root / name) for name in _tag_names(root)}
    for algorithm in ALGORITHMS:
        (root / f"tagmanifest-{algorithm}.txt").write_bytes(manifest_bytes(tags, algorithm))
    _settle(root, day)


def _tag_names(root: Path) -> list[str]:
    return sorted(path.name for path in root.iterdir() if path.is_file())


def refuse_unsafe(paths: Iterable[str]) -> None:
    """Raise OutputFault where a path can't stand in an archive."""
    faults = [f"{path!a} ({reason})" for path, reason in unsafe_paths(paths)]
    if faults:
        told = "; ".join(faults[:_MAX_TOLD])
        raise OutputFault(f"{len(faults)} file name(s) can't stand in an archive: {told}; rename the files")


def info_bytes(labels: Iterable[Label]) -> bytes:
    r"""Write ``bag-info.txt``; a value keeps to its line whatever it holds.

    >>> info_bytes([Label("Title", "A  line" + chr(10) + "Payload-Oxum: 1.1")])
    b'Title: A line Payload-Oxum: 1.1\n'
    """
    lines = (f"{label.name}: {one_line(label.value)}\n" for label in labels)
    return "".join(lines).encode()


def one_line(text: str) -> str:
    """Return a text without line breaks and control characters."""
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())


def manifest_bytes(fixities: Mapping[str, Fixity], algorithm: str) -> bytes:
    """Write a manifest in path order, in the form that ``sha256sum -c`` reads."""
    return "".join(f"{fixities[name].digest(algorithm)}  {name}\n" for name in sorted(fixities)).encode()


def _settle(root: Path, day: date) -> None:
    """Give every file and folder the day's midnight (UTC) as its time, and a plain mode."""
    stamp = datetime.combine(day, time(0), UTC).timestamp()
    for path in sorted(root.rglob("*"), reverse=True):
        path.chmod(0o755 if path.is_dir() else 0o644)
        os.utime(path, (stamp, stamp))
    os.utime(root, (stamp, stamp))


def zip_bag(root: Path, target: Path, day: date, name: str) -> None:
    """Pack the bag ``root`` into the file ``target``, below one folder called ``name``.

    Entries are stored as they are, since compressed bytes differ from one zlib to the next.
    """
    stamp = (min(max(day.year, _ZIP_YEARS[0]), _ZIP_YEARS[1]), day.month, day.day, 0, 0, 0)
    paths = {path.relative_to(root).as_posix(): path for path in root.rglob("*") if path.is_file()}
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as pack:
        for inside in sorted(paths):
            entry = zipfile.ZipInfo(f"{name}/{inside}", stamp)
            entry.create_system, entry.external_attr = 3, 0o100644 << 16
            pack.writestr(entry, paths[inside].read_bytes())
