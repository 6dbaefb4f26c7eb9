"""What can't be on record yet is no gap: findings that a survey has not come far enough for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from sitegen.checks.catalogue import catalogue, find
from sitegen.checks.rows import enumeration
from sitegen.compute.field.stage import (
    OF_RESULTS,
    SECTIONS_DUE,
    TABLES_DUE,
    Stage,
    at_the_laboratory,
    is_due,
    stage,
)
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.files import OTHER_WORKBOOKS
from sitegen.project.schema import TableSpec, text_file
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLE, TABLES
from sitegen.voice import worded

_ABOUT_A_TABLE = ("file-missing", "file-absent", "table-empty", "table-without-rows")
"""Checks that say a table is not there or has no rows; their subject is its path."""

_BY_PATH = {spec.path: spec for spec in TABLES}
_UNDUE_TEXTS = {text_file(name): due for name, due in SECTIONS_DUE.items()}


def timely(survey: Survey, findings: Iterable[Finding], read: Sequence[Finding]) -> Iterator[Finding]:
    """Yield the findings that are due at the survey's stage.

    ``read`` are those of reading the folder: a table that lies there under another name is missing, and no
    table that is yet to come. Where all samplers came back and nothing is said to have reached the
    laboratory, tables that come with the results are awaited: without them a draft builds.
    """
    now, hidden = stage(survey), _elsewhere(survey, read)
    awaited = not at_the_laboratory(survey)
    for finding in findings:
        if _is_due(finding, now, hidden):
            waits = awaited and _comes_with_the_results(finding, hidden)
            yield replace(finding, severity=Severity.HOLD) if waits else finding


def _comes_with_the_results(finding: Finding, hidden: frozenset[str]) -> bool:
    """Tell whether a finding says that a table is not there whose rows come with the results."""
    spec = _BY_PATH.get(finding.subject)
    return finding.code == "file-missing" and spec is not None and spec.name in {*OF_RESULTS} - hidden


def _is_due(finding: Finding, now: Stage, hidden: frozenset[str]) -> bool:
    if finding.code in _ABOUT_A_TABLE and (spec := _BY_PATH.get(finding.subject)):
        return spec.name in hidden or is_due(TABLES_DUE.get(spec.name, "planned"), now)
    if finding.code == "template-text":
        return is_due(_UNDUE_TEXTS.get(finding.where.file, "planned"), now)
    check = catalogue().get(finding.code)
    return check is None or is_due(check.from_stage, now)


def _elsewhere(survey: Survey, read: Sequence[Finding]) -> frozenset[str]:
    """Return the tables that a file of another name or format may hold."""
    if any(path.lower().endswith(OTHER_WORKBOOKS) for path in (*survey.folder.passed_over, *survey.folder.files)):
        return frozenset(TABLE)
    meant = {word for finding in read if finding.code == "file-unknown" for word in finding.do.split()}
    return frozenset(spec.name for spec in TABLES if not meant.isdisjoint((spec.path, spec.book_path)))


def still_to_come(survey: Survey) -> tuple[list[str], list[str]]:
    """Return the tables without a row, and the sections of the narrative not written, that are not due yet."""
    now = stage(survey)
    tables = [spec for spec in TABLES if not is_due(TABLES_DUE.get(spec.name, "planned"), now)]
    names = [spec.path for spec in tables if not _has_rows(survey, spec)]
    sections = [name for name, due in SECTIONS_DUE.items() if not is_due(due, now) and name not in survey.texts]
    return names, [text_file(name) for name in sections]


def _has_rows(survey: Survey, spec: TableSpec) -> bool:
    return len(survey.frame(spec.name)) > 0


def to_come(survey: Survey) -> Iterator[Finding]:
    """What a survey has not come far enough for is told once."""
    tables, texts = still_to_come(survey)
    if tables:
        found = worded("no rows yet: {tables}", tables=enumeration(tables, most=len(tables)))
        if texts:
            found += worded("; not written yet: {texts}", texts=enumeration(texts, most=len(texts)))
        yield find(
            "tables-to-come", "tables", Where(tables[0]), found, worded("rows once there is something to record")
        )


RULES = (to_come,)
