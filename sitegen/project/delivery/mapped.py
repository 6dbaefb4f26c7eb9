"""Rows that a laboratory's file gives for one of our tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import compress

from sitegen.findings.problems import Severity
from sitegen.project.delivery.names import Compounds
from sitegen.project.delivery.opened import Entry
from sitegen.project.delivery.parts import MappingForm
from sitegen.project.delivery.rows import QC_WORD
from sitegen.project.delivery.supplied import serial
from sitegen.project.delivery.tell import Teller, Totals
from sitegen.project.delivery.values import MEASURED, NO, YES, Fault, Reader, qc_texts
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import read_id
from sitegen.project.tables import TABLE

RESULT_COLUMNS = TABLE["results"].column_names
QC_COLUMNS = TABLE["lab_qc"].column_names
_CARRIED = ("validation_qualifier", "validation_reason")


@dataclass(slots=True)
class MappedRows:
    """Rows for one of our tables: our texts, the texts as received, and where they stand.

    ``numbers`` are row numbers of the laboratory's file, ``columns`` its columns.
    """

    header: tuple[str, ...]
    rows: list[list[str]] = field(default_factory=list)
    received: list[list[str]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    columns: list[str] = field(default_factory=list)

    def add(self, ours: Mapping[str, str], theirs: Mapping[str, str], number: int, column: str) -> None:
        """Add a row."""
        self.rows.append([ours.get(name, "") for name in self.header])
        self.received.append([theirs.get(name, "") for name in self.header])
        self.numbers.append(number)
        self.columns.append(column)

    def kept(self, stays: Sequence[bool]) -> MappedRows:
        """Return the rows that stay."""
        return MappedRows(
            self.header,
            list(compress(self.rows, stays)),
            list(compress(self.received, stays)),
            list(compress(self.numbers, stays)),
            list(compress(self.columns, stays)),
        )


class Mapper:
    """Turns entries into rows of our tables, telling what can't be turned."""

    def __init__(self, form: MappingForm, compounds: Compounds, samples: Mapping[str, str], teller: Teller) -> None:
        self.results = MappedRows(RESULT_COLUMNS)
        self.qc = MappedRows(QC_COLUMNS)
        self.totals = Totals()
        self._form = form
        self._compounds = compounds
        self._samples = samples
        self._teller = teller
        self._reader = Reader(form)
        self._kept: set[tuple[str, str]] = set()
        self._replaced: dict[tuple[str, str], int] = {}

    def take(self, entries: Iterable[tuple[Entry, Mapping[str, str]]]) -> None:
        """Take every entry, each with what it holds in place of that where it is a QC row."""
        for entry, own in entries:
            if entry.kind == "result":
                self._result(entry.texts, entry.row, entry.column)
            elif entry.kind == "":
                self._teller.unknown("qc", tidy(entry.texts.get(QC_WORD, "")) or "a blank cell", entry.row)
            elif entry.kind not in ("skip", "list"):
                self._qc_row(entry.kind, {**entry.texts, **own}, entry.row, entry.column)
        for (sampler, analyte), number in self._replaced.items():
            if (sampler, analyte) not in self._kept:
                self._teller.no_reportable(sampler, analyte, number)

    def _result(self, theirs: Mapping[str, str], number: int, column: str) -> None:
        compound = self._compounds.find(theirs.get("analyte_id", ""), theirs.get("cas", ""))
        sample, _ = read_id(tidy(theirs.get("lab_sample_id", "")))
        reading = self._reader.read(tuple(theirs.get(name, "") for name in MEASURED))
        if reading.absent:
            if tidy(theirs.get("reportable", "")).lower() not in NO:
                self._teller.reading(reading, number, column)
            return
        replaced = self._is_replaced(theirs, number)
        key = self._samples.get(sample) or sample, compound.analyte_id
        if replaced:
            self._replaced.setdefault(key, number)
            return
        self._kept.add(key)
        self.totals.count(reading.received)
        stated = serial(self._form, theirs.get("sampler_id", "").strip())
        known = self._teller.entry(compound, sample, theirs, self._samples, number, stated)
        self._teller.reading(reading, number, column)
        if known and reading.texts.get("unit"):
            carried = {name: tidy(theirs.get(name, "")) for name in _CARRIED}
            ours = {"lab_sample_id": sample, "analyte_id": compound.analyte_id, **carried, **reading.texts}
            self.results.add(ours, theirs, number, column)

    def _is_replaced(self, theirs: Mapping[str, str], number: int) -> bool:
        word = tidy(theirs.get("reportable", "")).lower()
        if word not in ("", *YES, *NO):
            do = "ask the laboratory for its meaning"
            fault = Fault("reportable", "word-unknown", Severity.STOP, repr(word), "yes or no", do)
            self._teller.fault(fault, number, "reportable")
        return word in NO

    def _qc_row(self, kind: str, theirs: Mapping[str, str], number: int, column: str) -> None:
        texts, faults = qc_texts(self._reader, theirs)
        for fault in faults:
            self._teller.fault(fault, number, column)
        compound = self._compounds.find(theirs.get("analyte_id", ""), theirs.get("cas", ""))
        named = self._compounds.ours.get(compound.analyte_id) or tidy(theirs.get("analyte_id", ""))
        sample, _ = read_id(tidy(theirs.get("lab_sample_id", "")))
        source = tidy(theirs.get("limit_source", ""))
        said = {"lab_sample_id": sample, "qc_type": kind, "name": named, "limit_source": source, **texts}
        received = dict(theirs) | {"name": theirs.get("analyte_id", ""), "qc_type": theirs.get(QC_WORD, kind)}
        self.qc.add(said, received, number, column)
