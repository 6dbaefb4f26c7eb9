"""Claims of the narrative beside the record: the value and rank of each pair that a sentence names.

A claim of *highest*, *higher*, *detected* or *not detected* agrees with the record, differs
from it, or stays open; a pair that is only named together claims nothing. Ranks are among the
detections of a compound at points of one medium: soil gas with sub-slab, indoor air, outdoor air.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import pandas as pd

from sitegen.compute.evaluate import NO_GROUP, Evaluation
from sitegen.compute.results.groupsums import GroupSum, group_sums
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.compute.text.claimtext import Read, Reading, Vocabulary, read, vocabulary
from sitegen.compute.text.claimwords import composed
from sitegen.compute.text.othernames import compound_names, group_names, medium_names
from sitegen.compute.text.sentences import any_of, numbered_lines
from sitegen.compute.text.tokens import BY_COMPOUND, TOKEN
from sitegen.project.schema import AIR_MEDIA, SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte, Location

CLAIMING = ("conclusions", "summary", "interpretation", "recommendations")
"""Sections whose sentences are read as claims, in the order in which a reviewer asks."""

CONCLUDING = ("summary", "conclusions")
"""Sections in which a survey is concluded upon."""

OTHER_GROUPS: Mapping[str, tuple[str, ...]] = {
    "chlorinated_other": ("other chlorinated compounds",),
    "pah": ("polycyclic aromatics", "polycyclic aromatic hydrocarbons", "PAHs"),
    "other": ("other compounds",),
}
"""Groups of compounds that sentences name otherwise than the folder does."""

Verdict = Literal["agrees", "differs", "open", "no result", "named"]


@dataclass(frozen=True, slots=True)
class Claim:
    """A sentence: section, line, text as written, its tokens, and what was read from it."""

    section: str
    line: int
    text: str
    tokens: tuple[str, ...]
    read: Read

    @property
    def compounds(self) -> tuple[str, ...]:
        """The compounds that it names, by name or by a token of theirs."""
        parts = (name.partition(".") for name in self.tokens)
        by_token = (name for kind, _, name in parts if kind in BY_COMPOUND)
        return tuple(dict.fromkeys((*self.read.compounds, *by_token)))


@dataclass(frozen=True, slots=True)
class Measured:
    """What the record has of a compound or a group at a point.

    ``row`` is the result of a compound, None for a group. ``mass`` is None for a non-detect;
    ``limit`` is then its limit of detection. ``rank`` is among ``detections`` at
    points of the medium, None for a non-detect.
    """

    row: StoredResult | None
    mass: float | None
    limit: float
    rank: int | None
    detections: int
    highest_at: str


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading beside the record: what is there, what the other side of a comparison has, and the verdict."""

    reading: Reading
    found: Measured | None
    other: Measured | None
    verdict: Verdict


def claims(survey: Survey) -> tuple[Claim, ...]:
    """Return every sentence of the sections that claim something."""
    known = names(survey)
    return tuple(
        Claim(section, line, text, tuple(dict.fromkeys(m["name"] for m in TOKEN.finditer(text))), read(text, known))
        for section in CLAIMING
        for line, text in numbered_lines(survey.texts.get(section, ""))
    )


def names(survey: Survey) -> Vocabulary:
    """Return the names of compounds, groups and points that a sentence may hold."""
    rows = survey.rows(Analyte)
    compounds = {
        row.analyte_id: (row.name, *row.synonyms.split(";"), *compound_names(row.cas, row.analyte_id)) for row in rows
    }
    groups = {row.group or NO_GROUP: _group_names(row.group or NO_GROUP) for row in rows}
    return vocabulary(compounds, groups, [row.location_id for row in survey.rows(Location)])


def _group_names(group: str) -> tuple[str, ...]:
    own = () if group in ("other", NO_GROUP) else (group.replace("_", " "),)
    return (*own, *OTHER_GROUPS.get(group, ()), *group_names(group))


@dataclass(frozen=True)
class Record:
    """The results of a survey as claims are judged by."""

    evaluation: Evaluation

    @cached_property
    def _by_compound(self) -> Mapping[str, pd.DataFrame]:
        """Every reported result at a point that is not rejected, by compound."""
        store = self.evaluation.store
        kept = store["reportable"] & (store["type"] == "sample") & ~store["rejected"]
        return {str(name): part for name, part in store[kept].groupby("analyte_id", sort=False)}

    @cached_property
    def _primary(self) -> Mapping[str, pd.DataFrame]:
        """The results that stand for points, by compound."""
        primary = self.evaluation.primary
        kept = primary[~primary["rejected"]]
        return {str(name): part for name, part in kept.groupby("analyte_id", sort=False)}

    @cached_property
    def _media(self) -> Mapping[str, str]:
        """The medium of each point, soil gas with sub-slab as one."""
        rows = self.evaluation.survey.rows(Location)
        return {row.location_id: "soil" if row.medium in SOIL_MEDIA else row.medium for row in rows}

    @cached_property
    def _sums(self) -> Mapping[str, Mapping[str, GroupSum]]:
        return group_sums(self.evaluation.primary, {c.analyte_id: c.group for c in self.evaluation.compounds})

    def _masses(self, kind: str, what: str) -> Mapping[str, float | None]:
        """Return the mass of a compound or group at each point, None for a non-detect."""
        if kind == "group":
            return {point: total.mass_ng for point, total in self._sums.get(what, {}).items()}
        if what not in self._primary:
            return {}
        columns = (self._primary[what][name].tolist() for name in ("location_id", "detected", "value"))
        return {point: value if detected else None for point, detected, value in zip(*columns, strict=True)}

    def result_at(self, kind: str, what: str, point: str) -> Measured | None:
        """Return what the record has of a compound or group at a point, None without a usable result."""
        medium = self._media.get(point)
        masses = {p: mass for p, mass in self._masses(kind, what).items() if self._media.get(p) == medium}
        if point not in masses:
            return None
        mass = masses[point]
        hits = {place: value for place, value in masses.items() if value is not None}
        rank = None if mass is None else 1 + sum(value > mass for value in hits.values())
        top = max(hits.values(), default=None)
        best = ", ".join(place for place, value in hits.items() if value == top)
        row = self._row(what, point) if kind == "compound" else None
        return Measured(row, mass, row.lod if row else 0.0, rank, len(hits), best)

    def _row(self, analyte_id: str, point: str) -> StoredResult:
        rows = self._primary[analyte_id]
        return stored_results(rows[rows["location_id"] == point])[0]

    def detected(self, kind: str, what: str, point: str) -> bool:
        """Tell whether any sampler at a point, a duplicate included, has a detection of a compound or group."""
        wanted = [what] if kind == "compound" else [c.analyte_id for c in self.evaluation.compounds if c.group == what]
        parts = [self._by_compound[name] for name in wanted if name in self._by_compound]
        return any(bool(part.loc[part["location_id"] == point, "detected"].any()) for part in parts)

    def judge(self, claim: Claim) -> Iterator[Judged]:
        """Yield each reading of a sentence beside the record."""
        for reading in claim.read.readings:
            here = self.result_at(reading.kind, reading.what, reading.point)
            other = self._other(reading)
            yield Judged(reading, here, other, self._verdict(reading, here, other))

    def _other(self, reading: Reading) -> Measured | None:
        if reading.other is None:
            return None
        kind, name = reading.other
        if kind == "point":
            return self.result_at(reading.kind, reading.what, name)
        return self.result_at(kind, name, reading.point)

    def _verdict(self, reading: Reading, here: Measured | None, other: Measured | None) -> Verdict:
        if reading.relation in ("named", "unread"):
            return "named" if reading.relation == "named" else "open"
        if here is None or (reading.other is not None and other is None):
            return "no result"
        if reading.relation == "highest":
            return _highest(reading, here)
        if reading.relation == "higher" and other is not None:
            return _higher(here, other)
        seen = self.detected(reading.kind, reading.what, reading.point)
        return "agrees" if seen == (reading.relation == "detected") else "differs"


def _highest(reading: Reading, here: Measured) -> Verdict:
    if here.rank is not None and here.rank <= reading.of:
        return "agrees"
    return "open" if reading.limited else "differs"


def _higher(here: Measured, other: Measured) -> Verdict:
    """Compare two masses; a non-detect is below a detection at or above its limit, and else unordered."""
    if here.mass is not None and other.mass is not None:
        return "agrees" if here.mass > other.mass else "differs"
    if here.mass is not None:
        return "agrees" if here.mass >= other.limit else "open"
    if other.mass is not None:
        return "differs" if other.mass >= here.limit else "open"
    return "open"


@dataclass(frozen=True, slots=True)
class Above:
    """A result above a screening level: point, compound and its group, medium."""

    point: str
    analyte_id: str
    group: str
    medium: str


def concludes(above: Above, sentences: Sequence[Claim]) -> bool:
    """Tell whether a sentence of the summary or the conclusions names a result above a level.

    It does where it names the compound, or its group, together with the point or the medium
    ("indoor air", or "air" alone).
    """
    medium = _medium(above.medium, "air")
    return any(
        (above.analyte_id in claim.compounds or above.group in claim.read.groups)
        and (above.point in claim.read.points or medium.search(composed(TOKEN.sub(" ", claim.text))))
        for claim in sentences
        if claim.section in CONCLUDING
    )


def silent_sections(above: Above, building: str, sentences: Sequence[Claim]) -> tuple[str, ...]:
    """Return those of summary and conclusions in which no sentence names a compound with its point or its building.

    Only the sections that have a sentence count. A building is named together with the medium, as vapour below it is
    another thing; a point in no ``building`` ("") may be named by its medium alone.
    """
    medium = _medium(above.medium, "air", "indoors")
    place = _whole_words([building]) if building else medium

    def names_it(claim: Claim) -> bool:
        text = composed(TOKEN.sub(" ", claim.text))
        return above.point in claim.read.points or bool(place.search(text) and medium.search(text))

    named = {claim.section for claim in sentences if above.analyte_id in claim.compounds and names_it(claim)}
    written = {claim.section for claim in sentences}
    return tuple(section for section in CONCLUDING if section in written - named)


def _medium(medium: str, *of_air: str) -> re.Pattern[str]:
    """Return what finds a medium by its name, and air by these words as well, or as another language has them."""
    words = [medium.replace("_", " "), *medium_names(medium)]
    for word in of_air if medium in AIR_MEDIA else ():
        words += [word, *medium_names(word)]
    return _whole_words(words)


def _whole_words(words: list[str]) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-])(?:{any_of(words)})(?![\w-])", re.IGNORECASE)
