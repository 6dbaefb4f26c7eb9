"""The contributors' guide is short, and what it and its further pages name is there."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
BASES = (ROOT, ROOT / "sitegen")
"""Where a path begins: at the tree, or, as the guide says, at the program."""

NAMED = re.compile(r"`([\w.-]+(?:/[\w.-]+)*/?)`")
FILE = re.compile(r".+\.(?:py|toml|md|j2|in|js)")
PAGES = (
    "DEVELOPERS.md",
    "docs/measurements.md",
    "docs/leaving-mkdocs.md",
    "docs/pages.md",
    "docs/explanation/shape.md",
)


def paths(text: str) -> Iterator[str]:
    """Yield what a text names in backticks that looks like a file or folder of the tree."""
    yield from (name for name in NAMED.findall(text) if "/" in name or FILE.fullmatch(name))


def lost(text: str) -> list[str]:
    """Return the paths that a text names and the tree has not."""
    return [name for name in paths(text) if not any((base / name).exists() for base in BASES)]


def test_the_guide_is_short() -> None:
    """It is read before a first change, so it stays under 10,000 bytes."""
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) < 10_000


@pytest.mark.parametrize("page", PAGES)
def test_every_path_that_is_named_is_there(page: str) -> None:
    """A module, file or folder that was moved is named where it is now."""
    assert lost((ROOT / page).read_text("utf-8")) == []


def test_the_guide_names_every_room_and_folder() -> None:
    """Each module or folder right below the program, and each folder of a room, stands in the table of rooms."""
    table = [line for line in (ROOT / "DEVELOPERS.md").read_text("utf-8").splitlines() if line.startswith("| `")]
    row_of = {name.strip("`/"): row for row in table for name in re.findall(r"`[\w.]+/?`", row.split("|")[1])}
    modules = {path.relative_to(ROOT / "sitegen") for path in (ROOT / "sitegen").rglob("*.py")}
    rooms = {path.parts[0] for path in modules} - {"__init__.py", "__main__.py"}
    assert rooms <= set(row_of)
    folders = {(path.parts[0], path.parts[1]) for path in modules if len(path.parts) > 2}
    assert [(room, folder) for room, folder in sorted(folders) if f"`{folder}`" not in row_of[room]] == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("`compute/limits.py`, `docs/pages.md` and `--seed`", []),
        ("`compute/limits.py` and `compute/limit.py`", ["compute/limit.py"]),
        ("`nowhere/`, `absent.toml`, `a number`", ["nowhere/", "absent.toml"]),
    ],
)
def test_a_path_that_is_not_there_is_told(text: str, expected: list[str]) -> None:
    """Files and folders count, options and words don't."""
    assert lost(text) == expected
