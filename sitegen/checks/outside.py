"""Checks that other packages bring: their rules run as our own do, once what they give has been looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from sitegen.checks.catalogue import catalogue
from sitegen.findings.problems import Finding, Where
from sitegen.plugins import CHECKS, Plugin, plugins


def outside_findings(rules: str, *args: object) -> Iterator[Finding]:
    """Yield what the plug-ins' rules find; ``rules`` is ``RULES`` or ``EVALUATION_RULES``."""
    for plugin in plugins(CHECKS):
        for rule in plugin.list_of(rules, needed=rules == "RULES"):
            if not callable(rule):
                raise plugin.fault(f"has something in {rules} that is no function")
            for finding in plugin.call(_gathered, rule, args):
                yield _own(plugin, finding)


def _gathered(rule: Callable[..., Any], args: tuple[object, ...]) -> tuple[object, ...]:
    return tuple(rule(*args))


def _own(plugin: Plugin, finding: object) -> Finding:
    """Return a finding that is of the right shape and of the plug-in's own catalogue."""
    if not isinstance(finding, Finding) or not isinstance(finding.where, Where):
        raise plugin.fault("gives something that is no finding with a place")
    texts = (finding.code, finding.subject, finding.found, finding.expected, finding.do, finding.subject_kind)
    if not all(isinstance(text, str) for text in texts):
        raise plugin.fault("gives a finding with a part that is no text")
    check = catalogue().get(finding.code)
    if check is None or not finding.code.startswith(f"{plugin.name}-"):
        raise plugin.fault(f"gives the finding {finding.code}, which is not in its CATALOGUE")
    if finding.severity is not check.severity and not check.varies:
        raise plugin.fault(f"gives {finding.code} another severity than its CATALOGUE")
    return finding
