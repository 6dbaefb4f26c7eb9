"""Cautions: what can hurt someone at this site, as far as the record shows it, and who decides."""

from __future__ import annotations

from dataclasses import dataclass

from sitegen.compute.design.surround import NearUtility, nearest_utilities
from sitegen.project.survey import Feature
from sitegen.report.plan.points import occupied_buildings
from sitegen.report.record.pages import Block, Callout, Cell, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import POINT
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say, word
from sitegen.voice import worded

PAGE = Ref("page", "cautions")


def cautions_page(context: Context) -> Page:
    """Return the page of cautions."""
    return Page(PAGE, worded("Cautions"), say("plan.cautions_lead"), cautions_blocks(context), group="Work plan")


@traced
def cautions_blocks(context: Context) -> tuple[Block, ...]:
    """Return the cautions, by what can go wrong."""
    points = [p for _, p in context.in_order((p.location_id, p) for p in context.evaluation.plan.points)]
    paved = [one.location_id for one in points if one.ground == "paved"]
    slab = [one.location_id for one in points if one.ground == "slab"]
    inside = [one.location_id for one in points if one.medium in ("indoor_air", "sub_slab", "crawl_space")]
    return (
        Callout("caution", worded("Before any hole"), markdown("field.caution")),
        Section("utilities", worded("Underground utilities"),
                (prose("plan.caution_utilities"), utilities_table(context))),
        Section("dust", worded("Dust, noise and tools"), (prose("plan.caution_dust", paved=paved, slab=slab),)),
        Section("traffic", worded("Traffic"), (prose("plan.caution_traffic", paved=paved),)),
        Section("electricity", worded("Electricity"), (prose("plan.caution_electricity", slab=slab),)),
        Section("buildings", say("plan.buildings_title"), (prose("plan.caution_buildings", inside=inside),
                                                           buildings_table(context))),
        Section("decides", worded("Responsibility"), (prose("plan.caution_decides"),)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Near:
    """A planned hole and its nearest mapped utility."""

    location_id: str
    utility: NearUtility


@traced
def utilities_table(context: Context) -> Table:
    """Return each planned hole with its nearest mapped utility, nearest first."""
    points = [point for point in context.evaluation.plan.points if point.ground != "air"]
    near = nearest_utilities(context.survey, points)
    found = [_Near(point.location_id, near[point.location_id]) for point in points if point.location_id in near]
    limit = context.evaluation.limits["utility_distance_m"]
    columns: list[Spec[_Near]] = [
        POINT,
        Spec("utility", "Nearest mapped utility", cell=lambda one: one.utility.name or "–"),
        Spec("type", "Type", cell=lambda one: one.utility.type or worded("not recorded")),
        Spec("distance", "Distance", "m", "number", cell=lambda one: _distance(one, limit.value)),
    ]
    caption = say("plan.utilities_caption")
    note = say("plan.utilities_note", limit=limit.text, source=limit.source)
    found.sort(key=lambda one: (one.utility.distance_m, one.location_id))
    return table("near-utilities", caption, columns, found, note=note, empty=say("plan.no_utility_mapped"))


def _distance(one: _Near, limit_m: float) -> Cell:
    return Cell(f"{one.utility.distance_m:.2f}", tone="flag" if one.utility.distance_m < limit_m else "")


@traced
def buildings_table(context: Context) -> Table:
    """Return the buildings on record: occupied or not, and the points in or beside them."""
    occupied = occupied_buildings(context)
    columns: list[Spec[Feature]] = [
        Spec("name", "Building", cell=lambda one: one.name or "–"),
        Spec("occupied", "Occupied", cell=lambda one: _flag(one, "occupied", strong=one.name in occupied)),
        Spec("basement", "Basement", cell=lambda one: _flag(one, "basement")),
        Spec("points", "Points in or next to it", kind="wide", cell=lambda one: _points(context, one.name)),
    ]
    found = [one for one in context.survey.features if one.kind == "building"]
    return table("buildings", say("plan.buildings_caption"), columns, found, empty=say("plan.no_buildings"))


def _flag(one: Feature, name: str, *, strong: bool = False) -> Cell:
    return Cell(word("recorded", str(one.properties.get(name) or "")), tone="strong" if strong else "")


def _points(context: Context, name: str) -> str:
    return ", ".join(point.location_id for point in context.evaluation.plan.points if name == point.building) or "–"
