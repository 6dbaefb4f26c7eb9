"""Identity: ids resolve, keys agree from table to table."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, first_numbers, ids_in, key_of, surplus
from sitegen.findings.problems import Finding
from sitegen.project.read.textsafe import cas_agrees, cas_digit
from sitegen.project.schema import Column, Kind
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import Analyte
from sitegen.voice import worded


def ids_resolve(survey: Survey) -> Iterator[Finding]:
    """Every id that a table uses stands in the table that lists it."""
    for table in survey.tables.values():
        for column in table.spec.columns:
            target = survey.tables.get(column.refers)
            if target is not None and target.present:
                yield from _unknown_ids(table, column, target)


def _unknown_ids(table: SurveyTable, column: Column, target: SurveyTable) -> Iterator[Finding]:
    known = set(target.frame[target.spec.key[0]])
    cells = table.frame[column.name]
    bad = ~_all_known(cells, known) if column.kind is Kind.IDS else (cells != "") & ~cells.isin(known)
    noun = target.spec.key[0].removesuffix("_id")
    for at in first_numbers(bad):
        yield find(
            "unknown-id",
            f"{table.spec.name}+{key_of(table, at) or at}+{column.name}",
            table.where(at, column.name),
            worded("the {kind} {name!r}", kind=worded(noun), name=cells.iloc[at]),
            worded(
                "an {kind} listed in {file}" if noun[0] in "aeiou" else "a {kind} listed in {file}",
                kind=worded(noun),
                file=target.called,
            ),
            do=_hint(str(cells.iloc[at]), known, target.called),
            kind=table.spec.name,
        )
    yield from surplus("unknown-id", table, bad, column.name)


def _all_known(cells: pd.Series[Any], known: set[str]) -> Mask:
    """Return where every id of a list cell is known."""
    return cells.map(lambda cell: set(ids_in(cell)) <= known).astype(bool)


def _hint(value: str, known: set[str], path: str) -> str:
    """Say what the id may have been meant to be."""
    plain = value.strip().lstrip("0")
    zeros = "write {value} in {file} if its label reads so: leading zeros count"
    likely: tuple[tuple[Callable[[str], bool], str], ...] = (
        (lambda other: plain != "" and other == plain and other != value, zeros),
        (lambda other: plain != "" and other.lstrip("0") == plain, "write {meant}: leading zeros count"),
        (
            lambda other: _neighbours_swapped(value, other),
            "check the original: {meant} differs by two transposed digits",
        ),
        (lambda other: other.casefold() == value.casefold(), "write {meant}"),
        (lambda other: _bare(other) == _bare(value), "write {meant} if that is intended"),
    )
    for fits, words in likely:
        nearest = min(filter(fits, known), default=None)
        if nearest is not None:
            return worded(words, value=value, meant=nearest, file=path)
    return worded("correct it, or add its row to {file}", file=path)


def _bare(value: str) -> str:
    """Return an id without its punctuation, case and leading zeros.

    >>> _bare("SG-03") == _bare("sg3") == _bare("SG_003")
    True
    """
    return "-".join(part.lstrip("0") for part in re.findall(r"\d+|[^\W\d_]+", value.casefold()))


def _neighbours_swapped(one: str, other: str) -> bool:
    """Tell whether two texts differ by two neighbours that changed places."""
    if len(one) != len(other):
        return False
    at = [i for i, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
    return len(at) == 2 and at[1] == at[0] + 1 and one[at[0]] == other[at[1]] and one[at[1]] == other[at[0]]


def cas_check_digits(survey: Survey) -> Iterator[Finding]:
    """Find CAS numbers whose last digit disagrees with the others."""
    for row in survey.rows(Analyte):
        digits = row.cas.replace("-", "")
        if digits.isdigit() and not cas_agrees(row.cas):
            yield find(
                "cas-check-digit",
                row.analyte_id,
                row.origin.where("cas"),
                repr(row.cas),
                worded("the check digit {digit}", digit=cas_digit(digits[:-1])),
                kind="compound",
            )


RULES = (ids_resolve, cas_check_digits)
