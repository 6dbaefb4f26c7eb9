"""The Spanish survey: the same record as the example's, and no free text of it is left in English."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path

import pytest
from builders import example, load, rows_of, survey_findings, write
from spanish_survey import HERE, spanish_folder, texts, worded_columns

from sitegen.library import Survey
from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE
from sitegen.project.tables import TABLES

CODES = {
    "tz", "group", "target", "finding_key", "disposition", "result_text", "lab_qualifier", "validation_qualifier",
    "unit", "label", "public_label", "lot", "sampler_type", "level_set",
}  # fmt: skip
"""Columns of text that hold codes: the same in every language."""
SIGNS = re.compile(r"(?:plan )?[\W\d]*|NA|[A-Z]{1,3}(?:-[\w-]+)?|[\dA-Z, -]+|(?:cis|trans)-1,2-DCE|MW-\d")
"""Ids, roles, directions and abbreviations; "plan" is the same word."""
IDS = re.compile(r"(?<![A-Za-z])(?:[A-Z]{2}-\w+(?:-\w+)*|\d+(?:[.,]\d+)*)")
PATHS = [spec.path for spec in TABLES if spec.path in example().files]
TEXTS = sorted(path for path in example().files if path.startswith("text/"))


def shown(text: str) -> Counter[str]:
    """Return the ids and numbers that a text gives."""
    return Counter(IDS.findall(text))


@pytest.mark.parametrize("path", PATHS)
def test_each_cell_of_words_is_in_spanish_and_every_other_as_it_was(path: str) -> None:
    """A cell of words has its line in the list, or is a code."""
    known, columns = texts()["cells"], set(worded_columns(path))
    (header, before), (same, after) = (rows_of(one.files[path].content) for one in (example(), spanish_folder()))
    assert same == header
    for old, new in zip(before, after, strict=True):
        for name in header:
            if name in columns - CODES and old[name] in known:
                assert new[name] == known[old[name]]
            else:
                assert new[name] == old[name]
                assert (
                    name not in columns - CODES or name.endswith(("_ids", "_role", "_by")) or SIGNS.fullmatch(old[name])
                ), (path, name, old[name])


def test_each_text_of_the_list_is_used_and_keeps_its_numbers() -> None:
    """No line is left of a text that the example no longer has, and none changes an id or a number."""
    files = example().files
    cells = {
        row[name]
        for path in PATHS
        for row in rows_of(files[path].content)[1]
        for name in set(row) & set(worded_columns(path))
    }
    settings = set(re.findall(r'"([^"\n]*)"', files[SETTINGS_FILE].content.decode("utf-8")))
    records = "\n".join(one.content.decode("utf-8") for path, one in files.items() if path.startswith("records/"))
    assert set(texts()["cells"]) <= cells
    assert set(texts()["settings"]) <= settings
    left = settings - set(texts()["settings"])
    assert [text for text in left if " " in text or "invented" in text] == []
    features = json.loads(files[FEATURES_FILE].content)["features"]
    assert set(texts()["features"]) == {one["properties"]["name"] for one in features} - {"MW-1", "MW-2"}
    assert [words for words in texts()["records"] if words not in records] == []
    for group in texts().values():
        assert {old: new for old, new in group.items() if shown(old) != shown(new)} == {}


@pytest.mark.parametrize("path", TEXTS)
def test_each_section_keeps_its_points_and_its_tokens(path: str) -> None:
    """The sections are the example's, sentence for sentence, in other words."""
    old, new = (folder.files[path].content.decode("utf-8") for folder in (example(), spanish_folder()))
    assert set(shown(new)) == set(shown(old))
    assert Counter(re.findall(r"\{\{.*?\}\}", new)) == Counter(re.findall(r"\{\{.*?\}\}", old))
    assert new.count("\n* ") + new.startswith("* ") == old.count("\n* ") + old.startswith("* ")
    assert new != old


def test_no_section_is_left_over() -> None:
    """Each section written here is one of the example."""
    assert [f"text/{one.name}" for one in sorted(HERE.glob("text/*.md"))] == TEXTS


def test_the_record_is_the_one_of_the_example() -> None:
    """The same is found in both, apart from what is read off the words of a field note, which are English there."""
    spanish = load(spanish_folder())
    assert spanish.settings.publish.language == "es"
    names = texts()["cells"]
    read = "comment-watch-word:"

    def said(key: str) -> str:
        return "+".join(names.get(part, part) for part in key.split("+"))

    before = sorted(said(one.key) for one in survey_findings(example()) if not one.key.startswith(read))
    after = sorted(one.key for one in survey_findings(spanish_folder()) if not one.key.startswith(read))
    assert after == before


def test_frames_and_figures_of_the_library_speak_as_the_report_does(tmp_path: Path) -> None:
    """Findings, the caption of a figure: all in the project's language, whatever spoke before."""
    survey = Survey(write(spanish_folder(), tmp_path / "survey"))
    assert any(text.startswith("pedir al laboratorio") for text in survey.check()["do"])
    assert "por punto, de mayor a menor" in survey.figure("ranking", "pce").caption
