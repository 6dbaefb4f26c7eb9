"""Gas units, lengths, constants and compounds against tables, CODATA and libraries."""

from __future__ import annotations

import chemicals
import pint
import pytest
import scipy.constants
from chemicals.elements import simple_formula_parser
from chemicals.identifiers import check_CAS, search_chemical
from outside import outside_rows

from sitegen.compute.results.reference import known_compounds
from sitegen.compute.results.relations import CHLORINES, FUELS, TOTAL_DCE
from sitegen.units import GAS_CONSTANT, LENGTHS, STANDARD_PRESSURE, ZERO_CELSIUS, molar_volume_l, ug_m3_to_ppbv

_FACTOR = {"ppm": 1000.0, "ppb": 1.0, "mg/m3": 1000.0, "ug/m3": 1.0}


def _half_step(text: str) -> float:
    """Return half of the last printed place of a number."""
    decimals = len(text.partition(".")[2])
    return 0.5 * 10.0**-decimals


@pytest.mark.published
@pytest.mark.parametrize("row", outside_rows("gas_units"), ids=lambda r: f"{r['compound']} {r['mixing_ratio']}")
def test_printed_pairs_of_gas_units_convert_into_each_other(row: dict[str, str]) -> None:
    """OSHA 1005, the NIOSH pocket guide and manual: 25 °C and 1 atm, to the last printed place.

    Either side is printed to a few places, and one print (31.9 and 79.8 from 3.19) was
    scaled after rounding; the tables' molar volume is 24.45 where ours is 24.465.
    """
    ratio, ratio_unit = row["mixing_ratio"].split()
    mass, mass_unit = row["mass_concentration"].split()
    found = ug_m3_to_ppbv(
        float(mass) * _FACTOR[mass_unit], float(row["molar_mass_used_g_mol"]), 25.0, STANDARD_PRESSURE.value
    )
    printed = float(ratio) * _FACTOR[ratio_unit]
    mass_step = _half_step(mass) / float(mass)
    ratio_step = _half_step(ratio) / float(ratio) if ratio_unit == "ppb" else 0.0
    assert found == pytest.approx(printed, rel=mass_step + ratio_step + 0.0007)


@pytest.mark.published
def test_the_gas_constant_and_molar_volumes_are_those_of_codata() -> None:
    """scipy.constants holds CODATA's table: R, and V at 0 °C for 101.325 and 100 kPa."""
    table = scipy.constants.physical_constants
    assert GAS_CONSTANT.value == pytest.approx(table["molar gas constant"][0], rel=1e-10)
    assert ZERO_CELSIUS.value == scipy.constants.zero_Celsius
    for kpa in ("101.325", "100"):
        litres = 1000 * table[f"molar volume of ideal gas (273.15 K, {kpa} kPa)"][0]
        assert molar_volume_l(0.0, 10 * float(kpa)) == pytest.approx(litres, rel=1e-9)


@pytest.mark.published
def test_factors_of_units_are_those_of_a_unit_library() -> None:
    """Pint's registry: lengths, the atmosphere, the day, and the units of the concentration formula."""
    units = pint.UnitRegistry()
    names = {"ft": "foot", "us_ft": "survey_foot", "in": "inch"}
    for name, constant in LENGTHS.items():
        theirs = units.Quantity(1.0, names.get(name, name)).to("m").magnitude
        assert constant.value == pytest.approx(theirs, rel=1e-12)
    assert STANDARD_PRESSURE.value == pytest.approx(units.Quantity(1, "atm").to("hPa").magnitude)
    ratio = units.Quantity(1, "ng") / (units.Quantity(1, "mL/min") * units.Quantity(1, "min"))
    assert ratio.to("ug/m^3").magnitude == pytest.approx(1000.0, rel=1e-12)
    assert units.Quantity(1, "day").to("min").magnitude == pytest.approx(1440.0)


MIXTURES = {"1330-20-7": "95-47-6", "179601-23-1": "108-38-3"}
"""Numbers of mixtures of xylenes, which the library lacks, and a member of each."""


def _in_library(cas: str) -> str:
    return MIXTURES.get(cas, cas)


@pytest.mark.published
@pytest.mark.parametrize("row", outside_rows("compounds"), ids=lambda r: r["name"])
def test_known_compounds_are_those_of_the_outside_table_and_of_a_chemistry_library(row: dict[str, str]) -> None:
    """75 compounds: CAS, formula, CIAAW mass; the chemicals library within 0.03 g/mol."""
    ours = known_compounds()[row["cas"]]
    assert ours.formula == row["formula"]
    assert ours.molar_mass_g_mol == pytest.approx(float(row["molar_mass_g_mol"]), abs=1e-9)
    assert check_CAS(row["cas"])
    assert ours.molar_mass_g_mol == pytest.approx(chemicals.MW(_in_library(row["cas"])), abs=0.03)


@pytest.mark.published
def test_chlorine_counts_and_isomers_are_those_of_a_chemistry_library() -> None:
    """The chemicals library's formulas: chlorine atoms of the ethenes, isomers, aromatics."""
    for cas, chlorines in CHLORINES.items():
        atoms = simple_formula_parser(search_chemical(cas).formula)
        assert (atoms["C"], atoms.get("Cl", 0)) == (2, chlorines)
    assert {search_chemical(cas).formula for cas in TOTAL_DCE} == {"C2H2Cl2"}
    aromatics = {search_chemical(_in_library(cas)).formula for cas in FUELS}
    assert aromatics == {"C6H6", "C7H8", "C8H10"}
