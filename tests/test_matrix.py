"""Every optional part of a survey in every state, at every publish level: a report, or findings that stop it.

The cases are made in :mod:`matrix_survey` so that each state of each optional table stands with each
level and each part (air, pictures, comments, duplicates, blanks, features), and any two values of all
factors stand together. Their number is in the name of each test: ``7 of 79``. Reports are put together
in memory; a few cases are built and read again on disk.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from builders import cell, changed, example, setting, write
from longcases import mostly_long
from matrix_survey import (
    FACTORS,
    LEVELS,
    OPTIONAL,
    PARTS,
    STAGES,
    STATES,
    Case,
    cases,
    covered,
    survey,
    told,
    wanted,
    young,
)
from situations import air_duplicate, field_blank, replacement
from slips import report_slips, site_slips

from sitegen.checking import check_snapshot
from sitegen.findings.problems import Stopped
from sitegen.pipeline import build, compose
from sitegen.project.folder import Folder
from sitegen.project.schema import Presence
from sitegen.project.tables import TABLES

CASES = cases()
NAMES = {spec.name for spec in OPTIONAL}
WHOLE: Case = {name: "all" if name in NAMES else values[0] for name, values in FACTORS.items()}
BARE: Case = {name: "absent" if name in NAMES else values[-1] for name, values in FACTORS.items()}


def composed(folder: Folder) -> list[str]:
    """Return the slips of a folder's report put together in memory; raises Stopped where findings stop it."""
    return report_slips(compose(check_snapshot(folder))[1])


@pytest.mark.parametrize("at", mostly_long(range(len(CASES)), 8), ids=lambda at: f"{at + 1} of {len(CASES)}")
def test_a_case_gives_a_report_without_a_slip(at: int) -> None:
    """No case ends in a traceback or is stopped, and no sentence has an empty slot."""
    assert composed(survey(CASES[at])) == [], told(CASES[at])


@pytest.mark.parametrize(("stage", "level"), mostly_long(product(STAGES, LEVELS), len(LEVELS) + 1))
def test_a_survey_as_it_grows_gives_a_report_without_a_slip(stage: str, level: str) -> None:
    """A folder straight from the template builds, and so does each state on the way to results."""
    assert composed(young(stage, level)) == []


@pytest.mark.parametrize("level", mostly_long(LEVELS, len(LEVELS)))
def test_situations_of_field_work_give_a_report_without_a_slip(level: str) -> None:
    """A field blank with a detection, a replaced sampler and a duplicate in air, in the whole example."""
    edits = (*field_blank(pce="31"), *replacement(pce="12"), *air_duplicate(benzene="900"))
    shown = setting('level = "internal"', f'level = "{level}"')
    kept = {path: file for path, file in example().files.items() if not path.startswith("private/")}
    named = cell("field/deployments.csv", "0047102", "comment", "")
    assert composed(changed(*edits, shown, named, folder=Folder(kept, (), ()))) == []


def test_what_is_wanted_stands_in_some_case() -> None:
    """Every state of every optional table stands with every level and part, and any two values together."""
    picks = wanted()
    assert set().union(*(covered(case, picks) for case in CASES)) == picks
    triples = {pick for pick in picks if len(pick) == 3}
    crossed = [(spec.name, part) for spec in OPTIONAL for part in PARTS if part != spec.name]
    assert len(triples) == sum(len(STATES) * len(LEVELS) * len(FACTORS[part]) for _, part in crossed)
    assert {spec.name for spec in OPTIONAL} == {s.name for s in TABLES if s.presence is not Presence.REQUIRED}


def test_the_states_are_what_they_are_called() -> None:
    """An absent table is no file, a header has no row, one row is one, and all are more where there are more."""
    for state, rows in (("absent", None), ("header", 1), ("one", 2)):
        files = survey({**WHOLE, **dict.fromkeys(NAMES, state)}).files
        for spec in OPTIONAL:
            found = len(files[spec.path].content.splitlines()) if spec.path in files else None
            assert found == rows, (spec.name, state)
    files = survey(WHOLE).files
    assert sum(len(files[spec.path].content.splitlines()) > 2 for spec in OPTIONAL) > len(OPTIONAL) / 2


BUILT = {
    "whole, internal": survey({**WHOLE, "level": "internal"}),
    "whole, public": survey({**WHOLE, "level": "public"}),
    "bare, client": survey({**BARE, "level": "client"}),
    "headers alone, public": survey({**BARE, **dict.fromkeys(NAMES, "header"), "level": "public"}),
    "new, internal": young("new", "internal"),
    "in the ground, client": young("in the ground", "client"),
    "one point with results, public": young("one point with results", "public"),
}


@pytest.mark.parametrize("name", mostly_long(reversed(BUILT), 4))
def test_a_case_is_built_and_read_again(name: str, tmp_path: Path) -> None:
    """The whole of a build, print and exports included, ends well, and its pages have no slip."""
    built = build(write(BUILT[name], tmp_path / "survey"), tmp_path / "out")
    assert built.pdf.is_file()
    assert site_slips(built.out / "site") == []


def test_findings_that_stop_are_told_as_such() -> None:
    """A required table without its key stops a case with findings, and nothing else is raised."""
    folder = survey(WHOLE)
    files = {path: file for path, file in folder.files.items() if path != "lab/results.csv"}
    with pytest.raises(Stopped):
        composed(Folder(files, (), ()))
