"""Control samples among the samples of a cross-tab: their cells are recoveries, where a line of the file says so."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sitegen.project.proposal.layouts import SAMPLES
from sitegen.project.proposal.recoveries import said_of_recoveries
from sitegen.project.proposal.seen import Seen, sample_row, tied_across
from sitegen.project.proposal.sure import GUESS, LEFT, LIKELY, Entry
from sitegen.project.proposal.words import CONTROLS, sample_kind

_LIMITS = re.compile(r"\b(\d{1,3}) ?(?:-|\u2013|to) ?(\d{1,3})\b", re.ASCII)


def control_entries(seen: Seen) -> Iterator[Entry]:
    """Yield the control samples across as QC rows where a line around the table speaks of recoveries in percent.

    Where none does, their cells may as well be masses as recoveries: a remark says so.
    """
    controls = _controls(seen)
    if not controls:
        return
    said = said_of_recoveries(seen.table)
    for name, (kind, place) in controls.items():
        if said:
            yield Entry("crosstab.qc", name, kind, GUESS, f"{place}, by its letters; {said[1]} mentions recoveries")
        else:
            why = f"{place}: no line states whether its cells are recoveries in % or masses; if recoveries, "
            why += "remove it from ignore and write this"
            yield Entry("crosstab.qc", name, kind, LEFT, f'{why} and unit = "%" under [lab_qc.constants]')
    if said:
        text, place = said
        at = text.index("%")
        yield Entry("lab_qc.constants", "unit", "%", LIKELY, f"{place} reads {text[max(0, at - 30) : at + 20]!r}")
        for name, limit in zip(("lower", "upper"), _limits(text), strict=False):
            yield Entry("lab_qc.constants", name, limit, LIKELY, place)


def _controls(seen: Seen) -> dict[str, tuple[str, str]]:
    """Return the control samples across by name, each with its kind and the cell that names it."""
    if seen.layout.kind != SAMPLES:
        return {}
    tied, row = tied_across(seen), sample_row(seen.layout, seen.table)
    names = {
        seen.layout.suffixes.name(one): seen.table.ref(row, one.at)
        for one in (*seen.layout.across, *seen.layout.controls)
    }
    kinds = {name: sample_kind(name) for name in names if not tied.get(name)}
    return {name: (kind, names[name]) for name, kind in kinds.items() if kind in CONTROLS}


def _limits(text: str) -> tuple[str, ...]:
    found = [match for match in _LIMITS.finditer(text) if int(match[1]) < int(match[2])]
    return found[0].groups() if len(found) == 1 else ()
