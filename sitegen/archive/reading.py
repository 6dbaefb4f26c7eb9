"""Read a bag, be it a folder or a zip file, without trusting anything in it.

Nothing is unpacked and no link is followed: files are listed, their names are judged,
and their content is read as a stream.
"""

from __future__ import annotations

import stat
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, NamedTuple

from sitegen.findings.bagpaths import unsafe_paths
from sitegen.findings.problems import WrongUse, usable


class Fault(NamedTuple):
    """Something in a bag that is not as it should be.

    Kinds: ``path`` (unsafe name or link), ``missing``, ``added``, ``changed``, ``form``
    (not the layout of a bag), ``rebuilt`` (differs from what its inputs give).
    """

    kind: str
    path: str
    said: str


@dataclass(frozen=True, slots=True)
class Bag:
    """The files of a bag by path below it, and what must not be in one.

    ``name`` is the folder that a zip file holds the bag in; "" for a folder.
    """

    names: tuple[str, ...]
    faults: tuple[Fault, ...]
    open: Callable[[str], IO[bytes]]
    name: str = ""

    def read(self, name: str) -> bytes:
        """Return the content of a small file."""
        with self.open(name) as stream:
            return stream.read()


UNREADABLE = (
    zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError, ValueError, zlib.error, struct.error,
)  # fmt: skip
"""What reading from a damaged file can raise."""


@contextmanager
def opened_bag(path: Path) -> Iterator[Bag]:
    """Open the bag at ``path``. Raises WrongUse where nothing is there."""
    with usable(path):
        bag = _folder_bag(path) if path.is_dir() else None
        if bag is None and not path.is_file():
            raise WrongUse(f"{path} is not there")
    if bag:
        yield bag
        return
    try:
        pack = zipfile.ZipFile(path)
    except UNREADABLE as error:
        yield Bag((), (Fault("form", path.name, f"it can't be read as a zip file ({error})"),), _nothing)
        return
    with pack:
        yield _zip_bag(pack)


def _folder_bag(root: Path) -> Bag:
    names: list[str] = []
    faults: list[Fault] = []
    waiting = [root]
    while waiting:
        for path in sorted(waiting.pop().iterdir()):
            name, mode = path.relative_to(root).as_posix(), path.lstat().st_mode
            if stat.S_ISDIR(mode):
                waiting.append(path)
            elif stat.S_ISREG(mode):
                names.append(name)
            else:
                what = "a link" if stat.S_ISLNK(mode) else "neither a file nor a folder"
                faults.append(Fault("path", name, f"it is {what}"))
    return Bag(tuple(sorted(names)), (*faults, *_unsafe(names)), lambda name: (root / name).open("rb"))


def _zip_bag(pack: zipfile.ZipFile) -> Bag:
    entries = pack.infolist()
    faults = [fault for entry in entries if (fault := _entry_fault(entry))]
    listed = [entry.filename for entry in entries if not entry.is_dir()]
    faults += [Fault("path", name, "it is there twice") for name in set(listed) if listed.count(name) > 1]
    faults += _unsafe(sorted({name.removesuffix("/") for name in pack.namelist()}))
    tops = {name.partition("/")[0] for name in listed}
    if faults or len(tops) != 1:
        said = Fault("form", "", "the zip file holds more than one folder, or none")
        return Bag((), tuple(sorted(faults)) or (said,), _nothing)
    top = tops.pop()
    names = tuple(sorted(name.removeprefix(f"{top}/") for name in listed))
    return Bag(names, (), lambda name: pack.open(f"{top}/{name}"), top)


def _entry_fault(entry: zipfile.ZipInfo) -> Fault | None:
    mode = entry.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG, stat.S_IFDIR):
        return Fault("path", entry.filename, "it is a link, or neither a file nor a folder")
    if entry.flag_bits & 1:
        return Fault("form", entry.filename, "it is encrypted")
    if entry.orig_filename != entry.filename:
        return Fault("path", entry.filename, "its name holds a zero byte or a backslash")
    return None


def _unsafe(names: list[str]) -> list[Fault]:
    return [Fault("path", name, said) for name, said in unsafe_paths(names)]


def _nothing(name: str) -> Any:  # noqa: ANN401 - it never returns
    raise KeyError(name)
