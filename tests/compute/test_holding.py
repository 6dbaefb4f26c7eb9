"""Holding times: worked answers, across zones and the change of clocks."""

from __future__ import annotations

import pytest
from builders import cells, changed, load, survey_findings

from sitegen.checking import Checked
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.quality.holding import Held, batch_holds
from sitegen.project.tables import LabSample


def test_days_from_retrieval_to_analysis_are_those_of_utc(checked: Checked) -> None:
    """SG-50 came out on 5 November 08:24 in Chicago (UTC-6) and ran on 17 November 09:10 in Denver (UTC-7).

    That is 14:24 and 16:10 UTC: 12 days and 106 minutes.
    """
    held = {one.sampler_id: one for one in _evaluation(checked).holding.values()}
    assert held["0047102"].days == pytest.approx(12 + 106 / 1440, abs=1e-9)


def test_each_batch_gives_its_shortest_and_longest(checked: Checked) -> None:
    """By hand from lab_samples.csv and deployments.csv; blanks, controls and the run not reported have none."""
    ev = _evaluation(checked)
    holds = {hold.batch_id: hold for hold in batch_holds(ev.holding.values(), 30)}
    assert not {"0047101", "0047163", ""} & {one.sampler_id for one in ev.holding.values()}
    assert sum(hold.samples for hold in holds.values()) == len(ev.holding) == 57
    # SG-30 was pulled on 28 October 07:04 CDT (12:04 UTC); its run stands in lab_samples.csv.
    assert holds["B1"].longest_days == pytest.approx(20 + (17 * 60 + 28 - 12 * 60 - 4) / 1440, abs=1e-9)
    assert not any(hold.over for hold in holds.values())


def test_the_limit_itself_is_not_over() -> None:
    """30.0 days are within 30; a minute more is over, and named."""
    held = [Held("L1", "1", "B1", 30.0), Held("L2", "2", "B1", 30.0 + 1 / 1440), Held("L3", "3", "B2", 4.5)]
    first, second = batch_holds(held, 30)
    assert (first.samples, first.shortest_days, first.over) == (2, 30.0, ("L2",))
    assert (second.batch_id, second.shortest_days, second.longest_days, second.over) == ("B2", 4.5, 4.5, ())


def test_table_and_finding_name_the_same_sample() -> None:
    """Analysed on 6 December at 09:00 in Denver, 31 days and 96 minutes after retrieval: one finding, one row over."""
    late = next(run for run in load(changed()).rows(LabSample) if run.sampler_id == "0047102")
    folder = changed(cells("lab/lab_samples.csv", late.lab_sample_id, analysed_at="2025-12-06T09:00"))
    found = [f for f in survey_findings(folder) if f.code == "hold-time-exceeded"]
    assert [f.subject for f in found] == [late.lab_sample_id]
    assert found[0].found == "31.1 days after retrieval"
    over = [name for hold in batch_holds(evaluate(load(folder)).holding.values(), 30) for name in hold.over]
    assert over == [late.lab_sample_id]


def _evaluation(checked: Checked) -> Evaluation:
    assert checked.evaluation is not None
    return checked.evaluation
