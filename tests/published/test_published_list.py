"""The list of outside checks in the report is the list of the tests that make them."""

from __future__ import annotations

import ast
from pathlib import Path

from sitegen.compute.evidence.published import KNOWN, published_checks


def marked_tests() -> set[str]:
    """Return the names of every test here that is marked as a check against outside figures."""
    found = set()
    for path in Path(__file__).parent.glob("test_*.py"):
        for node in ast.parse(path.read_text("utf-8")).body:
            if isinstance(node, ast.FunctionDef):
                marks = {ast.unparse(mark) for mark in node.decorator_list}
                if "pytest.mark.published" in marks:
                    found.add(node.name)
    return found


def test_each_listed_check_has_its_test_and_each_test_its_entry() -> None:
    """No claim without a test, no test unlisted, none listed twice."""
    listed = [check.test for check in published_checks()]
    assert sorted(listed) == sorted(marked_tests())


def test_each_entry_says_its_source_and_how_it_is_known() -> None:
    """Every entry is complete, and its way of knowing is one of four."""
    for check in published_checks():
        assert check.what
        assert check.source
        assert check.known in KNOWN
