"""Digests of files and of whole folders, made so that common tools can repeat them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import IO, NamedTuple

_CHUNK_BYTES = 1 << 20


class Fixity(NamedTuple):
    """What a file's content is known by: size in bytes, SHA-256 and SHA-512 in hex."""

    size: int
    sha256: str
    sha512: str

    def digest(self, algorithm: str) -> str:
        """Return the digest for ``sha256`` or ``sha512``."""
        return self.sha256 if algorithm == "sha256" else self.sha512


def fixity_of(stream: IO[bytes]) -> Fixity:
    """Read a stream once, to its end, in pieces.

    >>> from io import BytesIO
    >>> fixity_of(BytesIO(b"abc")).sha256[:16]
    'ba7816bf8f01cfea'
    """
    size, short, long = 0, hashlib.sha256(), hashlib.sha512()
    while piece := stream.read(_CHUNK_BYTES):
        size += len(piece)
        short.update(piece)
        long.update(piece)
    return Fixity(size, short.hexdigest(), long.hexdigest())


def fixity_of_file(path: Path) -> Fixity:
    """Return the fixity of one file."""
    with path.open("rb") as stream:
        return fixity_of(stream)


def fixities_below(root: Path) -> dict[str, Fixity]:
    """Return the fixity of every file below a folder, by its path there (posix), in path order."""
    paths = {path.relative_to(root).as_posix(): path for path in root.rglob("*") if path.is_file()}
    return {name: fixity_of_file(paths[name]) for name in sorted(paths)}


def tree_digest(fixities: Mapping[str, Fixity]) -> str:
    r"""Return one digest for many files: the SHA-256 of lines ``<sha256>  <path>`` in path order.

    Those are the lines of ``sha256sum``, so that ``LC_ALL=C find * -type f | LC_ALL=C sort |
    xargs -d "\n" sha256sum | sha256sum`` in the folder gives the same.
    """
    lines = (f"{fixities[name].sha256}  {name}\n" for name in sorted(fixities))
    return hashlib.sha256("".join(lines).encode()).hexdigest()
