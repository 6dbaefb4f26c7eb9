"""The facts of a letter: texts with a number or a date, each with the row or the tables behind it.

A fact is a token of the narrative (:mod:`sitegen.compute.text.tokens`) or a text that a block of the
report prints. Which were put into a sentence is noted while its template is filled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from sitegen.compute.field.exposure import Placement
from sitegen.compute.picture.leading import highest_by_group
from sitegen.compute.results.screening import Exceedance
from sitegen.compute.text.tokens import BY_COMPOUND
from sitegen.project.reads import reading
from sitegen.project.schema import SETTINGS_FILE
from sitegen.project.tables import StatedLevel
from sitegen.report.results.aircells import concentration_cell
from sitegen.report.results.compound import highest_marked
from sitegen.report.results.headlines import NAMED
from sitegen.report.write.context import Context
from sitegen.report.write.words import say
from sitegen.voice import thousands

Place = tuple[str, int, str]
"""A file, the row in it (0 where it has none) and the column or key."""


class Fact(NamedTuple):
    """A text of a letter by its name; ``place`` is its row, ``reads`` name what else it was computed from."""

    name: str
    text: str
    reads: frozenset[str] = frozenset()
    place: Place | None = None


class Facts(Mapping[str, str]):
    """The texts of facts by name, for a template; ``used`` are the facts that were asked for."""

    def __init__(self, facts: Mapping[str, Fact]) -> None:
        self._facts = facts
        self.used: dict[str, Fact] = {}

    def __getitem__(self, name: str) -> str:
        fact = self._facts[name]
        self.used[name] = fact
        return fact.text

    def __iter__(self) -> Iterator[str]:
        return iter(self._facts)

    def __len__(self) -> int:
        return len(self._facts)


_BEHIND: Mapping[str, Callable[[Context], object]] = {
    "count.locations": lambda context: context.evaluation.completeness,
    "count.samplers": lambda context: (context.evaluation.placements, context.survey.frame("samplers")),
    "count.results": lambda context: context.evaluation.primary,
    "count.detections": lambda context: context.evaluation.primary,
    "count.compounds": lambda context: (context.evaluation.compounds, context.evaluation.primary),
    "count.bags": lambda context: context.survey.frame("return_bags"),
    "count.shipments": lambda context: context.survey.frame("shipments"),
    "exposure.": lambda context: (context.evaluation.placements, context.evaluation.median_exposure_min),
    "date.placed": lambda context: context.evaluation.placements,
    "date.retrieved": lambda context: context.evaluation.placements,
}
"""What tokens are computed from, by the beginning of their names; those of the settings have a place instead."""

_SETTINGS = {"date.report": "report_date", "revision": "revision", "status": "status"}


def token_facts(context: Context) -> dict[str, Fact]:
    """Return the tokens as facts, those of single compounds aside."""
    places = _places(context)
    return {
        name: Fact(name, text, place=places[name]) if name in places else Fact(name, text, token_reads(context, name))
        for name, text in context.tokens.items()
        if name.partition(".")[0] not in BY_COMPOUND
    }


def token_reads(context: Context, name: str) -> frozenset[str]:
    """Return the tables that a token is computed from."""
    with reading() as seen:
        for start, look in _BEHIND.items():
            if name.startswith(start):
                look(context)
    return frozenset(seen)


def _places(context: Context) -> dict[str, Place]:
    """Return the one row or setting behind each token that has one."""
    settings = {
        name: (SETTINGS_FILE, 0, f"project.{_SETTINGS.get(name, name.removeprefix('project.'))}")
        for name in context.tokens
        if name in _SETTINGS or name.startswith("project.")
    }
    with reading():
        return settings | _places_of_days(context.evaluation.placements)


def _places_of_days(placements: tuple[Placement, ...]) -> dict[str, Place]:
    found: dict[str, Place] = {}
    for what in ("placed", "retrieved"):
        known = [
            (utc, p.origin.cell(f"{what}_at"))
            for p in placements
            if (utc := getattr(p, f"{what}_utc")) is not None and utc >= 0 and getattr(p, f"{what}_at")
        ]
        if known:
            found[f"date.{what}.first"], found[f"date.{what}.last"] = min(known)[1], max(known)[1]
    exposed = [
        (p.exposure_min, p.origin.cell("retrieved_at"))
        for p in placements
        if p.recovered and p.exposure_min is not None
    ]
    if exposed:
        found["exposure.days.shortest"], found["exposure.days.longest"] = min(exposed)[1], max(exposed)[1]
    return found


def media_facts(context: Context) -> dict[str, Fact]:
    """Return planned points, and those with results, of each medium group."""
    with reading() as seen:
        groups = context.evaluation.completeness.planned_by
    return {
        f"points.{group.group}.{stage}": Fact(
            f"points.{group.group}.{stage}", thousands(f"{group.counts[at]:,}"), frozenset(seen)
        )
        for group in groups
        for stage, at in (("planned", 0), ("analysed", 3))
    }


def highest_facts(context: Context) -> tuple[Fact, ...]:
    """Return the highest masses that the report opens with, each with its row."""
    with reading():
        tops = list(highest_by_group(context.evaluation).values())[:NAMED]
        rows = [context.by_key.get((soil.highest_sample, soil.analyte_id)) for soil in tops]
    return tuple(
        Fact(f"max.{soil.analyte_id}", highest_marked(context, soil), place=row.origin.cell("value"))
        for soil, row in zip(tops, rows, strict=True)
        if row
    )


def level_facts(context: Context) -> Iterator[Fact]:
    """Yield each concentration above a screening level, and each level that it is above, with their rows.

    A level has none where the same set is on file twice for a compound and medium.
    """
    with reading() as seen:
        over = context.evaluation.exceedances
        levels = context.survey.rows(StatedLevel)
    for one in over:
        yield _concentration(context, one, frozenset(seen))
        for level in dict.fromkeys(compared.level for compared in one.above):
            key = (level.level_set, level.analyte_id, level.medium, level.land_use)
            rows = [row for row in levels if (row.level_set, row.analyte_id, row.medium, row.land_use) == key]
            place = rows[0].origin.cell("value") if len(rows) == 1 else None
            text = say("letter.level", level=level)
            behind = frozenset() if place else frozenset({"screening_levels"})
            yield Fact(f"level.{level.analyte_id}", text, behind, place)


def _concentration(context: Context, one: Exceedance, reads: frozenset[str]) -> Fact:
    """Return a concentration with the row of its mass; a rate and an exposure are behind it as well."""
    found = one.concentration
    row = context.by_key[found.lab_sample_id, found.analyte_id]
    text = say("letter.concentration", value=concentration_cell(context, found).text)
    return Fact(f"concentration.{found.analyte_id}", text, reads, row.origin.cell("value"))
