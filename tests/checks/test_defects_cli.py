"""What the command line tells of a defect is what the rules found, with the exit code to match."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from builders import Change, cell, changed, findings_on_paper, new_findings, write


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (cell("lab/results.csv", "04417-002+pce", "value", "3.6"), 1),
        (cell("field/deployments.csv", "0047103", "hole_restored", "no"), 0),
    ],
    ids=["stop", "flag"],
)
def test_the_command_tells_every_finding_and_ends_with_its_code(change: Change, code: int, tmp_path: Path) -> None:
    folder = changed(change)
    root = write(folder, tmp_path / "survey")
    told = tmp_path / "findings.json"
    command = [sys.executable, "-m", "sitegen", "check", str(root), "--json", str(told)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == code, done.stderr
    (new,) = new_findings(folder)
    assert new.code in done.stdout
    keys = {entry["key"] for entry in _findings(json.loads(told.read_text("utf-8")))}
    assert new.key in keys
    if code == 0:
        assert keys >= {key for _, key in findings_on_paper()}


def _findings(data: object) -> list[dict[str, str]]:
    """Return the list of findings, whether it is the whole file or one of its members."""
    found = data["findings"] if isinstance(data, dict) else data
    assert isinstance(found, list)
    return found
