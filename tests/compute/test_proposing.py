"""Proposed points: where they lie, what they are kept off, and that a plan is carried out once."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from plan_folders import EAST, NORTH, Drawn, area, line, places, planned, proposed, spot

from sitegen.compute.design.faults import plan_faults
from sitegen.compute.design.keepoff import Reason
from sitegen.compute.design.propose import Proposal
from sitegen.project.place.coordinates import transform

GRID = "[plan.grid]"
SEWER = line("utility", "Sewer", (50, -20), (50, 120))
ALONG = '[[plan.along]]\nfeature = "Sewer"\nspacing = { value = 25, unit = "m" }\n'
TANK = area("tank", "Tank", 40, 40, 60, 60)


def reasons(proposal: Proposal) -> list[Reason]:
    return [one.reason for one in proposal.left_out]


def test_a_square_grid_has_a_point_in_the_middle_of_each_cell() -> None:
    """100 m by 100 m at 20 m: five rows of five, from the south-west corner, row by row."""
    made = proposed(GRID)
    assert places(made) == [(x, y) for y in (10, 30, 50, 70, 90) for x in (10, 30, 50, 70, 90)]
    assert [made.points[0].location_id, made.points[-1].location_id] == ["SG-01", "SG-25"]
    assert made.left_out == ()


def test_a_grid_over_a_circle_has_the_points_that_gauss_counted() -> None:
    """317 points of a square lattice lie in a circle of ten spacings around one of them (OEIS A000328)."""
    disc = (shapely.Point(150.3, 150.3).buffer(100.3, quad_segs=180), {"kind": "site_boundary", "name": "Yard"})
    shift = 'shift_east = { value = 5.3, unit = "m" }\nshift_north = { value = 5.3, unit = "m" }'
    made = proposed(f'{GRID}\nspacing = {{ value = 10, unit = "m" }}\n{shift}', site=disc)
    assert (150.3, 150.3) in places(made)
    assert len(made.points) == 317


def test_rows_of_a_triangular_grid_are_closer_than_its_points() -> None:
    """Rows s √3 / 2 apart, every other one half a spacing aside, to the centimetre."""
    made = places(proposed(f'{GRID}\npattern = "triangular"'))
    rows = sorted({y for _, y in made})
    assert rows == [round(10 + 20 * math.sqrt(3) / 2 * at, 2) for at in range(6)]
    assert [x for x, y in made if y == rows[1]] == [20, 40, 60, 80]


def test_a_grid_turns_clockwise_and_is_shifted() -> None:
    """Turned by 90° a square grid is itself; by 45° its neighbours lie north-east and south-east."""
    assert sorted(places(proposed(f"{GRID}\nrotation_deg = 90"))) == sorted(places(proposed(GRID)))
    turned = places(proposed(f"{GRID}\nrotation_deg = 45"))
    half = 20 / math.sqrt(2)
    assert (round(10 + half, 2), round(10 + half, 2)) in turned
    shifted = f'{GRID}\nshift_east = {{ value = 3, unit = "m" }}\nshift_north = {{ value = 10, unit = "ft" }}'
    assert places(proposed(shifted))[0] == (13, 13.05)  # 10 ft are 3.048 m


def test_lengths_in_feet_are_feet() -> None:
    """A spacing of 50 ft is 15.24 m; the first point lies half of it in."""
    made = places(proposed(f'{GRID}\nspacing = {{ value = 50, unit = "ft" }}'))
    assert made[:2] == [(7.62, 7.62), (22.86, 7.62)]


def test_no_point_lies_in_or_near_what_is_drawn_and_each_is_counted() -> None:
    """A building takes one of 25, a sewer a column, a pond at 10 m two, and what is left keeps its distance."""
    drawn = [area("building", "Shed", 5, 5, 15, 15), SEWER, area("surface_water", "Pond", 80, 80, 100, 100)]
    keep = '[plan.keep_off]\nwater = { value = 10.5, unit = "m" }'
    made = proposed(f"{GRID}\n{keep}", features=drawn)
    assert sorted(reasons(made)) == sorted(
        [Reason("in", "building", "Shed")]
        + [Reason("in", "utility", "Sewer")] * 5
        + [Reason("in", "surface_water", "Pond")]
        + [Reason("near", "surface_water", "Pond", 10.5)] * 2
    )
    assert {one.design for one in made.left_out} == {"grid"}
    assert len(made.points) == 25 - 9


@pytest.mark.parametrize(("offset", "kept"), [(0.98, False), (1.02, True)])
def test_utilities_are_kept_off_by_their_limit(offset: float, kept: bool) -> None:
    """The limit is 1 m where neither plan nor project states another; a tank is kept off as a utility is."""
    for drawn in (
        line("utility", "Main", (10 + offset, 0), (10 + offset, 20)),
        area("tank", "Tank", 10 + offset, 5, 13, 15),
    ):
        made = proposed(GRID, features=[drawn])
        assert ((10, 10) in places(made)) is kept
        assert bool(reasons(made)) is not kept


def test_the_projects_limit_and_then_the_plan_override_the_margin() -> None:
    """The limit of the project before the default, what [plan.keep_off] says before both."""
    drawn = [line("utility", "Main", (13, 0), (13, 20))]
    limit = '[limits.utility_distance_m]\nvalue = 4\nunit = "m"\nsource = "work plan"\n'
    keep = '[plan.keep_off]\nutilities = { value = 2, unit = "m" }\n'
    assert (10, 10) in places(proposed(GRID, features=drawn))
    assert (10, 10) not in places(proposed(f"{GRID}\n{limit}", features=drawn))
    assert (10, 10) in places(proposed(f"{GRID}\n{keep}{limit}", features=drawn))


def test_margins_are_held_by_the_places_as_they_are_written() -> None:
    """1.002 m from a main before it is rounded to a centimetre, and 0.998 m as the table would have it."""
    made = proposed(
        f'{GRID}\nshift_east = {{ value = 0.004, unit = "m" }}',
        features=[line("utility", "Main", (9.002, 0), (9.002, 20))],
    )
    assert reasons(made) == [Reason("near", "utility", "Main", 1.0)]


def test_the_boundary_is_kept_off_inwards() -> None:
    """At 10.5 m only the inner nine of 25 stay."""
    made = proposed(f'{GRID}\n[plan.keep_off]\nboundary = {{ value = 10.5, unit = "m" }}')
    assert len(made.points) == 9
    assert set(reasons(made)) == {Reason("edge", margin_m=10.5)}


def test_targeted_points_follow_a_line_and_are_not_moved_out_of_a_margin() -> None:
    """On the sewer itself each is left out; beside it those on the site are proposed where they are."""
    on_it = proposed(ALONG, features=[SEWER])
    assert on_it.points == ()
    assert sorted(set(reasons(on_it))) == [Reason("in", "utility", "Sewer"), Reason("outside")]
    assert [one.design for one in on_it.left_out] == ["targeted"] * 6
    beside = proposed(ALONG + 'offset = { value = 2, unit = "m" }\nside = "left"', features=[SEWER])
    assert places(beside) == [(48, 5), (48, 30), (48, 55), (48, 80)]
    assert {one.rationale for one in beside.points} == {"along Sewer, every 25 m, 2 m to the left"}
    assert {one.design for one in beside.points} == {"targeted"}


def test_a_line_drawn_in_pieces_is_one() -> None:
    """Two pieces of 30 m and 20 m are walked as 50 m, whichever is drawn first."""
    pieces = [line("flow_line", "Sewer", (10, 40), (10, 60)), line("flow_line", "Sewer", (10, 10), (10, 40))]
    assert places(proposed(ALONG, features=pieces)) == [(10, 10), (10, 35), (10, 60)]


def test_a_ring_surrounds_what_it_is_named_after() -> None:
    """Four points 5 m from a tank, clockwise from north."""
    ring = '[[plan.around]]\nfeature = "Tank"\ndistance = { value = 5, unit = "m" }\npoints = 4\nrationale = "leak?"'
    made = proposed(ring, features=[TANK])
    assert places(made) == [(50, 65), (65, 50), (50, 35), (35, 50)]
    assert {one.rationale for one in made.points} == {"leak?"}
    source = spot("suspected_source", "Tank", 50, 50)
    assert places(proposed(ring, features=[source])) == [(50, 55), (55, 50), (50, 45), (45, 50)]


def test_a_background_point_may_lie_off_the_site_but_in_no_building() -> None:
    """It is then said to; within the site it is not."""
    shed = area("building", "Shed", 200, 200, 220, 220)
    plan = "".join(
        f"[[plan.background]]\neasting = {EAST + x}\nnorthing = {NORTH + y}\n"
        for x, y in [(50, 50), (150, 50), (210, 210)]
    )
    made = proposed(plan, features=[shed])
    assert places(made) == [(50, 50), (150, 50)]
    assert [one.row()["off_site"] for one in made.points] == ["no", "yes"]
    assert reasons(made) == [Reason("in", "building", "Shed")]


def test_the_name_of_what_is_not_public_stays_out_of_the_table() -> None:
    """Rationales are published; the kind and number of the feature stand in its place."""
    secret = line("utility", "Sewer", (50, 0), (50, 100), public="no")
    made = proposed(ALONG + 'offset = { value = 2, unit = "m" }', features=[secret])
    assert {one.rationale for one in made.points} == {"along utility 2, every 25 m, 2 m to the right"}


def test_points_of_the_table_are_not_proposed_again() -> None:
    """Neither at their place as planned nor as surveyed; 1 m is kept between two points of soil."""
    rows = (
        f"SG-01,soil_gas,grid,,{EAST + 10},{NORTH + 10},{EAST + 13},{NORTH + 10},,placed,no\n"
        f"SG-02,soil_gas,grid,,{EAST + 45},{NORTH + 10},{EAST + 30.7},{NORTH + 10},,placed,no\n"
        f"SG-03,soil_gas,grid,,{EAST + 51.01},{NORTH + 10},,,,not_done,no\n"
        f"OA-01,outdoor_air,,,{EAST + 70.6},{NORTH + 10},,,,planned,no\n"
        f"OA-02,outdoor_air,,,{EAST + 90.03},{NORTH + 10},,,,planned,no\n"
        "SG-04,soil_gas,grid,,,,,,,planned,no\n"
    )
    made = proposed(GRID, rows=rows)
    assert reasons(made) == [
        Reason("existing", name="SG-01"),
        Reason("existing", name="SG-02", margin_m=1.0),
        Reason("existing", name="OA-02"),
    ]
    assert made.unplaced == 1
    assert made.points[0].location_id == "SG-05"


def test_a_targeted_point_stays_where_a_grid_point_is_too_near() -> None:
    """Of the two the one of the grid is left out, and it is said why."""
    plan = f'{GRID}\n[[plan.background]]\neasting = {EAST + 10.5}\nnorthing = {NORTH + 10}\nrationale = "upwind"'
    made = proposed(plan)
    assert (10.5, 10) in places(made)
    assert (10, 10) not in places(made)
    assert [(one.design, one.reason) for one in made.left_out] == [("grid", Reason("proposed", margin_m=1.0))]


@pytest.mark.parametrize(
    ("surface", "west", "said"),
    [("asphalt", 5, "asphalt"), ("tarmac", 5, ""), ("", 5, ""), ("gravel", 9.6, ""), ("gravel", 9.4, "gravel")],
)
def test_the_surface_is_that_of_the_map_where_it_says_one(surface: str, west: float, said: str) -> None:
    """Nothing is said of another word, or within half a metre of an edge."""
    made = proposed(GRID, features=[area("paved_area", "Lot", west, 5, 15, 15, surface=surface)])
    assert made.points[0].surface == said
    assert made.points[1].surface == ""


def test_positions_are_in_the_projects_own_feet() -> None:
    """South Dakota South, US survey feet (EPSG:2842 has metres; EPSG:6570 feet): to a hundredth, and the same place."""
    made = proposed(GRID, crs="EPSG:6571", more='map_crs = "EPSG:32614"\nfoot = "us_survey"')
    first = made.points[0]
    assert first.easting.partition(".")[2] == first.easting[-2:]
    x, y = transform("EPSG:6571", "EPSG:32614", np.array([float(first.easting)]), np.array([float(first.northing)]))
    assert (x[0] - EAST, y[0] - NORTH) == pytest.approx((10, 10), abs=0.005)


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:4269"])
def test_positions_in_degrees_are_longitude_and_latitude(crs: str) -> None:
    """As the table is read where the system is one of degrees: WGS 84, or NAD 83, with digits to a centimetre."""
    made = proposed(GRID, crs=crs, more='map_crs = "EPSG:32614"')
    assert made.points[0].easting.startswith("-99.3")
    assert made.points[0].northing.startswith("43.0")
    assert len(made.points) == 25


def test_nothing_is_asked_for_without_a_table_of_the_plan() -> None:
    """A spacing alone asks for no grid."""
    made = proposed("")
    assert made.points == ()
    assert made.left_out == ()


RING = '[[plan.around]]\nfeature = "Tank"\npoints = 100\ndistance = { value = %s, unit = "m" }\n'


@pytest.mark.parametrize(("public", "said"), [("yes", "Nursery"), ("no", "")])
def test_a_point_around_a_building_names_it(public: str, said: str) -> None:
    """So that cautions and checks of an occupied building find the points beside it; one not public stays unnamed."""
    ring = '[[plan.around]]\nfeature = "Nursery"\ndistance = { value = 2, unit = "m" }\npoints = 4'
    made = proposed(ring, features=[area("building", "Nursery", 40, 40, 60, 60, occupied="yes", public=public)])
    assert [one.row()["building"] for one in made.points] == [said] * 4


def test_a_name_that_is_not_known_is_told_with_those_that_are() -> None:
    """A short name is like none of the map's: whoever typed it reads what there is to write."""
    (fault,) = plan_faults(planned((RING % 5).replace("Tank", "UST"), features=[SEWER, TANK]))
    assert fault.do == "write a name as the map has it: Sewer, Tank"
    (fault,) = plan_faults(planned(RING % 5))
    assert fault.do == "draw the feature, with a name"


def test_a_point_around_a_tank_is_in_no_building() -> None:
    """The column is for buildings alone."""
    made = proposed(RING % 5, features=[TANK])
    assert {one.row()["building"] for one in made.points} == {""}


FAULTS = [
    (f'{GRID}\nspacing = {{ value = 0.001, unit = "m" }}', "plan.grid.spacing", "at least 1 m"),
    (f'{GRID}\nspacing = {{ value = 0, unit = "m" }}', "plan.grid.spacing", "more than 0"),
    (f'{GRID}\nspacing = {{ value = 1, unit = "m" }}', "plan.grid.spacing", "at most 5,000 points"),
    (ALONG.replace("25", "0"), "plan.along.0.spacing", "more than 0"),
    (ALONG.replace("Sewer", "Sewr"), "plan.along.0.feature", "the name of a feature"),
    (ALONG.replace("Sewer", "Tank"), "plan.along.0.feature", "the name of a line"),
    (RING % 0, "plan.around.0.distance", "more than 0"),
    (RING % 5 * 51, "plan.around", "at most 5,000 points"),
    ("[[plan.background]]\neasting = 4770000\nnorthing = 470000", "plan.background.0", "at most 50 km"),
    ("[[plan.background]]\neasting = 1e8\nnorthing = 1e8", "plan.background.0", "at most 50 km"),
    (f'id_prefix = "=SG"\n{GRID}', "plan.id_prefix", "no formula"),
    (f'id_prefix = " SG"\n{GRID}', "plan.id_prefix", "no blank before"),
    (f'id_prefix = "A;B"\n{GRID}', "plan.id_prefix", "semicolon"),
    (f'id_prefix = "2025-11-"\n{GRID}', "plan.id_prefix", "date"),
    (f'id_prefix = "{"S" * 95}"\n{GRID}', "plan.id_prefix", "a beginning of ids"),
]


@pytest.mark.parametrize(("plan", "key", "expected"), FAULTS, ids=[f"{at}-{f[1]}" for at, f in enumerate(FAULTS)])
def test_a_plan_that_cannot_be_carried_out_is_refused_with_the_place(plan: str, key: str, expected: str) -> None:
    """One stop, at the line of the setting, saying what is expected."""
    (fault,) = plan_faults(planned(plan, features=[SEWER, TANK]))
    assert (fault.code, fault.where.column) == ("setting-invalid", key)
    assert expected in fault.expected
    assert fault.where.row is not None or key == "plan.around"


def test_a_wide_site_is_bounded_however_the_grid_lies() -> None:
    """10 km at 1 m are a hundred million points; a thin site across a wide box has too many nodes to look at."""
    wide = area("site_boundary", "Yard", 0, 0, 10_000, 10_000)
    (fault,) = plan_faults(planned(f'{GRID}\nspacing = {{ value = 1, unit = "m" }}\nrotation_deg = -33.3', site=wide))
    assert fault.found == "a plan of about 100,000,000 points"
    strip: Drawn = (shapely.LineString([(0, 0), (10_000, 10_000)]).buffer(0.2), {"kind": "site_boundary", "name": "S"})
    (fault,) = plan_faults(planned(f'{GRID}\nspacing = {{ value = 2, unit = "m" }}', site=strip))
    assert "nodes in the box" in fault.found


def test_a_grid_without_any_spacing_is_told() -> None:
    """Neither the grid nor the plan has one."""
    survey = planned(GRID)
    text = (
        (survey.folder.content("project.toml") or b"").decode().replace("spacing = { value = 20.0", "x_s = { value = 1")
    )
    assert "x_s" in text
    bare = survey.settings.plan.model_copy(update={"spacing": None})
    without = survey.settings.model_copy(update={"plan": bare})
    object.__setattr__(survey, "settings", without)
    assert [fault.where.column for fault in plan_faults(survey)] == ["plan.grid.spacing"]


@pytest.mark.parametrize(
    ("site", "more", "found"),
    [
        (area("other", "Yard", 0, 0, 100, 100), [], "no site boundary"),
        (area("site_boundary", "Yard", 0, 0, 100, 100), [area("site_boundary", "B", 0, 0, 9, 9)], "2 site boundaries"),
        (line("site_boundary", "Yard", (0, 0), (100, 0), (100, 100)), [], "a site boundary that is no area"),
    ],
    ids=["none", "two", "line"],
)
def test_one_boundary_that_is_an_area_is_needed(site: Drawn, more: list[Drawn], found: str) -> None:
    """Without it nothing is proposed, and what to draw is said."""
    (fault,) = plan_faults(planned(GRID, site=site, features=more))
    assert fault.found == found
    assert "site" in fault.do
