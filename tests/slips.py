"""Slips of the pen in built text: a slot that nothing filled, a plural that is none, a sentence in lower case.

    assert report_slips(report) == []   # pages and print, in memory
    assert site_slips(out / "site") == []   # the pages as written

A rule is a pattern, or for sentences a question about each of them. What a rule finds is told with
its place, its name and the words around it. Words of the record are scanned like any other, so a
survey that is scanned must have none of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from typing import NamedTuple

from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Facts,
    Figure,
    Photo,
    Prose,
    Report,
    Section,
    Table,
    Tiles,
)
from sitegen.report.write.sentences import plain, sentences

AROUND = 60
"""Characters told on either side of a slip."""


class Text(NamedTuple):
    """A text of the report: where it stands, its words, and whether it is made of sentences."""

    place: str
    words: str
    prose: bool = False


_ONES = (
    "analysis", "bag", "batch", "blank", "box", "building", "cell", "comment", "compound", "count", "day", "departure",
    "detection", "difference", "duplicate", "event", "exceedance", "feature", "file", "finding", "flag", "gap", "group",
    "hole", "hour", "kind", "laboratory", "level", "limit", "line", "location", "mass", "note", "number", "objective",
    "page", "pair", "photograph", "place", "point", "primary", "quantity", "reading", "record", "result", "role", "row",
    "sampler", "sample", "seal", "sentence", "set", "sheet", "shipment", "signature", "spare", "surface", "table",
    "ticket", "time", "value", "visit", "week",
)  # fmt: skip


def _many(one: str) -> str:
    if one.endswith("is"):
        return f"{one[:-2]}es"
    if one.endswith("y") and one[-2] not in "aeiou":
        return f"{one[:-1]}ies"
    return f"{one}es" if one.endswith(("s", "x", "ch", "sh")) else f"{one}s"


_ONE = f"(?:{'|'.join(_ONES)})"
_MANY = f"(?:{'|'.join(map(_many, _ONES))})"
_ALONE = r"(?<![\d.,–:/+^\w-])(?<!\b[Nn]o\. )"
_COUNT_1 = rf"(?<!\b[Bb]atch )(?<!\b[Tt]able ){_ALONE}1(?![\d.,])"
_COUNT = rf"{_ALONE}(?:[2-9]|[1-9]\d+|\d{{1,3}}(?:,\d{{3}})+)(?![\d.,])"
_APART = "".join(rf"(?<!\b{word} )" for word in ("of", "for", "in", "at", "over", "from", "with", "by", "to", "on"))
_ENDS = r"(?=$|[.,;:)]| (?:of|in|at|from|are|were|is|was|have|has|with|and|or)\b)"
_SLOTS = (
    "between", "from", "of", "to", "at", "by", "is", "was", "are", "were", "and", "about", "than", "over", "after",
    "before", "until", "with", "in", "on", "for",
)  # fmt: skip
_MEETS = r"(?:touch|reach|affect|concern|carr|bear|hit|name|lie|stand|exceed|differ)\w*"

_RULES: tuple[tuple[str, str], ...] = (
    ("None for a word", r"(?<=\w )None\b|\bNone(?= (?:m|ft|ng|d|h|min|%|to|and|at|in|on|by|for)\b)|^None$"),
    ("no number", r"(?<!\w)(?:nan|NaN|NaT|<NA>|inf)(?!\w)"),
    ("an unfilled template", r"\{\{|\}\}|\{%|%\}|\bUndefined\b|<function |<generator |\bobject at 0x"),
    ("two blanks", r"(?<=\S)[ \u00a0]{2,}(?=\S)"),
    ("empty brackets", r"\(\s*\)|\[\s*\]"),
    ("a blank inside brackets", r"\( |(?<=\S) \)"),
    ("a blank before a sign", r"(?<=\S) [,;:.!?](?=\s|$)"),
    ("two signs", r"[,;:]\s*[.,;:](?=\s|$)|(?<!\.)\.\.(?!\.)|\(\s*[,;]|[,;:]\s*\)"),
    ("a sign without words before it", r"^[,.;:)](?!\w)"),
    ("dashes for numbers", r"(?<!\S)–\s+(?:and|to|of|or|from)\s+–(?!\S)"),
    ("nothing of nothing", r"\b(?:0|[Nn]o|[Nn]one) of (?:0|no)\b"),
    ("a dash in a slot", rf"\b(?i:{'|'.join(_SLOTS)}) –(?=$|[.,;:)]| (?:and|to|of|in|at|is|was|were|on)\b)"),
    ("a dash with a unit", r"(?<!\S)– (?:ng|m|ft|d|h|min|%|µg/m³|mL/min)(?!\w)"),
    ("an empty slot", r"\b(?:and and|or or|of of|(?:[Bb]etween|[Ff]rom|[Tt]han|[Oo]f) (?:and|or|to|of|than))\b"),
    ("an end without a word", r"\b(?:and|or|the|an|than)[.;:)]"),
    ("a word twice", r"\b(?i:((?!(?:that|had)\b)[a-z]{2,}) \1)\b(?!-)"),
    ("a plural left open", r"\w\((?:s|es)\)"),
    ("one of many", rf"{_COUNT_1} {_MANY}(?![\w-])"),
    ("many of one", rf"{_COUNT} {_ONE}{_ENDS}"),
    (
        "one with a plural verb",
        rf"{_COUNT_1} (?:{_ONE} )?(?:are|were|have|do|carry|stand|lie|hold|touch|differ|name|need|come|block)\b",
    ),
    ("many with a singular verb", rf"{_APART}{_COUNT} {_MANY} (?:is|was|has|does)\b"),
    ("no that does nothing to no", rf"\b(?:[Nn]o|0|[Nn]one)\b[^.;:()]*?\b{_MEETS}(?: on| in| at| from)? no\b"),
)
RULES = tuple((name, re.compile(pattern)) for name, pattern in _RULES)

_LOWER = re.compile(r"[a-zà-ÿ]")
_KEEPS_CASE = re.compile(
    r"(?:[a-z]{1,2}|cis|trans|tert|sec|iso|alpha|beta|meta|ortho|para)(?:,[a-z])*-[\w(]"  # compounds
    r"|mL|pH|[\w/-]+\.\w+|\w+/"  # units and files
    r"|[a-z -]{1,24}: [A-Z]"  # the word of a mark before its reason
)
"""What a sentence may begin with as it is."""
_CODE = re.compile(r"(?<!\\)`[^`]*`")
_ITEM = re.compile(r"^\s*(?:[*+-]|\d+[.)])\s+", re.MULTILINE)


def slips_in(words: str, *, prose: bool = False) -> Iterator[str]:
    """Yield each slip of a text: the rule's name and the words around it. ``prose`` is Markdown.

    >>> [slip.partition(":")[0] for slip in slips_in("Between – and – ng per sampler.")]
    ['dashes for numbers', 'a dash in a slot', 'a dash with a unit']
    >>> list(slips_in("No slips in 1 point of 12."))
    []
    """
    text = _as_read(words) if prose else words
    for name, rule in RULES:
        for found in rule.finditer(text):
            yield f"{name}: {text[max(0, found.start() - AROUND) : found.end() + AROUND].strip()}"
    if prose:
        for sentence in map(plain, sentences(_ITEM.sub("\n\n• ", _CODE.sub("‹code›", words)))):
            if _LOWER.match(sentence) and not _KEEPS_CASE.match(sentence) and sentence.endswith((".", "!", "?")):
                yield f"a sentence in lower case: {sentence[: 2 * AROUND]}"


def _as_read(markdown: str) -> str:
    """Return Markdown as a reader sees it, a line for each line of source; what is quoted as code is left out."""
    lines = _ITEM.sub("", _CODE.sub("‹code›", markdown)).splitlines()
    return "\n".join(plain(re.sub("^#+ ", "", line.strip())) for line in lines)


# --- texts of the records ------------------------------------------------------------------


def report_texts(report: Report) -> Iterator[Text]:
    """Yield every text of the pages and of print, that of volumes included."""
    for page in report.pages:
        if page.ref.kind == "source":  # rows of the record as they were received
            continue
        place = f"page {page.ref.kind} {page.ref.id}"
        yield Text(place, page.title)
        yield Text(place, page.lead, prose=True)
        yield from _block_texts(place, page.blocks)
    volumes = [chapter for volume in report.volumes for chapter in volume.chapters]
    for chapter in (*report.chapters, *volumes):
        yield Text(f"chapter {chapter.id}", chapter.title)
        yield from _block_texts(f"chapter {chapter.id}", chapter.blocks)


def _block_texts(place: str, blocks: Iterable[Block]) -> Iterator[Text]:
    """Yield the texts of blocks; what a record is quoted with, and the name of the map's frame, are left out."""
    for block in blocks:
        match block:
            case Section():
                yield Text(f"{place}#{block.id}", block.title)
                yield from _block_texts(f"{place}#{block.id}", block.blocks)
            case Table():
                yield from _table_texts(f"{place}, table {block.id}", block)
            case Figure():
                yield from _figure_texts(f"{place}, figure {block.id}", block)
            case _:
                yield from (Text(place, words, prose) for words, prose in _words(block))


def _words(block: Block) -> Iterator[tuple[str, bool]]:
    match block:
        case Facts():
            for label, cell in block.rows:
                yield from ((label, False), *_cell_words(cell))
        case Prose():
            yield block.markdown, True
        case Callout():
            yield from ((block.title, False), (block.markdown, True))
            yield from (words for cell in block.refs for words in _cell_words(cell))
        case Tiles():
            yield from ((words, False) for tile in block.tiles for words in (tile.value, tile.label, tile.note))
        case Photo():
            yield from ((words, False) for words in (block.caption, block.alt, block.credit))


def _figure_texts(place: str, figure: Figure) -> Iterator[Text]:
    yield from (Text(place, words) for words in (figure.caption, figure.alt, *_drawn(figure.svg)))
    yield Text(place, figure.description, prose=True)
    yield from _table_texts(place, figure.table) if figure.table else ()


def _table_texts(place: str, table: Table) -> Iterator[Text]:
    yield Text(place, table.caption)
    yield from (Text(place, words, prose=True) for words in (table.note, table.empty))
    yield from (Text(place, f"{column.title} {column.unit}".strip()) for column in table.columns)
    cells = (cell for row in table.rows for cell in row)
    yield from (Text(place, words, prose) for cell in cells for words, prose in _cell_words(cell))


def _cell_words(cell: Cell) -> Iterator[tuple[str, bool]]:
    yield cell.text, False
    yield from ((mark.reason, True) for mark in cell.marks)


def _drawn(svg: str) -> list[str]:
    """Return the words of a drawing: its title, its description and its labels."""
    return [unescape(words) for words in re.findall(r"<(?:text|title|desc)\b[^>]*>([^<]+)<", svg)]


def report_slips(report: Report) -> list[str]:
    """Return the slips of a report's pages and of its print, each place and words once."""
    return told(report_texts(report))


def told(texts: Iterable[Text]) -> list[str]:
    """Return the slips of texts, each with its place; words that stand in many places are told at the first."""
    first: dict[tuple[str, bool], str] = {}
    for text in texts:
        first.setdefault((text.words, text.prose), text.place)
    return [f"{place}: {slip}" for (words, prose), place in first.items() for slip in slips_in(words, prose=prose)]


# --- texts of written pages ----------------------------------------------------------------


_HOLDERS = frozenset(
    ("p", "li", "td", "th", "h1", "h2", "h3", "h4", "h5", "h6", "dt", "dd", "figcaption", "caption", "summary",
     "button", "label", "title", "text", "desc", "a")
)  # fmt: skip
_SAID = ("alt", "aria-label", "title", "placeholder")
_UNREAD = frozenset({"script", "style", "pre", "code"})


class _Reader(HTMLParser):
    """Gathers the words of each element that holds words of its own."""

    def __init__(self, place: str) -> None:
        super().__init__(convert_charrefs=True)
        self.place = place
        self.texts: list[Text] = []
        self._open: list[tuple[str, list[str]]] = []
        self._unread = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "code" or "mark" in (dict(attrs).get("class") or "").split():
            self.handle_data(f"‹{tag}›")
        self._unread += tag in _UNREAD
        self.texts += (
            Text(self.place, v) for n, v in attrs if v and n in ("alt", "aria-label", "title", "placeholder")
        )
        if tag == "br":
            self.handle_data("\n")
        if tag in _HOLDERS:
            self._open.append((tag, []))

    def handle_endtag(self, tag: str) -> None:
        self._unread -= tag in _UNREAD
        if tag in _HOLDERS and self._open and self._open[-1][0] == tag:
            words = "".join(self._open.pop()[1])
            self.texts.append(Text(self.place, words.strip("\n")))
            if self._open and tag == "a":
                self._open[-1][1].append(words)

    def handle_data(self, data: str) -> None:
        if not self._unread and self._open:
            self._open[-1][1].append(data)


def site_slips(site: Path) -> list[str]:
    """Return the slips of every page below ``site`` as it was written."""
    texts: list[Text] = []
    for path in sorted(site.rglob("*.html")):
        place = path.relative_to(site).as_posix()
        if place.startswith("sources/"):  # rows of the record as they were received
            continue
        reader = _Reader(place)
        reader.feed(path.read_text("utf-8"))
        texts += reader.texts
    return told(texts)
