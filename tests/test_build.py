"""Builds: the same bytes everywhere, and nothing lost when something is wrong."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sitegen.checking import check
from sitegen.findings.problems import Finding, Severity, Stopped, WrongUse
from sitegen.pipeline import Built, build


def digests(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


@pytest.mark.long
def test_another_machine_gives_the_same_bytes(built: Built, example: Path, tmp_path: Path) -> None:
    """Another folder, zone, locale, hash seed and user name change no byte of site or PDF."""
    copy = tmp_path / "elsewhere" / "a folder with blanks"
    shutil.copytree(example, copy)
    out = tmp_path / "deep" / "er" / "out"
    changed = {
        "TZ": "Pacific/Chatham",
        "LC_ALL": "C",
        "LANG": "tr_TR.UTF-8",
        "PYTHONHASHSEED": "77",
        "USER": "other",
    }
    subprocess.run(
        [sys.executable, "-m", "sitegen", "build", str(copy), "--out", str(out)],
        check=True, capture_output=True, cwd=tmp_path, env=os.environ | changed,
    )  # fmt: skip
    assert digests(out) == digests(built.out)


def test_the_site_holds_no_outside_address_that_loads(built: Built) -> None:
    """No page, style sheet or script of ours asks the network for anything."""
    for path in (built.out / "site").rglob("*.html"):
        text = path.read_text("utf-8")
        for sign in ('src="http', 'href="http', "src='http", "url(http", "@import"):
            assert sign not in text, (path, sign)


def test_the_build_record_says_what_was_built(built: Built) -> None:
    """build.json names project, revision, digest and tool."""
    record = json.loads((built.out / "build.json").read_text("utf-8"))
    assert record["project"] == "KD-2025-01"
    assert record["content_digest"] == built.report.meta.digest
    assert record["tool"].startswith("sitegen ")


def replaced(path: str, old: str, new: str) -> Callable[[Path], None]:
    """Return a change that replaces text once in a file of the folder."""

    def change(folder: Path) -> None:
        text = (folder / path).read_bytes().decode()
        assert old in text
        (folder / path).write_bytes(text.replace(old, new, 1).encode())

    return change


def removed(path: str) -> Callable[[Path], None]:
    return lambda folder: (folder / path).unlink()


def repeated(path: str, row: int) -> Callable[[Path], None]:
    """Return a change that writes a row of a file twice."""

    def change(folder: Path) -> None:
        lines = (folder / path).read_text("utf-8").splitlines(keepends=True)
        (folder / path).write_text("".join([*lines, lines[row - 1]]), "utf-8")

    return change


BAD = {
    "a missing file": (removed("field/samplers.csv"), "file-missing", "field/samplers.csv", None, None),
    "a missing column": (
        replaced("lab/lab_samples.csv", "sampler_id", "x_other"),
        "column-missing",
        "lab/lab_samples.csv",
        1,
        "sampler_id",
    ),
    "an unreadable date": (
        replaced("field/deployments.csv", "2025-10-23T08:11", "23.10.2025 8:11"),
        "time-unreadable",
        "field/deployments.csv",
        2,
        "placed_at",
    ),
    "an unknown sampler": (
        replaced("field/deployments.csv", "\n0047102,", "\n0047902,"),
        "unknown-id",
        "field/deployments.csv",
        2,
        "sampler_id",
    ),
    "a duplicate key": (
        repeated("locations/locations.csv", 5),
        "duplicate-key",
        "locations/locations.csv",
        58,
        "location_id",
    ),
}


def found(findings: tuple[Finding, ...], code: str, file: str) -> Finding:
    return next(f for f in findings if f.code == code and f.where.file == file)


@pytest.mark.parametrize("name", BAD)
def test_bad_input_gives_one_line_and_loses_nothing(name: str, example: Path, tmp_path: Path) -> None:
    """Each fault is told with file, row, column, what was found, expected and to do; the old site stays."""
    change, code, file, row, column = BAD[name]
    folder, out = tmp_path / "survey", tmp_path / "out"
    shutil.copytree(example, folder)
    change(folder)
    out.mkdir()
    (out / "build.json").write_text("{}")
    (out / "kept.html").write_text("the last good site")
    before = digests(out)
    with pytest.raises(Stopped) as stopped:
        build(folder, out)
    finding = found(stopped.value.findings, code, file)
    assert (finding.severity, finding.where.row, finding.where.column) == (Severity.STOP, row, column)
    assert all((finding.found, finding.expected, finding.do))
    assert "\n" not in finding.line()
    assert digests(out) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "survey"]


def test_all_problems_come_at_once(example: Path, tmp_path: Path) -> None:
    """Three faults in three files are told together."""
    folder = tmp_path / "survey"
    shutil.copytree(example, folder)
    for name in ("a missing column", "an unreadable date", "a duplicate key"):
        BAD[name][0](folder)
    codes = {finding.code for finding in check(folder).findings}
    assert codes >= {"column-missing", "time-unreadable", "duplicate-key"}


def test_a_folder_that_is_not_a_report_is_never_replaced(example: Path, tmp_path: Path) -> None:
    """An output folder that holds other files is refused and left alone."""
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(WrongUse, match="did not write"):
        build(example, tmp_path)
    assert (tmp_path / "thesis.txt").read_text() == "mine"


def test_output_inside_the_project_folder_is_refused(example: Path) -> None:
    """A report can't be written into the folder that it is made from, nor around it."""
    for out in (example / "out", example, example.parent):
        with pytest.raises(WrongUse):
            build(example, out)
