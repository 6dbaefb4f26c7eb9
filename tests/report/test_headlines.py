"""The report opens with the highest of each group of compounds by its place, and with maps that earn theirs."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest
from builders import Change, cell, changed, every, load, without_rows

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.picture.leading import group_detections, highest_by_group
from sitegen.report.assemble import draft
from sitegen.report.record.pages import Figure, Prose, Section
from sitegen.report.results.headlines import first_maps, found_prose, headline, tops_table
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


def first_map(*changes: Change) -> tuple[str, list[tuple[str, str]]]:
    """Return how the first maps were chosen, and title and id of each."""
    found = context(*changes)
    blocks = first_maps(found, ground(found))
    sections = [block for block in blocks if isinstance(block, Section)]
    drawn = [(s.title, b.id) for s in sections for b in s.blocks if isinstance(b, Figure)]
    return next(b.markdown for b in blocks if isinstance(b, Prose)).replace("\\", ""), drawn


def equal_to_the_highest(lab_sample_id: str, **cells: str) -> Change:
    """Give another sample the mass of PCE that is the highest at a soil point, 53,300 ng at SS-01."""

    def edit(row: dict[str, str]) -> dict[str, str]:
        ours = (row["lab_sample_id"], row["analyte_id"]) == (lab_sample_id, "pce")
        high = {"value": "53300", "result_text": "53300", "lab_qualifier": "E", "detected": "yes"}
        return high | cells if ours else {}

    return every(RESULTS, edit)


@pytest.mark.parametrize(("validation", "told"), [("", True), ("R", False)])
def test_a_point_with_the_same_highest_mass_is_counted(validation: str, told: bool) -> None:
    """The summary and its headline name one point and say that another has the same mass, unless that is rejected."""
    (other,) = [r["lab_sample_id"] for r in rows_of(LAB) if r["sampler_id"] == "0047103" and r["reportable"] == "yes"]
    found = context(equal_to_the_highest(other, validation_qualifier=validation))
    first, second = found_prose(found).markdown.split("\n")[:2]
    assert ("equal at 1 other point" in first) == told
    assert "equal at" not in second
    assert ("and equal at 1 other point. Fuel" in headline(found)) == told


def test_a_single_detection_is_told_of_soil_points_alone() -> None:
    """At two soil points, PCE is detected at one, and in indoor air as well: the title claims nothing of the air."""
    kept = {"SS-01", "SG-28", "IA-01"}
    gone = [r["location_id"] for r in rows_of("locations/locations.csv") if r["location_id"] not in kept]
    (other,) = [r["lab_sample_id"] for r in rows_of(LAB) if r["sampler_id"] == "0047103" and r["reportable"] == "yes"]
    below = equal_to_the_highest(other, value="", detected="no", result_text="<10", rl="10", lab_qualifier="U")
    hung = without_rows("field/deployments.csv", lambda row: row["location_id"] in gone)
    found = context(below, hung)
    assert found.by_compound["pce"][-1].detected
    assert {row.medium for row in found.by_compound["pce"] if row.detected} == {"sub_slab", "indoor_air"}
    assert "Tetrachloroethene was detected at one soil point only, beneath the Laundry (SS-01)" in titles(found)


def titles(found: Context) -> list[str]:
    return [block.title for block in first_maps(found, ground(found)) if isinstance(block, Section)]


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


def test_the_opening_names_the_groups_with_most_by_place_and_how_often_they_were_detected() -> None:
    said = found_prose(context())
    lines = said.markdown.replace("\\", "").splitlines()
    assert lines[:3] == [
        (
            "* **Chlorinated ethenes**: detected at 41 of 51 soil points. Tetrachloroethene has the highest mass, "
            "beneath the Laundry (SS-01): [53,300 E](ref:0) ng per sampler "
            "(qualified: seal differs, unsigned, over range)."
        ),
        (
            "* **Fuel aromatics**: detected at 37 of 51 soil points (29 of them unaffected by a blank). "
            "1,2,4-Trimethylbenzene has the highest mass, at the Pump apron (SG-32): [14,400](ref:1) ng per sampler "
            "(qualified: seal differs, unsigned)."
        ),
        "* Also detected: other compounds, polycyclic aromatics, other chlorinated compounds, oxygenates.",
    ]
    assert [ref.id for ref in said.refs] == [
        context().evaluation.summaries[name, "soil"].highest_sample for name in ("pce", "124tmb")
    ]
    assert "not concentrations" in lines[-1]


def test_points_of_a_group_are_those_with_any_of_its_compounds() -> None:
    groups = {row["analyte_id"]: row["group"] for row in rows_of(ANALYTES)}
    for group in highest_by_hand():
        hits: set[str] = set()
        for row in context().results:
            in_soil = row.reportable and row.role == "primary" and row.medium in ("soil_gas", "sub_slab")
            if in_soil and row.detected and groups[row.analyte_id] == group:
                hits.add(row.location_id)
        counted = group_detections(evaluation(), group)
        assert (counted.detected, counted.analysed) == (len(hits), 51)
        assert counted.unblanked <= counted.detected


def test_without_a_detection_or_a_result_that_is_said() -> None:
    assert "No compound was detected at 51 soil points" in found_prose(context(every(RESULTS, _nothing))).markdown
    emptied = Change(RESULTS, lambda content: content.splitlines(keepends=True)[0])
    assert "No result at a soil point is on record" in found_prose(context(emptied)).markdown


def test_the_table_has_every_group_with_its_marks() -> None:
    table = tops_table(context())
    assert [row[0].text for row in table.rows][:2] == ["Chlorinated ethenes", "Fuel aromatics"]
    assert len(table.rows) == len(highest_by_hand()) == 6
    assert [mark.word for mark in table.rows[0][2].marks] == ["seal differs", "unsigned", "over range"]


@pytest.mark.parametrize("first", ["naphthalene", "vc", "toluene"])
def test_the_order_of_the_list_does_not_choose_the_map(first: str) -> None:
    said, drawn = first_map(cell(ANALYTES, first, "order", "0"))
    assert drawn == [
        ("Tetrachloroethene mass is highest beneath the Laundry (SS-01)", "map-pce"),
        ("1,2,4-Trimethylbenzene mass is highest at the Pump apron (SG-32)", "map-124tmb"),
    ]
    assert said == (
        "Selection: of the mapped compounds detected, unaffected by a blank, at 3 or more soil points or at half of "
        "those analysed (project default, no published source), the one with the highest such mass in each of the two "
        "leading groups."
    )


def test_a_compound_hardly_detected_never_opens_the_report() -> None:
    """One detection of 90,000 ng is the highest mass of all, and no pattern: it is in the table, not on the map."""
    once = (
        every(ANALYTES, lambda row: {"map": "yes" if row["analyte_id"] in ("mtbe", "pce") else "no"}),
        every(RESULTS, lambda row: _only(row, "mtbe", "04417-005", "90000")),
    )
    assert evaluation(*once).summaries["mtbe", "soil"].detected == 1
    said, drawn = first_map(*once)
    assert [figure for _, figure in drawn] == ["map-pce"]
    assert "the only group that qualifies" in said
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
    assert [figure for _, figure in first_map(spilt)[1]] == ["map-pce", "map-124tmb"]


def test_the_title_of_a_map_is_true_of_a_compound_whose_highest_mass_a_blank_affects() -> None:
    """Of tetrachloroethene 40,000 ng in a trip blank explain its highest mass, 53,300 ng: SS-01 came in that bag."""
    blanks = {row["lab_sample_id"] for row in rows_of(LAB) if row["type"] == "trip_blank"}
    full = every(RESULTS, lambda row: _held(row, "pce", "40000") if row["lab_sample_id"] in blanks else {})
    titles = {figure: title for title, figure in first_map(full)[1]}
    clean = [
        row for row in context(full).by_compound["pce"]
        if row.detected and row.medium in ("soil_gas", "sub_slab") and row.key not in
        {key for hit in evaluation(full).blank_hits for key in hit.touched}
    ]  # fmt: skip
    assert not clean or "unaffected by a blank" in titles["map-pce"]
    assert bool(clean) == ("map-pce" in titles)


def test_a_title_tells_of_a_tie() -> None:
    other = next(row for row in context().by_compound["pce"] if row.location_id == "SG-02")
    tied = every(RESULTS, lambda row: _held(row, "pce", "53300") if row["lab_sample_id"] == other.lab_sample_id else {})
    assert first_map(tied)[1][0][0] == (
        "Tetrachloroethene mass is highest near the Old sewer lateral (SG-02) and equal at 1 other point"
    )


def test_without_a_compound_detected_often_there_is_no_map_and_that_is_said() -> None:
    none = every(RESULTS, lambda row: _nothing(row) if float(row["value"] or 0) < 50_000 else {})
    said, drawn = first_map(none)
    assert drawn == []
    assert said.startswith("No map is shown: no mapped compound was detected, unaffected by a blank, at 3 or more")
    assert _printed_maps(none) == []


def test_print_and_the_web_map_open_with_the_same_compound() -> None:
    turned = cell(ANALYTES, "vc", "order", "0")
    first, _ = _printed_maps(turned)
    assert first.caption.startswith("Tetrachloroethene")
    assert map_data(context(turned)).first_layer == "pce"


def _printed_maps(*changes: Change) -> list[Figure]:
    """Return the maps that follow the summary in print."""
    found = context(*changes)
    glance = next(c for c in draft(found.survey, found.evaluation, ()).bound.chapters if c.id == "glance")
    held = [block for section in glance.blocks if isinstance(section, Section) for block in section.blocks]
    return [block for block in held if isinstance(block, Figure)]


def _held(row: dict[str, str], analyte: str, value: str) -> dict[str, str]:
    if row["analyte_id"] != analyte:
        return {}
    return {"value": value, "result_text": value, "detected": "yes", "lab_qualifier": ""}


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
