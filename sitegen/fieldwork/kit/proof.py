"""The record of a kit, by which can be proved later what was carried, and whether it was changed since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from sitegen.checking import TOOL
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.compute.field.stage import stage
from sitegen.fieldwork.form.plandata import plan_data
from sitegen.project.survey import Survey
from sitegen.project.zones import ZONE_DATA_VERSION

MARK = "kit.json"
"""A folder that carries this file is a kit; others are never replaced."""


def kit_record(survey: Survey, plan: FieldPlan, files: Mapping[str, bytes]) -> bytes:
    """Return ``kit.json``: what the kit is of, what made it, and the SHA-256 of each of its other files.

    ``form`` is the digits by which exports of the field form name the kit that they come from.
    """
    record = {
        "project": survey.settings.project.id,
        "revision": survey.settings.project.revision,
        "stage": stage(survey),
        "content_digest": survey.digest,
        "tool": TOOL,
        "time_zone_data": ZONE_DATA_VERSION,
        "points": len(plan.points) + len(plan.unplaced),
        "samplers": plan.allocation.counts.samplers,
        "form": plan_data(survey, plan)["kit"],
        "files": {name: hashlib.sha256(files[name]).hexdigest() for name in sorted(files)},
    }
    return (json.dumps(record, indent=1, ensure_ascii=False) + "\n").encode()


def changed_since(folder: Path) -> list[str]:
    """Return the files of a kit that were added, or changed, since it was written, in path order.

    A kit whose record can't be read counts as changed throughout.
    """
    there = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    there.pop(MARK, None)
    try:
        written = json.loads((folder / MARK).read_text("utf-8"))["files"]
    except (ValueError, KeyError, TypeError):
        return sorted(there)
    known = written if isinstance(written, dict) else {}
    return sorted(name for name, path in there.items() if known.get(name) != _sha256(path))


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
