"""The report opens with the highest of each group of compounds, and with a map that earns its place."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest
from builders import Change, cell, changed, every, load

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.picture.leading import highest_by_group
from sitegen.report.assemble import draft
from sitegen.report.bound.front import found_blocks, lead
from sitegen.report.record.pages import Figure, Prose
from sitegen.report.results.headlines import tops_table
from sitegen.report.results.mapdata import ground, map_data
from sitegen.report.write.context import Context

EXAMPLE = Path(__file__).resolve().parents[2] / "example_project"
ANALYTES, RESULTS, LAB = "lab/analytes.csv", "lab/results.csv", "lab/lab_samples.csv"


@cache
def context(*changes: Change) -> Context:
    survey = load(changed(*changes))
    return Context(survey, evaluate(survey), ())


def evaluation(*changes: Change) -> Evaluation:
    return context(*changes).evaluation


def rows_of(file: str) -> list[dict[str, str]]:
    with (EXAMPLE / file).open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def first_map(*changes: Change) -> tuple[str, str]:
    """Return the sentence above the first map, and the map's id ("" where there is none)."""
    found = context(*changes)
    blocks = found_blocks(found, ground(found))
    figure = next((block.id for block in blocks if isinstance(block, Figure)), "")
    return next(b.markdown for b in blocks if isinstance(b, Prose)).replace("\\", ""), figure


def highest_by_hand() -> dict[str, float]:
    """Return the highest mass of each group over the soil points, by a loop over the files of the example."""
    groups = {row["analyte_id"]: row["group"] for row in rows_of(ANALYTES)}
    soil = {r["location_id"] for r in rows_of("locations/locations.csv") if r["medium"] in ("soil_gas", "sub_slab")}
    placed = {r["sampler_id"] for r in rows_of("field/deployments.csv") if r["location_id"] in soil and
              r["duplicate_of"] in ("", "NA")}  # fmt: skip
    runs = {r["lab_sample_id"] for r in rows_of(LAB) if r["sampler_id"] in placed and r["reportable"] == "yes"}
    found: dict[str, float] = {}
    for row in rows_of(RESULTS):
        if row["lab_sample_id"] in runs and row["detected"] == "yes":
            group = groups[row["analyte_id"]]
            found[group] = max(found.get(group, 0.0), float(row["value"]))
    return found


def test_the_highest_of_a_group_is_that_of_all_its_compounds() -> None:
    """Not that of the compound that the list names first: of the fuel aromatics benzene is the first, by far not it."""
    assert {group: soil.highest for group, soil in highest_by_group(evaluation()).items()} == highest_by_hand()
    masses = [soil.highest or 0.0 for soil in highest_by_group(evaluation()).values()]
    assert masses == sorted(masses, reverse=True)


def test_the_opening_sentence_names_the_groups_with_most_and_how_many_there_are() -> None:
    said = lead(context())
    assert "by group of compounds (2 of 6 groups): Tetrachloroethene 53,300 E ng per sampler at SS-01" in said
    assert "1,2,4-Trimethylbenzene 14,400 ng per sampler at SG-32" in said
    assert "Benzene" not in said


def test_the_table_has_every_group_with_its_marks() -> None:
    table = tops_table(context())
    assert [row[0].text for row in table.rows][:2] == ["Chlorinated ethenes", "Fuel aromatics"]
    assert len(table.rows) == len(highest_by_hand()) == 6
    assert [mark.word for mark in table.rows[0][2].marks] == ["seal differs", "unsigned", "over range"]


@pytest.mark.parametrize("first", ["naphthalene", "vc", "toluene"])
def test_the_order_of_the_list_does_not_choose_the_map(first: str) -> None:
    said, figure = first_map(cell(ANALYTES, first, "order", "0"))
    assert figure == "map-pce"
    assert said.startswith(
        "The map shows Tetrachloroethene. Of 8 mapped compounds detected, unaffected by a blank, at 3"
    )
    assert "53,300 E ng per sampler at SS-01. It was detected at 41 of 51 soil points." in said


def test_a_compound_hardly_detected_never_opens_the_report() -> None:
    """One detection of 90,000 ng is the highest mass of all, and no pattern: it is in the table, not on the map."""
    once = (
        every(ANALYTES, lambda row: {"map": "yes" if row["analyte_id"] in ("mtbe", "pce") else "no"}),
        every(RESULTS, lambda row: _only(row, "mtbe", "04417-005", "90000")),
    )
    assert evaluation(*once).summaries["mtbe", "soil"].detected == 1
    assert first_map(*once)[1] == "map-pce"
    assert tops_table(context(*once)).rows[0][1].text == "Methyl tert-butyl ether"
    assert map_data(context(*once)).first_layer == "pce"


def test_a_compound_that_a_blank_explains_never_opens_the_report() -> None:
    """Toluene a hundredfold is the highest of all (127,000 ng); 40,000 ng in both trip blanks explain all of it."""
    blanks = {row["lab_sample_id"] for row in rows_of(LAB) if row["type"] == "trip_blank"}
    assert len(blanks) == 2
    spilt = every(RESULTS, lambda row: _spilt(row, blanks))
    toluene = evaluation(spilt).summaries["toluene", "soil"]
    assert toluene.highest == 127_000
    assert toluene.unblanked == 0
    assert first_map(spilt)[1] == "map-pce"


def test_without_a_compound_detected_often_there_is_no_map_and_that_is_said() -> None:
    none = every(RESULTS, lambda row: _nothing(row) if float(row["value"] or 0) < 50_000 else {})
    said, figure = first_map(none)
    assert figure == ""
    assert "No compound is mapped here: none was detected" in said
    assert _printed_maps(none) == []


def test_print_and_the_web_map_open_with_the_same_compound() -> None:
    turned = cell(ANALYTES, "vc", "order", "0")
    (figure,) = _printed_maps(turned)
    assert figure.caption.startswith("Tetrachloroethene")
    assert map_data(context(turned)).first_layer == "pce"


def _printed_maps(*changes: Change) -> list[Figure]:
    """Return the maps of the page that faces the summary in print."""
    found = context(*changes)
    glance = next(c for c in draft(found.survey, found.evaluation, ()).bound.chapters if c.id == "glance")
    return [block for block in glance.blocks if isinstance(block, Figure)]


def _only(row: dict[str, str], analyte: str, sample: str, value: str) -> dict[str, str]:
    if row["analyte_id"] != analyte:
        return {}
    if row["lab_sample_id"] == sample:
        return {"value": value, "result_text": value, "detected": "yes", "lab_qualifier": ""}
    return _nothing(row)


def _spilt(row: dict[str, str], blanks: set[str]) -> dict[str, str]:
    if row["analyte_id"] != "toluene" or (row["detected"] != "yes" and row["lab_sample_id"] not in blanks):
        return {}
    value = "40000" if row["lab_sample_id"] in blanks else f"{float(row['value']) * 100:.0f}"
    return {"value": value, "result_text": value, "detected": "yes", "lab_qualifier": ""}


def _nothing(row: dict[str, str]) -> dict[str, str]:
    return {"value": "", "result_text": f"<{row['rl']}", "detected": "no", "lab_qualifier": "U"}
