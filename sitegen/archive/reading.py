"""Read a bag, be it a folder or a zip file, without trusting anything in it.

Nothing is unpacked and no link is followed: files are listed, their names are judged,
and their content is read as a stream. Of a zip file bytes are counted as they come, for
a small one may unpack to any size; a folder takes what it takes on the disk.
"""

from __future__ import annotations

import stat
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from io import BufferedReader, RawIOBase
from pathlib import Path, PurePosixPath
from typing import IO, Any, NamedTuple

from sitegen.findings.bagpaths import path_astray, unsafe_paths
from sitegen.findings.problems import WrongUse, usable
from sitegen.project import limits
from sitegen.project.packed import METHODS, UNREADABLE, SteppedFile

DECLARATION_FILE = "bagit.txt"
_PIECE_BYTES = 1 << 20


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

    ``faults`` bar any bag; ``doubts`` are names that not every system can tell apart or write,
    which bar an archive of ours and are allowed in other bags. ``folders`` are the paths of all
    folders. ``name`` is the folder that a zip file holds the bag in; "" for a folder.
    """

    names: tuple[str, ...]
    faults: tuple[Fault, ...]
    open: Callable[[str], IO[bytes]]
    name: str = ""
    doubts: tuple[Fault, ...] = ()
    folders: frozenset[str] = frozenset()

    def read(self, name: str, most: limits.Bound) -> bytes:
        """Return the content of a file of the bag. Raises ValueError where it is larger than ``most``."""
        with self.open(name) as stream:
            content = stream.read(most.value + 1)
        if len(content) > most.value:
            raise ValueError(f"it is larger than {most.value:,} bytes")
        return content

    def head(self, name: str, size: int) -> bytes:
        """Return the first bytes of a file, none where it is not there or can't be read."""
        if name not in self.names:
            return b""
        try:
            with self.open(name) as stream:
                return stream.read(size)
        except UNREADABLE:
            return b""


class Overfull(Exception):
    """A zip file unpacks to more than is read; nothing more of it is."""


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
    with ExitStack() as stack:
        try:
            pack = stack.enter_context(zipfile.ZipFile(stack.enter_context(SteppedFile(path))))
        except UNREADABLE as error:
            yield Bag((), (Fault("form", path.name, f"it can't be read as a zip file ({error})"),), _nothing)
            return
        yield _zip_bag(pack)


def _folder_bag(root: Path) -> Bag:
    names: list[str] = []
    faults: list[Fault] = []
    folders: list[str] = []
    waiting = [root]
    while waiting:
        for path in sorted(waiting.pop().iterdir()):
            name, mode = path.relative_to(root).as_posix(), path.lstat().st_mode
            if stat.S_ISDIR(mode):
                waiting.append(path)
                folders.append(name)
            elif stat.S_ISREG(mode):
                names.append(name)
            else:
                what = "a link" if stat.S_ISLNK(mode) else "neither a file nor a folder"
                faults.append(Fault("path", name, f"it is {what}"))
    strays, doubts = _judged(names)
    return Bag(
        tuple(sorted(names)), (*faults, *strays), lambda name: (root / name).open("rb"), "", doubts, frozenset(folders)
    )


def _zip_bag(pack: zipfile.ZipFile) -> Bag:
    entries = pack.infolist()
    faults = [fault for entry in entries if (fault := _entry_fault(entry))]
    listed = [entry.filename for entry in entries if not entry.is_dir()]
    faults += [Fault("path", name, "it is there twice") for name, count in Counter(listed).items() if count > 1]
    steps = {name.removesuffix("/") for name in pack.namelist()}
    strays, _ = _judged(steps)
    tops = {name.partition("/")[0] for name in listed}
    bare = DECLARATION_FILE in listed
    if not faults and not strays and len(tops) != 1 and not bare:
        faults.append(
            Fault("form", "", f"the zip file holds neither {DECLARATION_FILE} nor one folder alone, with the bag")
        )
    if faults or strays:
        return Bag((), tuple(sorted((*faults, *strays))), _nothing)
    top = "" if bare else tops.pop()
    start = f"{top}/" if top else ""
    folders = {str(parent) for step in steps for parent in PurePosixPath(f"{step}/x").parents} - set(listed)
    names = tuple(sorted(name.removeprefix(start) for name in listed))
    doubts = (
        *_judged(step.removeprefix(start) for step in steps if step.startswith(start))[1],
        *_judged([top] if top else [])[1],
    )
    inside = frozenset(folder.removeprefix(start) for folder in folders if folder.startswith(start))
    return Bag(names, (), _Members(pack, start).open, top, doubts, inside)


def _entry_fault(entry: zipfile.ZipInfo) -> Fault | None:
    mode = entry.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG, stat.S_IFDIR):
        return Fault("path", entry.filename, "it is a link, or neither a file nor a folder")
    if entry.flag_bits & 1:
        return Fault("form", entry.filename, "it is encrypted")
    if entry.orig_filename != entry.filename:
        return Fault("path", entry.filename, "its name holds a zero byte or a backslash")
    if entry.compress_type not in METHODS:
        return Fault("form", entry.filename, f"it is packed by method {entry.compress_type}; pack it again (deflate)")
    return None


def _judged(names: Iterable[str]) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """Return the names that lead astray, and those that are in doubt on some system."""
    strays: list[Fault] = []
    doubts: list[Fault] = []
    for name, said in unsafe_paths(names):
        (strays if path_astray(name) else doubts).append(Fault("path", name, said))
    return tuple(strays), tuple(doubts)


class _Members:
    """The members of a zip file below ``start``; what all of them unpack to is counted once."""

    def __init__(self, pack: zipfile.ZipFile, start: str) -> None:
        self._pack, self._start = pack, start
        self._sizes: dict[str, int] = {}
        self._whole = 0

    def open(self, name: str) -> IO[bytes]:
        stream = self._pack.open(f"{self._start}{name}")
        return BufferedReader(_Counted(stream, lambda size: self._count(name, size)), _PIECE_BYTES)

    def _count(self, name: str, size: int) -> None:
        before = self._sizes.get(name, 0)
        if size <= before:
            return
        self._sizes[name] = size
        self._whole += size - before
        if size > limits.BAG_MEMBER_BYTES.value:
            raise ValueError(f"it unpacks to more than {limits.BAG_MEMBER_BYTES.value:,} bytes")
        if self._whole > limits.BAG_BYTES.value:
            raise Overfull(f"{name} and the files before it unpack to more than {limits.BAG_BYTES.value:,} bytes")


class _Counted(RawIOBase):
    """A stream that tells how far it was read."""

    def __init__(self, stream: IO[bytes], tell: Callable[[int], None]) -> None:
        super().__init__()
        self._stream, self._tell, self._size = stream, tell, 0

    def readable(self) -> bool:
        return True

    def readinto(self, target: Any) -> int:  # noqa: ANN401 - any buffer that can be written
        piece = self._stream.read(len(target))
        target[: len(piece)] = piece
        self._size += len(piece)
        self._tell(self._size)
        return len(piece)

    def close(self) -> None:
        self._stream.close()
        super().close()


def _nothing(name: str) -> Any:  # noqa: ANN401 - it never returns
    raise KeyError(name)
