"""Samplers: what each serves as, where it went, what came of it, and its results."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, Row, counted, first_rows, listed, surplus
from sitegen.problems import Finding, Touch
from sitegen.project.survey import Survey, SurveyTable, records

BLANK_KINDS = ("trip_blank", "field_blank")
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
            row["sampler_id"],
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
    yield from told(
        "outcome-disagrees", replace(table, frame=frame), against, "retrieved_at",
        "retrieved_at {retrieved_at!r}, condition {condition!r}",
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
        "sampler-unaccounted", samplers, open_end, "outcome",
        "a {kind} that was never placed, outcome {outcome!r}", "a placement, or what became of it",
    )  # fmt: skip


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
            row["lab_sample_id"],
            table.where(at, "type"),
            f"{row['type']} for sampler {row['sampler_id']}",
            f"{expected.iloc[at]}, as samplers.csv has it",
            kind="lab_sample",
        )
    yield from surplus("type-disagrees", table, bad, "type")
    alone = (frame["sampler_id"] == "") & frame["type"].isin(("sample", *BLANK_KINDS))
    for at, row in first_rows(table, alone):
        where = table.where(at, "sampler_id")
        yield find(
            "sample-without-sampler",
            row["lab_sample_id"],
            where,
            f"a {row['type']} without a sampler",
            "the sampler analysed",
            kind="lab_sample",
        )
    yield from surplus("sample-without-sampler", table, alone, "sampler_id")


def results_of_the_lost(survey: Survey) -> Iterator[Finding]:
    """No sampler that is lost, in the ground or never placed has results."""
    table = survey.tables["lab_samples"]
    with_results = table.frame["lab_sample_id"].isin(survey.frame("results")["lab_sample_id"].unique())
    mask = with_results & (table.frame["type"] == "sample") & (table.frame["sampler_id"] != "")
    state = table.frame["sampler_id"].map(_states(survey)).astype(object).fillna("never placed")
    known = table.frame["sampler_id"].isin(survey.frame("samplers")["sampler_id"])
    mask &= known & (state != "recovered") & survey.tables["deployments"].present
    code = {"lost": "result-for-lost", "in the ground": "result-for-buried"}
    for at, row in first_rows(table, mask):
        yield find(
            code.get(state.iloc[at], "result-for-unplaced"),
            row["lab_sample_id"],
            table.where(at, "sampler_id"),
            f"results for sampler {row['sampler_id']}, which is {state.iloc[at]} by the field records",
            "a sampler that was recovered",
            kind="lab_sample",
            touches=[Touch(row["sampler_id"])],
        )
    yield from surplus("result-for-unplaced", table, mask, "sampler_id")


def _states(survey: Survey) -> dict[str, str]:
    """Return ``recovered``, ``lost`` or ``in the ground`` for each sampler placed."""
    return {row["sampler_id"]: _state(row) for row in records(with_kinds(survey))}


def _state(row: Row) -> str:
    if row["condition"] == "not_recovered" or row["outcome"] == "lost":
        return "lost"
    return "recovered" if row["retrieved_at"] else "in the ground"


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
