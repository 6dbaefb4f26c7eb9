"""The command compare: what changed from one revision to the next, in sentences, a table and files."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.markup import escape
from rich.table import Table

from sitegen.findings.problems import WrongUse, usable, visible
from sitegen.terminal import console, progress

if TYPE_CHECKING:
    from sitegen.compute.evidence.difference import Change, Difference


def compare(
    old: Annotated[Path, typer.Argument(help="The earlier revision: a project folder or an archive.")],
    new: Annotated[Path, typer.Argument(help="The later revision: a project folder or an archive.")],
    *,
    each: Annotated[
        bool,
        typer.Option(
            "--all", help="Also list every change between two rounds, which are otherwise only reported as such."
        ),
    ] = False,
    text_file: Annotated[Path | None, typer.Option("--text", help="Also write sentences and changes as text.")] = None,
    csv_file: Annotated[Path | None, typer.Option("--csv", help="Also write the changes as CSV.")] = None,
    docx_file: Annotated[
        Path | None, typer.Option("--docx", help="Also write the sentences and the changed results as DOCX.")
    ] = None,
) -> None:
    """List what changed from one revision to the next, by key; two rounds are reported as such."""
    from sitegen.checking import revisions
    from sitegen.compute.evidence.difference import difference, without_changes
    from sitegen.report.evidence.changefiles import change_copy, change_lines, change_rows, reader_of
    from sitegen.report.evidence.changewords import sentences

    for file in filter(None, (text_file, csv_file, docx_file)):
        _refuse_place(file, old, new)
    with progress(new) as say:
        before, after = revisions(old, new, say)
        say("compare", 0, 1)
        found = without_changes(before, after)
        if each or not found.overlap.apart:
            found = difference(before, after)
    reader = reader_of(after.survey)
    out_to = console()
    for sentence in sentences(found, reader):
        out_to.print(escape(visible(sentence)), soft_wrap=True)
    _tell_changes(found)
    if text_file:
        _write(text_file, ("\n".join(change_lines(found, reader)) + "\n").encode())
    if csv_file:
        from sitegen.render.data.changes import changes_csv

        _write(csv_file, changes_csv(change_rows(found, reader)))
    if docx_file:
        from sitegen.render.comment.docx import docx_bytes

        _write(docx_file, docx_bytes(*change_copy(after, found, reader), tracked=False))


def _refuse_place(file: Path, *compared: Path) -> None:
    """Refuse a place inside what is compared, which a report would take for a part of the record."""
    for folder in compared:
        if Path(os.path.realpath(file)).is_relative_to(os.path.realpath(folder)):
            raise WrongUse(f"{file} is inside {folder}, which is being compared; give another path")


def _write(file: Path, content: bytes) -> None:
    with usable(file):
        file.write_bytes(content)


def _tell_changes(found: Difference) -> None:
    """Print the changes by key, the findings that opened and closed, and another tool."""
    out_to = console()
    if found.changes:
        out_to.print(_changes_table(found.changes))
    for state, findings in (("opened", found.opened), ("closed", found.closed)):
        for finding in findings:
            out_to.print(escape(visible(f"finding {state}: {finding.key}: {finding.found}")), soft_wrap=True)
    if found.tools[0] != found.tools[1]:
        out_to.print(escape(visible(f"tool: {found.tools[0]}, now {found.tools[1]}")))


def _changes_table(changes: Sequence[Change]) -> Table:
    from sitegen.report.evidence.changes import changed_to
    from sitegen.report.evidence.changetables import extent
    from sitegen.report.write.words import word

    table = Table(show_lines=True, expand=True)
    for title in ("About", "Kind", "Before", "Now", "Extent", "Key"):
        table.add_column(title, overflow="fold")
    for change in changes:
        kind = f"{word('change', change.kind)} {change.column}".strip()
        summary = " (in the summary)" if change.in_summary else ""
        cells = (change.subject + summary, kind, *changed_to(change), extent(change), change.key)
        table.add_row(*(escape(visible(cell)) for cell in cells))
    return table
