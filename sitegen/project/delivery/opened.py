"""A laboratory's file opened by its mapping: its rows lifted under our column names, nothing read yet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import NamedTuple

from sitegen.findings.problems import Finding
from sitegen.project.delivery.keys import line_at
from sitegen.project.delivery.parts import QC_TYPE, MappingForm
from sitegen.project.delivery.rows import QC_WORD, Lifted, lift
from sitegen.project.delivery.tell import Teller, fingerprint
from sitegen.project.folder import Folder
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import read_grid
from sitegen.project.read.xlsxtext import Sheet, read_sheet
from sitegen.project.settings import FilePart


class Entry(NamedTuple):
    """One result, QC result or line of a list: its place among the entries, where it stands, what it is, its texts."""

    at: int
    row: int
    column: str
    kind: str
    texts: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Opened:
    """A mapping whose file has everything that it names; ``text`` is the mapping's, ``dates`` the form of times."""

    mapping: str
    form: MappingForm
    sheet: Sheet
    lifted: Lifted
    teller: Teller
    text: str
    dates: str

    def line(self, *key: str) -> int:
        """Return the line of the mapping file that a key stands on, 0 where it has none."""
        return line_at(key, self.text) or 0

    @property
    def file(self) -> str:
        """The laboratory's file."""
        return self.teller.file

    def entries(self) -> Iterator[Entry]:
        """Yield the entries in file order; ``kind`` is ``result``, ``list``, ``skip`` or a kind of QC rows."""
        lifted = self.lifted
        for at, (row, column) in enumerate(zip(lifted.rows, lifted.columns, strict=True)):
            texts = {name: column_texts[at] for name, column_texts in lifted.texts.items()}
            yield Entry(at, row, column, self._kind(texts), texts)

    def _kind(self, texts: Mapping[str, str]) -> str:
        """Return the kind of a row, "" where its word is not listed."""
        source = self.form.source
        if across := self.form.crosstab.qc.get(texts.get("lab_sample_id", "")):
            return across
        if source.qc_column:
            return self.form.qc.get(tidy(texts.get(QC_WORD, "")), "")
        if source.holds == "qc":
            return self.form.constants[QC_TYPE]
        return "result" if source.holds == "results" else "list"


def open_mapping(
    mapping: str, form: MappingForm, folder: Folder, declared: Mapping[str, FilePart]
) -> tuple[Opened | None, Teller, list[Finding]]:
    """Open the file that a mapping names; None where it can't be used.

    Returns what tells about it too, which is to be closed, and findings about the file as such.
    """
    file = form.source.file
    teller = Teller(mapping, file)
    if not fingerprint(teller, form, folder):
        return None, teller, []
    opened, findings = open_file(teller, form, folder, declared.get(file, FilePart()))
    return opened, teller, findings


def open_file(
    teller: Teller, form: MappingForm, folder: Folder, declared: FilePart
) -> tuple[Opened | None, list[Finding]]:
    """Read the teller's file as a mapping says, whether it is the one that the mapping names or not."""
    sheet, found = source_sheet(form, teller.file, folder, declared)
    named = f" of {teller.mapping}"
    findings = [replace(one, do=one.do + named) if one.code == "sheet-unclear" else one for one in found]
    if sheet is None:
        return None, findings
    lifted, misses = lift(form, sheet)
    teller.misses(misses)
    if misses:
        return None, findings
    teller.states(lifted, sheet)
    teller.passed_over(lifted)
    text = (folder.content(teller.mapping) or b"").decode("utf-8-sig", "replace")
    dates = form.source.dates or getattr(declared, "dates", "")
    return Opened(teller.mapping, form, sheet, lifted, teller, text, dates), findings


def source_sheet(
    form: MappingForm, file: str, folder: Folder, declared: FilePart
) -> tuple[Sheet | None, list[Finding]]:
    """Return a file as text, of a workbook the sheet that the mapping names."""
    content = folder.content(file) or b""
    if PurePosixPath(file).suffix.lower() in (".xlsx", ".xlsm"):
        return read_sheet(file, content, form.source.sheet)
    grid, findings = read_grid(file, content, encoding=declared.encoding, delimiter=declared.delimiter)
    return (Sheet(grid) if grid else None), findings
