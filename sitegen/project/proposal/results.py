"""What result cells say: signs of numbers, non-detects, limits, qualifiers and units, each with its evidence."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from sitegen.project.proposal.numbers import Place, Signs, signs_of
from sitegen.project.proposal.shapes import JOINED, RESULT_SHAPES, TOKEN, joined_qualifier, number_part, parts, shape
from sitegen.project.proposal.sure import ASK, CERTAIN, LIKELY, Entry, Value
from sitegen.project.proposal.words import factor_of, nondetect, our_qualifiers, unit_of
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import plain
from sitegen.project.schema import QUALIFIERS

_BETWEEN = re.compile(r"[\s,;/]+")
SPELLINGS = 100
"""So many spellings of units, qualifiers and tokens are listed: project default, no published source."""


@dataclass(slots=True)
class Cells:
    """Distinct texts of cells that serve one purpose, each with its count and its first place."""

    counts: dict[str, int] = field(default_factory=dict)
    first: dict[str, str] = field(default_factory=dict)
    blank: int = 0
    first_blank: str = ""

    def add(self, text: str, place: Callable[[], str]) -> None:
        """Count a cell."""
        if not tidy(text):
            self.blank += 1
            self.first_blank = self.first_blank or place()
        elif text in self.counts:
            self.counts[text] += 1
        else:
            self.counts[text] = 1
            self.first[text] = place()

    def seen(self, text: str) -> str:
        """Say where a text was met first and how often."""
        count = self.counts[text]
        return f"{text!r} in {self.first[text]}" + (f" and {count - 1} more cells" if count > 1 else "")

    def numbers(self) -> Iterator[Place]:
        """Yield the numbers in these cells, each with its place."""
        for text, place in self.first.items():
            if number := number_part(text):
                yield number, place


def number_entries(results: Cells, limits: Cells, *, point_only: bool) -> list[Entry]:
    """Return how decimals and thousands are parted.

    ``point_only`` says that a spreadsheet stored every number as such: then they are written with a point.
    """
    signs = signs_of([*results.numbers(), *limits.numbers()])
    settled = signs.settle()
    if settled is None and point_only and not signs.thousands.keys() - {"'"} and "," not in signs.open | signs.decimal:
        return []
    if settled is None:
        also = "only where this character separates thousands"
        other = Entry("source", "thousands", next(iter(signs.open or signs.thousands), ","), ASK, also)
        return [Entry("source", "decimal", "", ASK, _both(signs), blocks=True), other]
    decimal, thousands = settled
    told = []
    if decimal != ".":
        text, place = next(iter(signs.decimal.values()), None) or next(iter(signs.thousands.values()))
        told.append(Entry("source", "decimal", decimal, CERTAIN, f"{place} contains {text}"))
    if thousands:
        text, place = signs.thousands.get(thousands) or signs.open[thousands]
        sure = CERTAIN if thousands in signs.thousands else LIKELY
        told.append(Entry("source", "thousands", thousands, sure, f"{place} contains {text}"))
    return told


def _both(signs: Signs) -> str:
    """Say which numbers can be read in two ways, or contradict each other."""
    decimal = [f"{place} contains {text}" for text, place in signs.decimal.values()]
    if len(decimal) > 1:
        return f"{' but '.join(decimal)}: state the decimal separator, and ask the laboratory for one form"
    held = [*signs.open.values(), *signs.thousands.values()]
    told = " and ".join(f"{place} contains {text}" for text, place in held[:2])
    return (
        f"{told}, which may be a thousand or have three decimals; no number is unambiguous. "
        'Write "." or "," as decimal; where the other separates thousands, write it as thousands too'
    )


def nondetect_entries(results: Cells) -> list[Entry]:
    """Return the tokens and the signs before limits."""
    sure = [text for text in results.counts if shape(text) == TOKEN and nondetect(text) == "sure"]
    unsure = [text for text in results.counts if shape(text) == TOKEN and nondetect(text) == "unsure"]
    told = []
    if sure:
        seen = "; ".join(results.seen(text) for text in sure[:5])
        told.append(Entry("nondetect", "tokens", sure[:SPELLINGS], LIKELY if _odd(sure) else CERTAIN, seen))
    if unsure:
        seen = "; ".join(results.seen(text) for text in unsure[:5])
        do = f"{seen}: state from the laboratory's key whether it means not detected; if so this line replaces"
        do += " any above; if it means not analysed, ask the laboratory for blank cells"
        told.append(Entry("nondetect", "tokens", (sure + unsure)[:SPELLINGS], ASK, do))
    signs = list(dict.fromkeys(sign.rstrip() for text in results.counts if (sign := _below(text))))
    if signs and signs != ["<"]:
        seen = "; ".join(results.seen(next(t for t in results.counts if _below(t).rstrip() == sign)) for sign in signs)
        told.append(Entry("nondetect", "less_than_prefix", signs, CERTAIN, seen))
    return told


def _odd(tokens: list[str]) -> bool:
    return any(plain(text).casefold() in ("nn", "n.n.", "n. n.") for text in tokens)


def _below(text: str) -> str:
    return parts(plain(text))[0] if shape(text) in RESULT_SHAPES and shape(text) != TOKEN else ""


def blank_entries(results: Cells) -> list[Entry]:
    """Return what must be said of blank result cells."""
    if not results.blank:
        return []
    seen = f"{results.first_blank} is blank, as are {results.blank - 1} more" if results.blank > 1 else ""
    seen = seen or f"{results.first_blank} is blank"
    do = f'{seen}: state whether there is no result ("not_reported"); otherwise omit this and ask the laboratory'
    return [Entry("source", "blank", "not_reported", ASK, do)]


def qualifier_entries(results: Cells, qualifiers: Cells) -> list[Entry]:
    """Return whether qualifiers stand behind numbers, and what those that are not ours mean."""
    told = []
    joined = [text for text in results.counts if shape(text) == JOINED]
    words = dict(qualifiers.first)
    for text in joined:
        words.setdefault(joined_qualifier(text), results.first[text])
    if joined:
        seen = "; ".join(results.seen(text) for text in joined[:3])
        told.append(Entry("source", "joined_qualifiers", True, CERTAIN, seen))
    for spelling, place in _unknown_qualifiers(words):
        ours = our_qualifiers(spelling)
        if ours:
            told.append(Entry("qualifiers", spelling, ours, LIKELY, f"{place}, by common practice"))
        else:
            do = f'{place}: state its meaning from the laboratory\'s key ("" where it does not concern the number)'
            told.append(Entry("qualifiers", spelling, "", ASK, do))
    return told[: SPELLINGS + 1]


def _unknown_qualifiers(found: dict[str, str]) -> list[tuple[str, str]]:
    unknown: dict[str, str] = {}
    for text, place in found.items():
        spelled = plain(tidy(text))
        whole = our_qualifiers(spelled) is not None
        for word in [spelled] if whole or spelled in QUALIFIERS else _BETWEEN.split(spelled):
            if word and word not in QUALIFIERS:
                unknown.setdefault(word, place)
    return list(unknown.items())


def unit_entries(spellings: dict[str, str]) -> list[Entry]:
    """Return the factor of each spelling of a unit, met at a place."""
    told = []
    for spelling, place in list(spellings.items())[:SPELLINGS]:
        unit = unit_of(spelling)
        factor = factor_of(unit)
        if factor is None:
            what = f"a unit ({unit})" if unit else "a word"
            do = f"{place} has {what} from which no factor to ng or ug/m3 is known: ask the laboratory for ng"
            told.append(Entry("units", spelling, 1, ASK, do))
            continue
        number, ours = factor
        leads: Value = number if ours == "ng" else {"factor": number, "unit": ours}
        sure = CERTAIN if spelling.casefold() == spelling or spelling[:1].islower() else LIKELY
        rate = "" if ours == "ng" else ", a concentration: the laboratory must document its rate"
        seen = f"{place}; to {ours}{rate}"
        told.append(Entry("units", spelling, leads, sure, seen))
    return told


def unreadable(results: Cells) -> list[str]:
    """Return the result cells that are neither number, limit nor token, as told."""
    return [results.seen(text) for text in results.counts if shape(text) not in RESULT_SHAPES][:10]
