"""The command, in lines for a person."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sitegen.checking import Progress
from sitegen.findings.outcomes import Outcome


def take_in(folder: Path, exports: Sequence[Path], *, progress: Progress | None = None) -> Outcome:
    """Do it."""
    raise NotImplementedError
