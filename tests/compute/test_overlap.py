"""Two rounds are told from two revisions by the samplers and laboratory samples that both folders have."""

from __future__ import annotations

import pytest
from builders import Row
from two_revisions import revision_of, tables_of

from sitegen.compute.evidence.difference import difference
from sitegen.compute.evidence.overlap import Overlap, Shared, overlap

POINTS = [f"SG-{n:02}" for n in range(1, 13)]
MASSES = {point: {"pce": "20"} for point in POINTS}
PART = {point: {"pce": "30"} for point in POINTS[:3]}
FIRST = tables_of(MASSES)
Tables = dict[str, list[Row]]


def joined(one: Tables, other: Tables) -> Tables:
    """Return the rows of both folders, points and compounds once."""
    added = ("samplers", "deployments", "lab_samples", "results")
    return one | {name: [*one[name], *other[name]] for name in added}


def without(tables: Tables, *names: str) -> Tables:
    return tables | {name: [] for name in names}


SECOND = tables_of(MASSES, serial="T-", number="M-", day="2026-06-02")
CASES: dict[str, tuple[Tables, Tables, bool]] = {
    "the same folder": (FIRST, FIRST, False),
    "one value corrected": (FIRST, tables_of(MASSES | {"SG-01": {"pce": "50"}}), False),
    "a second round at the same points": (FIRST, SECOND, True),
    "a second round at other points": (
        FIRST, tables_of({"N-1": {"pce": "20"}}, serial="T-", number="M-", day="2026-06-02"), True),
    "a re-sampled part alone": (FIRST, tables_of(PART, serial="T-", number="M-", day="2026-06-02"), True),
    "a re-sampled part added": (
        FIRST, joined(FIRST, tables_of(PART, serial="T-", number="M-", day="2026-06-02")), False),
    "a second round added": (FIRST, joined(FIRST, SECOND), False),
    "serials used again": (FIRST, tables_of(MASSES, number="M-", day="2026-06-02"), True),
    "times of placing corrected throughout": (FIRST, tables_of(MASSES, day="2025-06-03"), False),
    "laboratory samples numbered anew": (FIRST, tables_of(MASSES, number="M-"), False),
    "serials and points corrected, laboratory samples kept": (FIRST, tables_of(MASSES, serial="T-"), False),
    "a plan, then the survey": (without(FIRST, "samplers", "deployments", "lab_samples", "results"), FIRST, False),
    "in the field, then back": (without(FIRST, "lab_samples", "results"), FIRST, False),
    "in the field, then another round": (without(FIRST, "lab_samples", "results"), SECOND, True),
    "half of it replaced in place": (
        FIRST,
        joined(tables_of({p: MASSES[p] for p in POINTS[:6]}),
               tables_of({p: MASSES[p] for p in POINTS[6:]}, serial="T-", number="M-", day="2026-06-02")),
        False,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_two_rounds_are_told_from_two_revisions(name: str) -> None:
    """Either way round, whichever folder is called the earlier."""
    old, new, apart = CASES[name]
    one, other = revision_of(old), revision_of(new)
    assert overlap(one, other).apart is apart
    assert overlap(other, one).apart is apart


def test_what_two_folders_have_in_common_is_counted() -> None:
    """Twelve points, of which three were sampled again: three points, no sampler and no laboratory sample in common."""
    other = revision_of(tables_of(PART, serial="T-", number="M-", day="2026-06-02"))
    assert overlap(revision_of(FIRST), other) == Overlap(Shared(12, 3, 3), Shared(12, 3, 0), Shared(12, 3, 0))
    assert difference(revision_of(FIRST), other).overlap.apart


def test_few_is_fewer_than_a_tenth_of_the_smaller() -> None:
    """Of 40 samplers four are a tenth, three are fewer; where one side has none nothing is told."""
    assert [Shared(50, 40, both).few for both in (3, 4)] == [True, False]
    assert not Overlap(samplers=Shared(50, 0, 0)).apart
    assert not Overlap(samplers=Shared(50, 40, 0), lab_samples=Shared(50, 40, 4)).apart
