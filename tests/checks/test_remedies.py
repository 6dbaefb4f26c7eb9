"""Followed to the letter, a message works: what it tells to do is done, and its finding is gone.

``REMEDIES`` has, for a code, what a person does who follows its ``do``, with no more knowledge than the
message and the papers behind the record, which is the unchanged example: a time "looked up in the field
sheet" is the example's, in the cell that the finding names. ``CASES`` has the defects that
ask for something else. ``DECIDED`` are codes of events that no file
can undo: their finding stays, and the row of dispositions that the terminal offers closes it.
``NOT_YET`` names codes that nobody has tried, with the reason, ``WITHOUT_DEFECT`` those that wait for a defect
that gives them: to try one, add it to ``MORE`` and its remedy to ``REMEDIES``.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from builders import (
    KEYS,
    changed,
    load,
    new_findings,
    survey_findings,
)
from defects import Defect
from longcases import mostly_long
from remedies import Remedy, decided
from remedies_by_code import CASES, DECIDED, MORE, NOT_YET, REMEDIES, WITHOUT_DEFECT
from test_defects import DEFECTS

from sitegen.checks.catalogue import Check, catalogue
from sitegen.checks.dispositions import dispositions, open_findings
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.tables import TABLES

TRIED: list[tuple[Defect, str]] = [
    (defect, code)
    for defect in (*DEFECTS, *MORE)
    for code in dict.fromkeys(expected[0] for expected in defect.expected)
    if code not in NOT_YET and not (code in DECIDED and code != defect.expected[0][0])
    if defect.name != "comment-ground"
]


def remedy_of(defect: Defect, code: str) -> Remedy:
    own = CASES.get(f"{defect.name}/{code}") or CASES.get(defect.name)
    return own or (decided if code in DECIDED else REMEDIES[code])


def stops(findings: Iterable[Finding]) -> set[str]:
    return {finding.key for finding in findings if finding.severity is Severity.STOP}


@pytest.mark.parametrize(("defect", "code"), mostly_long(TRIED, 12), ids=lambda it: getattr(it, "name", it))
def test_what_a_message_tells_to_do_takes_its_finding_away(defect: Defect, code: str) -> None:
    """Done to the letter, it leaves no finding of that key open, and brings no stop that was not there."""
    folder = changed(*defect.changes)
    before = new_findings(folder)
    finding = next(found for found in before if found.code == code)
    after_folder = changed(*remedy_of(defect, code)(folder, finding), folder=folder)
    after = survey_findings(after_folder)
    if code in DECIDED:
        after_open = open_findings(after, dispositions(load(after_folder), after))
        assert finding.key in {found.key for found in after}, "what happened stays on record"
        assert finding.key not in {found.key for found in after_open}
    else:
        assert finding.key not in {found.key for found in after}, finding.line()
    assert stops(after) <= stops(before) - {finding.key}
    assert says_where(finding), finding.line()


def test_every_code_is_tried_or_says_why_not() -> None:
    """A new check must be put into one of the lists, and none stands in two."""
    tried = {code for _, code in TRIED}
    lists = (tried, NOT_YET.keys(), WITHOUT_DEFECT)
    assert sorted(set().union(*lists)) == sorted(catalogue())
    assert sum(map(len, lists)) == len(catalogue())
    assert not REMEDIES.keys() & DECIDED
    assert (REMEDIES.keys() | DECIDED) <= tried
    assert len(tried) > 200


WRITES = re.compile(r"\b(?:fill in|write|set|clear|blank|name|add (?:a|its) rows?)\b")
"""Words by which a message tells to write something."""

PLACES = (
    *(column for spec in TABLES for column in spec.column_names),
    *(Path(spec.path).name for spec in TABLES),
    *("features.geojson", "project.toml", "records/", "photos/", "text/", "[files", "crs", "lab."),
)
"""What a message may name to say where: columns, files and folders of the format, parts of the settings."""


def says_where(finding: Finding) -> bool:
    """Tell whether a message that tells to write something stands in a cell or names a place of the format.

    One about a whole table may say "the table": where it stands is that table's file.
    """
    if not WRITES.search(finding.do):
        return True
    if "the table" in finding.do and finding.where.file in KEYS:
        return True
    words = re.findall(r"[\w./\[\]-]+", finding.do)
    named_in_it = any(word.strip(".,;:") in PLACES or word.startswith(PLACES[-7:]) for word in words)
    return finding.where.column is not None or named_in_it or finding.where.row is not None


def test_a_message_without_a_place_would_be_seen() -> None:
    """What is told to be filled in, of a whole file, names what."""
    told_badly = Finding("some-code", Severity.HOLD, "s", Where("lab/results.csv"), "this", "that", "fill in both")
    assert not says_where(told_badly)
    assert says_where(replace(told_badly, do="fill in effect and agreed_by_role"))
    assert says_where(replace(told_badly, where=Where("lab/results.csv", 2, "value")))


@pytest.mark.parametrize("check", catalogue().values(), ids=lambda check: check.code)
def test_a_message_is_one_line(check: Check) -> None:
    """It has no two blanks in a row, no line end, and no word of a slot that was not filled."""
    assert check.do == " ".join(check.do.split())
    assert "{" not in check.do
