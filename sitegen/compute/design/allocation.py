"""How many samplers a plan needs, which serves as what, and which return bag each goes into."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Literal, TypeAlias

Use: TypeAlias = Literal["sample", "field_duplicate", "field_blank", "trip_blank", "spare"]
"""What a sampler serves as: the words of ``samplers.kind``."""


@dataclass(frozen=True, slots=True)
class Counts:
    """How many samplers a plan needs, by use, and how many return bags.

    ``bags`` hold primaries, duplicates and field blanks, at most ``per_bag`` each, with one trip blank beside them.
    """

    primaries: int
    duplicates: int
    field_blanks: int
    bags: int
    spares: int
    per_bag: int

    @property
    def trip_blanks(self) -> int:
        """One for each bag."""
        return self.bags

    @property
    def samplers(self) -> int:
        """All that the laboratory is asked for."""
        return self.primaries + self.duplicates + self.field_blanks + self.trip_blanks + self.spares


@dataclass(frozen=True, slots=True)
class Slot:
    """One sampler of the plan, before it has a serial: its field sample id, its use, its point and its bag.

    ``parent`` is the label of the primary beside which a duplicate is placed. ``location_id`` is "" for trip
    blanks, field blanks and spares, ``bag_id`` for spares.
    """

    label: str
    use: Use
    location_id: str = ""
    parent: str = ""
    bag_id: str = ""


@dataclass(frozen=True, slots=True)
class Allocation:
    """The counts of a plan, and each of its samplers in the order in which the points are walked."""

    counts: Counts
    slots: tuple[Slot, ...]

    def of(self, use: Use) -> tuple[Slot, ...]:
        """Return the samplers of one use."""
        return tuple(slot for slot in self.slots if slot.use == use)


def count_samplers(
    primaries: int, rate: float, *, least: int = 0, field_blanks: int = 0, per_bag: int = 30, spares: int = 0
) -> Counts:
    """Count the samplers that a plan needs.

    Duplicates are the rate times the primaries over all media, rounded up, and at least ``least``, at most one
    for each primary; bags hold primaries, duplicates and field blanks, rounded up. The rate counts as it is
    written: 0.1 of 30 is 3, though the binary fraction is a little more.

    >>> one = count_samplers(31, 0.1, field_blanks=1, spares=2)
    >>> one.duplicates, one.bags, one.trip_blanks, one.samplers
    (4, 2, 2, 40)
    """
    wanted = int((Decimal(str(rate)) * primaries).to_integral_value(rounding=ROUND_CEILING))
    duplicates = min(primaries, max(wanted, least))
    bags = math.ceil((primaries + duplicates + field_blanks) / per_bag)
    return Counts(primaries, duplicates, field_blanks, bags, spares, per_bag)


def allocate(order: Sequence[str], counts: Counts) -> Allocation:
    """Give each sampler its use, point and bag; ``order`` are the points as they are walked.

    Duplicates are spread evenly over the way. A duplicate goes into the bag of its parent, so that both have one
    trip blank; where a bag has no room for both, both go into the next. Field blanks are spread over the bags that
    have room. Raises ValueError where ``order`` has another number of points than ``counts`` has primaries.

    >>> made = allocate(["A", "B", "C"], count_samplers(3, 0.1, spares=1))
    >>> [(slot.label, slot.use, slot.bag_id) for slot in made.slots][:3]
    [('A', 'sample', 'BAG-1'), ('B', 'sample', 'BAG-1'), ('B-D', 'field_duplicate', 'BAG-1')]
    >>> [slot.label for slot in made.slots][3:]
    ['C', 'TB-1', 'SPARE-1']
    """
    if len(order) != counts.primaries:
        raise ValueError(f"{len(order)} points for {counts.primaries} primaries")
    doubled = _spread(order, counts.duplicates)
    bags: list[list[Slot]] = [[]]
    for name in order:
        here = [Slot(name, "sample", name)]
        if name in doubled:
            here.append(Slot(f"{name}-D", "field_duplicate", name, parent=name))
        if len(bags[-1]) + len(here) > counts.per_bag and bags[-1]:
            bags.append([])
        bags[-1] += here
    for number in range(1, counts.field_blanks + 1):
        with_room = [bag for bag in bags if len(bag) < counts.per_bag] or [bags.append([]) or bags[-1]]  # type: ignore[func-returns-value]
        with_room[(number - 1) % len(with_room)].append(Slot(f"FB-{number}", "field_blank"))
    return _numbered([bag for bag in bags if bag], counts)


def _spread(order: Sequence[str], count: int) -> frozenset[str]:
    """Return ``count`` of the points, spread evenly over the way."""
    return frozenset(order[int((2 * i + 1) * len(order) / (2 * count))] for i in range(count)) if count else frozenset()


def _numbered(bags: Sequence[Sequence[Slot]], counts: Counts) -> Allocation:
    slots: list[Slot] = []
    for number, bag in enumerate(bags, start=1):
        name = f"BAG-{number}"
        slots += [Slot(slot.label, slot.use, slot.location_id, slot.parent, name) for slot in bag]
        slots.append(Slot(f"TB-{number}", "trip_blank", bag_id=name))
    slots += [Slot(f"SPARE-{number}", "spare") for number in range(1, counts.spares + 1)]
    made = Counts(
        counts.primaries, counts.duplicates, counts.field_blanks, len(bags), counts.spares, counts.per_bag
    )  # a pair that does not fit may need a bag more than the quotient
    return Allocation(made, tuple(slots))
