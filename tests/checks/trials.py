"""A trial: a folder in which something is told, and what a person does who follows the message.

Most are the defects of the example; others need a folder of their own, such as tables in a workbook.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import defects as named
from builders import Change, cell, changed, row_added, settings_added, survey_findings, table
from defects import Defect, one
from remedies import Remedy
from remedies_by_code import CASES, DECIDED, REMEDIES
from test_defects import DEFECTS

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder


@dataclass(frozen=True)
class Trial:
    """A folder, the code of what is told in it, and what its message says to do."""

    name: str
    code: str
    folder: Callable[[], Folder]
    remedy: Remedy
    told: Callable[[Folder], tuple[Finding, ...]] = survey_findings


def decided(_: Folder, finding: Finding) -> Iterator[Change]:
    """Add the row that the terminal offers: the finding's key, with a decision."""
    words = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1", "on": "2025-12-11"}
    yield row_added(named.DECISIONS, finding_key=finding.key, **words)


MORE: tuple[Defect, ...] = (
    one("id-turned-number", "stop", named.SAMPLERS, 61, cell(named.SAMPLERS, "0047160", "sampler_id", "4.716E+04")),
    one("id-characters", "note", named.LOCATIONS, 25, cell(named.LOCATIONS, "SG-24", "location_id", "SG\u201324")),
    one("cas-turned-date", "stop", named.ANALYTES, 2, cell(named.ANALYTES, "pce", "cas", "2018-04-27")),
    one("cell-too-long", "stop", named.COMMENTS, 4, cell(named.COMMENTS, "C-3", "text", "words " * 4_000)),
    one("point-nowhere", "stop", named.LOCATIONS, 25, cell(named.LOCATIONS, "SG-24", "easting", "47007399")),
    one("table-empty", "hold", named.CUSTODY, None, table(named.CUSTODY, lambda _: [])),
    one("table-without-rows", "flag", named.WEATHER, None, table(named.WEATHER, lambda _: [])),
    one("theme-missing", "stop", named.SETTINGS, None, settings_added('[theme]\nstylesheet = "theme/own.css"')),
)
"""Slips that are no defects with findings of their own alone, and whose messages are followed all the same."""

NOT_YET = {
    "tables-to-come": "a note that asks for nothing",
    "clocks-change": "a note that asks for care in the field",
    "photo-position": "a note that asks for care, and for nothing in a file",
    "level-not-comparable": "a note that asks for nothing",
    "level-without-rate": "a note: adding a rate needs a source of its own",
    "points-supplied": "a note that asks for a look at the map",
    "cells-hidden": "a note that asks for a look at cells that are read",
    "rows-passed-over": "a note that asks for a look at rows that the mapping says to skip",
    "features-converted": "a note that asks for a look at the map",
}
"""Codes whose message nobody has followed here, and why."""


def remedy_of(defect: Defect, code: str) -> Remedy:
    own = CASES.get(f"{defect.name}/{code}") or CASES.get(defect.name)
    return own or (decided if code in DECIDED else REMEDIES[code])


def of_defects() -> Iterator[Trial]:
    """Yield a trial for each code that a defect gives."""
    for defect in (*DEFECTS, *MORE):
        for code in dict.fromkeys(expected[0] for expected in defect.expected):
            if (
                code in NOT_YET
                or (code in DECIDED and code != defect.expected[0][0])
                or defect.name == "comment-ground"
            ):
                continue
            yield Trial(defect.name, code, lambda defect=defect: changed(*defect.changes), remedy_of(defect, code))
