"""The plan beside what was done: each line of the survey worked by hand, with one thing changed at a time."""

from __future__ import annotations

from functools import cache

import byhand_survey as by_hand
import pytest
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.field.twin import Item, Line, Naming, Record, naming, plan_twin
from sitegen.project.survey import Survey
from sitegen.project.tables import Departure

DEPLOYMENTS, SETTINGS, LOCATIONS = "field/deployments.csv", "project.toml", "locations/locations.csv"
Change = tuple[str, str, str]


def survey(*changes: Change) -> Survey:
    texts = dict(by_hand.FILES)
    for path, old, new in changes:
        assert texts[path].count(old) == 1, (path, old)
        texts[path] = texts[path].replace(old, new)
    return load(by_hand.folder(texts))


@cache
def lines(*changes: Change, finished: bool = True) -> dict[str, Line]:
    """Return the lines by name, of points those of all media under ``points`` and each medium under its own."""
    made = survey(*changes)
    found = evaluate(made)
    twin = plan_twin(Record(made, found.deployed, found.points, found.limits, finished))
    return {line.about or line.name: line for line in twin}


def plan(words: str) -> Change:
    return SETTINGS, "samplers_per_bag = 30", f"samplers_per_bag = 30\n{words}"


def test_a_point_not_done_and_one_added_differ_and_a_departure_names_each() -> None:
    line = lines()["soil_gas"]
    assert (line.differs, line.items) == (True, (Item("SG-6"), Item("SG-5")))
    named = naming(line, survey().rows(Departure))
    assert named == Naming((("DV-2", ("SG-6",)), ("DV-3", ("SG-5",))), (), ())


def test_what_no_departure_names_is_left_over_and_one_that_names_nothing_is_told() -> None:
    changes = (
        ("field/deviations.csv", "stockpile over the peg,no result there,SG-6", "stockpile over the peg,none,NA"),
        (LOCATIONS, "SG-6,soil_gas,grid", "SG-6,soil_gas,grid"),
    )
    named = naming(lines()["soil_gas"], survey(*changes).rows(Departure))
    assert named == Naming((("DV-3", ("SG-5",)),), ("SG-6",), ("DV-2",))


def test_a_departure_may_name_the_sampler_instead_of_its_point() -> None:
    only = ("field/deviations.csv", "no result there,SG-8;0108", "no result there,0108")
    (known,) = naming(lines()["returns"], survey(only).rows(Departure)).by_departure
    assert known == ("DV-4", ("SG-8",))


def test_fewer_points_in_the_list_than_the_settings_state_is_a_difference() -> None:
    line = lines((SETTINGS, "locations = 8", "locations = 9"))["points"]
    assert line.differs
    assert line.found is not None
    assert (line.found["planned"], line.found["listed"]) == (9, 8)


def test_before_the_samplers_are_back_what_is_to_come_is_no_difference() -> None:
    peg = (LOCATIONS, "vegetation,NA,NA,not_done", "vegetation,NA,NA,planned")
    assert lines(peg)["soil_gas"].items == (Item("SG-6"), Item("SG-5"))
    assert lines(peg, finished=False)["soil_gas"].items == (Item("SG-5"),)
    more = plan("least_duplicates = 3\nfield_blanks = 2")
    assert [lines(more)[name].differs for name in ("duplicates", "field_blanks")] == [True, True]
    assert [lines(more, finished=False)[name].differs for name in ("duplicates", "field_blanks")] == [False, False]


def test_more_than_planned_differs_at_any_time() -> None:
    none = plan("field_blanks = 0\nspares = 0")
    assert lines(none, finished=False)["field_blanks"].differs
    assert lines(none, finished=False)["spares"].differs
    assert lines(plan("field_blanks = 1\nspares = 1"))["spares"].differs is False


@pytest.mark.parametrize(("depth", "off"), [("3.5", ()), ("3.6", ("0107",)), ("2.4", ("0107",)), ("2.5", ())])
def test_a_depth_at_the_tolerance_is_within_it(depth: str, off: tuple[str, ...]) -> None:
    row = (DEPLOYMENTS, "2025-11-07T10:11,,3.0", f"2025-11-07T10:11,,{depth}")
    line = lines(row)["depths"]
    assert tuple(item.also for item in line.items) == off
    assert line.differs is bool(off)
    assert line.found is not None
    assert line.found["off"] == len(off)


def test_a_depth_without_a_plan_is_told_and_not_judged() -> None:
    line = lines((SETTINGS, 'depth = { value = 3.0, unit = "ft" }\n', ""))["depths"]
    assert (line.plan, line.differs, line.items) == (None, None, ())
    assert line.found == {"known": 8, "of": 8, "least": "2.9 ft", "most": "3.2 ft"}


def test_an_exposure_beyond_the_plan_is_named() -> None:
    line = lines((SETTINGS, "exposure_days_max = 14", "exposure_days_max = 11"))["exposures"]
    assert (line.differs, line.items) == (True, (Item("SG-3", "0104"),))
    plain = "exposure_days_min = 7\nexposure_days_max = 14\n"
    assert lines((SETTINGS, plain, ""))["exposures"].plan is None


@pytest.mark.parametrize(
    ("stated", "off"),
    [
        ("placing_from = 2025-10-27\nplacing_to = 2025-10-28", set()),
        ("placing_from = 2025-10-28", {"SG-1", "SG-2", "SG-3"}),
        ("placing_to = 2025-10-27", {"SG-4", "SG-5", "SG-7", "SG-8", "IA-1"}),
    ],
)
def test_days_of_placing_outside_the_plan_are_named(stated: str, off: set[str]) -> None:
    line = lines(plan(stated))["placing"]
    assert {item.name for item in line.items} == off
    assert line.differs is bool(off)


def test_days_of_retrieval_and_closed_days_are_held_against_the_plan() -> None:
    made = lines(plan("retrieving_from = 2025-11-07\nclosed_days = [2025-11-06, 2025-12-24]"))
    assert {item.name for item in made["retrieving"].items} == {"SG-1", "SG-2"}
    assert made["closed"].found == {"days": 4, "on": 3}
    assert {item.name for item in made["closed"].items} == {"SG-1", "SG-2"}
    assert lines(plan("closed_days = [2025-12-24]"))["closed"].differs is False


def test_a_bag_with_more_samplers_than_planned_is_named() -> None:
    line = lines((SETTINGS, "samplers_per_bag = 30", "samplers_per_bag = 4"))["bags"]
    assert (line.differs, line.items) == (True, (Item("RB-2"),))


def test_the_plan_states_none_where_the_settings_say_nothing() -> None:
    bare = (
        (SETTINGS, "duplicate_rate = 0.1\nsamplers_per_bag = 30\n", ""),
        (SETTINGS, "locations = 8\n", ""),
    )
    made = lines(*bare)
    for name in (
        "holes",
        "placing",
        "retrieving",
        "closed",
        "duplicates",
        "field_blanks",
        "spares",
        "trip_blanks",
        "bags",
    ):
        assert (made[name].plan, made[name].differs) == (None, None), name
    assert made["points"].plan == {"planned": 8}


def test_nothing_placed_gives_no_lines() -> None:
    made = survey()
    found = evaluate(made)
    assert plan_twin(Record(made, (), found.points, found.limits, finished=False)) == ()
