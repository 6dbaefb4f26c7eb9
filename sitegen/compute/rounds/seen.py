"""What a round shows of each compound at each point, in one unit, as the comparison of two rounds takes it.

Of soil it is what the laboratory reported, in ng or µg/m³. Of air it is the concentration, since a mass of another
exposure says little of the air. A detection that the blank rule in force (the later round's, for both) makes a
non-detect is one here, at the limit that the rule gives; under a rule that only estimates or marks it is a detection.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import compress, repeat
from typing import Literal, NamedTuple

import pandas as pd

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.quality.blanks import BlankRule, blank_hits, nondetects
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.project.schema import AIR_MEDIA
from sitegen.units import RESULT_UNITS

Quantity = Literal["mass", "concentration", ""]
Key = tuple[str, str]

_QUANTITY: Mapping[str, Quantity] = {
    code: "concentration" if unit.kind == "concentration" else "mass" for code, unit in RESULT_UNITS.items()
}


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
    keys = list(zip(first["location_id"].tolist(), first["analyte_id"].tolist(), strict=True))
    found = dict(zip(keys, _as_reported(first), strict=True))
    air = first["medium"].isin(AIR_MEDIA).to_numpy(dtype=bool)
    if air.any():
        found |= {key: _in_air(found[key], evaluation.concentrations) for key in compress(keys, air)}
    limits = _by_rule(evaluation, rule)
    ruled = [key for key, seen in found.items() if seen.row.key in limits] if limits else []
    found |= {key: _under_rule(found[key], limits[found[key].row.key]) for key in ruled}
    return Sight(found, frozenset(evaluation.measured["analyte_id"].unique()))


def _as_reported(first: pd.DataFrame) -> Iterator[Seen]:
    """Yield what the laboratory reported in ng or µg/m³, row by row."""
    factor = first["unit"].map({code: unit.factor for code, unit in RESULT_UNITS.items()}).to_numpy(dtype=float)
    quantity = [_QUANTITY.get(unit, "") for unit in first["unit"].tolist()]
    limit = first["rl"].fillna(first["lod"]).to_numpy(dtype=float) * factor
    value = first["value"].to_numpy(dtype=float) * factor
    columns = quantity, value.tolist(), limit.tolist(), first["detected"].tolist(), repeat(False)
    return map(Seen._make, zip(stored_results(first), *columns, strict=False))


def _in_air(seen: Seen, air: Mapping[Key, Concentration]) -> Seen:
    found = air.get(seen.row.key)
    if found is None:
        return seen._replace(quantity="", value=math.nan, limit=math.nan)
    value = found.ug_m3 if seen.detected else math.nan
    return seen._replace(quantity="concentration", value=value, limit=found.rl_ug_m3)


def _under_rule(seen: Seen, limit: float) -> Seen:
    """Return a detection as the non-detect that the rule makes it, at its limit, which is in the row's own unit."""
    raised = limit * seen.value / seen.row.value
    least = raised if math.isnan(seen.limit) else max(seen.limit, raised)
    return seen._replace(value=math.nan, limit=least, detected=False, by_rule=True)


def _by_rule(evaluation: Evaluation, rule: BlankRule) -> Mapping[Key, float]:
    """Return the detections that the rule makes non-detects, with their limits in the unit of each result."""
    if rule.proposes != "U":
        return {}
    common = frozenset(c.analyte_id for c in evaluation.compounds if c.common_contaminant)
    own = evaluation.blank_rule == rule
    hits = evaluation.blank_hits if own else blank_hits(evaluation.store, evaluation.blank_reach, common, rule)
    return nondetects(evaluation.primary, hits, rule, common)
