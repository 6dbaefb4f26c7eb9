"""The command compare: sentences first, files on request, and two rounds in two sentences."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from pathlib import Path

import pytest
from builders import cells, changed, content, example, setting, write
from docx import Document
from typer.testing import CliRunner

from sitegen.checking import check
from sitegen.cli import app
from sitegen.project.folder import Folder

RESULTS = "lab/results.csv"
CORRECTED = cells(RESULTS, "04417-005+pce", result_text="8.0", value="8.0")
TOLD = "One result changed: Tetrachloroethene at SG-31, from 7.0 (J) to 8.0 ng per sampler (J), in lab/results.csv."


def another_round() -> Folder:
    """Return the example as a second round: the same points, other samplers, laboratory samples and a later date."""
    serials = re.compile(rb"\b0047(\d{3})\b")
    samples = re.compile(rb"\b04417-")
    files = {
        path: samples.sub(b"05528-", serials.sub(rb"0058\1", file.content))
        for path, file in example().files.items()
        if path.endswith(".csv")
    }
    return changed(*(content(path, new) for path, new in files.items()))


def run(*args: str | Path) -> str:
    done = CliRunner().invoke(app, ["compare", *map(str, args)], env={"COLUMNS": "200"})
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def folders(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("compared")
    write(example(), root / "first")
    write(changed(CORRECTED, cells("field/deployments.csv", "0047102", comment="=1+1")), root / "second")
    write(another_round(), root / "later")
    return root


def test_sentences_come_first_and_then_the_table(folders: Path) -> None:
    """The value in words, what it affects, and below them the keys."""
    told = run(folders / "first", folders / "second")
    assert told.startswith(TOLD)
    assert told.index("This affects the map of Tetrachloroethene.") < told.index("results:04417-005+pce")


def test_text_csv_and_docx_are_written_the_same_each_time(folders: Path, tmp_path: Path) -> None:
    """A file that was there is written over, as check does; a formula is shown and not run; no clock in any."""
    made = []
    for name in ("one", "two"):
        names = [tmp_path / f"{name}.{kind}" for kind in ("txt", "csv", "docx")]
        for path in names:
            path.write_bytes(b"old")
        run(folders / "first", folders / "second", "--text", names[0], "--csv", names[1], "--docx", names[2])
        made.append([path.read_bytes() for path in names])
    assert made[0] == made[1]
    text, table, document = made[0]
    assert text.decode().startswith(TOLD)
    assert "\n\nTetrachloroethene at SG-31: 7.0 (J) → 8.0 ng per sampler (J)\n" in text.decode()
    rows = {row["key"]: row for row in csv.DictReader(io.StringIO(table.decode()))}
    assert rows["results:04417-005+pce"]["compound"] == "Tetrachloroethene"
    assert rows["results:04417-005+pce"]["factor"] == f"{8 / 7:.15g}"
    assert rows["deployments:0047102"]["now"] == "'=1+1"
    read = Document(io.BytesIO(document))
    assert read.paragraphs[2].text.startswith(TOLD)
    assert [cell.text for cell in read.tables[0].rows[1].cells][:3] == [
        "Tetrachloroethene at SG-31", "7.0 (J)", "8.0 ng per sampler (J)",
    ]  # fmt: skip
    with zipfile.ZipFile(io.BytesIO(document)) as package:
        assert b"trackRevisions" not in package.read("word/settings.xml")


def test_two_rounds_are_told_as_such_and_listed_only_when_asked_for(folders: Path) -> None:
    """All points, no sampler and no laboratory sample in common; where to compare them; --all lists thousands."""
    told = run(folders / "first", folders / "later")
    first, hint = told.splitlines()
    assert first == (
        "These are two rounds of sampling, not two revisions of one report. In common: 56 points (of 56 and 56), "
        "no samplers installed (58 and 58) and no laboratory samples (69 and 69)."
    )
    assert hint.endswith("state the earlier one in the settings: earlier under [project], or [[rounds]].")
    every_change = run(folders / "first", folders / "later", "--all")
    assert every_change.startswith(first)
    assert len(every_change.splitlines()) > 2000


def test_a_file_that_can_not_be_written_is_wrong_use(folders: Path, tmp_path: Path) -> None:
    """A folder is no file: exit code 2, as for the other commands."""
    from subprocess import run as run_program  # noqa: PLC0415 - the guard around the commands is in main
    from sys import executable  # noqa: PLC0415

    made = run_program(
        [executable, "-m", "sitegen", "compare", folders / "first", folders / "second", "--csv", tmp_path],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (made.returncode, "can't be used" in made.stderr) == (2, True)


def test_a_previous_revision_that_is_another_round_is_one_finding(folders: Path) -> None:
    """It holds, it counts what both have, and no change of thousands is told or wants a reason."""
    second = changed(
        setting("revision = 1", 'revision = 2\nprevious = "../first"'),
        setting("report_date = 2025-12-12", "report_date = 2026-06-12"),
        folder=another_round(),
    )
    checked = check(write(second, folders / "named"))
    (told,) = [f for f in checked.findings if f.code.startswith(("previous", "change-", "report-date"))]
    assert (told.code, told.severity.value) == ("previous-is-another-round", "hold")
    assert "56 of 56 and 56 points, 0 of 58 and 58 samplers installed, 0 of 69 and 69 laboratory samples" in told.found
    assert checked.difference is None


@pytest.mark.parametrize("option", ["--text", "--csv", "--docx"])
def test_no_file_is_written_into_what_is_compared(folders: Path, option: str) -> None:
    """Settings and tables stay as they are, by whatever way a file leads to them."""
    settings = folders / "second/project.toml"
    before = settings.read_bytes()
    way = folders / "first/../second/project.toml"
    done = CliRunner().invoke(app, ["compare", str(folders / "first"), str(folders / "second"), option, str(way)])
    assert done.exit_code != 0
    assert settings.read_bytes() == before
