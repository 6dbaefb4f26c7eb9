"""The catalogue: every check with its severity, rule, limit, source and remedy.

It is read from ``sitegen/data/checks.toml``; plug-ins add entries of the same form. A rule makes its findings through
:func:`find`, so that a code without an entry can't be used. In another language than English, rule and remedy are
those of ``templates/words/<language>/checks.toml``, which has them for every code.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from sitegen.compute.field.stage import STAGES, Stage
from sitegen.compute.limits import DEFAULTS, OWN
from sitegen.findings.problems import Finding, Severity, Touch, Where
from sitegen.plugins import CHECKS, Plugin, plugins
from sitegen.voice import ENGLISH, Voice, spelt, voice


@dataclass(frozen=True, slots=True)
class Check:
    """One entry: ``limits`` names records of :mod:`sitegen.compute.limits`.

    ``varies`` is True where the severity depends on the case; the entry's is the usual.
    ``needs`` names the columns (``table.column``) that must be readable throughout for the
    check to say anything: it looks for something in them, counts or compares it.
    ``from_stage`` is how far a survey must have come before the check says anything: what it asks for
    can't be there before (:mod:`sitegen.compute.field.stage`).
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
    from_stage: Stage = "planned"


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
OUTSIDE_KEYS = ("code", "severity", "subject", "rule", "do", "source")
"""What an entry of a plug-in must say; it may say ``varies``, ``needs`` and ``from_stage`` as well."""


def catalogue() -> dict[str, Check]:
    """Return every check by code, in catalogue order, those of plug-ins last, whose words are theirs."""
    return _catalogue(voice())


@cache
def _catalogue(speaks: Voice) -> dict[str, Check]:
    entries = _entries("data")
    words = entries if speaks.language == ENGLISH else _entries(speaks.folder)
    found = {
        code: _check(code, entry | {key: spelt(words[code][key]) for key in ("rule", "do")})
        for code, entry in entries.items()
    }
    for plugin in plugins(CHECKS):
        for entry in plugin.list_of("CATALOGUE"):
            check = _outside(plugin, entry)
            if check.code in found:
                raise plugin.fault(f"has a code in its CATALOGUE that is taken, {check.code}")
            found[check.code] = check
    return found


def _entries(folder: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads(files("sitegen").joinpath(f"{folder}/checks.toml").read_text("utf-8"))


def _check(code: str, entry: Mapping[str, Any]) -> Check:
    known = {record.name: record for record in DEFAULTS}
    names = tuple(entry.get("limit", ()))
    source = entry.get("source") or "; ".join(dict.fromkeys(known[name].source for name in names)) or OWN
    return Check(
        code,
        Severity(entry["severity"]),
        entry["subject"],
        entry["rule"],
        entry["do"],
        names,
        source,
        entry.get("varies", False),
        tuple(entry.get("needs", ())),
        entry.get("from_stage", "planned"),
    )


def _outside(plugin: Plugin, entry: object) -> Check:
    """Return an entry of a plug-in; raises WrongUse where it is not of the form of our own."""
    if not isinstance(entry, Mapping):
        raise plugin.fault("has something in its CATALOGUE that is no table of keys and values")
    for fault in _faults(plugin, entry):
        raise plugin.fault(f"has an entry {entry.get('code')!r} in its CATALOGUE {fault}")
    return _check(entry["code"], entry)


def _faults(plugin: Plugin, entry: Mapping[object, Any]) -> Iterator[str]:
    """Yield what is wrong with an entry of a plug-in."""
    lacks = [key for key in OUTSIDE_KEYS if not isinstance(entry.get(key), str) or not entry[key].strip()]
    if lacks:
        yield f"without a text for {', '.join(lacks)}"
        return
    if spare := sorted(str(key) for key in entry if key not in (*OUTSIDE_KEYS, "varies", "needs")):
        yield f"with keys that are not known: {', '.join(spare)}"
    if not re.fullmatch(rf"{plugin.name}(-[a-z0-9]+)+", entry["code"]):
        yield f"that does not begin with {plugin.name}- followed by lower case"
    if entry["severity"] not in [severity.value for severity in Severity]:
        yield f"with the unknown severity {entry['severity']!r}"
    if entry["subject"] not in SUBJECTS:
        yield f"with the unknown subject {entry['subject']!r}"
    if not isinstance(entry.get("varies", False), bool):
        yield "with a varies that is not true or false"
    needs = entry.get("needs", ())
    if not isinstance(needs, list | tuple) or not all(isinstance(name, str) for name in needs):
        yield "with a needs that is no list of texts"
    if entry.get("from_stage", "planned") not in STAGES:
        yield f"with the unknown stage {entry['from_stage']!r}"


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
    rows: Sequence[int] = (),
) -> Finding:
    """Make a finding of the catalogue. KeyError where the catalogue has no such code.

    ``kind`` says what the subject is (``sampler``, ``location``, ``bag`` …), so that the
    finding can be linked to its page. ``severity`` may differ only where the entry varies. ``rows``
    are those of all the cases that one finding stands for.
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
        count=len(rows) or 1,
        rows=tuple(rows),
    )
