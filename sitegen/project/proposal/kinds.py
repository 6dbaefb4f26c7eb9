"""Which rows are quality control, and of what kind each sample is."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, field

from sitegen.project.proposal.body import Body
from sitegen.project.proposal.columns import Column
from sitegen.project.proposal.layouts import ANALYTES, SAMPLE_ROLES, Layout
from sitegen.project.proposal.sure import ASK, CERTAIN, GUESS, LIKELY, Entry, Sure
from sitegen.project.proposal.table import Table
from sitegen.project.proposal.words import CONTROLS, Known, is_surrogate, kind_of, letters_of, sample_kind
from sitegen.project.read.cells import tidy
from sitegen.project.tables import TABLE

TYPES = TABLE["lab_samples"].column("type").choices
MOST_WORDS = 2_000
"""A column of more distinct words tells no kinds: project default, no published source."""


@dataclass(slots=True)
class Kinds:
    """Which column tells QC rows and what its words mean; rows that can't be told by it and are passed over."""

    column: str = ""
    at: int = -1
    sure: Sure = CERTAIN
    seen: str = ""
    words: dict[str, str] = field(default_factory=dict)
    unknown: dict[str, str] = field(default_factory=dict)
    over: list[int] = field(default_factory=list)

    def result_rows(self, table: Table, rows: Iterable[int]) -> list[int]:
        """Return those of some rows that hold results."""
        over = set(self.over)
        told = (row for row in rows if row not in over)
        if not self.column:
            return list(told)
        return [row for row in told if self.words.get(tidy(table.cell(row, self.at)), "result") == "result"]


def kinds_of(table: Table, layout: Layout, body: Body, tied: Container[str]) -> Kinds:
    """Find what tells QC rows: a column of kinds, names of added compounds, or ids of control samples.

    Ids in ``tied`` are those of samplers, whatever their letters look like.
    """
    by_kind = [_words(table, layout.roles.get(role), body.read, _row_kind) for role in ("result_type", "type")]
    compound = layout.roles.get("analyte_id")
    by_name = _words(table, compound, body.read, lambda text: is_surrogate(text) or "result", sure=LIKELY)
    sample = next((layout.roles[role] for role in SAMPLE_ROLES if role in layout.roles), None)
    by_id = _words(table, sample, body.read, lambda text: "result" if text in tied else _id_kind(text), sure=GUESS)
    if layout.kind == ANALYTES:
        by_name = Kinds()
    telling = [one for one in (*by_kind, by_name, by_id) if set(one.words.values()) - {"result"}]
    if not telling:
        return Kinds()
    first = max(telling[:2], key=lambda one: len(set(one.words.values()))) if telling[0] in by_kind else telling[0]
    first.over = sorted({row for other in telling if other is not first for row in _others(table, first, other, body)})
    return first


def _words(
    table: Table, column: Column | None, rows: list[int], kind: Callable[[str], str], sure: Sure = CERTAIN
) -> Kinds:
    """Return what each word of a column means."""
    if column is None:
        return Kinds()
    found = Kinds(column.name, column.at, sure)
    for row in rows:
        text = tidy(table.cell(row, column.at))
        if text in found.words or text in found.unknown:
            continue
        meaning = kind(text)
        if meaning:
            found.words[text] = meaning
            if meaning != "result":
                found.seen = found.seen or f"{table.ref(row, column.at)} reads {text!r}"
        else:
            found.unknown[text] = table.ref(row, column.at)
        if len(found.words) + len(found.unknown) > MOST_WORDS:
            return Kinds()
    return found


def _row_kind(text: str) -> str:
    told = kind_of("qc", text)
    kind = kind_of("types", text)
    if told and told != "result":
        return told
    return kind if kind in CONTROLS else "result" if told or kind else ""


def _id_kind(text: str) -> str:
    kind = sample_kind(text)
    check = kind_of("qc", _leading(text))
    return check if check == "calibration_check" else kind if kind in CONTROLS else "result"


def _leading(text: str) -> str:
    return next(iter(letters_of(text)), "")


def _others(table: Table, first: Kinds, other: Kinds, body: Body) -> list[int]:
    """Return the QC rows that another column tells, and the first one calls results."""
    return [
        row
        for row in body.read
        if first.words.get(tidy(table.cell(row, first.at))) == "result"
        and other.words.get(tidy(table.cell(row, other.at)), "result") != "result"
    ]


def kind_entries(kinds: Kinds) -> list[Entry]:
    """Return the column that tells QC rows and its words."""
    if not kinds.column:
        return []
    told = [Entry("source", "qc_column", kinds.column, kinds.sure, kinds.seen)]
    for word, kind in kinds.words.items():
        told.append(Entry("qc", word, kind, kinds.sure, ""))
    for word, place in kinds.unknown.items():
        do = f"{place}: state what such a row is: result, skip, or a kind of QC row of the folder format"
        told.append(Entry("qc", word, "", ASK, do))
    return told


def type_entries(
    place: str, value: str | int, texts: Mapping[str, str], *, of_ids: Mapping[str, str] | None, known: Known
) -> list[Entry]:
    """Return how the type of each sample is told.

    ``place`` is the table of the entry (columns or rows of [lab_samples]), ``texts`` are words of types, or ids
    where ``of_ids`` leads from ids to samplers.
    """
    if of_ids is None:
        return _by_words(place, value, texts)
    some = any(sampler in known.serials for sampler in of_ids.values())
    kinds = {text: _kind_of_id(text, of_ids.get(text, ""), known, others_tied=some) for text in texts}
    if {kind for kind, _, _ in kinds.values()} == {"sample"}:
        seen = "no id and no serial in field/samplers.csv identifies a blank or a control"
        unsure = next((one for one in of_ids.values() if one in known.kindless), "")
        if unsure:
            seen += f"; for {unsure} and perhaps others no kind is on record there yet"
        return [Entry("lab_samples.constants", "type", "sample", GUESS if unsure else LIKELY, seen)]
    if len(kinds) > MOST_WORDS:
        return [Entry(place, "type", value, ASK, "too many ids to list: state which column gives the kind of a sample")]
    told = [
        Entry(place, "type", value, LIKELY, "no column gives the kind of a sample; it is derived from each id below")
    ]
    for text, (kind, sure, why) in kinds.items():
        told.append(Entry("lab_samples.words", text, kind, sure, f"{texts[text]}, {why}"))
    return told


def _kind_of_id(text: str, sampler: str, known: Known, *, others_tied: bool) -> tuple[str, Sure, str]:
    """Return what samplers.csv says of a sampler, else what the letters of an id tell; how surely, and why.

    An id without a sampler among others that have one may be a spike or a second run: a person must say.
    """
    if sampler in known.kindless:
        return "sample", GUESS, f"sampler {sampler}, which has no kind in field/samplers.csv yet"
    if sampler in known.serials:
        return known.kinds.get(sampler, "sample"), LIKELY, f"sampler {sampler} in field/samplers.csv"
    kind = sample_kind(text)
    if others_tied and not kind:
        return "", ASK, _NO_SAMPLER
    return kind or "sample", GUESS, "by its letters" if kind else "no indication"


_NO_SAMPLER = (
    "no sampler, while others have one: state which kind of sample it is; a spike or a second run is none, and belongs "
    "in skip_containing under [source]"
)


def _by_words(place: str, value: str | int, texts: Mapping[str, str]) -> list[Entry]:
    told = [Entry(place, "type", value, CERTAIN, "its words are kinds of samples")]
    for text, cell in texts.items():
        kind = kind_of("types", text)
        if kind and text not in TYPES:
            told.append(Entry("lab_samples.words", text, kind, CERTAIN, cell))
        elif not kind:
            told.append(Entry("lab_samples.words", text, "", ASK, f"{cell}: state which kind of sample it is, or skip"))
    return told
