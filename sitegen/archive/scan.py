"""Look for private words in everything that a bag is about to hold."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sitegen.render.print_volumes import printed_reports
from sitegen.render.strings import Words, held
from sitegen.report.records import Report

THIRD_PARTY = ("data/site/assets/",)
"""Scripts and style sheets of installed packages, the same for every project."""

SITE = "data/site/"


def private_places(root: Path, report: Report, words: Sequence[str]) -> tuple[str, ...]:
    """Return the paths below the bag ``root`` whose name or text holds one of ``words``, as read there."""
    wanted = Words(words)
    found = held(root, wanted, printed_reports(report, SITE), THIRD_PARTY) if wanted else ()
    return tuple(dict.fromkeys(name for name, _ in found))
