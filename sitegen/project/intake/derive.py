"""Values that other rows of the folder say already: filled where project.toml asks for them.

=================== =============================================================================
samplers.kind       ``trip_blank`` where a return bag names it as its trip blank; ``field_duplicate``
                    where its row of deployments.csv has ``duplicate_of``; ``sample`` where it was
                    placed without that. Placed and retrieved on one day may be a blank that was
                    opened: a person says which. A spare is in none of these tables: a person says so
samplers.outcome    ``lost`` where deployments.csv says ``not_recovered``; ``used`` where it has the
                    retrieval, or where a return bag names it as its trip blank. What came back
                    unused or was destroyed is in no other table
samplers.shipment   the one outward shipment of shipments.csv, where there is one alone
return_bags         the one return shipment of shipments.csv, where there is one alone
deployments.bag_id  the one bag of return_bags.csv, where there is one alone, of each sampler whose
                    retrieval is recorded and not after the sealing, unless it was not recovered
custody             what an event is about: the sampler, bag or shipment that alone has its id
=================== =============================================================================

Two rows that say different things give nothing. What was counted, seen or signed is never derived.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import NamedTuple

from sitegen.findings.problems import Finding, Severity
from sitegen.project.intake.filling import Filling
from sitegen.project.limits import TOLD
from sitegen.project.survey import Rule

_SUBJECTS = (
    ("sampler", "samplers", "sampler_id"),
    ("bag", "return_bags", "bag_id"),
    ("shipment", "shipments", "shipment_id"),
)
"""What a custody event may be about: our word, and the table and column that have its id."""


class Said(NamedTuple):
    """A value that follows from another row, and the rule by which it does."""

    value: str
    rule: Rule


def derive_samplers(tables: Mapping[str, Filling]) -> list[Finding]:
    """Fill kind, outcome and outward shipment of samplers from the rows that say them.

    Return findings about ranges of serials of which some have no kind on record.
    """
    samplers = tables.get("samplers")
    if samplers is None:
        return []
    kinds, outcomes = _said(_kinds(tables)), _said(_outcomes(tables))
    out = _one_shipment(tables, "out", "outward")
    for row in range(len(samplers.rows)):
        name = samplers.cell(row, "sampler_id")
        for column, said in (("kind", kinds.get(name)), ("outcome", outcomes.get(name)), ("shipment_id", out)):
            if said and name:
                samplers.fill(row, column, *said)
    return _kindless(samplers) if "deployments" in tables else []


def _kindless(samplers: Filling) -> list[Finding]:
    """Name the samplers of a range that nothing says the kind of: the range's row alone would not tell which."""
    found: dict[int, list[str]] = {}
    for row, number in enumerate(samplers.text.read.numbers):
        if (row, "sampler_id") in samplers.derived and not samplers.cell(row, "kind"):
            found.setdefault(number, []).append(samplers.cell(row, "sampler_id"))
    file = samplers.text.file
    return [
        Finding(
            "kind-not-derived",
            Severity.STOP,
            f"{file}+{number}",
            samplers.text.where(number, "kind"),
            f"{len(names)} of the range in no other table: {', '.join(names[:3])}{', …' * (len(names) > 3)}",
            "the use of each",
            "add the rows of those that were installed or travelled as blanks there, and a row for each spare here",
            "samplers",
        )
        for number, names in islice(found.items(), TOLD.value)
    ]


def derive_return_bags(tables: Mapping[str, Filling]) -> list[Finding]:
    """Fill the shipment of return bags where there is one alone that they can have gone in."""
    bags, back = tables.get("return_bags"), _one_shipment(tables, "return", "return")
    for row in range(len(bags.rows)) if bags else ():
        if bags and back:
            bags.fill(row, "shipment_id", *back)
    return []


def derive_bags(tables: Mapping[str, Filling]) -> list[Finding]:
    """Fill the bag of samplers that came back where return_bags.csv has one bag alone.

    None is filled of a sampler that was not recovered, or retrieved after the bag was sealed.
    """
    placed, bags = tables.get("deployments"), tables.get("return_bags")
    if placed is None or bags is None or len(bags.rows) != 1 or not (bag := bags.cell(0, "bag_id")):
        return []
    sealed, rule = bags.cell(0, "sealed_at"), bags.rule(0, "is the only return bag recorded")
    for row in range(len(placed.rows)):
        came_out = placed.cell(row, "retrieved_at")
        recovered = came_out and placed.cell(row, "condition") != "not_recovered"
        if recovered and not (sealed and came_out > sealed):
            placed.fill(row, "bag_id", bag, rule)
    return []


def derive_subjects(tables: Mapping[str, Filling]) -> list[Finding]:
    """Fill what a custody event is about where one row of samplers, bags and shipments alone has its id."""
    events, owners = tables.get("custody"), dict[str, list[Said]]()
    for kind, name, column in _SUBJECTS:
        table = tables.get(name)
        for row in range(len(table.rows)) if table else ():
            if table and (subject := table.cell(row, column)):
                said = Said(kind, table.rule(row, f"is the {kind} with this id"))
                owners.setdefault(subject, []).append(said)
    for row in range(len(events.rows)) if events else ():
        if events and len(found := owners.get(events.cell(row, "subject_id"), [])) == 1:
            events.fill(row, "subject_kind", *found[0])
    return []


def _said(pairs: Iterable[tuple[str, Said | None]]) -> dict[str, Said]:
    """Return what is said of each sampler; nothing where two rows say different things, or one is in doubt."""
    found: dict[str, Said | None] = {}
    for name, said in pairs:
        if name in found and (said is None or (before := found[name]) is None or before.value != said.value):
            found[name] = None
        else:
            found.setdefault(name, said)
    return {name: said for name, said in found.items() if said}


def _blanks(tables: Mapping[str, Filling], value: str) -> Iterator[tuple[str, Said]]:
    bags = tables.get("return_bags")
    for row in range(len(bags.rows)) if bags else ():
        if bags and (name := bags.cell(row, "trip_blank_id")):
            yield name, Said(value, bags.rule(row, "lists it as the trip blank"))


def _kinds(tables: Mapping[str, Filling]) -> Iterator[tuple[str, Said | None]]:
    yield from _blanks(tables, "trip_blank")
    placed = tables.get("deployments")
    for row in range(len(placed.rows)) if placed else ():
        if placed and (name := placed.cell(row, "sampler_id")):
            yield name, _kind(placed, row)


def _kind(placed: Filling, row: int) -> Said | None:
    if placed.cell(row, "duplicate_of"):
        return Said("field_duplicate", placed.rule(row, "records it as a field duplicate"))
    went_in, came_out = placed.cell(row, "placed_at")[:10], placed.cell(row, "retrieved_at")[:10]
    if not went_in or went_in == came_out:
        return None
    return Said("sample", placed.rule(row, "records it as a primary sampler"))


def _outcomes(tables: Mapping[str, Filling]) -> Iterator[tuple[str, Said | None]]:
    yield from _blanks(tables, "used")
    placed = tables.get("deployments")
    for row in range(len(placed.rows)) if placed else ():
        if placed and (name := placed.cell(row, "sampler_id")):
            yield name, _outcome(placed, row)


def _outcome(placed: Filling, row: int) -> Said | None:
    if placed.cell(row, "condition") == "not_recovered":
        return Said("lost", placed.rule(row, "records it as not recovered"))
    if placed.cell(row, "retrieved_at"):
        return Said("used", placed.rule(row, "records its retrieval"))
    return None


def _one_shipment(tables: Mapping[str, Filling], direction: str, words: str) -> Said | None:
    """Return the shipment of a direction where there is one alone."""
    sent = tables.get("shipments")
    rows = [row for row in range(len(sent.rows)) if sent.cell(row, "direction") == direction] if sent else []
    if sent is None or len(rows) != 1 or not (name := sent.cell(rows[0], "shipment_id")):
        return None
    return Said(name, sent.rule(rows[0], f"is the only {words} shipment recorded"))
