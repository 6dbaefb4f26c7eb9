"""How a laboratory's table is laid out: long, or with samples or compounds across."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median

from sitegen.project.proposal.columns import MOST, Column, by_role, columns_of, is_compound, is_result
from sitegen.project.proposal.header import Head, heads, names_samplers
from sitegen.project.proposal.recoveries import said_of_recoveries
from sitegen.project.proposal.suffixes import Suffixes, suffixes_of
from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import (
    CONTROLS,
    Known,
    is_unread,
    kind_of,
    role_of,
    sample_kind,
    sampler_of,
    without_unit,
)
from sitegen.project.read.textsafe import plain

SAMPLED = 3_000
"""So many rows below a header are looked at for what its columns hold: project default, no published source."""
LONG, SAMPLES, ANALYTES = "long", "samples", "analytes"
SAMPLE_ROLES = ("lab_sample_id", "sampler_id", "sample")
ABOVE = 12
"""So many rows above a header may hold something for each column: project default, no published source."""


@dataclass(frozen=True, slots=True)
class Layout:
    """A layout that fits: its columns by what they are for, and what stands across.

    ``rows`` are the rows, above or below the header, that hold something for each column across.
    ``left`` are columns without a purpose, ``controls`` those across that belong to control samples.
    """

    kind: str
    head: Head
    roles: dict[str, Column]
    left: list[Column]
    score: float
    across: list[Column] = field(default_factory=list)
    suffixes: Suffixes = field(default_factory=Suffixes)
    rows: dict[str, int] = field(default_factory=dict)
    unread_rows: list[int] = field(default_factory=list)
    controls: list[Column] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Stopped:
    """Why a header can't be used: the cell and what is wrong with it; ``score`` tells how far it came."""

    score: float
    cell: str
    why: str


def layout_of(table: Table, known: Known) -> Layout | Stopped:
    """Return the layout that fits a table best, or what stopped the nearest."""
    tried = [fit(table, head, known) for head in heads(table, known)]
    layouts = [one for one in tried if isinstance(one, Layout)]
    if layouts:
        return max(layouts, key=lambda one: one.score)
    stops = [one for one in tried if isinstance(one, Stopped)]
    why = "no row of it has the words of a header, such as a sample id, a compound and a result"
    return max(stops, key=lambda one: one.score, default=Stopped(0, table.ref(0, 0), why))


def fit(table: Table, head: Head, known: Known) -> Layout | Stopped:
    """Try a header: each layout in turn, by the purposes that the columns have."""
    rows = dense_rows(table, head)
    found = columns_of(table, head, rows, known)
    roles, left = by_role(found)
    words = len(roles) - 0.5 * sum(count - 1 for count in Counter(filter(None, head.names)).values())
    start = table.ref(head.last, 0)
    if not rows:
        return Stopped(words, start, "no table below it")
    compound = "analyte_id" in roles or "cas" in roles
    sample = any(role in roles for role in SAMPLE_ROLES)
    value = "result_text" in roles or "recovery" in roles
    if compound and value and (sample or "result_text" not in roles):
        return _long(table, head, roles, left, words)
    if compound and not sample and "result_text" not in _parted(head, roles, left)[0]:
        return _samples_across(table, head, roles, left, words, known)
    if sample and not compound:
        return _analytes_across(table, head, roles, left, words, known)
    return _lacking(table, head, roles, left, words)


def dense_rows(table: Table, head: Head) -> list[int]:
    """Return the rows below a header that are filled as most are, without a repeated header and labelled rows."""
    last = min(len(table.rows), head.last + 1 + SAMPLED)
    counts = {row: sum(map(bool, table.rows[row])) for row in range(head.last + 1, last)}
    usual = median(counts.values()) if counts else 0
    heading = [cell for cell in table.rows[head.last] if cell]
    return [
        row
        for row, count in counts.items()
        if count >= max(2, usual / 2) and not label_of(table, row) and [c for c in table.rows[row] if c] != heading
    ]


def label_of(table: Table, row: int, keys: Sequence[int] = ()) -> str:
    """Return what the first filled cell of a row says that the rest holds: one of our columns, "unread", or "".

    It may also stand in one of the columns ``keys``, which name samples or compounds in other rows.
    """
    for text in (next(filter(None, table.rows[row]), ""), *(table.cell(row, at) for at in keys)):
        if found := "unread" if is_unread(text) else role_of(plain(text))[0]:
            return found
    return ""


def _long(table: Table, head: Head, roles: dict[str, Column], left: list[Column], words: float) -> Layout:
    return Layout(LONG, head, roles, left, 10 + words - 5 * min(4, len(results_above(table, head, roles))))


def results_above(table: Table, head: Head, roles: Mapping[str, Column]) -> list[int]:
    """Return the rows above a header that look like rows of results: it is none of the table's first header then."""
    value = roles.get("result_text") or roles["recovery"]
    names = [roles[role].at for role in (*SAMPLE_ROLES, "analyte_id", "cas") if role in roles]
    return [
        row
        for row in range(head.rows[0])
        if is_result(table.cell(row, value.at)) and any(table.cell(row, at) for at in names)
    ]


def _samples_across(
    table: Table, head: Head, roles: dict[str, Column], left: list[Column], words: float, known: Known
) -> Layout | Stopped:
    side, free = _parted(head, roles, left)
    suffixes = suffixes_of(free)
    across = [column for column in suffixes.heads(free) if _holds_results(column)]
    if not across:
        place = table.ref(head.last, free[0].at if free else 0)
        return Stopped(words, place, "no column to the right of the compounds contains results")
    rows, unread = labelled_rows(table, head, across, side)
    for row in range(head.rows[0] + 1, head.last):
        if row not in head.rows and names_samplers([table.across(row)[one.at] for one in across], known):
            rows.setdefault("sampler_id", row)
    controls = [] if said_of_recoveries(table) else _controls(table, across, suffixes, rows, known)
    others = _rest(free, across, suffixes)
    across = [column for column in across if column not in controls] or across
    controls = [column for column in free if controls and suffixes.name(column) in {suffixes.name(c) for c in controls}]
    score = 8 + words + min(len(across), 4) / 4 + 2 * ("sampler_id" in rows) + _names_samples(table, head)
    return Layout(SAMPLES, head, side, others, score, across, suffixes, rows, unread, controls)


def _controls(
    table: Table, across: list[Column], suffixes: Suffixes, rows: Mapping[str, int], known: Known
) -> list[Column]:
    """Return the columns of control samples: by the row that tells kinds, else by ids that belong to no sampler."""
    if "type" in rows:
        told = table.across(rows["type"])
        return [column for column in across if kind_of("types", told[column.at]) in CONTROLS]
    samplers = table.across(rows["sampler_id"]) if "sampler_id" in rows else [""] * table.width
    free = [column for column in across if not any(sampler_of(t, known) for t in (samplers[column.at], column.name))]
    return [column for column in free if sample_kind(suffixes.name(column)) in CONTROLS]


def _analytes_across(
    table: Table, head: Head, roles: dict[str, Column], left: list[Column], words: float, known: Known
) -> Layout | Stopped:
    side, free = _parted(head, roles, left)
    suffixes = suffixes_of(free)
    filled = [column for column in suffixes.heads(free) if _holds_results(column)]
    rows, unread = labelled_rows(table, head, filled, side)
    named = [column for column in filled if is_compound(without_unit(column.name), known)]
    if not filled or (2 * len(named) < len(filled) and "cas" not in rows):
        place = table.ref(head.last, filled[0].at if filled else 0)
        told = "no column next to the samples contains results or compounds"
        if filled:
            told = f"{filled[0].name!r} is not a known compound, and no column of compounds is next to the samples"
        return Stopped(words, place, told)
    others = _rest(free, filled, suffixes)
    return Layout(ANALYTES, head, side, others, 8 + words + len(named), filled, suffixes, rows, unread)


def _parted(head: Head, roles: dict[str, Column], left: list[Column]) -> tuple[dict[str, Column], list[Column]]:
    """Part the columns at the side of a cross-tab from those across.

    A heading in several lines whose last is a word such as Result, and two columns of one purpose, stand across.
    """
    whole = {role: column for role, column in roles.items() if not _stands_across(head, column)}
    places = {column.at for column in whole.values()}
    free = [column for column in (*roles.values(), *left) if column.at not in places]
    return whole, sorted(free, key=lambda column: column.at)


def _rest(free: list[Column], across: list[Column], suffixes: Suffixes) -> list[Column]:
    """Return the columns that are neither across nor belong to one that is."""
    places = {column.at for column in across}
    return [column for column in free if column.at not in places and not suffixes.has(column)]


def _stands_across(head: Head, column: Column) -> bool:
    """Tell whether a column with a purpose is one of those across.

    Its heading in several lines has an upper line of its own that names no purpose, or it is named by its cells
    alone, which are qualifiers: such as those of a sample of which nothing was detected.
    """
    if column.role == "lab_qualifier" and not role_of(column.name)[0]:
        return True
    upper, _, _ = column.name.rpartition(" / ")
    return bool(upper) and not role_of(upper)[0] and len(head.rows) > 1 and column.role != "analyte_id"


def _holds_results(column: Column) -> bool:
    if is_unread(column.name):
        return False
    return column.filled == 0 or column.share(is_result) >= MOST


def _names_samples(table: Table, head: Head) -> float:
    """Prefer the row that its first cell calls the laboratory's ids."""
    return {"lab_sample_id": 2.0, "sample": 1.0}.get(label_of(table, head.last), 0.0)


def labelled_rows(
    table: Table, head: Head, across: Sequence[Column], side: Mapping[str, Column]
) -> tuple[dict[str, int], list[int]]:
    """Return the rows with something for each column across, by what their first cell says, and those to pass over."""
    keys = [side[role].at for role in (*SAMPLE_ROLES, "analyte_id") if role in side]
    rows: dict[str, int] = {}
    unread: list[int] = []
    last = min(len(table.rows), head.last + 1 + SAMPLED)
    for row in (*range(max(0, head.rows[0] - ABOVE), head.rows[0]), *range(head.last + 1, last)):
        if not (label := label_of(table, row, keys)):
            continue
        cells = table.across(row)
        held = sum(bool(cells[column.at]) for column in across)
        enough = held > 0 if label == "sampler_id" else 2 * held > len(across)  # blanks and controls have no sampler
        if label != "unread" and enough:
            rows.setdefault(label, row)
        elif row > head.last:
            unread.append(row)
    return rows, unread


def _lacking(table: Table, head: Head, roles: dict[str, Column], left: list[Column], words: float) -> Stopped:
    needed = {"a sample id": SAMPLE_ROLES, "a compound": ("analyte_id", "cas"), "a result": ("result_text",)}
    missing = [what for what, any_of in needed.items() if not any(role in roles for role in any_of)]
    doubts = [column for column in left if column.told]
    told = f"the header that begins there has no column for {' and '.join(missing)}"
    if doubts:
        return Stopped(words, table.ref(head.last, doubts[0].at), f"{told}; {doubts[0].told}")
    return Stopped(words, table.ref(head.last, 0), told)
