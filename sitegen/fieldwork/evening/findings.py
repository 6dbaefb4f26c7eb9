"""Which section of the evening page a check's findings belong in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sitegen.checking import Checked
from sitegen.checks.naming import row_names
from sitegen.fieldwork.evening.record import Line
from sitegen.findings.problems import Finding, RowNames, Severity
from sitegen.project.survey import Survey

SECTIONS: Mapping[str, tuple[str, ...]] = {
    "points": ("placed-though-not-done", "placed-without-sampler", "second-primary", "replacement-invalid"),
    "serials": (
        "unknown-id", "custody-subject-unknown", "duplicate-key", "id-zeros-lost", "ids-alike", "label-twice",
        "spare-placed", "trip-blank-placed", "outcome-disagrees", "lost-and-retrieved", "duplicate-of-duplicate",
        "duplicate-elsewhere", "duplicate-half-said", "field-blank-role",
    ),
    "times": (
        "time-unreadable", "time-does-not-exist", "time-occurs-twice", "offset-disagrees", "retrieved-before-placed",
        "shipped-before-prepared", "placed-before-received", "sealed-before-retrieved", "packed-before-sealed",
        "received-before-packed", "later-than-report", "time-at-night", "times-rounded", "windows-overlap",
    ),
    "bags": (
        "sampler-in-no-bag", "sampler-in-two-bags", "bag-count-differs", "bag-overfull", "trip-blank-missing",
        "trip-blank-twice", "trip-blank-kind", "trip-blank-opened", "seal-missing", "seal-twice", "seal-late",
        "not-individually-bagged",
    ),
    "photographs": ("photo-missing", "photo-unlisted", "photo-unreadable", "photo-too-large", "photo-time-off"),
    "shipments": (
        "shipment-short", "shipment-count-differs", "shipment-not-received", "shipment-direction", "seal-differs",
    ),
}  # fmt: skip
"""Codes of the checks by section; what stops a build and is in none of them is listed last."""

OTHER = "other"
_OF = {code: section for section, codes in SECTIONS.items() for code in codes}


def by_section(checked: Checked) -> Mapping[str, tuple[Line, ...]]:
    """Return the findings that a crew can still mend, worst first, by section."""
    names = row_names(checked.survey, checked.findings)
    found: dict[str, list[Line]] = {section: [] for section in (*SECTIONS, OTHER)}
    for finding in checked.findings:
        section = _OF.get(finding.code, OTHER if finding.severity is Severity.STOP else "")
        if section:
            found[section].append(_line(finding, names))
    return {section: tuple(lines) for section, lines in found.items()}


def lines_of(survey: Survey | None, findings: Sequence[Finding]) -> tuple[Line, ...]:
    """Return findings as lines."""
    names = row_names(survey, findings)
    return tuple(_line(finding, names) for finding in findings)


def _line(finding: Finding, names: RowNames) -> Line:
    where = finding.where
    about = names.get((where.file, where.row), "") if where.row is not None else ""
    place = str(where) if not finding.rows else f"{where} and {len(finding.rows) - 1} more rows"
    return Line(finding.severity.value, about, finding.found, finding.expected, place, finding.do)
