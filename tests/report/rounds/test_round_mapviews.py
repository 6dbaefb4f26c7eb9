"""The web map's data of several rounds: each round's values, what changed, and the points of a supplement."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest
from builders import example, load
from rounds_survey import NEW, two_rounds
from synthetic_map import map_data as made_up
from synthetic_map import meta

from sitegen.compute.rounds.campaigns import Campaign
from sitegen.compute.rounds.factors import factor_labels
from sitegen.compute.rounds.split import parts
from sitegen.figures.changesigns import CHANGE_WORDS
from sitegen.figures.symbols import PRINT_SCALE
from sitegen.render.map.webmap import map_files, map_names, map_payload
from sitegen.report.assemble import context_of
from sitegen.report.record.maps import MapData, MapView
from sitegen.report.results.mapdata import ground, map_data
from sitegen.report.rounds.mapviews import round_map_data, view_id
from sitegen.report.rounds.pictures import change_figures
from sitegen.report.write.context import Context


@cache
def both() -> Context:
    """Return the second of the two made-up rounds, with the first before it."""
    survey = load(two_rounds())
    return context_of(survey, parts(survey), ())


@cache
def data() -> MapData:
    """Return what the web map of both rounds draws."""
    return round_map_data(both())


def view(kind: str, given: MapData | None = None) -> MapView:
    """Return the one view of a kind that is not the reported round's."""
    (found,) = [one for one in (given or data()).views if one.kind == kind and not one.reported]
    return found


def url(name: str) -> str:
    """Return a location's address."""
    return f"../locations/{name}.html"


def test_a_survey_of_one_round_has_the_map_that_it_had() -> None:
    """No view, no script of rounds and no new word: the data are those without rounds."""
    survey = load(example())
    context = context_of(survey, parts(survey), ())
    found = round_map_data(context)
    assert found == map_data(context)
    assert found.views == ()
    assert "map/rounds.js" not in map_names(found)
    payload = map_payload(found, meta(), url)
    assert {"views", "change"}.isdisjoint(payload)
    assert {len(point) for point in payload["points"]} <= {11, 13}


def test_the_round_that_is_reported_comes_first_and_is_the_map_s_own() -> None:
    """Its points and layers are written once; rounds before it follow, then what changed."""
    assert [(one.id, one.kind, one.reported) for one in data().views] == [
        ("R2", "round", True), ("R1", "round", False), ("R1", "change", False),
    ]  # fmt: skip
    own = map_data(both())
    assert (data().points, data().layers) == (own.points, own.layers)
    assert map_names(data())[-1] == "map/rounds.js"


def test_an_earlier_round_s_layers_are_those_of_its_own_map() -> None:
    """Every value of the first round stands as its own report had it, under the ids of the second."""
    own = {layer.id: layer.values for layer in map_data(both().earlier[0]).layers}
    assert {layer.id: layer.values for layer in view("round").layers} == own


def test_of_four_rounds_each_view_has_its_own_points_and_values() -> None:
    """The latest comes first; three earlier rounds make three views of values and three of changes."""
    one, two = both().rounds
    given = [
        Context(each.survey, each.evaluation, (), Campaign(f"R{at}")) for at, each in enumerate((one, two, one), 1)
    ]
    context = Context(two.survey, two.evaluation, (), Campaign("R4"), tuple(given))
    found = round_map_data(context)
    assert [f"{each.kind} {each.id}" for each in found.views] == [
        "round R4", "round R3", "round R2", "round R1", "change R3", "change R2", "change R1",
    ]  # fmt: skip
    ids = {each.id: {point.location_id for point in each.points} for each in found.views if each.kind == "round"}
    assert "SG-03" in ids["R1"] & ids["R3"]
    assert "SG-61" not in ids["R1"] | ids["R3"]
    assert "SG-61" in ids["R2"]
    same = next(layer for layer in found.views[5].changes if layer.id == "pce")
    assert {value.kind for value in same.values} <= {"within", "neither", "not_comparable"}


def test_the_classes_hold_the_masses_of_every_round() -> None:
    """A class that the first round alone reaches has its label on the second round's map."""
    one, two = both().rounds
    swapped = Context(one.survey, one.evaluation, (), Campaign("Z"), (Context(two.survey, two.evaluation, ()),))
    for context in (both(), swapped):
        found = round_map_data(context)
        layers = [*found.layers, *(layer for each in found.views for layer in each.layers)]
        top = max(value.size_class or 0 for layer in layers for value in layer.values)
        assert len(found.class_labels) > top


def test_the_map_and_the_drawing_tell_the_same_changes() -> None:
    """For every compound the kinds on the web map are those that the printed map's alternative text counts."""
    context = both()
    drawn = ground(context)
    soil = [point.medium in ("soil_gas", "sub_slab", "crawl_space") for point in view("change").points]
    for layer in view("change").changes:
        counts = Counter(one.kind for one, own in zip(layer.values, soil, strict=True) if own)
        (figure,) = change_figures(context, context.changes[0], context.compounds[layer.id], drawn)
        for kind, count in counts.items():
            assert f"{count} {CHANGE_WORDS[kind]}" in figure.alt


def test_what_opens_at_a_point_has_both_results_with_their_rounds() -> None:
    """At SG-12 it was 374 ng, which a map rounds, and is 2.5 times that; marks say of which round they are."""
    points = [point.location_id for point in view("change").points]
    layer = next(layer for layer in view("change").changes if layer.id == "pce")
    found = layer.values[points.index("SG-12")]
    assert found.text == "both detected, no change established, 2.5 times the earlier mass"
    assert found.lines[0] == "First round, autumn 2025: 370 ng per sampler"
    assert found.lines[1].startswith("Second round, autumn 2026: ")
    assert {mark.reason.split(":")[0] for mark in found.marks} == {
        "First round, autumn 2025", "Second round, autumn 2026",
    }  # fmt: skip
    assert layer.values[points.index("SG-61")].lines == ()


def test_a_point_without_a_page_leads_nowhere() -> None:
    """The report of the second round has a page for each of its points, and none for those of the first alone."""
    payload = map_payload(data(), meta(), url)
    _, before, change = payload["views"]
    for points in (before["points"], change["points"]):
        urls = {point[0]: point[10] for point in points}
        known = {row.location_id for row in both().locations}
        assert urls == {name: url(name) if name in known else "" for name in urls}
        assert urls["SG-03"] == ""


def test_points_of_a_supplement_say_so() -> None:
    """The six were placed 35 days after the round's first day, and every other point says nothing."""
    told = {point.location_id: point.supplement for point in data().points if point.supplement}
    assert told == dict.fromkeys(NEW, "Six more points, deployed 5 weeks later than its round")


def test_the_script_has_the_signs_that_print_has() -> None:
    """One table of signs serves both: pixels are points of print by the scale that all symbols have."""
    change = map_payload(data(), meta(), url)["change"]
    assert set(change["signs"]) == set(change["words"]) == set(CHANGE_WORDS)
    assert [words for _, words in change["factors"]] == list(factor_labels())
    assert change["signs"]["grew"]["r"] * PRINT_SCALE == pytest.approx(4.2)


def test_two_rounds_of_one_id_have_addresses_of_their_own() -> None:
    """A round without an id, or with one that another has, is known by its number."""
    one, two = both().rounds
    rounds = [Context(one.survey, one.evaluation, (), Campaign(name)) for name in ("", "R", "R", "S")]
    context = Context(two.survey, two.evaluation, (), Campaign("R5"), tuple(rounds))
    assert [view_id(context, each) for each in context.rounds] == ["1", "2", "3", "S", "R5"]


def test_a_view_wants_a_value_for_each_of_its_points() -> None:
    """Values of one round never stand at another's points."""
    layers = made_up(3).layers
    short = MapView("R1", "round", "One", "", made_up(2).points, layers)
    with pytest.raises(ValueError, match="3 values for 2 points"):
        map_files(made_up(3, views=(short,), factor_labels=factor_labels()), meta(), url)
