"""Samplers: what each serves as, where it went, what came of it, and its results."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, Row, counted, first_rows, listed, surplus
from sitegen.findings.problems import Finding, Touch
from sitegen.project.survey import Survey, SurveyTable, records

BLANK_KINDS = ("trip_blank", "field_blank")
_RECOVERED = "recovered"
_LOST = "which is lost by the field records"
_BURIED = "of which no retrieval is on record"
_UNPLACED = "of which no placement is on record"
_AGAINST = {_LOST: "result-for-lost", _BURIED: "result-for-buried", _UNPLACED: "result-for-unplaced"}
TYPE_OF_KIND = {
    "sample": "sample",
    "field_duplicate": "sample",
    "spare": "sample",
    "trip_blank": "trip_blank",
    "field_blank": "field_blank",
}
"""The type of laboratory sample that each kind of sampler gives."""


def with_kinds(survey: Survey) -> pd.DataFrame:
    """Return deployments with kind and outcome of their samplers."""
    samplers = survey.frame("samplers")[["sampler_id", "kind", "outcome"]].drop_duplicates("sampler_id")
    return survey.frame("deployments").merge(samplers, on="sampler_id", how="left")


def told(code: str, table: SurveyTable, bad: Mask, column: str, found: str, expected: str) -> Iterator[Finding]:
    """Yield one finding for each sampler in the masked rows. ``{}`` in the texts takes the row."""
    for at, row in first_rows(table, bad):
        yield find(
            code,
            row.sampler_id,
            table.where(at, column),
            found.format_map(row),
            expected.format_map(row),
            kind="sampler",
        )
    yield from surplus(code, table, bad, column)


def outcomes(survey: Survey) -> Iterator[Finding]:
    """What became of a sampler by samplers.csv agrees with its placement."""
    table = survey.tables["deployments"]
    frame = with_kinds(survey)
    back = frame["retrieved_at_utc"].notna() & (frame["condition"] != "not_recovered")
    against = (back & (frame["outcome"] == "lost")) | (frame["outcome"] == "returned_unused")
    against |= ~back & (frame["condition"] == "not_recovered") & (frame["outcome"] == "used")
    plain = _worded(replace(table, frame=frame), "retrieved_at", "condition")
    yield from told(
        "outcome-disagrees", plain, against, "retrieved_at",
        "retrieval {retrieved_at}, condition {condition}",
        "what fits the outcome {outcome!r} of {sampler_id} in samplers.csv",
    )  # fmt: skip
    contradicts = (frame["condition"] == "not_recovered") & frame["retrieved_at_utc"].notna()
    yield from told(
        "lost-and-retrieved", table, contradicts, "condition",
        "not recovered, yet retrieved {retrieved_at}", "one of the two",
    )  # fmt: skip
    samplers = survey.tables["samplers"]
    open_end = samplers.frame["kind"].isin(("sample", "field_duplicate"))
    open_end &= ~samplers.frame["sampler_id"].isin(frame["sampler_id"])
    open_end &= samplers.frame["outcome"].isin(("", "used"))
    yield from told(
        "sampler-unaccounted", _worded(samplers, "kind", "outcome"), open_end, "outcome",
        "a {kind} with no placement on record, outcome {outcome}", "a placement, or what became of it",
    )  # fmt: skip


def _worded(table: SurveyTable, *columns: str) -> SurveyTable:
    """Write the codes of columns as words, and blank cells as not recorded."""
    words = {name: table.frame[name].str.replace("_", " ").replace("", "not recorded") for name in columns}
    return replace(table, frame=table.frame.assign(**words))


def labels_differ(survey: Survey) -> Iterator[Finding]:
    """No two samplers carry one label."""
    table = survey.tables["samplers"]
    bad = (table.frame["label"] != "") & table.frame.duplicated("label")
    yield from told("label-twice", table, bad, "label", "the label {label} again", "a label for each sampler")


def types_agree(survey: Survey) -> Iterator[Finding]:
    """A laboratory sample is of the type that its sampler's kind gives."""
    table = survey.tables["lab_samples"]
    frame = table.frame
    kinds = survey.frame("samplers").drop_duplicates("sampler_id").set_index("sampler_id")["kind"]
    expected = frame["sampler_id"].map(kinds).map(TYPE_OF_KIND)
    bad = expected.notna() & (frame["type"] != "") & (frame["type"] != expected)
    for at, row in first_rows(table, bad):
        yield find(
            "type-disagrees",
            row.lab_sample_id,
            table.where(at, "type"),
            f"{row.type} for sampler {row.sampler_id}",
            f"{expected.iloc[at]}, as samplers.csv has it",
            kind="lab_sample",
        )
    yield from surplus("type-disagrees", table, bad, "type")
    alone = (frame["sampler_id"] == "") & frame["type"].isin(("sample", *BLANK_KINDS))
    for at, row in first_rows(table, alone):
        where = table.where(at, "sampler_id")
        yield find(
            "sample-without-sampler",
            row.lab_sample_id,
            where,
            f"a {row.type} without a sampler",
            "the sampler analysed",
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
    for at, row in first_rows(table, mask):
        yield find(
            _AGAINST[state.iloc[at]],
            row.lab_sample_id,
            table.where(at, "sampler_id"),
            f"results for sampler {row.sampler_id}, {state.iloc[at]}",
            "a sampler that was recovered",
            kind="lab_sample",
            touches=[Touch(row.sampler_id)],
        )
    yield from surplus("result-for-unplaced", table, mask, "sampler_id")


def _states(survey: Survey) -> dict[str, str]:
    """Return what the field records say of each sampler placed."""
    return {row.sampler_id: _state(row) for row in records(with_kinds(survey))}


def _state(row: Row) -> str:
    if row.condition == "not_recovered" or row.outcome == "lost":
        return _LOST
    return _RECOVERED if row.retrieved_at else _BURIED


def one_type(survey: Survey) -> Iterator[Finding]:
    """The samplers of one medium are of one type, so that their masses can be compared."""
    types = survey.frame("samplers").drop_duplicates("sampler_id").set_index("sampler_id")["sampler_type"]
    media = survey.frame("locations").drop_duplicates("location_id").set_index("location_id")["medium"]
    table = survey.tables["deployments"]
    kinds = table.frame["sampler_id"].map(types).astype(object).fillna("")
    of = table.frame["location_id"].map(media).astype(object).fillna("")
    for medium in sorted(set(of) - {""}):
        counts = kinds[(of == medium) & (kinds != "")].value_counts()
        if len(counts) > 1:
            rare = counts.sort_index().idxmin()
            at = int(kinds.index[(of == medium) & (kinds == rare)][0])
            parts = (f"{counted(int(n), 'sampler')} of type {name}" for name, n in counts.sort_index().items())
            yield find(
                "sampler-types-mixed", medium, table.where(at, "sampler_id"), listed(parts), "one type", kind="medium"
            )


RULES = (
    outcomes,
    labels_differ,
    types_agree,
    results_of_the_lost,
    one_type,
)
