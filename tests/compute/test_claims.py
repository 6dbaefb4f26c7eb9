"""Claims beside the record: verdicts, values and ranks against plain loops over the results."""

from __future__ import annotations

from functools import cache

import pytest
from builders import Change, cells, changed, content, load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.results.store import StoredResult, stored_results
from sitegen.compute.text.claims import Above, Claim, Judged, Record, claims, concludes, names
from sitegen.compute.text.objectives import objectives, open_objectives
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte


@cache
def survey(*changes: Change) -> Survey:
    return load(changed(*changes))


@cache
def record(*changes: Change) -> Record:
    return Record(evaluate(survey(*changes)))


def judged(sentence: str, *changes: Change) -> list[Judged]:
    (claim,) = claims(load(changed(*changes, *only(conclusions=sentence))))
    return list(record(*changes).judge(claim))


def only(**texts: str) -> tuple[Change, ...]:
    """Return changes that leave these sections alone of those that claim something."""
    sections = ("summary", "interpretation", "conclusions", "recommendations")
    return tuple(content(f"text/{name}.md", texts.get(name, "").encode()) for name in sections)


def verdicts(sentence: str, *changes: Change) -> list[str]:
    return [one.verdict for one in judged(sentence, *changes)]


@pytest.mark.parametrize(
    ("sentence", "verdict"),
    [
        ("Tetrachloroethene is highest at SS-01.", "agrees"),
        ("Tetrachloroethene is highest at SG-12.", "differs"),
        ("In the south, tetrachloroethene is highest at SG-12.", "open"),
        ("Benzene is highest at IA-02.", "agrees"),  # among the two indoor points, 24 against 21 ng
        ("Benzene is highest at IA-01.", "differs"),
        ("Fuel aromatics are highest at SS-01.", "differs"),
        ("Chlorinated ethenes are highest at SS-01.", "agrees"),
        ("Tetrachloroethene is higher at SG-36 than at SG-37.", "agrees"),
        ("Tetrachloroethene is higher at SG-37 than at SG-36.", "differs"),
        ("Tetrachloroethene was not detected at SS-01.", "differs"),
        ("Vinyl chloride was not detected at SG-01.", "agrees"),
        ("Tetrachloroethene was detected at SS-01.", "agrees"),
        ("Vinyl chloride was detected at SG-01.", "differs"),
        ("Vinyl chloride is highest at SG-01.", "differs"),
        ("Benzene is highest at SG-21.", "no result"),  # its sampler was lost
        ("Benzene was not detected at SG-21.", "no result"),
        ("Benzene and SG-46 are in this sentence.", "named"),
    ],
)
def test_a_verdict_is_what_the_results_say(sentence: str, verdict: str) -> None:
    assert verdicts(sentence) == [verdict]


def test_ranks_are_among_the_detections_of_the_compound_in_the_same_medium() -> None:
    """By a loop over the primary results of soil points: 1 plus the number of higher detections."""
    rows = [r for r in _soil() if r.analyte_id == "tce" and r.detected]
    here = next(r for r in rows if r.location_id == "SG-37")
    (one,) = judged("Trichloroethene at SG-37.")
    assert one.found is not None
    assert one.found.rank == 1 + sum(r.value > here.value for r in rows)
    assert (one.found.detections, one.found.mass) == (len(rows), here.value)


def test_two_called_highest_must_be_the_two_highest() -> None:
    rows = sorted((r.value, r.location_id) for r in _soil() if r.analyte_id == "benzene" and r.detected)
    first, second, third = (rows[-n][1] for n in (1, 2, 3))
    assert verdicts(f"Benzene is highest at {first} and {second}.") == ["agrees", "agrees"]
    assert verdicts(f"Benzene is highest at {first} and {third}.") == ["agrees", "differs"]


def test_a_duplicate_s_detection_speaks_against_not_detected() -> None:
    """The primary at SG-36 made a non-detect, its duplicate left as it is: the point has a detection."""
    rows = [r for r in stored_results(record().evaluation.store) if r.location_id == "SG-36"]
    primary = next(r.lab_sample_id for r in rows if r.kind == "sample")
    gone = cells("lab/results.csv", f"{primary}+tce", value="", result_text="<50", detected="no", lab_qualifier="U")
    assert verdicts("Trichloroethene was not detected at SG-36.", gone) == ["differs"]


def test_a_non_detect_below_a_high_limit_leaves_a_comparison_open() -> None:
    """20 ng at one point and <50 ng at another have no order; 60 ng and <50 ng have one."""
    rows = {r.location_id: r.lab_sample_id for r in _soil() if r.analyte_id == "vc"}

    def with_value(value: str) -> tuple[Change, Change]:
        return (
            cells("lab/results.csv", f"{rows['SG-01']}+vc", value=value, result_text=value, detected="yes",
                  lab_qualifier=""),
            cells("lab/results.csv", f"{rows['SG-02']}+vc", value="", result_text="<50", rl="50", mdl="50",
                  detected="no", lab_qualifier="U"),
        )  # fmt: skip

    sentence = "Vinyl chloride is higher at SG-01 than at SG-02."
    assert verdicts(sentence, *with_value("20")) == ["open"]
    assert verdicts(sentence, *with_value("60")) == ["agrees"]
    turned = "Vinyl chloride is higher at SG-02 than at SG-01."
    assert verdicts(turned, *with_value("60")) == ["differs"]


def test_sections_are_read_with_the_line_of_each_sentence() -> None:
    texts = only(summary="# Head\n\nOne.\nBenzene is\nhighest at SG-46.", recommendations="* Go.\n* Stay.")
    found = [(claim.section, claim.line, claim.text) for claim in claims(load(changed(*texts)))]
    assert found == [
        ("summary", 3, "One."),
        ("summary", 4, "Benzene is highest at SG-46."),
        ("recommendations", 1, "Go."),
        ("recommendations", 2, "Stay."),
    ]


def test_every_group_of_the_example_has_a_name_that_is_read() -> None:
    known = names(survey()).names
    assert {key for kind, key in known.values() if kind == "group"} == {row.group for row in survey().rows(Analyte)}
    assert known["polycyclic aromatics"] == ("group", "pah")
    assert "other" not in known


@pytest.mark.parametrize(
    ("sentence", "is_concluded"),
    [
        ("Benzene at IA-02 exceeds the level.", True),
        ("In the indoor air benzene exceeds the level.", True),
        ("Fuel aromatics were found in the air of the office.", True),
        ("Fuel aromatics and chlorinated ethenes meet near the office.", False),
        ("Benzene is highest at SG-46.", False),
        ("IA-02 is in the store.", False),
    ],
)
def test_an_exceedance_is_concluded_upon_where_compound_and_place_are_named_together(
    sentence: str, is_concluded: bool
) -> None:
    above = Above("IA-02", "benzene", "fuel_aromatics", "indoor_air")
    told = claims(load(changed(*only(conclusions=sentence))))
    assert concludes(above, told) is is_concluded
    elsewhere = claims(load(changed(*only(recommendations=sentence))))
    assert not concludes(above, elsewhere)


def test_objectives_are_the_items_of_the_list_else_its_sentences() -> None:
    items = [objective.line for objective in objectives(survey())]
    assert items == [6, 8, 11]
    plain = load(changed(content("text/objectives.md", b"Find the source. It was not planned to dig.\n")))
    assert [(o.line, o.text) for o in objectives(plain)] == [(1, "Find the source.")]
    assert objectives(load(changed(content("text/objectives.md", b"")))) == ()


@pytest.mark.parametrize(
    ("objective", "conclusion", "missing"),
    [
        ("* find PCE", "Tetrachloroethene was found.", False),
        ("* find PCE", "Benzene was found.", True),
        ("* look at the laundry", "The Laundry is the origin.", False),
        ("* look at the laundry", "The workshop is the origin.", True),
        ("* map chlorinated solvents", "A solvent was found.", False),
        ("* map chlorinated solvents", "Fuel was found.", True),
        ("* see it", "Fuel was found.", False),
    ],
)
def test_an_objective_is_missing_where_nothing_of_it_is_named(objective: str, conclusion: str, missing: bool) -> None:
    """By another name of the compound, a site feature, a longer word; an objective of short words asks for nothing."""
    found = load(changed(content("text/objectives.md", objective.encode()), *only(conclusions=conclusion)))
    assert bool(open_objectives(found, claims(found))) is missing


def test_a_token_names_its_compound() -> None:
    (claim,) = claims(load(changed(*only(summary="At most {{ max.pce }} in {{ count.bags }} bags."))))
    assert isinstance(claim, Claim)
    assert claim.compounds == ("pce",)
    assert claim.read.readings == ()


def _soil() -> list[StoredResult]:
    primary = record().evaluation.primary
    return stored_results(primary[primary["medium"].isin(("soil_gas", "sub_slab"))])
