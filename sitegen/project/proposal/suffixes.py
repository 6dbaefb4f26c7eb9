"""Columns of a cross-tab that belong to another by their headings: ``S-1 Q`` beside ``S-1``."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from sitegen.project.proposal.columns import Column
from sitegen.project.proposal.words import role_of, unit_in_heading, unit_of

BESIDE = ("result_text", "lab_qualifier", "rl", "mdl", "unit", "calibration_top", "detected")
"""What a column may hold for another: our columns."""
_SIGNS = (" / ", " - ", " ", "_", ".", "-")


@dataclass(frozen=True, slots=True)
class Suffixes:
    """What is added to a heading for each of our columns, and the headings that are so made.

    ``by_column`` leads from our columns to suffixes, ``stems`` from the place of a column to the heading that it
    belongs to and our column.
    """

    by_column: dict[str, str] = field(default_factory=dict)
    stems: dict[int, tuple[str, str]] = field(default_factory=dict)

    def has(self, column: Column) -> bool:
        """Tell whether a column belongs to another."""
        return column.at in self.stems

    def heads(self, columns: Sequence[Column]) -> list[Column]:
        """Return the columns that hold results, without those that belong to them."""
        return [column for column in columns if self.stems.get(column.at, ("", "result_text"))[1] == "result_text"]

    def name(self, column: Column) -> str:
        """Return what a column across is called, without a suffix."""
        return self.stems.get(column.at, (column.name, ""))[0]

    def incomplete(self, columns: Sequence[Column]) -> list[tuple[str, Column]]:
        """Return our columns that a suffix names and a column across lacks, with that column."""
        there = set(self.stems.values())
        found = ((ours, column) for ours in self.by_column for column in self.heads(columns))
        return [(ours, column) for ours, column in found if (self.name(column), ours) not in there]


def suffixes_of(columns: Sequence[Column]) -> Suffixes:
    """Find the suffixes of a cross-tab's headings: those that most of the columns of one purpose share."""
    names = {column.name for column in columns}
    parted = [(column, *split) for column in columns for split in _splits(column.name)]
    counts = Counter((role, suffix) for _, _, suffix, role in parted)
    results = {stem for _, stem, _, role in parted if role == "result_text"}
    found = Suffixes()
    names |= results
    for role in BESIDE:
        usual = max((pair for pair in counts if pair[0] == role), key=lambda pair: counts[pair], default=None)
        if usual is None:
            continue
        for column, stem, suffix, _ in (one for one in parted if (one[3], one[2]) == usual):
            if role == "result_text" or stem in names:
                found.by_column[role] = suffix
                found.stems[column.at] = stem, role
    return found


def _splits(name: str) -> Iterator[tuple[str, str, str]]:
    """Yield (heading, suffix, our column) of a heading that ends with a word for one of our columns, or a unit."""
    unit = unit_in_heading(name)
    if (
        unit
        and unit_of(unit[1]) != "percent"
        and name.endswith(unit[0])
        and (stem := name.removesuffix(unit[0]).rstrip())
    ):
        yield stem, name[len(stem) :], "result_text"
        return
    for sign in _SIGNS:
        stem, found, tail = name.rpartition(sign)
        role, _ = role_of(tail)
        if found and stem and role in BESIDE:
            yield stem, sign + tail, role
            return
