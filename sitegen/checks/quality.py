"""Laboratory and quality control: missing results, calibration, blanks, duplicates, surrogates."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.compute.duplicates import DIFFERS
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.fieldmarks import surrogate_failures
from sitegen.compute.rounding import shown
from sitegen.problems import Finding, Touch, Where
from sitegen.project.survey import Survey, records


def results_present(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Every recovered sampler and every trip blank has results."""
    with_results = set(evaluation.store.loc[evaluation.store["reportable"], "sampler_id"])
    path = survey.tables["deployments"].spec.path
    for p in evaluation.placements:
        if p.recovered and p.sampler_id not in with_results:
            yield find(
                "results-missing", p.sampler_id, Where(path, p.row), "a recovered sampler without results",
                "results in lab/results.csv", kind="sampler",
            )  # fmt: skip
    bags = survey.tables["return_bags"]
    for index, row in bags.frame.iterrows():
        if row["trip_blank_id"] and row["trip_blank_id"] not in with_results:
            yield find(
                "results-missing", str(row["trip_blank_id"]), bags.where(int(str(index)), "trip_blank_id"),
                "a trip blank without results", "results in lab/results.csv", kind="sampler",
            )  # fmt: skip


def calibration(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Results lie within the calibration."""
    store = evaluation.store
    path = survey.tables["results"].spec.path
    above = store[store["detected"] & store["reportable"] & (store["value"] > store["calibration_top"])]
    for row in records(above):
        yield find(
            "above-calibration",
            f"{row['lab_sample_id']}+{row['analyte_id']}",
            Where(path, int(row["_row"]), "value"),
            f"{shown(row['value'])} {row['unit']}",
            f"at most {shown(row['calibration_top'])} {row['unit']}",
            kind="result",
            touches=[Touch(row["sampler_id"], row["analyte_id"])],
        )


def surrogates(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Surrogates are recovered within their limits."""
    samplers = dict(zip(evaluation.store["lab_sample_id"], evaluation.store["sampler_id"], strict=True))
    path = survey.tables["lab_qc"].spec.path
    for sample, name, value, lower, upper, row in surrogate_failures(survey, evaluation.limits):
        sampler = samplers.get(sample, "")
        yield find(
            "surrogate-out",
            f"{sample}+{name}",
            Where(path, row, "value"),
            f"{value:g} % of {name}",
            f"{lower:g} to {upper:g} %",
            kind="lab_sample",
            touches=[Touch(sampler)] if sampler else (),
        )


def blanks(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Blanks hold nothing that their own samples hold at like mass."""
    path = survey.tables["results"].spec.path
    samplers = dict(zip(evaluation.store["lab_sample_id"], evaluation.store["sampler_id"], strict=True))
    for hit in evaluation.blank_hits:
        yield find(
            f"{hit.kind.replace('_', '-')}-detection",
            f"{hit.lab_sample_id}+{hit.analyte_id}",
            Where(path, hit.row, "value"),
            f"{shown(hit.value)} ng of {hit.analyte_id} in {hit.label}, touching {len(hit.touched)} detections",
            f"less than {hit.rl:g} ng",
            kind="blank",
            touches=[Touch(samplers[sample], analyte) for sample, analyte in hit.touched],
        )


def duplicates(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Duplicates agree with their primaries."""
    path = survey.tables["deployments"].spec.path
    rows = {p.sampler_id: p.row for p in evaluation.placements}
    for pair in evaluation.pairs:
        worst = [result for result in pair.results if result.verdict == DIFFERS]
        if worst:
            names = ", ".join(result.analyte_id for result in worst)
            yield find(
                "duplicate-differs",
                f"{pair.primary_id}+{pair.duplicate_id}",
                Where(path, rows[pair.duplicate_id], "duplicate_of"),
                f"{len(worst)} compounds that differ: {names}",
                "agreement within the limits",
                kind="pair",
                touches=[Touch(s, r.analyte_id) for r in worst for s in (pair.primary_id, pair.duplicate_id)],
            )


EVALUATION_RULES = (results_present, calibration, surrogates, blanks, duplicates)
