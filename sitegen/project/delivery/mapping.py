"""What a laboratory sends: its own files, read through mapping files into our tables.

For each ``lab/<name>.map.toml`` the file that it names is read as text, its rows are
lifted under our column names (:mod:`sitegen.project.delivery.rows`), each cell is read
(:mod:`sitegen.project.delivery.values`), and the totals are compared with those that a
person typed from the signed report. The file itself is never changed. Nothing that the
mapping leaves open is guessed: it is told, all of it at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from sitegen.findings.problems import Finding, Severity
from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.names import Compounds
from sitegen.project.delivery.parts import MappingForm
from sitegen.project.delivery.rows import QC_WORD, Lifted, lift
from sitegen.project.delivery.tell import Teller, Totals, control_totals, fingerprint
from sitegen.project.delivery.values import MEASURED, Fault, Reader, qc_texts
from sitegen.project.folder import Folder
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import read_grid
from sitegen.project.read.textsafe import read_id
from sitegen.project.read.xlsxtext import Sheet, read_sheet
from sitegen.project.settings import FilePart
from sitegen.project.tables import TABLE, Analyte, LabSample

SUFFIX = ".map.toml"
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


@dataclass(frozen=True, slots=True)
class Delivery:
    """A laboratory's file as mapped: the mapping file, the file, and the rows that it gives."""

    mapping: str
    file: str
    form: MappingForm
    sheet: Sheet
    results: MappedRows
    qc: MappedRows
    passed_over: int


def mapping_files(folder: Folder) -> list[str]:
    """Return the paths of the folder's mapping files, in order."""
    return [
        path for path in folder.files if path.endswith(SUFFIX) and PurePosixPath(path).parent == PurePosixPath("lab")
    ]


def read_deliveries(
    folder: Folder,
    declared: Mapping[str, FilePart],
    analytes: Iterable[Analyte],
    lab_samples: Iterable[LabSample],
) -> tuple[list[Delivery], frozenset[str], list[Finding]]:
    """Read every mapped file of the folder.

    ``declared`` gives encodings and delimiters by path, ``analytes`` and ``lab_samples``
    the rows of those tables. Returns the deliveries, the paths that mapping files name,
    and findings. A delivery with a fault in its mapping or file is left out.
    """
    known = list(analytes)
    samples = {row.lab_sample_id: row.sampler_id for row in lab_samples}
    deliveries: list[Delivery] = []
    sources: set[str] = set()
    findings: list[Finding] = []
    for path in mapping_files(folder):
        form, problems = read_form(path, folder.content(path) or b"")
        findings += problems
        if form is not None:
            delivery, problems = _deliver(path, form, folder, declared, Compounds(known, form.names), samples)
            deliveries += [delivery] if delivery else []
            sources.add(form.source.file)
            findings += problems
    return deliveries, frozenset(sources), findings


def _deliver(
    path: str,
    form: MappingForm,
    folder: Folder,
    declared: Mapping[str, FilePart],
    compounds: Compounds,
    samples: Mapping[str, str],
) -> tuple[Delivery | None, list[Finding]]:
    file = form.source.file
    teller = Teller(path, file)
    teller.names(form, compounds)
    if not fingerprint(teller, form, folder):
        return None, teller.close()
    sheet, problems = _sheet(form, folder.content(file) or b"", declared.get(file, FilePart()))
    if sheet is None:
        return None, [*teller.close(), *problems]
    lifted, misses = lift(form, sheet)
    teller.misses(misses)
    if misses:
        return None, [*problems, *teller.close()]
    teller.states(lifted, sheet)
    teller.passed_over(lifted)
    mapped = _Mapped(form, compounds, samples, teller)
    mapped.take(lifted)
    control_totals(teller, form.control, mapped.totals)
    delivery = Delivery(path, file, form, sheet, mapped.results, mapped.qc, len(lifted.passed_over))
    return delivery, [*problems, *teller.close()]


def _sheet(form: MappingForm, content: bytes, declared: FilePart) -> tuple[Sheet | None, list[Finding]]:
    file = form.source.file
    if PurePosixPath(file).suffix.lower() in (".xlsx", ".xlsm"):
        return read_sheet(file, content, form.source.sheet)
    grid, findings = read_grid(file, content, encoding=declared.encoding, delimiter=declared.delimiter)
    return (Sheet(grid) if grid else None), findings


class _Mapped:
    """Turns lifted entries into rows of our tables, telling what can't be turned."""

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

    def take(self, lifted: Lifted) -> None:
        """Take every entry."""
        for at, (number, column) in enumerate(zip(lifted.rows, lifted.columns, strict=True)):
            theirs = {name: texts[at] for name, texts in lifted.texts.items()}
            kind = self._kind(theirs, number)
            if kind == "result":
                self._result(theirs, number, column)
            elif kind != "skip":
                self._qc_row(kind, theirs, number, column)
        for (sampler, analyte), number in self._replaced.items():
            if (sampler, analyte) not in self._kept:
                self._teller.no_reportable(sampler, analyte, number)

    def _kind(self, theirs: Mapping[str, str], number: int) -> str:
        if not self._form.source.qc_column:
            return "result"
        word = tidy(theirs.get(QC_WORD, ""))
        kind = self._form.qc.get(word)
        if kind is None:
            self._teller.unknown("qc", word or "a blank cell", number)
        return kind or "skip"

    def _result(self, theirs: Mapping[str, str], number: int, column: str) -> None:
        compound = self._compounds.find(theirs.get("analyte_id", ""), theirs.get("cas", ""))
        sample, _ = read_id(tidy(theirs.get("lab_sample_id", "")))
        reading = self._reader.read(tuple(theirs.get(name, "") for name in MEASURED))
        if reading.absent:
            return
        replaced = self._is_replaced(theirs, number)
        key = self._samples.get(sample) or sample, compound.analyte_id
        if replaced:
            self._replaced.setdefault(key, number)
            return
        self._kept.add(key)
        self.totals.count(reading.received)
        known = self._teller.entry(compound, sample, theirs, self._samples, number)
        self._teller.reading(reading, number, column)
        if known and reading.texts.get("unit"):
            carried = {name: tidy(theirs.get(name, "")) for name in _CARRIED}
            ours = {"lab_sample_id": sample, "analyte_id": compound.analyte_id, **carried, **reading.texts}
            self.results.add(ours, theirs, number, column)

    def _is_replaced(self, theirs: Mapping[str, str], number: int) -> bool:
        word = tidy(theirs.get("reportable", "")).lower()
        if word not in ("", "yes", "y", "true", "no", "n", "false"):
            do = "ask the laboratory what it means"
            fault = Fault("reportable", "word-unknown", Severity.STOP, repr(word), "yes or no", do)
            self._teller.fault(fault, number, "reportable")
        return word in ("no", "n", "false")

    def _qc_row(self, kind: str, theirs: Mapping[str, str], number: int, column: str) -> None:
        texts, faults = qc_texts(self._reader, theirs)
        for fault in faults:
            self._teller.fault(fault, number, column)
        compound = self._compounds.find(theirs.get("analyte_id", ""), theirs.get("cas", ""))
        named = self._compounds.ours.get(compound.analyte_id) or tidy(theirs.get("analyte_id", ""))
        sample, _ = read_id(tidy(theirs.get("lab_sample_id", "")))
        source = tidy(theirs.get("limit_source", ""))
        said = {"lab_sample_id": sample, "qc_type": kind, "name": named, "limit_source": source, **texts}
        received = dict(theirs) | {"name": theirs.get("analyte_id", ""), "qc_type": theirs[QC_WORD]}
        self.qc.add(said, received, number, column)
