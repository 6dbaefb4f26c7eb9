"""Location sheets in print: in the report up to a stated number of points, in volumes of their own beyond.

All are in the report or all in volumes: a set in two places would have to be searched for. Volumes
are set first, for ``files.csv``, which the report carries, has the SHA-256 of each. No PDF links
into another: a reader need not have both in one folder, and each names the other by its file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sitegen.project.tables import Location
from sitegen.report.field.fieldnotes import sheet_facts
from sitegen.report.points.location import lead
from sitegen.report.points.results import results_table, with_qualifiers_together
from sitegen.report.points.samplers import other_results, samplers_table
from sitegen.report.record.pages import Block, Callout, Chapter, Meta, Prose, Section, Table, Volume
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.standout import low_callouts
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import markdown, prose, say
from sitegen.voice import thousands, worded

MOST_SHEET_ROWS = 6_000
"""Results on the sheets of one PDF at most, however many points its settings allow.

Measured: 13,200 of them took 2.1 GB to typeset. 6,000 are 100 points with 60 compounds or 250 with 24.
"""

_TITLE = "Location sheets"


def sheets_chapter(context: Context, volumes: Sequence[Volume]) -> Chapter:
    """Return the chapter of the report that has the sheets, or says which volume has which."""
    blocks: tuple[Block, ...]
    if volumes:
        blocks = (prose("chapter.volumes_how", volumes=len(volumes)), _volumes_table(volumes))
        return Chapter("sheets", worded(_TITLE), blocks, appendix=True)
    lead = "chapter.sheets" if context.locations else "chapter.no_sheets"
    blocks = (Prose(markdown(lead)), *(_sheet(context, row) for row in context.locations))
    return Chapter("sheets", worded(_TITLE), blocks, appendix=True, listed=False)


def sheet_volumes(context: Context) -> tuple[Volume, ...]:
    """Return the volumes of location sheets; none where the report has room for them."""
    most = context.survey.settings.publish.sheets_in_report
    if len(context.locations) <= most and len(context.by_key) <= MOST_SHEET_ROWS:
        return ()
    parts = list(_parts(context, context.survey.settings.publish.sheets_per_volume))
    return tuple(_volume(context, rows, number, len(parts) + 1) for number, rows in enumerate(parts, start=2))


def _parts(context: Context, most: int) -> Iterator[list[Location]]:
    """Yield the points of each volume, in their order: as many as are allowed and as their results leave room for."""
    part: list[Location] = []
    held = 0
    for row in context.locations:
        results = len(context.by_location.get(row.location_id, ()))
        if part and (len(part) == most or held + results > MOST_SHEET_ROWS):
            yield part
            part, held = [], 0
        part.append(row)
        held += results
    if part:
        yield part


def _volume(context: Context, rows: Sequence[Location], number: int, count: int) -> Volume:
    names = tuple(row.location_id for row in rows)
    about = prose("chapter.volume", number=number, count=count, points=len(names), first=names[0], last=names[-1])
    blocks: tuple[Block, ...] = (about, Prose(markdown("chapter.sheets")), *(_sheet(context, row) for row in rows))
    chapter = Chapter("sheets", say("chapter.volume_title", number=number), blocks, listed=False, indexed=True)
    return Volume(number, f"downloads/report-volume-{number}.pdf", names, (chapter,))


@traced
def _sheet(context: Context, row: Location) -> Section:
    name = row.location_id
    results = context.by_location.get(name, [])
    placement = context.primary_at(name)
    blocks: list[Block] = [Prose(markdown("chapter.plain", text=lead(context, row))), sheet_facts(context, row)]
    if placement and not results:
        marks = mark_words(context.evaluation.marks.by_sampler.get(placement.sampler_id, ()))
        if marks:
            text = markdown("chapter.marks", marks=marks)
            blocks.append(Callout("flag", worded("Qualifications at this location"), text))
    blocks += low_callouts(context, name)
    several = samplers_table(context, name)
    if several:
        blocks.append(several)
    own = (results_table(context, name, results),) if results else ()
    for results_of_one in (*own, *other_results(context, name)):
        blocks.append(replace(with_qualifiers_together(results_of_one), note="", joined=True))
    return Section(f"location-{name}", name, tuple(blocks))


def _volumes_table(volumes: Sequence[Volume]) -> Table:
    columns: list[Spec[Volume]] = [
        Spec("volume", "Volume", cell=lambda volume: str(volume.number)),
        Spec("file", "File", cell=file_name),
        Spec("count", "Points", kind="number", cell=lambda volume: thousands(f"{len(volume.locations):,}")),
        Spec("points", "Sheets of", kind="wide", cell=lambda volume: ", ".join(volume.locations)),
    ]
    return table("volumes", say("chapter.volumes_caption"), columns, volumes)


def file_name(volume: Volume) -> str:
    """Return the name of a volume's file, without its folder."""
    return volume.file.rpartition("/")[2]


def volume_words(volume: Volume) -> str:
    """Return what a volume holds, for the list of files."""
    names = volume.locations
    return say("chapter.volume_file", points=len(names), first=names[0], last=names[-1])


def number_volumes(meta: Meta, volumes: Sequence[Volume]) -> Meta:
    """Return what stands on the report's cover, which is volume 1 where there are more."""
    return replace(meta, volume=say("chapter.volume_of", number=1, count=len(volumes) + 1)) if volumes else meta
