"""Which samplers are still to be placed or to be retrieved, by the plan and by what is on record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sitegen.compute.design.allocation import Slot, Use
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, Sampler

_GONE = ("lost", "destroyed")


@dataclass(frozen=True, slots=True)
class Task:
    """A sampler to place, or one that is in place and to be retrieved: then ``row`` is its record.

    ``label`` is the field sample id of the plan; of a sampler that is placed where none was planned, its own.
    """

    label: str
    use: Use
    location_id: str
    parent: str
    row: Deployment | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """What is on record of the samplers at the points: rows that no other replaced, and what each sampler is."""

    rows: tuple[Deployment, ...]
    samplers: Mapping[str, Sampler]

    def use(self, row: Deployment) -> Use:
        """Return what a placed sampler serves as."""
        sampler = self.samplers.get(row.sampler_id)
        if sampler and sampler.kind == "field_blank":
            return "field_blank"
        return "field_duplicate" if row.duplicate_of else "sample"

    def done(self, row: Deployment) -> bool:
        """Tell whether a sampler is out of its place, or known to be gone."""
        sampler = self.samplers.get(row.sampler_id)
        gone = sampler is not None and sampler.outcome in _GONE
        return bool(row.retrieved_at) or row.condition == "not_recovered" or gone

    def at(self, location_id: str, use: Use) -> tuple[Deployment, ...]:
        """Return the rows of one use at a point."""
        return tuple(row for row in self.rows if row.location_id == location_id and self.use(row) == use)


def record(survey: Survey) -> Record:
    """Return what a survey has on record of placed samplers."""
    rows = survey.rows(Deployment)
    replaced = {row.replaces for row in rows if row.replaces}
    kept = tuple(row for row in rows if row.sampler_id not in replaced)
    return Record(kept, {row.sampler_id: row for row in survey.rows(Sampler)})


def open_tasks(survey: Survey, plan: FieldPlan) -> tuple[Task, ...]:
    """Return what is to be placed or retrieved, in walking order; each duplicate comes after its parent.

    A planned duplicate or field blank is open as long as fewer are on record than planned: the crew may have
    placed one elsewhere. A sampler in place at a point that has left the plan is still to be retrieved.
    """
    known = record(survey)
    count = Counter(map(known.use, known.rows))
    slots = plan.allocation
    spare = {use: max(0, len(slots.of(use)) - count[use]) for use in ("field_duplicate", "field_blank")}
    way = dict.fromkeys([slot.location_id for slot in slots.of("sample")])
    beyond = dict.fromkeys(row.location_id for row in known.rows if row.location_id not in way)
    doubled = {slot.location_id: slot for slot in slots.of("field_duplicate")}
    free = [name for name in doubled if not known.at(name, "field_duplicate")][: spare["field_duplicate"]]
    twins = {name: doubled[name] for name in free}
    tasks = [task for name in way for task in _at_point(name, known, twins, planned=True)]
    tasks += [task for name in beyond for task in _at_point(name, known, {}, planned=False)]
    blanks = slots.of("field_blank")
    return (*tasks, *_blanks(known, blanks[len(blanks) - spare["field_blank"] :]))


def _at_point(name: str, known: Record, twins: Mapping[str, Slot], *, planned: bool) -> Iterator[Task]:
    first = known.at(name, "sample")
    yield from (Task(name, "sample", name, "", row) for row in first if not known.done(row))
    if planned and not first:
        yield Task(name, "sample", name, "")
    beside = known.at(name, "field_duplicate")
    yield from (Task(f"{name}-D", "field_duplicate", name, name, row) for row in beside if not known.done(row))
    if name in twins:
        yield Task(twins[name].label, "field_duplicate", name, name)


def _blanks(known: Record, slots: Sequence[Slot]) -> Iterator[Task]:
    for row in known.rows:
        if known.use(row) == "field_blank" and not known.done(row):
            sampler = known.samplers[row.sampler_id]
            yield Task(sampler.label or row.sampler_id, "field_blank", row.location_id, "", row)
    yield from (Task(slot.label, "field_blank", "", "") for slot in slots)
