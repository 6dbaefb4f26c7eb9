"""What tests share: the example folder, and one build of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from builders import changed, write
from hostile_texts import planted
from hypothesis import settings

from sitegen.checking import Checked, check
from sitegen.pipeline import Built, build

# A busy machine must not fail a property: what is tested is never a time.
settings.register_profile("steady", deadline=None)
settings.load_profile("steady")

EXAMPLE = Path(__file__).resolve().parent.parent / "example_project"


@pytest.fixture(scope="session")
def example() -> Path:
    """Return the folder of the invented example survey."""
    return EXAMPLE


@pytest.fixture(scope="session")
def checked() -> Checked:
    """Return the example as read, computed and checked."""
    return check(EXAMPLE)


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Return the example's report, built once for all tests."""
    return build(EXAMPLE, tmp_path_factory.mktemp("report") / "out")


@pytest.fixture(scope="session")
def hostile_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the example with hostile words wherever it takes free text."""
    return write(changed(*planted()), tmp_path_factory.mktemp("hostile") / "survey")


@pytest.fixture(scope="session")
def hostile(hostile_folder: Path) -> Built:
    """Return the report of the hostile survey, built once for all tests."""
    return build(hostile_folder, hostile_folder.parent / "out")
