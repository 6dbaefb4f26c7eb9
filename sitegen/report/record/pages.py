"""The report as records: pages and chapters made of blocks.

Writers (site, PDF) know these records and nothing of a survey. Text fields are
plain text unless their name ends in ``markdown``; a writer escapes plain text, and
renders Markdown with raw HTML switched off.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple, TypeAlias

from sitegen.compute.formats import day_text
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.lone import NO_ATLAS, Atlas
from sitegen.report.record.maps import MapData
from sitegen.report.record.sheets import Workbook
from sitegen.report.record.takeaway import NOTHING, TakeAway
from sitegen.voice import worded

SHORT_DATA = 20
"""The most rows of a figure's data that print shows with it; the site shows all."""


class Ref(NamedTuple):
    """A pointer to something that has a page, an anchor or a file of its own.

    Kinds: ``page`` (id is the page's slug), ``location``, ``compound``, ``sampler``,
    ``bag``, ``shipment``, ``finding``, ``check``, ``term``, ``file`` (id is a path
    below the output folder, the anchor ``page=3`` of a PDF), ``map`` (id is a location or compound to
    open at), ``scan`` (id is the scan's file in the project folder, the anchor its page).
    A writer that can't resolve a Ref prints the text alone.
    """

    kind: str
    id: str
    anchor: str = ""


class Mark(NamedTuple):
    """A qualification of a number: its short word, and why.

    ``word`` is of the trade and short (``trip blank``, ``water``); ``reason`` is a full plain sentence;
    ``finding`` is the key of the finding behind it. ``reach`` names what a mark of custody applies to, ``bag
    RB-1``, "" for a mark of one sampler or result: where a table has several bags their marks go under that name.
    """

    word: str
    reason: str
    finding: str = ""
    reach: str = ""


class Source(NamedTuple):
    """What a number was computed from: a file, or a part of it, as it is written; ``ref`` leads to its rows.

    ``file`` is the input file, "" for the program's own defaults.
    """

    text: str
    ref: Ref | None = None
    file: str = ""


class Cell(NamedTuple):
    """One table cell: text, an optional link, marks and a tone.

    Tones: ``""``, ``nondetect``, ``muted``, ``strong``, ``class0`` … ``class6``
    (mass classes, lowest to highest, for a heat table), ``yes``, ``partly``, ``no``,
    and the severities ``stop``, ``hold``, ``flag``, ``note``.
    ``origin`` names the row behind a number: (file, row, column).
    ``marks`` are all qualifications of the value, in every table. What of them a reader finds in the cell, and
    what once for the row or the table, is decided where the table is shown (``report/write/qualified.py``).
    """

    text: str
    ref: Ref | None = None
    marks: tuple[Mark, ...] = ()
    tone: str = ""
    origin: tuple[str, int, str] | None = None

    @property
    def mark_words(self) -> tuple[str, ...]:
        """The words of its marks, each once and in their order: what is written in the cell.

        A word may have several reasons (two custody gaps of one bag); the key below the table has each.
        """
        return tuple(dict.fromkeys(mark.word for mark in self.marks))


class Column(NamedTuple):
    """A table column. ``kind`` is ``text``, ``number`` (right-aligned) or ``wide`` (long text).

    ``tells`` says of a column that is not of numbers that its words tell some: ``41 of 51 detected``.
    """

    key: str
    title: str
    unit: str = ""
    kind: str = "text"
    tells: bool = False


def source_line(sources: Iterable[Source]) -> str:
    """Write sources one after another.

    >>> source_line([Source("lab/results.csv"), Source("project.toml")])
    'lab/results.csv; project.toml'
    """
    return "; ".join(source.text for source in sources)


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption. The column ``row_header`` heads each row (-1: none).

    ``note`` stands below it. ``empty`` is the sentence shown where there are no rows.
    ``filters`` names columns (keys) a site reader may filter by. ``landscape`` asks
    print for a wide page. ``joined`` asks print to give non-detects that say the same of several
    heads one row, after the others. ``reads`` names what was read while it was made; ``sources``
    says which files that is.
    """

    id: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    empty: str = "Nothing recorded."
    row_header: int = 0
    filters: tuple[str, ...] = ()
    landscape: bool = False
    joined: bool = False
    sources: tuple[Source, ...] = ()
    reads: frozenset[str] = frozenset()

    @property
    def source_line(self) -> str:
        """Its sources as one line, "" where none is told."""
        return source_line(self.sources)


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing as SVG text with its caption, alternative text and text twin.

    ``description`` says in sentences what the drawing shows; ``table`` holds its data. ``width``
    is ``full``, ``half``, or ``fold`` for a drawing made for a fold-out sheet of print.
    """

    id: str
    svg: str
    caption: str
    alt: str
    description: str = ""
    table: Table | None = None
    width: str = "full"
    reads: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph of the project folder, by its path below it."""

    file: str
    caption: str
    alt: str
    credit: str = ""


@dataclass(frozen=True, slots=True)
class Prose:
    """Paragraphs and lists in Markdown (CommonMark, raw HTML off).

    A link to ``ref:0`` leads to the first of ``refs``, and so on; print keeps its text alone.
    """

    markdown: str
    refs: tuple[Ref, ...] = ()


@dataclass(frozen=True, slots=True)
class Quote:
    """Words of a field or laboratory record, verbatim, never read as markup."""

    text: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """A short list of label and value pairs; ``measured`` names the labels of those that are numbers."""

    rows: tuple[tuple[str, Cell], ...]
    measured: frozenset[str] = frozenset()


class Tile(NamedTuple):
    """A number to see first: ``value`` with its ``label`` and a smaller ``note``."""

    value: str
    label: str
    note: str = ""
    ref: Ref | None = None


@dataclass(frozen=True, slots=True)
class Tiles:
    """A row of tiles at the top of a page."""

    tiles: tuple[Tile, ...]


class Button(NamedTuple):
    """A file to fetch first: what it is, its format, its size in words ("" where it is not known yet)."""

    words: str
    format: str
    ref: Ref
    size: str = ""


@dataclass(frozen=True, slots=True)
class Buttons:
    """Files that a page offers before all others."""

    buttons: tuple[Button, ...]


@dataclass(frozen=True, slots=True)
class Callout:
    """A boxed remark. ``tone`` is a severity, ``caution`` or ``info``."""

    tone: str
    title: str
    markdown: str
    refs: tuple[Cell, ...] = ()


@dataclass(frozen=True, slots=True)
class MapFrame:
    """The place where the site shows the web map, opened at ``at`` (an id or nothing)."""

    title: str
    at: str = ""
    tall: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with blocks under it. ``id`` is the anchor, unique on its page."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    reads: frozenset[str] = frozenset()


Block: TypeAlias = Table | Figure | Photo | Prose | Quote | Facts | Tiles | Buttons | Callout | MapFrame | Section


@dataclass(frozen=True, slots=True)
class Page:
    """A page of the site.

    ``group`` is its place in the navigation ("" = reached by links only); ``parent``
    heads it; ``previous`` and ``following`` step through a series; ``search`` is the
    plain text that the search index holds for it, ``words`` are other names that it is looked for by.
    """

    ref: Ref
    title: str
    lead: str
    blocks: tuple[Block, ...]
    group: str = ""
    parent: Ref | None = None
    previous: Ref | None = None
    following: Ref | None = None
    search: str = ""
    words: tuple[str, ...] = ()
    reads: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter of the printed report.

    ``appendix`` chapters are lettered and begin on a new page. Of a chapter that is not
    ``listed`` the contents name the title alone, or its sections as well where it is
    ``indexed``; its sections are set close together and kept whole. In a ``keyed`` chapter
    the key of a table has the words of its marks, and a key at its end the reasons of each once. A ``single_page``
    chapter asks print to fit it on a page of its own: what follows its drawing stands beside it.
    """

    id: str
    title: str
    blocks: tuple[Block, ...]
    appendix: bool = False
    listed: bool = True
    keyed: bool = False
    single_page: bool = False
    indexed: bool = False
    reads: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Volume:
    """Chapters of the printed report that are bound apart: ``file`` is their PDF's path below the site.

    The report itself is volume 1. ``locations`` are the points whose sheets are in this one.
    """

    number: int
    file: str
    locations: tuple[str, ...]
    chapters: tuple[Chapter, ...]


class PrintedValue(NamedTuple):
    """A number that is printed: its page, its block there, row, column, text and origin.

    ``kind`` and ``id`` name the block that holds it: ``table``, ``figure`` or ``section``, ""
    where it stands in none. ``row`` is the row's heading, ``number`` counts rows from 1.
    ``origin`` is (file, row, column) where one row is behind it; else ``sources`` are the
    files it is computed from. ``in_print`` is the way to it in print (chapter / section), ""
    where print does not show it; the page of what only print shows is the PDF.
    """

    page: Ref
    kind: str
    id: str
    row: str
    number: int
    column: str
    text: str
    origin: tuple[str, int, str] | None
    sources: tuple[Source, ...]
    in_print: str = ""

    @property
    def name(self) -> str:
        """The value's name, the same in every build of the same content."""
        return f"{self.page.kind}:{self.page.id}/{self.id}/{self.number}/{self.column}"


class Look(NamedTuple):
    """The project's own look: the files of logo and stylesheet as the folder has them, and the logo in words.

    Empty where there is none. ``logo_at`` is where the logo stands on the site.
    """

    logo: str = ""
    logo_alt: str = ""
    logo_at: str = ""
    stylesheet: str = ""


NO_LOOK = Look()


@dataclass(frozen=True, slots=True)
class Meta:
    """What stands on every page and on the cover.

    ``distribution`` says in words who may have the report; ``withheld`` names the classes
    of information that are left out of it; ``signature`` says whether the content is signed;
    ``volume`` says which volume of how many this is (``2 of 4``), "" where there is but one.
    ``document`` says what this is where it is no report of results: ``Work plan``.
    ``round`` names the round that it is about, "" where there is but one. ``lists`` asks print for
    lists of tables and figures after the contents.
    """

    project_id: str
    title: str
    site: str
    client: str
    prepared_by: str
    revision: int
    status_word: str
    report_date: str
    digest: str
    publish_level: str
    tool: str
    notices: tuple[str, ...] = ()
    paper: str = "a4"
    work_plan: str = ""
    distribution: str = ""
    withheld: tuple[str, ...] = ()
    signature: str = ""
    volume: str = ""
    look: Look = NO_LOOK
    document: str = ""
    round: str = ""
    lists: bool = True

    @property
    def day(self) -> str:
        """The report's date as people write it."""
        return day_text(self.report_date)

    @property
    def state(self) -> str:
        """The status with the signature, as it stands on every page."""
        state = worded(self.status_word)
        return f"{state}, {self.signature}" if self.signature else state


@dataclass(frozen=True, slots=True)
class CommentCopy:
    """Chapters of the printed report once more, as a file that others may write in.

    ``notices`` open it and say what it is and what it is not; ``running`` stands on every page.
    """

    notices: tuple[str, ...]
    running: str
    chapters: tuple[Chapter, ...]


@dataclass(frozen=True, slots=True)
class Bound:
    """What stands between covers: chapters, and the reasons for each revision (``history``).

    The ``volumes`` hold what has no room there, under covers of their own, and the ``atlas`` the maps that
    are printed alone.
    """

    meta: Meta
    chapters: tuple[Chapter, ...]
    history: Table | None = None
    volumes: tuple[Volume, ...] = ()
    atlas: Atlas = NO_ATLAS


@dataclass(frozen=True, slots=True)
class Report:
    """The whole report, ready for any writer. ``history`` gives the reasons for each revision.

    ``values`` are the numbers that its tables print, ``sample`` those drawn for a reviewer, None where
    the report is not for one, ``hashes`` the SHA-256 of each input file that a number leads to, and of
    each of the ``volumes`` that hold what the printed report has no room for. ``comment_copy`` is there
    where the project asks for one. ``away`` is what GIS and office take away beside the tables.
    """

    meta: Meta
    pages: tuple[Page, ...]
    chapters: tuple[Chapter, ...]
    map: MapData
    exports: tuple[ExportTable, ...]
    groups: tuple[str, ...]
    history: Table | None = None
    values: tuple[PrintedValue, ...] = ()
    sample: tuple[PrintedValue, ...] | None = ()
    hashes: Mapping[str, str] = field(default_factory=dict)
    comment_copy: CommentCopy | None = None
    volumes: tuple[Volume, ...] = ()
    workbook: Workbook = field(default_factory=Workbook)
    away: TakeAway = NOTHING
    atlas: Atlas = NO_ATLAS


Printable = Bound | Report
"""What print can set: of a whole report it takes what stands between covers."""
