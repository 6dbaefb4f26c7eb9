"""What a shelf page says of each archive, and who may read what of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

READERS = ("public", "client", "internal")
"""Circles of readers, the widest first: each may read what is for it or for a wider one."""


class Place(NamedTuple):
    """The middle of a site in WGS 84 degrees."""

    longitude: float
    latitude: float

    @property
    def text(self) -> str:
        """The place in words, to some ten metres.

        >>> Place(-99.36761, 43.0825).text
        '43.0825° N, 99.3676° W'
        """
        north, east = ("N" if self.latitude >= 0 else "S"), ("E" if self.longitude >= 0 else "W")
        return f"{abs(self.latitude):.4f}° {north}, {abs(self.longitude):.4f}° {east}"


@dataclass(frozen=True, slots=True)
class Told:
    """What an archive tells those it is for: "" and None where it has no record of it.

    ``sampled`` are the first and the last day on which a sampler was placed or retrieved; ``found`` the
    compounds detected at a point, ``looked_for`` how many were analysed, None before there are results.
    """

    title: str
    site: str
    client: str
    sampled: tuple[str, str] | None
    found: tuple[str, ...]
    looked_for: int | None
    place: Place | None


@dataclass(frozen=True, slots=True)
class Kept:
    """An archive on the shelf. ``told`` is None where it is ``withheld``, or where its settings can't be read.

    It is withheld where its access level is not for the readers of the page.

    ``name`` is its path as the page writes it and ``href`` the way there, ``report`` the way to its start page
    where it is a folder. ``size`` is in bytes; ``seal`` is the SHA-512 of ``tagmanifest-sha512.txt``, which
    stands for all that the archive holds. ``private`` marks the bag of a project's private files.
    """

    name: str
    href: str
    report: str
    project: str
    revision: int
    status: str
    report_date: str
    access: str
    digest: str
    size: int
    seal: str
    private: bool = False
    told: Told | None = None
    withheld: bool = False
    checked: str = ""
    """What is on record of the last check, in words."""
    note: str = ""
    """What a reader must know of it beside the others of its revision."""


class Unread(NamedTuple):
    """What lies on the shelf and can't be read as an archive, and why."""

    name: str
    reason: str


def allows(access: str, readers: str) -> bool:
    """Tell whether readers may be told what an archive with an access level holds; a level of its own is for nobody.

    >>> allows("public", "client"), allows("internal", "client"), allows("restricted", "internal")
    (True, False, False)
    """
    return access in READERS and READERS.index(access) <= READERS.index(readers)
