"""Samplers: what each serves as, where it went, what came of it, and its results."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, enumeration, first_rows, key_of, number_of, numbered_rows, of_samplers, surplus
from sitegen.compute.field.stage import Stage, stage
from sitegen.findings.problems import Finding, Touch
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import ROW_TYPE, Deployment, LabSample, Sampler
from sitegen.voice import worded

_UNSAID: Mapping[Stage, tuple[str, ...]] = {"planned": ("used",), "in_field": ("used",), "returned": ("", "used")}
"""Outcomes that leave open, at each stage, where a sampler without a placement is."""

BLANK_KINDS = ("trip_blank", "field_blank")
_RECOVERED = "recovered"
_LOST = "which is lost according to the field records"
_BURIED = "for which no retrieval is on record"
_UNPLACED = "for which no deployment is on record"
_AGAINST = {_LOST: "result-for-lost", _BURIED: "result-for-buried", _UNPLACED: "result-for-unplaced"}
TYPE_OF_KIND = {
    "sample": "sample",
    "field_duplicate": "sample",
    "spare": "sample",
    "trip_blank": "trip_blank",
    "field_blank": "field_blank",
}
"""The type of laboratory sample that each kind of sampler gives."""


def sampler_findings(
    code: str, table: SurveyTable, bad: Mask, column: str, found: str, expected: str
) -> Iterator[Finding]:
    """Yield one finding for each masked row of a table whose key is the sampler. ``{}`` in the texts takes the row."""
    for at, row in numbered_rows(table, bad, ROW_TYPE[table.spec.name]):
        cells = row._asdict()
        texts = found.format_map(cells), expected.format_map(cells)
        yield find(code, key_of(table, at), table.where(at, column), *texts, kind="sampler")
    yield from surplus(code, table, bad, column)


def outcomes(survey: Survey) -> Iterator[Finding]:
    """What became of a sampler by samplers.csv agrees with its placement."""
    table = survey.tables["deployments"]
    frame = table.frame
    outcome = of_samplers(survey, "outcome", frame["sampler_id"])
    lost, out = frame["condition"] == "not_recovered", frame["retrieved_at_utc"].notna()
    against = (out & ~lost & (outcome == "lost")) | (outcome == "returned_unused") | (lost & (outcome == "used"))
    for at, row in numbered_rows(table, against, Deployment):
        yield find(
            "outcome-disagrees",
            row.sampler_id,
            row.origin.where("retrieved_at"),
            worded(
                "retrieval {retrieved_at}, condition {condition}",
                retrieved_at=_words(row.retrieved_at),
                condition=_words(row.condition),
            ),
            worded(
                "agreement with the outcome {outcome!r} of {sampler_id} in samplers.csv",
                outcome=outcome.iloc[at],
                sampler_id=row.sampler_id,
            ),
            kind="sampler",
        )
    yield from surplus("outcome-disagrees", table, against, "retrieved_at")
    yield from sampler_findings(
        "lost-and-retrieved", table, lost & out, "condition",
        worded("not recovered, but with the retrieval time {retrieved_at}"), worded("only one of the two"),
    )  # fmt: skip
    yield from _open_ends(survey)


def _open_ends(survey: Survey) -> Iterator[Finding]:
    """Find samplers for a point that were placed nowhere, and of which nothing else is said either.

    Before the samplers are back, those of which nothing is said may still be waiting to be placed.
    """
    table = survey.tables["samplers"]
    frame = table.frame
    open_end = frame["kind"].isin(("sample", "field_duplicate")) & frame["outcome"].isin(_UNSAID[stage(survey)])
    open_end &= ~frame["sampler_id"].isin(survey.frame("deployments")["sampler_id"])
    for row in first_rows(table, open_end, Sampler):
        yield find(
            "sampler-unaccounted",
            row.sampler_id,
            row.origin.where("outcome"),
            worded(
                "a {kind} with no deployment on record, outcome {outcome}",
                kind=_words(row.kind),
                outcome=_words(row.outcome),
            ),
            worded("a deployment, or another outcome"),
            kind="sampler",
        )
    yield from surplus("sampler-unaccounted", table, open_end, "outcome")


def _words(code: str) -> str:
    """Write a code as words, and a blank cell as not recorded."""
    return worded(code.replace("_", " ")) if code else worded("not recorded")


def labels_differ(survey: Survey) -> Iterator[Finding]:
    """No two samplers carry one label."""
    table = survey.tables["samplers"]
    bad = (table.frame["label"] != "") & table.frame.duplicated("label")
    yield from sampler_findings(
        "label-twice",
        table,
        bad,
        "label",
        worded("the label {label}, used twice"),
        worded("a different label for each sampler"),
    )


def types_agree(survey: Survey) -> Iterator[Finding]:
    """A laboratory sample is of the type that its sampler's kind gives."""
    table = survey.tables["lab_samples"]
    frame = table.frame
    expected = of_samplers(survey, "kind", frame["sampler_id"]).map(TYPE_OF_KIND)
    bad = expected.notna() & (frame["type"] != "") & (frame["type"] != expected)
    for at, row in numbered_rows(table, bad, LabSample):
        yield find(
            "type-disagrees",
            row.lab_sample_id,
            row.origin.where("type"),
            worded("{type} for sampler {sampler_id}", type=row.type, sampler_id=row.sampler_id),
            worded("{expected}, as in samplers.csv", expected=expected.iloc[at]),
            kind="lab_sample",
        )
    yield from surplus("type-disagrees", table, bad, "type")
    alone = (frame["sampler_id"] == "") & frame["type"].isin(("sample", *BLANK_KINDS))
    for row in first_rows(table, alone, LabSample):
        where = row.origin.where("sampler_id")
        yield find(
            "sample-without-sampler",
            row.lab_sample_id,
            where,
            worded("a {type} without a sampler", type=row.type),
            worded("the sampler analysed"),
            kind="lab_sample",
        )
    yield from surplus("sample-without-sampler", table, alone, "sampler_id")


def results_of_the_lost(survey: Survey) -> Iterator[Finding]:
    """No sampler that is lost, in the ground or never placed has results."""
    table = survey.tables["lab_samples"]
    with_results = table.frame["lab_sample_id"].isin(survey.frame("results")["lab_sample_id"].unique())
    mask = with_results & (table.frame["type"] == "sample") & (table.frame["sampler_id"] != "")
    state = table.frame["sampler_id"].map(_states(survey)).astype(object).fillna(_UNPLACED)
    known = table.frame["sampler_id"].isin(survey.frame("samplers")["sampler_id"])
    mask &= known & (state != _RECOVERED) & survey.tables["deployments"].present
    for at, row in numbered_rows(table, mask, LabSample):
        yield find(
            _AGAINST[state.iloc[at]],
            row.lab_sample_id,
            row.origin.where("sampler_id"),
            worded(
                "results for sampler {sampler_id}, {state}", sampler_id=row.sampler_id, state=worded(state.iloc[at])
            ),
            worded("a sampler that was recovered"),
            kind="lab_sample",
            touches=[Touch(row.sampler_id)],
        )
    yield from surplus("result-for-unplaced", table, mask, "sampler_id")


def _states(survey: Survey) -> dict[str, str]:
    """Return what the field records say of each sampler placed."""
    frame = survey.frame("deployments")
    lost = (frame["condition"] == "not_recovered") | (of_samplers(survey, "outcome", frame["sampler_id"]) == "lost")
    states = np.where(lost, _LOST, np.where(frame["retrieved_at"] != "", _RECOVERED, _BURIED))
    return dict(zip(frame["sampler_id"], states.tolist(), strict=True))


def one_type(survey: Survey) -> Iterator[Finding]:
    """The samplers of one medium are of one type, so that their masses can be compared."""
    media = survey.frame("locations").drop_duplicates("location_id").set_index("location_id")["medium"]
    table = survey.tables["deployments"]
    types = of_samplers(survey, "sampler_type", table.frame["sampler_id"]).fillna("")
    of = table.frame["location_id"].map(media).astype(object).fillna("")
    for medium in sorted(set(of) - {""}):
        counts = types[(of == medium) & (types != "")].value_counts()
        if len(counts) > 1:
            rare = counts.sort_index().idxmin()
            at = int(types.index[(of == medium) & (types == rare)][0])
            parts = (
                worded("{samplers} of type {name}", samplers=number_of(int(n), "sampler"), name=name)
                for name, n in counts.sort_index().items()
            )
            yield find(
                "sampler-types-mixed",
                medium,
                table.where(at, "sampler_id"),
                enumeration(parts),
                worded("one type"),
                kind="medium",
            )


RULES = (
    outcomes,
    labels_differ,
    types_agree,
    results_of_the_lost,
    one_type,
)
