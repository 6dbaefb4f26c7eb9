"""The kit's README: what is what, in the order of the day."""

from __future__ import annotations

from collections.abc import Mapping
from textwrap import fill

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.checking import TOOL
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.kit.inplace import open_tasks
from sitegen.fieldwork.kit.prefilled import HOW_TO_USE
from sitegen.kept import InVoice
from sitegen.project.survey import Survey
from sitegen.render.place.bag import one_line

_WIDTH = 78


def readme(survey: Survey, plan: FieldPlan, files: Mapping[str, bytes]) -> bytes:
    """Return the README as plain text; what the project says keeps to its line."""
    tasks = open_tasks(survey, plan)
    facts = {
        "project": survey.settings.project,
        "digest": survey.digest,
        "tool": TOOL,
        "zone": survey.time_zone,
        "points": len(plan.points) + len(plan.unplaced),
        "unplaced": len(plan.unplaced),
        "to_place": sum(task.row is None for task in tasks),
        "to_retrieve": sum(task.row is not None for task in tasks),
        "counts": plan.allocation.counts,
        "stakeout": sorted(name for name in files if name.startswith("stakeout/")),
        "tables": sorted(name for name in files if name.startswith("tables/")),
        "how_to_use": fill(HOW_TO_USE, _WIDTH, initial_indent="  ", subsequent_indent="  ").splitlines(),
        "personal": "contacts.pdf" in files,
    }
    return _environment().get_template("readme.txt.j2").render(**facts).encode()


def _environment() -> Environment:
    """Return an environment whose facts can't begin lines of their own."""
    made = Environment(
        loader=PackageLoader("sitegen", "templates/kit"),
        extensions=[InVoice],
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=lambda fact: one_line(str(fact)),
        autoescape=False,  # noqa: S701 - plain text
    )
    made.filters["below"] = lambda names: [name.partition("/")[2] for name in names]
    return made
