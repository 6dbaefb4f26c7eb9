"""A defect gives exactly its own finding: code, severity, file and row, and nothing beside it."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import defects
import defects_deliveries
import defects_field
import defects_handling
import defects_lab
from builders import (
    EXAMPLE,
    changed,
    example_findings,
    findings_on_paper,
    new_findings,
    read_folder,
    survey_findings,
    write,
)
from defects import Defect
from longcases import mostly_long

from sitegen.findings.problems import Finding, Severity
from sitegen.project.tables import TABLES

COLUMNS = {spec.path: spec.column_names for spec in TABLES}

DEFECTS: tuple[Defect, ...] = (
    *defects.FILES,
    *defects.IDENTITY,
    *defects.PLACE,
    *defects.TIME,
    *defects_field.FIELD,
    *defects_field.CUSTODY_DEFECTS,
    *defects_handling.HANDLING,
    *defects_lab.ALL,
    *defects_deliveries.DELIVERIES,
)


GONE = {
    # nobody is on record as having the shipment, so that nobody can have placed what another had
    "outward-form-missing": {"holder-changed:SH-O1+FS-1+FS-2"},
    # the result is reported no more, and SG-29 lies beside it
    "run-none-reportable": {"above-calibration:04417-019+pce", "local-low:SG-29"},
    # the level that the result lies above is now of another medium
    "level-not-comparable": {"above-screening-level:IA-01+pce"},
}
"""The findings of the example that a defect takes away, by its name."""


def as_expected(finding: Finding) -> tuple[str, str, str, int | None]:
    """Return what a defect foretells of a finding."""
    return finding.code, finding.severity.value, finding.where.file, finding.where.row


def says_all(finding: Finding) -> bool:
    """Tell whether a finding says what was found, what is expected and what to do, on one line."""
    parts = (finding.found, finding.expected, finding.do)
    return all(parts) and len(finding.line()) < 700 and "\n" not in finding.line()


def has_its_column(finding: Finding) -> bool:
    """Tell whether a finding in a table of the format stands in one of its columns, or in a whole row."""
    columns = COLUMNS.get(finding.where.file)
    return columns is None or finding.code == "column-unknown" or (finding.where.column or columns[0]) in columns


EACH = 4
"""One defect of so many is always tried alone."""


def test_there_are_many_defects_with_names_of_their_own() -> None:
    assert len(DEFECTS) >= 60
    assert len({defect.name for defect in DEFECTS}) == len(DEFECTS)


@pytest.mark.parametrize("defect", mostly_long(DEFECTS, EACH), ids=lambda defect: defect.name)
def test_a_defect_gives_its_own_findings_and_no_other(defect: Defect) -> None:
    """What it adds to the findings of the example that a person has read, and what it takes away."""
    findings = survey_findings(changed(*defect.changes))
    keys = {(finding.severity.value, finding.key) for finding in findings}
    new = [f for f in findings if (f.severity.value, f.key) not in findings_on_paper()]
    assert sorted(map(as_expected, new)) == sorted(defect.expected), [f.line() for f in new]
    assert all(says_all(finding) and has_its_column(finding) for finding in new)
    if not any(finding.severity is Severity.STOP for finding in findings):
        assert {key for _, key in findings_on_paper() - keys} == GONE.get(defect.name, set())


ALONE = {
    # no survey is put together, or nothing is computed, and what is sought is not found
    "settings-missing", "settings-unreadable", "setting-missing", "setting-invalid", "crs-unknown", "custody-overlap",
    "level-unknown",
    # in another system, or another boundary, points lie elsewhere
    "points-outside-all", "crs-not-projected", "feature-doubtful",
    # any other change makes a signature one of other content
    "signer-did-field-work",
    # other results, samplers or sentences take part in what it tells
    "result-for-lost", "blank-affected-mostly", "objective-not-concluded", "run-none-reportable",
    "exceedance-not-concluded", "exceedance-not-stated",
}  # fmt: skip
"""Defects that bear on what others tell."""


def packs(some: Iterable[Defect]) -> list[list[Defect]]:
    """Gather defects of different files; those that stop a build are kept from those that are computed."""
    gathered: list[list[Defect]] = []
    for defect in some:
        paths, stops = {change.path for change in defect.changes}, stops_a_build(defect)
        room = (
            pack
            for pack in gathered
            if stops is stops_a_build(pack[0])
            and not {defect.name, pack[0].name} & ALONE
            and not paths & {change.path for other in pack for change in other.changes}
        )
        pack = next(room, None)
        if pack is None:
            gathered.append([defect])
        else:
            pack.append(defect)
    return gathered


def stops_a_build(defect: Defect) -> bool:
    return any(severity == "stop" for _, severity, _, _ in defect.expected)


def test_defects_of_different_files_are_told_beside_one_another() -> None:
    """Those that are tried one by one only where it may take long: none hides another, and none adds a finding."""
    for pack in packs(defect for at, defect in enumerate(DEFECTS) if at % EACH):
        new = new_findings(changed(*(change for defect in pack for change in defect.changes)))
        expected = {one for defect in pack for one in defect.expected}
        assert set(map(as_expected, new)) == expected, [defect.name for defect in pack]


def test_a_defect_with_more_than_one_finding_says_why() -> None:
    assert all(bool(defect.because) == (len(defect.expected) > 1) for defect in DEFECTS)


@pytest.mark.parametrize("defect", DEFECTS[::25], ids=lambda defect: defect.name)
def test_a_folder_on_disk_gives_the_same_findings_as_one_in_memory(defect: Defect, tmp_path: Path) -> None:
    folder = changed(*defect.changes)
    assert survey_findings(read_folder(write(folder, tmp_path))) == survey_findings(folder)


def test_every_finding_of_the_example_can_be_acted_on() -> None:
    assert all(says_all(finding) for finding in example_findings())


def test_the_example_has_the_findings_that_its_readme_tells_of() -> None:
    readme = (EXAMPLE / "README.md").read_text("utf-8")
    keys = {finding.key for finding in example_findings() if finding.severity.value in ("stop", "hold")}
    assert keys == {"comment-must-fix:C-1", "seal-differs:RB-1"}
    assert "**no row in `deviations.csv`**" in readme
    assert "deviation-unrecorded:SG-16+refused" in {finding.key for finding in example_findings()}
