"""What was written down as text, beside the tests that ask for it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from difflib import unified_diff
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def require_written(path: Path, lines: Iterable[str]) -> None:
    """Require that lines are those of a file, blanks at their ends aside.

    Else the difference is told, and left as a patch: whoever has looked at each of its lines, and wants them so,
    applies it.
    """
    place, text = path.relative_to(ROOT).as_posix(), path.read_text("utf-8").splitlines()
    difference = [*unified_diff(text, [line.rstrip() for line in lines], f"a/{place}", f"b/{place}", lineterm="")]
    if difference:
        patch = Path(tempfile.mkdtemp(prefix="written-")) / f"{path.stem}.patch"
        patch.write_text("\n".join([*difference, ""]), "utf-8")
        raise AssertionError("\n".join([f"wanted so? git apply {patch}", *difference]))
