"""Dispositions: what was decided about findings, and what keeps a revision from being issued.

A disposition attaches by the finding's key, or by a key that ends with a star: ``custody-gap:*`` is
about every finding of that code, ``cell-blank:comments+*`` about those whose subject begins so. It
explains; it never hides.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches

from sitegen.checks.catalogue import catalogue, find
from sitegen.findings.problems import Finding, Severity
from sitegen.project.places import in_order
from sitegen.project.survey import Survey
from sitegen.project.tables import Disposition
from sitegen.voice import worded

DECISION_CODES = ("disposition-unmatched", "disposition-incomplete")
"""Findings about decisions on other findings."""
STAR = "*"
MANY = 4
"""So many findings of one code are drafted as one row with a star."""
_DECIDABLE = (Severity.HOLD, Severity.FLAG)
_NOT_DECIDED = (*DECISION_CODES, "signoff-missing", "signoff-stale", "signature-missing")
"""Findings about decisions and signatures, which no disposition stands in for."""
_STARRED = "the beginning of a key, including the complete code, such as custody-gap:*"
_SIGNS = re.compile(r"[\W_]+")


def dispositions(survey: Survey, findings: Iterable[Finding]) -> dict[str, Disposition]:
    """Return the disposition of each finding that has one, by the finding's key.

    A finding's own key goes before a star, a longer star before a shorter one; none is about a stop
    by a star.
    """
    every = list(findings)
    rows = {row.finding_key: row for row in survey.rows(Disposition)}
    stars = {star.removesuffix(STAR): star for star in _stars(rows, {finding.key for finding in every})}
    lengths = sorted({len(beginning) for beginning in stars}, reverse=True)
    found = {finding.key: rows[finding.key] for finding in every if finding.key in rows}
    for finding in every:
        if finding.key not in found and finding.severity is not Severity.STOP:
            star = next((stars[key] for length in lengths if (key := finding.key[:length]) in stars), "")
            if star:
                found[finding.key] = rows[star]
    return found


def _stars(rows: Iterable[str], keys: Collection[str]) -> list[str]:
    """Return the keys of dispositions that are about more than one finding, the longest first.

    >>> _stars(["a:b", "a:*", "a:b*", "c*", "d:x*"], {"d:x*"})
    ['a:b*', 'a:*']
    """
    stars = (key for key in rows if key.endswith(STAR) and ":" in key and key not in keys)
    return sorted(stars, key=lambda key: (-len(key), key))


def beginning_with(beginning: str, keys: Sequence[str]) -> Sequence[str]:
    """Return those of keys in order that begin so.

    >>> beginning_with("b:", ["a:1", "b:1", "b:2", "c:1"])
    ['b:1', 'b:2']
    """
    first = bisect_left(keys, beginning)
    return keys[first : bisect_left(keys, True, first, key=lambda key: not key.startswith(beginning))]


def is_star(row: Disposition, finding: Finding) -> bool:
    """Tell whether a disposition is about a finding by a star, not by its own key."""
    return row.finding_key != finding.key


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
    undecided = [f for f in open_findings(every, dispositions(survey, every)) if f.severity is not Severity.STOP]
    holds = (f if f.severity is Severity.HOLD else _as_hold(f, survey) for f in undecided)
    return in_order([*stops, *holds])


def drafted(findings: Iterable[Finding], survey: Survey) -> tuple[str, ...]:
    """Return the keys of the dispositions that are wanted: of holds and flags of which no row says anything.

    Where many of one code and severity are open, and nothing else is of that code, one star stands for all.
    """
    every = list(findings)
    written = {row.finding_key for row in survey.rows(Disposition)} | dispositions(survey, every).keys()
    wanted = [f for f in every if f.severity in _DECIDABLE and f.key not in written and f.code not in _NOT_DECIDED]
    codes = Counter((finding.code, finding.severity) for finding in wanted)
    of_another = {f.code for f in every if f.severity in _DECIDABLE and (f.code, f.severity) not in codes}
    keys = []
    for finding in wanted:
        others = {severity for code, severity in codes if code == finding.code} | of_another & {finding.code}
        many = codes[finding.code, finding.severity] >= MANY and len(others) == 1
        keys.append(f"{finding.code}:{STAR}" if many else finding.key)
    return tuple(dict.fromkeys(keys))


def overrides(findings: Iterable[Finding], survey: Survey) -> tuple[tuple[Finding, Disposition], ...]:
    """Return the holds that a person decided to issue in spite of, with the decision, for the start page."""
    every = in_order(findings)
    decisions = dispositions(survey, every)
    holds = (finding for finding in every if finding.severity is Severity.HOLD)
    return tuple((finding, decisions[finding.key]) for finding in holds if _is_decided(finding, decisions))


def _as_hold(finding: Finding, survey: Survey) -> Finding:
    return find(
        "flag-undecided",
        finding.key,
        finding.where,
        worded("{found}; no disposition", found=finding.found),
        worded("a row in {file} with the key {key}", file=survey.tables["dispositions"].called, key=finding.key),
        kind=finding.subject_kind,
        touches=finding.touches,
    )


def check_dispositions(survey: Survey, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Every disposition is complete and is about a finding that there is."""
    every = list(findings)
    keys = {finding.key for finding in every}
    decidable = sorted({finding.key for finding in every if finding.severity is not Severity.STOP})
    rows = {row.finding_key: row for row in survey.rows(Disposition)}
    stars = set(_stars(rows, keys))
    known = _Known(keys)
    for key, decision in rows.items():
        where = decision.origin.where("finding_key")
        if key in stars and not beginning_with(key.removesuffix(STAR), decidable):
            found = worded("a disposition of {key}, which matches no current hold, flag or note", key=key)
            meant = known.star(key)
            do = worded("write {meant}", meant=meant) if meant else ""
            yield find("disposition-unmatched", key, where, found, worded(_STARRED), do=do)
        elif key not in keys and key not in stars:
            meant = known.key(key)
            found = worded("a disposition of {key}, which is not a current finding", key=key)
            yield find(
                "disposition-unmatched",
                key,
                where,
                found,
                worded("the key of a current finding"),
                do=worded("write {meant}", meant=meant) if meant else "",
            )
        if lacks := _lacks(decision):
            found = worded("a disposition without {columns}", columns=", ".join(lacks))
            yield find("disposition-incomplete", key, where, found, worded("the decision, the reason and the role"))


class _Known:
    """The keys that there are, for what a key that is none of them was surely meant to be.

    >>> known = _Known(["custody-gap:0047103", "water-in-sampler:0047154", "water-in-sampler:0047145"])
    >>> known.star("custody-gpa:*"), known.star("seal-late:*")
    ('custody-gap:*', '')
    >>> known.key("Water in sampler: 0047154"), known.key("water-in-sampler:0047155")
    ('water-in-sampler:0047154', '')
    """

    def __init__(self, keys: Iterable[str]) -> None:
        self._alike: dict[str, list[str]] = {}
        self._codes: dict[str, list[str]] = {}
        for key in keys:
            code, _, subject = key.partition(":")
            self._alike.setdefault(_bare(key), []).append(key)
            self._codes.setdefault(subject, []).append(code)
        self._every_code = sorted({code for codes in self._codes.values() for code in codes})

    def star(self, star: str) -> str:
        """Return the star key that is surely meant by one whose code is spelt nearly as a word of the catalogue."""
        code, _, subject = star.partition(":")
        alike = [] if code in catalogue() else get_close_matches(code, self._every_code, n=2, cutoff=0.8)
        return f"{alike[0]}:{subject}" if len(alike) == 1 else ""

    def key(self, key: str) -> str:
        """Return the one key that is surely meant, or nothing: a decision must not slip to another finding.

        That is one which differs in case and signs alone, or the only one of the same subject whose
        code is spelt nearly as a word that is no code of the catalogue.
        """
        code, _, subject = key.partition(":")
        alike = self._alike.get(_bare(key), [])
        if not alike and code not in catalogue():
            near = get_close_matches(code, self._codes.get(subject, ()), n=2, cutoff=0.8)
            alike = [f"{other}:{subject}" for other in near]
        return alike[0] if len(alike) == 1 else ""


def _bare(key: str) -> str:
    return _SIGNS.sub("", key.casefold())
