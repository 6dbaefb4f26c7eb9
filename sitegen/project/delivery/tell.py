"""Say what is wrong with a laboratory's file or its mapping, each thing once and all at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.names import Compound, Compounds
from sitegen.project.delivery.parts import QC_TYPES, MappingForm
from sitegen.project.delivery.rows import Lifted, Miss
from sitegen.project.delivery.values import Fault, Reading
from sitegen.project.folder import Folder
from sitegen.project.place.layers import quoted
from sitegen.project.read.textsafe import Problem, worded_problem
from sitegen.project.read.xlsxparts import column_letters
from sitegen.project.read.xlsxtext import Sheet
from sitegen.project.schema import QUALIFIERS
from sitegen.project.tables import TABLE
from sitegen.voice import worded

MAX_TOLD = 20
"""At most this many findings of one code are listed for one file; the rest are counted."""
MAX_SPELLINGS = 200
"""At most this many unknown spellings are listed in one finding."""
MAX_TIMES = 5
"""At most this many times are listed in one finding: one form would read them all."""
_TIMES = ("times", "days")
_IDS = ("lab_sample_id", "sampler_id", "analyte_id")


@dataclass(slots=True)
class Totals:
    """What the rows that become results come to, in the laboratory's own unit."""

    rows: int = 0
    detected_rows: int = 0
    sum_detected: Decimal = Decimal(0)

    def count(self, number: Decimal | None) -> None:
        """Count a result: its number, None for a non-detect."""
        self.rows += 1
        if number is not None:
            self.detected_rows += 1
            self.sum_detected += number


class Teller:
    """Gathers findings about one mapping file and the laboratory's file that it speaks of.

    ``not_known`` are tables of which nothing is told: what would list their spellings can't be read.
    """

    def __init__(self, mapping: str, file: str) -> None:
        self.mapping = mapping
        self.file = file
        self._findings: list[Finding] = []
        self._counts: dict[str, int] = {}
        self._last: dict[str, Finding] = {}
        self._unknown: dict[str, dict[str, tuple[int, int]]] = {}
        self.not_known: frozenset[str] = frozenset()

    def add(self, problem: Problem, where: Where, found: str, subject: str) -> None:
        """Keep a finding, unless there are many of its code already."""
        code, severity, expected, do = problem
        shown = found if len(found) <= 90 else found[:87] + "…"
        finding = Finding(code, severity, subject, where, shown, expected, self._named(do), "file")
        count = self._counts[code] = self._counts.get(code, 0) + 1
        if count <= MAX_TOLD:
            self._findings.append(finding)
        self._last[code] = finding

    def _named(self, do: str) -> str:
        """Return what to do with the mapping file by its path: a workbook may have one for each of its sheets."""
        return do.replace("{mapping}", self.mapping)

    def close(self) -> list[Finding]:
        """Return everything that is to be told."""
        told = [*self._findings, *self._unknowns()]
        for code, count in self._counts.items():
            if count > MAX_TOLD:
                last, subject = self._last[code], f"{self.file}+{code}+more"
                found = worded("{count} more cells of this kind, up to this one", count=count - MAX_TOLD)
                where = Where(self.file, last.where.row, last.where.column)
                others = count - MAX_TOLD
                told.append(
                    Finding(code, last.severity, subject, where, found, last.expected, last.do, "file", count=others)
                )
        return told

    def unknown(self, table: str, spelling: str, row: int) -> None:
        """Keep a spelling that a table of the mapping does not list."""
        if table in self.not_known:
            return
        met = self._unknown.setdefault(table, {})
        first, count = met.get(spelling, (row, 0))
        met[spelling] = first, count + 1

    def _unknowns(self) -> Iterator[Finding]:
        for table, met in self._unknown.items():
            code, severity, noun, expected, do = _UNKNOWN[table]
            most = MAX_TIMES if table in _TIMES else MAX_SPELLINGS
            first = list(met.items())[:most]
            listed = ", ".join(f"{text[:60]!r} ({count})" for text, (_, count) in first)
            more = worded(" and {count} more", count=len(met) - most) if len(met) > most else ""
            where = Where(self.file, min(row for row, _ in met.values()))
            found = f"{worded(noun)} {listed}{more}"
            told = self._named(worded(do)).replace("{word}", quoted(next(iter(met))[:60]))
            yield Finding(code, severity, self.mapping, where, found, worded(expected), told, "file")

    def names(self, form: MappingForm, compounds: Compounds) -> None:
        """Tell entries of ``[names]`` that lead to no compound of the list."""
        wrong = [(spelling, name) for spelling, name in form.names.items() if name not in compounds.ours]
        for at, (spelling, analyte) in enumerate(wrong if compounds.ours else ()):
            nearest = get_close_matches(analyte, compounds.ours, n=1, cutoff=0.6) if at < MAX_TOLD else []
            do = f"write {nearest[0]}" if nearest else "correct it, or add the compound to analytes.csv"
            problem = ("mapping-invalid", Severity.STOP, "an analyte_id of lab/analytes.csv", do)
            key = f"names.{spelling}"
            self.add(problem, Where(self.mapping, None, key), repr(analyte), f"{self.mapping}+{key}")

    def misses(self, misses: Iterable[Miss]) -> None:
        """Tell what the mapping names and the file lacks."""
        for miss in misses:
            problem = (miss.code, Severity.STOP, miss.expected, miss.do)
            where = Where(self.file, miss.row, miss.column)
            self.add(problem, where, miss.found, f"{self.mapping}+{miss.expected}")

    def states(self, lifted: Lifted, sheet: Sheet) -> None:
        """Tell cells whose text misleads: see :data:`_STATES`."""
        for ours, at, rows in lifted.state(sheet, "unfilled"):
            self._each("cell-without-value", ours, at, rows)
        for ours, at, rows in lifted.state(sheet, "dressed"):
            self._each("cell-format-speaks", ours, at, rows)
        for ours, at, rows in lifted.state(sheet, "date"):
            if ours in _IDS:
                self._each("id-typed-as-date", ours, at, rows)
        numbers: dict[str, list[tuple[int, int]]] = {}
        for ours, at, rows in lifted.state(sheet, "number"):
            if ours in _IDS:
                numbers.setdefault(ours, []).extend((at, row) for row in rows)
        for ours, cells in numbers.items():
            at, row = cells[0]
            found = worded("{count} cells of {column} stored as numbers, starting here", count=len(cells), column=ours)
            subject = f"{self.file}+{ours}+{column_letters(at)}"
            where = Where(self.file, row, column_letters(at))
            self.add(worded_problem(_STATES["id-typed-as-number"]), where, found, subject)

    def _each(self, code: str, ours: str, at: int, rows: list[int]) -> None:
        letters = column_letters(at)
        for row in rows:
            subject = f"{self.file}+{letters}{row}"
            found = worded(_FOUND[code], column=ours)
            self.add(worded_problem(_STATES[code]), Where(self.file, row, letters), found, subject)

    def passed_over(self, lifted: Lifted) -> None:
        """Note the rows that the mapping says to skip, and what it says in vain."""
        if lifted.passed_over:
            rows = ", ".join(map(str, lifted.passed_over[:MAX_TOLD]))
            more = len(lifted.passed_over) - MAX_TOLD
            found = worded(
                "rows {rows}, not read", rows=rows + (worded(" and {count} more", count=more) if more > 0 else "")
            )
            problem = (
                "rows-passed-over",
                Severity.NOTE,
                worded("rows without results"),
                worded("check once that none of them is a result"),
            )
            self.add(problem, Where(self.file, lifted.passed_over[0]), found, self.mapping)
        for unused in lifted.unused:
            do = worded("correct or remove it under [source]; the laboratory may have changed its file")
            problem = ("mapping-unused", Severity.NOTE, worded("a row of the file that it applies to"), do)
            self.add(
                problem, Where(self.mapping), worded("{rows}, to be skipped", rows=unused), f"{self.mapping}+{unused}"
            )

    def entry(
        self,
        compound: Compound,
        sample: str,
        theirs: Mapping[str, str],
        samples: Mapping[str, str],
        row: int,
        stated: str = "",
    ) -> bool:
        """Tell what can't be tied to a compound or a sample; return True where both are known.

        ``stated`` is the sampler that the row names.
        """
        if compound.problem:
            found = compound.spelling or repr(theirs.get("cas", ""))
            self.add(compound.problem, Where(self.file, row), found, f"{self.file}+{row}")
        elif not compound.analyte_id:
            self.unknown("names", compound.spelling, row)
        if sample not in samples:
            self.unknown("lab_samples", sample or "a blank cell", row)
            return False
        if stated and stated != samples[sample]:
            do = "check the custody form for the one that has results"
            problem = ("sampler-differs", Severity.STOP, f"{samples[sample]!r}, as in lab_samples.csv", do)
            self.add(problem, Where(self.file, row), f"the sampler {stated!r} for {sample}", f"{sample}")
        return bool(compound.analyte_id)

    def reading(self, reading: Reading, row: int, column: str) -> None:
        """Tell what is wrong with a result cell."""
        for table, spelling in reading.unknown:
            self.unknown(table, spelling, row)
        for fault in reading.faults:
            self.fault(fault, row, column)

    def fault(self, fault: Fault, row: int, column: str) -> None:
        """Tell one fault of a row; a result cell is named by the laboratory's column."""
        named = column if fault.column in ("result_text", "value") else fault.column
        problem = (fault.code, fault.severity, fault.expected, fault.do)
        self.add(problem, Where(self.file, row, named), fault.found, f"{self.file}+{row}+{column}")

    def no_reportable(self, sampler: str, analyte: str, row: int) -> None:
        """Tell a result of which no run is reportable."""
        do = "ask the laboratory which run it reports"
        problem = ("no-reportable-run", Severity.STOP, "one reportable run", do)
        found = f"no reportable run of {analyte} for {sampler}"
        self.add(problem, Where(self.file, row), found, f"{sampler}+{analyte}")


_UNKNOWN: dict[str, tuple[str, Severity, str, str, str]] = {
    "names": (
        "compound-unmapped",
        Severity.STOP,
        "compounds",
        "compounds of lab/analytes.csv, by CAS number, name or [names]",
        'enter each under [names] of {mapping}, as in {word} = "…" (an analyte_id), or add it to analytes.csv',
    ),
    "units": (
        "unit-undeclared",
        Severity.STOP,
        "units",
        "units with a factor",
        "enter each with its factor under [units] of {mapping}, as in {word} = 1000 where one is 1,000 ng",
    ),
    "qualifiers": (
        "qualifier-unmapped",
        Severity.STOP,
        "qualifiers",
        f"qualifiers of the folder format ({', '.join(QUALIFIERS)}) or declared ones",
        'enter each under [qualifiers] of {mapping}, from the laboratory\'s own key, as in {word} = "…"',
    ),
    "qc": (
        "row-kind-unmapped",
        Severity.STOP,
        "kinds of rows",
        f"kinds of rows listed under [qc]: result, skip, {', '.join(QC_TYPES)}",
        'enter each under [qc] of {mapping}, as in {word} = "skip"',
    ),
    "lab_samples": (
        "lab-sample-unlisted",
        Severity.STOP,
        "laboratory ids",
        "ids of lab/lab_samples.csv",
        "correct or add them in lab/lab_samples.csv, or skip rows or columns that hold no results",
    ),
}
_UNKNOWN |= {
    "words": (
        "sample-kind-unmapped",
        Severity.STOP,
        "kinds of samples",
        f"kinds of the folder format ({', '.join(TABLE['lab_samples'].column('type').choices)}) or declared ones",
        'enter each under words of [lab_samples] of {mapping}, as in {word} = "…"',
    ),
    "times": (
        "time-unreadable",
        Severity.STOP,
        "times",
        "times as 2025-10-23T08:11, or in the declared form",
        'declare the form under [source] of {mapping}, as in dates = "month/day/year hour:minute"',
    ),
    "days": (
        "supplied-day-alone",
        Severity.FLAG,
        "days without a time",
        "a day and a time",
        "ask the laboratory for the times: without them the report gives none",
    ),
}
_FOUND = {
    "cell-without-value": "a formula without a stored value, or an error, as {column}",
    "cell-format-speaks": "a number whose cell format adds characters to it, as {column}",
    "id-typed-as-date": "a cell stored as a date, as {column}",
}
_STATES: dict[str, Problem] = {
    "cell-without-value": (
        "cell-without-value",
        Severity.STOP,
        "a stored value",
        "ask the laboratory for a file with values, or open, recalculate and save a copy",
    ),
    "cell-format-speaks": (
        "cell-format-speaks",
        Severity.STOP,
        "a cell whose stored value is what it displays",
        "ask the laboratory for text cells, or map a CSV copy of the sheet",
    ),
    "id-typed-as-date": (
        "id-typed-as-date",
        Severity.STOP,
        "an id stored as text",
        "restore it from the laboratory's report: spreadsheets convert ids such as 3-2 to dates",
    ),
    "id-typed-as-number": (
        "id-typed-as-number",
        Severity.NOTE,
        "ids stored as text",
        "compare them with the report: number cells lose leading zeros",
    ),
}


def fingerprint(teller: Teller, form: MappingForm, folder: Folder) -> bool:
    """Compare the file with the digest that the mapping holds; False where it can't be used."""
    file, digest = form.source.file, folder.sha256(form.source.file)
    key, where = f"{teller.mapping}+sha256", Where(teller.mapping, None, "source.sha256")
    if not digest:
        nearest = get_close_matches(file, list(folder.files), n=1, cutoff=0.6)
        do = f"write {nearest[0]}" if nearest else "put it into lab/, and enter its path as file under [source]"
        problem = ("deliverable-missing", Severity.STOP, "a file of the project folder", do)
        teller.add(problem, Where(teller.mapping, None, "source.file"), f"no file {file!r}", teller.mapping)
        return False
    if not form.source.sha256:
        do = worded('write sha256 = "{digest}" under [source]', digest=digest)
        problem = ("deliverable-unsealed", Severity.NOTE, worded("the SHA-256 of the file"), do)
        teller.add(problem, where, worded("a blank sha256"), key)
    elif form.source.sha256.lower() != digest:
        do = f"restore the file as received, or check the new one and enter its sha256, {digest}"
        problem = ("deliverable-changed", Severity.STOP, f"the file of {form.source.sha256[:12]}…", do)
        teller.add(problem, where, f"a {file} of {digest[:12]}…", key)
        return False
    return True
