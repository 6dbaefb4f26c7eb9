"""The mapping preview: a laboratory's own rows beside what the mapping makes of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sitegen.project.delivery.parts import MappingForm
from sitegen.project.delivery.reissue import Changed, Former
from sitegen.project.delivery.tables import MappingPreview, mapping_preview
from sitegen.report.record.pages import Block, Cell, Facts, Page, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.words import prose, say
from sitegen.voice import worded

PAGE = Ref("page", "mapping")


def mapping_pages(context: Context) -> Iterator[Page]:
    """Yield the preview of every mapping file; nothing where the folder has none."""
    previews = mapping_preview(context.survey)
    if previews:
        blocks = tuple(_section(context, at, preview) for at, preview in enumerate(previews, start=1))
        yield Page(PAGE, worded("Laboratory mapping"), say("mapping.lead", count=len(previews)), blocks, group="Data")


def _section(context: Context, at: int, preview: MappingPreview) -> Section:
    facts = Facts(
        (
            (worded("Mapping file"), Cell(preview.mapping)),
            (worded("Laboratory file"), Cell(preview.file)),
            (worded("SHA-256"), Cell(preview.sha256)),
            (worded("Sheet"), Cell(preview.sheet or "–")),
            (worded("Layout"), Cell(preview.layout)),
            *((label, Cell(text)) for label, text in _of_form(preview.form)),
        )
    )
    blocks: list[Block] = [facts, _received(at, preview)]
    mapped = [_mapped(at, preview, name) for name in preview.columns]
    blocks += [one for one in mapped if one.rows]
    if preview.former:
        blocks += _replaced(context, at, preview.file, preview.former)
    return Section(f"mapping-{at}", preview.mapping, tuple(blocks))


def _of_form(form: MappingForm) -> Iterator[tuple[str, str]]:
    """Yield what a mapping says of its header, and of a draft who compared it."""
    if len(form.source.header_row) > 1:
        yield worded("Header rows"), say("mapping.header_rows", rows=form.source.header_row)
    if form.confirmed:
        by = form.confirmed.mapping
        yield worded("Mapping"), say("mapping.confirmed", role=by) if by else say("mapping.unconfirmed")
    if form.confirmed and form.control.given:
        by = form.confirmed.control
        yield worded("Control totals"), say("mapping.totals_compared", role=by) if by else say("mapping.totals_counted")


def _replaced(context: Context, at: int, file: str, former: Former) -> Iterator[Block]:
    """Yield what a former issue had otherwise; the results themselves are asked for, as what this rests on."""
    compared, _ = former.compared, context.survey.tables["results"]
    yield prose(
        "mapping.replaces",
        file=file,
        former=former.file,
        digest=former.sha256,
        both=compared.both,
        changed=len(compared.changed),
        former_alone=len(compared.former_alone),
        present_alone=len(compared.present_alone),
    )
    columns: list[Spec[Changed]] = [
        Spec("sample", "Laboratory sample", cell=lambda one: one.lab_sample_id),
        Spec("compound", "Compound", cell=lambda one: context.name(one.analyte_id)),
        Spec("former", "Previous issue", cell=lambda one: one.former),
        Spec("present", "Present issue", cell=lambda one: one.present),
    ]
    if compared.every:
        caption = say("mapping.replaced_caption", former=former.file, file=file)
        yield table(f"replaced-{at}", caption, columns, compared.every)


class _Line(NamedTuple):
    """Cells that a row of the laboratory's file has, or that the mapping makes of it."""

    number: int
    cells: tuple[str, ...]


def _received(at: int, preview: MappingPreview) -> Table:
    heads = [(f"c{n}", name or "–") for n, name in enumerate(preview.header)]
    lines = [_Line(row.number, row.original) for row in preview.rows]
    return table(f"received-{at}", say("mapping.received_caption", file=preview.file), _columns(heads), lines)


def _mapped(at: int, preview: MappingPreview, name: str) -> Table:
    heads = [(column, column) for column in preview.columns[name]]
    lines = [_Line(row.number, cells) for row in preview.rows for to, cells in row.mapped if to == name]
    return table(f"mapped-{at}-{name}", say("mapping.mapped_caption", table=name), _columns(heads), lines)


def _columns(heads: Iterable[tuple[str, str]]) -> list[Spec[_Line]]:
    """Return the columns of a line's number and of its cells, by key and title; a short line has empty cells."""
    number: Spec[_Line] = Spec("row", "Row", cell=lambda line: str(line.number))
    return [number, *(_nth(n, *head) for n, head in enumerate(heads))]


def _nth(n: int, key: str, title: str) -> Spec[_Line]:
    return Spec(key, title, cell=lambda line: line.cells[n] if n < len(line.cells) else "", as_stated=True)
