"""Where the numbers of a letter come from: each with the row or the files behind it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from sitegen.compute.text.sentences import sentences
from sitegen.report.letter.facts import Fact
from sitegen.report.record.pages import Block, Callout, Facts, Prose, Section, source_line
from sitegen.report.record.specs import Spec, table
from sitegen.report.trace.printed import JOINED, Files, in_short, sources_of
from sitegen.report.write.sentences import plain
from sitegen.report.write.words import lexicon, say

_NUMBER = re.compile(
    r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d)?|\b\d\d:\d\d\b|(?<![\w\-/:.,])\d++(?:[,.\u202f]\d+)*+(?![\w\-/:])"
)
_TAKEN = "\0"
"""Stands for each character of a fact that was found in a text."""
_MOST_QUOTED = 90
"""Characters of a sentence that the list quotes."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A block of a letter: the heading it stands under, its facts, the tables that were read while it was made.

    ``source`` says in words what its other numbers rest on, where that is no table.
    """

    under: str
    block: Block
    facts: tuple[Fact, ...] = ()
    reads: frozenset[str] = frozenset()
    source: str = ""


class Number(NamedTuple):
    """A number of a letter as it is written, or those of one sentence; what it is, and where it comes from."""

    text: str
    what: str
    source: str


def numbers_in(text: str) -> list[str]:
    r"""Return the numbers, dates and times that stand on their own in a text; ids and names of compounds are none.

    >>> numbers_in("At SG-35 on 2025-10-23 at 07:00: 53,300 of 1,2-dichloroethane (5.0 to 7).")
    ['2025-10-23', '07:00', '53,300', '5.0', '7']
    >>> numbers_in("53\u202f300 ng") == ["53\u202f300"]
    True
    """
    return _NUMBER.findall(text)


def numbers(passages: Iterable[Passage], files: Files) -> list[Number]:
    """Return every number of some passages in their order, each text once for what it is and where it stands."""
    return list(dict.fromkeys(number for passage in passages for number in _in_passage(passage, files)))


def _in_passage(passage: Passage, files: Files) -> Iterator[Number]:
    """Yield the facts of a passage in their order, then what numbers are left: those of the report's own sentences."""
    others = passage.source or source_line(in_short(passage.reads, files))
    left = "\n\n".join(texts_of(passage.block))
    found: list[tuple[int, Number]] = []
    for fact in sorted(passage.facts, key=lambda fact: -len(fact.text)):
        match = _once(fact.text).search(left) if any(sign.isdigit() for sign in fact.text) else None
        if match:
            left = f"{left[: match.start()]}{_TAKEN * len(fact.text)}{left[match.end() :]}"
            found.append((match.start(), Number(fact.text, _name(fact), _source(fact, files))))
    yield from (number for _, number in sorted(found))
    for sentence in sentences(left):
        if numbers_left := numbers_in(sentence):
            quoted = say("letter.quoted", text=_short(re.sub(f"{_TAKEN}+", "…", sentence)))
            yield Number("; ".join(dict.fromkeys(numbers_left)), quoted, others)


def _once(text: str) -> re.Pattern[str]:
    """Return what finds a text that is no part of a longer word or number."""
    return re.compile(rf"(?<![\w,.-]){re.escape(text)}(?![\w-])")


def texts_of(block: Block) -> Iterator[str]:
    """Yield the texts of a block of a letter as they are read; a table tells where its own numbers come from."""
    match block:
        case Prose():
            yield from map(plain, sentences(block.markdown))
        case Callout():
            yield block.title
            yield from map(plain, sentences(block.markdown))
            yield from (cell.text for cell in block.refs)
        case Facts():
            yield from (cell.text for _, cell in block.rows)
        case _:
            return


def _name(fact: Fact) -> str:
    """Return what a fact is in words, with the name of its token or compound."""
    kinds = lexicon("letter")["facts"]
    start = next((start for start in kinds if fact.name.startswith(start)), "")
    return f"{kinds[start]} ({fact.name})" if start else fact.name


def _source(fact: Fact, files: Files) -> str:
    computed = source_line(in_short(fact.reads, files))
    if fact.place is None:
        return computed
    file, row, column = fact.place
    place = say("letter.place", file=file, row=row, column=column)
    return say("letter.place_with", place=place, others=computed) if computed else place


def _short(text: str) -> str:
    return text if len(text) <= _MOST_QUOTED else f"{text[:_MOST_QUOTED].rstrip()} …"


def annex(found: Iterable[Number], files: Files) -> Section:
    """Return the last pages of a letter: its numbers, each with its source."""
    columns: list[Spec[Number]] = [
        Spec("number", say("letter.col_number"), kind="wide", cell=lambda one: one.text),
        Spec("what", say("letter.col_what"), kind="wide", cell=lambda one: one.what),
        Spec("source", say("letter.col_source"), kind="wide", cell=lambda one: one.source),
    ]
    note = say("letter.numbers_note", joined=list(dict.fromkeys(source.text for source in sources_of(JOINED, files))))
    made = table("letter-numbers", say("letter.numbers_caption"), columns, list(found), note=note)
    return Section("numbers", say("letter.numbers_title"), (made,))
