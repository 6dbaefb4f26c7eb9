"""What every page is written from: the survey, what was computed, and the findings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from math import isnan
from typing import TypeVar

from sitegen.compute.evaluate import Compound, Evaluation
from sitegen.compute.evidence.bases import Basis, bases
from sitegen.compute.field.exposure import FIELD_BLANK, Placement
from sitegen.compute.field.reconcile import Step, reconcile
from sitegen.compute.picture.contours import Pattern, Refused, patterns, planned_spacing_m
from sitegen.compute.place.points import Point, crs, map_crs
from sitegen.compute.results.groupsums import GroupSum, group_sums
from sitegen.compute.results.store import StoredResult, other_runs, stored
from sitegen.compute.statistics.classes import class_labels, size_class
from sitegen.findings.problems import Finding
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import CustodyEvent, Disposition, LabSample, Location, Photo
from sitegen.project.zones import local_text, read_time, zone_letters
from sitegen.report.record.pages import Figure, Mark, Ref, Table
from sitegen.report.write.publish import allowed
from sitegen.report.write.values import mark_words, proposal_text
from sitegen.units import minutes_to_days

T = TypeVar("T")


@dataclass(frozen=True)
class Context:
    """Lookups over a survey, made once."""

    survey: Survey
    evaluation: Evaluation
    findings: tuple[Finding, ...]
    tokens: Mapping[str, str]
    falls: Mapping[str, str]
    locations: tuple[Location, ...] = field(init=False)
    compounds: Mapping[str, Compound] = field(init=False)
    points: Mapping[str, Point] = field(init=False)
    placed: Mapping[str, Placement] = field(init=False)
    placed_at: Mapping[str, tuple[Placement, ...]] = field(init=False)
    opened_at: Mapping[str, tuple[Placement, ...]] = field(init=False)
    """The field blanks opened at each point."""
    results: tuple[StoredResult, ...] = field(init=False)
    """Every result on file, in file order; the lookups by point, compound, sampler and key have the reportable ones."""
    by_location: Mapping[str, list[StoredResult]] = field(init=False)
    by_compound: Mapping[str, list[StoredResult]] = field(init=False)
    by_sampler: Mapping[str, list[StoredResult]] = field(init=False)
    by_key: Mapping[tuple[str, str], StoredResult] = field(init=False)
    proposed: Mapping[tuple[str, str], tuple[str, ...]] = field(init=False)
    photos: Mapping[str, list[Photo]] = field(init=False)
    runs: Mapping[str, list[LabSample]] = field(init=False)
    other_runs: Mapping[tuple[str, str], list[StoredResult]] = field(init=False)
    group_sums: Mapping[str, Mapping[str, GroupSum]] = field(init=False)
    patterns: Mapping[str, Pattern | Refused] = field(init=False)
    reconciled: tuple[Step, ...] = field(init=False)
    dispositions: Mapping[str, Disposition] = field(init=False)
    custody_subjects: Mapping[str, tuple[str, str]] = field(init=False)
    """What each custody event is about: kind and id, by event."""
    findings_of: Mapping[tuple[str, str], tuple[int, ...]] = field(init=False)
    """Places in ``findings`` by what they are about, as kind and id; a sampler's are those that touch it too."""
    maps: dict[tuple[str, str], Figure] = field(init=False)
    """Maps drawn so far, by compound (small ones: sheet) and placing: site and print show the same drawing."""
    tables: dict[str, Table] = field(init=False)
    """Tables of results made so far, by point: its page and its sheet in print show the same."""
    chains: dict[str, Figure | None] = field(init=False)
    """Custody drawn so far by sampler: its own page and its location's show the same drawing."""

    def __post_init__(self) -> None:
        """Fill the lookups."""
        put = object.__setattr__
        ev = self.evaluation
        put(self, "locations", self.survey.rows(Location))
        put(self, "compounds", {compound.analyte_id: compound for compound in ev.compounds})
        put(self, "points", {point.location_id: point for point in ev.points})
        put(self, "placed", {p.sampler_id: p for p in ev.deployed})
        put(self, "placed_at", _grouped(ev.placements))
        put(self, "opened_at", _grouped(p for p in ev.deployed if p.role == FIELD_BLANK))
        order = {compound.analyte_id: at for at, compound in enumerate(ev.compounds)}
        put(self, "results", tuple(stored(ev.store)))
        reportable = [row for row in self.results if row.reportable]
        first = stored(ev.primary)
        put(self, "by_location", _in_order(_by(first, lambda row: row.location_id), order))
        put(self, "by_compound", _by(first, lambda row: row.analyte_id))
        put(self, "by_sampler", _in_order(_by(reportable, lambda row: row.sampler_id), order))
        put(self, "by_key", {row.key: row for row in reportable})
        put(self, "proposed", _proposed(ev))
        put(self, "runs", _by(self.survey.rows(LabSample), lambda row: row.sampler_id))
        put(self, "other_runs", other_runs(ev.store))
        put(self, "photos", _by(self.survey.rows(Photo), lambda row: row.location_id))
        put(self, "group_sums", group_sums(ev.primary, {c.analyte_id: c.group for c in ev.compounds}))
        wanted = self.survey.settings.rules.contours
        put(self, "patterns", patterns(ev, planned_spacing_m(self.survey.settings)) if wanted else {})
        put(self, "reconciled", reconcile(self.survey, ev.deployed, ev.store))
        put(self, "maps", {})
        put(self, "tables", {})
        put(self, "chains", {})
        events = self.survey.rows(CustodyEvent)
        put(self, "custody_subjects", {row.event_id: (row.subject_kind, row.subject_id) for row in events})
        put(self, "findings_of", _findings_of(self.findings, self.custody_subjects))
        put(self, "dispositions", {row.finding_key: row for row in self.survey.rows(Disposition)})

    def state_of(self, row: Location) -> str:
        """Return what became of a point: its sampler's state, or planned or not_installed."""
        return self.evaluation.completeness.states[row.location_id]

    def detected_text(self, location_id: str) -> str:
        """Return ``n of m`` compounds detected at a point, a dash where nothing was analysed."""
        results = self.by_location.get(location_id, [])
        return f"{sum(row.detected for row in results)} of {len(results)}" if results else "–"

    @cached_property
    def bases(self) -> Mapping[str, Basis]:
        """What statements rest on, by name: counts of the whole record, whatever a copy leaves out."""
        return bases(self.evaluation.whole or self.evaluation)

    @cached_property
    def soil_points(self) -> int:
        """How many soil points have results on record."""
        first = self.evaluation.primary
        return int(first.loc[first["medium"].isin(SOIL_MEDIA), "location_id"].nunique())

    @property
    def unplaced(self) -> int:
        """How many points have no position on record."""
        return len(self.locations) - len(self.points)

    @property
    def display(self) -> str:
        """The limit that non-detects are shown at: ``rl`` or ``mdl``."""
        return self.survey.settings.rules.nondetect_display

    @property
    def for_team(self) -> bool:
        """Whether the report is for the project team: what to do and what is open before issue is theirs alone."""
        return "team_notes" in allowed(self.survey.settings.publish)

    def marks(self, row: StoredResult) -> tuple[Mark, ...]:
        """Return the marks of a result in words."""
        return mark_words(self.evaluation.marks.of(row.sampler_id, row.lab_sample_id, row.analyte_id))

    def ringed(self, row: StoredResult) -> tuple[Mark, ...]:
        """Return the marks that a map shows by a ring, in words."""
        return mark_words(self.evaluation.marks.ringed(row.sampler_id, row.lab_sample_id, row.analyte_id))

    def primary_at(self, location_id: str) -> Placement | None:
        """Return the placement that stands for a point, None where nothing was placed."""
        return self.evaluation.standing.get(location_id)

    def in_order(self, items: Iterable[tuple[str, T]]) -> list[tuple[str, T]]:
        """Return (point, what is there) pairs in the order of the points in locations.csv."""
        at = {row.location_id: number for number, row in enumerate(self.locations)}
        return sorted(items, key=lambda item: at.get(item[0], len(at)))

    def when(self, utc_min: float) -> str:
        """Write a moment as local time in the project's zone, with the zone's letters."""
        return _when(utc_min, self.survey.time_zone)

    def moment(self, utc_min: float | None) -> str:
        """Write a moment as ``when`` does, a dash where none is recorded."""
        return "–" if utc_min is None or isnan(utc_min) or utc_min < 0 else self.when(utc_min)

    def local_midnight(self, day: str) -> int | None:
        """Return the UTC minute of a local midnight, None where clocks skipped it."""
        return read_time(f"{day}T00:00", self.survey.time_zone).utc_min

    def path(self, table: str) -> str:
        """Return the path of a table's file."""
        return self.survey.tables[table].spec.path

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
        """The mass classes of the legends: the survey's highest and one more, the same on every map."""
        values = self.evaluation.primary["value"].dropna()
        return class_labels(size_class(float(values.max())) if len(values) else 0)

    def may_show(self, photo: Photo) -> bool:
        """Tell whether a photograph is there to be shown; those not cleared are not listed here."""
        return photo.file in self.survey.folder.files

    @staticmethod
    def days_text(minutes: float) -> str:
        """Write minutes as days with one decimal."""
        return f"{minutes_to_days(minutes):.1f}"

    def name(self, analyte_id: str) -> str:
        """Return a compound's printed name."""
        compound = self.compounds.get(analyte_id)
        return compound.name if compound else analyte_id

    def about(self, *subjects: str) -> tuple[Finding, ...]:
        """Return the findings about any of the ids, or touching them as samplers."""
        wanted = set(subjects)
        return tuple(
            f for f in self.findings if f.subject in wanted or any(touch.sampler_id in wanted for touch in f.touches)
        )


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
    findings: Iterable[Finding], events: Mapping[str, tuple[str, str]]
) -> dict[tuple[str, str], tuple[int, ...]]:
    found: dict[tuple[str, str], dict[int, None]] = {}
    for at, finding in enumerate(findings):
        for thing in (about(finding, events), *(("sampler", touch.sampler_id) for touch in finding.touches)):
            found.setdefault(thing, {})[at] = None
    return {thing: tuple(places) for thing, places in found.items()}


def about(finding: Finding, events: Mapping[str, tuple[str, str]]) -> tuple[str, str]:
    """Return the kind and id of what a finding is about; of a custody event, of what the event is about."""
    name = finding.subject.partition("+")[0]
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


def _in_order(groups: dict[str, list[StoredResult]], order: Mapping[str, int]) -> dict[str, list[StoredResult]]:
    """Return groups of results, those of each group in the order of the compounds."""
    last = len(order)
    return {name: sorted(group, key=lambda row: order.get(row.analyte_id, last)) for name, group in groups.items()}
