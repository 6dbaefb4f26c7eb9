"""Axes of charts: decades and plain numbers, with their ticks as text."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from matplotlib.ticker import MaxNLocator

from sitegen.voice import thousands


@dataclass(frozen=True, slots=True)
class LogAxis:
    """A decade axis from 10^low at ``start`` to 10^high at ``end`` (drawing units)."""

    start: float
    end: float
    low: int
    high: int

    @classmethod
    def over(cls, values: Iterable[float], start: float, end: float) -> LogAxis:
        """Span whole decades around the values, at least one.

        Raises ValueError where a value is not above zero.
        """
        listed = list(values)
        if any(value <= 0 for value in listed):
            raise ValueError("a value on a decade axis must be above zero")
        low = math.floor(math.log10(min(listed, default=1.0)))
        high = max(math.ceil(math.log10(max(listed, default=10.0))), low + 1)
        return cls(start, end, low, high)

    def at(self, value: float) -> float:
        """Place a value, held within the axis.

        >>> LogAxis(0, 100, 0, 2).at(10)
        50.0
        """
        share = (math.log10(value) - self.low) / (self.high - self.low)
        return self.start + (self.end - self.start) * min(max(share, 0.0), 1.0)

    @property
    def ticks(self) -> tuple[tuple[float, str], ...]:
        """The whole decades, each with its text."""
        powers = range(self.low, self.high + 1)
        return tuple((10.0**p, thousands(f"{10**p:,}") if p >= 0 else f"{10.0**p:.{-p}f}") for p in powers)


@dataclass(frozen=True, slots=True)
class PlainAxis:
    """A plain axis from ``low`` at ``start`` to ``high`` at ``end`` (drawing units)."""

    start: float
    end: float
    low: float
    high: float

    def at(self, value: float) -> float:
        """Place a value.

        >>> PlainAxis(0, 100, 0, 4).at(1)
        25.0
        """
        return self.start + (self.end - self.start) * (value - self.low) / (self.high - self.low)

    @property
    def ticks(self) -> tuple[tuple[float, str], ...]:
        """Round values within the axis, each with its text."""
        found = MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10]).tick_values(self.low, self.high)
        return tuple((float(v), thousands(f"{v:,.10g}")) for v in found if self.low <= v <= self.high)
