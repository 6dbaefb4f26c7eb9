"""Two revisions of a survey of a few rows: each change in its kind, with its point, its old and its new text."""

from __future__ import annotations

import pytest
from builders import Row, changed, content, load
from journeys import folder

from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.difference import KINDS, VALUE_KINDS, Difference, Revision, difference
from sitegen.findings.problems import Finding, Severity, Where

Tables = dict[str, list[Row]]
PCE = {"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4", "map": "yes"}
POINT = {"location_id": "P-1", "medium": "soil_gas", "status": "placed", "easting": "470000", "northing": "4770000"}
PLACED = {
    "sampler_id": "S-1",
    "location_id": "P-1",
    "placed_at": "2025-06-02T08:00",
    "retrieved_at": "2025-06-10T08:00",
}
RESULT = {
    "lab_sample_id": "L-1", "analyte_id": "pce", "result_text": "20", "value": "20", "detected": "yes", "unit": "ng",
    "rl": "10", "mdl": "3",
}  # fmt: skip


def survey_with(*results: Row, **others: list[Row]) -> Tables:
    return {
        "samplers": [{"sampler_id": "S-1", "kind": "sample"}],
        "locations": [POINT],
        "deployments": [PLACED],
        "analytes": [PCE],
        "lab_samples": [{"lab_sample_id": "L-1", "sampler_id": "S-1", "type": "sample"}],
        "results": list(results or (RESULT,)),
    } | others


def revision(tables: Tables, *findings: Finding, tool: str = "1", **files: bytes) -> Revision:
    extra = [content(path.replace("__", "/") + ".txt", new) for path, new in files.items()]
    survey = load(changed(*extra, folder=folder(tables)))
    return Revision(survey, evaluate(survey), findings, tool)


def between(old: Tables, new: Tables) -> Difference:
    return difference(revision(old), revision(new))


def told(found: Difference) -> list[str]:
    """Write the changes, a line each."""
    return [f"{c.kind} {c.key} ({c.subject}) {c.column}: {c.old} > {c.new} at {c.location_id}" for c in found.changes]


GONE = {"result_text": "ND", "value": "", "detected": "no", "lab_qualifier": "U"}
OF_RESULTS: dict[str, tuple[Row, list[str]]] = {
    "a value": ({"result_text": "50", "value": "50"}, ["value result_text: 20 > 50"]),
    "the text of a value": ({"result_text": "20.0"}, ["cell result_text: 20 > 20.0"]),
    "a detection": (GONE, ["detection detected: 20 > ND"]),
    "a detection, estimated": (
        GONE | {"lab_qualifier": "UJ"}, ["detection detected: 20 > ND", "qualifier lab_qualifier:  > UJ"]),
    "a qualifier": ({"lab_qualifier": "J"}, ["qualifier lab_qualifier:  > J"]),
    "a reviewer's qualifier": (
        {"validation_qualifier": "J-", "validation_reason": "read"},
        ["qualifier validation_qualifier:  > J-", "qualifier validation_reason:  > read"]),
    "a unit": ({"unit": "ug"}, ["unit unit: ng > ug"]),
    "a limit": ({"rl": "12"}, ["limit rl: 10 > 12"]),
    "a limit left out": ({"mdl": ""}, ["limit mdl: 3 > "]),
    "a top of the calibration": ({"calibration_top": "500"}, ["limit calibration_top:  > 500"]),
    "the word of a detection": ({"detected": ""}, []),
    "the way to write a limit": ({"rl": "10.0"}, []),
}  # fmt: skip
"""What of a result is changed, and the changes that this is told as."""


def of_results(found: Difference) -> dict[str, list[str]]:
    """Return the changes by the compound that they are about."""
    lines: dict[str, list[str]] = {name: [] for name in OF_RESULTS}
    for c in found.changes:
        lines[c.key.partition("+")[2]].append(f"{c.kind} {c.column}: {c.old} > {c.new}")
    return lines


def test_a_change_of_a_result_is_of_its_kind_and_the_other_way_round_as_well() -> None:
    """A U that comes with a non-detect is no change of its own; a value says of detection what no word says."""
    listed = [{"analyte_id": name, "name": name.title(), "cas": ""} for name in OF_RESULTS]
    old = revision(survey_with(*(RESULT | {"analyte_id": name} for name in OF_RESULTS), analytes=listed))
    rows = (RESULT | {"analyte_id": name} | change for name, (change, _) in OF_RESULTS.items())
    new = revision(survey_with(*rows, analytes=listed))
    there, back = difference(old, new), difference(new, old)
    assert of_results(there) == {name: lines for name, (_, lines) in OF_RESULTS.items()}
    assert [(c.kind, c.key, c.column, c.new, c.old) for c in back.changes] == [
        (c.kind, c.key, c.column, c.old, c.new) for c in there.changes
    ]
    assert {c.location_id for c in there.changes} == {"P-1"}
    assert {(c.key, c.subject) for c in there.values if c.kind == "unit"} == {
        ("results:L-1+a unit", "P-1, A Unit")
    }  # fmt: skip
    assert {c.kind for c in there.values} == set(VALUE_KINDS) < set(KINDS)
    assert [c.factor for c in (*there.changes, *back.changes) if c.factor is not None] == [2.5, 0.4]


def test_rows_cells_and_positions_are_told_with_the_point_that_they_are_about() -> None:
    """P-1 moves by 3 m and 4 m; a sampler's cell is about its point, a photograph about none."""
    old = survey_with(photos=[{"file": "photos/a.png", "caption": "a"}])
    new = survey_with(
        photos=[{"file": "photos/a.png", "caption": "b"}],
        locations=[POINT | {"easting": "470003", "northing": "4770004", "status": "abandoned"},
                   {"location_id": "P-2", "medium": "soil_gas"}],
        samplers=[{"sampler_id": "S-1", "kind": "spare"}],
        deployments=[PLACED | {"soil_type": "sand"}],
        lab_samples=[],
    )  # fmt: skip
    found = between(old, new)
    assert told(found) == [
        "added locations:P-2 (P-2) :  > location_id P-2; medium soil_gas at P-2",
        "removed lab_samples:L-1 (L-1) : lab_sample_id L-1; sampler_id S-1; type sample >  at ",
        "moved locations:P-1 (P-1) easting, northing: 470000, 4770000 > 470003, 4770004 at P-1",
        "cell deployments:S-1 (S-1) soil_type:  > sand at P-1",
        "cell locations:P-1 (P-1) status: placed > abandoned at P-1",
        "cell photos:photos/a.png (photos/a.png) caption: a > b at ",
        "cell samplers:S-1 (S-1) kind: sample > spare at P-1",
    ]
    assert [c.moved_m for c in found.changes if c.kind == "moved"] == [pytest.approx(5.0)]
    assert found.points == ("P-1", "P-2")


def test_scans_come_go_and_change_by_their_content() -> None:
    """Files of the record alone; what review adds is no change of the survey."""
    old = revision(survey_with(), records__a=b"1", records__b=b"2", text__x=b"3")
    new = revision(survey_with(comments=[{"comment_id": "C-1", "text": "t"}]), records__a=b"9", records__c=b"2")
    found = [(c.kind, c.key) for c in difference(old, new).changes]
    assert found == [("added", "file:records/c.txt"), ("removed", "file:records/b.txt"), ("file", "file:records/a.txt")]


def test_findings_open_and_close_by_their_keys_and_notes_do_not_count() -> None:
    """One stays, one opens, one closes; of each a note."""
    stays, opens, closes = (Finding("c", Severity.FLAG, s, Where("f"), "f", "e", "d") for s in "abc")
    notes = [Finding("n", Severity.NOTE, s, Where("f"), "f", "e", "d") for s in "ab"]
    old = revision(survey_with(), stays, closes, notes[0], tool="1")
    new = revision(survey_with(), stays, opens, notes[1], tool="2")
    found = difference(old, new)
    assert (found.opened, found.closed, found.tools) == ((opens,), (closes,), ("1", "2"))
    assert found.digests == (old.survey.digest, new.survey.digest)
    assert (found.revisions, found.changes) == ((1, 1), ())


def test_a_changed_result_is_of_the_summary_where_it_is_an_end_of_its_range() -> None:
    """The lowest and the highest detection of a mapped compound in soil; one between, one not mapped, one in air."""
    mapped = [PCE, {"analyte_id": "tce", "name": "T", "cas": "", "map": "no"}]
    places = [POINT | {"location_id": f"P-{n}", "medium": "soil_gas" if n < 4 else "indoor_air"} for n in range(1, 5)]
    old = [RESULT | {"lab_sample_id": f"L-{n}", "value": f"{n}0", "result_text": f"{n}0"} for n in range(1, 5)]
    old.append(RESULT | {"analyte_id": "tce"})
    new = [row | {"value": row["value"][0] + "1", "result_text": row["value"][0] + "1"} for row in old]
    others: Tables = {
        "analytes": mapped, "locations": places,
        "samplers": [{"sampler_id": f"S-{n}", "kind": "sample"} for n in range(1, 5)],
        "deployments": [PLACED | {"sampler_id": f"S-{n}", "location_id": f"P-{n}"} for n in range(1, 5)],
        "lab_samples": [{"lab_sample_id": f"L-{n}", "sampler_id": f"S-{n}", "type": "sample"} for n in range(1, 5)],
    }  # fmt: skip
    found = between(survey_with(*old, **others), survey_with(*new, **others))
    assert [(c.key, c.in_summary) for c in found.values] == [
        ("results:L-1+pce", True), ("results:L-1+tce", False), ("results:L-2+pce", False), ("results:L-3+pce", True),
        ("results:L-4+pce", False),
    ]  # fmt: skip
    assert found.in_summary == 2
