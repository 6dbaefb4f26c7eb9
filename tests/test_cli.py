"""The command line: exit codes, plain words, no traceback."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import webbrowser
from pathlib import Path

import pytest
from shelf_bags import archive_at

from sitegen import cli


def run(*args: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "sitegen", *map(str, args)],
        capture_output=True, text=True, encoding="utf-8", cwd=cwd, env=os.environ | {"PYTHONUTF8": "1"}, check=False,
    )  # fmt: skip


def test_check_tells_findings_and_writes_them(example: Path, tmp_path: Path) -> None:
    """Check ends with 0 where nothing stops, prints the table, and writes JSON and CSV."""
    done = run("check", example, "--json", tmp_path / "f.json", "--csv", tmp_path / "f.csv")
    assert done.returncode == 0, done.stderr
    assert "seal-differs" in done.stdout
    listed = json.loads((tmp_path / "f.json").read_text("utf-8"))
    assert any(f["key"] == "seal-differs:RB-1" for f in listed)
    assert (tmp_path / "f.csv").read_text("utf-8").count("\n") == len(listed) + 1


def test_a_letter_is_told_and_never_written_over(example: Path, tmp_path: Path) -> None:
    """A letter ends with 0 and its place, a second one of that name with 2; a folder that stops with 1."""
    out = tmp_path / "letter.docx"
    done = run("letter", example, "--out", out)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(f"letter  {out}\nDraft for review, amendment and signature.")
    assert run("letter", example, "--out", out).returncode == 2
    (tmp_path / "project.toml").write_text("[project]\n", "utf-8")
    done = run("letter", tmp_path)
    assert (done.returncode, "Traceback" in done.stderr) == (1, False)


def test_a_shelf_is_told(tmp_path: Path) -> None:
    """A page over archives ends with 0 and says what could not be read; a wrong circle of readers ends with 2."""
    archive_at(tmp_path, "AA-1")
    (tmp_path / "no.zip").write_bytes(b"none")
    done = run("shelf", tmp_path, "--verify-on", "2026-11-30")
    assert done.returncode == 0, done.stderr
    assert "archives: 1; not read: 1\nnot read: no.zip: it can't be read as a zip file" in done.stdout
    assert "2026-11-30" in (tmp_path / "shelf.html").read_text("utf-8")
    assert run("shelf", tmp_path, "--for", "all").returncode == 2
    assert run("shelf", tmp_path, "--verify-on", "soon").returncode == 2


def test_findings_that_stop_end_with_1(example: Path, tmp_path: Path) -> None:
    """A stop gives exit code 1 for check and for build, and nothing is written."""
    folder = tmp_path / "survey"
    shutil.copytree(example, folder)
    (folder / "lab/results.csv").unlink()
    for command in ("check", "build"):
        done = run(command, folder)
        assert done.returncode == 1
        assert "lab/results.csv" in done.stdout + done.stderr
        assert "Traceback" not in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["survey"]


def test_an_issue_is_refused_while_findings_hold_it(example: Path, tmp_path: Path) -> None:
    """--issue ends with 1 and names what holds it; no report appears."""
    done = run("build", example, "--issue", "--out", tmp_path / "out")
    assert done.returncode == 1
    assert "comment-must-fix" in done.stderr
    assert not (tmp_path / "out").exists()


def test_wrong_use_ends_with_2(tmp_path: Path) -> None:
    """A folder that is not there, an unknown command and a missing argument end with 2."""
    for args in (("check", tmp_path / "nowhere"), ("knit",), ("build",)):
        done = run(*args)
        assert done.returncode == 2, args
        assert "Traceback" not in done.stderr


def test_names_that_would_steer_the_terminal_are_shown_harmless(tmp_path: Path) -> None:
    """Of a folder that is none, and of projects that lie in the one that was named."""
    (tmp_path / "\x1b]0;x\x07").mkdir()
    (tmp_path / "\x1b]0;x\x07/project.toml").write_text("")
    for command in (["check", str(tmp_path)], ["check", "\x1b[2Jnowhere"], ["preview", str(tmp_path)]):
        done = run(*command)
        assert done.returncode == 2
        assert "\x1b" not in done.stderr
        assert "\ufffd" in done.stderr


def test_new_makes_a_folder_and_never_overwrites(tmp_path: Path) -> None:
    """A new folder holds the settings and the tables; a folder with files in it is refused."""
    done = run("new", tmp_path / "mine")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "mine/project.toml").is_file()
    assert (tmp_path / "mine/field/deployments.csv").is_file()
    assert run("new", tmp_path / "mine").returncode == 2


def test_the_version_is_told() -> None:
    """--version prints one line."""
    assert run("--version").stdout.startswith("sitegen ")


def test_inside_a_project_folder_no_name_is_needed(example: Path, tmp_path: Path) -> None:
    """What is built stands beside the folder, as if it had been named."""
    folder = tmp_path / "survey"
    shutil.copytree(example, folder)
    done = run("check", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert "seal-differs" in done.stdout
    (folder / "lab/results.csv").unlink()
    stopped = run("build", cwd=folder / "lab")
    assert stopped.returncode == 2
    assert f"give {folder}" in stopped.stderr


def test_wanted_dispositions_are_drafted_into_a_new_file_only(example: Path, tmp_path: Path) -> None:
    """Filled in and put into the folder, the rows leave no flag undecided; a file that is there stays as it is."""
    file, folder = tmp_path / "wanted.csv", tmp_path / "survey"
    done = run("check", example, "--draft-dispositions", file)
    assert done.returncode == 0, done.stderr
    header, *rows = file.read_text("utf-8").splitlines()
    assert header == "finding_key,disposition,reason,by_role,on"
    assert "above-calibration:*,,,," in rows
    shutil.copytree(example, folder)
    with (folder / "review/dispositions.csv").open("a", encoding="utf-8") as table:
        table.writelines(f"{row.replace(',,,,', ',accepted,seen,LR-1,')}\n" for row in rows)
    again = run("check", folder, "--draft-dispositions", tmp_path / "none.csv")
    assert "disposition-" not in again.stdout
    assert (tmp_path / "none.csv").read_text("utf-8").splitlines() == [header]
    refused = run("check", example, "--draft-dispositions", file)
    assert refused.returncode == 2
    assert "already exists" in refused.stderr
    assert file.read_text("utf-8").splitlines() == [header, *rows]


@pytest.mark.parametrize("opens", [True, False])
def test_the_start_page_is_opened_or_it_is_said_that_it_can_not_be(
    opens: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The browser gets the file's whole address."""
    asked: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda address: asked.append(address) or opens)
    cli._open(tmp_path / "a report/index.html")
    assert asked == [f"{tmp_path.as_uri()}/a%20report/index.html"]
    assert ("open the start page yourself" in capsys.readouterr().out) is not opens


def test_the_command_line_starts_without_what_only_a_command_needs() -> None:
    """No table, number or settings library is loaded to show a help text."""
    code = "import sys, sitegen.cli; print([name for name in ('pandas', 'numpy', 'pydantic') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
