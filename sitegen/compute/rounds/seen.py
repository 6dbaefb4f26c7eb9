"""What a round shows of each compound at each point, in one unit, as the comparison of two rounds takes it.

Of soil it is what the laboratory reported, in ng or µg/m³. Of air it is the concentration, since a mass of another
exposure says little of the air. A detection that the blank rule in force (the later round's, for both) makes a
non-detect is one here, at the limit that the rule gives; under a rule that only estimates or marks it is a detection.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.quality.blanks import BlankRule, blank_hits, nondetects
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.project.schema import AIR_MEDIA
from sitegen.units import RESULT_UNITS

Quantity = Literal["mass", "concentration", ""]
Key = tuple[str, str]


class Seen(NamedTuple):
    """A result in ng or µg/m³: value (NaN of a non-detect), its limit (RL, else MDL; NaN without), what it measures.

    ``quantity`` is empty where the unit is unknown, or where a mass in air has no concentration.
    """

    row: StoredResult
    quantity: Quantity
    value: float
    limit: float
    detected: bool
    by_rule: bool


@dataclass(frozen=True, slots=True)
class Sight:
    """What a round shows: by point and compound the result that stands there, of two the first on file.

    ``analysed`` holds the compounds that any sampler at a point was analysed for.
    """

    at: Mapping[Key, Seen]
    analysed: frozenset[str]


def sight(evaluation: Evaluation, rule: BlankRule) -> Sight:
    """Return what a round shows, detections under a blank rule."""
    first = evaluation.primary.drop_duplicates(["location_id", "analyte_id"])
    by_rule = _by_rule(evaluation, rule)
    air = evaluation.concentrations if first["medium"].isin(AIR_MEDIA).any() else {}
    at = {(row.location_id, row.analyte_id): _seen(row, by_rule.get(row.key), air) for row in stored_results(first)}
    return Sight(at, frozenset(evaluation.measured["analyte_id"].unique()))


def _by_rule(evaluation: Evaluation, rule: BlankRule) -> Mapping[Key, float]:
    """Return the detections that the rule makes non-detects, with their limits in the unit of each result."""
    if rule.proposes != "U":
        return {}
    common = frozenset(c.analyte_id for c in evaluation.compounds if c.common_contaminant)
    own = evaluation.blank_rule == rule
    hits = evaluation.blank_hits if own else blank_hits(evaluation.store, evaluation.blank_reach, common, rule)
    return nondetects(evaluation.primary, hits, rule, common)


def _seen(row: StoredResult, rule_limit: float | None, air: Mapping[Key, Concentration]) -> Seen:
    if row.medium in AIR_MEDIA:
        found = air.get(row.key)
        if found is None:
            return Seen(row, "", math.nan, math.nan, row.detected, by_rule=rule_limit is not None)
        return _under_rule(row, "concentration", found.ug_m3, found.rl_ug_m3, rule_limit)
    unit = RESULT_UNITS.get(row.unit)
    if unit is None:
        return Seen(row, "", math.nan, math.nan, row.detected, by_rule=rule_limit is not None)
    limit = row.lod if math.isnan(row.rl) else row.rl
    quantity: Quantity = "concentration" if unit.kind == "concentration" else "mass"
    return _under_rule(row, quantity, row.value * unit.factor, limit * unit.factor, rule_limit)


def _under_rule(row: StoredResult, quantity: Quantity, value: float, limit: float, rule_limit: float | None) -> Seen:
    """Return what is seen once the blank rule has spoken; its limit is in the row's unit, as the row's value is."""
    if not row.detected:
        return Seen(row, quantity, math.nan, limit, detected=False, by_rule=False)
    if rule_limit is None:
        return Seen(row, quantity, value, limit, detected=True, by_rule=False)
    raised = rule_limit * value / row.value
    return Seen(row, quantity, math.nan, raised if math.isnan(limit) else max(limit, raised), False, by_rule=True)
