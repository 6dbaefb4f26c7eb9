"""From a plan to an evening: two devices, one conflict, a folder that nothing stops, and the page of that day."""

from __future__ import annotations

from pathlib import Path

from field_exports import change, export_file, placing, planned_folder

from sitegen.checking import check
from sitegen.fieldwork.evening.command import make_evening
from sitegen.fieldwork.takein.command import take_in
from sitegen.findings.problems import Severity


def stops(folder: Path) -> list[str]:
    """Return what stops a build of a folder."""
    return [finding.line() for finding in check(folder).findings if finding.severity is Severity.STOP]


def test_two_devices_are_taken_in_and_the_evening_page_says_what_is_open(tmp_path: Path) -> None:
    """Three of four points placed by two people, who both wrote down one sampler; a person decides between them."""
    folder = planned_folder(tmp_path / "project")
    assert stops(folder) == []
    handed = {"event_id": "AB12-1", "subject_kind": "shipment", "subject_id": "SH-O1", "event": "accepted"}
    first = export_file(
        tmp_path,
        "AB12",
        2,
        [change("0047102", "depth_ft", "30", "3", "a zero too many")],
        deployments=[placing("0047102", "SG-01", "2025-10-22T11:12"), placing("0047103", "SG-02", "2025-10-22T11:40")],
        custody=[handed | {"at": "2025-10-22T10:45", "by_role": "FS-1", "signature": "ink"}],
    )
    second = export_file(
        tmp_path,
        "CD34",
        1,
        deployments=[placing("0047103", "SG-04", "2025-10-22T11:40"), placing("0047104", "SG-03", "2025-10-22T12:05")],
    )
    outcome = take_in(folder, [second, first])
    assert not outcome.done
    assert [line for line in outcome.lines if line.startswith(("field/deployments", "field/custody", "check"))] == [
        "field/deployments.csv: 3 rows added, 1 conflict open",
        "field/custody.csv: 1 row added",
        "check: 1 finding would stop a build; sitegen check lists them",
    ]
    page = tmp_path / "evening.html"
    assert not make_evening(folder, page).done
    assert "deployments, 0047103, location_id" in page.read_text("utf-8")

    table = folder / "field/deployments.csv"
    table.write_text(table.read_text("utf-8").replace("\n0047103,,", "\n0047103,SG-02,"), "utf-8")
    decided = take_in(folder, [first, second])
    assert decided.done
    assert decided.lines[-1] == "check: no finding stops a build"
    assert stops(folder) == []

    assert make_evening(folder, page).done
    text = page.read_text("utf-8")
    assert "<td>SG-04</td>" in text
    assert "1 of 4 points" in text
    assert "3 of 3 samplers installed or opened" in text
    assert "Each of 2 differences listed in records/field/conflicts.csv is decided." in text
    assert "2025-10-22T12:05 (field/deployments.csv, row 4, column placed_at)" in text
