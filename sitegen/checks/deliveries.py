"""What lies in ``lab/`` and is not read: a table or workbook that no mapping names."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from sitegen.checks.catalogue import find
from sitegen.checks.rows import number_of
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.files import cells_in, lab_tables, latest_date, missing_name, revision_of, table_text
from sitegen.project.delivery.form import read_form
from sitegen.project.delivery.mapping import Delivery, mapping_files, read_deliveries, read_otherwise
from sitegen.project.delivery.reissue import compare, in_words, joined_rows, kept
from sitegen.project.schema import BOOK_FILE
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte, LabSample
from sitegen.voice import worded

CODE = "lab-table-unread"
_ASK = (
    "if its results are to be used, draft its mapping with sitegen draft-mapping FOLDER FILE and confirm it, or write "
    "lab/<name>.map.toml; otherwise move it to records/"
)


@dataclass(frozen=True, slots=True)
class _Delivery:
    """What a file of the laboratory tells of itself: the samples that it names, its latest date, its revision."""

    path: str
    samples: frozenset[str]
    latest: str
    base: str
    revision: int


def tables_unread(survey: Survey) -> Iterator[Finding]:
    """A table or workbook in lab/ is read, or is kept with the records.

    It holds an issue where results are missing, or where it is later than a file that is read. Times
    of files say nothing, for copying changes them: later is a file of the same name with a higher
    revision, or one that names a laboratory sample of the other and has a later date in it. One that
    the mapping of another reads, with results of the same samples and compounds, is an issue of that.
    """
    forms = [read_form(path, survey.folder.content(path) or b"")[0] for path in mapping_files(survey.folder)]
    mapped = {form.source.file for form in forms if form}
    own = {table.file for table in survey.tables.values()}
    unread = [path for path in lab_tables(survey.folder, own) if path not in mapped]
    if not unread or None in forms:  # what a mapping that can't be read names is not known
        return
    files = sorted(set(survey.frame("results")["_file"]))
    read = [_delivery(survey, path) for path in files]
    without = _without_results(survey)
    mappings = read_deliveries(survey.folder, survey.settings.files, survey.rows(Analyte), survey.rows(LabSample)).read
    for path in unread:
        delivery = _delivery(survey, path)
        again = _reissued(survey, path, mappings) if delivery.samples else None
        yield again or _finding(survey, delivery, read, without)


def _reissued(survey: Survey, path: str, mappings: Sequence[Delivery]) -> Finding | None:
    """Tell a table that gives the results of a mapped file again; None where no mapping reads any of them in it."""
    kind = PurePosixPath(path).suffix.lower()
    for file in dict.fromkeys(one.file for one in mappings if PurePosixPath(one.file).suffix.lower() == kind):
        sheets = [one for one in mappings if one.file == file and one.results.rows]
        declared, analytes = survey.settings.files, survey.rows(Analyte)
        issues = [read_otherwise(survey.folder, declared, analytes, one, path) for one in sheets]
        compared = compare(
            joined_rows(one.results for one in sheets), joined_rows(issue.results for issue in issues if issue)
        )
        if compared.both:
            return _asks_which(sheets[0], path, in_words(file, path, compared))
    return None


def _asks_which(mapped: Delivery, path: str, said: str) -> Finding:
    """Ask which of a mapped file and another table with the same results stands."""
    do = worded(
        "find out which of the two is valid: if {file} is, move {path} to records/ and write replaces = "
        '"{kept}" under [source] of {mapping}; otherwise enter {path} there as file, with its SHA-256, '
        'and move {file} to records/ as replaces = "{file_kept}"',
        file=mapped.file,
        path=path,
        kept=kept(path),
        mapping=mapped.mapping,
        file_kept=kept(mapped.file),
    )
    found, expected = worded("{said}; {path} is not read", said=said, path=path), worded("one file for each result")
    subject, where = f"{mapped.file}+{path}", Where(path)
    return find("deliverable-reissued", subject, where, found, expected, do=do, kind="file", severity=Severity.HOLD)


def _delivery(survey: Survey, path: str) -> _Delivery:
    declared = survey.settings.files.get(path, FilePart())
    text = _results_text(survey) if path == BOOK_FILE else table_text(survey.folder, path, declared.encoding)
    listed = set(survey.frame("lab_samples")["lab_sample_id"]) - {""}
    return _Delivery(path, cells_in(text) & listed, latest_date(text), *revision_of(path))


def _results_text(survey: Survey) -> str:
    """Return the cells of our own results, a line each: of the workbook of all tables only these count."""
    return "\n".join(cell for cells in survey.tables["results"].received.values() for cell in cells)


def _without_results(survey: Survey) -> frozenset[str]:
    """Return the samplers of which results are to be expected and none are read."""
    with_results = set(survey.frame("results")["lab_sample_id"])
    samples, placed = survey.frame("lab_samples"), survey.frame("deployments")
    counts = samples[samples["reportable"] != "no"]
    done = set(counts.loc[counts["lab_sample_id"].isin(with_results), "sampler_id"])
    back = placed["retrieved_at_utc"].notna() & (placed["condition"] != "not_recovered")
    return frozenset((set(counts["sampler_id"]) | set(placed.loc[back, "sampler_id"])) - done - {""})


def _finding(survey: Survey, delivery: _Delivery, read: Iterable[_Delivery], without: frozenset[str]) -> Finding:
    tables = survey.tables.values()
    missing = {table.file for table in tables if table.file == table.spec.path} - survey.folder.files.keys()
    found = worded("an unread table")
    if delivery.samples:
        found = worded("an unread table with {samples}", samples=number_of(len(delivery.samples), "laboratory sample"))
    later = next((reason for other in read if (reason := _later(delivery, other))), "")
    ask = worded(_ASK)
    do, severity = ask, Severity.HOLD
    if meant := missing_name(delivery.path, missing):
        do = worded("rename it to {meant} if it is that file; otherwise {ask}", meant=meant, ask=ask)
    if without:
        found = worded(
            "{found}, while {samplers} analysed or recovered has no results"
            if len(without) == 1
            else "{found}, while {samplers} analysed or recovered have no results",
            found=found,
            samplers=number_of(len(without), "sampler"),
        )
    elif later:
        found += f"; {later}"
        do = worded(
            "find out which of the two is valid, map that one with lab/<name>.map.toml and move the other to records/"
        )
    else:
        severity = Severity.FLAG
    expected = worded("every table of lab/ read, or kept in records/")
    return find(CODE, delivery.path, Where(delivery.path), found, expected, do=do, kind="file", severity=severity)


def _later(one: _Delivery, other: _Delivery) -> str:
    """Say why a file is later than another, or nothing where nothing in them tells."""
    if one.base == other.base and one.revision > other.revision:
        return worded("its name indicates a later revision of {path}", path=other.path)
    if one.samples & other.samples and one.latest > other.latest > "":
        return worded(
            "its latest date is {day}, that of {path} {other}", day=one.latest, path=other.path, other=other.latest
        )
    return ""


RULES = (tables_unread,)
