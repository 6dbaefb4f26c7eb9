"""The drawing of a plan: fill says the design, a ring a sampler placed, a dashed area what to keep off."""

from __future__ import annotations

from sitegen.figures.ground import prepare_ground
from sitegen.figures.inputs import PlaceFeature, PlacePoint
from sitegen.figures.look import WARN
from sitegen.figures.planmap import Strip, plan_map

BOUNDARY = PlaceFeature("site_boundary", "Yard", "area", (((0, 0), (100, 0), (100, 80), (0, 80), (0, 0)),))
RING = ((10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0), (10.0, 10.0))


def drawn(state: str = "planned", design: str = "grid", strips: tuple[Strip, ...] = ()) -> str:
    """Return the drawing of one point."""
    point = PlacePoint("SG-1", 50, 40, 50, 40, "soil_gas", "soil", state)
    return plan_map("m", prepare_ground((point,), (BOUNDARY,), "EPSG:32614"), {"SG-1": design}, strips)


def test_fill_says_the_design_and_the_legend_names_it() -> None:
    """A targeted point differs from one on the grid, and only what is there has a row of the legend."""
    grid, targeted = drawn(), drawn(design="targeted")
    assert grid != targeted
    assert ("on the grid" in grid, "targeted" in grid) == (True, False)
    assert ("on the grid" in targeted, ">targeted<" in targeted) == (False, True)


def test_an_unknown_design_is_said_to_be_not_recorded() -> None:
    """A point without a design is drawn, and the legend says so."""
    assert "design not recorded" in drawn(design="")


def test_a_ring_tells_of_a_sampler_and_only_of_one() -> None:
    """A point with a sampler in place has a ring and its row; a planned one has neither."""
    assert "sampler deployed (ring)" not in drawn()
    found = drawn(state="in_place")
    assert "sampler deployed (ring)" in found
    rings = [one.count(f'stroke="{WARN}" stroke-width="1.1"') for one in (drawn(), found)]
    assert rings == [0, 2], "one around the point, one in the legend"


def test_strips_are_cut_off_at_the_edge_and_named() -> None:
    """A strip has its words in the legend and is clipped by a path that the drawing has."""
    found = drawn(strips=(Strip("1 m around <buildings>", (RING,)),))
    assert "1 m around &lt;buildings&gt;" in found
    assert found.count('clip-path="url(#f-m.edge)"') == found.count('id="f-m.edge"') == 1
    assert "f-m.edge" not in drawn()
