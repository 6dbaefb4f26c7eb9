"""What tests share: the example folder, one build of it, and which tests wait until they are asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from builders import changed, write
from hostile_texts import planted
from hypothesis import HealthCheck, settings

from sitegen.checking import Checked, check
from sitegen.pipeline import Built, build

# A busy machine must not fail a property: what is tested is never a time.
settings.register_profile("steady", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")

EXAMPLE = Path(__file__).resolve().parent.parent / "example_project"
LEFT_OUT = pytest.StashKey[int]()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the long tests, unless an expression of marks says which tests to run."""
    if config.getoption("markexpr"):
        return
    long = [item for item in items if item.get_closest_marker("long")]
    items[:] = [item for item in items if not item.get_closest_marker("long")]
    config.stash[LEFT_OUT] = len(long)
    config.hook.pytest_deselected(items=long)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Tell the process that prints how many tests were left out here; each collects them all."""
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["left_out"] = session.config.stash.get(LEFT_OUT, 0)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:  # noqa: ANN401 - pytest-xdist's own class has no types
    """Note what a process of pytest-xdist left out."""
    node.config.stash[LEFT_OUT] = getattr(node, "workeroutput", {}).get("left_out", 0)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say at the end how many long tests were left out, and how they are run."""
    count = config.stash.get(LEFT_OUT, 0)
    if count:
        tests = "1 long test was" if count == 1 else f"{count} long tests were"
        terminalreporter.write_line(f"{tests} left out; run with: python -m pytest -m long")


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
    """Return the example's report, built once for all tests of a process.

    Shared between processes, one would wait for the other, and a report would have to be read back
    from disk to be looked into: that takes longer than a build.
    """
    return build(EXAMPLE, tmp_path_factory.mktemp("report") / "out")


@pytest.fixture(scope="session")
def hostile_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the example with hostile words wherever it takes free text."""
    return write(changed(*planted()), tmp_path_factory.mktemp("hostile") / "survey")


@pytest.fixture(scope="session")
def hostile(hostile_folder: Path) -> Built:
    """Return the report of the hostile survey, built once for all tests."""
    return build(hostile_folder, hostile_folder.parent / "out")
