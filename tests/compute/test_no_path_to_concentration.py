"""No path leads from a mass in soil gas to a concentration or a level without a soil-gas rate."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import get_type_hints

import builders
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sitegen
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.quality import air
from sitegen.compute.results import concentration, screening
from sitegen.compute.results.concentration import Concentration, UptakeRate
from sitegen.compute.results.store import StoredResult
from sitegen.pipeline import Built
from sitegen.project.schema import AIR_MEDIA, MEDIA, SOIL_MEDIA
from sitegen.report.record.pages import Block, Page, Section, Table

ROOT = Path(sitegen.__file__).parent
RATES = "reference/uptake_rates.csv"
CONCENTRATION_UNITS = ("µg/m³", "ppbv", "ppb", "ug/m3")


# --- by type ------------------------------------------------------------------------------


def test_screening_and_ppbv_take_concentrations_and_nothing_else() -> None:
    """The doors to a level and to a mixing ratio are typed: a mass, a number or a row has no way in."""
    assert get_type_hints(screening.compare)["concentration"] is Concentration
    assert get_type_hints(air.by_volume)["concentration"] is Concentration
    assert get_type_hints(air.answer)["indoor"] is Concentration
    level = screening.Level("set", "pce", "soil_gas", "", 1.0, "source", "")
    with pytest.raises(AttributeError):
        screening.compare(12.0, level, 10.0)  # type: ignore[arg-type]


def test_a_concentration_is_compared_only_in_its_own_medium() -> None:
    """A level for another medium raises, whatever the numbers."""
    found = Concentration("L-1", "pce", "indoor_air", 5.0, 1.0, detected=True, rate=None)
    with pytest.raises(ValueError, match="own compound and medium"):
        screening.compare(found, screening.Level("set", "pce", "soil_gas", "", 1.0, "source", ""), 10.0)


# --- by source ----------------------------------------------------------------------------


def calls(name: str) -> set[str]:
    """Return the modules that call ``name``, as paths below the package."""
    found = set()
    for path in ROOT.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call):
                called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if called == name:
                    found.add(path.relative_to(ROOT).as_posix())
    return found


@pytest.mark.parametrize(
    ("name", "modules"),
    [
        ("Concentration", {"compute/results/concentration.py"}),
        ("from_mass", {"compute/results/concentration.py"}),
        ("UptakeRate", {"compute/results/concentration.py"}),
        ("Comparison", {"compute/results/screening.py"}),
        ("ug_m3_to_ppbv", {"compute/quality/air.py"}),
        ("ByVolume", {"compute/quality/air.py"}),
    ],
)
def test_each_step_is_made_in_one_place(name: str, modules: set[str]) -> None:
    """Nothing else in the source makes a concentration, a comparison or a mixing ratio."""
    assert calls(name) == modules


def test_rates_are_read_only_where_their_medium_is_part_of_the_key() -> None:
    """The name of the rate's number occurs in the format, the one formula, its example and the checks."""
    allowed = {"project/tables.py", "compute/results/concentration.py", "compute/evidence/worked.py"}
    found = {
        path.relative_to(ROOT).as_posix() for path in ROOT.rglob("*.py") if "rate_ml_min" in path.read_text("utf-8")
    }
    assert {path for path in found if not path.startswith("checks/")} == allowed
    assert get_type_hints(concentration.concentration)["rates"]


# --- by survey ----------------------------------------------------------------------------


def evaluated(*changes: builders.Change) -> Evaluation:
    return evaluate(builders.load(builders.changed(*changes)))


def media_of(ev: Evaluation) -> dict[str, str]:
    return dict(zip(ev.store["lab_sample_id"], ev.store["medium"], strict=True))


def test_the_example_has_no_concentration_in_soil() -> None:
    """Levels for soil gas are on file and rates for air too; nothing in soil is turned or compared."""
    ev = evaluated()
    medium = media_of(ev)
    assert len(ev.concentrations) > 10
    assert {medium[sample] for sample, _ in ev.concentrations} <= set(AIR_MEDIA)
    assert {c.level.medium for c in ev.comparisons} <= set(AIR_MEDIA)
    assert {medium[sample] for sample, _ in ev.by_volume} <= set(AIR_MEDIA)


def soil_rate(rows: list[builders.Row]) -> list[builders.Row]:
    pce = next(row for row in rows if row["analyte_id"] == "pce")
    return [*rows, pce | {"medium": "soil_gas"}]


def test_a_soil_gas_rate_opens_the_path_for_that_compound_and_medium_alone() -> None:
    """The same test with one rate added finds exactly that compound: the path is the rate."""
    ev = evaluated(builders.table(RATES, soil_rate))
    medium = media_of(ev)
    soil = [(sample, name) for sample, name in ev.concentrations if medium[sample] in SOIL_MEDIA]
    assert len(soil) > 40
    assert {name for _, name in soil} == {"pce"}
    assert {medium[sample] for sample, _ in soil} == {"soil_gas"}
    assert {c.level.analyte_id for c in ev.comparisons if c.level.medium == "soil_gas"} == {"pce"}


keys = st.tuples(st.sampled_from(("T1", "T2")), st.sampled_from(("pce", "tce")), st.sampled_from(MEDIA))


@settings(max_examples=60)
@given(st.sets(keys), keys)
def test_a_result_meets_only_the_rate_of_its_own_type_compound_and_medium(
    on_file: set[tuple[str, str, str]], wanted: tuple[str, str, str]
) -> None:
    """Whatever rates are on file, the key decides, and no other rate stands in."""
    rates = {key: UptakeRate(*key, 0.5 + i, "source") for i, key in enumerate(sorted(on_file))}
    kind, name, medium = wanted
    whose = {"lab_sample_id": "L-1", "analyte_id": name, "medium": medium, "sampler_type": kind}
    row = builders.row_of(StoredResult, **whose, unit="ng", value=40.0, rl=10.0, detected=True)
    made = concentration.concentration(row, 10_000.0, rates)
    assert (made is None) == (wanted not in on_file)
    assert made is None or made.rate is rates[wanted]


# --- by report ----------------------------------------------------------------------------


def tables(page: Page) -> list[Table]:
    found, stack = [], list(page.blocks)
    while stack:
        block: Block = stack.pop()
        if isinstance(block, Table):
            found.append(block)
        elif isinstance(block, Section):
            stack.extend(block.blocks)
    return found


def test_no_page_on_soil_has_a_column_of_concentrations(built: Built) -> None:
    """Units of concentration head columns on the page on air, at air points, and of indoor air in the summary."""
    air_points = {"location/IA-01", "location/IA-02", "location/OA-01"}
    allowed = {"page/air", "page/start", *air_points}
    seen = 0
    for page in built.report.pages:
        name = f"{page.ref.kind}/{page.ref.id}"
        units = {column.unit for table in tables(page) for column in table.columns}
        if units & set(CONCENTRATION_UNITS):
            assert name in allowed, name
            of_air = [t.id for t in tables(page) if {c.unit for c in t.columns} & set(CONCENTRATION_UNITS)]
            assert name != "page/start" or of_air == ["occupied-brief"]
            seen += 1
    assert seen
