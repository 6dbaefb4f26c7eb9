"""Followed to the letter, a message works: what it tells to do is done, and its finding is gone.

``REMEDIES`` has, for a code, what a person does who follows its ``do`` (remedies_by_code.py), with the steps of
remedies.py. ``CASES`` has the defects that ask for something else, the files ``trials_*.py`` those that need a
folder of their own. ``DECIDED`` are codes of events that no file can undo: their finding stays, and the row of
dispositions that the terminal offers closes it. ``NOT_YET`` names codes that nobody has tried, with the reason.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import trials_deliveries
import trials_disk
import trials_events
import trials_planned
import trials_rounds
import trials_settings
import trials_tables
from builders import changed, findings_on_paper, load
from followed_texts import FOLLOWED, NOT_FOLLOWED
from longcases import mostly_long
from message_texts import pattern, texts
from remedies_by_code import DECIDED, REMEDIES
from trials import NOT_YET, Trial, decided, of_defects
from trials_disk import DiskTrial

from sitegen.checks.catalogue import Check, catalogue
from sitegen.checks.dispositions import dispositions, open_findings
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.tables import TABLES

TRIALS = (
    *of_defects(),
    *trials_tables.TABLES,
    *trials_events.EVENTS,
    *trials_deliveries.DELIVERIES,
    *trials_deliveries.LISTS,
    *trials_settings.SETTINGS,
    *trials_planned.PLANNED,
    *trials_rounds.ROUNDS,
)


def stops(findings: Iterable[Finding]) -> set[str]:
    return {finding.key for finding in findings if finding.severity is Severity.STOP}


def the_finding(findings: Iterable[Finding], code: str) -> Finding:
    """Return the first finding of a code: one that the example has not, where there is one."""
    of_code = [finding for finding in findings if finding.code == code]
    new = [one for one in of_code if (one.severity.value, one.key) not in findings_on_paper()]
    return (new or of_code)[0]


@pytest.mark.parametrize("trial", mostly_long(TRIALS, 12), ids=lambda trial: f"{trial.name}-{trial.code}")
def test_what_a_message_tells_to_do_takes_its_finding_away(trial: Trial) -> None:
    """Done to the letter, it leaves no finding of that key open, and brings no stop that was not there."""
    folder = trial.folder()
    before = trial.told(folder)
    finding = the_finding(before, trial.code)
    after_folder = changed(*trial.remedy(folder, finding), folder=folder)
    after = trial.told(after_folder)
    if trial.remedy is decided:
        after_open = open_findings(after, dispositions(load(after_folder), after))
        assert finding.key in {found.key for found in after}, "what happened stays on record"
        assert finding.key not in {found.key for found in after_open}
    else:
        assert finding.key not in {found.key for found in after}, finding.line()
    assert stops(after) <= stops(before) - {finding.key}
    assert says_where(finding), finding.line()
    assert all(pattern(text).search(finding.do) for text in followed_in(trial)), finding.do


def followed_in(trial: Trial) -> list[str]:
    """Return the texts of the source of which the list says that a trial follows them."""
    one_code = sum(other.name == trial.name for other in TRIALS) == 1
    return [text for text, name in FOLLOWED.items() if name == trial.name and one_code]


def test_every_text_that_tells_what_to_do_is_followed_or_says_why_not() -> None:
    """A new text must be put into one of the lists; those of the catalogue are followed code by code."""
    aside = [text for some in NOT_FOLLOWED.values() for text in some]
    assert sorted((*FOLLOWED, *aside)) == sorted(texts())
    assert set(FOLLOWED.values()) <= {trial.name for trial in (*TRIALS, *trials_disk.DISK)}


@pytest.mark.parametrize("trial", mostly_long(trials_disk.DISK, 4), ids=lambda trial: trial.name)
def test_what_a_message_about_a_folder_on_disk_tells_to_do_works(trial: DiskTrial, tmp_path: Path) -> None:
    """What no folder in memory has, a person mends on disk."""
    root = trial.written(tmp_path)
    before = tuple(trial.told(root))
    finding = next(found for found in before if found.code == trial.code)
    trial.follow(root, finding)
    after = tuple(trial.told(root))
    assert finding.key not in {found.key for found in after}, finding.line()
    assert stops(after) <= stops(before) - {finding.key}


def test_every_code_is_tried_or_says_why_not() -> None:
    """A new check must be put into one of the lists, and none stands in two."""
    tried = {trial.code for trial in (*TRIALS, *trials_disk.DISK)}
    lists = (tried, NOT_YET.keys())
    assert sorted(set().union(*lists)) == sorted(catalogue())
    assert sum(map(len, lists)) == len(catalogue())
    assert not REMEDIES.keys() & DECIDED
    assert (REMEDIES.keys() | DECIDED) <= tried
    assert len(tried) > 300


WRITES = re.compile(r"\b(?:fill in|write|set|clear|blank|name|add (?:a|its) rows?)\b")
"""Words by which a message tells to write something."""

PLACES = (
    *(column for spec in TABLES for column in spec.column_names),
    *(Path(spec.path).name for spec in TABLES),
    *("features.geojson", "project.toml", "records/", "photos/", "text/", "[files", "crs", "lab."),
)
"""What a message may name to say where: columns, files and folders of the format, parts of the settings."""


def says_where(finding: Finding) -> bool:
    """Tell whether a message that tells to write something stands in a cell or names a place of the format."""
    if not WRITES.search(finding.do):
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
