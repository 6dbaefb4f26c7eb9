"""The command, in lines for a person."""

from __future__ import annotations

from pathlib import Path

from sitegen.checking import Progress
from sitegen.findings.outcomes import Outcome


def make_evening(folder: Path, out: Path | None, *, progress: Progress | None = None) -> Outcome:
    """Do it."""
    raise NotImplementedError
