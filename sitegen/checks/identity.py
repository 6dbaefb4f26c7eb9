"""Identity: ids resolve, keys agree from table to table."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.problems import Finding
from sitegen.project.schema import Column, Kind
from sitegen.project.survey import Survey, SurveyTable

MAX_TOLD = 20


def ids_resolve(survey: Survey) -> Iterator[Finding]:
    """Every id that a table uses stands in the table that lists it."""
    for table in survey.tables.values():
        for column in table.spec.columns:
            target = survey.tables.get(column.refers)
            if target is not None and target.present:
                yield from _unresolved(table, column, target)


def _unresolved(table: SurveyTable, column: Column, target: SurveyTable) -> Iterator[Finding]:
    known = set(target.frame[target.spec.key[0]])
    cells = table.frame[column.name]
    if column.kind is Kind.IDS:
        cells = cells.str.split(";")
        bad = [i for i, ids in cells.items() if any(x.strip() and x.strip() not in known for x in ids)]
    else:
        bad = list(cells.index[(cells != "") & ~cells.isin(known)])
    noun = target.spec.key[0].removesuffix("_id")
    for index in bad[:MAX_TOLD]:
        value = table.frame.at[index, column.name]
        key = "+".join(str(table.frame.at[index, name]) for name in table.spec.key) or str(index)
        yield find(
            "unknown-id",
            f"{table.spec.name}+{key}+{column.name}",
            table.where(index, column.name),
            f"the {noun} {value!r}",
            f"a {noun} that {target.spec.path} lists",
            do=_hint(str(value), known, target.spec.path),
            kind=table.spec.name,
        )
    if len(bad) > MAX_TOLD:
        yield find(
            "unknown-id",
            f"{table.spec.name}+{column.name}+more",
            table.where(bad[MAX_TOLD], column.name),
            f"{len(bad) - MAX_TOLD} more cells like these, from here on",
            f"a {noun} that {target.spec.path} lists",
            kind=table.spec.name,
        )


def _hint(value: str, known: set[str], path: str) -> str:
    """Say what the id may have been meant to be."""
    plain = value.strip().lstrip("0")
    zeros = sorted(other for other in known if other.lstrip("0") == plain and plain)
    if zeros:
        return f"write {zeros[0]}: leading zeros count"
    swapped = sorted(other for other in known if _transposed(value, other))
    if swapped:
        return f"look it up: {swapped[0]} differs by two digits that changed places"
    case = sorted(other for other in known if other.casefold() == value.casefold())
    if case:
        return f"write {case[0]}"
    return f"correct it, or add its row to {path}"


def _transposed(one: str, other: str) -> bool:
    """Tell whether two texts differ by two neighbours that changed places."""
    if len(one) != len(other):
        return False
    at = [i for i, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
    return len(at) == 2 and at[1] == at[0] + 1 and one[at[0]] == other[at[1]] and one[at[1]] == other[at[0]]


def cas_check_digits(survey: Survey) -> Iterator[Finding]:
    """Find CAS numbers whose last digit disagrees with the others."""
    table = survey.tables["analytes"]
    for index, cas in table.frame["cas"].items():
        digits = cas.replace("-", "")
        if digits.isdigit() and not cas_agrees(cas):
            yield find(
                "cas-check-digit",
                str(table.frame.at[index, "analyte_id"]),
                table.where(int(str(index)), "cas"),
                repr(cas),
                f"the check digit {cas_digit(digits[:-1])}",
                kind="compound",
            )


def cas_digit(digits: str) -> int:
    """Return the check digit for the digits before it.

    The sum of each digit times its position from the right, modulo 10 (CAS).

    >>> cas_digit("773218")
    5
    """
    return sum(int(digit) * place for place, digit in enumerate(reversed(digits), start=1)) % 10


def cas_agrees(cas: str) -> bool:
    """Tell whether a CAS number's check digit is right.

    >>> cas_agrees("127-18-4"), cas_agrees("127-18-5")
    (True, False)
    """
    digits = cas.replace("-", "")
    return int(digits[-1]) == cas_digit(digits[:-1])


RULES = (ids_resolve, cas_check_digits)
