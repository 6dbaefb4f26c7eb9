"""Read files out of a zip file that anybody may have made, into memory and within bounds.

What a header says of a size is not believed: bytes are counted as they come. Only stored and
deflated members are read, for other methods let a few bytes ask for gigabytes of working memory.
"""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from io import FileIO
from pathlib import Path

from sitegen.findings.bagpaths import clashes, path_leads_out
from sitegen.findings.problems import WrongUse
from sitegen.project import limits

METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""How a member may be packed."""
_PIECE_BYTES = 1 << 20
_ENCRYPTED = 1
UNREADABLE = (
    zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError, ValueError, OverflowError, zlib.error,
    struct.error,
)  # fmt: skip
"""What reading from a damaged zip file can raise."""


class SteppedFile(FileIO):
    """A file that is read in pieces: who asks for more at once believes a false header."""

    def read(self, size: int | None = -1, /) -> bytes:
        """Return up to ``size`` bytes. Raises BadZipFile where that is more than a list of files has."""
        if size is not None and size > limits.INDEX_BYTES.value:
            raise zipfile.BadZipFile(f"its list of files is larger than {limits.INDEX_BYTES.value:,} bytes")
        return super().read(size)


class Pack:
    """The files of a zip file, by name; what is read of them all is counted."""

    def __init__(self, path: Path, archive: zipfile.ZipFile) -> None:
        self.path = path
        self._archive = archive
        self._left = limits.TOTAL_BYTES.value
        entries = archive.infolist()
        self._entries = {entry.filename: entry for entry in entries if not entry.is_dir()}
        self._refuse_names(Counter(entry.orig_filename for entry in entries))

    @property
    def names(self) -> list[str]:
        """The names of the files, in order."""
        return sorted(self._entries)

    def read(self, name: str, most: int = limits.MEMBER_BYTES.value) -> bytes:
        """Return the content of a file. Raises WrongUse where it is damaged, encrypted or too large."""
        entry = self._entries[name]
        if entry.flag_bits & _ENCRYPTED:
            raise self.fault(name, "is encrypted; pack it without a password")
        if entry.compress_type not in METHODS:
            raise self.fault(name, f"is packed by method {entry.compress_type}; pack it again (deflate)")
        try:
            with self._archive.open(entry) as stream:
                content = _content(stream.read, min(most, self._left))
        except UNREADABLE as error:
            raise self.fault(name, f"can't be read ({error})") from error
        if content is None:
            told = f"unpacks to more than {most:,} bytes"
            everything = f"and those before it unpack to more than {limits.TOTAL_BYTES.value:,} bytes"
            raise self.fault(name, told if most <= self._left else everything)
        if len(content) != entry.file_size:
            raise self.fault(name, f"unpacks to {len(content):,} bytes, but its stated size is {entry.file_size:,}")
        self._left -= len(content)
        return content

    def fault(self, name: str, said: str) -> WrongUse:
        """Return the error that names the zip file and one file in it."""
        return WrongUse(f"{self.path}: {name!a} in the zip file {said}")

    def _refuse_names(self, counts: Counter[str]) -> None:
        for name, count in counts.items():
            if count > 1:
                raise self.fault(name, f"occurs {count} times")
            if fault := path_leads_out(name):
                raise self.fault(name, f"has an unsafe name: {fault}")
        for name, other in clashes(self._entries):
            raise self.fault(name, f"differs from {other!a} only by letter case or Unicode form")


@contextmanager
def opened_pack(path: Path) -> Iterator[Pack]:
    """Open a zip file.

    Raises WrongUse where it is none, or holds names that are there twice, lead out of it, or
    mean the same file on some system.
    """
    with ExitStack() as stack:
        try:
            archive = stack.enter_context(zipfile.ZipFile(stack.enter_context(SteppedFile(path))))
        except UNREADABLE as error:
            raise WrongUse(f"{path} can't be read as a zip file ({error})") from error
        yield Pack(path, archive)


def _content(read: Callable[[int], bytes], most: int) -> bytes | None:
    """Return what a stream gives, or None where it gives more than ``most`` bytes."""
    pieces, left = [], most
    while piece := read(_PIECE_BYTES):
        left -= len(piece)
        if left < 0:
            return None
        pieces.append(piece)
    return b"".join(pieces)
