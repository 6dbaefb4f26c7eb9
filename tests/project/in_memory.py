"""Project folders in memory: the example with files put in, changed or taken out."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from sitegen.project.folder import Folder, InputFile, read_folder

EXAMPLE = Path(__file__).parents[2] / "example_project"


@cache
def example() -> Folder:
    """Return the example project, read once."""
    return read_folder(EXAMPLE)


def folder_of(files: Mapping[str, bytes]) -> Folder:
    """Return a folder that holds these files."""
    made = {
        path: InputFile(path, hashlib.sha256(content).hexdigest(), content) for path, content in sorted(files.items())
    }
    return Folder(made, (), ())


def example_with(changes: Mapping[str, bytes | None]) -> Folder:
    """Return the example with files put in their places; None takes one away."""
    files = {path: file.content for path, file in example().files.items()} | changes
    return folder_of({path: content for path, content in files.items() if content is not None})
