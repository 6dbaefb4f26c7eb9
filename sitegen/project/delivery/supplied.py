"""Laboratory samples and compounds that a laboratory's file itself tells of, so that nobody types them.

Each value keeps the place that it stands at. Where a file, or two files, give different values for
one sample or compound, the first stands and the difference is told.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.header import BETWEEN
from sitegen.project.delivery.names import Compounds
from sitegen.project.delivery.opened import Entry, Opened
from sitegen.project.delivery.parts import LabSamplesPart, MappingForm
from sitegen.project.delivery.values import NO, YES, Reader
from sitegen.project.read.cells import tidy
from sitegen.project.read.forms import as_iso
from sitegen.project.read.textsafe import plain, read_cas, read_id
from sitegen.project.schema import Column, Kind, Origin
from sitegen.project.tables import TABLE
from sitegen.voice import worded

WITHOUT_SAMPLER = ("method_blank", "control", "control_duplicate")
"""Kinds of laboratory samples that have no sampler."""
_IDENTITY = ("sampler_id", "type", "cas")
"""Columns in which two values can't stand beside each other."""
_TYPES = TABLE["lab_samples"].column("type").choices
_ISO = re.compile(r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d)?(?:Z|[+-]\d\d:?\d\d)?)?", re.ASCII)
_TOLD = 5


class Given(NamedTuple):
    """A value of a list: our text, the text as received, and where it stands."""

    ours: str
    theirs: str
    place: Origin


@dataclass(slots=True)
class Supply:
    """Rows of one of our tables by key, each a value for each of our columns, and values that differ.

    ``promised`` is True where a mapping says that its file has any. ``clashes`` has, by column, the
    key with the value that stands and the one that does not.
    """

    table: str
    promised: bool = False
    rows: dict[str, dict[str, Given]] = field(default_factory=dict)
    clashes: dict[str, list[tuple[str, Given, Given]]] = field(default_factory=dict)

    def give(self, key: str, column: str, given: Given) -> None:
        """Keep a value, unless it is blank or there is one already."""
        row = self.rows.setdefault(key, {})
        stands = row.get(column)
        if stands is None or (given.ours and not stands.ours):
            row[column] = given
        elif given.ours and given.ours != stands.ours:
            self.clashes.setdefault(column, []).append((key, stands, given))

    def join(self, other: Supply) -> None:
        """Add the rows of another file; of two names of a compound the first stands."""
        for key, row in other.rows.items():
            for column, given in row.items():
                if column != "name" or key not in self.rows or column not in self.rows[key]:
                    self.give(key, column, given)
        for column, clashes in other.clashes.items():
            self.clashes.setdefault(column, []).extend(clashes)

    def findings(self) -> Iterator[Finding]:
        """Yield one finding for each column in which values differ."""
        for column, clashes in self.clashes.items():
            distinct = list(dict.fromkeys((key, one.ours, other.ours) for key, one, other in clashes))
            first = clashes[0][2].place
            listed = "; ".join(
                worded("{key}: {one!r} and {other!r}", key=key, one=one, other=other)
                for key, one, other in distinct[:_TOLD]
            )
            more = worded("; and {count} more", count=len(distinct) - _TOLD) if len(distinct) > _TOLD else ""
            severity = Severity.STOP if column in _IDENTITY else Severity.FLAG
            yield Finding(
                "supplied-contradicts",
                severity,
                f"{first.file}+{self.table}+{column}",
                first.where(first.column or column),
                worded("different values of {column}: {values}", column=column, values=f"{listed}{more}"),
                worded("one {column} for each row of {table}", column=column, table=self.table),
                worded("ask the laboratory which one is correct; the first is used"),
                "file",
            )


def samples_of(opened: Opened) -> Supply:
    """Return the laboratory samples that a file tells of."""
    supply, part = Supply("lab_samples"), opened.form.lab_samples
    if part is None:
        return supply
    read = _SampleCells(opened, part)
    seen: set[tuple[str, ...]] = set()
    for entry in opened.entries():
        sample, _ = read_id(tidy(entry.texts.get("lab_sample_id", "")))
        key = (sample, *(one.texts[entry.at] for one in opened.lifted.lists.get("lab_samples", {}).values()))
        if not sample or entry.kind in ("", "skip") or key in seen:
            continue
        seen.add(key)
        row = read.row(_given(opened, "lab_samples", part.constants, entry), entry)
        if row is not None:
            place = _place(opened, entry, _head(opened, "samples", entry))
            supply.give(sample, "lab_sample_id", Given(sample, entry.texts["lab_sample_id"], place))
            for column, value in row.items():
                supply.give(sample, column, value)
    return supply


def _head(opened: Opened, across: str, entry: Entry) -> int:
    """Return the row that an entry's sample or compound is named in: of the header where these go across.

    Where the last line of a header says what a column holds of each, the line above names it.
    """
    if opened.form.across != across:
        return entry.row
    rows = opened.form.source.header_row
    below = opened.form.crosstab.suffixes.get("result_text", "").startswith(BETWEEN)
    return rows[-2] if below and len(rows) > 1 else rows[-1]


def _given(opened: Opened, table: str, constants: Mapping[str, str], entry: Entry) -> dict[str, Given]:
    """Return the texts of an entry for a list, by our column, as received."""
    listed = opened.lifted.lists.get(table, {})
    found = {
        ours: Given(one.texts[entry.at], one.texts[entry.at], _place(opened, entry, one.row or entry.row, one.column))
        for ours, one in listed.items()
    }
    stated = {ours: text for ours, text in constants.items() if ours not in found}
    return found | {
        ours: Given(text, text, Origin(opened.mapping, opened.line(table, "constants", ours)))
        for ours, text in stated.items()
    }


def _place(opened: Opened, entry: Entry, row: int, column: str = "") -> Origin:
    return Origin(opened.file, row, opened.sheet.name, column or entry.column)


class _SampleCells:
    """Turns the laboratory's words about samples into ours, and tells those that it can't."""

    def __init__(self, opened: Opened, part: LabSamplesPart) -> None:
        self._reader = Reader(opened.form)
        self._form = opened.form
        self._dates = opened.dates
        self._words = {plain(tidy(theirs)): ours for theirs, ours in part.words.items()}
        self._teller = opened.teller
        self._at = 0

    def row(self, given: Mapping[str, Given], entry: Entry) -> dict[str, Given] | None:
        """Return a sample's values, None where the mapping says that it is none."""
        self._at = entry.row
        kind = self._type(given["type"]) if "type" in given else ""
        if kind == "skip":
            return None
        row = {}
        for name, value in given.items():
            column = TABLE["lab_samples"].column(name)
            ours = kind if name == "type" else self._ours(column, value)
            row[name] = value._replace(ours="" if name == "sampler_id" and kind in WITHOUT_SAMPLER else ours)
        return row

    def _type(self, value: Given) -> str:
        word = plain(tidy(value.theirs))
        ours = self._words.get(word, word if word in _TYPES else "")
        if not ours:
            self._unknown("words", word or "a blank cell", value.place)
        return ours

    def _ours(self, column: Column, value: Given) -> str:
        text = tidy(value.theirs)
        if column.name == "sampler_id":
            return serial(self._form, text)
        if column.kind is Kind.TIME:
            return self._time(column.name, text, value.place)
        if column.kind is Kind.NUMBER:
            number = self._reader.number(text) if text else None
            return text if number is None else f"{number:f}"
        if column.kind is Kind.FLAG and text.lower() in (*YES, *NO):
            return "yes" if text.lower() in YES else "no"
        return text

    def _time(self, name: str, text: str, place: Origin) -> str:
        """Return a time as ISO 8601 has it; a day without an hour is no time and is told."""
        read = text.replace(" ", "T") if _ISO.fullmatch(text) else self._dates and as_iso(text, self._dates)
        if not text or (read and len(read) > len("2025-11-02")):
            return read or ""
        self._unknown("days" if read else "times", f"{name} {text}", place)
        return ""

    def _unknown(self, table: str, spelling: str, place: Origin) -> None:
        """Tell a word at its row, one that holds for all rows at the row that it is met for."""
        self._teller.unknown(table, spelling, place.row if place.file == self._teller.file else self._at)


def serial(form: MappingForm, text: str) -> str:
    """Return a sampler's serial with the zeros that the mapping says it begins with.

    Only a serial of digits alone has lost any: ``47102`` of seven digits is ``0047102``.
    """
    digits = form.lab_samples.serial_digits if form.lab_samples else None
    whole, _ = read_id(text)
    return whole.zfill(digits) if digits and whole.isascii() and whole.isdigit() else whole


def compounds_of(opened: Opened, known: Compounds) -> Supply:
    """Return the compounds that a file tells of; ``known`` learns each that is new."""
    supply, part = Supply("analytes"), opened.form.analytes
    if part is None:
        return supply
    alone = opened.form.source.holds == "lists"
    for entry in opened.entries():
        if entry.kind not in ("result", "list"):
            continue
        given = _given(opened, "analytes", part.constants, entry)
        head = _head(opened, "analytes", entry)
        for name, theirs in (("name", "analyte_id"), ("cas", "cas")):
            text = entry.texts.get(theirs, "")
            given.setdefault(name, Given(text, text, _place(opened, entry, head)))
        analyte, spelling = _analyte_id(given["name"].theirs, given["cas"].theirs, known)
        if analyte:
            supply.give(analyte, "analyte_id", Given(analyte, given["name"].theirs, given["name"].place))
            for column, value in given.items():
                if column != "name" or "name" not in supply.rows[analyte]:
                    supply.give(analyte, column, value._replace(ours=_text(column, value.theirs)))
        elif spelling and alone:
            opened.teller.unknown("names", spelling, entry.row)
    return supply


def _text(column: str, theirs: str) -> str:
    """Return a compound's cell as our table has it."""
    text = tidy(theirs)
    if column == "cas":
        return read_cas(text)[0] or text
    return ("yes" if text.lower() in YES else "no") if text.lower() in (*YES, *NO) else text


def _analyte_id(name: str, cas: str, known: Compounds) -> tuple[str, str]:
    """Return our id of a compound, and where it has none the spelling to be told.

    It is the one that the mapping declares, the one of our list with that CAS number or name, else made
    of the name. A compound without a CAS number is none that a list could hold.
    """
    declared = known.declared(name)
    number, problem = read_cas(tidy(cas))
    if declared and declared not in known.ours and number:
        known.learn(declared, tidy(name), number)
        return declared, ""
    found = known.find(name, cas)
    if found.analyte_id or found.problem or problem:
        return found.analyte_id, found.spelling
    made = id_of(name)
    if not number or not made or made in known.ours:
        return "", found.spelling
    known.learn(made, tidy(name), number)
    return made, ""


def id_of(name: str) -> str:
    """Make an id of a compound's name: its letters and digits in lower case.

    >>> id_of("cis-1,2-Dichloroethene"), id_of("α-Pinene")
    ('cis12dichloroethene', 'pinene')
    """
    letters = unicodedata.normalize("NFKD", plain(tidy(name))).casefold()
    return re.sub(r"[^a-z0-9]", "", letters)
