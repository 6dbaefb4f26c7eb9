"""A reader finds what was found, who may be affected and what is next, in this order, and only what is on record."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest
from builders import Change, cell, changed, content, every, load, removed, setting, table

from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.report.assemble import assemble, draft
from sitegen.report.bound.answer import MOST_CHARS, next_blocks, people_blocks, state_line
from sitegen.report.record.pages import Block, Callout, Prose, Section, Tiles
from sitegen.report.write.context import Context
from sitegen.report.write.whereabouts import where_text

FEATURES, LOCATIONS = "locations/features.geojson", "locations/locations.csv"
SUMMARY, NEXT = "text/summary.md", "text/recommendations.md"


@cache
def context(*changes: Change, held: bool = False) -> Context:
    survey = load(changed(*changes))
    hold = Finding("seal-differs", Severity.HOLD, "RB-1", Where("field/custody.csv", 2), "x", "y", "z", "bag")
    return Context(survey, evaluate(survey), (hold,) if held else ())


def said(blocks: tuple[Block, ...]) -> str:
    return " ".join(text for block in blocks for text in _texts(block)).replace("\\", "")


def _texts(block: Block) -> Iterator[str]:
    if isinstance(block, Prose):
        yield block.markdown
    if isinstance(block, Callout):
        yield block.markdown
    if isinstance(block, Section):
        for inner in block.blocks:
            yield from _texts(inner)


def without_air() -> tuple[Change, ...]:
    """Leave out the points of air, and what was set out there."""
    air = ("IA-01", "IA-02", "OA-01")
    kept = (
        table(LOCATIONS, lambda rows: [row for row in rows if row["location_id"] not in air]),
        table("field/deployments.csv", lambda rows: [row for row in rows if row["location_id"] not in air]),
    )
    return (*kept, removed("field/products.csv"))


@pytest.mark.parametrize("printed", [False, True])
def test_the_answer_comes_in_its_order(printed: bool) -> None:
    survey = load(changed())
    report = assemble(draft(survey, evaluate(survey), ()))
    if printed:
        blocks = next(chapter.blocks for chapter in report.chapters if chapter.id == "summary")
    else:
        blocks = next(page.blocks for page in report.pages if page.ref.id == "start")
    heads = [block.title for block in blocks if isinstance(block, Section)]
    on_site = ("Indoor air and screening levels", "Maps")
    whole = ["What was found", "Who may be affected", "Recommended next", *on_site, "Confidence in the results"]
    expected = [head for head in (*whole, "Open items") if not (printed and head in on_site)]
    assert heads[: len(expected)] == expected
    assert isinstance(blocks[0], Prose)
    assert not [block for block in blocks[:4] if isinstance(block, Tiles)]


def test_own_words_come_first_and_long_ones_go_on_in_a_later_chapter_of_print() -> None:
    paragraphs = [f"Paragraph {number} " + "of many words " * 30 for number in range(1, 6)]
    survey = load(changed(content(SUMMARY, "\n\n".join(paragraphs).encode())))
    chapters = {chapter.id: chapter for chapter in assemble(draft(survey, evaluate(survey), ())).chapters}
    first = said(chapters["summary"].blocks)
    later = said(chapters["interpretation"].blocks)
    shown = [one.split(" of")[0] for one in paragraphs if one.split(" of")[0] + " " in first]
    assert shown == ["Paragraph 1", "Paragraph 2"]
    assert sum(len(one) for one in paragraphs[:3]) > MOST_CHARS["summary"]
    assert first.index("Paragraph 1") < first.index("Chlorinated ethenes")
    assert "The summary continues in the chapter" in first
    assert [f"Paragraph {number} " in later for number in range(1, 6)] == [False, False, True, True, True]


def test_recommendations_are_the_first_of_the_list_with_the_way_to_all() -> None:
    items = "".join(f"{number}. Item {number} at SG-0{number}.\n" for number in range(1, 8))
    blocks = next_blocks(context(content(NEXT, f"Some words.\n\n{items}\nLast words.\n".encode())))
    told = said(blocks)
    assert [f"Item {number} " in told for number in range(1, 8)] == [True] * 5 + [False] * 2
    assert "2 further items: see [Recommendations](ref:0)" in told
    assert "words." not in told
    assert "utilities located and marked" in told


def test_recommendations_that_are_no_list_are_shown_by_their_first_paragraph() -> None:
    told = said(next_blocks(context(content(NEXT, b"First words.\n\n" + b"More words. " * 60))))
    assert "First words." in told
    assert "More words." not in told
    assert "Full text: [Recommendations](ref:0)" in told


def test_without_recommendations_none_are_on_record() -> None:
    assert said(next_blocks(context(removed(NEXT)))) == "No recommendations are on record."


def test_indoor_air_that_was_not_sampled_is_said_with_its_scope_and_the_occupied_building() -> None:
    made = context(*without_air())
    told = said(people_blocks(made))
    assert "No indoor-air sampler on record: Office (occupied)." in told
    unnamed = context(*without_air(), removed(FEATURES))
    counted = f"none of {len(made.evaluation.placements)} installed samplers on record was in indoor air"
    assert counted in said(people_blocks(unnamed))


def test_without_a_placement_on_record_nothing_is_said_to_be_not_sampled() -> None:
    emptied = Change("field/deployments.csv", lambda content: content.splitlines(keepends=True)[0])
    told = said(people_blocks(context(*without_air(), emptied)))
    assert "No indoor-air sampler on record: Office (occupied)." in told
    assert "not sampled" not in told
    unnamed = said(people_blocks(context(*without_air(), emptied, removed(FEATURES))))
    assert "No sampling of indoor air is on record." in unnamed


def test_without_features_occupancy_is_not_known() -> None:
    told = said(people_blocks(context(*without_air(), removed(FEATURES))))
    assert "No building is on record, so occupancy cannot be determined." in told


def test_results_compared_and_none_above_a_level_are_counted() -> None:
    made = context(every("reference/screening_levels.csv", lambda _: {"value": "90000"}))
    told = said(people_blocks(made))
    assert "no result exceeds a screening level that applies, among 10 pairs of indoor point and compound" in told


def test_results_compared_with_nothing_are_not_said_to_be_below() -> None:
    told = said(people_blocks(context(removed("reference/screening_levels.csv"))))
    assert "no indoor-air result could be compared with a screening level" in told
    assert "no result exceeds" not in told


def test_the_state_of_the_report_is_one_line() -> None:
    (line,) = state_line(context(held=True))
    assert (
        line.markdown
        == "**Draft for review**: 1 finding has to be closed before this report is issued. See [Open items](ref:0)."
    )
    (line,) = state_line(context())
    assert line.markdown == "**Draft for review**. See [Open items](ref:0)."
    (line,) = state_line(context(setting('level = "internal"', 'level = "client"'), held=True))
    assert "1 major finding without a decision on record" in line.markdown
    assert state_line(context(setting('status = "review"', 'status = "issued"'))) == ()


def test_a_point_without_a_named_place_has_its_id_alone() -> None:
    bare = context(removed(FEATURES), cell(LOCATIONS, "SS-01", "building", "NA"))
    assert where_text(bare, "SS-01") == "at SS-01"
    assert where_text(context(), "SS-01") == "beneath the Laundry (SS-01)"
