"""What changed as files to hand on: lines of text, rows of a table, and a page for a word processor."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.changes import reason_for, reasons_of
from sitegen.compute.evidence.difference import Change, Difference, Revision
from sitegen.compute.evidence.revised import Revised
from sitegen.project.survey import Survey
from sitegen.report.evidence.changeresults import Reader, result_text
from sitegen.report.evidence.changetables import results_table
from sitegen.report.evidence.changewords import sentences
from sitegen.report.record.pages import Block, Chapter, CommentCopy, Meta
from sitegen.report.write.words import prose, say, word

MOST_ROWS = 60
"""How many changed results a page for a word processor lists; of more it has the sentences alone."""


def reader_of(survey: Survey) -> Reader:
    """Return the team as a reader, with the reasons on record for this revision."""
    return Reader(True, tuple(reasons_of(survey)), survey.settings.rules.nondetect_display)


def change_lines(found: Difference, reader: Reader) -> Iterator[str]:
    """Yield the sentences, then a line for each result and each other change; none runs over its line."""
    yield from sentences(found, reader)
    about = {change.key for one in found.results for change in one.changes}
    results = [result_text(one, found.names, reader.display) for one in found.results]
    others = [_other_line(change) for change in found.changes if change.key not in about]
    if results or others:
        yield ""
        yield from (" ".join(line.split()) for line in (*results, *others))


def _other_line(change: Change) -> str:
    return say("changes.told", subject=change.subject, kind=word("change", change.kind), old=change.old, new=change.new)


def change_rows(found: Difference, reader: Reader) -> Iterator[tuple[str, ...]]:
    """Yield each change as texts, in the order of the fields of the data file."""
    results = {change.key: one for one in found.results for change in one.changes}
    for change in found.changes:
        one = results.get(change.key)
        yield (
            change.kind,
            change.subject,
            *_of_result(found, one),
            change.column,
            change.old,
            change.new,
            "" if change.factor is None else f"{change.factor:.15g}",
            "" if change.moved_m is None else f"{change.moved_m:.3f}",
            "yes" if change.in_summary else "",
            one.row.origin.file if one else change.path,
            change.key,
            reason_for(change, reader.reasons),
        )


def _of_result(found: Difference, one: Revised | None) -> tuple[str, str, str]:
    if one is None:
        return "", "", ""
    return found.names.get(one.row.analyte_id, one.row.analyte_id), one.row.location_id, one.row.lab_sample_id


def change_copy(new: Revision, found: Difference, reader: Reader) -> tuple[CommentCopy, Meta]:
    """Return sentences and changed results as a document that others may take parts of, and what stands on it."""
    meta = _meta(new)
    blocks: list[Block] = [prose("changes.paragraphs", sentences=sentences(found, reader))]
    if 0 < len(found.results) <= MOST_ROWS:
        blocks.append(results_table(found, reader))
    elif found.results:
        blocks.append(prose("changes.too_many_rows", count=len(found.results)))
    title = say("changes.copy_title", old=found.revisions[0], new=found.revisions[1])
    running = say("changes.copy_running", project=meta.project_id, title=title)
    return CommentCopy((), running, (Chapter("changes", title, tuple(blocks)),)), meta


def _meta(new: Revision) -> Meta:
    project, publish = new.survey.settings.project, new.survey.settings.publish
    return Meta(
        project.id,
        project.title,
        project.site,
        project.client,
        project.prepared_by,
        project.revision,
        project.status,
        project.report_date.isoformat(),
        new.survey.digest,
        publish.level,
        new.tool,
        paper=publish.paper,
    )
