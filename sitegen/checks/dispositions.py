"""Dispositions: what was decided about findings, and what keeps a revision from being issued.

A disposition attaches by the finding's key. It explains; it never hides.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches

from sitegen.checks.catalogue import catalogue, find
from sitegen.findings.problems import Finding, Severity
from sitegen.project.places import in_order
from sitegen.project.survey import Survey
from sitegen.project.tables import Disposition

DECISION_CODES = ("disposition-unmatched", "disposition-incomplete")
"""Findings about decisions on other findings."""
_SIGNS = re.compile(r"[\W_]+")


def dispositions(survey: Survey) -> dict[str, Disposition]:
    """Return the dispositions by finding key."""
    return {row.finding_key: row for row in survey.rows(Disposition)}


def _lacks(row: Disposition) -> list[str]:
    """Return the columns that a disposition leaves blank: what was decided, why or by whom."""
    stated = {"disposition": row.disposition, "reason": row.reason, "by_role": row.by_role}
    return [column for column, text in stated.items() if not text]


def _is_decided(finding: Finding, decisions: Mapping[str, Disposition]) -> bool:
    """Tell whether a complete disposition is about a finding."""
    return finding.key in decisions and not _lacks(decisions[finding.key])


def open_findings(findings: Iterable[Finding], decisions: Mapping[str, Disposition]) -> tuple[Finding, ...]:
    """Return the stops, holds and flags that no complete disposition is about."""
    return tuple(f for f in findings if f.severity is not Severity.NOTE and not _is_decided(f, decisions))


def issue_blockers(findings: Iterable[Finding], survey: Survey) -> tuple[Finding, ...]:
    """Return what keeps a revision from being issued, worst first; nothing means that it may go.

    These are every stop, every hold without a complete disposition, and for each flag
    without one a hold that says so. A stop can't be disposed of.
    """
    every = list(findings)
    stops = [finding for finding in every if finding.severity is Severity.STOP]
    undecided = [f for f in open_findings(every, dispositions(survey)) if f.severity is not Severity.STOP]
    holds = (f if f.severity is Severity.HOLD else _as_hold(f, survey) for f in undecided)
    return in_order([*stops, *holds])


def overrides(findings: Iterable[Finding], survey: Survey) -> tuple[tuple[Finding, Disposition], ...]:
    """Return the holds that a person decided to issue in spite of, with the decision, for the start page."""
    decisions = dispositions(survey)
    holds = (finding for finding in in_order(findings) if finding.severity is Severity.HOLD)
    return tuple((finding, decisions[finding.key]) for finding in holds if _is_decided(finding, decisions))


def _as_hold(finding: Finding, survey: Survey) -> Finding:
    return find(
        "flag-undecided",
        finding.key,
        finding.where,
        f"{finding.found}, and no disposition",
        f"a row in {survey.tables['dispositions'].called} with the key {finding.key}",
        kind=finding.subject_kind,
        touches=finding.touches,
    )


def check_dispositions(survey: Survey, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Every disposition is complete and is about a finding that there is."""
    keys = {finding.key for finding in findings}
    for key, decision in dispositions(survey).items():
        where = decision.origin.where("finding_key")
        if key not in keys:
            meant = _likely_key(key, keys)
            do = f"write {meant}" if meant else ""
            found = f"a disposition of {key}, which is no finding now"
            yield find("disposition-unmatched", key, where, found, "the key of a finding", do=do)
        if lacks := _lacks(decision):
            found = f"a disposition without {', '.join(lacks)}"
            yield find("disposition-incomplete", key, where, found, "what was decided, why and by whom")


def _likely_key(key: str, keys: Iterable[str]) -> str:
    """Return the one key that is surely meant, or nothing: a decision must not slip to another finding.

    That is one which differs in case and signs alone, or the only one of the same subject whose
    code is spelt nearly as a word that is no code of the catalogue.

    >>> _likely_key("Water in sampler: 0047154", ["water-in-sampler:0047154", "water-in-sampler:0047145"])
    'water-in-sampler:0047154'
    >>> _likely_key("water-in-sampler:0047155", ["water-in-sampler:0047154"])
    ''
    """
    code, _, subject = key.partition(":")
    alike = [other for other in keys if _SIGNS.sub("", other.casefold()) == _SIGNS.sub("", key.casefold())]
    if not alike and code not in catalogue():
        codes = [other.partition(":")[0] for other in keys if other.partition(":")[2] == subject]
        alike = [f"{other}:{subject}" for other in get_close_matches(code, codes, n=2, cutoff=0.8)]
    return alike[0] if len(alike) == 1 else ""
