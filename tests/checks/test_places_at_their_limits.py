"""Rules on places and holes, where they begin to tell and just before: what, where, and of which row."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

import pytest
from builders import Row, changed, content, load
from few_rows import deployed, sampler, survey_of, told
from journeys import folder

from sitegen.checks import fieldwork, place, space
from sitegen.checks.rows import MAX_TOLD
from sitegen.compute.evaluate import evaluate
from sitegen.project.place.coordinates import WGS84, transform
from sitegen.project.survey import Survey

EAST, NORTH = 470_000.0, 4_770_000.0
"""A corner of the ground that all is placed on, in metres of UTM zone 14 north."""
Shape = tuple[str, list[tuple[float, float]]]


def point(name: str, east: float, north: float, **others: str) -> Row:
    """Return a point, so many metres from the corner."""
    where = {"easting": f"{EAST + east:.2f}", "northing": f"{NORTH + north:.2f}"}
    return {"location_id": name, "medium": "soil_gas", "status": "placed"} | where | others


def feature(shape: Shape, **properties: str) -> dict[str, Any]:
    """Return a feature of the map: a polygon, or a line of two corners, in degrees."""
    kind, corners = shape
    x, y = (list(axis) for axis in zip(*corners, strict=True))
    lon, lat = transform("EPSG:32614", WGS84, [EAST + v for v in x], [NORTH + v for v in y])  # type: ignore[arg-type]
    ring = [list(pair) for pair in zip(lon.tolist(), lat.tolist(), strict=True)]
    geometry = {"type": "LineString", "coordinates": ring}
    if len(ring) > 2:
        geometry = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    return {"type": "Feature", "properties": {"kind": kind} | properties, "geometry": geometry}


def square(kind: str, side: float, corner: float = 0.0) -> Shape:
    far = corner + side
    return kind, [(corner, corner), (far, corner), (far, far), (corner, far)]


def ground(points: Iterable[Row], *features: Mapping[str, Any], **tables: list[Row]) -> Survey:
    """Return points on a map, each with a sampler that came back."""
    rows = list(points)
    names = [row["location_id"] for row in rows]
    every = {
        "locations": rows,
        "samplers": [sampler(sampler_id=f"S-{name}") for name in names],
        "deployments": [
            deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact", sampler_id=f"S-{name}",
                     location_id=name) for name in names
        ],
    }  # fmt: skip
    drawn = json.dumps({"type": "FeatureCollection", "features": list(features)}).encode()
    return load(changed(content("locations/features.geojson", drawn), folder=folder(every | tables)))


SITE = feature(square("site_boundary", 100))


@pytest.mark.parametrize(
    ("second", "medium", "tells"),
    [(1.0, "soil_gas", False), (0.99, "soil_gas", True), (0.99, "sub_slab", True), (0.0, "indoor_air", False)],
)
def test_two_points_of_a_kind_are_a_metre_apart(second: float, medium: str, *, tells: bool) -> None:
    """Soil gas and sub-slab are of one kind; an air point may be above a hole."""
    survey = ground([point("P-1", 50, 50), point("P-2", 50 + second, 50, medium=medium)])
    found = told(place.spacing(survey, evaluate(survey)))
    assert found == [f"location P-1+P-2 (3 easting): P-2 at {second:.2f} m from P-1"] * tells


def test_pairs_of_points_at_one_place_are_told_up_to_a_number_and_counted() -> None:
    """Nine at one place are 36 pairs: twenty are told one by one, sixteen are one finding with their rows."""
    survey = ground([point(f"P-{at}", 2, 2) for at in range(9)])
    found = list(place.spacing(survey, evaluate(survey)))
    assert [finding.count for finding in found] == [1] * MAX_TOLD + [36 - MAX_TOLD]
    assert (found[-1].subject, len(found[-1].rows)) == ("locations+soil+more", 36 - MAX_TOLD)
    assert found[-1].found == "16 more pairs of this kind, starting here"


def test_no_more_than_so_many_pairs_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(place, "MOST_PAIRS", 30)
    survey = ground([point(f"P-{at}", 2, 2) for at in range(9)])
    assert list(place.spacing(survey, evaluate(survey)))[-1].found.startswith("at least 10 more pairs")


@pytest.mark.parametrize(
    ("moved", "accuracy", "tells"),
    [(1.0, "", False), (1.01, "", True), (3.0, "3", False), (3.01, "3", True), (1.0, "0.5", False)],
)
def test_a_point_is_within_a_metre_of_its_plan_or_within_its_accuracy(
    moved: float, accuracy: str, *, tells: bool
) -> None:
    """The larger of the two counts."""
    row = point("P-1", 0, 0, plan_easting=f"{EAST - moved:.2f}", plan_northing=f"{NORTH}", accuracy_m=accuracy)
    survey = ground([row])
    found = list(place.moves(survey, evaluate(survey)))
    assert told(found) == [f"location P-1 (2 easting): {moved:.3g} m from the planned position"] * tells
    limit = f"at most {accuracy} m, the stated accuracy (limit 1 m)" if accuracy else "at most 1 m"
    assert {f.expected for f in found} <= {limit}


@pytest.mark.parametrize(
    ("feet", "tells"), [("3.29", False), ("6.56", False), ("6.57", True), ("0", False), ("", False)]
)  # fmt: skip
def test_a_move_in_the_notes_agrees_with_the_coordinates_within_a_metre(feet: str, *, tells: bool) -> None:
    """Moved 1 m by the coordinates. 3.29 ft are 1.003 m, 6.56 ft 1.9995 m and 6.57 ft 2.003 m."""
    row = point("P-1", 0, 0, plan_easting=f"{EAST - 1}", plan_northing=f"{NORTH}")
    placed = deployed("2025-06-02T08:00", "", sampler_id="S-P-1", moved_ft=feet)
    survey = ground([row], deployments=[placed])
    words = "sampler S-P-1 (2 moved_ft): moved 2.0 m according to the field notes, 1.0 m according to the coordinates"
    assert told(place.moves_agree(survey, evaluate(survey))) == [words] * tells


@pytest.mark.parametrize(("accuracy", "tells"), [("3", False), ("3.1", True), ("", False)])
def test_a_position_is_known_to_three_metres(accuracy: str, *, tells: bool) -> None:
    survey = ground([point("P-1", 0, 0, accuracy_m=accuracy)])
    found = told(place.accuracy(survey, evaluate(survey)))
    assert found == [f"location P-1 (2 accuracy_m): {accuracy} m"] * tells


@pytest.mark.parametrize(
    ("away", "medium", "tells"), [(1.01, "soil_gas", False), (0.99, "soil_gas", True), (0.5, "indoor_air", False)]
)
def test_a_hole_is_a_metre_from_a_mapped_utility(away: float, medium: str, *, tells: bool) -> None:
    """The second feature of the file; an air point is no hole."""
    pipe = feature(("utility", [(0, 20), (100, 20)]), name="Gas pipe", public="yes")
    survey = ground([point("P-1", 50, 20 + away, medium=medium)], SITE, pipe)
    found = told(place.utilities(survey, evaluate(survey)))
    assert [f.split(" from")[0] for f in found] == [f"location P-1+feature 2 (2 easting): a hole {away:.2f} m"] * tells


HALL = feature(square("building", 20), name="Hall")
YARD = feature(square("paved_area", 20, 40), name="Yard", surface="asphalt")
LOT = feature(square("paved_area", 20, 70), name="Lot")


@pytest.mark.parametrize(
    ("at", "surface", "expected"),
    [
        (10, "interior_slab", ""),
        (10, "asphalt", "interior slab, since the point is in the building Hall"),
        (19.6, "asphalt", ""),
        (19.4, "asphalt", "interior slab, since the point is in the building Hall"),
        (20.4, "interior_slab", ""),
        (20.6, "interior_slab", "a different surface, since the point is outside every mapped building"),
        (50, "asphalt", ""),
        (50, "concrete", "asphalt, since the point is on Yard"),
        (80, "concrete", ""),
        (30, "gravel", ""),
        (30, "asphalt", "soil or vegetation or gravel, since the point is outside every mapped paved area"),
        (30, "", ""),
    ],
)
def test_a_surface_is_the_one_mapped_but_for_half_a_metre_at_its_edge(at: float, surface: str, expected: str) -> None:
    """A building from 0 to 20 m, asphalt from 40 to 60 m, paving of no stated kind from 70 to 90 m."""
    survey = ground([point("P-1", at, at if at < 19 or at > 21 else 10, surface=surface)], HALL, YARD, LOT)
    found = list(place.surfaces(survey, evaluate(survey)))
    assert [f.expected for f in found] == ([expected] if expected else [])
    assert told(found) == [f"location P-1 (2 surface): {surface.replace('_', ' ')}"] * len(found)


def test_on_a_map_without_buildings_or_paving_any_surface_may_be_noted() -> None:
    for surface in ("interior_slab", "asphalt"):
        survey = ground([point("P-1", 30, 30, surface=surface)], SITE)
        assert told(place.surfaces(survey, evaluate(survey))) == []


@pytest.mark.parametrize(
    ("points", "expected"),
    [
        ([(100.2, 50)], ["location P-1 (2 easting): a point 0.2 m outside the site boundary"]),
        ([(99.8, 50)], []),
        (
            [(160, 50), (170, 50)],
            [
                "location P-1 (2 easting): a point 60.0 m outside the site boundary",
                "location P-2 (3 easting): a point 70.0 m outside the site boundary",
            ],
        ),
        ([(160, 50), (170, 50), (180, 50)], [" all (13 space.crs): 3 points, all outside the site boundary"]),
        (
            [(160, 50), (50, 50), (170, 50), (99, 50)],
            [
                "location P-1 (2 easting): a point 60.0 m outside the site boundary",
                "location P-3 (4 easting): a point 70.0 m outside the site boundary",
            ],
        ),
    ],
)
def test_points_lie_within_the_boundary_and_three_that_all_do_not_are_told_at_once(
    points: list[tuple[float, float]], expected: list[str]
) -> None:
    rows = [point(f"P-{n}", *where) for n, where in enumerate(points, start=1)]
    found = told(space.points_and_boundary(ground(rows, SITE)))
    assert [f.split(";")[0] for f in found] == expected
    off = [row | {"off_site": "yes"} for row in rows]
    assert told(space.points_and_boundary(ground(off, SITE))) == []


def test_swapped_axes_are_told_of_a_point_or_of_all() -> None:
    """A point whose easting and northing change places is told as that, and not as one outside."""
    swapped = {"easting": f"{NORTH + 50}", "northing": f"{EAST + 50}"}
    one = [point("P-1", 50, 50), point("P-2", 60, 60) | swapped]
    assert told(space.points_and_boundary(ground(one, SITE))) == [
        ("location P-2 (3 easting): easting 4770050.00 and northing 470050.00, on the site only if exchanged")
    ]
    every = [point(f"P-{n}", 50, 50) | swapped for n in (1, 2)]
    assert told(space.points_and_boundary(ground(every, SITE))) == [
        " all (2 easting): 2 points on the site only if easting and northing are exchanged"
    ]


@pytest.mark.parametrize(("away", "tells"), [(1.99, False), (2.01, True)])
def test_two_kinds_of_coordinates_of_one_point_agree_within_two_metres(away: float, *, tells: bool) -> None:
    """The second pair is that of a place so far to the east."""
    lon, lat = transform("EPSG:32614", WGS84, [EAST + 50 + away], [NORTH + 50])  # type: ignore[arg-type]
    row = point("P-1", 50, 50, longitude=f"{lon[0]:.9f}", latitude=f"{lat[0]:.9f}")
    found = told(space.coordinates_agree(ground([row, point("P-2", 60, 60)], SITE)))
    words = f"location P-1 (2 longitude): easting and northing {away:.1f} m from longitude and latitude"
    assert found == [words] * tells


def test_a_point_that_was_used_has_a_position_that_was_surveyed() -> None:
    """P-1 has one, P-2 a planned one, P-3 an easting alone, P-4 none; P-5 has none and was not used."""
    plan = {"plan_easting": f"{EAST}", "plan_northing": f"{NORTH}"}
    nothing = {"easting": "", "northing": ""}
    rows = [
        point("P-1", 0, 0), point("P-2", 0, 0) | nothing | plan, point("P-3", 0, 0) | plan | {"northing": ""},
        point("P-4", 0, 0) | nothing,
    ]  # fmt: skip
    used = [deployed("2025-06-02T08:00", "", sampler_id=f"S-{n}", location_id=f"P-{n}") for n in range(1, 5)]
    survey = ground([*rows, point("P-5", 0, 0) | nothing], deployments=used)
    assert told(space.coordinates_present(survey)) == [
        "location P-4 (5 easting): a point that was used, without coordinates",
        "location P-2 (3 easting): a point with a planned position only",
        "location P-3 (4 northing): a point with a planned position only",
    ]


def test_as_many_points_are_listed_as_planned_those_added_left_out() -> None:
    """The plan of these surveys is for two points; the last two of a list of another length are named."""
    rows = [point(f"P-{n}", n, n) for n in (1, 2, 3)]
    assert told(space.plan_counts(ground(rows[:2]))) == []
    assert told(space.plan_counts(ground([*rows[:2], rows[2] | {"design": "added"}]))) == []
    (found,) = space.plan_counts(ground(rows))
    assert (found.found, found.expected) == (
        "3 planned points in locations.csv (the last are P-2, P-3)", "2, as planned"
    )  # fmt: skip


# --- holes -------------------------------------------------------------------------------------


def in_hole(number: int, **others: str) -> Row:
    return deployed("2025-06-02T08:00", "", sampler_id=f"S-{number}", location_id=f"P-{number}", **others)


def holes(*rows: Row, **tables: list[Row]) -> Survey:
    """Return samplers in holes of their own."""
    places = [{"location_id": row["location_id"], "medium": "soil_gas"} for row in rows]
    known = [sampler(sampler_id=row["sampler_id"]) for row in rows]
    return survey_of({"locations": places, "samplers": known, "deployments": list(rows)} | tables)


@pytest.mark.parametrize(("metres", "tells"), [("0.93", False), ("0.94", True), ("0.90", False), ("0.89", True)])
def test_two_depths_of_a_sampler_agree_within_two_centimetres(metres: str, *, tells: bool) -> None:
    """3 ft are 0.9144 m."""
    found = told(fieldwork.depths(holes(in_hole(1, depth_ft="3", depth_m=metres))))
    assert found == [f"sampler S-1 (2 depth_m): 3 ft and {float(metres):g} m"] * tells


@pytest.mark.parametrize(
    ("units", "expected"),
    [
        (("ft", "ft"), []),
        (("ft", "m"), [" survey (3 depth_m): 1 depth in depth_m, 2 rows in all"]),
        (("m", "ft", "m"), [" survey (3 depth_ft): 1 depth in depth_ft, 3 rows in all"]),
        (("m", "", "m"), []),
    ],
)
def test_depths_are_in_one_unit_and_the_rarer_is_shown(units: tuple[str, ...], expected: list[str]) -> None:
    """Of as many of each, the metres."""
    rows = [in_hole(n, **({f"depth_{unit}": "1"} if unit else {})) for n, unit in enumerate(units, start=1)]
    assert told(fieldwork.depths(holes(*rows))) == expected


@pytest.mark.parametrize(
    ("valid_from", "valid_to", "expected"),
    [
        ("2025-06-02T08:00", "2025-06-02T08:00", []),
        ("2025-06-02T08:01", "2025-07-01T00:00", [
            "ticket T-1+valid_from (2 valid_from): 1 hole made before 2025-06-02T08:01: P-1"]),
        ("2025-06-01T00:00", "2025-06-02T07:59", [
            "ticket T-1+valid_to (2 valid_to): 1 hole made after 2025-06-02T07:59: P-1"]),
    ],
)  # fmt: skip
def test_a_ticket_is_valid_from_its_first_to_its_last_minute(
    valid_from: str, valid_to: str, expected: list[str]
) -> None:
    ticket = {"ticket": "T-1", "valid_from": valid_from, "valid_to": valid_to, "location_ids": ""}
    assert told(fieldwork.clearance(holes(in_hole(1), clearance=[ticket]))) == expected


def test_a_hole_is_named_by_a_ticket_and_air_needs_none() -> None:
    """P-2 is named by none, and told at the first of its two rows; P-3 is above the ground."""
    rows = [in_hole(1), in_hole(2), in_hole(2, duplicate_of="S-2") | {"sampler_id": "S-22"}, in_hole(3)]
    places = [{"location_id": f"P-{n}", "medium": "indoor_air" if n == 3 else "soil_gas"} for n in (1, 2, 3)]
    ticket = {"ticket": "T-1", "valid_from": "2025-06-01T00:00", "valid_to": "2025-07-01T00:00", "location_ids": "P-1"}
    found = told(fieldwork.clearance(holes(*rows, locations=places, clearance=[ticket])))
    assert found == ["location P-2 (3 location_id): a hole at P-2 not listed on any ticket"]
    assert told(fieldwork.clearance(holes(*rows, locations=places))) == []


def test_what_is_noted_of_a_hole() -> None:
    """Depth in soil, a condition of what came back, a sleeve through paving, and a closed hole."""
    rows = [
        in_hole(1, depth_ft="3", sleeve="yes", hole_restored="yes"),
        in_hole(2, sleeve="no", hole_restored="no"),
        in_hole(3, depth_m="1", sleeve="no"),
        in_hole(4) | {"retrieved_at": "2025-06-10T08:00"},
    ]
    grounds = ("asphalt", "asphalt", "soil", "soil")
    media = ("soil_gas", "soil_gas", "soil_gas", "indoor_air")
    places = [
        {"location_id": f"P-{n}", "medium": medium, "surface": surface}
        for n, (medium, surface) in enumerate(zip(media, grounds, strict=True), start=1)
    ]
    assert told(fieldwork.holes(holes(*rows, locations=places))) == [
        "sampler S-2 (3 depth_ft): no depth",
        "sampler S-4 (5 condition): no condition on retrieval",
        "sampler S-2 (3 sleeve): unsleeved hole through paving",
        "sampler S-2 (3 hole_restored): an unrestored hole at P-2",
    ]


def test_the_status_of_a_point_is_what_its_samplers_say() -> None:
    """P-1 and P-2 have a sampler, P-3 and P-4 have none."""
    status = {"P-1": "placed", "P-2": "abandoned", "P-3": "placed", "P-4": "not_done"}
    places = [{"location_id": name, "medium": "soil_gas", "status": word} for name, word in status.items()]
    assert told(fieldwork.statuses(holes(in_hole(1), in_hole(2), locations=places))) == [
        "location P-3 (4 status): status placed and no sampler installed there",
        "location P-2 (3 status): status abandoned and a sampler installed there",
    ]


def test_a_departure_says_its_effect_and_who_agreed() -> None:
    rows = [
        {"deviation_id": "D-1", "what": "w", "effect": "none", "agreed_by_role": "PM-1"},
        {"deviation_id": "D-2", "what": "w", "effect": "none"},
        {"deviation_id": "D-3", "what": "w", "agreed_by_role": "PM-1"},
    ]
    assert told(fieldwork.deviations_complete(survey_of({"deviations": rows}))) == [
        "deviation D-3+effect (4 effect): no effect on the data",
        "deviation D-2+agreed_by_role (3 agreed_by_role): no agreement by a role",
    ]
