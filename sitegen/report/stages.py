"""Which pages, chapters, map and data a report has, by how far the survey has come: the one place that decides it.

| stage | report |
| --- | --- |
| planned | the work plan |
| in_field | the work plan, and what is on record from the field |
| returned | results, field record, quality, and the evidence behind them |
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import TypeAlias

from sitegen.compute.field.stage import Stage
from sitegen.compute.place.neighbours import neighbours
from sitegen.figures.ground import Ground
from sitegen.project.reads import reading
from sitegen.project.theme import own_pages
from sitegen.report.bound.chapters import chapters
from sitegen.report.bound.front import TOLD_PAGES, front_pages, own_page
from sitegen.report.data.exports import export_tables
from sitegen.report.evidence.calculation import calculation_page
from sitegen.report.evidence.defence import defence_pages
from sitegen.report.evidence.mapping import mapping_pages
from sitegen.report.evidence.methods import methods_page
from sitegen.report.evidence.sensitivity import sensitivity_pages
from sitegen.report.field.custody import custody_pages
from sitegen.report.field.fieldwork import field_pages
from sitegen.report.outside import outside_pages
from sitegen.report.plan.downloads import plan_exports
from sitegen.report.plan.points import planned_points
from sitegen.report.plan.webmap import plan_map_data
from sitegen.report.plan.whole import field_record_chapters, field_record_pages, plan_chapters, plan_pages, told_pages
from sitegen.report.points.location import location_pages
from sitegen.report.points.sheets import sheet_volumes
from sitegen.report.quality.page import quality_page
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.maps import MapData
from sitegen.report.record.pages import Chapter, Meta, Page, Volume
from sitegen.report.results.compound import compound_pages
from sitegen.report.results.gaps import gap_pages
from sitegen.report.results.patterns import pattern_pages
from sitegen.report.results.relations import relations_page
from sitegen.report.rounds.mapviews import round_map_data
from sitegen.report.rounds.pages import round_pages
from sitegen.report.rounds.pictures import with_round_pictures
from sitegen.report.rounds.sections import with_other_rounds
from sitegen.report.write.context import Context
from sitegen.report.write.traced import each_traced

Told: TypeAlias = Callable[[Context, MapData, Ground | None], Iterator[Page]]
Pages: TypeAlias = Callable[[Context, str, MapData, Ground | None], Iterator[Page]]
Chapters: TypeAlias = Callable[[Context, Ground | None, Meta, tuple[Volume, ...]], Iterator[Chapter]]
Exports: TypeAlias = Callable[[Context, Meta], tuple[ExportTable, ...]]

ADVICE, FIELD, REVIEWERS = "Findings and advice", "Field and custody", "For reviewers"

RESULT_GROUPS = ("Summary", ADVICE, "Results", "Air", FIELD, "Quality", "Data", REVIEWERS)
PLAN_GROUPS = ("Summary", "Work plan", ADVICE, "Quality", "Data", REVIEWERS)
FIELD_GROUPS = ("Summary", "Work plan", FIELD, ADVICE, "Quality", "Data", REVIEWERS)
FORMER_GROUPS: Mapping[str, str] = {"Report": ADVICE, "Field record": FIELD, "Methods": "Quality"}
"""Groups as plug-ins knew them before, each with the one that has its pages now."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What a report of a stage is made of.

    ``groups`` head its navigation; ``told`` yields the pages that print the narrative, ``pages`` those about the
    survey (those of ``told`` among them), ``chapters`` the printed report, ``volumes`` what it has no room for.
    """

    groups: tuple[str, ...]
    told: Told
    pages: Pages
    chapters: Chapters
    volumes: Callable[[Context], tuple[Volume, ...]]
    map: Callable[[Context], MapData]
    exports: Exports


def shape_of(context: Context) -> Shape:
    """Return what the report of a survey is made of; a plan whose samplers were sent has their custody to tell."""
    with reading():
        sent = len(context.survey.frame("samplers")) > 0
    return SHAPES["in_field" if sent and context.stage == "planned" else context.stage]


def _told_of_results(context: Context, data: MapData, drawn: Ground | None) -> Iterator[Page]:
    return islice(front_pages(context, data, drawn), TOLD_PAGES)


def _result_pages(context: Context, tool: str, data: MapData, drawn: Ground | None) -> Iterator[Page]:
    yield from each_traced(front_pages(context, data, drawn))
    yield from each_traced(
        with_other_rounds(context, with_round_pictures(context, drawn, compound_pages(context, drawn)))
    )
    yield relations_page(context)
    yield from each_traced(pattern_pages(context, drawn))
    points = location_pages(context, neighbours(context.evaluation.points))
    yield from each_traced(with_other_rounds(context, points))
    yield from each_traced(round_pages(context, drawn))
    yield from each_traced(field_pages(context, drawn))
    yield from each_traced(custody_pages(context))
    yield quality_page(context)
    yield from each_traced(defence_pages(context))
    yield from each_traced(mapping_pages(context))
    yield from each_traced(gap_pages(context, drawn))
    yield from each_traced(sensitivity_pages(context, drawn))
    yield methods_page(context, tool)
    yield calculation_page(context)
    yield from outside_pages(context, RESULT_GROUPS, FORMER_GROUPS)


def _plan_pages(context: Context, tool: str, data: MapData, drawn: Ground | None) -> Iterator[Page]:
    yield from each_traced(plan_pages(context, tool, data, drawn))
    yield from _own_and_outside(context, PLAN_GROUPS)


def _field_pages(context: Context, tool: str, data: MapData, drawn: Ground | None) -> Iterator[Page]:
    yield from each_traced(field_record_pages(context, tool, data, drawn))
    yield from _own_and_outside(context, FIELD_GROUPS)


def _own_and_outside(context: Context, groups: tuple[str, ...]) -> Iterator[Page]:
    """Yield the project's own pages, and those of plug-ins that have a place here: none among results."""
    yield from (own_page(context, own) for own in own_pages(context.survey))
    yield from (page for page in outside_pages(context, RESULT_GROUPS, FORMER_GROUPS) if page.group in groups)


def _no_volumes(context: Context) -> tuple[Volume, ...]:
    """Return no volumes: the sheets of a plan have no table of results, and are all in the work plan."""
    del context
    return ()


def _plan_exports(context: Context, meta: Meta) -> tuple[ExportTable, ...]:
    return plan_exports(context, meta, planned_points(context))


SHAPES: Mapping[Stage, Shape] = {
    "planned": Shape(
        PLAN_GROUPS, told_pages, _plan_pages, plan_chapters, _no_volumes, plan_map_data, _plan_exports,
    ),
    "in_field": Shape(
        FIELD_GROUPS, told_pages, _field_pages, field_record_chapters, _no_volumes, plan_map_data, _plan_exports,
    ),
    "returned": Shape(
        RESULT_GROUPS, _told_of_results, _result_pages, chapters, sheet_volumes, round_map_data, export_tables,
    ),
}  # fmt: skip
