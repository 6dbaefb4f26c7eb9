"""How large a thing may be before it is refused: each bound is a record with its unit and its reason."""

from __future__ import annotations

from typing import NamedTuple


class Bound(NamedTuple):
    """The most that is accepted of something: ``value`` of ``unit``, and why no more."""

    name: str
    value: int
    unit: str
    reason: str

    @property
    def text(self) -> str:
        """The bound as a message says it.

        >>> Bound("vertices", 200_000, "vertices", "").text
        'at most 200,000 vertices'
        """
        return f"at most {self.value:,} {self.unit}"
