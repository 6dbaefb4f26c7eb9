"""Every number that the report prints, on the site and in print, with its place and its origin.

One list serves site and print: a number that print shows as well has its chapter and section in the
same line. A number in a sentence is listed by the whole sentence, with the files read while its section
or page was made: which word came from which row would be a guess. A sentence that stands word for word in
the templates tells no number. Words of the record and axes of drawings are not listed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import TypeAlias

from sitegen.findings.problems import Where
from sitegen.project.places import table_at
from sitegen.project.schema import SETTINGS_FILE
from sitegen.report.record.pages import (
    SHORT_DATA,
    Block,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    Mark,
    Page,
    PrintedValue,
    Prose,
    Ref,
    Section,
    Source,
    Table,
    Tiles,
    Volume,
)
from sitegen.report.write.sentences import numbered_sentences, tells_number
from sitegen.report.write.words import say

ABOUT_ITSELF = ("sources", "downloads", "files", "working-set", "changes", "checks", "glossary")
"""Pages whose numbers tell of the report's own files and of earlier revisions, and the program's own lists."""
OTHER_FILES = {"project": SETTINGS_FILE}
PDF = Ref("file", "downloads/report.pdf")
Files: TypeAlias = Mapping[str, tuple[Source, ...]]
"""The files behind each table of the format, feature file, setting and text that the folder has, by its name."""
JOIN = frozenset({"results", "lab_samples", "samplers", "deployments"})
"""Where all of these are read, results were joined to their samples and samplers."""
JOINED = JOIN | {"locations", "return_bags", "analytes"}
"""What results are joined to: sample, sampler, placement, point, bag and compound."""
SENTENCE = "sentence"
"""The column of a number that stands in a sentence: the text is the whole of it."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where blocks stand: page, nearest section, way in print, and the files that are behind it."""

    page: Ref
    files: Files
    sources: tuple[Source, ...]
    section: str = ""
    way: tuple[str, ...] = ()

    @property
    def in_print(self) -> str:
        return " / ".join(self.way)

    def inside(self, section: Section) -> _Place:
        sources = sources_of(section.reads, self.files) or self.sources
        way = (*self.way, section.title) if self.way else ()
        return replace(self, section=section.id, sources=sources, way=way)


def printed_values(
    pages: Iterable[Page], chapters: Iterable[Chapter], files: Files, volumes: Iterable[Volume] = ()
) -> Iterator[PrintedValue]:
    """Yield every number of the pages and then those that only print shows.

    Listed are numbers in tables and behind figures, of fact lists and tiles, and every sentence
    that tells one. Words of the record are not: they stand as received, in tables that name
    their file. A number of a page that print shows as well is one entry with both places.
    """
    apart = ((Ref("file", volume.file), chapter) for volume in volumes for chapter in volume.chapters)
    documents = chain(((PDF, chapter) for chapter in chapters), apart)
    printed = [value for document, chapter in documents for value in _of_chapter(chapter, files, document)]
    waiting: dict[tuple[object, ...], deque[int]] = {}
    for at, value in enumerate(printed):
        waiting.setdefault(_same(value), deque()).append(at)
    found: set[int] = set()
    for page in pages:
        for value in _of_page(page, files):
            alike = waiting.get(_same(value))
            if alike:
                at = alike.popleft()
                found.add(at)
                yield value._replace(in_print=printed[at].in_print)
            else:
                yield value
    yield from (value for at, value in enumerate(printed) if at not in found)


def _of_page(page: Page, files: Files) -> Iterator[PrintedValue]:
    key = page.ref.id if page.ref.kind == "page" else page.ref.kind
    if key not in (*ABOUT_ITSELF, "source"):
        place = _Place(page.ref, files, _behind_all(page.reads, files))
        yield from _sentences(page.lead, place)
        yield from _numbers(page.blocks, place)


def _of_chapter(chapter: Chapter, files: Files, document: Ref) -> Iterator[PrintedValue]:
    if chapter.id not in ABOUT_ITSELF:
        place = _Place(document, files, _behind_all(chapter.reads, files), way=(chapter.title,))
        yield from _numbers(chapter.blocks, place)


def _behind_all(reads: frozenset[str], files: Files) -> tuple[Source, ...]:
    """Return the files behind a page; one that rests on records of which the folder has none may rest on all it has."""
    return sources_of(reads, files) or (sources_of(files, files) if reads else ())


def _same(value: PrintedValue) -> tuple[object, ...]:
    """Return what a number of a page and the same number in print have in common."""
    if value.origin:
        return value.row, value.column, value.text, value.origin
    if value.column == SENTENCE:
        return (value.text,)
    return value.id, value.number, value.column, value.text


def _numbers(blocks: Iterable[Block], place: _Place) -> Iterator[PrintedValue]:
    for block in blocks:
        match block:
            case Section():
                yield from _numbers(block.blocks, place.inside(block))
            case Table():
                yield from _in_table(block, place)
            case Figure():
                yield from _in_figure(block, place)
            case Facts() | Tiles():
                yield from _in_list(block, place)
            case Prose():
                yield from _sentences(block.markdown, place)
            case Callout():
                said = bool(block.refs) and all(cell.ref == Ref("page", "review") for cell in block.refs)
                sources = sources_of(("comments",), place.files) if said else place.sources
                for text in (block.markdown, *(cell.text for cell in block.refs)):
                    yield from _sentences(text, replace(place, sources=sources))
            case _:
                pass


def _in_table(table: Table, place: _Place) -> Iterator[PrintedValue]:
    sources, in_print = _behind(table, place), place.in_print
    wanted = [(at, column.key) for at, column in enumerate(table.columns) if holds_numbers(column)]
    for number, row in enumerate(table.rows if wanted else (), start=1):
        head = row[table.row_header].text if table.row_header >= 0 else ""
        for at, key in wanted:
            cell = row[at]
            if is_number(cell):
                yield PrintedValue(
                    place.page, "table", table.id, head, number, key, cell.text, cell.origin, sources, in_print
                )
    for text in (table.caption, table.note):
        yield from _sentences(text, replace(place, sources=sources), "table", table.id)


def _in_figure(figure: Figure, place: _Place) -> Iterator[PrintedValue]:
    table = figure.table
    inner = replace(place, sources=sources_of(figure.reads, place.files) or place.sources)
    for text in (figure.caption, figure.description):
        yield from _sentences(text, inner, "figure", figure.id)
    if table and not (place.way and len(table.rows) > SHORT_DATA):
        yield from _in_table(replace(table, id=f"{figure.id}-data"), inner)


def _in_list(block: Facts | Tiles, place: _Place) -> Iterator[PrintedValue]:
    """Yield the numbers of a list of facts that are measured, or of tiles."""
    facts: list[tuple[str, str]]
    if isinstance(block, Facts):
        facts = [(label, cell.text) for label, cell in block.rows if label in block.measured]
    else:
        facts = [(tile.label, text) for tile in block.tiles for text in (tile.value, tile.note)]
    for number, (label, text) in enumerate(facts, start=1):
        if any(sign.isdigit() for sign in text):
            kind = "section" if place.section else ""
            yield PrintedValue(
                place.page, kind, place.section, label, number, "value", text, None, place.sources, place.in_print
            )


def _sentences(text: str, place: _Place, kind: str = "", name: str = "") -> Iterator[PrintedValue]:
    """Yield the sentences of a text that tell a number, under the block or section that they stand in."""
    kind, name = (kind, name) if kind else ("section" if place.section else "", place.section)
    for number, sentence in enumerate(numbered_sentences(text), start=1):
        yield PrintedValue(place.page, kind, name, "", number, SENTENCE, sentence, None, place.sources, place.in_print)


def mark_values(
    pages: Iterable[Page], rows: Mapping[str, tuple[str, int, str]], files: Files
) -> Iterator[PrintedValue]:
    """Yield the reasons of marks that tell a number, each once for each finding behind it, at that finding.

    ``rows`` gives the (file, row, column) that each finding, by its key, is about.
    """
    seen: set[tuple[str, str]] = set()
    for page in pages:
        for table in tables_in(page.blocks):
            for mark in (mark for row in table.rows for cell in row for mark in cell.marks):
                if (mark.reason, mark.finding) not in seen:
                    seen.add((mark.reason, mark.finding))
                    if tells_number(mark.reason):
                        yield _of_mark(mark, rows.get(mark.finding), page, table.id, files)


def _of_mark(mark: Mark, row: tuple[str, int, str] | None, page: Page, table: str, files: Files) -> PrintedValue:
    """Return the reason of a mark at its finding; where none is told, it may rest on all that the folder says."""
    keys = say("sources.mark_keys")
    if row is None:
        every = sources_of(files, files)
        return PrintedValue(page.ref, "table", table, mark.word, 0, "mark", mark.reason, None, every, keys)
    findings = Ref("page", "findings")
    origin = row if row[1] else None
    sources = (Source(row[0], file=row[0]),)
    return PrintedValue(findings, "section", mark.finding, mark.word, 0, "mark", mark.reason, origin, sources, keys)


def holds_numbers(column: Column) -> bool:
    """Say whether a column holds numbers, or words that tell some (``41 of 51 detected``): its maker declares it."""
    return column.kind == "number" or column.tells


def tables_in(blocks: Iterable[Block]) -> Iterator[Table]:
    """Yield the tables among blocks, those in sections and behind figures (as ``<figure>-data``) included."""
    for block in blocks:
        if isinstance(block, Table):
            yield block
        elif isinstance(block, Section):
            yield from tables_in(block.blocks)
        elif isinstance(block, Figure) and block.table is not None:
            yield replace(block.table, id=f"{block.id}-data")


def is_number(cell: Cell) -> bool:
    """Say whether a cell of a column of numbers holds one; a rejected result has a row as well."""
    return (cell.origin is not None and cell.origin[1] > 0) or any(sign.isdigit() for sign in cell.text)


def with_sources(blocks: Sequence[Block], files: Files) -> tuple[Block, ...]:
    """Return blocks whose tables say which files they were computed from, where they do not say it yet."""
    return tuple(_with_sources(block, files) for block in blocks)


def _with_sources(block: Block, files: Files) -> Block:
    if isinstance(block, Section):
        return replace(block, blocks=with_sources(block.blocks, files))
    if isinstance(block, Figure) and block.table is not None:
        table = block.table if block.table.reads else replace(block.table, reads=block.reads)
        return replace(block, table=_sourced(table, files))
    return _sourced(block, files) if isinstance(block, Table) else block


def _sourced(table: Table, files: Files) -> Table:
    """Return a table with its sources, if it holds numbers or shows one file's rows; of others nobody asks."""
    told = any(map(holds_numbers, table.columns)) or len(table.reads) == 1
    return replace(table, sources=in_short(table.reads, files)) if told and not table.sources else table


def in_short(reads: frozenset[str], files: Files) -> tuple[Source, ...]:
    """Return the files behind what was read; results with what they are joined to are named as one."""
    if not reads >= JOIN or "results" not in files:
        return sources_of(reads, files)
    joined = Source(say("sources.joined"), Ref("page", "sources", "joined"))
    return (joined, *sources_of(reads - JOINED, files))


def _behind(table: Table, place: _Place) -> tuple[Source, ...]:
    """Return what stands behind the numbers of a table, file by file: what was read, else what it tells itself."""
    read = sources_of(table.reads, place.files)
    ours = tuple(source for source in table.sources if source == own_defaults())
    return (*read, *ours) if read else table.sources or place.sources


def own_defaults() -> Source:
    """Return the source of what the program brings along."""
    return Source(say("sources.program"), Ref("page", "limits"))


def sources_of(reads: Container[str], files: Files) -> tuple[Source, ...]:
    """Return the files behind what was read, those that the folder has, in the order of the format.

    >>> lab, bags = (Source("lab/results.csv"),), (Source("field/return_bags.csv"),)
    >>> [source.text for source in sources_of({"results", "weather"}, {"return_bags": bags, "results": lab})]
    ['lab/results.csv']
    """
    return tuple(source for name, behind in files.items() if name in reads for source in behind)


def record_ref(where: Where) -> Ref | None:
    """Return the pointer to a row of one of our own files, None where its rows have no page of their own.

    >>> record_ref(Where("field/samplers.csv", 5)).anchor, record_ref(Where("lab/results.csv", 5)) is None
    ('row-5', True)
    """
    spec, _ = table_at(where)
    return Ref("source", f"file-{spec.name}", f"row-{where.row or 0}") if spec and spec.name != "results" else None
