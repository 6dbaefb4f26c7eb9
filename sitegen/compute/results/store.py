"""The store: every laboratory result joined to its sampler, bag and point.

Every number that the report prints comes from here. A non-detect has no number: its
``value`` is NaN, ``detected`` is False, and its limits stand in ``rl`` and ``mdl``.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd

from sitegen.compute.field.exposure import FIELD_BLANK, Placement
from sitegen.compute.field.standing import Standing
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey, rows
from sitegen.project.tables import ReturnBag, Sampler

NONDETECT_QUALIFIERS = ("U", "UJ")
REJECTED = "R"


class StoredResult(NamedTuple):
    """One result of the store: its row of the laboratory, its sample, its sampler and its point.

    A row of the store as a record; the columns are those of :func:`result_store`.
    """

    lab_sample_id: str
    analyte_id: str
    result_text: str
    value: float
    unit: str
    rl: float
    mdl: float
    lab_qualifier: str
    validation_qualifier: str
    validation_reason: str
    detected: bool
    calibration_top: float
    sampler_id: str
    type: str
    batch_id: str
    analysed_at_utc: float
    dilution: float
    reportable: bool
    location_id: str
    medium: str
    surface: str
    kind: str
    bag_id: str
    label: str
    sampler_type: str
    role: str
    stands: bool
    rejected: bool
    by_person: bool
    lod: float
    origin: Origin

    @property
    def key(self) -> tuple[str, str]:
        """Laboratory sample and compound, which no other result shares."""
        return (self.lab_sample_id, self.analyte_id)


class _Known(NamedTuple):
    """What the store holds of a result's sampler."""

    location_id: str
    medium: str
    surface: str
    kind: str
    bag_id: str
    label: str
    sampler_type: str
    role: str
    stands: bool


def stored_results(frame: pd.DataFrame) -> list[StoredResult]:
    """Return the rows of a store, or of a part of it, as records."""
    return rows(frame, StoredResult)


def by_key(store: pd.DataFrame, wanted: Container[tuple[str, str]]) -> dict[tuple[str, str], StoredResult]:
    """Return the results of a store whose keys are wanted, by their keys."""
    keys = zip(store["lab_sample_id"], store["analyte_id"], strict=True)
    mask = np.fromiter((key in wanted for key in keys), dtype=bool, count=len(store))
    return {row.key: row for row in stored_results(store[mask])}


def result_store(survey: Survey, placed: Iterable[Placement], standing: Mapping[str, Standing]) -> pd.DataFrame:
    """Join results to their samples, samplers and points.

    One row per result, in file order. Columns of ``results.csv`` plus ``sampler_id``,
    ``type``, ``batch_id``, ``reportable``, ``analysed_at_utc``, ``location_id``,
    ``medium``, ``surface``, ``kind``, ``bag_id``, ``label``, ``sampler_type``, ``role`` (at
    its point; "" for a blank that was opened nowhere), ``stands`` (for its point),
    ``rejected``, ``by_person`` (a person's qualifier decided detection), and ``lod``, the
    limit of detection that ordering uses: the MDL, else the RL.
    """
    frame = survey.frame("results").drop(columns="detected").copy()
    frame["detected"] = stated_detection(survey.frame("results"))
    frame = _with_samples(frame, survey.frame("lab_samples"))
    frame = _with_placements(frame, survey, placed, standing)
    person = frame["validation_qualifier"]
    frame["rejected"] = person == REJECTED
    frame["by_person"] = person.isin(NONDETECT_QUALIFIERS) & frame["detected"]
    lifted = np.fmax(frame["value"].to_numpy(), frame["rl"].to_numpy())
    frame["rl"] = np.where(frame["by_person"], lifted, frame["rl"])
    frame["lod"] = np.where(frame["mdl"].isna() | frame["by_person"], frame["rl"], frame["mdl"])
    frame["detected"] &= ~frame["by_person"] & ~frame["rejected"]
    frame["value"] = frame["value"].where(frame["detected"])
    return frame


def stated_detection(results: pd.DataFrame) -> pd.Series[bool]:
    """Return what the laboratory says of detection; without its word, a value says yes."""
    stated = results["detected"]
    return (stated == "yes") | ((stated == "") & results["value"].notna())


def _with_samples(frame: pd.DataFrame, samples: pd.DataFrame) -> pd.DataFrame:
    wanted = samples[["lab_sample_id", "sampler_id", "type", "batch_id", "analysed_at_utc", "dilution", "reportable"]]
    joined = frame.merge(wanted.drop_duplicates("lab_sample_id"), on="lab_sample_id", how="left")
    joined["reportable"] = joined["reportable"] != "no"
    return joined


def _with_placements(
    frame: pd.DataFrame, survey: Survey, placed: Iterable[Placement], standing: Mapping[str, Standing]
) -> pd.DataFrame:
    stands = {one.placement.sampler_id for one in standing.values()}
    known = {row.sampler_id: _of_roster(row) for row in survey.rows(Sampler)}
    known |= {p.sampler_id: _of_placement(p, stands=p.sampler_id in stands) for p in placed}
    for bag in survey.rows(ReturnBag):
        if bag.trip_blank_id in known:
            known[bag.trip_blank_id] = known[bag.trip_blank_id]._replace(bag_id=bag.bag_id)
    side = pd.DataFrame(known.values(), index=list(known), columns=list(_Known._fields), dtype=object)
    joined = frame.merge(side, left_on="sampler_id", right_index=True, how="left")
    texts = list(_Known._fields[:-1])
    joined[texts] = joined[texts].astype(object).fillna("")
    joined["stands"] = joined["stands"].eq(True)
    return joined


def _of_roster(row: Sampler) -> _Known:
    """Return what is known of a sampler that was placed nowhere."""
    return _Known("", "", "", row.kind, "", row.label or row.sampler_id, row.sampler_type, "", stands=False)


def _of_placement(p: Placement, *, stands: bool) -> _Known:
    """Return what is known of a sampler placed. A field blank samples no point: place and ground stay blank."""
    place = ("", "", "") if p.role == FIELD_BLANK else (p.location_id, p.medium, p.surface)
    return _Known(*place, p.kind, p.bag_id, p.label, p.sampler_type, p.role, stands)


def other_runs(store: pd.DataFrame) -> dict[tuple[str, str], list[StoredResult]]:
    """Return the results on file that are not reported, by sampler and compound, in file order."""
    runs: dict[tuple[str, str], list[StoredResult]] = {}
    for row in stored_results(store[~store["reportable"] & (store["sampler_id"] != "")]):
        runs.setdefault((row.sampler_id, row.analyte_id), []).append(row)
    return runs


def is_within(row: StoredResult) -> bool:
    """Tell whether a result is a detection at or below the top of its calibration; False where no top is given."""
    return row.detected and row.value <= row.calibration_top


def sample_results(store: pd.DataFrame) -> pd.DataFrame:
    """Return the reportable results of every sampler that sampled a point: no blanks or re-runs."""
    return store[store["reportable"] & (store["type"] == "sample") & (store["location_id"] != "")]


def primary(store: pd.DataFrame) -> pd.DataFrame:
    """Return the reportable results that stand for their points: no duplicates, no replaced samplers."""
    return store[store["reportable"] & (store["type"] == "sample") & store["stands"]]
