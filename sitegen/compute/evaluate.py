"""Everything that is computed, in one record.

Each part is computed when it is first asked for: a check needs a third of it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from sitegen.compute.custody.chains import Custody, custody
from sitegen.compute.custody.marks import custody_marks
from sitegen.compute.design.fieldplan import FieldPlan, field_plan
from sitegen.compute.field.completeness import Completeness, completeness
from sitegen.compute.field.exposure import FIELD_BLANK, Placement, median_exposure_min, placements
from sitegen.compute.field.standing import Standing, point_states, standing_samplers
from sitegen.compute.limits import LimitRecord, limits
from sitegen.compute.marks import Marks, gather
from sitegen.compute.place.points import Point, points
from sitegen.compute.quality.air import AirPair, ByVolume, air_margins_pct, air_pairs, by_volume
from sitegen.compute.quality.blanks import (
    Affected,
    Blank,
    BlankHit,
    BlankRule,
    Reach,
    Silent,
    affected_counts,
    as_nondetects,
    blank_hits,
    blank_marks,
    blank_rule,
    blanks,
    handled_days,
    nondetects,
    silent_kinds,
)
from sitegen.compute.quality.duplicates import DuplicateRate, Pair, duplicate_pairs, duplicate_rates
from sitegen.compute.quality.fieldmarks import laboratory_marks, placement_marks
from sitegen.compute.quality.holding import Held, holding_marks, holding_times
from sitegen.compute.quality.labqc import Control, control_marks, controls
from sitegen.compute.quality.locallow import LocalLow, Lows, local_lows
from sitegen.compute.quality.overrange import Tops, calibration_tops
from sitegen.compute.quality.proposals import Proposed, proposals
from sitegen.compute.results.concentration import Concentration, concentration, uptake_rates
from sitegen.compute.results.relate import Listed, Related, relate
from sitegen.compute.results.screening import Comparison, Exceedance, comparisons, exceedances, levels
from sitegen.compute.results.store import by_key, primary, result_store, sample_results, stored_results
from sitegen.compute.results.summary import Summary, summaries
from sitegen.compute.results.totals import DetectedSum, detected_sums, soil_sum
from sitegen.project.reads import computed, reading
from sitegen.project.schema import AIR_MEDIA, Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte
from sitegen.units import CONCENTRATION_UNITS, MASS_UNITS, NANOGRAM, RESULT_UNITS, ResultUnit

NO_GROUP = "not_recorded"
"""The group of a compound of which none is on record."""


@dataclass(frozen=True, slots=True)
class Compound:
    """A compound as listed: id, name, CAS, group, molar mass, whether it is mapped."""

    analyte_id: str
    name: str
    cas: str
    group: str
    molar_mass_g_mol: float | None
    mapped: bool
    common_contaminant: bool
    origin: Origin


@dataclass(frozen=True)
class Evaluation:
    """What a survey supports; each part is computed when it is first asked for, and once.

    So a check of a large survey doesn't wait for what only the report shows.
    """

    survey: Survey
    whole: Evaluation | None = None
    """What the whole record supports, where ``survey`` is a copy that leaves a part of it out."""

    @computed
    def limits(self) -> Mapping[str, LimitRecord]:
        """The limits in force, by name."""
        return limits(self.survey.settings)

    @computed
    def compounds(self) -> tuple[Compound, ...]:
        """The compounds as listed, in the order that the list asks for."""
        return compounds(self.survey)

    @computed
    def deployed(self) -> tuple[Placement, ...]:
        """Every row of deployments.csv: the samplers placed and the field blanks opened."""
        return placements(self.survey)

    @computed
    def placements(self) -> tuple[Placement, ...]:
        """Every placement of a sampler that sampled a point, with its exposure: field blanks aside."""
        return tuple(p for p in self.deployed if p.role != FIELD_BLANK)

    @computed
    def standing(self) -> Mapping[str, Standing]:
        """The sampler that stands for each point and why, by location id."""
        return standing_samplers(self.placements)

    @computed
    def states(self) -> Mapping[str, str]:
        """What became of each point, by location id."""
        return point_states(self.survey, self.standing)

    @computed
    def median_exposure_min(self) -> float | None:
        """The median of the exposures in minutes, None where there is none."""
        return median_exposure_min(self.placements)

    @computed
    def holding(self) -> Mapping[str, Held]:
        """Days from the end of sampling to analysis, by laboratory sample."""
        return holding_times(self.survey, self.placements)

    @computed
    def plan(self) -> FieldPlan:
        """The points of the plan in walking order, and the samplers that they need."""
        return field_plan(self.survey)

    @computed
    def points(self) -> tuple[Point, ...]:
        """Every point with its place on the map."""
        return points(self.survey)

    @computed
    def custody(self) -> Custody:
        """The chains of samplers, bags and shipments."""
        return custody(self.survey, self.deployed)

    @computed
    def store(self) -> pd.DataFrame:
        """Every result with what is known of its sampler."""
        return result_store(self.survey, self.deployed, self.standing)

    @computed
    def mass_unit(self) -> ResultUnit:
        """The unit of the masses on record, ng where there is none: a word of headings, so no read of the numbers."""
        with reading():
            codes = self.survey.frame("results")["unit"].unique()
        return next((RESULT_UNITS[code] for code in codes if code in MASS_UNITS), NANOGRAM)

    @computed
    def primary(self) -> pd.DataFrame:
        """The part of the store that stands for points."""
        return primary(self.store)

    @computed
    def measured(self) -> pd.DataFrame:
        """The part of the store that samplers at points gave, duplicates and replaced samplers included."""
        return sample_results(self.store)

    @computed
    def blank_rule(self) -> BlankRule:
        """The blank rule in force."""
        return blank_rule(self.survey.rules.blank, self.limits)

    @computed
    def blank_hits(self) -> tuple[BlankHit, ...]:
        """Detections in blanks, each with the results that it touches."""
        return blank_hits(self.store, self.blank_reach, self._common, self.blank_rule)

    @computed
    def blank_reach(self) -> Reach:
        """What each kind of blank applies to."""
        return Reach(self.survey.plan.field_blank, handled_days(self.deployed))

    @computed
    def blanks(self) -> tuple[Blank, ...]:
        """Every blank with results, and what it applies to."""
        return blanks(self.store, self.blank_reach)

    @computed
    def silent_blanks(self) -> tuple[Silent, ...]:
        """The kinds of blank that say nothing of any sample."""
        return silent_kinds(self.blanks, self.blank_reach)

    @computed
    def blanks_speak(self) -> bool:
        """Whether a blank with results says anything of samples: some are on record as of its bag, batch or day."""
        return any(blank.samplers for blank in self.blanks)

    @computed
    def affected(self) -> tuple[Affected, ...]:
        """Detections that a blank affects, by medium group."""
        return affected_counts(self.measured, self._touched)

    @computed
    def tops(self) -> Tops:
        """Results with the top of their calibration on file."""
        return calibration_tops(self.store)

    @computed
    def pairs(self) -> tuple[Pair, ...]:
        """Results beside those of their field duplicates."""
        return duplicate_pairs(self.store, self.placements, self.limits)

    @computed
    def duplicate_rates(self) -> tuple[DuplicateRate, ...]:
        """Pairs with results against primaries with results: of the survey, then by medium group."""
        return duplicate_rates(self.pairs, self.primary)

    @computed
    def controls(self) -> tuple[Control, ...]:
        """The laboratory's quality control, each measurement beside its limits."""
        return controls(self.survey, self.store, self.limits)

    @computed
    def marks(self) -> Marks:
        """Every mark, by sampler and by result."""
        names = {c.analyte_id: c.name for c in self.compounds}
        of_samplers = placement_marks(self.placements, self.survey, self.limits, self.median_exposure_min)
        of_results = (
            *laboratory_marks(self.store, self.pairs),
            *control_marks(self.controls),
            *holding_marks(self.holding.values(), self.store, self.limits["hold_days"]),
        )
        return gather(
            [*of_samplers, *custody_marks(self.survey, self.custody, self.limits)],
            [*blank_marks(self.blank_hits, names), *of_results],
        )

    @computed
    def proposed(self) -> tuple[Proposed, ...]:
        """The qualifiers that the rules propose."""
        return _proposals(self.store, self.blank_hits, self.blank_rule, self._common, self.marks)

    @computed
    def summaries(self) -> Mapping[tuple[str, str], Summary]:
        """Summaries by compound and group of points, detections as reported."""
        return self._summaries(self._summarised)

    @computed
    def ruled_summaries(self) -> Mapping[tuple[str, str], Summary]:
        """Summaries with what the blank rule makes non-detects counted as that.

        Empty under other rules, and where no blank says anything of samples.
        """
        if self.blank_rule.proposes != "U" or not self.blanks_speak:
            return {}
        limits = nondetects(self._summarised, self.blank_hits, self.blank_rule, self._common)
        return self._summaries(as_nondetects(self._summarised, limits))

    @computed
    def concentrations(self) -> Mapping[tuple[str, str], Concentration]:
        """Concentrations where the rules allow them, by (lab_sample_id, analyte_id)."""
        return _concentrations(self.survey, self.measured, self.placements)

    @computed
    def comparisons(self) -> tuple[Comparison, ...]:
        """Concentrations beside screening levels."""
        return comparisons(self.concentrations.values(), levels(self.survey), self.limits["near_level_pct"].value)

    @computed
    def exceedances(self) -> tuple[Exceedance, ...]:
        """Points and compounds with a concentration above a level: the highest result decides."""
        return exceedances(self.comparisons, self._places)

    @computed
    def by_volume(self) -> Mapping[tuple[str, str], ByVolume]:
        """Concentrations by volume, by (lab_sample_id, analyte_id)."""
        return _by_volume(self.concentrations, self.compounds)

    @computed
    def air_pairs(self) -> tuple[AirPair, ...]:
        """Indoor concentrations beside outdoor ones."""
        return air_pairs(self.concentrations.values(), self._places, self.air_margins_pct)

    @computed
    def air_margins_pct(self) -> Mapping[str, float]:
        """By compound, the RPD in % beyond which indoor and outdoor air are called different."""
        return air_margins_pct(self.pairs, [c.analyte_id for c in self.compounds], self.limits)

    @computed
    def related(self) -> Related:
        """What compounds say of each other and of the flow."""
        return relate(self.survey, self.primary, self.points, _entries(self.compounds), self.limits)

    @computed
    def lows(self) -> Lows:
        """Points far below all of their neighbours, and how many could be compared."""
        return local_lows(self.primary, self.points, self.marks, self.limits)

    @property
    def local_lows(self) -> tuple[LocalLow, ...]:
        """Points far below all of their neighbours."""
        return self.lows.points

    @computed
    def sums(self) -> Mapping[str, DetectedSum]:
        """Sums of detected masses, by point."""
        return detected_sums(self.primary, self._touched)

    @computed
    def soil_sum(self) -> DetectedSum:
        """The sum of detected masses over the soil points."""
        return soil_sum(self.primary, self._touched)

    @computed
    def completeness(self) -> Completeness:
        """Planned, placed, recovered, analysed, usable without marks."""
        return completeness(self.survey, self.standing, self.store, self.marks)

    @computed
    def _summarised(self) -> pd.DataFrame:
        """The results that summaries are made of: of soil one for each point, of air every sampler's."""
        return self.measured[self.measured["stands"] | self.measured["medium"].isin(AIR_MEDIA)]

    def _summaries(self, rows: pd.DataFrame) -> Mapping[tuple[str, str], Summary]:
        listed = [c.analyte_id for c in self.compounds]
        return summaries(rows, self._touched, listed, with_means=self.survey.rules.mean)

    @computed
    def _places(self) -> Mapping[str, str]:
        """The point of each laboratory sample that a sampler at a point gave."""
        return dict(zip(self.measured["lab_sample_id"], self.measured["location_id"], strict=True))

    @computed
    def _common(self) -> frozenset[str]:
        return frozenset(c.analyte_id for c in self.compounds if c.common_contaminant)

    @computed
    def _touched(self) -> frozenset[tuple[str, str]]:
        return frozenset(key for hit in self.blank_hits for key in hit.touched)


def evaluate(survey: Survey, whole: Evaluation | None = None) -> Evaluation:
    """Compute what the survey supports, each part when it is first asked for; ``whole`` where it is a part."""
    return Evaluation(survey, whole)


def _proposals(
    store: pd.DataFrame, hits: tuple[BlankHit, ...], rule: BlankRule, common: frozenset[str], marks: Marks
) -> tuple[Proposed, ...]:
    wanted = {key for hit in hits for key in hit.touched} | set(marks.by_result)
    return proposals(by_key(store, wanted), hits, rule, common, marks)


def compounds(survey: Survey) -> tuple[Compound, ...]:
    """Return the compounds in the order that the list asks for, else in file order."""
    rows = survey.rows(Analyte)
    ordered = sorted(rows, key=lambda row: (math.inf if math.isnan(row.order) else row.order, row.origin.row))
    return tuple(
        Compound(
            row.analyte_id,
            row.name,
            row.cas,
            row.group or NO_GROUP,
            None if math.isnan(row.molar_mass_g_mol) else row.molar_mass_g_mol,
            row.map == "yes",
            row.common_lab_contaminant == "yes",
            row.origin,
        )
        for row in ordered
    )


def _concentrations(
    survey: Survey, sampled: pd.DataFrame, placed: tuple[Placement, ...]
) -> dict[tuple[str, str], Concentration]:
    rates = uptake_rates(survey)
    media = {medium for _, _, medium in rates}
    rows = sampled[(sampled["medium"].isin(media) | sampled["unit"].isin(CONCENTRATION_UNITS)) & ~sampled["rejected"]]
    exposure = {p.sampler_id: p.exposure_min for p in placed}
    by_key = {}
    for row in stored_results(rows):
        one = concentration(row, exposure.get(row.sampler_id), rates)
        if one:
            by_key[row.key] = one
    return by_key


def _by_volume(
    concentrations: Mapping[tuple[str, str], Concentration], listed: tuple[Compound, ...]
) -> dict[tuple[str, str], ByVolume]:
    molar = {c.analyte_id: c.molar_mass_g_mol for c in listed}
    return {key: by_volume(item, mass) for key, item in concentrations.items() if (mass := molar.get(item.analyte_id))}


def _entries(compounds: tuple[Compound, ...]) -> tuple[Listed, ...]:
    return tuple(Listed(c.analyte_id, c.cas, c.molar_mass_g_mol, c.mapped) for c in compounds)
