"""Put the report together: pages for the site, chapters for print, data to download."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sitegen import __version__
from sitegen.compute.custody.signatures import signature_state
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.evidence.difference import Difference
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.split import Part, parts
from sitegen.figures.ground import Ground
from sitegen.findings.problems import Finding
from sitegen.project.read.pictures import picture_kind
from sitegen.project.survey import Survey
from sitegen.project.tables import Photo, ReviewComment
from sitegen.project.theme import LOGO
from sitegen.report.bound.history import history_table
from sitegen.report.data.away import take_away
from sitegen.report.data.downloads import downloads_page
from sitegen.report.data.sheetnotes import workbook
from sitegen.report.evidence.changes import changes_page
from sitegen.report.evidence.changesshown import shown_difference
from sitegen.report.evidence.ledger import ledger_page
from sitegen.report.evidence.missed import missed_section
from sitegen.report.evidence.working import sample, working_page
from sitegen.report.points.sheets import number_volumes
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.maps import MapData
from sitegen.report.record.pages import Bound, Chapter, Look, Meta, Page, PrintedValue, Report
from sitegen.report.record.sheets import Workbook
from sitegen.report.record.takeaway import TakeAway
from sitegen.report.results.lone import atlas, paged
from sitegen.report.results.mapdata import ground
from sitegen.report.review.comments import comment_copy
from sitegen.report.review.findings import comments_page, files_page, findings_page, glossary_page
from sitegen.report.review.lists import checks_page, limits_page
from sitegen.report.rounds.sides import several
from sitegen.report.stages import RESULT_GROUPS, REVIEWERS, shape_of
from sitegen.report.trace.printed import Files, with_sources
from sitegen.report.trace.sources import all_values, count_values, source_files, source_pages, sources_page
from sitegen.report.write.campaign import whole_name
from sitegen.report.write.context import Context, context_of
from sitegen.report.write.publish import published_findings, relabel, substitutes, withheld
from sitegen.report.write.remarks import by_target, with_comments
from sitegen.report.write.scans import shown_scans
from sitegen.report.write.traced import each_traced
from sitegen.report.write.words import word

GROUPS = RESULT_GROUPS
"""The groups of the navigation that pages of plug-ins may be in."""


@dataclass(frozen=True, slots=True)
class Draft:
    """A report of which what is printed is there, and all that its pages are made from.

    ``bound`` is what print sets, as it is published. ``photos`` gives each photograph of the
    folder by the name that the report has for it; ``scans`` are files of the folder.
    """

    context: Context
    bound: Bound
    photos: Mapping[str, str]
    scans: tuple[str, ...]
    drawn: Ground | None
    raw: Bound
    difference: Difference | None


def draft(
    survey: Survey,
    evaluation: Evaluation,
    findings: tuple[Finding, ...],
    *,
    issue: bool = False,
    difference: Difference | None = None,
    rounds: tuple[Part, ...] = (),
) -> Draft:
    """Decide what the report says in print; what its publish level does not allow is left out.

    ``survey`` and ``evaluation`` are those of the published part of the folder; of a folder with several
    ``rounds``, ``evaluation`` is that of the last of these, which the report is about.
    Print comes first because to set it takes longest.
    """
    shown = published_findings(findings, survey.settings.publish)
    context = context_of(survey, rounds or (Part(Campaign(), survey, evaluation),), shown)
    drawn = ground(context)
    files = source_files(context)
    told = shown_difference(difference, survey.settings.publish)
    shape = shape_of(context)
    volumes = shape.volumes(context)
    about = whole_name(context) if several(context) else ""
    meta = replace(_meta(survey, issue=issue, document=word("document", context.stage)), round=about)
    printed = _sourced(each_traced(shape.chapters(context, drawn, meta, volumes), apart=True), files)
    volumes = tuple(replace(volume, chapters=_sourced(volume.chapters, files)) for volume in volumes)
    raw = Bound(number_volumes(meta, volumes), printed, history_table(context, told), volumes, atlas(context))
    photos = tuple(row.file for row in survey.rows(Photo) if context.may_show(row))
    instead = _instead(context)
    named = dict(zip(relabel(photos, instead), photos, strict=True))
    return Draft(context, relabel(raw, instead), named, shown_scans(survey), drawn, raw, told)


def assemble(made: Draft) -> Report:
    """Decide what the pages and the data files say, in order, beside what is printed."""
    context, survey, raw = made.context, made.context.record, made.raw
    shape = shape_of(context)
    data = paged(shape.map(context), raw.atlas)
    exports = shape.exports(context, raw.meta)
    book = workbook(context, raw.meta, exports)
    away = take_away(context, raw.meta, exports, raw.volumes)
    files = source_files(context)
    pages = _record_pages(made, data, exports, book, away)
    bare = [replace(page, blocks=with_sources(page.blocks, files)) for page in pages]
    values = all_values(context, bare, raw.chapters, raw.volumes)
    ticked = context.for_team and context.for_reviewers and context.with_results
    ticks = sample(context, values) if ticked else None
    report = Report(
        raw.meta,
        (*bare, *_pages_about(context, bare, values, ticks)),
        raw.chapters,
        data,
        exports,
        shape.groups,
        raw.history,
        values,
        ticks,
        {path: file.sha256 for path, file in survey.folder.files.items() if not path.startswith("private/")},
        comment_copy(context, raw.chapters, raw.meta),
        raw.volumes,
        book,
        away,
        raw.atlas,
    )
    return relabel(report, _instead(context))


def _instead(context: Context) -> dict[str, str]:
    """Return what is printed in place of codes and ids, those of earlier surveys included."""
    found: dict[str, str] = {}
    for survey in (*(one.survey for one in context.earlier), context.record):
        found |= substitutes(survey)
    return found


def with_texts(made: Draft, report: Report, survey: Survey) -> Report:
    """Return the report with its narrative as ``survey`` has it, which differs in nothing but texts.

    Only the pages that print the narrative are made, and what each page says of the report itself; what
    is counted of the texts elsewhere stays as it was. ``survey`` is the published part of the folder.
    """
    whole = survey if made.context.whole else None
    context = made.context.with_texts(parts(survey)[-1].survey, whole)
    comments, files = by_target(survey.rows(ReviewComment)), source_files(context)
    told = each_traced(shape_of(context).told(context, report.map, made.drawn))
    pages = [with_comments(page, comments) for page in told]
    pages = [replace(page, blocks=with_sources(page.blocks, files)) for page in pages]
    meta = replace(_meta(survey, issue=False, document=report.meta.document), round=report.meta.round)
    meta, new = relabel((meta, tuple(pages)), _instead(context))
    by_ref = {page.ref: page for page in new}
    return replace(report, meta=meta, pages=tuple(by_ref.get(page.ref, page) for page in report.pages))


def _sourced(made: Iterable[Chapter], files: Files) -> tuple[Chapter, ...]:
    return tuple(replace(chapter, blocks=with_sources(chapter.blocks, files)) for chapter in made)


def _record_pages(
    made: Draft, data: MapData, exports: tuple[ExportTable, ...], book: Workbook, away: TakeAway
) -> Iterator[Page]:
    """Yield the pages on the survey and on its review, with the comments about them."""
    context, survey, tool = made.context, made.context.survey, made.raw.meta.tool
    comments = by_target(survey.rows(ReviewComment))
    pages = [*shape_of(context).pages(context, tool, data, made.drawn)]
    pages += _review_pages(made, exports, book, away)
    if made.difference:
        pages.append(changes_page(context, made.difference, made.drawn))
    if context.with_results:
        pages.append(ledger_page(context, made.difference))
    shown = (page for page in pages if _is_for_readers(context, page))
    yield from (with_comments(page, comments) for page in shown)


def _is_for_readers(context: Context, page: Page) -> bool:
    """Tell whether a copy of the report has a page; what leads to one that it has not is text alone."""
    return context.for_reviewers or page.group != REVIEWERS


def _review_pages(made: Draft, exports: tuple[ExportTable, ...], book: Workbook, away: TakeAway) -> Iterator[Page]:
    """Yield the pages that a reviewer and a records manager ask for."""
    context, digest, volumes = made.context, made.context.survey.digest, made.raw.volumes
    yield findings_page(context)
    yield comments_page(context, digest)
    yield checks_page(context)
    yield limits_page(context, missed_section(context))
    yield glossary_page(context)
    yield downloads_page(context, exports, away, volumes, book.sheets)
    yield files_page(context, digest, made.raw.meta.tool, volumes=bool(volumes))


def _pages_about(
    context: Context, pages: Sequence[Page], values: Sequence[PrintedValue], ticks: tuple[PrintedValue, ...] | None
) -> Iterator[Page]:
    """Yield the pages about what the others print: what to check of it, and where it comes from."""
    if ticks is not None:
        yield working_page(context, pages, ticks)
    yield sources_page(context, count_values(values, context.survey.folder.files))
    yield from source_pages(context)


def _meta(survey: Survey, *, issue: bool, document: str = "") -> Meta:
    project = survey.settings.project
    notices = (project.notice,) if project.notice else ()
    return Meta(
        project.id,
        project.title,
        project.site,
        project.client,
        project.prepared_by,
        project.revision,
        status_word(survey, issue=issue),
        project.report_date.isoformat(),
        survey.digest,
        survey.settings.publish.level,
        f"sitegen {__version__}",
        notices,
        survey.settings.publish.paper,
        project.work_plan,
        word("distribution", survey.settings.publish.level),
        tuple(word("withheld", name) for name in withheld(survey.settings.publish)),
        word("signature", signature_state(survey)),
        look=_look(survey),
        document=document,
        lists=survey.settings.publish.lists_in_report,
    )


def _look(survey: Survey) -> Look:
    theme = survey.settings.theme
    kind = picture_kind(survey.folder.content(theme.logo))
    return Look(theme.logo, theme.logo_alt, f"{LOGO}.{kind}" if theme.logo else "", theme.stylesheet)


def status_word(survey: Survey, *, issue: bool) -> str:
    """Return the status that every page shows: computed, never typed.

    A report is ``issued`` only where it was built for issue, the settings say so, and every
    required role has signed this very content.
    """
    project = survey.settings.project
    if project.status == "superseded":
        return "superseded"
    if issue and signature_state(survey) == "whole" and project.status == "issued":
        return "issued"
    return "for review" if project.status in ("review", "issued") else "draft"
