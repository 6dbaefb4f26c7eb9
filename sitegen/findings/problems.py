"""Findings: what a check has to say, where, and what to do about it.

A finding never stops the program by itself. Checks gather findings; the pipeline
looks at them once and raises :class:`Stopped` if any of them is a stop.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path
from typing import TypeAlias

from sitegen.voice import worded

RowNames: TypeAlias = Mapping[tuple[str, int], str]
"""What rows are about, such as ``SG-03, sampler 0047103``, by file and row."""


class Severity(Enum):
    """How far a finding reaches, worst first.

    STOP: a number could be tied to the wrong sample, place, time or unit, or the
    record contradicts itself; nothing is written. HOLD: a draft builds, an issue
    does not. FLAG: a reader must know; it stands beside every number it touches.
    NOTE: for the run log and the annex.
    """

    STOP = "stop"
    HOLD = "hold"
    FLAG = "flag"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for the worst severity, rising to 3."""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True)
class Where:
    """A place in the project folder: file, and row and column where they apply.

    ``row`` is the row that a spreadsheet shows: the header is row 1. Of a workbook, ``column`` names
    the sheet as well, as in ``samplers!lot``, or the sheet alone, ``samplers!``.

    >>> str(Where("field/samplers.csv", 12, "lot"))
    'field/samplers.csv, row 12, column lot'
    """

    file: str
    row: int | None = None
    column: str | None = None

    def __str__(self) -> str:
        parts = [self.file]
        if self.row is not None:
            parts.append(worded("row {row}", row=self.row))
        if self.column:
            sheet = self.column.endswith("!")
            parts.append(worded("sheet {name}" if sheet else "column {name}", name=self.column.removesuffix("!")))
        return ", ".join(parts)


@dataclass(frozen=True, slots=True)
class Touch:
    """Results that a finding bears on: a sampler's, all of them or one compound's.

    An empty ``analyte_id`` stands for every compound of the sampler.
    """

    sampler_id: str
    analyte_id: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check has to say.

    ``subject`` is the id (or the ids joined by ``+``) the finding is about. The
    key, code and subject, stays the same from one revision to the next, so that a
    disposition written once still attaches. Of one severity the lowest ``order`` comes first.
    ``count`` is how many cases it stands for, ``rows`` where these are, as far as they are rows
    of the file named in ``where``: empty for one case, which stands at ``where``. ``round`` is the round that it
    was found in, empty where there is one, or where it is about all of them.
    """

    code: str
    severity: Severity
    subject: str
    where: Where
    found: str
    expected: str
    do: str
    subject_kind: str = ""
    touches: tuple[Touch, ...] = field(default=())
    order: int = 0
    count: int = 1
    rows: tuple[int, ...] = ()
    round: str = ""

    @property
    def key(self) -> str:
        """The stable name of this finding, ``code:subject``."""
        return f"{self.code}:{self.subject}"

    @property
    def about(self) -> str:
        """The subject without its round."""
        return self.subject.removesuffix(f"@{self.round}") if self.round else self.subject

    @property
    def sort_key(self) -> tuple[int, int, str, str, int, str, str]:
        """Worst first, then by order, code, file, row and subject."""
        return (
            self.severity.rank,
            self.order,
            self.code,
            self.where.file,
            self.where.row or 0,
            self.where.column or "",
            self.subject,
        )

    def line(self) -> str:
        """Say the finding in one line of plain text."""
        return f"{self.where}: found {self.found}; expected {self.expected}; {self.do}"


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings, each once, worst first in a stable order."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda finding: finding.sort_key))


class SitegenError(Exception):
    """Base of the errors that this package raises on purpose."""


class Stopped(SitegenError):
    """Findings stop the build. All of them are in ``findings``; ``names`` says what their rows are about."""

    def __init__(self, findings: Iterable[Finding], reason: str = "", names: RowNames | None = None) -> None:
        self.findings = in_order(findings)
        self.reason = reason
        self.names = names or {}
        stops = sum(finding.count for finding in self.findings if finding.severity is Severity.STOP)
        super().__init__(reason or f"{stops} finding(s) stop the build")


class WrongUse(SitegenError):
    """The command was called in a way that can't be carried out."""


class OutputFault(SitegenError):
    """What was written does not agree with what was computed, or can't be written."""


def visible(text: str) -> str:
    r"""Replace control characters, so that text from a file can't steer the terminal.

    >>> visible("a\x1b[2Jb")
    'a\ufffd[2Jb'
    """
    return "".join(char if char.isprintable() or char in _KEPT else "\ufffd" for char in text)


_KEPT = frozenset("\n\u202f")
"""Signs that count as not printable and do no harm: a new line, and the blank between thousands."""
_RISKY = ("=", "+", "-", "@", "\t", "\r")


def no_formula(text: str) -> str:
    """Keep a spreadsheet from running text as a formula.

    >>> no_formula("=1+1"), no_formula("SG-01")
    ("'=1+1", 'SG-01')
    """
    return f"'{text}" if text.startswith(_RISKY) else text


@contextmanager
def usable(path: Path) -> Iterator[None]:
    """Raise WrongUse where the file system refuses what is done within at a place that the command names."""
    try:
        yield
    except OSError as error:
        raise WrongUse(f"{path} can't be used: {error.strerror or error}") from error
