"""Shares, flow paths and correlations whose answers are known by construction."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString

from sitegen.compute.place.points import Point
from sitegen.compute.results.relations import (
    NO_SHARE,
    Relation,
    Share,
    along_line,
    chlorine_bounds,
    ethenes,
    fuels,
    mean_chlorine,
    percent_shares,
    share_bounds,
)
from sitegen.compute.statistics.rank import LEAST_POINTS, correlations, orders, tau_b
from sitegen.project.schema import Origin

CAS = {"pce": "127-18-4", "tce": "79-01-6", "cis": "156-59-2", "vc": "75-01-4", "trans": "156-60-5", "e11": "75-35-4"}
MOLAR = {"pce": 160.0, "tce": 130.0, "cis": 100.0, "vc": 60.0, "trans": 100.0, "e11": 100.0}


def rows(point: str, masses: dict[str, float | None], rl: float = 10.0) -> list[dict[str, Any]]:
    """Return results of one point; None is a non-detect at ``rl``."""
    return [
        {
            "location_id": point, "analyte_id": name, "unit": "ng", "rejected": False, "detected": mass is not None,
            "value": np.nan if mass is None else mass, "rl": rl, "lod": rl,
        }
        for name, mass in masses.items()
    ]  # fmt: skip


def test_molar_shares_of_equal_amounts_are_quarters() -> None:
    """Masses in the ratio of the molar masses give 25 % each and 2.5 chlorines."""
    masses = {name: 2 * MOLAR[name] for name in ("pce", "tce", "cis", "vc")}
    found = ethenes(pd.DataFrame(rows("A", masses)), CAS, MOLAR)
    assert found.analyte_ids == ("pce", "tce", "cis", "vc")
    assert found.makeups[0].shares == (Share(25.0, 25.0),) * 4
    assert found.makeups[0].chlorine == Share(2.5, 2.5)
    assert found.makeups[0].cis == NO_SHARE


def test_one_nondetect_lies_between_nothing_and_its_limit() -> None:
    """1 mol of PCE beside vinyl chloride below a limit worth 1 mol: 50 to 100 %, and 2.5 to 4 chlorines."""
    frame = pd.DataFrame([*rows("A", {"pce": 160.0}), *rows("A", {"vc": None}, rl=60.0)])
    found = ethenes(frame, {name: CAS[name] for name in ("pce", "vc")}, MOLAR).makeups[0]
    assert found.shares == (Share(50.0, 100.0), Share(0.0, 50.0))
    assert found.chlorine == Share(2.5, 4.0)
    assert found.detected == (True, False)
    assert found.of_detections == (100.0, 0.0)


def test_several_nondetects_bound_a_share_one_against_the_other() -> None:
    """1 mol of TCE, PCE and vinyl chloride each below 1 mol: neither scenario "all nothing" or "all at the limit".

    TCE 1/3 to 1; PCE at most 1/2, with vinyl chloride at nothing; chlorines from
    (3 + 1) / 2 = 2 to (3 + 4) / 2 = 3.5, while both scenarios give 3 and 8/3.
    """
    frame = pd.DataFrame(
        [*rows("A", {"tce": 130.0}), *rows("A", {"pce": None}, rl=160.0), *rows("A", {"vc": None}, rl=60.0)]
    )
    found = ethenes(frame, {name: CAS[name] for name in ("pce", "tce", "vc")}, MOLAR).makeups[0]
    assert found.shares[1] == Share(pytest.approx(100 / 3), 100.0)
    assert found.shares[0] == found.shares[2] == Share(0.0, 50.0)
    assert found.chlorine == Share(2.0, 3.5)


def test_the_cis_share_is_of_all_three_isomers() -> None:
    """80 of 100 ng; with a limit of 20 in the place of trans, 80 of 120 at the least."""
    base: dict[str, float | None] = {"pce": 10.0, "tce": 10.0, "vc": 10.0, "cis": 80.0, "e11": 20.0}
    found = ethenes(pd.DataFrame(rows("A", base | {"trans": None}, rl=20.0)), CAS, MOLAR).makeups[0]
    assert found.cis.low == pytest.approx(100 * 80 / 120)
    assert found.cis.high == pytest.approx(80.0)


def test_a_cis_share_without_cis_is_bounded_by_its_limit() -> None:
    """Cis below 10 beside 30 of trans and 1,1 below 10: 0 to 25 %."""
    base: dict[str, float | None] = {"pce": 10.0, "tce": 10.0, "vc": 10.0, "cis": None, "trans": 30.0, "e11": None}
    found = ethenes(pd.DataFrame(rows("A", base, rl=10.0)), CAS, MOLAR).makeups[0]
    assert (found.cis.low, found.cis.high) == (0.0, pytest.approx(25.0))


amounts = st.lists(
    st.one_of(st.tuples(st.floats(0.1, 1e4), st.just(True)), st.tuples(st.floats(0.1, 1e4), st.just(False))),
    min_size=2,
    max_size=4,
).filter(lambda drawn: any(seen for _, seen in drawn))


@given(amounts, st.lists(st.floats(0, 1), min_size=4, max_size=4))
def test_whatever_nondetects_are_lies_within_the_bounds_and_the_bounds_are_reached(
    drawn: list[tuple[float, bool]], parts: list[float]
) -> None:
    """Any amounts in the box give shares and a mean within the bounds, and some corner gives each bound."""
    atoms = (4, 3, 2, 1)[: len(drawn)]
    box = tuple((value, value) if seen else (0.0, value) for value, seen in drawn)
    point = [low + part * (high - low) for (low, high), part in zip(box, parts, strict=False)]
    shares, bounds = percent_shares(point), share_bounds(box)
    mean, range_ = mean_chlorine(point, atoms), chlorine_bounds(box, atoms)
    assert shares is not None
    assert mean is not None
    assert all(b.low - 1e-9 <= share <= b.high + 1e-9 for share, b in zip(shares, bounds, strict=True))
    assert range_.low - 1e-9 <= mean <= range_.high + 1e-9
    corners = list(itertools.product(*box))
    for at, bound in enumerate(bounds):
        reached = [made[at] for corner in corners if (made := percent_shares(corner))]
        assert (min(reached), max(reached)) == (pytest.approx(bound.low), pytest.approx(bound.high))
    means = [made for corner in corners if (made := mean_chlorine(corner, atoms)) is not None]
    assert (min(means), max(means)) == (range_.low, range_.high)


@pytest.mark.parametrize("change", ["missing", "rejected", "other unit", "nothing detected"])
def test_a_point_without_the_whole_family_is_left_out(change: str) -> None:
    """No share from half a record, from rejected results, from concentrations, or from nothing."""
    frame = pd.DataFrame(rows("A", {"pce": 160.0, "tce": 130.0, "cis": 100.0, "vc": 60.0}))
    if change == "missing":
        frame = frame[frame["analyte_id"] != "vc"]
    elif change == "rejected":
        frame["rejected"] = frame["analyte_id"] == "vc"
    elif change == "other unit":
        frame["unit"] = "ug/m3"
    else:
        frame["detected"] = False
    assert ethenes(frame, CAS, MOLAR).makeups == ()


def test_compounds_are_known_by_cas_number_alone() -> None:
    """Names mean nothing: without its number a compound is not in the family."""
    frame = pd.DataFrame(rows("A", {"pce": 160.0, "tce": 130.0}))
    assert ethenes(frame, {"pce": "", "tce": ""}, MOLAR) == Relation((), ())


def test_fuel_shares_are_by_mass() -> None:
    """Benzene and toluene, 1 to 3."""
    frame = pd.DataFrame(rows("A", {"t": 30.0, "b": 10.0}))
    found = fuels(frame, {"t": "108-88-3", "b": "71-43-2"})
    assert found.analyte_ids == ("b", "t")
    assert [share.low for share in found.makeups[0].shares] == [25.0, 75.0]


def point(name: str, x: float, y: float, medium: str = "soil_gas") -> Point:
    return Point(name, medium, "soil", x, y, 0.0, 0.0, None, False, Origin("locations.csv", 2))


def test_points_stand_along_a_bent_line_in_order() -> None:
    """Distances along and off the line are those of the drawing; air and far points stay out."""
    line = LineString([(0, 0), (30, 0), (30, 40)])
    found = along_line(
        line,
        (
            point("C", 33, 20),
            point("A", 10, 4),
            point("far", 10, 30),
            point("air", 5, 0, "indoor_air"),
            point("B", -3, 4),
        ),
        6.0,
    )
    assert [(a.location_id, a.along_m, a.off_m) for a in found] == [("B", 0.0, 5.0), ("A", 10.0, 4.0), ("C", 50.0, 3.0)]


def test_a_nondetect_has_an_order_only_above_its_limit() -> None:
    """<5 lies below 5 and 7, and beside 3 or <4 nothing is known."""
    values, seen = np.array([5.0, 5.0, 7.0, 3.0, 4.0]), np.array([False, True, True, True, False])
    pairs = dict(zip([(i, j) for i in range(5) for j in range(i + 1, 5)], orders(values, seen).tolist(), strict=True))
    assert [pairs[0, j] for j in (1, 2, 3, 4)] == [1, 1, 0, 0]
    assert pairs[2, 4] == -1
    assert pairs[3, 4] == 0


def test_the_table_of_correlations_is_that_of_each_pair_alone() -> None:
    """Counting all pairs of compounds at once, results missing here and there, changes nothing."""
    rng = np.random.default_rng(11)
    listed = ("a", "b", "c")
    frame = pd.DataFrame(
        [
            row
            for i in range(40)
            for row in rows(
                f"P{i:02d}",
                {n: float(rng.integers(1, 9)) if rng.random() < 0.6 else None for n in listed if rng.random() < 0.9},
                rl=float(rng.integers(1, 9)),
            )
        ]
    )
    found = correlations(frame, listed)
    assert [(c.first, c.second) for c in found] == [("a", "b"), ("a", "c"), ("b", "c")]
    for made in found:
        sides = [frame[frame["analyte_id"] == n].set_index("location_id") for n in (made.first, made.second)]
        common = sides[0].index.intersection(sides[1].index)
        signs = [
            orders(s["value"].where(s["detected"], s["lod"]).to_numpy(), s["detected"].to_numpy())
            for s in (side.loc[common] for side in sides)
        ]
        assert made.points == len(common) < 40
        assert made.tau == pytest.approx(tau_b(*signs), abs=1e-12)


def test_too_few_points_give_no_correlation() -> None:
    """One point fewer than the least gives nothing, the least gives perfect agreement."""
    frame = pd.DataFrame([r for i in range(LEAST_POINTS) for r in rows(f"P{i}", {"a": i + 1.0, "b": 2.0 * i + 1})])
    assert correlations(frame, ("a", "b"))[0].tau == pytest.approx(1.0)
    assert correlations(frame[frame["location_id"] != "P0"], ("a", "b")) == ()


@pytest.mark.parametrize(
    ("weights", "listed", "unweighed"),
    [({}, (), ("pce", "tce")), ({"tce": 131.4}, ("tce",), ("pce",)), (MOLAR, ("pce", "tce"), ())],
)
def test_ethenes_without_a_molar_mass_are_named(
    weights: dict[str, float], listed: tuple[str, ...], unweighed: tuple[str, ...]
) -> None:
    """A compound with results and without a molar mass is left out by name; one without results is not missed."""
    frame = pd.DataFrame(rows("A", {"pce": 60.0, "tce": 20.0}))
    found = ethenes(frame, {name: CAS[name] for name in ("pce", "tce", "vc")}, weights)
    assert found.unweighed == unweighed
    assert found.analyte_ids == (*listed, *(("vc",) if weights is MOLAR else ()))
