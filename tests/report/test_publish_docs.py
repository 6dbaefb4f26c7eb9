"""What the documentation says of levels, revisions and sign-off is what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.settings import ProjectPart, PublishPart, SignoffPart
from sitegen.project.tables import TABLE
from sitegen.report.write.publish import ALLOWED, CLASSES
from sitegen.report.write.words import lexicon

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "project_template/README.md").read_text("utf-8")


def shown_by_level() -> dict[str, dict[str, str]]:
    """Return the table of classes in the folder's README: class to level to yes or no."""
    lines = [line for line in GUIDE.splitlines() if line.startswith("| ")]
    head = next(line for line in lines if line.startswith("| class |"))
    levels = [cell.strip() for cell in head.strip("|").split("|")][1:4]
    rows = [re.match(r"\| `(\w+)` \| (\w+) \| (\w+) \| (\w+) \|", line) for line in lines]
    return {row[1]: dict(zip(levels, row.groups()[1:], strict=True)) for row in rows if row and row[1] in CLASSES}


def test_the_table_of_classes_is_that_of_the_code() -> None:
    """Every class stands in the README once, with what each level shows of it, and has a printed word."""
    table = shown_by_level()
    assert set(table) == set(CLASSES) == set(lexicon("labels")["withheld"])
    for name, levels in table.items():
        assert levels == {level: "yes" if name in ALLOWED[level] else "no" for level in ALLOWED}, name


@pytest.mark.parametrize("part", [ProjectPart, PublishPart, SignoffPart])
def test_settings_that_the_readme_names_are_known(part: type) -> None:
    """previous, level, withhold and roles_required are settings under those very names."""
    named = {"ProjectPart": {"previous", "revision", "status"}, "PublishPart": {"level", "withhold"}}
    for name in named.get(part.__name__, {"roles_required"}):
        assert name in part.model_fields  # type: ignore[attr-defined]
        assert re.search(rf"`?\b{name}\b", GUIDE), name


def test_columns_that_the_readme_names_are_those_of_the_tables() -> None:
    """changes.csv and signoff.csv have the columns that the README tells to fill in."""
    assert {"revision", "key", "reason"} <= set(TABLE["changes"].column_names)
    assert {"revision", "role", "statement", "signed_at", "content_digest"} <= set(TABLE["signoff"].column_names)
    assert SETTINGS_FILE in GUIDE


def test_the_readme_and_the_guide_point_to_what_there_is() -> None:
    """The files and pages that README and DEVELOPERS name for review are there."""
    readme = (ROOT / "README.md").read_text("utf-8")
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for name in ("downloads/values.csv", "downloads/files.csv", "review/changes.csv", "[project] previous", "withhold"):
        assert name in readme, name
    for path in re.findall(r"`((?:render|report)/\w+\.py)`", guide):
        assert (ROOT / "sitegen" / path).is_file(), path
