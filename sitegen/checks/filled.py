"""Findings about cells that nobody typed: each says by which default or record its cell was filled."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey
from sitegen.voice import worded

_SEVERAL = "derived from other tables"


def with_rules(survey: Survey, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield the findings; one about a cell that was filled says so, for its file has nothing there to correct."""
    rules = _rules(survey)
    for finding in findings:
        where = finding.where
        rule = rules.get((where.file, where.row or 0, where.column or "")) if rules else None
        yield replace(finding, found=f"{finding.found} ({rule})") if rule else finding


def _rules(survey: Survey) -> dict[tuple[str, int, str], str]:
    """Return the rule of each filled cell; that of several samplers in one row where all have the same."""
    rules: dict[tuple[str, int, str], str] = {}
    for table in survey.tables.values():
        for (row, column), one in table.filled.items():
            where = table.where(row, column)
            key = (where.file, where.row or 0, where.column or "")
            rules[key] = one.rule if rules.get(key, one.rule) == one.rule else worded(_SEVERAL)
    return rules
