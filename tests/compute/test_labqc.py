"""Quality control of the laboratory: which side, which results, which qualifier, and by whose limits."""

from __future__ import annotations

from typing import Any

import builders
import pytest
from builders import Change, cell, cell_at, changed, load, survey_findings

from sitegen.compute.citations import CITED
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.limits import DEFAULTS, OWN, PRACTICE
from sitegen.compute.quality.labqc import BIASED, CODES, NO_BATCH, NO_COMPOUND, OUT, Control
from sitegen.compute.quality.proposals import ESTIMATES
from sitegen.compute.results.store import stored_results
from sitegen.compute.statistics.intervals import DEMANDS
from sitegen.project.tables import LabSample
from sitegen.report.quality.labcontrol import controls_table, surrogates_table
from sitegen.report.quality.proposing import rules_table
from sitegen.report.write.context import Context

QC, LAB = "lab/lab_qc.csv", "lab/lab_samples.csv"
SURROGATE, CONTROL, CHECK = 129, 6, 12
"""Rows of the example: a surrogate of 04417-039 (58 %), tetrachloroethene as control and as check of batch B1."""


def evaluated(*changes: Change) -> Evaluation:
    return evaluate(load(changed(*changes)))


def at(ev: Evaluation, row: int) -> Control:
    return next(one for one in ev.controls if one.origin.row == row)


def proposed(ev: Evaluation, code: str) -> dict[tuple[str, str], tuple[str, bool]]:
    """Return what findings of a check propose, by result: qualifier, and whether rejection is to be considered."""
    return {
        (p.lab_sample_id, p.analyte_id): (p.qualifier, p.reject) for p in ev.proposed if p.key.partition(":")[0] == code
    }


def detection(ev: Evaluation) -> dict[tuple[str, str], bool]:
    return {row.key: row.detected for row in stored_results(ev.store)}


@pytest.mark.parametrize(
    ("recovery", "seen", "unseen"),
    [
        ("58", ("J-", False), ("UJ", False)),
        ("10", ("J-", False), ("UJ", False)),
        ("9.9", ("J-", True), ("", True)),
        ("131", ("J+", False), None),
        ("100", None, None),
    ],
)
@pytest.mark.parametrize(
    ("row", "code"), [(SURROGATE, "surrogate-out"), (CONTROL, "control-out"), (CHECK, "calibration-check-out")]
)
def test_side_and_size_of_a_recovery_decide_the_proposal(
    row: int, code: str, recovery: str, seen: tuple[str, bool] | None, unseen: tuple[str, bool] | None
) -> None:
    """Low: J- and UJ; under 10 %: rejection for a person to consider; high: J+ for detections; within: nothing."""
    ev = evaluated(cell_at(QC, SURROGATE, "value", "100"), cell_at(QC, row, "value", recovery))
    found, detected = proposed(ev, code), detection(ev)
    assert {qualifier for key, qualifier in found.items() if detected[key]} == ({seen} if seen else set())
    assert {qualifier for key, qualifier in found.items() if not detected[key]} <= ({unseen} if unseen else set())
    assert bool(unseen) == any(not detected[key] for key in found)


def test_a_surrogate_acts_on_its_sample_and_a_control_on_its_compound_in_its_batch() -> None:
    """58 % in 04417-039: its 22 results. 51 % of tetrachloroethene in B1: that compound in B1's reported samplers."""
    ev = evaluated(cell_at(QC, CONTROL, "value", "51"))
    assert {sample for sample, _ in at(ev, SURROGATE).reach} == {"04417-039"}
    assert len(at(ev, SURROGATE).reach) == len(ev.compounds)
    batch = {row.lab_sample_id: row for row in ev.survey.rows(LabSample)}
    reach = at(ev, CONTROL).reach
    assert {analyte for _, analyte in reach} == {"pce"}
    assert {batch[sample].batch_id for sample, _ in reach} == {"B1"}
    assert all(batch[sample].sampler_id for sample, _ in reach)
    reported = [row for row in batch.values() if row.sampler_id and row.reportable != "no"]
    assert len(reach) == sum(row.batch_id == "B1" for row in reported)
    low = proposed(ev, "control-out")
    assert set(low) == set(reach)


@pytest.mark.parametrize(
    ("change", "beyond", "compounds"),
    [
        (cell_at(QC, CONTROL, "name", "PCE"), "", {"pce"}),
        (cell_at(QC, CONTROL, "name", "127-18-4"), "", {"pce"}),
        (cell_at(QC, CONTROL, "name", "Camphor"), NO_COMPOUND, set()),
        (cell(LAB, "04417-B1-LC", "batch_id", ""), NO_BATCH, set()),
    ],
)
def test_a_control_bears_on_the_compound_that_it_names_or_says_why_on_none(
    change: Change, beyond: str, compounds: set[str]
) -> None:
    """A synonym and a CAS number name the compound; another name, or no batch, marks nothing and is told."""
    folder = changed(cell_at(QC, CONTROL, "value", "51"), change)
    ev = evaluate(load(folder))
    assert at(ev, CONTROL).beyond == beyond
    assert {analyte for _, analyte in at(ev, CONTROL).reach} == compounds
    (finding,) = (f for f in survey_findings(folder) if f.code == "control-out")
    assert bool(finding.touches) == bool(compounds)
    assert ("no result is qualified" in finding.found) == bool(beyond)


def test_an_internal_standard_acts_on_its_sample_without_a_direction() -> None:
    """Row 26 as an internal standard of 40 %: J and UJ in its own sample, and no word of rejection under 10 %."""
    for value in ("40", "5"):
        ev = evaluated(cell_at(QC, 26, "qc_type", "internal_standard"), cell_at(QC, 26, "value", value))
        assert {sample for sample, _ in at(ev, 26).reach} == {at(ev, 26).lab_sample_id}
        assert set(proposed(ev, "internal-standard-out").values()) == {("J", False), ("UJ", False)}


def test_a_sample_analysed_too_late_is_estimated_low() -> None:
    """More than 30 d after retrieval: J- for detections, UJ for non-detects, every result of that sample."""
    ev = evaluated(cell(LAB, "04417-002", "analysed_at", "2025-12-11T09:10"))
    found, detected = proposed(ev, "hold-time-exceeded"), detection(ev)
    assert {sample for sample, _ in found} == {"04417-002"}
    assert all(found[key] == (("J-" if detected[key] else "UJ"), False) for key in found)
    assert {found[key] for key in found} == {("J-", False), ("UJ", False)}


def test_every_mark_of_a_result_leads_to_a_finding() -> None:
    """What stands beside a number is told among the findings, under the same key."""
    folder = changed(
        cell_at(QC, CONTROL, "value", "5"), cell_at(QC, CHECK, "value", "140"),
        cell_at(QC, 26, "qc_type", "internal_standard"), cell_at(QC, 26, "value", "40"),
        cell(LAB, "04417-002", "analysed_at", "2025-12-11T09:10"),
    )  # fmt: skip
    keys = {finding.key for finding in survey_findings(folder)}
    marks = {mark.key for found in evaluate(load(folder)).marks.by_result.values() for mark in found}
    assert {key.partition(":")[0] for key in marks} >= {*CODES.values(), "hold-time-exceeded"}
    assert marks <= keys


def context(*changes: Change) -> Context:
    ev = evaluated(*changes)
    return Context(ev.survey, ev, ())


def test_limits_are_printed_with_their_true_source() -> None:
    """The laboratory's limits under the laboratory's source; without any, the default ones under theirs."""
    plan = "laboratory's quality plan EL-QP (invented)"
    assert f"{plan} (138)" in surrogates_table(context()).note
    own = {"lower": "", "upper": "", "limit_source": ""}

    def unlimited(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        return [row | own if number == SURROGATE else row for number, row in enumerate(rows, start=2)]

    table = surrogates_table(context(builders.table(QC, unlimited)))
    assert f"{plan} (137); California soil-gas advisory, 6.3 (1)" in table.note
    assert [cell.text for cell in table.rows[0][2:6]] == ["4-Bromofluorobenzene", "58 %", "70 to 130 %", "low"]


def test_no_record_of_quality_control_is_said_to_be_none() -> None:
    """A file with its header only gives no count of what was within limits."""
    found = context(builders.table(QC, lambda _: []))
    assert surrogates_table(found).note == controls_table(found).note == "No measurement is on record."


def test_a_limit_on_one_side_judges_on_that_side() -> None:
    """At least 90 %: 88 % is low, although no upper limit is given; a value without any limit is not judged."""
    ev = context(cell_at(QC, CONTROL, "lower", "90"), cell_at(QC, CONTROL, "upper", ""))
    row = controls_table(ev).rows[0]
    assert [cell.text for cell in row[3:]] == ["88 %", "at least 90 %", "no, low"]
    ev = context(cell_at(QC, CONTROL, "lower", ""), cell_at(QC, CONTROL, "upper", ""))
    assert [cell.text for cell in controls_table(ev).rows[0][4:]] == ["–", "no limits given"]


def test_every_rule_is_printed_with_its_source() -> None:
    """A line for each estimate and one for blanks, none without a source or the words that there is none."""
    rows = rules_table(context()).rows
    assert len(rows) == len(ESTIMATES) + 1
    assert all(row[-1].text for row in rows)
    assert {(one.code, one.side) for one in ESTIMATES} >= {(code, side) for code in BIASED for side in OUT}


def test_how_a_source_is_known_is_said_once_in_the_list_of_sources() -> None:
    """Every published source of a default limit, a proposal or a mean is listed, and no citation says it again."""
    named: list[Any] = [*DEFAULTS, *ESTIMATES, *DEMANDS]
    sources = {source for one in named for source in one.source.split("; ")} - {OWN, PRACTICE}
    assert sources == set(CITED)
    assert [source for source in sources if "memory" in source or "325B 8" in source] == []
