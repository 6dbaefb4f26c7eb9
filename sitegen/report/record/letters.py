"""The cover letter as a record: what stands in it from top to bottom, and what is enclosed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from sitegen.report.record.pages import Block, Section, Table


class EnclosedFile(NamedTuple):
    """A file that goes with a letter: its path below the report folder, size in bytes and SHA-256."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Enclosed:
    """A report that was built from the content that a letter is about.

    ``folder`` is the name of its folder, ``status`` what its pages say, ``files`` those to download. The site
    as a whole has ``pages`` (files of it), ``size`` in bytes and ``digest``, the SHA-256 over all of them.
    """

    folder: str
    status: str
    files: tuple[EnclosedFile, ...]
    pages: int
    size: int
    digest: str


@dataclass(frozen=True, slots=True)
class Letter:
    """A draft of a letter. ``running`` stands on every page, ``draft`` says that a person has to read it first.

    ``head`` holds sender, day and addressee, each of some lines. ``blocks`` are what it says;
    ``signatures`` has a blank line for each role. The ``annex`` lists where its numbers come from.
    """

    running: str
    draft: str
    head: tuple[str, ...]
    subject: str
    blocks: tuple[Block, ...]
    signatures: Table
    annex: Section
