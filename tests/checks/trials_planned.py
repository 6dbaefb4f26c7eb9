"""Messages about plans and second logs, each followed in the folder of its defect."""

from __future__ import annotations

from functools import partial

from defects_planned import ALL, Planned
from trials import Trial


def _trial(case: Planned) -> Trial:
    folder = partial(case.base, *case.changes)
    return Trial(case.name or case.code, case.code, folder, lambda *_: case.remedy)


PLANNED = tuple(map(_trial, ALL))
