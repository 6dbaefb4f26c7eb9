"""``sitegen kit``: from a checked folder to one that the crew carries, built aside and swapped in."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from sitegen.checking import Progress, check, silent
from sitegen.checks.naming import row_names
from sitegen.checks.privacy import private_words
from sitegen.compute.design.fieldplan import FieldPlan, field_plan
from sitegen.compute.field.stage import stage
from sitegen.compute.place.points import points
from sitegen.fieldwork.kit.compose import CONTACTS, Kit, make
from sitegen.fieldwork.kit.inplace import open_tasks
from sitegen.fieldwork.kit.proof import MARK, changed_since
from sitegen.findings.outcomes import Outcome
from sitegen.findings.problems import OutputFault, Stopped, WrongUse
from sitegen.project.survey import Survey
from sitegen.render.place.swap import clear_leftovers, refuse_bad_place, swap_in
from sitegen.render.print.strings import Words

_MOST_TOLD = 5


def make_kit(folder: Path, out: Path | None, *, contacts: bool, progress: Progress | None = None) -> Outcome:
    """Write the kit of a project folder to ``out``, beside the folder by default, and say what it holds.

    Raises Stopped where findings stop it, WrongUse for a bad place, a kit that somebody has written in, or a
    survey that is over, and OutputFault where a private word would leave or writing fails. In each case the
    last good kit stays as it was.
    """
    say = progress or silent
    target = out or Path(f"{os.path.realpath(folder)}-kit")
    _refuse_place(target, folder)
    survey = _checked(folder, progress)
    plan = field_plan(survey)
    say("kit", 0, 1)
    kit = make(survey, plan, with_contacts=contacts)
    say("scan", 0, 1)
    _require_nothing_private(survey, kit)
    clear_leftovers(target)
    with swap_in(target, MARK) as aside:
        for name, content in kit.files.items():
            (aside / name).parent.mkdir(parents=True, exist_ok=True)
            (aside / name).write_bytes(content)
    short = contacts and CONTACTS not in kit.files
    return Outcome((*_lines(survey, plan, kit), *_contact_lines(kit, short=short), f"kit  {target}"), done=not short)


def _refuse_place(target: Path, folder: Path) -> None:
    """Raise WrongUse where a kit may not be written: what people have put into an older one would be lost."""
    refuse_bad_place(target, folder, MARK)
    changed = changed_since(target) if (target / MARK).is_file() else []
    if changed:
        raise WrongUse(
            f"{target} holds {len(changed)} file(s) that were added or changed since the kit was written: "
            f"{_some(changed)}; move the folder, or state another place with --out"
        )


def _checked(folder: Path, progress: Progress | None) -> Survey:
    """Return the survey of a folder that nothing stops, and whose field work is not over."""
    checked = check(folder, progress)
    survey = checked.survey
    if survey is None or checked.stopped:
        raise Stopped(checked.findings, names=row_names(survey, checked.findings))
    if len(survey.settings.rounds) > 1:
        raise WrongUse(
            "a kit is made for a folder with one round: plan this round in a folder of its own, and name this one "
            "there as earlier under [project]"
        )
    if stage(survey) == "returned":
        raise WrongUse(
            "nothing to take to the field: a kit needs planned points in locations/locations.csv, and a survey "
            "that has no sample at the laboratory yet"
        )
    return survey


def _require_nothing_private(survey: Survey, kit: Kit) -> None:
    found = kit.private_words(Words(private_words(survey.folder)))
    if found:
        raise OutputFault(
            f"words of the folder's private tables would appear in {len(found)} file(s) of the kit: {_some(found)}; "
            "remove them from the record (sitegen check lists the cells): only contacts.pdf may contain them"
        )


def _lines(survey: Survey, plan: FieldPlan, kit: Kit) -> Iterator[str]:
    """Yield what a person should know of a kit, unsurveyed points first."""
    tasks = open_tasks(survey, plan)
    placed = sum(task.row is not None for task in tasks)
    yield f"points in the plan: {len(plan.points) + len(plan.unplaced)}"
    yield f"samplers to install: {len(tasks) - placed}; in place and to be retrieved: {placed}"
    kept = {point.location_id for point in plan.points}
    unsurveyed = [point.location_id for point in points(survey) if point.as_planned and point.location_id in kept]
    if unsurveyed:
        yield f"points with a planned position only, not surveyed: {len(unsurveyed)} ({_some(unsurveyed)})"
    if plan.unplaced:
        yield f"points without a position, not on any map: {len(plan.unplaced)} ({_some(plan.unplaced)})"
    if missing := kit.undrawable():
        yield f"characters that cannot be printed, replaced by a placeholder: {len(missing)} ({_some(missing)})"


def _contact_lines(kit: Kit, *, short: bool) -> Iterator[str]:
    if short:
        yield f"{CONTACTS} was not written: no table in private/ can be read"
    elif CONTACTS in kit.files:
        yield f"{CONTACTS} contains personal data"


def _some(names: list[str] | tuple[str, ...]) -> str:
    more = f" and {len(names) - _MOST_TOLD} more" if len(names) > _MOST_TOLD else ""
    return f"{', '.join(names[:_MOST_TOLD])}{more}"
