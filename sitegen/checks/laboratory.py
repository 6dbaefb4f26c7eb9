"""Laboratory: complete lists, re-runs, batches and their quality samples, accreditation, odd values."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, compound_names, enumeration, first_rows, number_of, setting_where, surplus
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.limits import LimitRecord
from sitegen.compute.quality.locallow import unit_slips
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.compute.statistics.rounding import as_reported
from sitegen.findings.problems import Finding, Touch
from sitegen.project.survey import Survey
from sitegen.project.tables import LabSample
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded

OUTLIER_MIN_DETECTIONS = 4
"""With fewer detections than this, a highest value is not compared with the next."""


def compounds_complete(survey: Survey) -> Iterator[Finding]:
    """A sample that has results has one for every listed compound."""
    table = survey.tables["lab_samples"]
    results = survey.frame("results")
    names = compound_names(survey)
    every = survey.frame("analytes")["analyte_id"].tolist()
    known = results[results["analyte_id"].isin(every)]
    counts = known.groupby("lab_sample_id")["analyte_id"].nunique()
    have = table.frame["lab_sample_id"].map(counts)
    bad = (have < len(every)) & (table.frame["reportable"] != "no")
    for row in first_rows(table, bad, LabSample):
        there = set(results.loc[results["lab_sample_id"] == row.lab_sample_id, "analyte_id"])
        absent = [name for name in every if name not in there]
        yield find(
            "compound-missing",
            row.lab_sample_id,
            row.origin.where(),
            worded("no result for {names}", names=enumeration(names[name] for name in absent)),
            worded("all {number} compounds of lab/analytes.csv", number=len(every)),
            kind="lab_sample",
        )
    yield from surplus("compound-missing", table, bad, "lab_sample_id")


def one_reportable(survey: Survey) -> Iterator[Finding]:
    """Of several runs of one sampler, exactly one is reported for each compound."""
    table = survey.tables["lab_samples"]
    frame = table.frame
    names = compound_names(survey)
    runs = frame[(frame["sampler_id"] != "") & frame.duplicated("sampler_id", keep=False)]
    results = survey.frame("results")
    results = results[results["lab_sample_id"].isin(runs["lab_sample_id"])]
    for sampler, group in runs.groupby("sampler_id", sort=True):
        kept = group[group["reportable"] != "no"]["lab_sample_id"]
        reported = results[results["lab_sample_id"].isin(kept)]
        twice = reported[reported.duplicated("analyte_id")]["analyte_id"].unique()
        where = table.where(group.index[-1], "reportable")
        wanted = worded("exactly one reportable result for each compound")
        if kept.empty:
            found = worded(
                "{runs} of sampler {sampler}, none of them reportable",
                runs=number_of(len(group), "run"), sampler=sampler,
            )  # fmt: skip
            yield find("run-none-reportable", str(sampler), where, found, wanted, kind="sampler")
        elif len(twice):
            compounds = enumeration(names.get(name, name) for name in twice)
            found = worded(
                "two reportable results of sampler {sampler} for {compounds}", sampler=sampler, compounds=compounds
            )
            yield find("run-twice-reportable", str(sampler), where, found, wanted, kind="sampler")


def batches(survey: Survey) -> Iterator[Finding]:
    """Every batch has a method blank and a control, every sample a batch."""
    table = survey.tables["lab_samples"]
    frame = table.frame
    own = frame["type"].isin(("sample", "trip_blank", "field_blank"))
    for batch, group in frame[frame["batch_id"] != ""].groupby("batch_id", sort=True):
        samples = group[own[group.index]]
        for kind, code, expected in (
            ("method_blank", "batch-without-blank", "a method blank in it"),
            ("control", "batch-without-control", "a control in it"),
        ):
            if len(samples) and not (group["type"] == kind).any():
                where = table.where(samples.index[0], "batch_id")
                found = worded("batch {batch} with {samples}", batch=batch, samples=number_of(len(samples), "sample"))
                yield find(code, str(batch), where, found, worded(expected), kind="batch")
    bad = own & (frame["batch_id"] == "")
    for row in first_rows(table, bad, LabSample):
        where = row.origin.where("batch_id")
        yield find(
            "batch-missing", row.lab_sample_id, where, worded("no batch"), worded("the batch"), kind="lab_sample"
        )
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
            found = worded(
                "{analyses} outside the validity period: {names}",
                analyses=number_of(len(ids), "analysis", "analyses"), names=enumeration(ids),
            )  # fmt: skip
            yield find("accreditation-not-valid", key, setting_where(survey, key), found, f"{key} = {limit}")
    if lab.methods:
        strange = (table.frame["method"] != "") & ~table.frame["method"].isin(lab.methods)
        for method in sorted(table.frame.loc[strange, "method"].unique()):
            at = int(np.flatnonzero((table.frame["method"] == method).to_numpy())[0])
            where = table.where(at, "method")
            found, expected = worded("the method {method!r}", method=method), worded("a method listed in lab.methods")
            yield find("method-not-listed", method, where, found, expected)


def surrogates_present(survey: Survey) -> Iterator[Finding]:
    """Every sample has a surrogate, where the laboratory measures them."""
    qc = survey.frame("lab_qc")
    with_one = qc[qc["qc_type"] == "surrogate"]["lab_sample_id"]
    table = survey.tables["lab_samples"]
    bad = (table.frame["type"] == "sample") & ~table.frame["lab_sample_id"].isin(with_one)
    if not len(with_one):
        return
    for row in first_rows(table, bad, LabSample):
        yield find(
            "surrogate-missing",
            row.lab_sample_id,
            row.origin.where(),
            worded("no surrogate in lab_qc.csv"),
            worded("a surrogate recovery for each sample"),
            kind="lab_sample",
            touches=[Touch(row.sampler_id)],
        )
    yield from surplus("surrogate-missing", table, bad, "lab_sample_id")


def odd_values(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No value stands far above all others, or a thousand times above or below its neighbours."""
    slips = list(_unit_slips(evaluation))
    yield from slips
    named = {finding.subject for finding in slips}
    yield from (finding for finding in _outliers(evaluation) if finding.subject not in named)


def _outliers(evaluation: Evaluation) -> Iterator[Finding]:
    """Find the highest value of a compound in a medium where it stands far above the next."""
    ratio = evaluation.limits["outlier_ratio"]
    store = evaluation.primary
    detections = store.loc[store["detected"], ["medium", "analyte_id", "value"]]
    for _, values in detections.groupby(["medium", "analyte_id"], sort=True)["value"]:
        highest = np.sort(values.to_numpy())[::-1]
        if len(highest) >= OUTLIER_MIN_DETECTIONS and highest[0] >= ratio.value * highest[1]:
            (row,) = stored_results(store.loc[[values.idxmax()]])
            yield _outlier(row, float(highest[1]), ratio)


def _unit_slips(evaluation: Evaluation) -> Iterator[Finding]:
    """Find values about a thousand times their neighbours', or a thousandth of them."""
    limit = evaluation.limits["unit_slip_ratio"]
    slips = unit_slips(evaluation.primary, evaluation.points, evaluation.limits)
    for slip in slips[:MAX_TOLD]:
        unit = UNIT_TEXT.get(slip.unit, slip.unit)
        up = slip.ratio > 1
        yield find(
            "unit-slip",
            f"{slip.lab_sample_id}+{slip.analyte_id}",
            slip.origin.where("value"),
            worded(
                "{value} {unit}, {times:,.0f} × its highest neighbour"
                if up
                else "{value} {unit}, 1/{times:,.0f} of its lowest neighbour",
                value=as_reported(slip.value),
                unit=unit,
                times=slip.ratio if up else 1 / slip.ratio,
            ),
            worded("less than about {limit} the neighbouring results", limit=limit.text)
            if up
            else worded("more than about 1/{times:g} of them", times=limit.value),
            kind="result",
            touches=[Touch(slip.sampler_id, slip.analyte_id)],
        )


def _outlier(row: StoredResult, next_highest: float, ratio: LimitRecord) -> Finding:
    unit = UNIT_TEXT.get(row.unit, row.unit)
    return find(
        "value-outlier",
        "+".join(row.key),
        row.origin.where("value"),
        worded(
            "{value} {unit}, the next highest {next}",
            value=as_reported(row.value),
            unit=unit,
            next=as_reported(next_highest),
        ),
        worded("less than {limit} the next highest", limit=ratio.text),
        kind="result",
        touches=[Touch(row.sampler_id, row.analyte_id)],
    )


RULES = (compounds_complete, one_reportable, batches, accreditation, surrogates_present)
EVALUATION_RULES = (odd_values,)
