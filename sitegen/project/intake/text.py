"""The tables of a folder as text: what their files have, before a cell is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.schema import TableSpec
from sitegen.project.settings import FilePart
from sitegen.project.tables import TABLES

Rules: TypeAlias = Mapping[tuple[int, str], str]
"""The rule by which a cell was filled that its file leaves blank, by row (from 0) and column."""


@dataclass(frozen=True, slots=True)
class TableText:
    """A table of the folder as text, and where it stands: a file, and a sheet where that is a workbook.

    ``received`` is what the file has. ``read`` are the same rows as they are to be read: in the
    forms of the format, blank cells filled where ``derived`` says by which rule.
    """

    spec: TableSpec
    file: str
    received: RawTable
    read: RawTable
    sheet: str = ""
    derived: Rules = field(default_factory=dict)


def table_texts(folder: Folder, declared: Mapping[str, FilePart]) -> tuple[dict[str, TableText], list[Finding]]:
    """Read the tables of a folder as text; return those that can be read, by name, and findings.

    ``declared`` gives encodings and delimiters by path.
    """
    found: dict[str, TableText] = {}
    findings: list[Finding] = []
    for spec in TABLES:
        content = folder.content(spec.path)
        if content is None:
            continue
        how = declared.get(spec.path, FilePart())
        raw, problems = read_csv(spec.path, content, encoding=how.encoding, delimiter=how.delimiter)
        findings += problems
        if raw is not None:
            found[spec.name] = TableText(spec, spec.path, raw, raw)
    return found, findings
