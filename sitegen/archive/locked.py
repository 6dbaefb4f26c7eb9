"""The lock of what the program needs: a version of each package, with the SHA-256 of every file of that version.

``.ci/lock`` writes it from ``pyproject.toml`` and the package index, in the form of pip's ``--require-hashes``; here it
is only read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

LOCK = "data/dependencies.txt"
_ENTRY = re.compile(r"([a-z0-9-]+)==(\S+)((?: \\\n    --hash=sha256:[0-9a-f]{64})+)(?:\n    # via (.+))?")


@dataclass(frozen=True, slots=True)
class Locked:
    """One package of the lock: its version, the digests of that version's files, and the packages that need it."""

    name: str
    version: str
    sha256: tuple[str, ...]
    needed_by: tuple[str, ...]

    def entry(self) -> str:
        r"""Return the package's lines for ``pip install --require-hashes -r``.

        >>> print(Locked("idna", "3.20", ("0a", "1b"), ("requests",)).entry(), end="")
        idna==3.20 \
            --hash=sha256:0a \
            --hash=sha256:1b
        """
        digests = (f"--hash=sha256:{one}" for one in self.sha256)
        return " \\\n    ".join([f"{self.name}=={self.version}", *digests]) + "\n"


def read_lock(text: str) -> dict[str, Locked]:
    r"""Return the packages of a lock by name.

    Lines before the first package are its head. Raises ValueError where what follows is not
    of the one form that ``.ci/lock`` writes, or names a package twice.

    >>> read_lock("idna==3.20\n")
    Traceback (most recent call last):
    ValueError: not a package with version and SHA-256: 'idna==3.20'
    """
    body = re.sub(r"\A(?:#.*\n)*", "", text)
    packages = list(_packages(body))
    by_name = {one.name: one for one in packages}
    if len(by_name) < len(packages):
        raise ValueError("a package stands in the lock twice")
    return by_name


def _packages(body: str) -> Iterator[Locked]:
    for part in re.split(r"\n(?=\S)", body.rstrip("\n")):
        entry = _ENTRY.fullmatch(part)
        if entry is None:
            raise ValueError(f"not a package with version and SHA-256: {part.splitlines()[0]!r}")
        name, version, digests, via = entry.groups(default="")
        yield Locked(name, version, tuple(re.findall(r"sha256:(\w+)", digests)), tuple(via.split(", ")) if via else ())


@cache
def locked() -> Mapping[str, Locked]:
    """Return the packages of this program's lock by name."""
    return read_lock(files("sitegen").joinpath(LOCK).read_text("utf-8"))
