"""Marks: what travels with a number, as facts; the words are chosen by the report.

A mark acts on a sampler (every result of it), on one result, or through custody on
every sampler of a bag or shipment. Only sampler marks bear on *usable without marks*.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

Scope = Literal["sampler", "result", "chain"]


@dataclass(frozen=True, slots=True)
class MarkFact:
    """One mark: its code (that of the check behind it), scope, and the facts to say.

    ``subject`` completes the finding's key, ``code:subject``.
    """

    code: str
    scope: Scope
    subject: str
    facts: tuple[tuple[str, str], ...] = ()

    @property
    def key(self) -> str:
        """The key of the finding behind this mark."""
        return f"{self.code}:{self.subject}"


@dataclass(frozen=True, slots=True)
class Marks:
    """All marks: by sampler, and by result (laboratory sample and compound)."""

    by_sampler: Mapping[str, tuple[MarkFact, ...]]
    by_result: Mapping[tuple[str, str], tuple[MarkFact, ...]]

    def of(self, sampler_id: str, lab_sample_id: str, analyte_id: str) -> tuple[MarkFact, ...]:
        """Return every mark of a result: the sampler's first, then its own."""
        own = self.by_result.get((lab_sample_id, analyte_id), ())
        return self.by_sampler.get(sampler_id, ()) + own

    def ringed(self, sampler_id: str, lab_sample_id: str, analyte_id: str) -> tuple[MarkFact, ...]:
        """Return the marks that a map shows by a ring: those of the sampler and of the result.

        A custody mark of a bag may be that of half a survey. It stands beside every number; a ring on
        every second symbol would hide the rings that tell points apart.
        """
        return tuple(m for m in self.of(sampler_id, lab_sample_id, analyte_id) if m.scope != "chain")

    def unmarked(self, sampler_id: str) -> bool:
        """Tell whether the sampler carries no mark of its own (custody marks of whole bags aside)."""
        return not any(mark.scope == "sampler" for mark in self.by_sampler.get(sampler_id, ()))

    def chained(self, sampler_id: str) -> bool:
        """Tell whether the sampler carries a mark of custody or seal, which it shares with its bag or shipment."""
        return any(mark.scope == "chain" for mark in self.by_sampler.get(sampler_id, ()))


def gather(
    sampler_marks: Iterable[tuple[str, MarkFact]],
    result_marks: Iterable[tuple[tuple[str, str], MarkFact]],
) -> Marks:
    """Collect marks under what they act on, each once, in the order given."""
    by_sampler: dict[str, dict[MarkFact, None]] = {}
    by_result: dict[tuple[str, str], dict[MarkFact, None]] = {}
    for sampler_id, mark in sampler_marks:
        by_sampler.setdefault(sampler_id, {})[mark] = None
    for key, mark in result_marks:
        by_result.setdefault(key, {})[mark] = None
    return Marks(
        {name: tuple(marks) for name, marks in by_sampler.items()},
        {key: tuple(marks) for key, marks in by_result.items()},
    )
