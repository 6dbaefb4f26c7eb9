"""Look for private words in everything that a bag is about to hold."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from sitegen.render.print.strings import Words, search_files
from sitegen.render.volumes import printed_texts
from sitegen.report.record.pages import Printable

THIRD_PARTY = ("data/site/assets/",)
"""Scripts and style sheets of installed packages, the same for every project."""

SITE = "data/site/"


def private_places(root: Path, report: Printable, words: Sequence[str]) -> tuple[str, ...]:
    """Return the paths below the bag ``root`` whose name or text holds one of ``words``, as read there."""
    wanted = Words(words)
    found = search_files(root, wanted, printed_texts(report, SITE), THIRD_PARTY) if wanted else ()
    return tuple(dict.fromkeys(name for name, _ in found))


def plain_paths(paths: Sequence[str], words: Sequence[str]) -> tuple[str, ...]:
    """Return the paths that hold none of ``words`` themselves, so that a text may list them.

    >>> plain_paths(["data/a.csv", "data/Varnhollow.jpg"], ["Varnhollow"])
    ('data/a.csv',)
    """
    wanted = Words(words)
    return tuple(path for path in paths if not list(wanted.found_in([path])))
