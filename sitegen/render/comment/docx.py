"""Write the copy for comments, and the letter, as DOCX (Office Open XML WordprocessingML, ECMA-376 part 1).

The only module that imports python-docx, which is loaded only where a copy is asked for. The
library's own template gives styles and lists; what it says about another program, and its
picture, are taken out. In a copy changes are tracked from the first one on. The package carries no clock:
the same report gives the same bytes under the same zlib.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import partial
from io import BytesIO
from typing import Any

from docx import Document
from docx.document import Document as Docx
from docx.enum.style import WD_STYLE_TYPE
from docx.enum.text import WD_ALIGN_PARAGRAPH
from docx.oxml import OxmlElement
from docx.oxml.ns import qn
from docx.shared import Emu, Length, Pt
from docx.table import Table, _Row
from docx.text.paragraph import Paragraph as DocxParagraph

from sitegen.render.comment.parts import NUMBER, Grid, Paragraph, Part, clean, copy_parts
from sitegen.render.print.front import MARGIN_PT
from sitegen.render.print.tree import PAPERS_PT
from sitegen.report.record.pages import Column, CommentCopy, Meta
from sitegen.voice import voice, worded

LANGUAGES = {"en": "en-GB", "es": "es-ES"}
"""The language of a document, as office programs name it."""

_SMALL_PT = Pt(8)
_EPOCH = (1980, 1, 1, 0, 0, 0)
_PROPERTY_CHARS = 255  # the most that the library takes in a property of the file
_MONO = "Courier New"
_WIDE_PARTS = 3  # the width of a column of long texts, in widths of another one
_NOT_OURS = ("/thumbnail", "/extended-properties", "/stylesWithEffects", "/customXml")
"""Ends of the types of the template's parts that are left out."""

_GRID = "Table Grid"
_TABLE_STYLES = ("Normal Table", _GRID)
"""The table styles that stay: the template's others are most of its bytes and of the time to look up a style."""


def docx_bytes(copy: CommentCopy, meta: Meta, *, tracked: bool = True) -> bytes:
    """Return a copy for comments as a DOCX file, in which changes are tracked unless told otherwise.

    Raises ValueError if the report's date is not an ISO date.
    """
    return document_bytes(copy_parts(copy, meta), copy.running, meta, tracked=tracked)


def document_bytes(parts: Iterable[Part], running: str, meta: Meta, *, tracked: bool) -> bytes:
    """Return a document of some parts; ``running`` stands on every page, changes to it are ``tracked`` or not.

    Raises ValueError if the report's date is not an ISO date.
    """
    document = Document()
    _leave_out(document)
    _plain_bullets(document)
    _set_up(document, meta, tracked=tracked)
    _set_page(document, running, meta)
    lists: dict[int, int] = {}
    for part in parts:
        if isinstance(part, Paragraph):
            _add_paragraph(document, part, lists)
        else:
            _add_table(document, part)
    return _packed(document)


def _leave_out(document: Docx) -> None:
    """Drop the template's parts that say nothing about this document."""
    for relations in (document.part.package.rels, document.part.rels):
        for name, relation in list(relations.items()):
            if relation.reltype.endswith(_NOT_OURS):
                del relations[name]
    for style in document.styles.element.findall(qn("w:style")):
        if style.type is WD_STYLE_TYPE.TABLE and style.name_val not in _TABLE_STYLES:
            style.getparent().remove(style)


def _plain_bullets(document: Docx) -> None:
    """Give lists a bullet that every font has, in place of one of a font of symbols."""
    for level in document.part.numbering_part.element.iter(qn("w:lvl")):
        if level.find(qn("w:numFmt")).get(qn("w:val")) == "bullet":
            level.find(qn("w:lvlText")).set(qn("w:val"), "•")
            for look in level.findall(qn("w:rPr")):
                level.remove(look)


def _set_up(document: Docx, meta: Meta, *, tracked: bool) -> None:
    """Set the properties of the file, its language, and whether changes are tracked."""
    told = document.core_properties
    told.title = clean(meta.title)[:_PROPERTY_CHARS]
    told.subject = clean(f"{meta.project_id}, revision {meta.revision}, {meta.state}")[:_PROPERTY_CHARS]
    told.author = told.comments = told.last_modified_by = ""
    told.created = told.modified = datetime.fromisoformat(meta.report_date)
    language_tag = LANGUAGES[voice().language]
    told.language = language_tag
    for language in document.styles.element.iter(qn("w:lang")):
        language.set(qn("w:val"), language_tag)
    settings = document.settings.element
    settings.find(qn("w:themeFontLang")).set(qn("w:val"), language_tag)
    settings.find(qn("w:zoom")).set(qn("w:percent"), "100")
    if tracked:
        settings.find(qn("w:defaultTabStop")).addprevious(OxmlElement("w:trackRevisions"))


def _set_page(document: Docx, running: str, meta: Meta) -> None:
    """Set paper, margins, the line above each page and the count below it."""
    section = document.sections[0]
    section.page_width, section.page_height = map(Pt, PAPERS_PT[meta.paper])
    section.left_margin = section.right_margin = Pt(MARGIN_PT)
    section.header.paragraphs[0].add_run(clean(running))
    below = section.footer.paragraphs[0]
    below.alignment = WD_ALIGN_PARAGRAPH.CENTER
    for words, field in ((worded("Page "), "PAGE"), (worded(" of "), "NUMPAGES")):
        below.add_run(words)
        counted = OxmlElement("w:fldSimple")
        counted.set(qn("w:instr"), field)
        below.paragraph_format.element.append(counted)


def _add_paragraph(document: Docx, part: Paragraph, lists: dict[int, int]) -> None:
    """Append a paragraph; ``lists`` has the number of the numbered list that runs at each depth."""
    added = document.add_paragraph(style=part.style)
    added.paragraph_format.page_break_before = part.new_page or None
    if part.style.startswith(NUMBER):
        if part.begins is not None:
            lists[part.depth] = _new_list(document, part.style, part.begins)
        numbered = added.paragraph_format.element.get_or_add_pPr().get_or_add_numPr()
        numbered.get_or_add_ilvl().val = 0
        numbered.get_or_add_numId().val = lists[part.depth]
    for run in part.runs:
        written = added.add_run(run.text)
        written.bold, written.italic = run.bold or None, run.slanted or None
        if run.mono:
            written.font.name = _MONO


def _new_list(document: Docx, style: str, begins: int) -> int:
    """Return the number of a new list in the form of a style's: else all lists of a style would count on."""
    numbering: Any = document.part.numbering_part.element
    form: Any = document.styles[style].element
    known = numbering.num_having_numId(form.pPr.numPr.numId.val)
    new = numbering.add_num(known.abstractNumId.val)
    new.add_lvlOverride(0).add_startOverride(begins)
    return int(new.numId)


def _add_table(document: Docx, grid: Grid) -> None:
    """Append a table; its header row comes again on every page, and no row is split."""
    table = document.add_table(0, len(grid.columns), _GRID)
    widths = _widths(document, grid.columns)
    for column, width in zip(table.columns, widths, strict=True):
        column.width = width
    fill = partial(_fill_row, grid.columns, widths, _SMALL_PT if grid.small else None)
    fill(_new_row(table, "w:cantSplit", "w:tblHeader"), grid.heads, bold=True)
    for texts in grid.rows:
        fill(_new_row(table, "w:cantSplit"), texts)


def _new_row(table: Table, *properties: str) -> _Row:
    row: _Row = table.add_row()  # type: ignore[no-untyped-call]
    told = row._tr.get_or_add_trPr()  # noqa: SLF001 - the library has no other name for it
    for name in properties:
        told.append(OxmlElement(name))
    return row


def _widths(document: Docx, columns: Sequence[Column]) -> list[Emu]:
    """Share the width between the margins among columns; a column of long texts gets more of it."""
    whole = (document.sections[0].page_width or 0) - 2 * Pt(MARGIN_PT)
    parts = [_WIDE_PARTS if column.kind == "wide" else 1 for column in columns]
    return [Emu(whole * part // sum(parts)) for part in parts]


def _fill_row(
    columns: Sequence[Column],
    widths: Sequence[Emu],
    size: Length | None,
    row: _Row,
    texts: Sequence[str],
    *,
    bold: bool = False,
) -> None:
    for cell, column, width, text in zip(row.cells, columns, widths, texts, strict=True):
        cell.width = width
        inside: DocxParagraph = cell.paragraphs[0]
        inside.paragraph_format.space_after = Pt(2)
        if column.kind == "number":
            inside.alignment = WD_ALIGN_PARAGRAPH.RIGHT
        run = inside.add_run(text)
        run.bold, run.font.size = bold or None, size


def _packed(document: Docx) -> bytes:
    """Return the package with its members in the order of their names, none with a date of its own."""
    made, target = BytesIO(), BytesIO()
    document.save(made)
    with zipfile.ZipFile(made) as given, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as package:
        for name in sorted(given.namelist()):
            info = zipfile.ZipInfo(name, _EPOCH)
            info.compress_type, info.create_system = zipfile.ZIP_DEFLATED, 3
            package.writestr(info, given.read(name))
    return target.getvalue()
