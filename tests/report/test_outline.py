"""The outline of a whole report: its pages and chapters with their blocks, then each table, and each data file.

Values stand elsewhere (`tests/byhand`). Here stands what surrounds them: titles, heads, keys, units and kinds, filters,
where the cells of a column lead, their tones, and the files that they come from. ``expected/outline.txt`` is the
outline of the survey worked by hand; the files beside it have what is otherwise under other settings.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from difflib import unified_diff
from pathlib import Path

import byhand_survey as survey
import pytest
from written_down import require_written

from sitegen.report.record.exports import ExportField
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    Page,
    Prose,
    Ref,
    Report,
    Section,
    Table,
    Tiles,
)
from sitegen.report.trace.printed import tables_in

EXPECTED = Path(__file__).parent / "expected"
OTHERWISE = {
    "client": '[publish]\nlevel = "client"',
    "public": '[publish]\nlevel = "public"',
    "bound": "[publish]\nsheets_in_report = 3\nsheets_per_volume = 5\nnarrative_docx = true\nfold_out_maps = true",
    "ruled": '[rules]\nblank = "five_times_nondetect"\ncontours = true',
}
NAMED = ("location", "sampler", "compound", "bag", "shipment")
NONE = Table("", "", (), ()).empty
FLAGS = ("appendix", "listed", "keyed", "single_page", "indexed")


class Outline:
    """The lines of one report, by part; what is the same for several points, samplers or compounds stands once."""

    def __init__(self, report: Report) -> None:
        names = sorted({page.ref.id for page in report.pages if page.ref.kind != "page"} | {"B1", "B2"}, reverse=True)
        self._names = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, names))})(?!\w)")
        self._cells: dict[str, dict[str, list[Cell]]] = defaultdict(lambda: defaultdict(list))
        self._heads: dict[str, list[str]] = {}
        self.parts: dict[str, list[str]] = {}
        for page in report.pages:
            self._part("".join(self._page(page)), page.blocks)
        for chapter in report.chapters:
            self._part("".join(self._chapter(chapter)), chapter.blocks)
        for volume in report.volumes:
            self.parts[f"volume {volume.number}, {volume.file}"] = [*volume.locations]
            for chapter in volume.chapters:
                self._part(f"volume {volume.number}, {''.join(self._chapter(chapter))}", chapter.blocks)
        for chapter in report.comment_copy.chapters if report.comment_copy else ():
            self._part(f"copy for comments, {''.join(self._chapter(chapter))}", chapter.blocks)
        self.parts |= {
            f"{head}{_told(set(self._heads[head]))}": [f"{line}{_leads(cells)}" for line, cells in below.items()]
            for head, below in self._cells.items()
        }
        self.parts |= {f"data file {one.name}": [*map(_field, one.fields)] for one in report.exports}

    def lines(self) -> list[str]:
        """Return all lines, those of a part indented below its head."""
        return [line for head, below in self.parts.items() for line in (head, *(f"  {one}" for one in below))]

    def _plain(self, text: str) -> str:
        """Return a text with ``*`` for each name of a point, a sampler and the like."""
        return self._names.sub("*", text)

    def _part(self, head: str, blocks: Iterable[Block]) -> None:
        """Add the blocks of a page or a chapter; of several pages under the same head, what the others have not."""
        before = self.parts.setdefault(head, [])
        lines = [*self._blocks(blocks, re.split("[:,]", head)[0])]
        same = next(
            (name for name, others in self.parts.items() if name != head and len(lines) > 1 and others == lines), ""
        )
        before += [f"as {same.split(':')[0]}"] if same else [line for line in lines if line not in before]

    def _page(self, page: Page) -> Iterator[str]:
        """Yield a page's name and title, or its kind alone where there are many of it, and its place among others."""
        name = page.ref.id if page.ref.kind == "page" else page.ref.kind
        yield self._plain(f"page {name}") + (f": {self._plain(page.title)}" if name == page.ref.id else "")
        yield f", in {page.group}" if page.group else ""
        yield f", under {page.parent.id}" if page.parent else ""
        yield ", with words to find it by" if page.search else ""
        yield ", with a lead" if page.lead else ""

    def _chapter(self, chapter: Chapter) -> Iterator[str]:
        yield f"chapter {chapter.id}: {chapter.title}"
        yield from (f", {name}" for name in FLAGS if getattr(chapter, name))

    def _blocks(self, blocks: Iterable[Block], within: str) -> Iterator[str]:
        for block in blocks:
            match block:
                case Section():
                    yield from self._section(block, within)
                case Table():
                    yield self._table(block)
                case Figure():
                    yield self._plain(f"figure {block.id}, {block.width}{', described' * bool(block.description)}")
                    yield from (f"  {self._table(table)}" for table in [block.table] if table)
                case Facts():
                    yield self._facts(block, f"facts of {within}")
                case Tiles():
                    yield from (f"tile {tile.label}{_led([tile.ref])}" for tile in block.tiles)
                case Callout():
                    yield f"remark, {block.tone}{_leads(block.refs)}"
                case Prose():
                    yield f"prose{_led(block.refs)}"
                case _:
                    yield type(block).__name__.lower()

    def _section(self, section: Section, within: str) -> Iterator[str]:
        yield self._plain(f"section {section.id}: {section.title}")
        yield from (f"  {line}" for line in self._blocks(section.blocks, within))

    def _table(self, table: Table) -> str:
        """Return a table's name, and keep its columns."""
        name = self._plain(f"table {table.id}")
        for at, column in enumerate(table.columns):
            self._cells[name][self._plain(_column(column))] += [row[at] for row in table.rows]
        self._heads.setdefault(name, []).extend(_asked(table))
        return name

    def _facts(self, facts: Facts, name: str) -> str:
        """Return a name for facts, and keep their labels."""
        for label, cell in facts.rows:
            self._cells[name][f"{label}{', number' * (label in facts.measured)}"].append(cell)
        self._heads.setdefault(name, [])
        return "facts"


def _asked(table: Table) -> Iterator[str]:
    """Yield what is asked of a table, and the files of its sources."""
    head = table.row_header
    yield from [f", headed by {table.columns[head].key}" if head > 0 else ", not headed"] * (head != 0)
    yield from [f", to filter by {' and '.join(table.filters)}"] * bool(table.filters)
    yield from (f", {name}" for name in ("landscape", "joined") if getattr(table, name))
    yield ", with a note" if table.note else ""
    yield ", with words of its own where it is empty" if table.empty != NONE else ""
    yield from (f", from {source.file or 'the program'}" for source in table.sources)


def _told(words: Iterable[str]) -> str:
    return "".join(sorted(words))


def _column(column: Column) -> str:
    """Return key, head and unit of a column, and its kind."""
    unit = f" ({column.unit})" if column.unit else ""
    kind = f", {column.kind}" if column.kind != "text" else ""
    return f"{column.key}: {column.title}{unit}{kind}{', tells numbers' * column.tells}"


def _leads(cells: Iterable[Cell]) -> str:
    """Return the tones of cells, the columns of files whose rows are behind them, and where they lead."""
    every = list(cells)
    tones = (f", {cell.tone}" for cell in every if cell.tone)
    behind = (f", of {cell.origin[0]} {cell.origin[2]}".rstrip() for cell in every if cell.origin)
    return _told(set(tones)) + _told(set(behind)) + _led(cell.ref for cell in every)


def _led(refs: Iterable[Ref | None]) -> str:
    """Return the pages, or kinds of pages, that links lead to."""
    names = {f"{r.id}#{r.anchor}".rstrip("#") if r.kind == "page" else r.kind for r in refs if r}
    return f" → {', '.join(sorted(names))}" if names else ""


def _field(field: ExportField) -> str:
    unit = f" ({field.unit})" if field.unit else ""
    choices = f", one of {' '.join(field.choices)}" if field.choices else ""
    return f"{field.name}{unit}, {field.type}{', required' * field.required}{choices}"


def other_lines(lines: list[str], others: list[str]) -> list[str]:
    """Return lines that are only in one of two outlines: ``-`` before those of the first, ``+`` of the second."""
    return [line for line in unified_diff(lines, others, n=0, lineterm="") if not line.startswith(("---", "+++", "@@"))]


def test_the_outline_of_the_report_is_the_one_written_down() -> None:
    """Every page, block, column and field of the survey worked by hand, in order, with what is asked of each."""
    require_written(EXPECTED / "outline.txt", Outline(survey.report()).lines())


@pytest.mark.parametrize("name", OTHERWISE)
def test_what_other_settings_show_differs_by_these_lines_and_no_others(name: str) -> None:
    """Other readers are not told what to do, nor words that are withheld; a long report is bound in volumes.

    Where a rule makes results beside a blank non-detects, what that comes to stands in columns beside the record's.
    """
    place = 'time_zone = "America/Chicago"\n'
    head, _, lines = OTHERWISE[name].partition("\n")
    stated = (
        ("[publish]\n", f"[publish]\n{lines}\n") if head == "[publish]" else (place, f"{place}\n{OTHERWISE[name]}\n")
    )
    other = survey.report(("project.toml", *stated))
    lines = other_lines(Outline(survey.report()).lines(), Outline(other).lines())
    require_written(EXPECTED / f"outline_{name}.txt", lines)


def test_each_field_of_a_data_file_says_what_it_holds() -> None:
    without = [(one.name, f.name) for one in survey.report().exports for f in one.fields if not f.meaning]
    assert without == []


def test_a_cell_that_leads_to_one_point_sampler_or_compound_names_it() -> None:
    """A link leads where its words say: to the page with that id or, of a compound, with that title.

    A pair of duplicates is on the page of its point.
    """
    report = survey.report()
    titles = {page.ref: page.title for page in report.pages if page.ref.kind == "compound"}
    cells = [c for part in (*report.pages, *report.chapters) for t in tables_in(part.blocks) for r in t.rows for c in r]
    leads = {(c.text, c.ref) for c in cells if c.ref and c.ref.kind in NAMED and not c.ref.anchor}
    assert {ref.kind for _, ref in leads} == {*NAMED}
    others = [(text, ref.id) for text, ref in leads if titles.get(ref, ref.id) not in text]
    assert others == [("pair 0101 and 0102", "SG-1")]


def test_pages_of_a_series_lead_to_their_neighbours_in_the_order_of_their_list() -> None:
    """From the first to the last by ``following``, and back by ``previous``; bags and batches are no series."""
    for kind, first in {"compound": "pce", "location": "SG-1", "sampler": "0101"}.items():
        pages = {page.ref.id: page for page in survey.report().pages if page.ref.kind == kind}
        forth = [first]
        while (ref := pages[forth[-1]].following) is not None:
            assert pages[ref.id].previous == pages[forth[-1]].ref
            forth.append(ref.id)
        assert forth == [*pages]
        assert pages[first].previous is None
