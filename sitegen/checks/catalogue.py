"""The catalogue: every check with its severity, rule, limit, source and remedy.

It is read from ``sitegen/data/checks.toml``. A rule makes its findings through
:func:`find`, so that a code without an entry can't be used.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sitegen.compute.limits import DEFAULTS, OWN
from sitegen.findings.problems import Finding, Severity, Touch, Where


@dataclass(frozen=True, slots=True)
class Check:
    """One entry: ``limits`` names records of :mod:`sitegen.compute.limits`.

    ``varies`` is True where the severity depends on the case; the entry's is the usual.
    ``needs`` names the columns (``table.column``) that must be readable throughout for the
    check to say anything: it looks for something in them, counts or compares it.
    """

    code: str
    severity: Severity
    subject: str
    rule: str
    do: str
    limits: tuple[str, ...]
    source: str
    varies: bool
    needs: tuple[str, ...]


SUBJECTS = (
    "files",
    "identity",
    "place",
    "time",
    "field",
    "custody",
    "laboratory",
    "quality",
    "screening",
    "weather",
    "narrative",
    "review",
    "output",
)


@cache
def catalogue() -> dict[str, Check]:
    """Return every check by code, in catalogue order."""
    text = files("sitegen").joinpath("data/checks.toml").read_text("utf-8")
    known = {record.name: record for record in DEFAULTS}
    found = {}
    for code, entry in tomllib.loads(text).items():
        names = tuple(entry.get("limit", ()))
        source = entry.get("source") or "; ".join(dict.fromkeys(known[name].source for name in names)) or OWN
        found[code] = Check(
            code,
            Severity(entry["severity"]),
            entry["subject"],
            entry["rule"],
            entry["do"],
            names,
            source,
            entry.get("varies", False),
            tuple(entry.get("needs", ())),
        )
    return found


def find(  # noqa: PLR0913 - one argument for each part of a finding
    code: str,
    subject: str,
    where: Where,
    found: str,
    expected: str,
    *,
    do: str = "",
    kind: str = "",
    touches: Iterable[Touch] = (),
    severity: Severity | None = None,
) -> Finding:
    """Make a finding of the catalogue. KeyError where the catalogue has no such code.

    ``kind`` says what the subject is (``sampler``, ``location``, ``bag`` …), so that the
    finding can be linked to its page. ``severity`` may differ only where the entry varies.
    """
    check = catalogue()[code]
    if severity is not None and severity is not check.severity and not check.varies:
        raise ValueError(f"{code} has one severity")
    return Finding(
        code,
        severity or check.severity,
        subject,
        where,
        found,
        expected,
        do or check.do[0].lower() + check.do[1:].rstrip("."),
        kind,
        tuple(touches),
    )
