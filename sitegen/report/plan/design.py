"""The design: what the plan is to find out, why points are where they are, and how far apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from sitegen.compute.design.asked import length_text
from sitegen.compute.design.feet import distance_text, in_feet
from sitegen.compute.design.surround import Margin, Spacing, margins, spacing
from sitegen.figures.ground import Ground
from sitegen.figures.planmap import Strip, plan_map
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.tables import Location
from sitegen.report.evidence.missed import missed_section
from sitegen.report.plan.points import Planned, in_plan, places_table
from sitegen.report.record.pages import Block, Figure, Page, Prose, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import section_text
from sitegen.report.write.traced import traced
from sitegen.report.write.words import prose, say, word
from sitegen.voice import worded

PAGE = Ref("page", "design")
DESIGNS = ("grid", "targeted", "background", "added", "")


def design_page(context: Context) -> Page:
    """Return the page on the design."""
    return Page(PAGE, worded("Design"), design_lead(context), design_blocks(context), group="Work plan")


def design_lead(context: Context) -> str:
    """Say how many points are on the grid, targeted and background."""
    return say("plan.design_lead", counts=[f"{n} {word('design', name)}" for name, n in design_counts(context).items()])


def design_counts(context: Context) -> dict[str, int]:
    """Return how many points of the plan have each design, over all media."""
    found = Counter(point.design for point in _in_plan(context))
    return {name or "not_recorded": found[name] for name in DESIGNS if found[name]}


def _in_plan(context: Context) -> list[Location]:
    return [row for row in context.locations if row.status not in ("not_done", "abandoned")]


@traced
def design_blocks(context: Context) -> tuple[Block, ...]:
    """Return what the plan is to find out, its points by group, their spacing, and what they could find."""
    text = section_text(context, "objectives")
    return (
        Section("objectives", worded("Objectives"), (text or prose("plan.no_objectives"),)),
        Section("groups", worded("Points by design"), (groups_table(context),)),
        Section("spacing", worded("Spacing"), (spacing_prose(context),)),
        missed_section(context),
    )


class _Group(NamedTuple):
    """Points of one design and rationale."""

    design: str
    rationale: str
    rows: tuple[Location, ...]


@traced
def groups_table(context: Context) -> Table:
    """Return the points by design and rationale, each group with its media and points."""
    columns: list[Spec[_Group]] = [
        Spec("design", "Design", cell=lambda one: word("design", one.design) if one.design else worded("not recorded")),
        Spec("rationale", "Rationale", kind="wide", cell=lambda one: one.rationale or "–"),
        Spec("count", "Points", kind="number", cell=lambda one: str(len(one.rows))),
        Spec("media", "Media", cell=lambda one: ", ".join(dict.fromkeys(word("medium", r.medium) for r in one.rows))),
        Spec("points", "Point IDs", kind="wide", cell=lambda one: ", ".join(row.location_id for row in one.rows)),
    ]
    return table("design-groups", say("plan.groups_caption"), columns, _groups(context), row_header=-1,
                 empty=say("plan.no_point"))  # fmt: skip


def _groups(context: Context) -> list[_Group]:
    found: dict[tuple[str, str], list[Location]] = {}
    for row in _in_plan(context):
        found.setdefault((row.design, row.rationale), []).append(row)
    ordered = sorted(found, key=lambda key: DESIGNS.index(key[0]))
    return [_Group(*key, tuple(found[key])) for key in ordered]


@traced
def spacing_prose(context: Context) -> Prose:
    """Say how far soil points are from their nearest neighbours, beside the spacing that the plan asks for."""
    points = context.evaluation.plan.points
    asked = context.survey.plan.spacing
    soil = [(point.x_m, point.y_m) for point in points if point.medium in SOIL_MEDIA]
    grid = [(point.x_m, point.y_m) for point in points if point.medium in SOIL_MEDIA and point.design == "grid"]
    return prose(
        "plan.spacing",
        asked=length_text(asked) if asked else "",
        soil=_spacing(spacing(soil)),
        grid=_spacing(spacing(grid)),
    )


def _spacing(found: Spacing | None) -> dict[str, str] | None:
    if found is None:
        return None
    return {
        "points": str(found.points),
        "least": f"{found.least_m:.1f}",
        "median": f"{found.median_m:.1f}",
        "most": f"{found.most_m:.1f}",
    }


@traced
def plan_figure(context: Context, points: Sequence[Planned], ground: Ground) -> Figure:
    """Draw the planned points over the site, with the strips that holes keep off."""
    designs = {one.location_id: one.row.design for one in points}
    found = margins(context.survey, context.evaluation.limits["utility_distance_m"].value)
    feet = in_feet(context.survey)
    strips = [Strip(_strip_words(one, feet=feet), _rings(one.shape)) for one in found]
    drawn = plan_map("plan-map", ground, designs, strips)
    counts = [f"{n} {word('design', name)}" for name, n in design_counts(context).items()]
    words = say("plan.map_words", counts=counts, unplaced=context.unplaced, strips=[one.words for one in strips])
    places = places_table(context, in_plan(context, points))
    return Figure("plan-map", drawn, say("plan.map_caption"), say("plan.map_alt", points=len(ground.points)), words,
                  places, ground.room.placing)  # fmt: skip


def _strip_words(found: Margin, *, feet: bool) -> str:
    return say("plan.strip", of=found.of, width=distance_text(found.width_m, feet=feet), stated=found.stated)


def _rings(shape: BaseGeometry) -> tuple[tuple[tuple[float, float], ...], ...]:
    rings = [ring for part in shapely.get_parts(shape) if part.geom_type == "Polygon"
             for ring in (part.exterior, *part.interiors)]  # fmt: skip
    return tuple(tuple((x, y) for x, y in ring.coords) for ring in rings)
