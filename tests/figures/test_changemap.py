"""Maps of what became of a mass: every kind has a sign of its own, and the legend counts what is drawn."""

from __future__ import annotations

import math
import re
from itertools import combinations
from xml.etree import ElementTree as ET

import pytest
import shapely
from synthetic_figures import CRS_TEXT, LABELS, ground, place_points, place_values

from sitegen.compute.rounds.factors import factor_labels
from sitegen.compute.rounds.records import KINDS
from sitegen.figures.changemap import change_map
from sitegen.figures.changesigns import CHANGE_WORDS, FACTOR_RADII, LESS, MORE, SIGNS, SMALL, sign_of
from sitegen.figures.ground import prepare_ground
from sitegen.figures.inputs import PlaceChange, PlacePoint, PlaceValue
from sitegen.figures.look import CLASS_COLOURS
from sitegen.figures.multiples import Panel, small_multiples
from sitegen.figures.symbols import AIR_SYMBOL, Symbol, draw, outline, stretch

SVG = "{http://www.w3.org/2000/svg}"
POINT = PlacePoint("SG-01", 470010, 4770010, None, None, "soil_gas", "soil", "retrieved")
AIR = "air point, see Air results"
RING = "sample- or result-specific qualification in either round (ring)"
SMALL_SQUARE = "small square, of these: below the limit of the other round, change not assessed"
ROWS = (*CHANGE_WORDS.values(), AIR, RING, SMALL_SQUARE)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]  # noqa: S314


def mixed(count: int) -> tuple[PlaceChange, ...]:
    """Return changes of every kind in turn, with every factor and now and then a ring."""
    kinds = list(CHANGE_WORDS)
    return tuple(PlaceChange(kinds[i % len(kinds)], i % 3, i % 11 == 3) for i in range(count))


def counts(svg: str) -> dict[str, int]:
    """Return the legend's numbers by its words, which may go on to a further line."""
    written = " ".join(texts(svg))
    return {words: int(found[1]) for words in ROWS if (found := re.search(rf"{re.escape(words)}: (\d+)", written))}


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour (WCAG 2.2, "relative luminance")."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_every_kind_of_the_comparison_has_a_sign_and_words() -> None:
    """What the computing can say of a point can be drawn; one kind more is a point of one round alone."""
    assert set(SIGNS) == set(CHANGE_WORDS) == {*KINDS, "one_round"}


def test_the_signs_differ_without_their_colour() -> None:
    """Kind, shape and whether it is filled tell any two signs apart: in grey nothing is lost."""
    looks = {kind: (sign.kind, sign.shape, bool(sign.fill)) for kind, sign in SIGNS.items()}
    for one, other in combinations(looks, 2):
        assert looks[one] != looks[other], (one, other)


def test_the_two_colours_stay_two_in_grey() -> None:
    """The lighter is half as bright again; both are as Okabe and Ito (2008, "Color Universal Design") print them."""
    assert [tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5)) for colour in (MORE, LESS)] == [
        (213, 94, 0),
        (86, 180, 233),
    ]
    assert (luminance(LESS) + 0.05) / (luminance(MORE) + 0.05) > 1.5


@pytest.mark.parametrize("shape", ["arrow_up", "arrow_down"])
def test_an_arrow_has_the_area_of_a_circle_of_its_radius(shape: str) -> None:
    """Shapely measures what is drawn; the reach says how far it goes from the point."""
    path = ET.fromstring(outline(shape, 0, 0, 100)).attrib["points"]  # noqa: S314
    corners = [tuple(map(float, pair.split(","))) for pair in path.split()]
    assert shapely.Polygon(corners).area == pytest.approx(math.pi * 100**2, rel=1e-3)
    assert max(math.hypot(*corner) for corner in corners) == pytest.approx(100 * stretch(shape), rel=1e-3)
    tip = max(corners, key=lambda corner: math.hypot(*corner))
    assert (tip[1] < 0) == (shape == "arrow_up")


def test_a_larger_factor_has_a_larger_arrow_and_other_signs_have_one_size() -> None:
    """The size of an arrow says the factor; that of a square says that the other round could not have told it."""
    for kind in CHANGE_WORDS:
        radii = [sign_of(POINT, PlaceChange(kind, at)).radius for at in range(3)]
        assert radii == (list(FACTOR_RADII) if kind in ("grew", "shrank") else [SIGNS[kind].radius] * 3)
    assert list(FACTOR_RADII) == sorted(set(FACTOR_RADII))
    assert sign_of(POINT, PlaceChange("appeared", below_limit=True)).radius == SMALL < SIGNS["appeared"].radius


@pytest.mark.parametrize("count", [1, 8, 57, 300])
def test_the_legend_counts_every_point(count: int) -> None:
    """The counts of the kinds and of air add up to the points; each kind that is drawn has its row."""
    changes = mixed(count)
    site = ground(count)
    found = counts(change_map("x", site, changes, factor_labels()))
    air = sum(point.medium == "indoor_air" for point in site.points)
    assert sum(found.get(words, 0) for words in CHANGE_WORDS.values()) + air == count
    assert found.get(AIR, 0) == air
    for kind, words in CHANGE_WORDS.items():
        drawn = sum(
            change.kind == kind and point.medium == "soil_gas"
            for point, change in zip(site.points, changes, strict=True)
        )
        assert found.get(words, 0) == drawn


def test_every_point_has_its_sign_where_it_lies() -> None:
    """The drawing holds, for each point, just what its sign draws at its place."""
    changes = mixed(57)
    site = ground()
    svg = change_map("x", site, changes, factor_labels())
    for point, change in zip(site.points, changes, strict=True):
        assert draw(sign_of(point, change), *site.frame.place(point.easting_m, point.northing_m)) in svg


def test_a_map_without_a_comparable_point_says_so_in_its_counts() -> None:
    """All seven kinds stand in the legend, six of them with 0."""
    found = counts(change_map("x", ground(8), [PlaceChange("not_comparable")] * 8, factor_labels()))
    assert found["not comparable"] == 8
    assert [found[CHANGE_WORDS[kind]] for kind in KINDS if kind != "not_comparable"] == [0] * 6


def test_rings_and_small_squares_are_counted_apart() -> None:
    """A mark of either round draws a ring, and both notes count points that a kind has counted already."""
    changes = [PlaceChange("appeared", 0, True), PlaceChange("vanished", 0, False, True), PlaceChange("within")]
    found = counts(change_map("x", ground(3), changes, factor_labels()))
    assert found[RING] == 1
    assert found[SMALL_SQUARE] == 1
    assert sum(found.get(words, 0) for words in CHANGE_WORDS.values()) == 3


def test_an_air_point_has_the_sign_that_it_has_on_every_map() -> None:
    """Its results are no masses in soil, whatever became of them."""
    air = POINT._replace(medium="indoor_air", surface="")
    assert sign_of(air, PlaceChange("grew", 2, True)) == AIR_SYMBOL


def test_names_are_written_and_never_read_as_markup() -> None:
    """A point called like markup is a word of the drawing, which stays well-formed."""
    name = "<b>&\"'\x00]]>"
    site = prepare_ground((POINT._replace(label=name),), (), CRS_TEXT)
    assert "<b>&\"'\ufffd]]>" in texts(change_map(name, site, [PlaceChange("grew")], (name,) * 3))


def test_more_changes_than_points_are_a_fault() -> None:
    """A drawing never puts a sign on another point's place."""
    with pytest.raises(ValueError, match="zip"):
        change_map("x", ground(3), mixed(4), factor_labels())


def circles(svg: str) -> list[tuple[float, str]]:
    found = ET.fromstring(svg).iter(f"{SVG}circle")  # noqa: S314
    return [(float(one.attrib["r"]), one.attrib.get("fill", "")) for one in found]


def test_the_same_mass_has_the_same_size_in_every_round() -> None:
    """Maps of four rounds, each with its own points: one symbol for one class, whatever else a round holds."""
    alone = (POINT,)
    panels = [
        Panel("One", "", [PlaceValue(3)], alone, "2025"),
        Panel("Two", "", [PlaceValue(3), PlaceValue(5)], (POINT, POINT._replace(label="B", easting_m=470020))),
        Panel("Three", "", [PlaceValue(3)], alone),
        Panel("Four", "", [PlaceValue(-1)], alone),
    ]
    svg = small_multiples("x", prepare_ground(alone, (), CRS_TEXT), panels, LABELS, columns=2)

    drawn = [circle for circle in circles(svg) if circle[1] == CLASS_COLOURS[3]]
    assert len(drawn) == 3 + 1, "three rounds and the legend"
    assert len(set(drawn)) == 2, "one size on the maps, one in the legend"
    assert "2025" in texts(svg)


def test_small_maps_of_other_points_want_a_value_for_each() -> None:
    """A round's values belong to its own points, not to the ground's."""
    panel = Panel("One", "", place_values(), (POINT,))
    with pytest.raises(ValueError, match="zip"):
        small_multiples("x", ground(), [panel], LABELS)
    assert len(place_values()) == len(place_points())


def test_a_dash_reaches_as_far_as_it_is_drawn() -> None:
    """Labels keep clear of it."""
    dash = Symbol("dash", "circle", 3.0)
    assert 'x1="-3"' in draw(dash, 0, 0)
    assert 3.0 < dash.reach < 4.0
