"""What becomes of statements and claims without the qualified samplers, and at other limits: worked by hand.

The survey is that of `byhand_survey`. SG-3 (exposure off the median) and SG-4 (water inside) have a qualified sampler.
Tetrachloroethene: SG-1 620, SG-2 150, SG-3 <10 (MDL 3), SG-4 10,800, SG-5 44. Benzene: 55, 26, 140, <200 (50), <20 (5).
"""

from __future__ import annotations

from collections.abc import Iterable

import byhand_survey as survey
import pytest
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.sensitivity import (
    Detections,
    Direction,
    Highest,
    Outcome,
    Ranking,
    Recomputed,
    Verdict,
    direction,
    recomputed,
    variants,
)
from sitegen.compute.results.relate import FlowPath
from sitegen.compute.results.relations import Along


def line(*names: str) -> FlowPath:
    points = tuple(Along(name, 10.0 * at, 0.0) for at, name in enumerate(names))
    return FlowPath("Drain", public=True, length_m=100.0, points=points)


def found(lines: Iterable[FlowPath] = (), **texts: str) -> list[Recomputed]:
    """Return the statements of the survey with other sentences."""
    changes = {f"text/{name}.md": text for name, text in ({"summary": "", "conclusions": ""} | texts).items()}
    record = evaluate(load(survey.folder(survey.FILES | changes)))
    return list(recomputed(record, variants(record), tuple(lines)))


def test_the_variants_leave_out_qualified_samplers_and_lift_non_detects() -> None:
    """Of six points with results two are left out; eleven non-detects have an MDL below their RL, 2+3+2+2+2 of SG-2 on.

    The duplicate at SG-1 is no result of a point, so that its non-detect is not counted.
    """
    record = evaluate(load(survey.folder(survey.FILES)))
    without, lifted = variants(record)
    assert (without.name, without.left_out, without.lifted) == ("unqualified", ("SG-3", "SG-4"), 0)
    assert (lifted.name, lifted.left_out, lifted.lifted) == ("reporting_limit", (), 11)
    left = set(without.evaluation.primary["location_id"])
    assert left == {"SG-1", "SG-2", "SG-5", "IA-1"}
    blanks = without.evaluation.store["type"].isin(["trip_blank", "field_blank"])
    assert int(blanks.sum()) == 8, "two blanks of four compounds stay"


def test_each_statement_is_computed_again_of_each_variant() -> None:
    """Highest, ranking and detections of the leading compounds; at the reporting limit none of them changes."""
    made = {(one.subject.kind, one.subject.group or one.subject.analyte_id): one for one in found()}
    expected = {
        ("highest", "chlorinated_ethenes"): (Highest("pce", "SG-4"), Highest("pce", "SG-1")),
        ("highest", "fuel_aromatics"): (Highest("benzene", "SG-3"), Highest("benzene", "SG-1")),
        ("ranking", "pce"): (Ranking(("SG-4", "SG-1", "SG-2")), Ranking(("SG-1", "SG-2", "SG-5"))),
        ("ranking", "benzene"): (Ranking(("SG-3", "SG-1", "SG-2")), Ranking(("SG-1", "SG-2"))),
        ("detections", "pce"): (Detections(4, 5), Detections(3, 3)),
        ("detections", "benzene"): (Detections(3, 5), Detections(2, 3)),
    }
    assert {key: (one.answer, one.outcomes[0].now) for key, one in made.items()} == expected
    assert {one.outcomes[0].state for one in made.values()} == {"changed"}
    assert [one.outcomes[1] for one in made.values()] == [Outcome("unchanged", one.answer) for one in made.values()]


def test_a_direction_along_a_line_needs_three_points() -> None:
    """PCE falls at SG-4, SG-1, SG-2, SG-3; two of them are left without the qualified samplers."""
    (pce,) = [one for one in found([line("SG-4", "SG-1", "SG-2", "SG-3")]) if one.subject.analyte_id == "pce"][2:]
    assert pce.answer == Direction(-1, 0, 0)
    assert isinstance(pce.answer, Direction)
    assert (pce.answer.s, pce.answer.ordered) == (-6, 6)
    assert [one.state for one in pce.outcomes] == ["undetermined", "unchanged"]


def test_the_limit_of_a_non_detect_decides_which_pairs_have_an_order() -> None:
    """Benzene 140, 26, <5, <50: 26 has no order with <50. At RL <20 and <200 the 140 has none with the last either."""
    made = [one for one in found([line("SG-3", "SG-2", "SG-5", "SG-4")]) if one.subject.kind == "direction"]
    benzene = next(one for one in made if one.subject.analyte_id == "benzene")
    now = benzene.outcomes[1].now
    assert isinstance(benzene.answer, Direction)
    assert isinstance(now, Direction)
    assert (benzene.answer.s, benzene.answer.ordered, now.s, now.ordered) == (-4, 4, -3, 3)
    assert benzene.outcomes[1].state == "unchanged", "it still decreases"


@pytest.mark.parametrize(
    ("sentence", "answer", "states"),
    [
        ("Tetrachloroethene is higher at SG-1 than at SG-2.", "agrees", ["unchanged", "unchanged"]),
        ("Tetrachloroethene is highest at SG-4.", "agrees", ["undetermined", "unchanged"]),
        # of SG-1 to SG-5 SG-4 is the highest, without it SG-1
        ("Tetrachloroethene is highest at SG-1.", "differs", ["changed", "unchanged"]),
        # 7 J at SG-1 is above the MDL of 4 at SG-2 and below its RL of 12
        ("cis-1,2-Dichloroethene is higher at SG-1 than at SG-2.", "agrees", ["unchanged", "undetermined"]),
    ],
)
def test_a_claim_is_judged_again(sentence: str, answer: str, states: list[str]) -> None:
    """A claim agrees or differs as in the ledger; where it becomes open or loses its result nothing is determined."""
    (claim,) = [one for one in found(conclusions=sentence) if one.subject.kind == "claim"]
    assert (claim.answer, [one.state for one in claim.outcomes]) == (Verdict(answer), states)


def test_a_claim_that_is_only_named_or_left_to_the_reviewer_is_no_statement() -> None:
    """A pair that is named together claims nothing, and an open claim has no answer that could change."""
    text = "Benzene at SG-1. Benzene is second highest at SG-1."
    assert not [one for one in found(conclusions=text) if one.subject.kind == "claim"]


def test_two_points_or_two_non_detects_have_no_direction() -> None:
    """Fewer than three points give none, nor do points of which no pair has an order; equal masses are no direction."""
    assert direction([(9.0, True), (4.0, True)]) is None
    assert direction([(9.0, False), (4.0, False), (5.0, False)]) is None
    assert direction([(4.0, True), (9.0, True), (4.0, True)]) == Direction(0, 0, 2)


def test_a_record_without_qualified_samplers_or_detection_limits_has_no_variant() -> None:
    """Nothing is repeated: both samplers are made intact and of usual exposure, and no MDL is given."""
    files = dict(survey.FILES)
    table = (
        files["field/deployments.csv"].replace("water_inside", "intact").replace("2025-11-07T13:15", "2025-11-06T13:15")
    )
    files["field/deployments.csv"] = table
    lines = [line.split(",") for line in files["lab/results.csv"].splitlines()]
    assert lines[0][6] == "mdl"
    files["lab/results.csv"] = "\n".join(
        ",".join([*one[:6], one[6] if at == 0 else "", *one[7:]]) for at, one in enumerate(lines)
    )
    record = evaluate(load(survey.folder(files)))
    assert variants(record) == ()
