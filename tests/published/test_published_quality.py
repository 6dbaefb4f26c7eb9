"""Duplicates and blanks against printed cases."""

from __future__ import annotations

import pytest

from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.blanks import blank_rule, propose
from sitegen.compute.quality.duplicates import rpd


@pytest.mark.published
@pytest.mark.parametrize(
    ("a", "b", "percent"),
    [(8, 9, 12), (13, 15, 14), (17, 20, 16), (26, 30, 14), (7.5, 10, 29)],
)
def test_relative_percent_differences_are_those_of_the_glossary(a: float, b: float, percent: int) -> None:
    """Printed examples of an environmental glossary (read): whole percent."""
    assert round(rpd(a, b)) == percent == round(rpd(b, a))


@pytest.mark.published
@pytest.mark.parametrize(
    ("result", "qualifier", "limit"),
    [(None, "U", 10.0), (8.0, "U", 10.0), (10.0, "U", 10.0), (10.1, "J+", None), (30.0, "J+", None), (30.1, "", None)],
)
def test_the_blank_rule_is_that_of_the_guidelines(result: float | None, qualifier: str, limit: float | None) -> None:
    """US DoD Data Validation Guidelines, revised table A, 9 February 2022 (read): blank 6, LOD 10."""
    rule = blank_rule("five_times_estimate", {d.name: d for d in DEFAULTS})
    made = propose(rule, result, 10.0, 6.0)
    assert (made.qualifier, made.limit) == (qualifier, limit)
