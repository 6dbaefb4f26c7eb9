"""Findings as JSON and CSV, for those who check by script."""

from __future__ import annotations

import json
from collections.abc import Sequence

from sitegen.findings.problems import Finding, no_formula
from sitegen.render.data.exports import csv_lines

FIELDS = ("key", "severity", "code", "subject", "file", "row", "column", "found", "expected", "do")


def findings_json(findings: Sequence[Finding]) -> bytes:
    """Return the findings as a JSON list, in the order given."""
    rows = [dict(zip(FIELDS, _row(finding), strict=True)) for finding in findings]
    return (json.dumps(rows, ensure_ascii=False, indent=1) + "\n").encode()


def findings_csv(findings: Sequence[Finding]) -> bytes:
    """Return the findings as RFC 4180 CSV, in the order given."""
    rows = ([no_formula(str(cell)) if cell is not None else "" for cell in _row(f)] for f in findings)
    return csv_lines(FIELDS, rows)


def dispositions_csv(columns: Sequence[str], keys: Sequence[str]) -> bytes:
    """Return a table of dispositions to fill in, the first of its columns filled with keys.

    >>> dispositions_csv(("finding_key", "reason"), ["custody-gap:*"]).decode().split()
    ['finding_key,reason', 'custody-gap:*,']
    """
    return csv_lines(columns, ([key, *[""] * (len(columns) - 1)] for key in keys))


def _row(finding: Finding) -> tuple[str | int | None, ...]:
    where = finding.where
    return (
        finding.key,
        finding.severity.value,
        finding.code,
        finding.subject,
        where.file,
        where.row,
        where.column,
        finding.found,
        finding.expected,
        finding.do,
    )
