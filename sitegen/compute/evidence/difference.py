"""What changed from one revision to the next: by key, never by row number.

Tables are compared as typed values, so that another order of rows, other line ends,
``10`` for ``10.0`` or another column beside the format are no changes, nor is how a file is
declared to be written (``[files]``). What the review itself writes (``review/``) and what every new
revision changes (its number, date, status) are left out; findings that opened or closed follow
from the changes and stand apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import compress
from typing import NamedTuple

import pandas as pd

from sitegen.compute.evaluate import Evaluation
from sitegen.compute.evidence.effects import NEW_TOKENS, NO_EFFECTS, Effects, effects
from sitegen.compute.evidence.overlap import NO_OVERLAP, Overlap, overlap
from sitegen.compute.evidence.revised import Reissue, Revised, former_issues, reissues, revised_results
from sitegen.compute.evidence.revision import KINDS, VALUE_KINDS, Change, Revision, plain
from sitegen.compute.evidence.statements import Changed, Statement, statements
from sitegen.compute.place.points import Point
from sitegen.compute.text.changed_words import word_changes
from sitegen.compute.text.tokens import tokens
from sitegen.findings.problems import Finding, Severity
from sitegen.project.schema import SETTINGS_FILE, SOIL_MEDIA, TableSpec, text_file
from sitegen.project.survey import Survey, rows
from sitegen.project.tables import ROW_TYPE, TABLE, Location, Result

__all__ = ["KINDS", "VALUE_KINDS", "Change", "Difference", "Revision", "difference", "plain", "without_changes"]

NEW_IN_EVERY_REVISION = ("project.revision", "project.status", "project.report_date", "project.previous")
_AS_WRITTEN = "files."
_POSITION = ("easting", "northing")
_ASPECTS = {
    "unit": ("unit",),
    "qualifier": ("lab_qualifier", "validation_qualifier", "validation_reason"),
    "limit": ("rl", "mdl", "calibration_top"),
}


@dataclass(frozen=True)
class Difference:
    """Every change, the findings that opened and closed, the tools and digests.

    ``changed_tokens`` names the tokens whose text differs. ``results`` are the results that changed, each
    whole; ``effects`` what the changes affect; ``statements`` the sentences that claim something, beside both
    revisions; ``reissues`` the laboratory's files that replace a former issue, by file; ``names`` the compounds.
    """

    changes: tuple[Change, ...]
    opened: tuple[Finding, ...]
    closed: tuple[Finding, ...]
    tools: tuple[str, str]
    digests: tuple[str, str]
    revisions: tuple[int, int]
    changed_tokens: frozenset[str]
    results: tuple[Revised, ...] = ()
    effects: Effects = NO_EFFECTS
    statements: tuple[Statement, ...] = ()
    overlap: Overlap = NO_OVERLAP
    reissues: Mapping[str, Reissue] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def values(self) -> tuple[Change, ...]:
        """The changes of results: value, detection, qualifier, unit, limit."""
        return tuple(change for change in self.changes if change.kind in VALUE_KINDS)

    @property
    def in_summary(self) -> int:
        """How many of the changed results are printed in the summary."""
        return sum(change.in_summary for change in self.values)

    @cached_property
    def points(self) -> tuple[str, ...]:
        """The points that a change is about, in order of name."""
        return tuple(sorted({change.location_id for change in self.changes if change.location_id}))


def without_changes(old: Revision, new: Revision) -> Difference:
    """Return what two folders are and have in common, and nothing of what differs."""
    return Difference(
        (),
        (),
        (),
        (old.tool, new.tool),
        (old.survey.digest, new.survey.digest),
        (old.survey.settings.project.revision, new.survey.settings.project.revision),
        frozenset(),
        overlap=overlap(old, new),
    )


def difference(old: Revision, new: Revision) -> Difference:
    """Compare two revisions of a project."""
    changes = (
        *_tables(old, new),
        *_texts(old.survey, new.survey),
        *_settings(old.survey, new.survey),
        *_features(old.survey, new.survey),
        *_files(old.survey, new.survey),
    )
    told = tuple(sorted(changes, key=lambda change: (KINDS.index(change.kind), change.key, change.column)))
    texts = tokens(old.survey, old.evaluation), tokens(new.survey, new.evaluation)
    changed_tokens = frozenset(name for name, text in texts[1].items() if texts[0].get(name) != text)
    results = revised_results(old, new, told)
    return replace(
        without_changes(old, new),
        changes=told,
        opened=_only_in_first(new.findings, old.findings),
        closed=_only_in_first(old.findings, new.findings),
        changed_tokens=changed_tokens,
        results=results,
        effects=effects(old, new, told, results, texts),
        statements=statements(old, new, _named(new, told, results, changed_tokens), texts),
        reissues=reissues(new.survey, results),
        names={c.analyte_id: c.name for one in (old, new) for c in one.evaluation.compounds},
    )


def _named(new: Revision, changes: Iterable[Change], results: Iterable[Revised], texts: frozenset[str]) -> Changed:
    """Return what changed as sentences name it; a group with any of its compounds."""
    compounds = {one.key[1] for one in results}
    groups = {c.group for c in new.evaluation.compounds if c.analyte_id in compounds}
    points = {change.location_id for change in changes if change.location_id}
    return Changed(texts.difference(NEW_TOKENS), compounds, groups, points)


def _only_in_first(findings: Iterable[Finding], other: Iterable[Finding]) -> tuple[Finding, ...]:
    known = {finding.key for finding in other}
    return tuple(f for f in findings if f.key not in known and f.severity is not Severity.NOTE)


# --- tables ----------------------------------------------------------------------------------


def _tables(old: Revision, new: Revision) -> Iterator[Change]:
    naming = _Naming(old, new)
    for spec in TABLE.values():
        if spec.path.startswith("review/"):
            continue
        before, after = _by_key(old.survey, spec), _by_key(new.survey, spec)
        only_after = after.loc[after.index.difference(before.index, sort=False)]
        for key, row in _rows(spec, only_after):
            yield naming.change("added", spec, key, new=_row_words(spec, row))
        only_before = before.loc[before.index.difference(after.index, sort=False)]
        for key, row in _rows(spec, only_before):
            yield naming.change("removed", spec, key, old=_row_words(spec, row))
        common = before.index.intersection(after.index, sort=False)
        yield from _cells(naming, spec, before.loc[common], after.loc[common])


def _by_key(survey: Survey, spec: TableSpec) -> pd.DataFrame:
    """Return a table by its key; without a key, by all columns of the format."""
    frame = survey.frame(spec.name)
    parts = [frame[column].map(plain) for column in spec.key or spec.column_names]
    index = pd.Index(["+".join(cells) for cells in zip(*parts, strict=True)], dtype=object)
    frame = frame.set_axis(index, axis=0)
    return frame[~frame.index.duplicated()]


def _rows(spec: TableSpec, frame: pd.DataFrame) -> Iterator[tuple[str, NamedTuple]]:
    return zip(frame.index, rows(frame, ROW_TYPE[spec.name]), strict=True)


def _cells(naming: _Naming, spec: TableSpec, before: pd.DataFrame, after: pd.DataFrame) -> Iterator[Change]:
    """Yield the changes of the rows that both revisions have, whose keys are the same in the same order."""
    names = list(spec.column_names)
    touched = (before[names] != after[names]) & ~(before[names].isna() & after[names].isna())
    some = touched.any(axis=1)
    pairs = zip(_rows(spec, before[some]), _rows(spec, after[some]), touched[some].to_numpy(), strict=True)
    for (key, old), (_, new), differs in pairs:
        columns = list(compress(names, differs))
        if isinstance(old, Result) and isinstance(new, Result):
            yield from _result(naming, key, columns, old, new)
            continue
        if isinstance(old, Location) and isinstance(new, Location) and set(columns) & set(_POSITION):
            yield naming.move(key, old, new)
            columns = [column for column in columns if column not in _POSITION]
        for column in columns:
            was, now = (plain(getattr(row, column)) for row in (old, new))
            yield naming.change("cell", spec, key, column=column, old=was, new=now)


def _result(naming: _Naming, key: str, columns: list[str], old: Result, new: Result) -> Iterator[Change]:
    """Yield the changes of one result: a change of detection takes value and qualifier along."""
    was, now = _is_detected(old), _is_detected(new)
    if was != now:
        yield naming.result("detection", key, "detected", old, new)
    elif {"value", "result_text"} & set(columns):
        same = plain(old.value) == plain(new.value)
        yield naming.result("cell" if same else "value", key, "result_text", old, new)
    for kind, names in _ASPECTS.items():
        for column in names:
            implied = was != now and column == "lab_qualifier" and (old if now else new).lab_qualifier in ("", "U")
            if column in columns and not implied:
                texts = plain(getattr(old, column)), plain(getattr(new, column))
                yield naming.result(kind, key, column, old, new, texts)


def _is_detected(row: Result) -> bool:
    return row.detected == "yes" or (row.detected == "" and not math.isnan(row.value))


class _Naming:
    """Says what a key is about: its point, its compound, whether the summary prints it."""

    def __init__(self, old: Revision, new: Revision) -> None:
        stores = [revision.evaluation.store for revision in (old, new)]
        self._sampled = {
            sample: place
            for store in stores
            for sample, place in zip(store["lab_sample_id"], store["location_id"], strict=True)
        }
        self._files = {name: table.file for name, table in new.survey.tables.items()}
        self._names = {c.analyte_id: c.name for r in (old, new) for c in r.evaluation.compounds}
        self._points = [{p.location_id: p for p in r.evaluation.points} for r in (old, new)]
        self._ends = [_ends(revision.evaluation) for revision in (old, new)]
        self._places = {p.sampler_id: p.location_id for r in (old, new) for p in r.evaluation.placements}

    def change(self, kind: str, spec: TableSpec, key: str, *, column: str = "", old: str = "", new: str = "") -> Change:
        """Make the change of a row or a cell."""
        subject, point = self._about(spec.name, key)
        return Change(kind, f"{spec.name}:{key}", self._files[spec.name], subject, column, old, new, location_id=point)

    def move(self, key: str, old: Location, new: Location) -> Change:
        """Make the change of a point's position, in m on the map grid."""
        before, after = (points.get(key) for points in self._points)
        was, now = (f"{plain(row.easting)}, {plain(row.northing)}" for row in (old, new))
        return Change(
            "moved", f"locations:{key}", self._files["locations"], key, "easting, northing", was, now,
            moved_m=_distance(before, after), location_id=key,
        )  # fmt: skip

    def result(
        self,
        kind: str,
        key: str,
        column: str,
        old: Result,
        new: Result,
        texts: tuple[str, str] | None = None,
    ) -> Change:
        """Make the change of a result."""
        subject, point = self._about("results", key)
        was, now = texts or (old.result_text, new.result_text)
        numbers = old.value, new.value
        both = all(number and not math.isnan(number) for number in numbers)
        ends = any((point, old.analyte_id, number) in ends for number, ends in zip(numbers, self._ends, strict=True))
        return Change(
            kind,
            f"results:{key}",
            self._files["results"],
            subject,
            column,
            was,
            now,
            factor=numbers[1] / numbers[0] if kind == "value" and both else None,
            location_id=point,
            in_summary=ends,
        )

    def _about(self, table: str, key: str) -> tuple[str, str]:
        """Return what a key is about in words, and its point."""
        if table == "results":
            sample, _, analyte = key.rpartition("+")
            point = self._sampled.get(sample, "")
            name = self._names.get(analyte, analyte)
            return f"{point or sample}, {name}", point
        if table == "locations":
            return key, key
        return key, self._places.get(key, "") if table in ("samplers", "deployments") else ""


def _ends(evaluation: Evaluation) -> frozenset[tuple[str, str, float]]:
    """Return the lowest and highest detections of the mapped compounds in soil, as (point, compound, value)."""
    mapped = {c.analyte_id for c in evaluation.compounds if c.mapped}
    rows = evaluation.primary
    rows = rows[rows["detected"] & rows["medium"].isin(SOIL_MEDIA) & rows["analyte_id"].isin(mapped)]
    by = rows.groupby("analyte_id")["value"]
    ends = rows[(rows["value"] == by.transform("min")) | (rows["value"] == by.transform("max"))]
    return frozenset(zip(ends["location_id"], ends["analyte_id"], ends["value"], strict=True))


def _distance(before: Point | None, after: Point | None) -> float | None:
    if before is None or after is None:
        return None
    return math.hypot(after.x - before.x, after.y - before.y)


def _row_words(spec: TableSpec, row: NamedTuple) -> str:
    return "; ".join(f"{name} {text}" for name in spec.column_names if (text := plain(getattr(row, name))))


# --- everything else -------------------------------------------------------------------------


def _texts(old: Survey, new: Survey) -> Iterator[Change]:
    for name in sorted(old.texts.keys() | new.texts.keys()):
        words = word_changes(old.texts.get(name, ""), new.texts.get(name, ""))
        if words:
            gone = " … ".join(text for what, text in words if what == "removed")
            come = " … ".join(text for what, text in words if what == "added")
            yield Change("text", f"text:{name}", text_file(name), name, "", gone, come, words=words)


def _settings(old: Survey, new: Survey) -> Iterator[Change]:
    before, after = (dict(_flatten(survey.settings.model_dump(mode="json"), "")) for survey in (old, new))
    for key in sorted(before.keys() | after.keys()):
        texts = before.get(key, ""), after.get(key, "")
        if texts[0] != texts[1] and key not in NEW_IN_EVERY_REVISION and not key.startswith(_AS_WRITTEN):
            yield Change("setting", f"setting:{key}", SETTINGS_FILE, key, "", *texts)


def _flatten(value: object, key: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _flatten(inner, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list) and any(isinstance(inner, dict) for inner in value):
        for number, inner in enumerate(value, start=1):
            yield from _flatten(inner, f"{key}.{number}")
    elif isinstance(value, list):
        yield key, "; ".join(map(str, value))
    elif value is not None:
        yield key, plain(value)


def _features(old: Survey, new: Survey) -> Iterator[Change]:
    before, after = (_by_name(survey) for survey in (old, new))
    for key in sorted(before.keys() | after.keys()):
        (was, file), (now, new_file) = before.get(key, ("", "")), after.get(key, ("", ""))
        if was != now:
            kind = "feature" if was and now else "added" if now else "removed"
            yield Change(kind, f"feature:{key}", new_file or file, key, "", was, now)


def _by_name(survey: Survey) -> dict[str, tuple[str, str]]:
    """Return each feature's geometry and properties as text, and its file, by kind, name and occurrence."""
    texts: dict[str, tuple[str, str]] = {}
    for feature in survey.features:
        name = f"{feature.kind} {feature.name}".strip()
        count = sum(known == name or known.startswith(f"{name} #") for known in texts)
        properties = "; ".join(f"{k} {plain(v)}" for k, v in sorted(feature.properties.items()) if v is not None)
        said = f"{feature.geometry.wkt}; {properties}"
        texts[f"{name} #{count + 1}" if count else name] = said, feature.where.file
    return texts


def _files(old: Survey, new: Survey) -> Iterator[Change]:
    """Yield the scans and photographs that changed: their content is not read, but is part of the record.

    A former issue of the laboratory that was only moved to records/ is none: what replaces it tells the change.
    """
    known = {file.sha256 for file in old.folder.files.values()}
    moved = {former for former in former_issues(new).values() if new.folder.sha256(former) in known}
    before, after = (
        {path: file.sha256 for path, file in survey.folder.files.items() if path.startswith(("records/", "photos/"))}
        for survey in (old, new)
    )
    for path in sorted(before.keys() | after.keys()):
        was, now = before.get(path, ""), after.get(path, "")
        if was != now and not (path in moved and not was):
            kind = "file" if was and now else "added" if now else "removed"
            yield Change(kind, f"file:{path}", path, path, "", was[:16], now[:16])
