"""What is told of a seal in words."""

from __future__ import annotations

import pytest

from sitegen.compute.custody.seals import Seal


@pytest.mark.parametrize(("condition", "words"), [("intact", "intact"), ("", "not recorded")])
def test_a_seal_is_told_with_its_condition(condition: str, words: str) -> None:
    """An empty cell is no condition."""
    seal = Seal("bag", "B-1", "101", "101", condition, None, 5, ("a", 1, "b"))
    assert seal.text("UTC") == (
        f"bag B-1 sealed at a time not on record with 101, read unchanged at receipt, condition {words}"
    )
