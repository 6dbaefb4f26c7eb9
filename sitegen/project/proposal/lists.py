"""Entries of [lab_samples] and [analytes]: what the file itself tells of its samples and compounds."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.project.proposal.columns import Column
from sitegen.project.proposal.dates import Places, date_entries, serial_entries
from sitegen.project.proposal.kinds import type_entries
from sitegen.project.proposal.layouts import SAMPLES
from sitegen.project.proposal.mapped import compounds_of
from sitegen.project.proposal.seen import Seen, sample_row, tied_across
from sitegen.project.proposal.shapes import CAS, shape
from sitegen.project.proposal.sure import CERTAIN, LEFT, LIKELY, Entry, Sure
from sitegen.project.proposal.words import kind_of, sampler_of

TIMES = ("lab_received_at", "analysed_at")
_TEXTS = ("batch_id", "method", "dilution")
COLUMNS, ROWS, CONSTANTS = "lab_samples.columns", "lab_samples.rows", "lab_samples.constants"


def sample_entries(seen: Seen) -> Iterator[Entry]:
    """Yield what the file tells of its samples: samplers, kinds, times, batches, methods."""
    if seen.holds_qc and not seen.role("sampler_id"):
        return
    ids = _ids(seen)
    if ids and set(ids) <= seen.known.samples.keys():
        why = f"lab/lab_samples.csv lists all {len(ids)} samples; nothing about them is taken from this file"
        yield Entry(COLUMNS, "sampler_id", "", LEFT, why)
        return
    told = list(_samplers(seen))
    yield from told
    if all(entry.sure == LEFT for entry in told):
        if not told:
            why = "no cell links a sample to a sampler: enter lab/lab_samples.csv by hand"
            yield Entry(COLUMNS, "sampler_id", "", LEFT, why)
        return
    yield from _types(seen)
    found = {role: where for role in TIMES if (where := _where(seen, role))}
    yield from date_entries({role: (role, entry, places) for role, (entry, places) in found.items()})
    for role in _TEXTS:
        if where := _where(seen, role):
            yield where[0]


def _where(seen: Seen, role: str) -> tuple[Entry, Places] | None:
    """Return the entry of a column, row or line that holds one of our columns of lab_samples, and its texts."""
    table = seen.table
    if seen.layout.kind == SAMPLES and role in seen.layout.rows:
        row = seen.layout.rows[role]
        told = f"row {table.numbers[row]} begins with {next(filter(None, table.rows[row]))!r}"
        return Entry(ROWS, role, table.numbers[row], CERTAIN, told), seen.held(row)
    column = seen.role(role)
    if column and seen.layout.kind != SAMPLES:
        return Entry(COLUMNS, role, column.name, column.sure, _place(seen, column)), seen.places(column)
    if said := seen.around.get(role):
        return Entry(CONSTANTS, role, said.text, LIKELY, f"{said.cell} reads {said.text!r}"), {said.text: said.cell}
    return None


def _place(seen: Seen, column: Column) -> str:
    return f"{seen.table.ref(seen.layout.head.last, column.at)}: {column.told}"


def _samplers(seen: Seen) -> Iterator[Entry]:
    table, known = seen.table, seen.known
    if seen.layout.kind == SAMPLES:
        row = seen.layout.rows.get("sampler_id")
        if row is not None:
            yield from serial_entries(ROWS, table.numbers[row], seen.held(row), known.serials, known.labels)
        else:
            at = sample_row(seen.layout, table)
            names = {name: place for name, place in _ids(seen).items() if sampler_of(name, known)}
            if names:
                yield from serial_entries(ROWS, table.numbers[at], names, known.serials, known.labels)
        return
    own = seen.role("sampler_id")
    column = own or seen.role("sample", "lab_sample_id")
    if column is None:
        return
    texts = seen.places(column)
    if own or any(sampler_of(text, known) for text in texts):
        yield from serial_entries(COLUMNS, column.name, texts, known.serials, known.labels)


def _ids(seen: Seen) -> dict[str, str]:
    """Return the laboratory's ids of samples, each with its first cell."""
    layout, table = seen.layout, seen.table
    if layout.kind == SAMPLES:
        at = sample_row(layout, table)
        return {layout.suffixes.name(one): table.ref(at, one.at) for one in layout.across}
    column = seen.role("lab_sample_id", "sample", "sampler_id")
    return {text: place for text, place in seen.places(column).items() if text} if column else {}


def _types(seen: Seen) -> Iterator[Entry]:
    """Yield how the kind of a sample is told: by words of kinds where there are some, else by its id."""
    layout, table = seen.layout, seen.table
    row = layout.rows.get("type")
    if layout.kind == SAMPLES and row is not None:
        yield from type_entries(ROWS, table.numbers[row], seen.held(row), of_ids=None, known=seen.known)
        return
    column = seen.role("type")
    if layout.kind != SAMPLES and column and _tells_samples(seen, column):
        yield from type_entries(COLUMNS, column.name, seen.places(column), of_ids=None, known=seen.known)
        return
    ids = _ids(seen)
    if layout.kind == SAMPLES:
        at = sample_row(layout, table)
        where: tuple[str, str | int] = ROWS, table.numbers[at]
    else:
        sample = seen.role("lab_sample_id", "sample", "sampler_id")
        where = COLUMNS, sample.name if sample else ""
    yield from type_entries(*where, ids, of_ids=_tied(seen), known=seen.known)


def _tells_samples(seen: Seen, column: Column) -> bool:
    """Tell whether the words of a column are kinds of samples, not kinds of rows alone."""
    words = [text for text in seen.places(column) if text]
    return bool(words) and 2 * sum(bool(kind_of("types", text)) for text in words) > len(words)


def _tied(seen: Seen) -> dict[str, str]:
    """Return the sampler of each laboratory id, where the folder knows it."""
    table, known = seen.table, seen.known
    if seen.layout.kind == SAMPLES:
        return tied_across(seen)
    sample = seen.role("lab_sample_id", "sample", "sampler_id")
    sampler = seen.role("sampler_id", "sample", "lab_sample_id")
    if not sample or not sampler:
        return {}
    return {table.cell(row, sample.at): sampler_of(table.cell(row, sampler.at), known) for row in seen.body.read}


def analyte_entries(seen: Seen) -> Iterator[Entry]:
    """Yield [analytes] where the file tells CAS numbers of compounds that the folder's list lacks."""
    if seen.holds_qc:
        return
    compounds = compounds_of(seen)
    lacking = [pair for pair in compounds if not seen.known.compounds.find(*pair).analyte_id]
    told = [pair for pair in lacking if shape(pair[1]) == CAS]
    if told:
        sure: Sure = LIKELY
        first = f"{compounds[told[0]]} {told[0][0]!r} with {told[0][1]}"
        seen_text = f"{len(told)} compounds with CAS numbers are not in lab/analytes.csv, such as {first}"
        do = "enter groups, and which are mapped, in lab/analytes.csv"
        yield Entry("analytes", "constants", {"group": "other"}, sure, f"{seen_text}; {do}")
