"""Dispositions: what was decided about findings, and what keeps a revision from being issued.

A disposition attaches by the finding's key. It explains; it never hides.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from sitegen.checks.catalogue import catalogue, find
from sitegen.findings.problems import Finding, Severity, Where, in_order
from sitegen.project.survey import Survey, records

DECISION_CODES = ("disposition-unmatched", "disposition-incomplete")
"""Findings about decisions on other findings."""
_SIGNS = re.compile(r"[\W_]+")


@dataclass(frozen=True, slots=True)
class Disposition:
    """A decision about one finding, with the row that records it."""

    finding_key: str
    disposition: str
    reason: str
    by_role: str
    on: str
    where: Where

    @property
    def is_complete(self) -> bool:
        """Whether it says what was decided, why and by whom."""
        return bool(self.disposition and self.reason and self.by_role)


def dispositions(survey: Survey) -> dict[str, Disposition]:
    """Return the dispositions by finding key."""
    table = survey.tables["dispositions"]
    return {
        row.finding_key: Disposition(row.finding_key, row.disposition, row.reason, row.by_role, row.on, table.where(at))
        for at, row in zip(table.frame.index, records(table.frame), strict=True)
    }


def open_findings(findings: Iterable[Finding], decided: Mapping[str, Disposition]) -> tuple[Finding, ...]:
    """Return the stops, holds and flags that no complete disposition is about."""
    return tuple(
        finding
        for finding in findings
        if finding.severity is not Severity.NOTE and not (finding.key in decided and decided[finding.key].is_complete)
    )


def issue_blockers(findings: Iterable[Finding], survey: Survey) -> tuple[Finding, ...]:
    """Return what keeps a revision from being issued, worst first; nothing means that it may go.

    These are every stop, every hold without a complete disposition, and for each flag
    without one a hold that says so. A stop can't be disposed of.
    """
    every = list(findings)
    stops = [finding for finding in every if finding.severity is Severity.STOP]
    undecided = [f for f in open_findings(every, dispositions(survey)) if f.severity is not Severity.STOP]
    holds = (f if f.severity is Severity.HOLD else _undecided(f, survey) for f in undecided)
    return in_order([*stops, *holds])


def overrides(findings: Iterable[Finding], survey: Survey) -> tuple[tuple[Finding, Disposition], ...]:
    """Return the holds that a person decided to issue in spite of, with the decision, for the start page."""
    decided = dispositions(survey)
    return tuple(
        (finding, decided[finding.key])
        for finding in in_order(findings)
        if finding.severity is Severity.HOLD and finding.key in decided and decided[finding.key].is_complete
    )


def _undecided(finding: Finding, survey: Survey) -> Finding:
    return find(
        "flag-undecided",
        finding.key,
        finding.where,
        f"{finding.found}, and no disposition",
        f"a row in {survey.tables['dispositions'].spec.path} with the key {finding.key}",
        kind=finding.subject_kind,
        touches=finding.touches,
    )


def check_dispositions(survey: Survey, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Every disposition is complete and is about a finding that there is."""
    keys = {finding.key for finding in findings}
    for key, decision in dispositions(survey).items():
        where = Where(decision.where.file, decision.where.row, "finding_key")
        if key not in keys:
            meant = _meant(key, keys)
            do = f"write {meant}" if meant else ""
            found = f"a disposition of {key}, which is no finding now"
            yield find("disposition-unmatched", key, where, found, "the key of a finding", do=do)
        lacks = [name for name in ("disposition", "reason", "by_role") if not getattr(decision, name)]
        if lacks:
            found = f"a disposition without {', '.join(lacks)}"
            yield find("disposition-incomplete", key, where, found, "what was decided, why and by whom")


def _meant(key: str, keys: Iterable[str]) -> str:
    """Return the one key that is surely meant, or nothing: a decision must not slip to another finding.

    That is one which differs in case and signs alone, or the only one of the same subject whose
    code is spelt nearly as a word that is no code of the catalogue.

    >>> _meant("Water in sampler: 0047154", ["water-in-sampler:0047154", "water-in-sampler:0047145"])
    'water-in-sampler:0047154'
    >>> _meant("water-in-sampler:0047155", ["water-in-sampler:0047154"])
    ''
    """
    code, _, subject = key.partition(":")
    alike = [other for other in keys if _SIGNS.sub("", other.casefold()) == _SIGNS.sub("", key.casefold())]
    if not alike and code not in catalogue():
        codes = [other.partition(":")[0] for other in keys if other.partition(":")[2] == subject]
        alike = [f"{other}:{subject}" for other in get_close_matches(code, codes, n=2, cutoff=0.8)]
    return alike[0] if len(alike) == 1 else ""
