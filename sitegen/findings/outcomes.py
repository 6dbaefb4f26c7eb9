"""What a command did, in lines for a person."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command has to say, line by line, and whether it did all that it was asked for."""

    lines: tuple[str, ...]
    done: bool = True
