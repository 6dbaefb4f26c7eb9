"""Families of cases of which a few are always tried, and the rest with the long tests."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def mostly_long(values: Iterable[Any], every: int) -> list[Any]:
    """Return cases for ``parametrize``: one of so many is always tried, the others are long."""
    return [pytest.param(value, marks=pytest.mark.long if at % every else ()) for at, value in enumerate(values)]
