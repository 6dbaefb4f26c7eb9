"""Laboratory and quality control: missing results, calibration, blanks, duplicates, surrogates."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_rows, setting_where
from sitegen.compute.completeness import STAGES
from sitegen.compute.duplicates import DIFFERS
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.fieldmarks import surrogate_failures
from sitegen.compute.rounding import shown
from sitegen.problems import Finding, Touch, Where
from sitegen.project.survey import Survey, records
from sitegen.units import RESULT_UNITS


def results_present(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Every recovered sampler and every trip blank has results."""
    with_results = set(evaluation.store["sampler_id"])
    path = survey.tables["deployments"].spec.path
    for p in evaluation.placements:
        if p.recovered and p.sampler_id not in with_results:
            yield _no_results(p.sampler_id, Where(path, p.row), "a recovered sampler without results")
    bags = survey.tables["return_bags"]
    without = (bags.frame["trip_blank_id"] != "") & ~bags.frame["trip_blank_id"].isin(list(with_results))
    for at, row in first_rows(bags, without):
        yield _no_results(row["trip_blank_id"], bags.where(at, "trip_blank_id"), "a trip blank without results")


def _no_results(sampler_id: str, where: Where, found: str) -> Finding:
    return find("results-missing", sampler_id, where, found, "results in lab/results.csv", kind="sampler")


def complete_enough(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Enough of the planned points are usable without marks."""
    limit = evaluation.limits["completeness_pct"]
    counts = dict(zip(STAGES, evaluation.completeness.overall.counts, strict=True))
    if counts["planned"] and 100.0 * counts["usable"] < limit.value * counts["planned"]:
        share = 100.0 * counts["usable"] / counts["planned"]
        yield find(
            "completeness-low",
            "survey",
            setting_where(survey, "plan.locations"),
            f"{counts['usable']} of {counts['planned']} planned points usable without marks of their own "
            f"({share:.1f} %)",
            f"at least {limit.text}",
        )


def calibration(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Results lie within the calibration."""
    store = evaluation.store
    above = store[store["detected"] & store["reportable"] & (store["value"] > store["calibration_top"])]
    for row in records(above):
        yield find(
            "above-calibration",
            f"{row['lab_sample_id']}+{row['analyte_id']}",
            Where(row["_file"], int(row["_row"]), "value"),
            f"{shown(row['value'])} {RESULT_UNITS.get(row['unit'], row['unit'])}",
            f"at most {shown(row['calibration_top'])} {RESULT_UNITS.get(row['unit'], row['unit'])}",
            kind="result",
            touches=[Touch(row["sampler_id"], row["analyte_id"])],
        )


def surrogates(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Surrogates are recovered within their limits."""
    samplers = dict(zip(evaluation.store["lab_sample_id"], evaluation.store["sampler_id"], strict=True))
    for one in surrogate_failures(survey, evaluation.limits):
        sampler = samplers.get(one.lab_sample_id, "")
        yield find(
            "surrogate-out",
            f"{one.lab_sample_id}+{one.name}",
            Where(one.file, one.row, "value"),
            f"{one.recovery:g} % of {one.name}",
            f"{one.lower:g} to {one.upper:g} %",
            kind="lab_sample",
            touches=[Touch(sampler)] if sampler else (),
        )


def blanks(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Blanks hold nothing that their own samples hold at like mass."""
    samplers = dict(zip(evaluation.store["lab_sample_id"], evaluation.store["sampler_id"], strict=True))
    for hit in evaluation.blank_hits:
        yield find(
            f"{hit.kind.replace('_', '-')}-detection",
            f"{hit.lab_sample_id}+{hit.analyte_id}",
            Where(hit.file, hit.row, "value"),
            f"{shown(hit.value)} ng per sampler of {hit.analyte_id} in {hit.label}, "
            f"touching {len(hit.touched)} detections",
            f"less than {hit.rl:g} ng per sampler",
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


EVALUATION_RULES = (results_present, complete_enough, calibration, surrogates, blanks, duplicates)
