"""Points are counted once: planned and added make all, groups add up, custody marks stand beside."""

from __future__ import annotations

import builders
import pandas as pd
import pytest

from sitegen.compute.evaluate import evaluate
from sitegen.compute.field.completeness import Completeness
from sitegen.compute.marks import MarkFact, Marks
from sitegen.compute.results.summary import summarise


def of_example(*changes: builders.Change) -> Completeness:
    return evaluate(builders.load(builders.changed(*changes))).completeness


def test_planned_and_added_points_make_all_and_each_key_adds_up_to_all() -> None:
    """55 planned + 1 added - 1 not done (SG-07) = 55 placed; SG-21 is lost: 54 recovered, 53 of them planned."""
    done = of_example()
    assert done.overall.counts[:4] == (55, 54, 53, 53)
    assert done.added.counts == (1, 1, 1, 1, 1)
    assert done.every.counts[:4] == (56, 55, 54, 54)
    assert done.every.counts[0] - done.every.counts[1] == 1
    for groups in done.by.values():
        assert tuple(map(sum, zip(*(group.counts for group in groups), strict=True))) == done.every.counts


def test_a_mark_of_the_bag_does_not_make_a_point_unusable_and_is_counted_beside() -> None:
    """Four planned points have a mark of their own: SG-16, SG-26, SG-30, SG-37. The rest carry their bag's alone."""
    done = of_example()
    lost = {"SG-21"}
    assert done.every.ids[2] - done.every.ids[4] == {"SG-16", "SG-26", "SG-30", "SG-37"} - lost
    assert done.chained == done.every.ids[4]
    assert done.chained_planned == done.overall.counts[4] == 49


def test_without_the_gap_of_one_bag_only_the_other_bag_is_counted() -> None:
    """RB-2's gap is closed when its bag is accepted at the minute at which it was handed over."""

    def closed(rows: list[builders.Row]) -> list[builders.Row]:
        for row in rows:
            if row["subject_id"] == "RB-2" and row["event"] == "accepted" and row["at"] == "2025-11-06T19:30":
                row["at"] = "2025-11-06T17:20"
        return rows

    done = of_example(builders.table("field/custody.csv", closed))
    _, rows = builders.rows_of(builders.example().files["field/deployments.csv"].content)
    first = {row["location_id"] for row in rows if row["bag_id"] == "RB-1" and row["duplicate_of"] == "NA"}
    assert done.chained == done.every.ids[4] & first
    assert 0 < len(done.chained) < len(done.every.ids[4])


@pytest.mark.parametrize(
    ("scopes", "unmarked", "chained"),
    [((), True, False), (("chain",), True, True), (("sampler",), False, False), (("sampler", "chain"), False, True)],
)
def test_own_marks_and_marks_of_a_bag_are_told_apart(scopes: tuple[str, ...], unmarked: bool, chained: bool) -> None:
    """Only a mark of the sampler's own makes it marked; only one of custody makes it chained."""
    marks = Marks({"S": tuple(MarkFact("x", scope, "S") for scope in scopes)}, {})  # type: ignore[arg-type]
    assert (marks.unmarked("S"), marks.chained("S")) == (unmarked, chained)


def result(point: str, value: float | None, lab: str = "", person: str = "") -> dict[str, object]:
    detected = value is not None
    return {
        "lab_sample_id": point, "analyte_id": "pce", "location_id": point, "unit": "ng", "detected": detected,
        "value": float("nan") if value is None else value, "rl": 10.0, "lod": 5.0, "lab_qualifier": lab,
        "validation_qualifier": person, "_row": 2,
    }  # fmt: skip


def test_lowest_and_highest_keep_the_qualifier_that_prints() -> None:
    """A person's qualifier before the laboratory's; of equal values that of the first point by id."""
    rows = [result("B", 6.0, "J"), result("A", 53_300.0, "E"), result("C", 40.0), result("D", None, "U")]
    made = summarise(pd.DataFrame(rows), "soil", frozenset())
    assert (made.lowest, made.lowest_qualifier, made.highest, made.highest_qualifier) == (6.0, "J", 53_300.0, "E")
    judged = summarise(pd.DataFrame([*rows, result("E", 60_000.0, "E", "J+")]), "soil", frozenset())
    assert (judged.highest_qualifier, judged.highest_at) == ("J+", "E")
    equal = summarise(pd.DataFrame([result("Z", 7.0, "J"), result("Y", 7.0)]), "soil", frozenset())
    assert (equal.lowest_qualifier, equal.highest_qualifier, equal.highest_at) == ("", "", "Y")
    none = summarise(pd.DataFrame([result("D", None, "U")]), "soil", frozenset())
    assert (none.lowest_qualifier, none.highest_qualifier) == ("", "")


def test_a_percentile_on_an_estimate_keeps_its_qualifier() -> None:
    """The median of three detections is the middle one, over the range and said so."""
    rows = [result("A", 20.0), result("B", 900.0, "E"), result("C", 1_000.0)]
    assert summarise(pd.DataFrame(rows), "soil", frozenset()).percentiles[0].qualifier == "E"


DEPLOYMENTS = "field/deployments.csv"


@pytest.mark.parametrize(
    ("columns", "usable", "unnoted"), [(("condition",), 0, 51), (("depth_ft",), 4, 45), ((), 49, 0)]
)
def test_a_point_without_its_samplers_condition_or_depth_is_not_usable(
    columns: tuple[str, ...], usable: int, unnoted: int
) -> None:
    """Blank conditions or depths hide marks and can't raise the count of points without one.

    Without conditions only SG-16 (refusal) and SG-30 (exposure) have a mark, of 53 analysed; without
    depths four have one, and four that need no depth are left: one sub-slab, three of air.
    """
    done = of_example(builders.every(DEPLOYMENTS, lambda _: dict.fromkeys(columns, "")))
    assert (done.overall.counts[4], done.unnoted_planned) == (usable, unnoted)
    assert done.overall.counts[3] == 53


LOCATIONS = "locations/locations.csv"


def test_a_blank_surface_is_a_group_of_its_own() -> None:
    """A soil point whose surface is not on record counts neither as unpaved nor as bare; air has no surface."""
    survey = evaluate(builders.load(builders.changed(builders.cell(LOCATIONS, "SS-01", "surface", ""))))
    counts = {group: s.analysed for (analyte, group), s in survey.summaries.items() if analyte == "pce"}
    assert (counts["soil"], counts["paved"], counts["unpaved"], counts["surface_unrecorded"]) == (51, 10, 40, 1)
    surfaces = {stages.group: stages.counts[0] for stages in survey.completeness.by["surface"]}
    assert (surfaces["not recorded"], surfaces["air"]) == (1, 3)
    assert "none" not in surfaces


LAB = "lab/lab_samples.csv"
RERUN = builders.cells(LAB, "04417-019R", batch_id="B3")
"""SS-01's sampler was run twice; the second run, for information, in another batch than the one reported."""


def batches_of(point: str, *changes: builders.Change) -> list[str]:
    return [stages.group for stages in of_example(*changes).by["batch"] if point in stages.ids[0]]


@pytest.mark.parametrize(
    ("changes", "batch"),
    [
        ((RERUN,), "B1"),
        ((RERUN, builders.cells(LAB, "04417-019", reportable="no")), "no reportable run"),
        ((RERUN, builders.cells(LAB, "04417-019", batch_id="")), "not recorded"),
    ],
)
def test_a_point_counts_in_the_batch_of_its_reportable_run(changes: tuple[builders.Change, ...], batch: str) -> None:
    """A run for information decides nothing, wherever it stands in the file; without a reportable one that is said."""
    assert batches_of("SS-01", *changes) == [batch]


def test_two_reportable_runs_name_both_batches() -> None:
    """One compound reported from the re-run, the others from the first: the point counts once, in both."""
    moved = builders.cells("lab/results.csv", "04417-019+pce", lab_sample_id="04417-019X")
    second = builders.row_added(
        LAB, lab_sample_id="04417-019X", sampler_id="0047120", type="sample", batch_id="B2", reportable="yes"
    )
    assert batches_of("SS-01", RERUN, second, moved) == ["B1 and B2"]
