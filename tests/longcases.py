"""Families of cases of which a few are always tried, and the rest with the long tests."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def mostly_long(cases: Iterable[Any], every: int) -> list[Any]:
    """Return cases for ``parametrize``: one of so many is always tried, the others are long; a tuple is one case."""
    arguments = (case if isinstance(case, tuple) else (case,) for case in cases)
    return [pytest.param(*one, marks=pytest.mark.long if at % every else ()) for at, one in enumerate(arguments)]
