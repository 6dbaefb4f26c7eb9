"""A compound at a point in two rounds: which kind of change it is, or why there is none to tell."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from sitegen.compute.evaluate import Compound, Evaluation
from sitegen.compute.rounds.records import ROUNDING, Kind, Match, PointChange
from sitegen.compute.rounds.seen import Seen, Sight
from sitegen.project.schema import AIR_MEDIA


@dataclass(frozen=True, slots=True)
class Twin:
    """A compound by its ids in the later and the earlier round, empty where a round does not list it.

    ``clash`` tells that one id has two CAS numbers.
    """

    after: str
    before: str
    clash: bool = False

    @property
    def analyte_id(self) -> str:
        """The id that the compound is told under: the later round's, else the earlier one's."""
        return self.after or self.before


def twins(before: Evaluation, after: Evaluation, sights: tuple[Sight, Sight]) -> tuple[Twin, ...]:
    """Pair the compounds of two rounds: by id where no CAS number contradicts, then by CAS, in the later order.

    What is on file of no list is a compound of its id.
    """
    olds, news = (_cas(one.compounds, sight) for one, sight in zip((before, after), sights, strict=True))
    pairs = {name: name for name, cas in news.items() if name in olds and _agree(cas, olds[name])}
    free = {cas: name for name, cas in reversed(olds.items()) if cas and name not in pairs.values()}
    for name, cas in news.items():
        if name not in pairs and cas in free:
            pairs[name] = free.pop(cas)
    taken = set(pairs.values())
    clashes = {name for name in news if name not in pairs and name in olds and name not in taken}
    listed = [Twin(name, name if name in clashes else pairs.get(name, ""), name in clashes) for name in news]
    gone = [Twin("", name) for name in olds if name not in taken | clashes]
    return (*listed, *gone)


def _agree(one: str, other: str) -> bool:
    """Tell whether two CAS numbers may be of one compound; a missing one contradicts nothing."""
    return one == other or not (one and other)


def _cas(compounds: Iterable[Compound], sight: Sight) -> dict[str, str]:
    listed = {compound.analyte_id: compound.cas for compound in compounds}
    return listed | dict.fromkeys(sorted(sight.analysed - listed.keys()), "")


def point_changes(
    matches: Iterable[Match], every: tuple[Twin, ...], sights: tuple[Sight, Sight], factor_of: Callable[[str], float]
) -> Iterator[PointChange]:
    """Yield what became of each compound at each matched point that has a result of it in either round.

    ``factor_of`` gives the spread by the medium of the later result.
    """
    old, new = sights
    for match in matches:
        for twin in every:
            before = old.at.get((match.earlier_id, twin.before))
            after = new.at.get((match.location_id, twin.after))
            if before is not None or after is not None:
                reason = _reason(match, twin, before, after, sights)
                yield _change(match, twin, before, after, reason, factor_of)


def _change(
    match: Match, twin: Twin, before: Seen | None, after: Seen | None, reason: str, factor_of: Callable[[str], float]
) -> PointChange:
    ids = match.location_id, match.earlier_id, twin.analyte_id
    results = before.row if before else None, after.row if after else None
    by_rule = before is not None and before.by_rule, after is not None and after.by_rule
    if reason or before is None or after is None:
        return PointChange(*ids, *results, "not_comparable", None, reason, False, *by_rule)
    kind, factor, below = judge(before, after, factor_of(after.row.medium))
    return PointChange(*ids, *results, kind, factor, "", below, *by_rule, after.quantity)


def judge(before: Seen, after: Seen, most: float) -> tuple[Kind, float | None, bool]:
    """Return the kind of a change, its factor, and whether a lone detection lies below the other round's limit.

    ``most`` is the factor of the spread; a factor that is off it by the digits of a binary fraction is within.
    """
    if before.detected and after.detected:
        factor = after.value / before.value
        room = most * (1 + ROUNDING)
        return "grew" if factor > room else "shrank" if factor * room < 1 else "within", factor, False
    if after.detected:
        return "appeared", None, not _reaches(after.value, before.limit)
    if before.detected:
        return "vanished", None, not _reaches(before.value, after.limit)
    return "neither", None, False


def _reaches(value: float, limit: float) -> bool:
    """Tell whether a detection lies at or above a limit; False where there is none on record."""
    return value >= limit * (1 - ROUNDING)


def _reason(match: Match, twin: Twin, before: Seen | None, after: Seen | None, sights: tuple[Sight, Sight]) -> str:
    if match.moved:
        return "moved"
    if before is None or after is None:
        return _missing(twin, before, sights)
    if before.row.medium != after.row.medium:
        return "medium"
    if twin.clash:
        return "compound"
    if before.row.rejected or after.row.rejected:
        return "rejected"
    return incomparable(before, after)


def _missing(twin: Twin, before: Seen | None, sights: tuple[Sight, Sight]) -> str:
    name, sight, when = (twin.before, sights[0], "before") if before is None else (twin.after, sights[1], "after")
    return f"no_result_{when}" if name in sight.analysed else f"not_analysed_{when}"


def incomparable(before: Seen, after: Seen) -> str:
    """Return why two results of one medium can't be compared, "" where they can."""
    if before.quantity != after.quantity or not after.quantity:
        return "no_concentration" if after.row.medium in AIR_MEDIA else "unit"
    types = {one.row.sampler_type for one in (before, after)} - {""}
    if after.quantity == "mass" and len(types) > 1:
        return "sampler_type"
    return "no_value" if _numberless(before) or _numberless(after) else ""


def _numberless(one: Seen) -> bool:
    return one.detected and not 0 < one.value < math.inf
