"""Whatever a folder holds, the program answers it: in words with a place, or with a report in which it is text.

Here a few inputs of each class are tried; ``benchmarks/hostile.py`` tries all of them. Each runs in a
process of its own with little time and memory.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hostile_case import CLASSES, Answer
from hostile_output import output_faults
from runner import fingerprint
from suite import all_inputs, sample

from sitegen.project.tables import TABLES

ROOT = Path(__file__).parents[2]
FEWEST = 40
PER_CLASS = 5


def verdicts_of(*words: str) -> list[dict[str, Any]]:
    """Run some inputs as the benchmark does, and return its verdicts."""
    with TemporaryDirectory() as name:
        command = [sys.executable, "benchmarks/hostile.py", "--json", f"{name}/verdicts.json", *words]
        subprocess.run(command, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False, capture_output=True)
        verdicts: list[dict[str, Any]] = json.loads(Path(name, "verdicts.json").read_bytes())
        return verdicts


@cache
def tried() -> list[dict[str, Any]]:
    """Return the verdicts on the sample, run once."""
    return verdicts_of("--sample", str(PER_CLASS))


@pytest.mark.long
@pytest.mark.parametrize("kind", CLASSES)
def test_every_input_of_the_sample_is_answered(kind: str) -> None:
    """No traceback, no more than 20 s and 1 GB, nothing else touched, and each place aimed at is told."""
    verdicts = [one for one in tried() if one["kind"] == kind]
    assert sum(not one["skipped"] for one in verdicts) >= PER_CLASS - 1
    assert [(one["title"], one["faults"]) for one in verdicts if one["faults"]] == []


@pytest.mark.long
@pytest.mark.parametrize(("bound", "value", "said"), [("--memory", "2", "over memory"), ("--cpu", "0", "over time")])
def test_a_run_that_needs_more_than_it_may_is_a_fault(bound: str, value: str, said: str) -> None:
    """With next to no memory, or no time, the same input is told as a fault: the bounds are real."""
    (verdict,) = verdicts_of("--kind", "features", "--name", "a star of 301", bound, value)
    assert verdict["faults"][0].startswith(said)


def test_there_are_many_inputs_of_every_class() -> None:
    """At least 600 hostile cells, texts and files in 400 runs, of each class a good number, and all in the sample."""
    inputs = all_inputs()
    runs, aims = Counter(one.kind for one in inputs), Counter[str]()
    for one in inputs:
        aims[one.kind] += one.aims
    assert len(inputs) >= 400
    assert aims.total() >= 600
    assert set(runs) == set(CLASSES)
    assert min(aims.values()) >= FEWEST
    assert len({one.title for one in inputs}) == len(inputs)
    assert {one.kind for one in sample(PER_CLASS)} == set(CLASSES)
    assert any(one.answer is Answer.BUILT for one in sample(PER_CLASS))


def test_every_column_is_aimed_at() -> None:
    """Each column of the format has a value that must be told at its cell."""
    aimed = {(place.file, place.column) for one in all_inputs() if one.kind == "values" for place in one.places}
    assert {(spec.path, column.name) for spec in TABLES for column in spec.columns} <= aimed


@pytest.mark.parametrize(
    "words",
    [
        "<p><script>window.ran=1</script>",
        "<img src=x onerror=window.ran=1>",
        "<a href=' java\nscript:window.ran=1'>x</a>",
        "<a href='data:text/html,x'>x</a>",
    ],
)
def test_what_would_run_in_a_page_is_seen(tmp_path: Path, words: str) -> None:
    """A script, a handler or a live address in a page is a fault; the same words escaped are none."""
    page = tmp_path / "site/index.html"
    page.parent.mkdir()
    page.write_text(words.replace("<", "&lt;"), encoding="utf-8")
    assert output_faults(tmp_path) == []
    page.write_text(words, encoding="utf-8")
    assert len(output_faults(tmp_path)) == 1


def test_a_formula_in_a_data_file_is_seen(tmp_path: Path) -> None:
    """A cell that a spreadsheet would calculate is a fault."""
    (tmp_path / "site").mkdir()
    (tmp_path / "site/index.html").write_text("words", encoding="utf-8")
    (tmp_path / "site/a.csv").write_text("a,b\n1,=1+1\n", encoding="utf-8")
    assert len(output_faults(tmp_path)) == 1


def test_a_file_that_comes_goes_or_changes_is_seen(tmp_path: Path) -> None:
    """Each of them gives another fingerprint, and so does a changed permission or link."""
    kept, gone, link = tmp_path / "kept", tmp_path / "gone", tmp_path / "link"
    kept.write_bytes(b"a")
    gone.write_bytes(b"a")
    link.symlink_to(kept)
    before = fingerprint(tmp_path)
    kept.write_bytes(b"b")
    gone.unlink()
    link.unlink()
    link.symlink_to(gone)
    (tmp_path / "new").mkdir()
    after = fingerprint(tmp_path)
    changed = {
        Path(os.fsdecode(path)).name for path in before.keys() | after.keys() if before.get(path) != after.get(path)
    }
    assert changed == {"kept", "gone", "link", "new"}
