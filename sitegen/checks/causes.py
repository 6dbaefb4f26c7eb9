"""Findings by cause: what one correction or one decision mends stands together, once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import TypeAlias

from sitegen.checks.dispositions import STAR, beginning_with
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.survey import called
from sitegen.voice import worded

EXAMPLES = 3
"""So many findings of a cause are told; the others are counted."""

MOST_RANGES = 12
"""No more ranges of rows, files or settings are written one after another."""

SCATTERED = ("example-row-left", "template-text")
"""What the template left is one cause, whatever the files, sheets and columns."""
_Kind: TypeAlias = tuple[Severity, str, str, str, str]


@dataclass(frozen=True, slots=True)
class Cause:
    """Findings of one severity and code about one column of one file.

    Findings about whole files are of one cause whatever the file, those about settings whatever the
    setting, and those about what the template left wherever it is. ``key`` decides all of them in
    ``dispositions.csv``; "" where no key does, and for stops and notes.
    """

    findings: tuple[Finding, ...]
    key: str = ""

    @property
    def code(self) -> str:
        """The check."""
        return self.findings[0].code

    @property
    def severity(self) -> Severity:
        """How far its findings reach."""
        return self.findings[0].severity

    @property
    def count(self) -> int:
        """How many cases there are: a finding may stand for many."""
        return sum(finding.count for finding in self.findings)

    @property
    def examples(self) -> tuple[Finding, ...]:
        """The findings that are told: those of one case before those that count the rest."""
        return tuple(sorted(self.findings, key=lambda finding: finding.count > 1)[:EXAMPLES])

    @property
    def place(self) -> str:
        """Say where all of its findings are."""
        first = self.findings[0].where
        if len(self.findings) == 1 and not self.findings[0].rows:
            return str(first)
        if self.code in SCATTERED:
            return _listed(_sheet_or_file(finding.where) for finding in self.findings)
        if first.file == SETTINGS_FILE:
            return f"{SETTINGS_FILE}: {_listed(map(_setting, self.findings))}"
        if first.row is None and first.column is None:
            return _listed(finding.where.file for finding in self.findings)
        rows = row_ranges(row for finding in self.findings for row in _rows(finding))
        column = worded("column {name}", name=first.column) if first.column else ""
        return ", ".join(filter(None, (first.file, rows, column)))


def causes(findings: Iterable[Finding], *, each: bool = False) -> tuple[Cause, ...]:
    """Gather findings by cause, in the order of the first of each; with ``each``, every finding is alone.

    >>> from sitegen.findings.problems import Where
    >>> def blank(row):
    ...     where = Where("field/samplers.csv", row, "kind")
    ...     return Finding("cell-blank", Severity.STOP, str(row), where, "a blank", "a word", "fill it in")
    >>> [cause.place for cause in causes([blank(row) for row in (4, 5, 6, 9)])]
    ['field/samplers.csv, rows 4–6, 9, column kind']
    """
    every = list(findings)
    gathered: dict[object, list[Finding]] = {}
    for at, finding in enumerate(every):
        gathered.setdefault(at if each else _kind(finding), []).append(finding)
    wanted = sorted({key_to_decide(finding) for finding in every})
    return tuple(Cause(tuple(group), _deciding(group, wanted)) for group in gathered.values())


def _kind(finding: Finding) -> _Kind:
    """Return what findings of one cause have in common; a flag that waits for a decision is of its own code."""
    where, about = finding.where, key_to_decide(finding).partition(":")[0]
    if finding.code in SCATTERED:
        return finding.severity, finding.code, about, "", ""
    if where.file == SETTINGS_FILE or (where.row is None and where.column is None):
        whole = SETTINGS_FILE if where.file == SETTINGS_FILE else ""
        return finding.severity, finding.code, about, whole, ""
    return finding.severity, finding.code, about, where.file, where.column or ""


def _setting(finding: Finding) -> str:
    return finding.where.column or worded("line {number}", number=finding.where.row)


def _sheet_or_file(where: Where) -> str:
    sheet, mark, _ = (where.column or "").partition("!")
    return called(where.file, sheet) if mark else where.file


def key_to_decide(finding: Finding) -> str:
    """Return the key that a decision on a finding has: that of the flag where the finding is that one is undecided."""
    return finding.subject if finding.code == "flag-undecided" else finding.key


def _deciding(group: Sequence[Finding], wanted: Sequence[str]) -> str:
    """Return the key that decides all of a group and nothing else, "" where there is none; ``wanted`` is in order."""
    keys = sorted({key_to_decide(finding) for finding in group})
    if group[0].severity in (Severity.STOP, Severity.NOTE):
        return ""
    if len(keys) == 1:
        return keys[0]
    code = f"{keys[0].partition(':')[0]}:"
    for beginning in (code, _beginning(keys[0], keys[-1])):
        if beginning.startswith(code) and len(keys) == len(beginning_with(beginning, wanted)):
            return f"{beginning}{STAR}"
    return ""


def _beginning(first: str, last: str) -> str:
    """Return what two keys, and all between them, begin with, up to the end of a part of their subjects.

    >>> _beginning("unknown-id:photos+1+file", "unknown-id:photos+12+file")
    'unknown-id:photos+'
    """
    same = "".join(a for a, _ in takewhile(lambda pair: pair[0] == pair[1], zip(first, last, strict=False)))
    return same[: same.rfind("+") + 1]


def _rows(finding: Finding) -> Sequence[int]:
    return finding.rows or ([finding.where.row] if finding.where.row is not None else [])


def row_ranges(rows: Iterable[int]) -> str:
    """Write row numbers as ranges, the first few of many.

    >>> row_ranges([9, 4, 5, 6]), row_ranges([3]), row_ranges([])
    ('rows 4–6, 9', 'row 3', '')
    >>> row_ranges(range(2, 60, 2))
    'rows 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24 and 17 more'
    """
    numbers = sorted(set(rows))
    ranges = list(_ranges(numbers))
    shown = ", ".join(f"{first}–{last}" if last > first else str(first) for first, last in ranges[:MOST_RANGES])
    rest = sum(last - first + 1 for first, last in ranges[MOST_RANGES:])
    if rest:
        shown = worded("{named} and {rest} more", named=shown, rest=rest)
    return worded("row {row}" if len(numbers) == 1 else "rows {rows}", row=shown, rows=shown) if numbers else ""


def _ranges(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Yield the first and last of each run of numbers that follow one another."""
    start = 0
    for at in range(1, len(numbers) + 1):
        if at == len(numbers) or numbers[at] != numbers[at - 1] + 1:
            yield numbers[start], numbers[at - 1]
            start = at


def _listed(names: Iterable[str]) -> str:
    every = list(dict.fromkeys(names))
    named, rest = ", ".join(every[:MOST_RANGES]), len(every) - MOST_RANGES
    return worded("{named} and {rest} more", named=named, rest=rest) if rest > 0 else named


def telling_notes(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the notes that bear on something worse.

    These are those about the file and column of a stop, and those that say what to do with a file
    that is missing: one of another name, for instance, that is meant for it.
    """
    every = list(findings)
    stops = [finding for finding in every if finding.severity is Severity.STOP]
    places = {(stop.where.file, column) for stop in stops for column in (stop.where.column, None)}
    missing = {f.where.file for f in every if f.severity is not Severity.NOTE and f.where.row is None}
    notes = (finding for finding in every if finding.severity is Severity.NOTE)
    return tuple(n for n in notes if (n.where.file, n.where.column) in places or missing & set(n.do.split()))
