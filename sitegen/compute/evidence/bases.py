"""What a statement rests on: how many records there are, of how many there would be.

A statement about hand-overs says nothing where no hand-over is on record, and says it of a part
where only a part is. Each basis counts the things that a record would speak of, and those that
one does speak of.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sitegen.compute.custody.events import FROM_HAND, GIVING, HAND_OVERS
from sitegen.compute.custody.seals import seals
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import DUPLICATE, FIELD_BLANK, LOST, Placement
from sitegen.compute.field.reconcile import count_fates
from sitegen.compute.quality.batches import batches
from sitegen.compute.quality.labqc import NOT_JUDGED
from sitegen.compute.text.claims import Record, claims
from sitegen.project.reads import ComputedByName
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import (
    CustodyEvent,
    Departure,
    Deployment,
    LabSample,
    Location,
    ReviewComment,
    Shipment,
    Ticket,
)

FEATURE_BOUNDARY = "site_boundary"
FEATURE_UTILITY = "utility"


@dataclass(frozen=True, slots=True)
class Basis:
    """``on`` things have a record, ``of`` would; ``of`` is None where nobody can say how many there would be.

    >>> Basis("seals", 0, 0).silent, Basis("seals", 2, 3).whole, Basis("departures", 7, None).whole
    (True, False, True)
    """

    name: str
    on: int
    of: int | None

    @property
    def silent(self) -> bool:
        """Whether nothing at all is on record."""
        return self.on == 0

    @property
    def whole(self) -> bool:
        """Whether everything that would have a record has one, and there is something."""
        return self.on > 0 and not self.short

    @property
    def short(self) -> bool:
        """Whether a thing that would have a record has none; of what nobody can count, whether there is none."""
        return self.on == 0 if self.of is None else self.on < self.of


def bases(evaluation: Evaluation) -> Mapping[str, Basis]:
    """Return every basis by name, each counted when it is first asked for."""
    return ComputedByName(_COUNTS, lambda name: Basis(name, *_COUNTS[name](evaluation)))


_Count = tuple[int, int | None]


def _whereabouts(ev: Evaluation) -> _Count:
    """Count samplers of the roster, and those of which a return, a loss or a place in the ground is on record."""
    counts = count_fates(ev.survey, ev.custody.bag_of, ev.deployed)
    return counts.sent - counts.unknown, counts.sent


def _custody(ev: Evaluation) -> _Count:
    """Count samplers of the roster, and those with a hand-over on record, of one retrieved after its retrieval.

    A hand-over is the sampler's own or one of what it travelled in.
    """
    back = {p.sampler_id: p.retrieved_utc for p in ev.placements if p.recovered}
    chains = ev.custody.samplers
    return sum(chain.has_hand_over(back.get(name)) for name, chain in chains.items()), len(chains)


def _hands(ev: Evaluation) -> _Count:
    """Count samplers placed, and those of which a role placed it and, where it came back, a role retrieved it."""
    named = 0
    for p in ev.placements:
        chain = ev.custody.samplers.get(p.sampler_id)
        acts = {event.kind for event in chain.events if event.by} if chain else set()
        named += {"placed", "retrieved"} <= acts if p.recovered else "placed" in acts
    return named, len(ev.placements)


def _seals(ev: Evaluation) -> _Count:
    """Count seals put on bags and shipments, and those whose number was read at the other end."""
    put_on = [seal for seal in seals(ev.survey).values() if seal.applied]
    return sum(bool(seal.read) for seal in put_on), len(put_on)


def _seal_conditions(ev: Evaluation) -> _Count:
    """Count seals put on bags and shipments, and those whose condition was noted at the other end."""
    put_on = [seal for seal in seals(ev.survey).values() if seal.applied]
    return sum(bool(seal.condition) for seal in put_on), len(put_on)


def _signatures(ev: Evaluation) -> _Count:
    """Count hand-overs in custody.csv, and those that say how they were signed."""
    rows = [row for row in ev.survey.rows(CustodyEvent) if row.event in HAND_OVERS]
    return sum(row.signature != "" for row in rows), len(rows)


def _ways(ev: Evaluation) -> _Count:
    """Count shipments, and those with a giving and a taking on record."""
    chains = ev.custody.shipments.values()
    kinds = [{event.kind for event in chain.events if event.event_id} for chain in chains]
    return sum(bool(own & {*GIVING}) and bool(own & {*FROM_HAND}) for own in kinds), len(kinds)


def _shipments(ev: Evaluation) -> _Count:
    """Count shipments, and those counted at both ends."""
    rows = ev.survey.rows(Shipment)
    return sum(_known(row.items_declared, row.items_received) for row in rows), len(rows)


def _positions(ev: Evaluation) -> _Count:
    """Count points with a sampler, and those with a surveyed position."""
    rows = _sampled_points(ev)
    surveyed = (_known(row.easting, row.northing) or _known(row.longitude, row.latitude) for row in rows)
    return sum(surveyed), len(rows)


def _plans(ev: Evaluation) -> _Count:
    """Count points with a sampler that stood in the plan, and those with a planned position."""
    rows = [row for row in _sampled_points(ev) if row.design != "added"]
    return sum(_known(row.plan_easting, row.plan_northing) for row in rows), len(rows)


def _surfaces(ev: Evaluation) -> _Count:
    """Count soil points with a sampler, and those with a surface noted."""
    rows = [row for row in _sampled_points(ev) if row.medium in SOIL_MEDIA]
    return sum(row.surface != "" for row in rows), len(rows)


def _boundary(ev: Evaluation) -> _Count:
    """Count site boundaries on the map."""
    return sum(feature.kind == FEATURE_BOUNDARY for feature in ev.survey.features), None


def _clearance(ev: Evaluation) -> _Count:
    """Count points with a hole, and those that a ticket with its dates names; one that names none speaks for all."""
    holes = {p.location_id for p in _in_soil(ev)}
    dated = [row for row in ev.survey.rows(Ticket) if row.valid_from and row.valid_to]
    named = [row.location_ids for row in dated]
    covered = holes if "" in named else holes & {name.strip() for cell in named for name in cell.split(";")}
    return len(covered), len(holes)


def _utilities(ev: Evaluation) -> _Count:
    """Count utilities on the map, from which the distance of a hole is told."""
    return sum(feature.kind == FEATURE_UTILITY for feature in ev.survey.features), None


def _returns(ev: Evaluation) -> _Count:
    """Count samplers placed, and those that were retrieved or said to be lost."""
    return sum(p.recovered or p.state == LOST for p in ev.placements), len(ev.placements)


def _depths(ev: Evaluation) -> _Count:
    """Count samplers placed in soil, and those with a depth."""
    placed = [p for p in ev.placements if p.medium == SOIL_MEDIA[0]]
    return sum(p.depth_m is not None for p in placed), len(placed)


def _conditions(ev: Evaluation) -> _Count:
    """Count samplers retrieved, and those with a condition noted."""
    back = [p for p in ev.placements if p.recovered]
    return sum(p.condition != "" for p in back), len(back)


def _refusals(ev: Evaluation) -> _Count:
    """Count samplers placed in soil, and those of which it is noted whether the hole met refusal."""
    placed = {p.sampler_id for p in ev.placements if p.medium == SOIL_MEDIA[0]}
    rows = [row for row in ev.survey.rows(Deployment) if row.sampler_id in placed]
    return sum(row.refusal != "" for row in rows), len(rows)


def _trip_blanks(ev: Evaluation) -> _Count:
    """Count samplers at points with results, and those in a bag whose trip blank has results."""
    return _with_blank(ev, "trip_blank", "bag_id")


def _method_blanks(ev: Evaluation) -> _Count:
    """Count samplers at points with results, and those in a batch whose method blank has results."""
    return _with_blank(ev, "method_blank", "batch_id")


def _with_blank(ev: Evaluation, kind: str, column: str) -> _Count:
    groups = {blank.group for blank in ev.blanks if blank.kind == kind} - {""}
    samplers = ev.measured.drop_duplicates("lab_sample_id")
    return int(samplers[column].isin(groups).sum()), len(samplers)


def _field_blanks(ev: Evaluation) -> _Count:
    """Count field blanks opened, and those with results."""
    opened = {p.sampler_id for p in ev.deployed if p.role == FIELD_BLANK}
    return len(opened & {blank.sampler_id for blank in ev.blanks if blank.kind == FIELD_BLANK}), len(opened)


def _duplicates(ev: Evaluation) -> _Count:
    """Count field duplicates placed, and those with a compound that could be compared with their primary's."""
    placed = [p for p in ev.placements if p.role == DUPLICATE]
    return sum(pair.compared for pair in ev.pairs), len(placed)


def _controls(ev: Evaluation) -> _Count:
    """Count analysis batches, and those with a surrogate, control or calibration check held against limits."""
    judged = {one.lab_sample_id for one in ev.controls if one.side != NOT_JUDGED}
    every = batches(ev.survey)
    return sum(any(row.lab_sample_id in judged for row in batch.samples) for batch in every), len(every)


def _surrogates(ev: Evaluation) -> _Count:
    """Count runs of samplers, and those with a surrogate recovery held against limits."""
    judged = {one.lab_sample_id for one in ev.controls if one.qc_type == "surrogate" and one.side != NOT_JUDGED}
    runs = _runs(ev.survey)
    return len(judged & runs), len(runs)


def _calibration(ev: Evaluation) -> _Count:
    """Count detections of samplers, and those with the top of their calibration on file."""
    return ev.tops.detections, ev.tops.of


def _holding(ev: Evaluation) -> _Count:
    """Count samplers retrieved and analysed, and those with both moments on record."""
    placed: dict[str, Placement] = {p.sampler_id: p for p in ev.placements if p.recovered}
    ran = {row.sampler_id for row in ev.survey.rows(LabSample)} & set(placed)
    return len(ran & {held.sampler_id for held in ev.holding.values()}), len(ran)


def _departures(ev: Evaluation) -> _Count:
    """Count departures from the plan on record."""
    return len(ev.survey.rows(Departure)), None


def _comments(ev: Evaluation) -> _Count:
    """Count review comments on record."""
    return len(ev.survey.rows(ReviewComment)), None


def _claims(ev: Evaluation) -> _Count:
    """Count what the written sections state of compounds at points, and what could be compared with the record."""
    record = Record(ev)
    judged = [one.verdict for claim in claims(ev.survey) for one in record.judge(claim) if one.verdict != "named"]
    return sum(verdict in ("agrees", "differs") for verdict in judged), len(judged)


_COUNTS: Mapping[str, Callable[[Evaluation], _Count]] = {
    "whereabouts": _whereabouts,
    "custody": _custody,
    "hands": _hands,
    "seals": _seals,
    "seal_conditions": _seal_conditions,
    "signatures": _signatures,
    "ways": _ways,
    "shipments": _shipments,
    "positions": _positions,
    "plans": _plans,
    "surfaces": _surfaces,
    "boundary": _boundary,
    "clearance": _clearance,
    "utilities": _utilities,
    "returns": _returns,
    "depths": _depths,
    "conditions": _conditions,
    "refusals": _refusals,
    "trip_blanks": _trip_blanks,
    "method_blanks": _method_blanks,
    "field_blanks": _field_blanks,
    "duplicates": _duplicates,
    "controls": _controls,
    "surrogates": _surrogates,
    "calibration": _calibration,
    "holding": _holding,
    "departures": _departures,
    "comments": _comments,
    "compared": _claims,
}
NAMES = tuple(_COUNTS)


def _known(*numbers: float) -> bool:
    """Tell whether all of some numbers are on record."""
    return not any(map(math.isnan, numbers))


def _sampled_points(ev: Evaluation) -> list[Location]:
    sampled = {p.location_id for p in ev.placements}
    return [row for row in ev.survey.rows(Location) if row.location_id in sampled]


def _in_soil(ev: Evaluation) -> list[Placement]:
    return [p for p in ev.placements if p.medium in SOIL_MEDIA]


def _runs(survey: Survey) -> set[str]:
    """Return the laboratory samples that are runs of samplers to be reported."""
    rows = survey.rows(LabSample)
    return {row.lab_sample_id for row in rows if row.sampler_id and row.reportable != "no"}
