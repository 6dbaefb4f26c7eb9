"""What changes affect, and how sentences stand beside two revisions, worked out by hand on three points."""

from __future__ import annotations

import pytest
from builders import Row
from two_revisions import revision_of, tables_of

from sitegen.compute.evidence.difference import Difference, difference
from sitegen.compute.evidence.effects import End, TokenChange
from sitegen.compute.evidence.statements import Named
from sitegen.compute.text.claims import claims

MASSES = {"P-1": {"pce": "20", "tce": "<10"}, "P-2": {"pce": "90", "tce": "40"}, "P-3": {"pce": "50 J", "tce": "30"}}


def after(point: str, compound: str, text: str, **texts: str) -> Difference:
    """Return the difference that one result makes, with the same text in both revisions."""
    new = {name: own | ({compound: text} if name == point else {}) for name, own in MASSES.items()}
    return difference(revision_of(tables_of(MASSES), **texts), revision_of(tables_of(new), **texts))


def ends(found: Difference) -> list[tuple[str, str, End | None, End | None]]:
    return [(one.analyte_id, one.end, one.before, one.after) for one in found.effects.ends]


def test_a_value_between_the_ends_changes_the_map_of_its_compound_alone() -> None:
    """50 J becomes 55 J: the range stays 20 to 90; 'maps' are those of pce, of two."""
    found = after("P-3", "pce", "55 J")
    assert (found.effects.ends, found.effects.maps, found.effects.drawn) == ((), ("pce",), 2)
    assert (found.effects.tokens, found.effects.crossings, found.effects.compared) == ((), (), 0)


def test_a_new_highest_value_changes_the_end_and_where_it_lies() -> None:
    """P-3 with 120 takes over from P-2 with 90; the lowest stays."""
    found = after("P-3", "pce", "120 J")
    assert ends(found) == [("pce", "highest", End(90, "ng", "", "P-2"), End(120, "ng", "J", "P-3"))]


def test_a_qualifier_at_an_end_changes_the_end() -> None:
    """90 stays 90 and is estimated now."""
    found = after("P-2", "pce", "90 J")
    assert ends(found) == [("pce", "highest", End(90, "ng", "", "P-2"), End(90, "ng", "J", "P-2"))]


def test_the_only_detection_lost_leaves_no_end() -> None:
    """Two detections of tce become one: it is the lowest and the highest."""
    found = after("P-3", "tce", "<10")
    assert ends(found) == [("tce", "lowest", End(30, "ng", "", ""), End(40, "ng", "", ""))]
    assert [one.kind for one in found.results] == ["detection"]


def test_a_point_that_moves_changes_every_map() -> None:
    """No result changed; both mapped compounds have a result there."""
    tables = tables_of(MASSES)
    moved: list[Row] = [tables["locations"][0] | {"easting": "470001"}, *tables["locations"][1:]]
    found = difference(revision_of(tables), revision_of(tables | {"locations": moved}))
    assert (found.results, found.effects.maps) == ((), ("pce", "tce"))


def test_a_cell_that_no_map_shows_changes_none() -> None:
    """A remark on a point is on no map."""
    tables = tables_of(MASSES)
    told: list[Row] = [tables["locations"][0] | {"comment": "by the gate"}, *tables["locations"][1:]]
    found = difference(revision_of(tables), revision_of(tables | {"locations": told}))
    assert (len(found.changes), found.effects.maps) == (1, ())


def test_only_numbers_that_the_text_prints_are_told() -> None:
    """max.pce is printed, detections.pce is not; what every revision changes is no effect."""
    found = after("P-2", "pce", "95", summary="Highest is {{ max.pce }}, by {{ date.report }}.")
    assert found.effects.tokens == (TokenChange("max.pce", "90 ng per sampler (P-2)", "95 ng per sampler (P-2)"),)


SAYS = "Tetrachloroethene is highest at P-2, {{ max.pce }}. Trichloroethene was detected at P-3. Take care."


def test_a_sentence_is_judged_in_both_revisions() -> None:
    """P-3 overtakes P-2: the first sentence agreed and differs now; the second is of tce; a third claims nothing."""
    first, second, third = after("P-3", "pce", "120", conclusions=SAYS).statements
    assert (first.state, first.same_words, first.touched) == ("changed", True, True)
    assert first.before == "Tetrachloroethene is highest at P-2, 90 ng per sampler (P-2)."
    assert first.after == "Tetrachloroethene is highest at P-2, 120 ng per sampler (P-3)."
    assert first.names == (Named("token", "max.pce"), Named("compound", "pce"))
    assert (second.state, second.names) == ("same", (Named("point", "P-3"),))
    assert (third.state, third.touched, third.names) == ("unjudged", False, ())


@pytest.mark.parametrize(
    ("text", "state"), [("<10", "changed"), ("35", "same"), ("30 R", "unjudged")], ids=["lost", "other", "rejected"]
)
def test_a_detection_that_a_sentence_names(text: str, state: str) -> None:
    """Lost, the sentence differs; another mass, it agrees; rejected by the reviewer there is no usable result."""
    mark = text.endswith("R")
    tables = tables_of({p: own | ({"tce": text.removesuffix(" R")} if p == "P-3" else {}) for p, own in MASSES.items()})
    if mark:
        for row in tables["results"]:
            if (row["lab_sample_id"], row["analyte_id"]) == ("L-P-3", "tce"):
                row["validation_qualifier"] = "R"
    found = difference(revision_of(tables_of(MASSES), conclusions=SAYS), revision_of(tables, conclusions=SAYS))
    assert found.statements[1].state == state


def test_a_sentence_of_which_a_part_is_not_paired_is_not_judged() -> None:
    """Its first part agrees; in the second nobody can tell which compound belongs to which point."""
    says = "Trichloroethene was detected at P-3; tetrachloroethene by P-1 trichloroethene by P-2 was seen."
    found = after("P-3", "pce", "60", conclusions=says)
    (claim,) = claims(revision_of(tables_of(MASSES), conclusions=says).survey)
    assert (claim.read.unpaired, len(claim.read.readings)) == (True, 1)
    assert [one.state for one in found.statements] == ["unjudged"]


def test_a_sentence_in_other_words_is_paired_with_the_one_that_it_was() -> None:
    """Most of its words are the same; one that is new has nothing before, one that is gone nothing after."""
    old = "The yard is paved. Trichloroethene was detected at P-3."
    new = "Trichloroethene was detected at P-2 and P-3. Nothing like it was written before here."
    tables = tables_of(MASSES)
    found = difference(revision_of(tables, summary=old), revision_of(tables, summary=new)).statements
    assert [(one.before, one.after, one.same_words) for one in found] == [
        ("Trichloroethene was detected at P-3.", "Trichloroethene was detected at P-2 and P-3.", False),
        ("", "Nothing like it was written before here.", False),
        ("The yard is paved.", "", False),
    ]
    assert all(one.touched for one in found)


def test_results_that_one_revision_alone_has_are_whole() -> None:
    """A fourth point's two results are added: nothing before, the kind says so."""
    new = tables_of(MASSES | {"P-4": {"pce": "10", "tce": "<10"}})
    found = difference(revision_of(tables_of(MASSES)), revision_of(new))
    assert [(one.key, one.kind, one.before) for one in found.results] == [
        (("L-P-4", "pce"), "added", None), (("L-P-4", "tce"), "added", None),
    ]  # fmt: skip
    back = difference(revision_of(new), revision_of(tables_of(MASSES)))
    assert [(one.kind, one.after, one.row.location_id) for one in back.results] == [("removed", None, "P-4")] * 2
