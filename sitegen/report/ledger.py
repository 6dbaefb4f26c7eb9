"""The claim ledger: each sentence of the conclusions, and what it leans on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import zip_longest

from sitegen.compute.difference import Difference
from sitegen.compute.tokens import TOKEN, fill
from sitegen.report.context import Context, location_ref
from sitegen.report.narrative import token_ref
from sitegen.report.records import Cell, Column, Page, Ref, Table
from sitegen.report.sentences import any_of, sentences
from sitegen.report.words import say, word

LEDGER = Ref("page", "claims")
SUMS = Ref("page", "relations", "sums")
"""Where the masses of a group stand together, point by point."""
CLAIMING = ("conclusions",)


@dataclass(frozen=True, slots=True)
class Claim:
    """A sentence of the narrative: section, sentence, tokens, and the compounds, groups and points it names."""

    section: str
    text: str
    tokens: tuple[str, ...]
    compounds: tuple[str, ...]
    groups: tuple[str, ...]
    points: tuple[str, ...]


def claims(context: Context) -> tuple[Claim, ...]:
    """Return every sentence of the conclusions with what it names."""
    names = {
        row["analyte_id"]: [name.strip() for name in (row["name"], *row["synonyms"].split(";")) if name.strip()]
        for row in context.survey.records("analytes")
    }
    patterns = {key: _named(words) for key, words in names.items()}
    told = {compound.group: _named([word("compound_group", compound.group)]) for compound in context.compounds.values()}
    points = _named([row["location_id"] for row in context.locations])
    return tuple(
        _claim(section, text, patterns, told, points)
        for section in CLAIMING
        for text in sentences(context.survey.texts.get(section, ""))
    )


def _named(words: list[str]) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-])(?:{any_of(words)})(?![\w-])", re.IGNORECASE)


def _claim(
    section: str,
    text: str,
    patterns: Mapping[str, re.Pattern[str]],
    told: Mapping[str, re.Pattern[str]],
    points: re.Pattern[str],
) -> Claim:
    found = tuple(dict.fromkeys(match["name"] for match in TOKEN.finditer(text)))
    by_token = {name.partition(".")[2] for name in found}
    plain = TOKEN.sub(" ", text)
    compounds = tuple(key for key, pattern in patterns.items() if key in by_token or pattern.search(plain))
    groups = tuple(group for group, pattern in told.items() if pattern.search(plain))
    return Claim(section, text, found, compounds, groups, tuple(dict.fromkeys(points.findall(plain))))


def ledger_page(context: Context, difference: Difference | None) -> Page:
    """Return the page that lists every claim with its values, its figures and whether one changed."""
    found = claims(context)
    columns = (
        Column("number", "No."),
        Column("claim", "Sentence", kind="wide"),
        Column("values", "Values in it", kind="wide"),
        Column("map", "Map and values of"),
        Column("point", "Point"),
        *((Column("state", "Since the previous revision"),) if difference else ()),
    )
    rows = tuple(row for at, claim in enumerate(found, start=1) for row in _rows(context, claim, at, difference))
    note = say("ledger.note", compared=difference is not None)
    table = Table("claims", say("ledger.caption"), columns, rows, note=note, row_header=-1)
    lead = say("ledger.lead", claims=len(found), bare=sum(not _leans(claim) for claim in found))
    return Page(LEDGER, "Claim ledger", lead, (table,), group="Quality")


def _leans(claim: Claim) -> bool:
    return bool(claim.tokens or claim.compounds or claim.groups or claim.points)


def _rows(context: Context, claim: Claim, number: int, difference: Difference | None) -> Iterator[tuple[Cell, ...]]:
    """Yield a row for the sentence, and further rows for each other value, compound or point in it."""
    values = [Cell(f"{name}: {context.tokens.get(name, '–')}", token_ref(context, name)) for name in claim.tokens]
    compounds = [Cell(context.name(key), Ref("compound", key)) for key in claim.compounds]
    compounds += [Cell(say("ledger.group", group=word("compound_group", group)), SUMS) for group in claim.groups]
    points = [Cell(name, location_ref(name)) for name in claim.points]
    text = fill(claim.text, _Printed(context.tokens))
    state = (_state(context, claim, difference),) if difference else ()
    blank = Cell("")
    lined = zip_longest(values or [Cell(say("ledger.no_value"))], compounds, points, fillvalue=blank)
    for at, leans in enumerate(lined):
        if at == 0:
            yield (Cell(str(number), Ref("page", "report", f"text-{claim.section}")), Cell(text), *leans, *state)
        else:
            again = Cell(str(number)), Cell(say("ledger.again"), tone="muted")
            yield (*again, *leans, *(blank for _ in state))


class _Printed(dict[str, str]):
    """Token texts; an unknown token stays as it is written."""

    def __missing__(self, name: str) -> str:
        return f"{{{{ {name} }}}}"


def _state(context: Context, claim: Claim, difference: Difference) -> Cell:
    compounds = {change.key.rpartition("+")[2] for change in difference.values}
    groups = {context.compounds[key].group for key in compounds if key in context.compounds}
    what = [
        *(name for name in claim.tokens if name in difference.changed_tokens),
        *(name for name in claim.compounds if name in compounds),
        *(word("compound_group", group) for group in claim.groups if group in groups),
        *(name for name in claim.points if name in difference.points),
    ]
    if what:
        return Cell(say("ledger.changed", what="; ".join(what)), tone="flag")
    return Cell(say("ledger.same"))
