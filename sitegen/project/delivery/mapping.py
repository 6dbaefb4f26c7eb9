"""What a laboratory sends: its own files, read through mapping files into our tables.

For each ``lab/<name>.map.toml`` the file that it names is read as text, its rows are
lifted under our column names (:mod:`sitegen.project.delivery.rows`), each cell is read
(:mod:`sitegen.project.delivery.values`), and the totals are compared with those of the
mapping. The file itself is never changed. Nothing that the mapping leaves open is guessed:
it is told, all of it at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from pathlib import PurePosixPath
from typing import NamedTuple

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.confirm import confirmations, control_totals, is_confirmed
from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.mapped import QC_COLUMNS, RESULT_COLUMNS, MappedRows, Mapper
from sitegen.project.delivery.names import Compounds
from sitegen.project.delivery.opened import Entry, Opened, open_file, open_mapping
from sitegen.project.delivery.parts import MappingForm
from sitegen.project.delivery.reissue import Former, Issue, compare, kept
from sitegen.project.delivery.supplied import Supply, compounds_of, samples_of
from sitegen.project.delivery.tell import Teller
from sitegen.project.folder import Folder
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import read_id
from sitegen.project.read.xlsxtext import Sheet
from sitegen.project.settings import FilePart
from sitegen.project.tables import Analyte, LabSample
from sitegen.voice import worded

SUFFIX = ".map.toml"
LISTS = ("lab_samples", "analytes")
"""Tables beside results and QC rows that a laboratory's file may supply; one that can't be read may supply any."""
_SPELLINGS = {"lab_samples": "lab_samples", "analytes": "names"}
"""What is asked of each list."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """A laboratory's file as mapped: the mapping file, the file, and the rows that it gives.

    ``supplied`` are the laboratory samples and compounds that the file itself tells of, ``former``
    the issue that it replaces.
    """

    mapping: str
    file: str
    form: MappingForm
    sheet: Sheet
    results: MappedRows
    qc: MappedRows
    passed_over: int
    supplied: tuple[Supply, ...] = ()
    former: Former | None = None

    @property
    def issue(self) -> Issue:
        """The results as an issue that may be compared with others."""
        return Issue(self.mapping, self.file, self.sheet, self.results)


class Deliveries(NamedTuple):
    """What mapping files give: deliveries, the files that they name, findings, and lists from all files together."""

    read: list[Delivery]
    sources: frozenset[str]
    findings: list[Finding]
    supplied: tuple[Supply, ...]


def mapping_files(folder: Folder) -> list[str]:
    """Return the paths of the folder's mapping files, in order."""
    return [
        path for path in folder.files if path.endswith(SUFFIX) and PurePosixPath(path).parent == PurePosixPath("lab")
    ]


def mapped_files(folder: Folder) -> frozenset[str]:
    """Return the laboratory's own files that mapping files name."""
    forms = (read_form(path, folder.content(path) or b"")[0] for path in mapping_files(folder))
    return frozenset(form.source.file for form in forms if form)


def read_deliveries(
    folder: Folder,
    declared: Mapping[str, FilePart],
    analytes: Iterable[Analyte],
    lab_samples: Iterable[LabSample],
) -> Deliveries:
    """Read every mapped file of the folder.

    ``declared`` gives encodings and delimiters by path, ``analytes`` and ``lab_samples``
    the rows of those tables; samples and compounds that the files themselves tell of are known to
    all of them. A delivery with a fault in its mapping or file is left out.
    """
    known, own = list(analytes), list(lab_samples)
    filled = {"lab_samples": bool(own), "analytes": bool(known)}
    sources, promised = set[str](), set[str]()
    opened: list[Opened] = []
    told: dict[str, list[Finding]] = {}
    for path in mapping_files(folder):
        form, told[path] = read_form(path, folder.content(path) or b"")
        promised.update(name for name in LISTS if form is None or getattr(form, name))
        if form is not None:
            sources.add(form.source.file)
            one, teller, problems = open_mapping(path, form, folder, declared)
            opened += [one] if one else []
            told[path] += problems if one else [*problems, *_unopened(teller, form, known)]
    lists = [(samples_of(one), compounds_of(one, Compounds(known, one.form.names))) for one in opened]
    samples, compounds = (_together(Supply(name, name in promised), lists) for name in LISTS)
    listed = _samplers(samples) | {row.lab_sample_id: row.sampler_id for row in own}
    read = []
    unread = promised - {name for one in opened for name in LISTS if getattr(one.form, name)}
    for one, supplied in zip(opened, lists, strict=True):
        one.teller.not_known = frozenset(_SPELLINGS[name] for name in unread if not filled[name])
        finder = _finder(known, compounds, one.form)
        read.append(_Reader(finder, listed, folder, declared).delivery(one, supplied))
        told[one.mapping] += one.teller.close()
    findings = [*chain.from_iterable(told.values()), *samples.findings(), *compounds.findings()]
    return Deliveries(read, frozenset(sources), findings, (samples, compounds))


def _unopened(teller: Teller, form: MappingForm, known: Iterable[Analyte]) -> list[Finding]:
    """Return what is told of a file that can't be used, and of the names that its mapping declares."""
    if form.analytes is None:
        teller.names(form, Compounds(known, form.names))
    return teller.close()


def _samplers(samples: Supply) -> dict[str, str]:
    """Return the sampler of each sample that the files tell of, "" where they tell none."""
    return {key: row["sampler_id"].ours if "sampler_id" in row else "" for key, row in samples.rows.items()}


def _together(joined: Supply, lists: Iterable[tuple[Supply, ...]]) -> Supply:
    """Put the rows of one table from all files together."""
    for supplied in lists:
        for one in supplied:
            if one.table == joined.table:
                joined.join(one)
    return joined


def _finder(known: Iterable[Analyte], supplied: Supply, form: MappingForm) -> Compounds:
    """Return what finds compounds: those of our own list, and those that the files tell of."""
    finder = Compounds(known, form.names)
    for analyte, row in supplied.rows.items():
        if analyte not in finder.ours:
            finder.learn(analyte, *(tidy(row[name].theirs) if name in row else "" for name in ("name", "cas")))
    return finder


def read_otherwise(
    folder: Folder, declared: Mapping[str, FilePart], analytes: Iterable[Analyte], delivery: Delivery, file: str
) -> Issue | None:
    """Read another file by a delivery's mapping as if it were named there; None where it can't be read so."""
    compounds = Compounds(analytes, delivery.form.names)
    reader = _Reader(compounds, {}, folder, declared)
    return reader.issue(delivery.form, delivery.mapping, file, delivery.file)[0]


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads opened files into rows of our tables, with the compounds and samples that are known."""

    compounds: Compounds
    samples: Mapping[str, str]
    folder: Folder
    declared: Mapping[str, FilePart]

    def delivery(self, one: Opened, supplied: tuple[Supply, ...]) -> Delivery:
        """Return what a file gives; no results and no QC rows where nobody confirmed its mapping."""
        if one.form.analytes is None:
            one.teller.names(one.form, self.compounds)
        mapper = Mapper(one.form, self.compounds, self.samples, one.teller)
        mapper.take(_with_qc(one))
        control_totals(one.teller, one.form, mapper.totals)
        confirmations(one.teller, one.form, one.line("confirmed") or None)
        former = self._former(one, mapper.results) if one.form.source.replaces else None
        results, qc = mapper.results, mapper.qc
        if not is_confirmed(one.form):
            results, qc = MappedRows(RESULT_COLUMNS), MappedRows(QC_COLUMNS)
        passed_over = len(one.lifted.passed_over)
        return Delivery(one.mapping, one.file, one.form, one.sheet, results, qc, passed_over, supplied, former)

    def _former(self, one: Opened, present: MappedRows) -> Former | None:
        """Compare a file with the former issue that its mapping says it replaces; tell one that can't be read."""
        file = one.form.source.replaces
        issue, found = self.issue(one.form, one.mapping, file, one.file)
        if found:
            do = worded("put the former issue there as received, as {path}, or remove replaces", path=kept(file))
            wanted = worded("a former issue that can be read with this mapping")
            problem = ("replaced-unreadable", Severity.HOLD, wanted, do)
            where = Where(one.mapping, one.line("source", "replaces") or None, "source.replaces")
            one.teller.add(problem, where, found, f"{one.mapping}+replaces")
        return Former(file, self.folder.sha256(file), compare(issue.results, present)) if issue else None

    def issue(self, form: MappingForm, mapping: str, file: str, beside: str) -> tuple[Issue | None, str]:
        """Read another file by a mapping, and say what of it can't be read.

        Its samples need not be listed. ``beside`` is the file whose encoding and delimiter hold if it has none.
        """
        if file not in self.folder.files:
            return None, worded("no file {file!r}", file=file)
        teller = Teller(mapping, file)
        as_saved = self.declared.get(file) or self.declared.get(beside) or FilePart()
        opened, problems = open_file(teller, form, self.folder, as_saved)
        if opened is None:
            first = next(iter([*problems, *teller.close()]))
            return None, worded("{file}, of which {found}", file=file, found=first.found)
        ids = (read_id(tidy(entry.texts.get("lab_sample_id", "")))[0] for entry in opened.entries())
        mapper = Mapper(form, self.compounds, dict.fromkeys(ids, ""), teller)
        mapper.take(_with_qc(opened))
        stops = [one for one in teller.close() if one.severity is Severity.STOP and one.code != "sampler-differs"]
        said = (
            worded("{file}, of which {found} (row {row})", file=file, found=stops[0].found, row=stops[0].where.row)
            if stops
            else ""
        )
        return Issue(mapping, file, opened.sheet, mapper.results), said


def _with_qc(one: Opened) -> Iterator[tuple[Entry, dict[str, str]]]:
    """Yield the entries, each with what its row says of itself if it is a QC row."""
    listed = one.lifted.lists.get("lab_qc", {})
    constants = one.form.lab_qc.constants
    for entry in one.entries():
        yield entry, constants | {ours: column.texts[entry.at] for ours, column in listed.items()}
