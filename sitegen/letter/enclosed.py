"""The report that goes with a letter: only one that was built from the very content that the letter is about."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sitegen.findings.problems import WrongUse, usable
from sitegen.project import limits
from sitegen.render.data.downloads import PRINTED
from sitegen.render.place.fixity import Fixity, fixities_below, tree_digest
from sitegen.render.place.swap import MARK
from sitegen.report.record.letters import Enclosed, EnclosedFile

_TO_HAND_OVER = "downloads/"
_SHORT = 8
"""Characters of a digest that every page shows."""


class OtherReport(Exception):
    """A report is there that does not go with a letter; its text says why."""


def enclosed_report(folder: Path, digest: str) -> Enclosed:
    """Return what is enclosed of the report in ``folder``, if it was built from the content of ``digest``.

    Raises WrongUse where no report is there, OtherReport where it is one of other content, or where its
    files are not those that were built.
    """
    with usable(folder):
        told = _record(folder)
        if told["content_digest"] != digest:
            then, now = told["content_digest"][:_SHORT], digest[:_SHORT]
            raise OtherReport(f"it was built from other content ({then}, now {now}); build it anew")
        found = fixities_below(folder / "site")
    if tree_digest(found) != told["output_digest"]:
        raise OtherReport("its files differ from those built: one was changed, added or removed")
    return _enclosed(folder, told["status"], found, told["output_digest"])


def _record(folder: Path) -> Mapping[str, str]:
    """Return what a report says of itself. Raises WrongUse where it says nothing that can be read."""
    if not (folder / MARK).is_file():
        raise WrongUse(f"{folder} is not a report built by sitegen: it has no {MARK}")
    with (folder / MARK).open("rb") as stream:
        content = stream.read(limits.RECORD_BYTES.value + 1)
    try:
        told: Any = json.loads(content) if len(content) <= limits.RECORD_BYTES.value else None
    except (ValueError, RecursionError):
        told = None
    names = ("content_digest", "output_digest", "status")
    if not isinstance(told, dict) or not all(isinstance(told.get(name), str) for name in names):
        raise WrongUse(f"{folder / MARK} is not the record of a build")
    return {name: told[name] for name in names}


def _enclosed(folder: Path, status: str, found: Mapping[str, Fixity], digest: str) -> Enclosed:
    names = sorted((name for name in found if name.startswith(_TO_HAND_OVER)), key=lambda name: (name != PRINTED, name))
    files = tuple(EnclosedFile(f"site/{name}", found[name].size, found[name].sha256) for name in names)
    return Enclosed(folder.name, status, files, len(found), sum(one.size for one in found.values()), digest)
