"""How sure an entry of a drafted mapping is, in words, and the entry itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal, TypeAlias

Sure: TypeAlias = Literal["certain", "likely", "a guess", "to be said", "left out"]
CERTAIN: Sure = "certain"
LIKELY: Sure = "likely"
GUESS: Sure = "a guess"
ASK: Sure = "to be said"
"""What the file does not tell: a person must say it, and nothing is read without it."""

LEFT: Sure = "left out"
"""A line that can't serve, written as a remark so that a person sees why."""

Plain: TypeAlias = str | int | bool | Decimal
Value: TypeAlias = Plain | list[str] | list[int] | Mapping[str, Plain]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of a drafted mapping: table, key, value, how sure it is, and what was seen.

    Of an entry that a person must say, ``value`` shows the form; ``blocks`` writes it as a line that nothing
    is read with, where leaving it out would choose silently.
    """

    table: str
    key: str
    value: Value
    sure: Sure
    seen: str
    blocks: bool = False
