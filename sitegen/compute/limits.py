"""Limits by name: a default with its source, or the project's own.

Each default is one record with its source. ``project default, no published source``
says that we chose it; ``common practice, no source`` says that the trade does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from sitegen.compute.formats import measure_text
from sitegen.project.reads import note
from sitegen.project.settings import PlanPart, Settings
from sitegen.units import to_metres
from sitegen.voice import worded

OWN = "project default, no published source"
PRACTICE = "common practice, no source"
COMMON_RATIO_RULE = "five_ten_times"
"""The blank rule with a ratio of its own for common laboratory contaminants."""
EPA_325 = "US EPA Methods 325A/B (40 CFR 63, appendix A)"
DOD_BLANKS = "US DoD Data Validation Guidelines, revised table A, 9 February 2022"
RISK_GUIDANCE = "US EPA Risk Assessment Guidance, part A, 1989"
FUNCTIONAL_GUIDELINES = "US EPA National Functional Guidelines for organic data review"
CALIFORNIA = "California soil-gas advisory, 6.3"
CHLORINATED_ETHENES = "USGS WRI 99-4285 (2000), table 5"


@dataclass(frozen=True, slots=True)
class LimitRecord:
    """A limit: value, unit, what it limits, its source and kind, who set it, and what was set if in another unit."""

    name: str
    value: float
    unit: str
    meaning: str
    source: str
    kind: str = "practice"
    from_project: bool = False
    stated: str = ""

    @property
    def text(self) -> str:
        """Value and unit as a reader writes them, in the unit that they were set in."""
        return self.stated or measure_text(self.value, self.unit)


DEFAULTS: tuple[LimitRecord, ...] = (
    LimitRecord("exposure_days_min", 7, "d", "shortest exposure", PRACTICE),
    LimitRecord("exposure_days_max", 14, "d", "longest exposure", EPA_325, "method"),
    LimitRecord("exposure_from_median_pct", 10, "%", "difference of an exposure from the median", OWN),
    LimitRecord("depth_tolerance_m", 0.15, "m", "difference of a depth from the plan", OWN),
    LimitRecord("samplers_per_bag", 30, "", "samplers in a return bag, excluding the trip blank", PRACTICE),
    LimitRecord("duplicate_rate", 0.1, "per location", "duplicate rate", EPA_325, "method"),
    LimitRecord("duplicate_rpd_pct", 30, "%", "relative percent difference", EPA_325, "method"),
    LimitRecord("duplicate_rl_multiple", 5, "× RL", "RPD applies at or above", PRACTICE),
    LimitRecord("duplicate_difference_rl", 2, "× RL", "absolute difference, below that", PRACTICE),
    LimitRecord(
        "blank_ratio",
        5,
        "×",
        "blank action level (multiple of blank)",
        DOD_BLANKS,
        "method",
    ),
    LimitRecord(
        "blank_ratio_common",
        10,
        "×",
        "blank action level for common laboratory contaminants",
        RISK_GUIDANCE,
        "method",
    ),
    LimitRecord("hold_days", 30, "d", "hold time, end of sampling to analysis", EPA_325, "method"),
    LimitRecord("surrogate_lower_pct", 70, "%", "surrogate recovery, lower limit", CALIFORNIA, "method"),
    LimitRecord("surrogate_upper_pct", 130, "%", "surrogate recovery, upper limit", CALIFORNIA, "method"),
    LimitRecord(
        "recovery_reject_pct",
        10,
        "%",
        "recovery below which rejection is considered",
        FUNCTIONAL_GUIDELINES,
        "method",
    ),
    LimitRecord("point_spacing_min_m", 1, "m", "minimum distance between two points", OWN),
    LimitRecord("utility_distance_m", 1, "m", "minimum distance of a hole from a mapped utility", OWN),
    LimitRecord("coordinates_agree_m", 2, "m", "difference between projected and geographic position of a point", OWN),
    LimitRecord("accuracy_m", 3, "m", "stated accuracy of a position", OWN),
    LimitRecord("rounded_times_pct", 25, "%", "share of field times on the hour or half hour", OWN),
    LimitRecord("night_begins_h", 22, "h", "start of night work (local hour)", OWN),
    LimitRecord("night_ends_h", 5, "h", "start of daytime work (local hour)", OWN),
    LimitRecord("weather_gap_h", 12, "h", "time between two weather readings", OWN),
    LimitRecord("pressure_fall_h", 24, "h", "interval for the largest fall in air pressure", OWN),
    LimitRecord("station_distance_km", 25, "km", "distance of the weather station", OWN),
    LimitRecord("molar_mass_g_mol", 0.1, "g/mol", "difference of a molar mass from that of its formula", OWN),
    LimitRecord("moved_m", 1, "m", "distance between planned and surveyed position, or a larger stated accuracy", OWN),
    LimitRecord("shelf_days", 60, "d", "time from preparation of a sampler to its retrieval", OWN),
    LimitRecord("seal_hours", 24, "h", "time from retrieval to sealing of the bag", PRACTICE),
    LimitRecord("photo_visit_h", 3, "h", "time between a photograph and a visit to its point", OWN),
    LimitRecord("custody_gap_min", 0, "min", "time without a recorded custodian", OWN),
    LimitRecord("completeness_pct", 90, "%", "usable results relative to planned", OWN),
    LimitRecord("outlier_ratio", 10, "×", "ratio of the highest value to the next highest", OWN),
    LimitRecord("unit_slip_ratio", 1000, "×", "ratio of a value to its neighbours that suggests a unit error", OWN),
    LimitRecord("local_low_rl_multiple", 5, "× RL", "lowest result of the nearest neighbours, local-low check", OWN),
    LimitRecord("local_low_share", 0.25, "", "share of the lowest neighbour", OWN),
    LimitRecord("flow_line_reach_m", 15, "m", "distance of the points shown along a flow line", OWN),
    LimitRecord(
        "cis_share_pct",
        80,
        "%",
        "cis share of total dichloroethenes consistent with reductive dechlorination",
        CHLORINATED_ETHENES,
        "method",
    ),
    LimitRecord("blank_share_pct", 50, "%", "share of detections affected by a blank", OWN),
    LimitRecord("near_level_pct", 10, "%", "difference from a level within which a result is reported as near it", OWN),
    LimitRecord("screening_age_years", 3, "a", "age of a level set", OWN),
    LimitRecord("gap_inset_m", 5, "m", "distance of a suggested location from the boundary", OWN),
    LimitRecord("front_detections_min", 3, "", "detections unaffected by a blank for a compound on the first map", OWN),
    LimitRecord("contour_pairs_min", 3, "", "duplicate pairs required for the minimum nugget of a contour", OWN),
    LimitRecord("contour_detections_min", 12, "", "detections required for a contour", OWN),
    LimitRecord("same_place_m", 2, "m", "distance between points of two rounds compared as one location", OWN),
    LimitRecord(
        "round_moved_m", 3, "m", "distance of a point from its position in an earlier round, or a larger accuracy", OWN
    ),
    LimitRecord("round_factor", 3, "×", "change between rounds, where duplicate pairs are too few for a spread", OWN),
    LimitRecord("round_coverage_pct", 90, "%", "share of duplicate pairs that the spread of rounds covers", OWN),
    LimitRecord("round_confidence_pct", 95, "%", "confidence in that share", OWN),
)


def limits(settings: Settings) -> Mapping[str, LimitRecord]:
    """Return every limit in force, by name: the project's own before the default.

    What the plan states is the project's, even where it states what the default says. The
    ratio for common laboratory contaminants is in force under the one rule that uses it.
    """
    note(("project",))
    in_force = {record.name: _worded(record) for record in DEFAULTS}
    for name, value, stated in _plan_limits(settings.plan):
        own = _own(in_force[name], value, in_force[name].unit, _plan_source(settings), "plan")
        in_force[name] = replace(own, stated=stated)
    for name, limit in settings.limits.items():
        if name in in_force:
            unit = limit.unit or in_force[name].unit
            in_force[name] = _own(in_force[name], limit.value, unit, limit.source, limit.kind)
    if settings.rules.blank != COMMON_RATIO_RULE:
        del in_force["blank_ratio_common"]
    return in_force


def _worded(record: LimitRecord) -> LimitRecord:
    """Return a default in the voice that speaks, where it has no publication for its source."""
    return replace(record, source=worded(record.source)) if record.source in (OWN, PRACTICE) else record


def _plan_limits(plan: PlanPart) -> Iterator[tuple[str, float, str]]:
    """Yield the limits that the plan states, in the unit of the default, and as stated where that is another."""
    stated = plan.model_fields_set
    for name in ("exposure_days_min", "exposure_days_max", "samplers_per_bag", "duplicate_rate"):
        if name in stated:
            yield name, float(getattr(plan, name)), ""
    if plan.depth_tolerance:
        value, unit = plan.depth_tolerance.value, plan.depth_tolerance.unit
        yield "depth_tolerance_m", to_metres(value, unit), measure_text(value, unit)


def _plan_source(settings: Settings) -> str:
    plan = settings.project.work_plan
    return worded("the project's plan: {plan}", plan=plan) if plan else worded("the project's plan")


def _own(base: LimitRecord, value: float, unit: str, source: str, kind: str) -> LimitRecord:
    return LimitRecord(base.name, value, unit, base.meaning, source, kind, from_project=True)
