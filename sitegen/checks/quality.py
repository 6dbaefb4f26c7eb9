"""Laboratory and quality control: missing results, calibration, blanks, duplicates, surrogates."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sitegen.checks.catalogue import find
from sitegen.checks.rows import compound_names, enumeration, first_rows, number_of, setting_where
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.completeness import STAGES, Stages
from sitegen.compute.field.exposure import DUPLICATE, FIELD_BLANK, IN_PLACE
from sitegen.compute.formats import measure_text
from sitegen.compute.quality.blanks import BlankHit
from sitegen.compute.quality.duplicates import DIFFERS, DuplicateRate
from sitegen.compute.quality.labqc import BIASED, HIGH, LOW, NO_BATCH, NO_COMPOUND, OF_SAMPLE, OUT, VERY_LOW, Control
from sitegen.compute.results.reported import reported_text
from sitegen.compute.results.store import StoredResult, is_within, other_runs, stored_results
from sitegen.compute.statistics.rounding import as_reported, percent
from sitegen.findings.problems import Finding, Severity, Touch, Where
from sitegen.project.survey import Survey
from sitegen.project.tables import ReturnBag
from sitegen.units import UNIT_TEXT
from sitegen.voice import worded

_COMPARE = (
    "treat it as an estimate and compare with {runs}; the reviewer decides whether the reported run is acceptable"
)


def results_present(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Every recovered sampler, every trip blank and every field blank has results."""
    with_results = set(evaluation.store["sampler_id"])
    for p in evaluation.deployed:
        back = p.recovered or (p.role == FIELD_BLANK and p.bag_id)
        if back and p.sampler_id not in with_results:
            found = (
                worded("a field blank without results")
                if p.role == FIELD_BLANK
                else worded("a recovered sampler without results")
            )
            yield _no_results(p.sampler_id, p.origin.where(), found)
    bags = survey.tables["return_bags"]
    without = (bags.frame["trip_blank_id"] != "") & ~bags.frame["trip_blank_id"].isin(list(with_results))
    for row in first_rows(bags, without, ReturnBag):
        yield _no_results(row.trip_blank_id, row.origin.where("trip_blank_id"), worded("a trip blank without results"))


def _no_results(sampler_id: str, where: Where, found: str) -> Finding:
    return find("results-missing", sampler_id, where, found, worded("results in lab/results.csv"), kind="sampler")


def complete_enough(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Enough of the planned points are usable without marks, in soil, in air and overall, once results are there."""
    limit = evaluation.limits["completeness_pct"]
    done = evaluation.completeness
    if not done.every.counts[STAGES.index("analysed")]:
        return
    groups = done.planned_by if len(done.planned_by) > 1 else ()
    for stages, subject, what in ((done.overall, "survey", worded("planned points")), *map(_of_group, groups)):
        counts = dict(zip(STAGES, stages.counts, strict=True))
        if 100.0 * counts["usable"] < limit.value * counts["planned"]:
            share = percent(counts["usable"], counts["planned"], limit.value)
            still, unnoted = done.in_state(IN_PLACE, stages), len(done.unnoted & stages.ids[0])
            yield find(
                "completeness-low",
                subject,
                setting_where(survey, "plan.locations"),
                worded(
                    "{usable} of {planned} {points} usable without sample-specific qualifications ({share})",
                    usable=counts["usable"],
                    planned=counts["planned"],
                    points=what,
                    share=share,
                )
                + (worded(", {count} with a sampler still deployed", count=still) if still else "")
                + (worded(", {count} without a condition or depth on record", count=unnoted) if unnoted else ""),
                worded("at least {limit}", limit=limit.text),
            )


def _of_group(stages: Stages) -> tuple[Stages, str, str]:
    return stages, stages.group, worded("planned points in {medium}", medium=worded(GROUP_WORDS[stages.group]))


GROUP_WORDS = {"soil": "soil gas", "air": "air"}
"""Medium groups as findings name them: soil gas is meant with sub-slab and crawl space."""


def duplicates_enough(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """There are as many duplicate pairs with results as the plan asks for, in soil, in air and overall.

    Before any result is there, the pairs placed are counted against the primaries placed.
    """
    limit = evaluation.limits["duplicate_rate"]
    doubled = [p for p in evaluation.placements if p.role == DUPLICATE]
    origins = sorted(p.origin for p in doubled or evaluation.placements)
    rates = evaluation.duplicate_rates
    if len(rates) == 2:
        rates = rates[:1]
    if not rates[0].primaries:
        rates = (DuplicateRate("every", len(doubled), len(evaluation.standing)),)
    words = (
        "{pairs} with results for {primaries} with results{medium} ({share})"
        if evaluation.duplicate_rates[0].primaries
        else "{pairs} installed for {primaries} installed{medium} ({share})"
    )
    for rate in rates:
        if rate.primaries and rate.short_of(limit.value):
            of = worded(" in {medium}", medium=worded(GROUP_WORDS[rate.group])) if rate.group in GROUP_WORDS else ""
            share = percent(rate.pairs, rate.primaries, 100 * limit.value)
            yield find(
                "duplicates-few",
                rate.group if of else "survey",
                origins[0].where("duplicate_of"),
                worded(
                    words,
                    pairs=number_of(rate.pairs, "pair"),
                    primaries=number_of(rate.primaries, "primary", "primaries"),
                    medium=of,
                    share=share,
                ),
                measure_text(limit.value, "per primary"),
            )


def calibration(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Results lie within the calibration; another run of the sampler that does is named, and nothing decided."""
    store = evaluation.store
    above = store[store["detected"] & store["reportable"] & (store["value"] > store["calibration_top"])]
    others, names = other_runs(store), compound_names(survey)
    for row in stored_results(above):
        within = [run for run in others.get((row.sampler_id, row.analyte_id), ()) if is_within(run)]
        yield find(
            "above-calibration",
            "+".join(row.key),
            row.origin.where("value"),
            "; ".join(
                [
                    worded("{mass} of {compound}", mass=_mass(row), compound=names.get(row.analyte_id, row.analyte_id)),
                    *map(_on_file, within),
                ]
            ),
            worded(
                "at most {top} {unit}",
                top=as_reported(row.calibration_top),
                unit=UNIT_TEXT.get(row.unit, row.unit),
            ),
            do=worded(_COMPARE, runs=enumeration(run.lab_sample_id for run in within)) if within else "",
            kind="result",
            touches=[Touch(row.sampler_id, row.analyte_id)],
        )


def _mass(row: StoredResult) -> str:
    """Write a detection as the laboratory wrote it, with the qualifier in force and its unit."""
    return f"{reported_text(row)} {UNIT_TEXT.get(row.unit, row.unit)}"


def _on_file(run: StoredResult) -> str:
    return worded(
        "run {run} on record, not reported: {mass}, within its calibration range",
        run=run.lab_sample_id,
        mass=_mass(run),
    )


_READ = {
    LOW: "treat detections of {of} as potentially biased low and non-detects as uncertain",
    VERY_LOW: "have a reviewer consider rejecting the results of {of}; until then treat its detections as biased low",
    HIGH: "treat detections of {of} as potentially biased high; its non-detects are not affected",
}
"""What to do where a recovery is out of its limits, by the side."""

_BEYOND = {
    NO_BATCH: "; no batch is on record for it, so no result is qualified",
    NO_COMPOUND: "; no listed compound has that name, so no result is qualified",
}


def quality_control(_: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Surrogates, controls, calibration checks and internal standards lie within their limits."""
    samplers = dict(zip(evaluation.store["lab_sample_id"], evaluation.store["sampler_id"], strict=True))
    for one in evaluation.controls:
        if one.side in OUT:
            of = (
                worded("the sample")
                if one.qc_type in OF_SAMPLE
                else worded("this compound in the batch")
                if one.name
                else worded("the batch")
            )
            found = _measured(one) + (worded(_BEYOND[one.beyond]) if one.beyond in _BEYOND else "")
            yield find(
                one.code,
                f"{one.lab_sample_id}+{one.name}",
                one.origin.where("value"),
                found,
                one.limits_text,
                do=worded(_READ[one.side], of=of) if one.code in BIASED else "",
                kind="lab_sample",
                touches=_touches(one, samplers),
            )


def _measured(one: Control) -> str:
    """Say what was measured, and of which compound."""
    if not one.name:
        return one.value_text
    if one.code in BIASED and one.unit == "%":
        return worded("{value} recovery of {compound}", value=one.value_text, compound=one.name)
    return worded("{value} of {compound}", value=one.value_text, compound=one.name)


def _touches(one: Control, samplers: Mapping[str, str]) -> list[Touch]:
    """Return what a measurement bears on: whole samplers, or one compound of theirs."""
    keys = {(sample, "" if one.qc_type in OF_SAMPLE else analyte) for sample, analyte in one.reach}
    return [Touch(sampler, analyte) for sample, analyte in sorted(keys) if (sampler := samplers[sample])]


_NOTHING_MARKED = "no action: no detection in its samples is affected"
_NO_GROUP = "record the {reach} that the blank applies to; until then no result is qualified"


def blanks(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Nothing is detected in a blank; where it is, its samples' detections up to the rule's multiple are marked.

    A detection in a blank that marks no result of its samples is a note.
    """
    names = compound_names(survey)
    samplers = dict(zip(evaluation.store["lab_sample_id"], evaluation.store["sampler_id"], strict=True))
    for hit in evaluation.blank_hits:
        unit = UNIT_TEXT.get(hit.unit, hit.unit)
        yield find(
            f"{hit.kind.replace('_', '-')}-detection",
            f"{hit.lab_sample_id}+{hit.analyte_id}",
            hit.origin.where("value"),
            worded(
                "{value} {unit} of {compound} in {label}; {reach}",
                value=hit.text,
                unit=unit,
                compound=names.get(hit.analyte_id, hit.analyte_id),
                label=hit.label,
                reach=_reach(hit),
            ),
            worded("no detection in a blank"),
            do=""
            if hit.touched
            else worded(_NOTHING_MARKED)
            if hit.group
            else worded(_NO_GROUP, reach=worded(hit.reach)),
            kind="blank",
            touches=[Touch(samplers[sample], analyte) for sample, analyte in hit.touched],
            severity=Severity.NOTE if hit.group and not hit.touched else None,
        )


def _reach(hit: BlankHit) -> str:
    """Say how many samples of a blank have a detection that the rule reaches."""
    if not hit.group:
        return worded("no record of its {reach}", reach=worded(hit.reach))
    if not hit.members:
        return worded("none of its samples has a result for this compound")
    facts = {"samples": number_of(hit.members, "sample"), "marked": len(hit.touched), "multiple": hit.multiple}
    if not hit.touched:
        return worded("of {samples}, none has a detection of at most {multiple:g} times the blank", **facts)
    if len(hit.touched) == 1:
        return worded("of {samples}, 1 has a detection of at most {multiple:g} times the blank", **facts)
    return worded("of {samples}, {marked} have a detection of at most {multiple:g} times the blank", **facts)


def duplicates(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Duplicates agree with their primaries."""
    origins = {p.sampler_id: p.origin for p in evaluation.placements}
    called = compound_names(survey)
    for pair in evaluation.pairs:
        worst = [result for result in pair.results if result.verdict == DIFFERS]
        if worst:
            names = ", ".join(called.get(result.analyte_id, result.analyte_id) for result in worst)
            yield find(
                "duplicate-differs",
                f"{pair.primary_id}+{pair.duplicate_id}",
                origins[pair.duplicate_id].where("duplicate_of"),
                worded(
                    "{compounds} outside the limits: {names}", compounds=number_of(len(worst), "compound"), names=names
                ),
                worded("agreement within the limits"),
                kind="pair",
                touches=[Touch(s, r.analyte_id) for r in worst for s in (pair.primary_id, pair.duplicate_id)],
            )


EVALUATION_RULES = (
    results_present,
    complete_enough,
    duplicates_enough,
    calibration,
    quality_control,
    blanks,
    duplicates,
)
