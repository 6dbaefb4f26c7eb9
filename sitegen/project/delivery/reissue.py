"""Two issues of a laboratory's results: what both give, and what differs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, islice
from pathlib import PurePosixPath
from typing import NamedTuple

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.files import latest_date, revision_of
from sitegen.project.delivery.mapped import RESULT_COLUMNS, MappedRows
from sitegen.project.read.xlsxtext import Sheet

_COMPARED = ("value", "unit", "rl", "mdl", "detected", "lab_qualifier")
_TOLD = 5
MAX_TOLD = 20
NONE = "–"
"""What stands for a result that one of two issues lacks."""


class Changed(NamedTuple):
    """A result that two issues give differently: as the former has it, and as the one that replaces it."""

    lab_sample_id: str
    analyte_id: str
    former: str
    present: str


@dataclass(frozen=True, slots=True)
class Compared:
    """Two issues: how many results both give, those that differ, and how many one alone gives."""

    both: int
    changed: tuple[Changed, ...]
    former_alone: tuple[Changed, ...]
    present_alone: tuple[Changed, ...]

    @property
    def every(self) -> tuple[Changed, ...]:
        """All that is not the same in both."""
        return (*self.changed, *self.former_alone, *self.present_alone)


@dataclass(frozen=True, slots=True)
class Issue:
    """A file with the results that it gives."""

    mapping: str
    file: str
    sheet: Sheet
    results: MappedRows


class Former(NamedTuple):
    """A former issue that a mapping says its file replaces."""

    file: str
    sha256: str
    compared: Compared


def compare(former: MappedRows, present: MappedRows) -> Compared:
    """Compare two issues, result by result."""
    old, new = _by_key(former), _by_key(present)
    both = [key for key in old if key in new]
    pairs = [(key, old[key], new[key]) for key in both]
    return Compared(
        len(both),
        tuple(Changed(*key, *_told(one, other)) for key, one, other in pairs if _values(one) != _values(other)),
        tuple(Changed(*key, _text(row), NONE) for key, row in old.items() if key not in new),
        tuple(Changed(*key, NONE, _text(row)) for key, row in new.items() if key not in old),
    )


def _by_key(rows: MappedRows) -> dict[tuple[str, str], Mapping[str, str]]:
    named = (dict(zip(rows.header, row, strict=True)) for row in rows.rows)
    return {(row["lab_sample_id"], row["analyte_id"]): row for row in named}


def _values(row: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(row[name] for name in _COMPARED)


def _text(row: Mapping[str, str]) -> str:
    """Write a result as the laboratory did, with its qualifier where that stands in a column of its own."""
    text, qualifier = row["result_text"], row["lab_qualifier"]
    return text if not qualifier or text.endswith(qualifier) else f"{text} {qualifier}"


def _told(one: Mapping[str, str], other: Mapping[str, str]) -> tuple[str, str]:
    """Write two results so that the difference is seen."""
    texts = _text(one), _text(other)
    if texts[0] != texts[1]:
        return texts
    names = [name for name in _COMPARED if one[name] != other[name]]
    return _with(texts[0], one, names), _with(texts[1], other, names)


def _with(text: str, row: Mapping[str, str], names: Iterable[str]) -> str:
    return f"{text} ({', '.join(f'{name} {row[name] or NONE}' for name in names)})"


def claims(issues: Iterable[Issue]) -> Iterator[tuple[Issue, Issue, Compared]]:
    """Yield each two files that give the same results, the former first, with what differs."""
    by_file: dict[str, Issue] = {}
    for issue in issues:
        there = by_file.get(issue.file)
        by_file[issue.file] = _merged(there, issue) if there else issue
    keys = {file: {tuple(row[:2]) for row in issue.results.rows} for file, issue in by_file.items()}
    for one, other in combinations(by_file.values(), 2):
        if keys[one.file] & keys[other.file]:
            former, present = _in_order(one, other)
            yield former, present, compare(former.results, present.results)


def _merged(one: Issue, other: Issue) -> Issue:
    """Put together what two sheets of one file give."""
    return Issue(one.mapping, one.file, one.sheet, joined_rows([one.results, other.results]))


def joined_rows(parts: Iterable[MappedRows]) -> MappedRows:
    """Put results together; of where they stand nothing is kept."""
    return MappedRows(RESULT_COLUMNS, [row for part in parts for row in part.rows])


def _in_order(one: Issue, other: Issue) -> tuple[Issue, Issue]:
    """Return the former of two issues first: by their names, by their latest dates, or as they came."""
    (base, first), (other_base, second) = revision_of(one.file), revision_of(other.file)
    if base == other_base and first != second:
        return (one, other) if first < second else (other, one)
    return (other, one) if _latest(one) > _latest(other) > "" else (one, other)


def _latest(issue: Issue) -> str:
    return latest_date("\n".join(cell for row in issue.sheet.grid.rows for cell in row))


def in_words(former: str, present: str, compared: Compared) -> str:
    """Say how many results two files give, and how the first few of them differ."""
    told = (f"{c.lab_sample_id} {c.analyte_id} {c.former!r} and {c.present!r}" for c in compared.changed)
    listed = ", ".join(islice(told, _TOLD))
    count = len(compared.changed)
    more = f" and {count - _TOLD:,} more" if count > _TOLD else ""
    results = "1 result" if compared.both == 1 else f"{compared.both:,} results"
    differ = f"{count:,} of them {'differs' if count == 1 else 'differ'}: {listed}{more}" if count else "none differs"
    return f"{former} and {present} both give {results}; {differ}"


def reissued(issues: Iterable[Issue]) -> list[Finding]:
    """Tell each two mapped files that claim the same results."""
    return [
        Finding(
            "deliverable-reissued",
            Severity.STOP,
            f"{former.file}+{present.file}",
            Where(present.file),
            in_words(former.file, present.file, compared),
            "one file for each result",
            "find out which of the two stands, move the other and its mapping to records/, and write "
            f'replaces = "{kept(former.file)}" (or the other) under [source] of the mapping that stays',
            "file",
        )
        for former, present, compared in islice(claims(issues), MAX_TOLD)
    ]


def first_given(issues: Iterable[Issue]) -> Iterator[MappedRows]:
    """Yield the results of each issue without those that another file gave before it."""
    claimed: dict[tuple[str, ...], str] = {}
    for issue in issues:
        stays = [claimed.setdefault(tuple(row[:2]), issue.file) == issue.file for row in issue.results.rows]
        yield issue.results if all(stays) else issue.results.kept(stays)


def kept(file: str) -> str:
    """Return where a file goes that no longer stands.

    >>> kept("lab/L25-0447.xlsx")
    'records/L25-0447.xlsx'
    """
    return f"records/{PurePosixPath(file).name}"
