"""What each column of a table holds, by its heading and by its cells."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from sitegen.project.proposal import shapes
from sitegen.project.proposal.header import Head
from sitegen.project.proposal.shapes import shape
from sitegen.project.proposal.sure import CERTAIN, GUESS, LIKELY, Sure
from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import (
    Known,
    common_cas,
    is_surrogate,
    is_unread,
    kind_of,
    our_qualifiers,
    role_of,
    unit_in_heading,
    unit_of,
)
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import cas_agrees
from sitegen.project.schema import QUALIFIERS

MOST = 0.8
"""The share of cells that must agree with what a heading says: project default, no published source."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its place from 0, its heading, its distinct cells by count, and what it is for."""

    at: int
    name: str
    cells: Mapping[str, int]
    role: str = ""
    sure: Sure = GUESS
    told: str = ""

    @property
    def filled(self) -> int:
        """How many of its cells are not blank."""
        return sum(self.cells.values())

    def share(self, test: Callable[[str], object]) -> float:
        """Return the share of its filled cells that pass a test, 0 where none is filled."""
        return sum(count for text, count in self.cells.items() if test(text)) / self.filled if self.filled else 0.0

    def looks(self, *kinds: str) -> float:
        """Return the share of its filled cells of some shapes."""
        return self.share(lambda text: shape(text) in kinds)


def columns_of(table: Table, head: Head, rows: Sequence[int], known: Known) -> list[Column]:
    """Return the named columns of a table, each with what its heading and its cells say that it is for."""
    found = []
    for at, name in enumerate(head.names):
        if name:
            cells = Counter(text for row in rows if tidy(text := table.cell(row, at)))
            found.append(_by_heading(Column(at, name, cells), known))
    return _by_cells(found, known)


def _by_heading(column: Column, known: Known) -> Column:
    role, weak = role_of(column.name)
    if not role or is_unread(column.name):
        return column
    agrees = _agrees(column, role, known)
    if agrees is False:
        return replace(column, told=f"the heading {column.name!r} indicates {role}, but its cells do not")
    sure = LIKELY if weak or agrees is None else CERTAIN
    return replace(column, role=role, sure=sure, told=f"the heading {column.name!r}")


def _agrees(column: Column, role: str, known: Known) -> bool | None:
    """Tell whether a column's cells are what its heading says; None where they can't tell."""
    test = _TESTS.get(role)
    if test is None:
        return True
    if not column.filled:
        return None
    return test(column, known) >= MOST


def _numbers(column: Column, _: Known) -> float:
    return column.looks(shapes.NUMBER, shapes.BELOW, shapes.PERCENT)


def is_result(text: str) -> bool:
    """Tell whether a cell may hold a result or a recovery; a bare qualifier is none."""
    return text not in QUALIFIERS and shape(text) in (*shapes.RESULT_SHAPES, shapes.PERCENT)


def is_qualifier(text: str) -> bool:
    """Tell whether a cell may hold a qualifier: one that is known, or a short word."""
    return text in QUALIFIERS or our_qualifiers(text) is not None or (len(text) <= 8 and shape(text) != shapes.NUMBER)


def is_compound(text: str, known: Known) -> bool:
    """Tell whether a cell names a compound that the folder or common practice knows."""
    return bool(common_cas(text) or is_surrogate(text) or known.compounds.find(text, "").analyte_id)


def _no_compounds(column: Column, known: Known) -> float:
    return 1 - column.share(lambda text: is_compound(text, known)) / 2


_TESTS: Mapping[str, Callable[[Column, Known], float]] = {
    "lab_sample_id": _no_compounds,
    "sampler_id": _no_compounds,
    "sample": _no_compounds,
    "cas": lambda column, _: column.looks(shapes.CAS),
    "result_text": lambda column, _: column.share(is_result),
    "recovery": _numbers,
    "rl": _numbers,
    "mdl": _numbers,
    "dilution": _numbers,
    "lower": _numbers,
    "upper": _numbers,
    "calibration_top": _numbers,
    "unit": lambda column, _: column.share(unit_of),
    "analysed_at": lambda column, _: column.looks(shapes.DATE),
    "lab_received_at": lambda column, _: column.looks(shapes.DATE),
    "limits": lambda column, _: column.looks(shapes.RANGE),
    "lab_qualifier": lambda column, _: column.share(is_qualifier),
    "type": lambda column, _: column.share(lambda text: not is_result(text)),
}


def _by_cells(found: list[Column], known: Known) -> list[Column]:
    """Give a column without a known heading the purpose that its cells tell, where no other has it."""
    taken = {column.role for column in found}
    told = []
    for column in found:
        if not column.role and column.filled and not is_unread(column.name):
            role, sure, why = _purpose(column, known)
            if role and role not in taken:
                taken.add(role)
                column = replace(column, role=role, sure=sure, told=why)  # noqa: PLW2901 - the same column, named
        told.append(column)
    return told


def _purpose(column: Column, known: Known) -> tuple[str, Sure, str]:
    """Return what the cells of a column tell of its purpose, how surely, and in words."""
    tests: tuple[tuple[Callable[[str], object], str, Sure, str], ...] = (
        (cas_agrees, "cas", LIKELY, "CAS numbers with a correct check digit"),
        (lambda text: is_compound(text, known), "analyte_id", LIKELY, "names of compounds"),
        (unit_of, "unit", LIKELY, "units"),
        (lambda text: text in QUALIFIERS or our_qualifiers(text), "lab_qualifier", LIKELY, "words used as qualifiers"),
        (lambda text: text in known.serials or text in known.labels, "sampler_id", LIKELY, "ids of samplers.csv"),
        (lambda text: kind_of("types", text) or kind_of("qc", text), "type", GUESS, "words for kinds of samples"),
    )
    for test, role, sure, what in tests:
        if column.share(test) >= MOST:
            return role, sure, f"its cells are {what}"
    return "", GUESS, ""


def by_role(found: Sequence[Column]) -> tuple[dict[str, Column], list[Column]]:
    """Return one column for each purpose, the surest and leftmost, and those that are left over."""
    chosen: dict[str, Column] = {}
    for column in sorted(found, key=lambda one: (_RANK[one.sure], one.at)):
        if column.role:
            chosen.setdefault(column.role, column)
    if rivals := [one for one in found if one.role == "result_text" and one is not chosen["result_text"]]:
        chosen["result_text"] = _among(chosen["result_text"], rivals)
    for role in _LIMITS:
        if role in chosen:
            chosen[role] = _of_unit(chosen, [one for one in found if one.role == role])
    places = {column.at for column in chosen.values()}
    return chosen, [column for column in found if column.at not in places]


def _of_unit(chosen: Mapping[str, Column], limits: Sequence[Column]) -> Column:
    """Return the limit of several whose heading has the unit of the results, the one chosen where none has."""
    unit = _unit(chosen.get("result_text"))
    return next((one for one in limits if unit and _unit(one) == unit), chosen[limits[0].role])


def _unit(column: Column | None) -> str:
    return unit_of((unit_in_heading(column.name) or ("", ""))[1]) if column else ""


def _among(chosen: Column, rivals: Sequence[Column]) -> Column:
    """Return the column of results of several, a mass before a concentration; it is a guess then."""
    masses = [one for one in (chosen, *rivals) if _unit(one) in ("ng", "ug", "mg", "pg")]
    best = masses[0] if masses and chosen not in masses else chosen
    others = ", ".join(repr(one.name) for one in (chosen, *rivals) if one is not best)
    return replace(best, sure=GUESS, told=f"{best.told}; {others} also possible")


_LIMITS = ("rl", "mdl", "calibration_top")
_RANK = {CERTAIN: 0, LIKELY: 1, GUESS: 2}
