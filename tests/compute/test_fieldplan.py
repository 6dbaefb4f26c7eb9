"""The plan as the crew carries it: order, ground, ties and samplers."""

from __future__ import annotations

import pytest
from builders import row_of
from plan_folders import EAST, NORTH, Drawn, area, line, planned, spot

from sitegen.compute.design.fieldplan import FieldPlan, field_plan, ground_of
from sitegen.compute.design.order import order
from sitegen.project.survey import Survey
from sitegen.project.tables import Location


def row(name: str, x: float, y: float, **more: str) -> str:
    cells = {"medium": "soil_gas", "surface": "", "status": "planned"} | more
    return f"{name},{cells['medium']},grid,why,{EAST + x},{NORTH + y},,,{cells['surface']},{cells['status']},no\n"


ROWS = row("SG-3", 30, 0) + row("SG-1", 0, 0) + row("SG-2", 10, 0, surface="asphalt")


def plan_of(rows: str = ROWS, plan: str = "", features: list[Drawn] | None = None) -> FieldPlan:
    return field_plan(planned(plan, rows=rows, features=features or []))


@pytest.mark.parametrize(
    ("medium", "surface", "ground"),
    [
        ("soil_gas", "soil", "unpaved"),
        ("soil_gas", "", "unpaved"),
        ("soil_gas", "asphalt", "paved"),
        ("soil_gas", "interior_slab", "slab"),
        ("sub_slab", "", "slab"),
        ("crawl_space", "soil", "air"),
        ("crawl_space", "interior_slab", "air"),
        ("indoor_air", "interior_slab", "air"),
        ("outdoor_air", "", "air"),
    ],
)
def test_the_ground_follows_from_medium_and_surface(medium: str, surface: str, ground: str) -> None:
    """No hole is made in a crawl space: what is sampled there is its air."""
    assert ground_of(row_of(Location, medium=medium, surface=surface)) == ground


def test_points_are_walked_from_the_south_west_and_those_given_up_have_left() -> None:
    """Points that are not done or abandoned need no sampler; one without a position comes last."""
    rows = ROWS + row("SG-4", 5, 0, status="not_done") + row("SG-5", 6, 0, status="abandoned")
    made = plan_of(rows + "SG-6,soil_gas,grid,,,,,,,planned,no\n")
    assert [point.location_id for point in made.points] == ["SG-1", "SG-2", "SG-3"]
    assert made.unplaced == ("SG-6",)
    assert [slot.location_id for slot in made.allocation.of("sample")] == ["SG-1", "SG-2", "SG-3", "SG-6"]


def test_the_plans_numbers_are_allotted() -> None:
    """4 points at 0.5, with at least 3 pairs, 2 field blanks and a spare, in bags of 5: 9 samplers in 2 bags."""
    plan = (
        "duplicate_rate = 0.5\nleast_duplicates = 3\nfield_blanks = 2\nspares = 1\nsamplers_per_bag = 5\n"
        'depth = { value = 3, unit = "ft" }'
    )
    made = plan_of(ROWS + row("OA-1", 40, 0, medium="outdoor_air"), plan)
    counts = made.allocation.counts
    assert (counts.primaries, counts.duplicates, counts.field_blanks, counts.bags, counts.spares) == (4, 3, 2, 2, 1)
    assert counts.samplers == 4 + 3 + 2 + 2 + 1
    assert [point.depth_text for point in made.points] == ["3 ft", "3 ft", "3 ft", ""]


def test_a_label_is_unlike_the_id_of_a_point_that_was_given_up() -> None:
    """Its row is still in the table."""
    made = plan_of(ROWS + row("SG-1-D", 5, 0, status="abandoned"), "duplicate_rate = 1.0")
    assert "SG-1-D2" in [slot.label for slot in made.allocation.slots]


def test_a_point_is_tied_to_the_nearest_two_features_that_stay() -> None:
    """By the tape: to an outline or a place; of two of one name the nearer, of things that move none."""
    drawn = [
        area("building", "Shed", 0, 10, 10, 20),
        area("building", "Shed", 0, 200, 10, 210),
        spot("well", "MW-1", -60, 50),
        spot("suspected_source", "Spill", 1, 1),
    ]
    ties = {point.location_id: point.ties for point in plan_of(features=drawn).points}
    assert [(tie.name, tie.distance_m) for tie in ties["SG-1"]] == [("Yard", 0.0), ("Shed", 10.0)]
    assert ties["SG-1"][1].direction == "south"
    far = plan_of(row("SG-1", -60.5, 50), features=drawn).points[0].ties
    assert [(tie.name, tie.distance_m, tie.direction) for tie in far] == [
        ("MW-1", 0.5, "west"), ("Yard", 60.5, "west"),
    ]  # fmt: skip


@pytest.mark.parametrize("below", [line("utility", "Main", (-60, 1), (60, 1)), area("tank", "UST-2", 0, 1, 4, 5)])
def test_no_point_is_tied_to_what_lies_below_the_ground(below: Drawn) -> None:
    """Nobody can hold a tape to a pipe or a tank that is buried."""
    ties = plan_of(row("SG-1", 0, 0), features=[below, area("paved_area", "Apron", 0, 8, 4, 9)]).points[0].ties
    assert [(tie.name, tie.distance_m) for tie in ties] == [("Yard", 0.0), ("Apron", 8.0)]


def test_the_order_names_use_medium_and_type() -> None:
    """Primaries and duplicates by medium, blanks and spares for all; the type where one is on record."""
    survey: Survey = planned(
        "duplicate_rate = 0.5\nspares = 2\nplacing_from = 2025-10-20",
        rows=ROWS + row("OA-1", 60, 0, medium="outdoor_air"),
    )
    wanted = order(survey, field_plan(survey).allocation)
    assert [(line.use, line.medium, line.count) for line in wanted.lines] == [
        ("sample", "soil_gas", 3),
        ("sample", "outdoor_air", 1),
        ("field_duplicate", "soil_gas", 1),  # the second and the fourth of the way are doubled
        ("field_duplicate", "outdoor_air", 1),
        ("trip_blank", "", 1),
        ("spare", "", 2),
    ]
    assert wanted.samplers == 9
    assert {line.types for line in wanted.lines} == {()}
    assert wanted.needed_by is not None
    assert wanted.needed_by.isoformat() == "2025-10-20"
