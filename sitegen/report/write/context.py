"""What every page is written from: the survey, what was computed, and the findings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from copy import copy
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from math import isnan
from typing import TypeVar

from sitegen.checks.dispositions import dispositions
from sitegen.compute.design.reach import Reach, reach
from sitegen.compute.evaluate import Compound, Evaluation, evaluate
from sitegen.compute.evidence.bases import Basis, bases
from sitegen.compute.field.exposure import FIELD_BLANK, Placement
from sitegen.compute.field.reconcile import Step, reconcile
from sitegen.compute.field.stage import Stage, stage
from sitegen.compute.field.weather import Weather, weather
from sitegen.compute.formats import moment_text
from sitegen.compute.marks import Marks
from sitegen.compute.picture.contours import NoContour, Pattern, patterns, planned_spacing_m
from sitegen.compute.picture.occupied import Building, buildings
from sitegen.compute.picture.pattern import falls
from sitegen.compute.place.points import Point, map_crs
from sitegen.compute.results.groupsums import GroupSum, group_sums
from sitegen.compute.results.store import StoredResult, other_runs, stored_results
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.changes import RoundChange, round_change
from sitegen.compute.rounds.split import Part, campaigns
from sitegen.compute.rounds.supplements import Supplemented, supplemented
from sitegen.compute.rounds.trends import Trends, trends
from sitegen.compute.statistics.classes import class_labels, size_class
from sitegen.compute.text.tokens import shared, tokens
from sitegen.findings.problems import Finding
from sitegen.project.place.coordinates import crs
from sitegen.project.reads import computed, reading
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Deployment, Disposition, LabSample, Location, Photo
from sitegen.project.zones import local_text, read_time, zone_letters
from sitegen.report.record.pages import Figure, Mark, Ref, Table
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.values import mark_words, proposal_text
from sitegen.units import ResultUnit, minutes_to_days

T = TypeVar("T")


@dataclass(frozen=True)
class Context:
    """Lookups over a survey, made once."""

    survey: Survey
    evaluation: Evaluation
    findings: tuple[Finding, ...]
    campaign: Campaign = field(default_factory=Campaign)
    """The round that is reported, with its supplements."""
    earlier: tuple[Context, ...] = ()
    """What earlier rounds are written from, in order of time; nothing where there is one round."""
    whole: Survey | None = None
    """The folder with all of its rounds, where there are several."""
    maps: dict[tuple[str, str], Figure] = field(init=False, default_factory=dict)
    """Maps drawn so far, by compound (small ones: sheet) and placing: site and print show the same drawing."""
    tables: dict[str, Table] = field(init=False, default_factory=dict)
    """Tables of results made so far, by point: its page and its sheet in print show the same."""
    chains: dict[str, Figure | None] = field(init=False, default_factory=dict)
    """Custody drawn so far by sampler: its own page and its location's show the same drawing."""

    def with_texts(self, survey: Survey, whole: Survey | None) -> Context:
        """Return a context of ``survey``, a part of ``whole``: what differs in nothing but texts keeps its lookups."""
        other = copy(self)
        object.__setattr__(other, "survey", survey)
        object.__setattr__(other, "whole", whole)
        return other

    @property
    def record(self) -> Survey:
        """All that the folder has on record, of every round; ``survey`` is the part of the round reported."""
        return self.whole or self.survey

    @cached_property
    def own_findings(self) -> tuple[Finding, ...]:
        """The findings of this round, and those about all of them: not those about what other rounds alone have."""
        return tuple(one for one in self.findings if one.round in ("", self.campaign.id) and not self._elsewhere(one))

    def _elsewhere(self, finding: Finding) -> bool:
        """Tell whether a finding of the whole folder is about a bag, a shipment or a sampler of another round."""
        return self.whole is not None and finding.about.partition("+")[0] in self._others.get(finding.subject_kind, ())

    @cached_property
    def _others(self) -> Mapping[str, frozenset[str]]:
        """The bags, shipments and samplers of the folder that this round has not, by kind."""
        tables = {"bag": "return_bags", "shipment": "shipments", "sampler": "samplers"}
        with reading():
            whole = self.record.tables
            return {
                kind: frozenset(whole[name].frame.iloc[:, 0]) - frozenset(self.survey.tables[name].frame.iloc[:, 0])
                for kind, name in tables.items()
            }

    def finding_key(self, key: str) -> str:
        """Return the key of this round's finding by what it would be in a survey of one: code and subject."""
        return next((one.key for one in self.own_findings if f"{one.code}:{one.about}" == key), key)

    @property
    def rounds(self) -> tuple[Context, ...]:
        """The earlier rounds and this one, in order of time: this one alone where there is one."""
        return (*self.earlier, self)

    @property
    def mass_unit(self) -> ResultUnit:
        """The unit of the masses on record, for headings, captions and legends."""
        return self.evaluation.mass_unit

    @computed
    def tokens(self) -> Mapping[str, str]:
        """The numbers and dates that the narrative may take from the data, by name."""
        return tokens(self.survey, self.evaluation)

    @computed
    def falls(self) -> Mapping[str, str]:
        """Which way the masses of each compound fall from their highest point."""
        return falls(self.evaluation.primary, self.evaluation.points)

    @computed
    def changes(self) -> tuple[RoundChange, ...]:
        """What changed from each earlier round to this one, in the order of ``earlier``."""
        return tuple(round_change(one.evaluation, self.evaluation) for one in self.earlier)

    @computed
    def trends(self) -> Trends:
        """The trends over all rounds; nothing where there are too few."""
        return trends([one.evaluation for one in self.rounds])

    @computed
    def supplements(self) -> Mapping[str, Supplemented]:
        """The supplement that each point belongs to; nothing for points of the round itself."""
        return supplemented(self.evaluation, self.campaign)

    @computed
    def weather(self) -> Weather | None:
        """The weather over the exposure, None where no reading is on record."""
        return weather(self.survey)

    @computed
    def locations(self) -> tuple[Location, ...]:
        """The rows of locations.csv."""
        return self.survey.rows(Location)

    @computed
    def compounds(self) -> Mapping[str, Compound]:
        """The compounds by id, in the order of the list."""
        return {compound.analyte_id: compound for compound in self.evaluation.compounds}

    @computed
    def points(self) -> Mapping[str, Point]:
        """The points with a position, by id."""
        return {point.location_id: point for point in self.evaluation.points}

    @computed
    def placed(self) -> Mapping[str, Placement]:
        """What deployments.csv says of each sampler."""
        return {p.sampler_id: p for p in self.evaluation.deployed}

    @computed
    def placed_at(self) -> Mapping[str, tuple[Placement, ...]]:
        """The samplers placed at each point."""
        return _grouped(self.evaluation.placements)

    @computed
    def opened_at(self) -> Mapping[str, tuple[Placement, ...]]:
        """The field blanks opened at each point."""
        return _grouped(p for p in self.evaluation.deployed if p.role == FIELD_BLANK)

    @computed
    def results(self) -> tuple[StoredResult, ...]:
        """Every result on file, in file order; the lookups by point, compound, sampler and key have the reportable."""
        return tuple(stored_results(self.evaluation.store))

    @computed
    def every_result(self) -> tuple[StoredResult, ...]:
        """Every result on file of every round, in file order: for where it stands, not for what it stands for."""
        return self.results if self.whole is None else tuple(stored_results(evaluate(self.whole).store))

    @computed
    def _reportable(self) -> tuple[StoredResult, ...]:
        return tuple(row for row in self.results if row.reportable)

    @computed
    def _primary(self) -> tuple[StoredResult, ...]:
        return tuple(stored_results(self.evaluation.primary))

    @computed
    def by_location(self) -> Mapping[str, list[StoredResult]]:
        """The results that stand for each point, in the order of the compounds."""
        return self._in_order(_by(self._primary, lambda row: row.location_id))

    @computed
    def by_compound(self) -> Mapping[str, list[StoredResult]]:
        """The results that stand for points, by compound."""
        return _by(self._primary, lambda row: row.analyte_id)

    @computed
    def at_point(self) -> Mapping[tuple[str, str], StoredResult]:
        """The result that stands for each point and compound: of two, which a check tells, the first on file."""
        found: dict[tuple[str, str], StoredResult] = {}
        for row in self._primary:
            found.setdefault((row.location_id, row.analyte_id), row)
        return found

    @computed
    def by_sampler(self) -> Mapping[str, list[StoredResult]]:
        """The reportable results of each sampler, in the order of the compounds."""
        return self._in_order(_by(self._reportable, lambda row: row.sampler_id))

    @computed
    def by_key(self) -> Mapping[tuple[str, str], StoredResult]:
        """The reportable results by laboratory sample and compound."""
        return {row.key: row for row in self._reportable}

    @computed
    def proposed(self) -> Mapping[tuple[str, str], tuple[str, ...]]:
        """The qualifiers that rules propose, by laboratory sample and compound."""
        return _proposed(self.evaluation)

    @computed
    def runs(self) -> Mapping[str, list[LabSample]]:
        """The laboratory samples of each sampler."""
        return _by(self.survey.rows(LabSample), lambda row: row.sampler_id)

    @computed
    def other_runs(self) -> Mapping[tuple[str, str], list[StoredResult]]:
        """The results that another run stands for, by sampler and compound."""
        return other_runs(self.evaluation.store)

    @computed
    def photos(self) -> Mapping[str, list[Photo]]:
        """The photographs of each point."""
        return _by(self.survey.rows(Photo), lambda row: row.location_id)

    @computed
    def sheets(self) -> Mapping[str, Deployment]:
        """The rows of deployments.csv that name a scan of their field sheet, by sampler."""
        return {row.sampler_id: row for row in self.survey.rows(Deployment) if row.scan_file}

    @computed
    def group_sums(self) -> Mapping[str, Mapping[str, GroupSum]]:
        """Sums of detected masses by group of compounds, for each point."""
        return group_sums(self.evaluation.primary, {c.analyte_id: c.group for c in self.evaluation.compounds})

    @computed
    def patterns(self) -> Mapping[str, Pattern | NoContour]:
        """Contours of the mapped compounds, or why there are none; nothing where the rules want none."""
        wanted = self.survey.rules.contours
        return patterns(self.evaluation, planned_spacing_m(self.survey.settings)) if wanted else {}

    @computed
    def buildings(self) -> tuple[Building, ...]:
        """The occupied buildings and every other with points of indoor air, with what is known of their air."""
        return buildings(self.survey, self.evaluation)

    @computed
    def reconciled(self) -> tuple[Step, ...]:
        """Samplers counted at each step of their way."""
        return reconcile(self.survey, self.evaluation.deployed, self.evaluation.store)

    @computed
    def reach(self) -> Reach:
        """What the soil points could find: those with results, before the samplers are back those of the plan."""
        return reach(self.survey, set(self.by_location) if self.stage == "returned" else None)

    @computed
    def custody_subjects(self) -> Mapping[str, tuple[str, str]]:
        """What each custody event is about: kind and id, by event."""
        return {row.event_id: (row.subject_kind, row.subject_id) for row in self.survey.rows(CustodyEvent)}

    @computed
    def findings_of(self) -> Mapping[tuple[str, str], tuple[int, ...]]:
        """Places in ``findings`` by what they are about, as kind and id; a sampler's are those that touch it too."""
        return _findings_of(self.findings, self.custody_subjects, self.campaign)

    @computed
    def dispositions(self) -> Mapping[str, Disposition]:
        """What was decided, by the key of the finding that it is about."""
        return dispositions(self.survey, self.findings)

    def _in_order(self, groups: dict[str, list[StoredResult]]) -> dict[str, list[StoredResult]]:
        """Return groups of results, those of each group in the order of the compounds."""
        order = {compound.analyte_id: at for at, compound in enumerate(self.evaluation.compounds)}
        last = len(order)
        return {name: sorted(group, key=lambda row: order.get(row.analyte_id, last)) for name, group in groups.items()}

    def state_of(self, row: Location) -> str:
        """Return what became of a point: its sampler's state, or planned or not_installed."""
        return self.evaluation.states[row.location_id]

    def detected_text(self, location_id: str) -> str:
        """Return ``n of m`` compounds detected at a point, a dash where nothing was analysed."""
        results = self.by_location.get(location_id, [])
        return shared(sum(row.detected for row in results), len(results)) if results else "–"

    @computed
    def bases(self) -> Mapping[str, Basis]:
        """What statements rest on, by name: counts of the whole record, whatever a copy leaves out."""
        return bases(self.evaluation.whole or self.evaluation)

    @computed
    def soil_points(self) -> int:
        """How many soil points have results on record."""
        first = self.evaluation.primary
        return int(first.loc[first["medium"].isin(SOIL_MEDIA), "location_id"].nunique())

    @cached_property
    def stage(self) -> Stage:
        """How far the survey has come; no number rests on it."""
        with reading():
            return stage(self.survey)

    @property
    def with_results(self) -> bool:
        """Whether results are to be told: samples are back, or no plan is there to tell instead."""
        return self.stage == "returned"

    @property
    def unplaced(self) -> int:
        """How many points have no position on record."""
        return len(self.locations) - len(self.points)

    @property
    def display(self) -> str:
        """The limit that non-detects are shown at: ``rl`` or ``mdl``."""
        return self.survey.rules.nondetect_display

    @property
    def for_team(self) -> bool:
        """Whether the report is for the project team: what to do and what is open before issue is theirs alone."""
        return "team_notes" in allowed_classes(self.survey.settings.publish)

    @property
    def for_reviewers(self) -> bool:
        """Whether the pages for reviewers are part of the report: as the project says, or else for the team alone."""
        asked = self.survey.settings.publish.reviewer_pages
        return self.survey.settings.publish.level == "internal" if asked is None else asked

    @cached_property
    def _marks(self) -> Marks:
        """Every mark; no number rests on them, and each leads to its finding."""
        with reading():
            return self.evaluation.marks

    def marks(self, row: StoredResult) -> tuple[Mark, ...]:
        """Return the marks of a result in words."""
        return mark_words(self._marks.of(row.sampler_id, row.lab_sample_id, row.analyte_id))

    def ringed(self, row: StoredResult) -> tuple[Mark, ...]:
        """Return the marks that a map shows by a ring, in words."""
        return mark_words(self._marks.ringed(row.sampler_id, row.lab_sample_id, row.analyte_id))

    def has_ring(self, row: StoredResult) -> bool:
        """Tell whether a map draws a ring around a result: what is counted rests on the marks."""
        return bool(self.evaluation.marks.ringed(row.sampler_id, row.lab_sample_id, row.analyte_id))

    def primary_at(self, location_id: str) -> Placement | None:
        """Return the placement that stands for a point, None where nothing was placed."""
        standing = self.evaluation.standing.get(location_id)
        return standing.placement if standing else None

    def in_order(self, items: Iterable[tuple[str, T]]) -> list[tuple[str, T]]:
        """Return (point, what is there) pairs in the order of the points in locations.csv."""
        at = {row.location_id: number for number, row in enumerate(self.locations)}
        return sorted(items, key=lambda item: at.get(item[0], len(at)))

    def when(self, utc_min: float) -> str:
        """Write a moment as local time in the project's zone, with the zone's letters."""
        return _when(utc_min, self.survey.time_zone)

    def told_at(self, utc_min: float | None) -> str:
        """Write a moment for a sentence or a fact, ``23 October 2025, 08:11``; a dash where none is recorded."""
        known = utc_min is not None and not isnan(utc_min) and utc_min >= 0
        return moment_text(utc_min, self.survey.time_zone) if known and utc_min is not None else "–"

    def moment(self, utc_min: float | None) -> str:
        """Write a moment as ``when`` does, a dash where none is recorded."""
        return "–" if utc_min is None or isnan(utc_min) or utc_min < 0 else self.when(utc_min)

    def local_midnight(self, day: str) -> int | None:
        """Return the UTC minute of a local midnight, None where clocks skipped it."""
        return read_time(f"{day}T00:00", self.survey.time_zone).utc_min

    def path(self, table: str) -> str:
        """Return the path of a table's file."""
        return self.survey.tables[table].called

    @property
    def crs(self) -> str:
        """The CRS that positions are printed in."""
        return map_crs(self.survey)

    @property
    def crs_name(self) -> str:
        """The CRS with its name, such as ``EPSG:32614 (WGS 84 / UTM zone 14N)``."""
        found = crs(self.crs)
        return f"{self.crs} ({found.name})" if found else self.crs

    @property
    def class_labels(self) -> tuple[str, ...]:
        """The mass classes of the legends: up to the survey's highest, the same on every map."""
        values = self.evaluation.primary["value"].dropna()
        return class_labels(size_class(float(values.max())) if len(values) else 0)

    def may_show(self, photo: Photo) -> bool:
        """Tell whether a photograph is there to be shown; those not cleared are not listed here."""
        return photo.file in self.survey.folder.files

    @staticmethod
    def days_text(minutes: float) -> str:
        """Write minutes as days with one decimal, the unit left to the sentence."""
        return f"{minutes_to_days(minutes):.1f}"

    def name(self, analyte_id: str) -> str:
        """Return a compound's printed name."""
        compound = self.compounds.get(analyte_id)
        return compound.name if compound else analyte_id

    def about(self, *subjects: str) -> tuple[Finding, ...]:
        """Return the findings about any of the ids, or touching them as samplers."""
        wanted, here = set(subjects), ("", self.campaign.id)
        return tuple(
            f
            for f in self.findings
            if f.round in here and (f.about in wanted or any(touch.sampler_id in wanted for touch in f.touches))
        )


def context_of(survey: Survey, rounds: tuple[Part, ...], findings: tuple[Finding, ...]) -> Context:
    """Return what the last of some rounds is written from, with what the rounds before it are."""
    made: tuple[Context, ...] = ()
    whole = survey if len(rounds) > 1 or len(campaigns(survey.settings)) > 1 else None
    for part in rounds:
        made = (*made, Context(part.survey, part.evaluation, findings, part.campaign, made, whole))
    return made[-1]


@lru_cache(maxsize=1 << 14)
def _when(utc_min: float, zone_name: str) -> str:
    return f"{local_text(utc_min, zone_name)} {zone_letters(utc_min, zone_name)}"


def location_ref(location_id: str) -> Ref:
    """Return the pointer to a location's page."""
    return Ref("location", location_id)


def row_ref(table: str, row: int) -> Ref:
    """Return the pointer to a row of one of our own files, as received."""
    return Ref("source", f"file-{table}", f"row-{row}")


def _proposed(evaluation: Evaluation) -> dict[tuple[str, str], tuple[str, ...]]:
    found: dict[tuple[str, str], dict[str, None]] = {}
    for one in evaluation.proposed:
        text = proposal_text(one.qualifier, reject=one.reject)
        found.setdefault((one.lab_sample_id, one.analyte_id), {})[text] = None
    return {key: tuple(qualifiers) for key, qualifiers in found.items()}


def _findings_of(
    findings: Iterable[Finding], events: Mapping[str, tuple[str, str]], campaign: Campaign
) -> dict[tuple[str, str], tuple[int, ...]]:
    found: dict[tuple[str, str], dict[int, None]] = {}
    for at, finding in enumerate(findings):
        if finding.round not in ("", campaign.id):
            continue
        for thing in (about(finding, events), *(("sampler", touch.sampler_id) for touch in finding.touches)):
            found.setdefault(thing, {})[at] = None
    return {thing: tuple(places) for thing, places in found.items()}


def about(finding: Finding, events: Mapping[str, tuple[str, str]]) -> tuple[str, str]:
    """Return the kind and id of what a finding is about; of a custody event, of what the event is about."""
    name = finding.about.partition("+")[0]
    return events.get(name, ("event", name)) if finding.subject_kind == "event" else (finding.subject_kind, name)


def found_at(finding: Finding) -> tuple[str, int, str] | None:
    """Return the file, row and column of what was found; None where it is in no row: the table's files stand."""
    where = finding.where
    return (where.file, where.row, where.column or "") if where.row else None


def _grouped(placements: Iterable[Placement]) -> dict[str, tuple[Placement, ...]]:
    return {name: tuple(items) for name, items in _by(placements, lambda one: one.location_id).items()}


def _by(items: Iterable[T], key: Callable[[T], str]) -> dict[str, list[T]]:
    found: dict[str, list[T]] = {}
    for item in items:
        found.setdefault(key(item), []).append(item)
    return found
