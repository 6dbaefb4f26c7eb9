"""Which compound a sentence pairs with which point, and what it says of the two."""

from __future__ import annotations

import pytest

from sitegen.compute.text.claimtext import Read, read, vocabulary

KNOWN = vocabulary(
    {
        "b": ["Benzene"],
        "t": ["Toluene"],
        "p": ["Tetrachloroethene", " PCE"],
        "d": ["cis-1,2-Dichloroethene", "cis-1,2-DCE"],
        "x": ["1,2-Dichloroethene"],
    },
    {"fuel": ["fuel aromatics"]},
    ["P-1", "P-12", "P-2", "P-3", "SS-01"],
)


def said(sentence: str) -> Read:
    return read(sentence, KNOWN)


def pairs(sentence: str) -> set[str]:
    """Return the readings as ``compound point relation``."""
    return {" ".join((one.what, one.point, one.relation, *(one.other or ())[1:])) for one in said(sentence).readings}


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        ("Benzene is highest at P-2 and toluene at P-1.", {"b P-2 highest", "t P-1 named"}),
        ("Benzene is highest at P-2, toluene is highest at P-12.", {"b P-2 highest", "t P-12 highest"}),
        ("Benzene and toluene are highest at P-2.", {"b P-2 highest", "t P-2 highest"}),
        ("At P-2, benzene is highest.", {"b P-2 highest"}),
        ("The highest benzene mass was found at P-2.", {"b P-2 highest"}),
        ("Return to P-2, the point with the highest benzene.", {"b P-2 highest"}),
        ("Found in this survey: under its slab, at SS-01, PCE is highest, {{ max.p }}.", {"p SS-01 highest"}),
        ("Benzene is highest at P-2 and not detected at P-1.", {"b P-2 highest", "b P-1 not detected"}),
        ("Benzene was not detected at P-1 but detected at P-2.", {"b P-1 not detected", "b P-2 detected"}),
        ("No benzene was detected at P-1.", {"b P-1 not detected"}),
        ("Neither benzene nor toluene was detected at P-1.", {"b P-1 not detected", "t P-1 not detected"}),
        ("At P-2 benzene is highest and toluene was not detected.", {"b P-2 highest", "t P-2 not detected"}),
        ("Benzene is highest at P-2, followed by P-1 and P-3.", {"b P-2 highest", "b P-1 named", "b P-3 named"}),
        ("Benzene is higher at P-2 than at P-1.", {"b P-2 higher P-1"}),
        ("Benzene is lower at P-2 than at P-1.", {"b P-1 higher P-2"}),
        ("At P-2 benzene is higher than at P-1 and P-3.", {"b P-2 higher P-1", "b P-2 higher P-3"}),
        ("Benzene is higher than toluene at P-2.", {"b P-2 higher t"}),
        ("cis-1,2-DCE at P-1, P-2 and P-3.", {"d P-1 named", "d P-2 named", "d P-3 named"}),
        ("Fuel aromatics are highest at P-2 (benzene), PCE at SS-01.",
         {"fuel P-2 highest", "b P-2 named", "p SS-01 named"}),
        ("PCE and benzene are highest at SS-01 and P-2, respectively.", {"p SS-01 highest", "b P-2 highest"}),
        ("Sample again at P-2, where benzene is highest, and at P-1.", {"b P-2 highest", "b P-1 named"}),
        ("Toluene was detected at P-1, and benzene was not.", {"t P-1 detected", "b P-1 named"}),
        ("**PCE** is highest at [P-12](https://example.org/P-1).", {"p P-12 highest"}),
    ],
)  # fmt: skip
def test_pairs_are_those_that_the_sentence_makes(sentence: str, expected: set[str]) -> None:
    """Written down by hand for each sentence, as a reader understands it."""
    assert pairs(sentence) == expected
    assert not said(sentence).unpaired


@pytest.mark.parametrize(
    "sentence", ["While benzene is highest at P-2, at P-1 toluene is.", "Benzene at P-2 exceeds toluene at P-1."]
)
def test_where_the_order_does_not_show_it_nothing_is_paired(sentence: str) -> None:
    assert pairs(sentence) == set()
    assert said(sentence).unpaired
    assert said(sentence).points == ("P-2", "P-1")


@pytest.mark.parametrize(
    "sentence",
    [
        "Benzene is not highest at P-1.",
        "Benzene has its second highest mass at P-1.",
        "Benzene is among the highest at P-1.",
        "Benzene at P-1 is not higher than at P-2.",
    ],
)
def test_a_negation_or_a_rank_claims_nothing_by_itself(sentence: str) -> None:
    assert {one.relation for one in said(sentence).readings} == {"unread"}


@pytest.mark.parametrize(
    ("sentence", "limited"),
    [
        ("Benzene is highest at P-1.", False),
        ("In this survey, benzene is highest at P-1.", False),
        ("The mass of benzene is highest at P-1.", False),
        ("In the south, benzene is highest at P-1.", True),
        ("Benzene is highest of the grid points at P-1.", True),
        ("Benzene is highest at P-1 among the grid points.", True),
        ("P-1 has the highest benzene after P-2.", True),
    ],
)
def test_words_that_may_limit_the_highest_are_seen(sentence: str, limited: bool) -> None:
    assert next(one for one in said(sentence).readings if one.relation == "highest").limited is limited


def test_the_longest_name_counts_and_names_are_those_of_the_list() -> None:
    """The 1,2-dichloroethene inside of cis-1,2-dichloroethene is no other compound; P-12 is not P-1."""
    found = said("cis-1,2-dichloroethene at P-12")
    assert (found.compounds, found.points) == (("d",), ("P-12",))
    assert said("benzenesulfonate at XP-1").compounds == ()


def test_names_whose_case_folds_oddly_are_read_or_left_but_break_nothing() -> None:
    """A pattern that ignores case takes µ for μ and ſ for s, which lower case does not."""
    known = vocabulary({"m": ["\u00b5-Xylene"], "s": ["straße"]}, {}, ["\u0130-1", "S-2", ""])
    found = read("\u03bc-xylene at \u017f-2, STRASSE at i\u0307-1, straße at S-2", known)
    assert found.compounds == ("m", "s")
    assert found.points == ("S-2",)
    assert all(mention for mention in found.compounds + found.points)


def test_an_id_that_is_a_number_alone_is_not_read_from_a_sentence() -> None:
    """Two of 3 points, or 1,3-butadiene, name no point 1, 2 or 3."""
    known = vocabulary({"b": ["Benzene"]}, {}, ["1", "2", "3", "A1"])
    found = read("Of 3 points, 2 have benzene; 1,3-butadiene is highest at A1.", known)
    assert found.points == ("A1",)


@pytest.mark.parametrize(
    "sentence",
    [
        "Masses are higher here; benzene at P-2 rather than at P-1.",
        "Benzene at P-2 is more often found other than at P-1.",
    ],
)
def test_a_than_that_compares_nothing_is_no_comparison(sentence: str) -> None:
    assert {one.other for one in said(sentence).readings} == {None}


def test_several_points_called_highest_are_counted() -> None:
    assert {one.of for one in said("Benzene is highest at P-1, P-2 and P-3.").readings} == {3}
