"""In which form dates are written: declared only where one reading alone is possible."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from sitegen.project.proposal.sure import ASK, CERTAIN, LEFT, LIKELY, Entry, Sure
from sitegen.project.read.cells import tidy
from sitegen.project.read.forms import as_iso, forms_of

_ISO_TIME = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d)?", re.ASCII)
_ISO_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)

Places = Mapping[str, str]
"""Distinct texts, each with the cell that holds it first."""


def date_entries(found: Mapping[str, tuple[str, Entry, Places]]) -> list[Entry]:
    """Return the entries of columns with times as they can stand, and the form of their dates.

    ``found`` gives by our column where it stands, its entry, and its texts.
    """
    told: list[Entry] = []
    declared = ""
    for name, (what, entry, places) in found.items():
        texts = {tidy(text): place for text, place in places.items() if tidy(text)}
        if not texts:
            continue
        if all(map(_ISO_TIME.fullmatch, texts)):
            told.append(entry)
            continue
        forms = _forms(list(texts))
        if not forms:
            told.append(_left(entry, f"{_first(texts)}: {what} has no hour, or is in no known form"))
        elif declared and declared not in forms:
            told.append(_left(entry, f"{_first(texts)}: a form other than {declared!r}; only one can be declared"))
        else:
            told.append(entry)
            if not declared:
                told.append(_form(name, forms, texts))
                declared = forms[0] if len(forms) == 1 else declared
    return _once(told)


def _once(told: list[Entry]) -> list[Entry]:
    """Keep one entry for the form: where a column settles it, that one."""
    forms = [entry for entry in told if entry.key == "dates"]
    settled = [entry for entry in forms if entry.sure == CERTAIN]
    kept = (settled or forms)[:1]
    return [entry for entry in told if entry.key != "dates" or entry in kept]


def _forms(texts: Sequence[str]) -> tuple[str, ...]:
    if any(map(_ISO_DAY.fullmatch, texts)):
        return ()
    return tuple(form for form in forms_of(texts) if "hour" in form)


def _first(texts: Places) -> str:
    text, place = next(iter(texts.items()))
    return f"{place} contains {text!r}"


def _left(entry: Entry, why: str) -> Entry:
    return Entry(entry.table, entry.key, entry.value, LEFT, why)


def _form(name: str, forms: Sequence[str], texts: Places) -> Entry:
    """Return the declaration of a form; of several, both readings of the first text."""
    if len(forms) == 1:
        text, place = _telling(forms[0], texts)
        return Entry("source", "dates", forms[0], CERTAIN, f"{place} contains {text!r}, which has only one reading")
    text, place = next(iter(texts.items()))
    readings = " or ".join(f"{as_iso(text, form)} ({form})" for form in forms[:3])
    do = f"{place} ({name}) contains {text!r}, which is {readings}: state which, from the laboratory's report"
    return Entry("source", "dates", forms[0], ASK, do)


def _telling(form: str, texts: Places) -> tuple[str, str]:
    """Return the text that leaves one reading: one that the other order does not fit."""
    for text, place in texts.items():
        if forms_of([text]) == (form,):
            return text, place
    return next(iter(texts.items()))


def serial_entries(
    table: str, value: str | int, texts: Places, serials: frozenset[str], labels: Mapping[str, str]
) -> list[Entry]:
    """Return how samplers are told: serials as they are, or with the zeros that they have lost."""
    given = [text for text in texts if tidy(text)]
    if not given:
        return []
    whole = [text for text in given if text in serials]
    lost = {text: width for text in given if (width := _lost(text, serials))}
    matched = len(whole) + len(lost)
    first = f"{texts[given[0]]} contains {given[0]!r}"
    if not serials:
        return [Entry(table, "sampler_id", value, LIKELY, f"{first}; field/samplers.csv lists none to compare it with")]
    if 2 * matched < len(given):
        if sum(text in labels for text in given) * 2 > len(given):
            why = f"{first}: these are labels of field/samplers.csv, not sampler ids; enter lab/lab_samples.csv by hand"
        else:
            why = f"{first}: {matched} of {len(given)} are ids of field/samplers.csv; enter lab/lab_samples.csv by hand"
        return [Entry(table, "sampler_id", value, LEFT, why)]
    rest = len(given) - matched
    sure: Sure = LIKELY if rest and len(given) > 1 and matched < len(given) - rest else CERTAIN
    seen = f"{first}; {matched} of {len(given)} are ids of field/samplers.csv"
    told = [Entry(table, "sampler_id", value, sure, seen)]
    if lost:
        text, width = next(iter(lost.items()))
        digits = sure if len(set(lost.values())) == 1 else LIKELY
        seen = (
            f"{texts[text]} contains {text!r}, {text.zfill(width)!r} in field/samplers.csv; so do {len(lost) - 1} more"
        )
        told.append(Entry("lab_samples", "serial_digits", width, digits, seen))
    return told


def _lost(text: str, serials: frozenset[str]) -> int:
    """Return how many digits a serial without its zeros should have, 0 where it lost none."""
    if not (text.isascii() and text.isdigit()) or text in serials:
        return 0
    widths = (len(text) + zeros for zeros in range(1, 8) if text.zfill(len(text) + zeros) in serials)
    return next(widths, 0)
