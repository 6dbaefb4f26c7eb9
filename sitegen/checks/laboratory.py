"""Laboratory: complete lists, re-runs, batches and their quality samples, accreditation, odd values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, Row, counted, first_rows, listed, setting_where, surplus
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.place import Point
from sitegen.compute.rounding import shown
from sitegen.problems import Finding, Touch, Where
from sitegen.project.survey import Survey, records
from sitegen.units import RESULT_UNITS

OUTLIER_MIN_DETECTIONS = 4
"""With fewer detections than this, a highest value is not compared with the next."""
NEIGHBOURS = 4
_ODD_COLUMNS = ["location_id", "medium", "sampler_id", "lab_sample_id", "analyte_id", "value", "unit", "_file", "_row"]
UNIT_SLIP_SPREAD = 2.0
"""A unit slip shows as about the ratio: from half of it upwards."""


def compounds_complete(survey: Survey) -> Iterator[Finding]:
    """A sample that has results has one for every listed compound."""
    table = survey.tables["lab_samples"]
    results = survey.frame("results")
    every = survey.frame("analytes")["analyte_id"].tolist()
    listed_rows = results[results["analyte_id"].isin(every)]
    counts = listed_rows.groupby("lab_sample_id")["analyte_id"].nunique()
    have = table.frame["lab_sample_id"].map(counts)
    bad = (have < len(every)) & (table.frame["reportable"] != "no")
    for at, row in first_rows(table, bad):
        there = set(results.loc[results["lab_sample_id"] == row["lab_sample_id"], "analyte_id"])
        absent = [name for name in every if name not in there]
        yield find(
            "compound-missing",
            row["lab_sample_id"],
            table.where(at),
            f"no result for {listed(absent)}",
            f"all {len(every)} compounds of lab/analytes.csv",
            kind="lab_sample",
        )
    yield from surplus("compound-missing", table, bad, "lab_sample_id")


def one_reportable(survey: Survey) -> Iterator[Finding]:
    """Of several runs of one sampler, exactly one is reported for each compound."""
    table = survey.tables["lab_samples"]
    frame = table.frame
    runs = frame[(frame["sampler_id"] != "") & frame.duplicated("sampler_id", keep=False)]
    results = survey.frame("results")
    results = results[results["lab_sample_id"].isin(runs["lab_sample_id"])]
    for sampler, group in runs.groupby("sampler_id", sort=True):
        kept = group[group["reportable"] != "no"]["lab_sample_id"]
        mine = results[results["lab_sample_id"].isin(kept)]
        twice = mine[mine.duplicated("analyte_id")]["analyte_id"].unique()
        where = table.where(group.index[-1], "reportable")
        wanted = "exactly one reportable result for each compound"
        if kept.empty:
            found = f"{counted(len(group), 'run')} of sampler {sampler}, none of them reportable"
            yield find("run-none-reportable", str(sampler), where, found, wanted, kind="sampler")
        elif len(twice):
            found = f"two reportable results of sampler {sampler} for {listed(twice)}"
            yield find("run-twice-reportable", str(sampler), where, found, wanted, kind="sampler")


def batches(survey: Survey) -> Iterator[Finding]:
    """Every batch has a method blank and a control, every sample a batch."""
    table = survey.tables["lab_samples"]
    frame = table.frame
    own = frame["type"].isin(("sample", "trip_blank", "field_blank"))
    for batch, group in frame[frame["batch_id"] != ""].groupby("batch_id", sort=True):
        samples = group[own[group.index]]
        for kind, code in (("method_blank", "batch-without-blank"), ("control", "batch-without-control")):
            if len(samples) and not (group["type"] == kind).any():
                where = table.where(samples.index[0], "batch_id")
                found = f"batch {batch} with {counted(len(samples), 'sample')}"
                yield find(code, str(batch), where, found, f"a {kind.replace('_', ' ')} in it", kind="batch")
    bad = own & (frame["batch_id"] == "")
    for at, row in first_rows(table, bad):
        where = table.where(at, "batch_id")
        yield find("batch-missing", row["lab_sample_id"], where, "no batch", "the batch", kind="lab_sample")
    yield from surplus("batch-missing", table, bad, "batch_id")


def accreditation(survey: Survey) -> Iterator[Finding]:
    """Every analysis falls into the accreditation's validity, by a method that it names."""
    lab = survey.settings.lab
    table = survey.tables["lab_samples"]
    days = table.frame["analysed_at"].str[:10]
    early = (days != "") & (days < (lab.valid_from.isoformat() if lab.valid_from else ""))
    late = (days != "") & (days > (lab.valid_to.isoformat() if lab.valid_to else "9999"))
    for key, bad in (("lab.valid_from", early), ("lab.valid_to", late)):
        if bad.any():
            ids = table.frame.loc[bad, "lab_sample_id"].tolist()
            limit = lab.valid_from if key == "lab.valid_from" else lab.valid_to
            found = f"{counted(len(ids), 'analysis', 'analyses')} outside it: {listed(ids)}"
            yield find("accreditation-not-valid", key, setting_where(survey, key), found, f"{key} = {limit}")
    if lab.methods:
        strange = (table.frame["method"] != "") & ~table.frame["method"].isin(lab.methods)
        for method in sorted(table.frame.loc[strange, "method"].unique()):
            at = int(np.flatnonzero((table.frame["method"] == method).to_numpy())[0])
            where = table.where(at, "method")
            yield find("method-not-listed", method, where, f"the method {method!r}", "a method of lab.methods")


QC_CODES = {
    "control": "control-out",
    "control_duplicate": "control-out",
    "calibration_check": "calibration-check-out",
    "internal_standard": "internal-standard-out",
}


def quality_samples(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Controls, calibration checks and internal standards lie within the limits given with them."""
    table = survey.tables["lab_qc"]
    frame = table.frame
    out = frame["qc_type"].isin(list(QC_CODES)) & (
        (frame["value"] < frame["lower"]) | (frame["value"] > frame["upper"])
    )
    samples = survey.frame("lab_samples").drop_duplicates("lab_sample_id").set_index("lab_sample_id")
    store = evaluation.store[["lab_sample_id", "sampler_id", "batch_id"]].drop_duplicates()
    for at, row in first_rows(table, out):
        batch = samples["batch_id"].get(row["lab_sample_id"], "")
        mine = store[(store["batch_id"] == batch) & (store["batch_id"] != "")]
        if row["qc_type"] == "internal_standard":
            mine = mine[mine["lab_sample_id"] == row["lab_sample_id"]]
        yield find(
            QC_CODES[row["qc_type"]],
            f"{row['lab_sample_id']}+{row['name']}",
            table.where(at, "value"),
            f"{row['value']:g} {row['unit']} of {row['name']}",
            f"{row['lower']:g} to {row['upper']:g} {row['unit']}",
            kind="lab_sample",
            touches=[Touch(name) for name in sorted(set(mine["sampler_id"])) if name],
        )
    yield from surplus("control-out", table, out, "value")


def surrogates_measured(survey: Survey) -> Iterator[Finding]:
    """Every sample has a surrogate, where the laboratory measures them."""
    qc = survey.frame("lab_qc")
    with_one = qc[qc["qc_type"] == "surrogate"]["lab_sample_id"]
    table = survey.tables["lab_samples"]
    bad = (table.frame["type"] == "sample") & ~table.frame["lab_sample_id"].isin(with_one)
    if not len(with_one):
        return
    for at, row in first_rows(table, bad):
        yield find(
            "surrogate-missing",
            row["lab_sample_id"],
            table.where(at),
            "no surrogate in lab_qc.csv",
            "a surrogate recovery for each sample",
            kind="lab_sample",
            touches=[Touch(row["sampler_id"])],
        )
    yield from surplus("surrogate-missing", table, bad, "lab_sample_id")


def odd_values(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No value stands far above all others, or about a thousand times above its neighbours."""
    rows = evaluation.primary.loc[evaluation.primary["detected"], _ODD_COLUMNS]
    slips = list(_unit_slips(evaluation, rows))
    yield from slips
    named = {finding.subject for finding in slips}
    yield from (finding for finding in _outliers(evaluation, rows) if finding.subject not in named)


def _outliers(evaluation: Evaluation, rows: pd.DataFrame) -> Iterator[Finding]:
    """Find the highest value of a compound in a medium where it stands far above the next."""
    ratio = evaluation.limits["outlier_ratio"]
    for _, group in rows.groupby(["medium", "analyte_id"], sort=True):
        values = np.sort(group["value"].to_numpy())[::-1]
        if len(values) >= OUTLIER_MIN_DETECTIONS and values[0] >= ratio.value * values[1]:
            row = records(group[group["value"] == values[0]])[0]
            beside = f"the next highest {shown(float(values[1]))}"
            yield _odd("value-outlier", row, beside, f"less than {ratio.text} the next highest")


def _unit_slips(evaluation: Evaluation, rows: pd.DataFrame) -> Iterator[Finding]:
    """Find values about a thousand times their neighbours'."""
    limit = evaluation.limits["unit_slip_ratio"]
    ratio = limit.value / UNIT_SLIP_SPREAD
    lowest = rows.groupby("analyte_id")["value"].transform("min")
    suspects = rows[rows["value"] >= ratio * lowest]
    near = _nearest(evaluation.points, suspects["location_id"].unique())
    values = _values_beside(rows, suspects, near)
    told = 0
    for row in records(suspects):
        beside = [values.get((name, row["analyte_id"])) for name in near.get(row["location_id"], ())]
        known = [value for value in beside if value is not None]
        if told < MAX_TOLD and len(known) > 1 and row["value"] >= ratio * max(known):
            told += 1
            times = f"{row['value'] / max(known):,.0f} × its highest neighbour"
            yield _odd("unit-slip", row, times, f"less than about {limit.text} the neighbours")


def _odd(code: str, row: Row, beside: str, expected: str) -> Finding:
    """Make a finding about one odd value."""
    return find(
        code,
        f"{row['lab_sample_id']}+{row['analyte_id']}",
        Where(row["_file"], int(row["_row"]), "value"),
        f"{shown(row['value'])} {RESULT_UNITS.get(row['unit'], row['unit'])}, {beside}",
        expected,
        kind="result",
        touches=[Touch(row["sampler_id"], row["analyte_id"])],
    )


def _nearest(points: Sequence[Point], wanted: Iterable[str]) -> dict[str, list[str]]:
    """Return the ids of the nearest points of each wanted point, nearest first, ties in file order."""
    names = np.array([point.location_id for point in points], dtype=object)
    xy = np.array([(point.x, point.y) for point in points]).reshape(-1, 2)
    at = {name: i for i, name in enumerate(names)}
    found = {}
    for name in wanted:
        if name in at:
            distance = np.hypot(*(xy - xy[at[name]]).T)
            distance[at[name]] = np.inf
            wanted_here = min(NEIGHBOURS, len(names) - 1)
            near = np.flatnonzero(distance <= np.partition(distance, wanted_here)[wanted_here])
            found[name] = names[near[np.argsort(distance[near], kind="stable")][:wanted_here]].tolist()
    return found


def _values_beside(
    rows: pd.DataFrame, suspects: pd.DataFrame, near: Mapping[str, Sequence[str]]
) -> dict[tuple[str, str], float]:
    """Return the detections at the neighbours of suspect values, by point and compound."""
    places = {name for names in near.values() for name in names}
    wanted = rows[rows["location_id"].isin(places) & rows["analyte_id"].isin(suspects["analyte_id"].unique())]
    keys = zip(wanted["location_id"], wanted["analyte_id"], strict=True)
    return dict(zip(keys, wanted["value"], strict=True))


RULES = (compounds_complete, one_reportable, batches, accreditation, surrogates_measured)
EVALUATION_RULES = (quality_samples, odd_values)
