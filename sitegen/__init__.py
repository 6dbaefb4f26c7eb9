"""Build a report, data exports and an archive from a passive soil-gas survey's project folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sitegen.library import Survey

__version__ = "0.1.0"


def read(folder: str | Path) -> Survey:
    """Read and check a project folder, for notebooks and scripts; see :mod:`sitegen.library`.

    Raises WrongUse where ``folder`` is no folder.
    """
    from sitegen import library  # noqa: PLC0415 - the command doesn't load what it doesn't need

    return library.read(folder)
