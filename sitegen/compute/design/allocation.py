"""How many samplers a plan needs, which serves as what, and which return bag each goes into."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from heapq import heapify, heappop, heappush, heapreplace
from itertools import islice
from typing import Literal, TypeAlias

from sitegen.compute.design.numbering import Labels

Use: TypeAlias = Literal["sample", "field_duplicate", "field_blank", "trip_blank", "spare"]
"""What a sampler serves as: the words of ``samplers.kind``."""

PAIR = 2


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

    @property
    def pairs_apart(self) -> bool:
        """Whether a bag has no room for a pair, so that each duplicate has a bag of its own after its parent's."""
        return self.duplicates > 0 and self.per_bag < PAIR

    @property
    def bags_for_pairs(self) -> int:
        """Bags beyond what the number of samplers asks for: so many duplicates of so few points fill no bag whole."""
        return self.bags - math.ceil((self.primaries + self.duplicates + self.field_blanks) / self.per_bag)


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
    written: 0.1 of 30 is 3, though the binary fraction is a little more. A pair shares a bag: where nearly every
    point is doubled and a bag has room for an odd number, that takes more bags (:attr:`Counts.bags_for_pairs`).

    >>> one = count_samplers(31, 0.1, field_blanks=1, spares=2)
    >>> one.duplicates, one.bags, one.trip_blanks, one.samplers
    (4, 2, 2, 40)
    """
    wanted = int((Decimal(str(rate)) * primaries).to_integral_value(rounding=ROUND_CEILING))
    duplicates = min(primaries, max(wanted, least))
    bags = math.ceil((primaries + duplicates + field_blanks) / per_bag)
    if per_bag >= PAIR:
        bags = max(bags, math.ceil(duplicates / (per_bag // PAIR)))
    return Counts(primaries, duplicates, field_blanks, bags, spares, per_bag)


def allocate(order: Sequence[str], counts: Counts, taken: Iterable[str] = ()) -> Allocation:
    """Give each sampler its use, point and bag; ``order`` are the points as they are walked.

    Bags are filled along the way, as evenly as pairs allow, and no more of them are used than ``counts`` has.
    Duplicates are spread evenly over bags and way, each in the bag of its parent, so that both have one trip
    blank; where a bag has room for one sampler alone it has the next. Labels are unlike each other, the points'
    ids and what is ``taken``. Raises ValueError where ``order`` has another number of points than ``counts``.

    >>> made = allocate(["A", "B", "C"], count_samplers(3, 0.1, spares=1))
    >>> [(slot.label, slot.use, slot.bag_id) for slot in made.slots][:3]
    [('A', 'sample', 'BAG-1'), ('B', 'sample', 'BAG-1'), ('B-D', 'field_duplicate', 'BAG-1')]
    >>> [slot.label for slot in made.slots][3:]
    ['C', 'TB-1', 'SPARE-1']
    """
    if len(order) != counts.primaries:
        raise ValueError(f"{len(order)} points for {counts.primaries} primaries")
    labels = Labels([*order, *taken])
    bags = _apart(order, counts, labels) if counts.pairs_apart else _together(order, counts, labels)
    slots: list[Slot] = []
    names = [labels.take(name) for name in labels.numbered("BAG-", counts.bags)]
    blanks = [labels.take(name) for name in labels.numbered("TB-", counts.bags)]
    for name, blank, bag in zip(names, blanks, bags, strict=True):
        slots += [Slot(slot.label, slot.use, slot.location_id, slot.parent, name) for slot in bag]
        slots.append(Slot(blank, "trip_blank", bag_id=name))
    slots += [Slot(labels.take(name), "spare") for name in labels.numbered("SPARE-", counts.spares)]
    return Allocation(counts, tuple(slots))


@dataclass
class _Share:
    """What one bag gets: points with a duplicate, and samplers without, of which some are field blanks."""

    pairs: int
    others: int = 0
    blanks: int = 0

    @property
    def size(self) -> int:
        return PAIR * self.pairs + self.others


def _shares(counts: Counts) -> list[_Share]:
    """Share pairs out evenly, then the others so that bags are alike in size, then field blanks among these.

    No bag gets more than it has room for: pairs fit by the number of bags, and the others fill the emptiest.
    """
    whole, more = divmod(counts.duplicates, counts.bags) if counts.bags else (0, 0)
    shares = [_Share(whole + (at < more)) for at in range(counts.bags)]
    emptiest = [(share.size, at) for at, share in enumerate(shares)]
    heapify(emptiest)
    for _ in range(counts.primaries - counts.duplicates + counts.field_blanks):
        size, at = emptiest[0]
        shares[at].others += 1
        heapreplace(emptiest, (size + 1, at))
    fewest = [(0, at) for at, share in enumerate(shares) if share.others]
    for _ in range(counts.field_blanks):
        blanks, at = heappop(fewest)
        shares[at].blanks += 1
        if blanks + 1 < shares[at].others:
            heappush(fewest, (blanks + 1, at))
    return shares


def _together(order: Sequence[str], counts: Counts, labels: Labels) -> Iterator[list[Slot]]:
    """Yield what each bag holds, a duplicate right after its parent and field blanks last."""
    way = iter(order)
    blanks = iter(labels.numbered("FB-", counts.field_blanks))
    for share in _shares(counts):
        points = list(islice(way, share.pairs + share.others - share.blanks))
        doubled = _spread(points, share.pairs)
        bag = [slot for name in points for slot in _at(name, labels, doubled=name in doubled)]
        yield [*bag, *(Slot(labels.take(name), "field_blank") for name in islice(blanks, share.blanks))]


def _apart(order: Sequence[str], counts: Counts, labels: Labels) -> Iterator[list[Slot]]:
    """Yield bags of one sampler each."""
    doubled = _spread(order, counts.duplicates)
    for name in order:
        yield from ([slot] for slot in _at(name, labels, doubled=name in doubled))
    yield from ([Slot(labels.take(name), "field_blank")] for name in labels.numbered("FB-", counts.field_blanks))


def _at(name: str, labels: Labels, *, doubled: bool) -> Iterator[Slot]:
    """Yield the samplers of a point: the primary under the point's id, and its duplicate."""
    yield Slot(name, "sample", name)
    if doubled:
        yield Slot(labels.take(f"{name}-D"), "field_duplicate", name, parent=name)


def _spread(order: Sequence[str], count: int) -> frozenset[str]:
    """Return ``count`` of the points, spread evenly over the way."""
    return frozenset(order[(2 * i + 1) * len(order) // (2 * count)] for i in range(count))
