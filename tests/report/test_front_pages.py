"""The first page says what can't wait, with its marks; the maps and the page say the same of every mark."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from datetime import datetime
from functools import cache
from pathlib import Path

import builders

from sitegen.checks.run import check_evaluation, check_survey
from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import in_order
from sitegen.project.schema import AIR_MEDIA, SOIL_MEDIA
from sitegen.report.assemble import assemble, draft
from sitegen.report.record.pages import Block, Callout, Chapter, Page, Prose, Ref, Report, Section, Table, Tile, Tiles
from sitegen.report.results.mapdata import map_data, place_values
from sitegen.report.results.occupied import OCCUPIED
from sitegen.report.results.pressing import bag_marks_text, levels_callout
from sitegen.report.write.context import Context

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
AIR = Ref("page", "air", "screening")


@cache
def made(*changes: builders.Change) -> tuple[Report, Context]:
    survey = builders.load(builders.changed(*changes))
    evaluation = evaluate(survey)
    findings = in_order([*check_survey(survey), *check_evaluation(survey, evaluation)])
    return assemble(draft(survey, evaluation, findings)), Context(survey, evaluation, findings)


def inside(blocks: tuple[Block, ...]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Section):
            yield from inside(block.blocks)


def start(report: Report) -> Page:
    return next(page for page in report.pages if page.ref == Ref("page", "start"))


def summary(report: Report) -> Chapter:
    return next(chapter for chapter in report.chapters if chapter.id == "summary")


def callouts(holder: Page | Chapter) -> dict[str, Callout]:
    return {block.title: block for block in inside(holder.blocks) if isinstance(block, Callout)}


def rows_of(name: str) -> list[dict[str, str]]:
    with (EXAMPLE / name).open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def above_by_hand() -> set[tuple[str, str]]:
    """Return (point, compound) above a level: C = 1000 m/(U t), straight from the files.

    Air was sampled across the clock change of 2 November 2025: the local times are an hour short.
    """
    runs = {row["sampler_id"]: row["lab_sample_id"] for row in rows_of("lab/lab_samples.csv")}
    masses = {(row["lab_sample_id"], row["analyte_id"]): row for row in rows_of("lab/results.csv")}
    media = {row["location_id"]: row["medium"] for row in rows_of("locations/locations.csv")}
    rates = {
        (row["analyte_id"], row["medium"]): float(row["rate_ml_min"]) for row in rows_of("reference/uptake_rates.csv")
    }
    found = set()
    for placed in rows_of("field/deployments.csv"):
        medium = media[placed["location_id"]]
        for level in rows_of("reference/screening_levels.csv"):
            result = masses.get((runs.get(placed["sampler_id"], ""), level["analyte_id"]))
            rate = rates.get((level["analyte_id"], medium))
            if level["medium"] != medium or rate is None or result is None or result["detected"] != "yes":
                continue
            stay = datetime.fromisoformat(placed["retrieved_at"]) - datetime.fromisoformat(placed["placed_at"])
            minutes = stay.total_seconds() / 60 + 60
            if 1000 * float(result["value"]) / (rate * minutes) > float(level["value"]):
                found.add((placed["location_id"], level["analyte_id"]))
    return found


def test_every_result_above_a_level_is_told_of_who_may_be_affected_on_site_and_in_print() -> None:
    report, context = made()
    over = above_by_hand()
    assert {"IA-01", "IA-02"} == {point for point, _ in over}
    for holder in (start(report), summary(report)):
        box = next(box for title, box in callouts(holder).items() if "screening level" in title)
        assert box.tone == "caution"
        assert "notify the responsible parties now" in box.title
        said = box.markdown.replace("\\", "")
        for point, compound in over:
            (told,) = re.findall(rf"{context.name(compound)} \(([^()]*)\)", said.split("At or below")[0])
            assert re.search(rf"{point}: [\d.]+ µg/m³ against [\d.]+", told)
        assert "These results are qualified: seal differs, unsigned." in said
        assert "responsible authority" in box.markdown
        assert "licensed professional" in box.markdown
        assert OCCUPIED in [cell.ref for cell in box.refs]
    people = next(block for block in start(report).blocks if isinstance(block, Section) and block.id == "people")
    assert isinstance(people.blocks[0], Callout)
    assert people.blocks[0].title.startswith("Above a screening level")


def test_each_result_above_a_level_is_a_flag_at_its_row() -> None:
    _, context = made()
    found = {finding.subject: finding for finding in context.findings if finding.code == "above-screening-level"}
    assert set(found) == {f"{point}+{compound}" for point, compound in above_by_hand()}
    pce = found["IA-01+pce"]
    assert pce.found == "a mean Tetrachloroethene concentration of 14 µg/m³ in indoor air"
    assert pce.expected == "at most 8 µg/m³ (EX-1, residential)"
    row = rows_of("lab/results.csv")[(pce.where.row or 0) - 2]
    assert (row["analyte_id"], row["value"]) == ("pce", "212")


def test_the_tile_counts_results_and_not_comparisons() -> None:
    """Two indoor points, five compounds with levels; vinyl chloride can be told at neither."""
    (tiles,) = [block for block in start(made()[0]).blocks if isinstance(block, Tiles)]
    (tile,) = [tile for tile in tiles.tiles if tile.ref == AIR]
    assert tile == Tile("3 of 10", "concentrations above a screening level, duplicates included", "2 inconclusive", AIR)


def test_nothing_is_said_where_nothing_is_above_and_soil_gas_is_never_compared() -> None:
    """With levels far up the box goes; with levels for soil gas far down nothing comes."""

    def levels(rows: list[builders.Row]) -> list[builders.Row]:
        for row in rows:
            row["value"] = "0.001" if row["medium"] == "soil_gas" else "90000"
        return rows

    report, context = made(builders.table("reference/screening_levels.csv", levels))
    assert levels_callout(context) == ()
    assert not [title for title in callouts(start(report)) if "screening" in title]
    assert not [finding for finding in context.findings if finding.code == "above-screening-level"]


def test_what_holds_the_issue_is_named_in_one_line_each_with_its_link_and_whose_turn_it_is() -> None:
    report, context = made()
    box = callouts(start(report))["Outstanding before issue"]
    lines = {cell.ref: cell.text for cell in box.refs}
    held = [finding for finding in context.findings if finding.severity.value == "hold"]
    assert len(held) == 2
    for finding in held:
        assert lines[Ref("finding", finding.key)].startswith("Blocks issue: ")
    assert "raised by LR-1, not answered yet" in lines[Ref("finding", "comment-must-fix:C-1")]
    answered = [cell.text for cell in box.refs if cell.ref == Ref("page", "review", "comments")]
    assert [text.split(" on ")[0] for text in answered] == ["Comment C-2", "Comment C-3"]
    assert all("awaiting acceptance by LR-1" in text for text in answered)
    assert "Signatures: 0 of 2. Next: PM-1 and LR-1." in box.markdown.replace("\\", "")


def test_the_summary_links_the_printed_report_and_says_the_points_once() -> None:
    text = " ".join(block.markdown for block in inside(start(made()[0]).blocks) if hasattr(block, "markdown"))
    assert "](downloads/report.pdf)" in text
    said = text.replace("\\", "")
    assert (
        "55 planned + 1 added in the field − 1 not installed = 55 with samplers, of which 54 were retrieved, 1 was lost"
        in said
    )


def test_a_headline_keeps_qualifier_and_marks() -> None:
    report, _ = made()
    found = next(block for block in start(report).blocks if isinstance(block, Section) and block.id == "found")
    said = " ".join(block.markdown for block in found.blocks if isinstance(block, Prose)).replace("\\", "")
    assert "[53,300 E](ref:0) ng per sampler (qualified: seal differs, unsigned, over range)" in said
    page = next(page for page in report.pages if page.ref == Ref("compound", "pce"))
    assert "53,300 E ng per sampler" in page.lead
    tables = [b for b in inside(page.blocks) if isinstance(b, Table) and b.id == "summary-pce"]
    at = [column.key for column in tables[0].columns].index("range")
    assert tables[0].rows[0][at].text == "2.1 J to 53,300 E"


def test_the_map_tells_every_mark_of_every_result_and_rings_those_of_its_own() -> None:
    """What the pop-up says of a point and a compound is what the tables say, no mark less."""
    _, context = made()
    data = map_data(context)
    seen = 0
    for layer in data.layers:
        rows = {row.location_id: row for row in context.by_compound.get(layer.id, [])}
        for point, value in zip(data.points, layer.values, strict=True):
            row = rows.get(point.location_id)
            if row is not None:
                told = [*point.marks, *value.marks]
                assert {(m.word, m.reason) for m in told} == {(m.word, m.reason) for m in context.marks(row)}
                assert {m.word for m in told if m.ring} == {m.word for m in context.ringed(row)}
                seen += len(told)
    assert seen > 1000


def test_air_points_have_no_class_on_drawn_maps_and_the_soil_points_are_all_there() -> None:
    _, context = made()
    for compound in context.evaluation.compounds:
        values = place_values(context, compound.analyte_id)
        for point, value in zip(context.evaluation.points, values, strict=True):
            assert value.size_class is None or point.medium in SOIL_MEDIA
            assert point.medium not in AIR_MEDIA or not value.marked


def test_the_bags_marks_that_cells_leave_out_are_named_below_the_table() -> None:
    report, context = made()
    assert bag_marks_text(context) == "RB-1: seal differs, unsigned; RB-2: custody"
    heat = next(page for page in report.pages if page.ref == Ref("page", "heat")).blocks[0]
    assert isinstance(heat, Table)
    assert "RB-1: seal differs, unsigned; RB-2: custody." in heat.note


def test_limits_are_headed_by_words_with_their_key_last() -> None:
    page = next(page for page in made()[0].pages if page.ref == Ref("page", "limits"))
    table = next(block for block in inside(page.blocks) if isinstance(block, Table) and block.id.startswith("limits"))
    assert table.columns[0].key == "meaning"
    assert all(" " in row[0].text or row[0].text.isalpha() for row in table.rows)
    assert all(row[-1].tone == "muted" for row in table.rows)
