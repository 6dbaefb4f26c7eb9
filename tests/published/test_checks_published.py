"""Rules and limits of the checks against values published elsewhere, each named beside its test."""

from __future__ import annotations

import pytest

from sitegen.checks.identity import cas_agrees, cas_digit
from sitegen.checks.space import foot_shift_m
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.blanks import blank_rule, propose
from sitegen.compute.quality.duplicates import rpd
from sitegen.compute.results.reference import known_compounds

LIMITS = {record.name: record for record in DEFAULTS}

# CAS registry numbers of 75 target compounds, with the molar mass in g/mol that the standard
# atomic weights of IUPAC's CIAAW give, cross-checked with the `chemicals` library.
COMPOUNDS = """
Vinyl chloride|75-01-4|C2H3Cl|62.496
Chloromethane|74-87-3|CH3Cl|50.485
Chloroethane|75-00-3|C2H5Cl|64.512
Bromomethane|74-83-9|CH3Br|94.939
1,1-Dichloroethene|75-35-4|C2H2Cl2|96.938
cis-1,2-Dichloroethene|156-59-2|C2H2Cl2|96.938
trans-1,2-Dichloroethene|156-60-5|C2H2Cl2|96.938
Trichloroethene|79-01-6|C2HCl3|131.38
Tetrachloroethene|127-18-4|C2Cl4|165.822
1,1-Dichloroethane|75-34-3|C2H4Cl2|98.954
1,2-Dichloroethane|107-06-2|C2H4Cl2|98.954
1,1,1-Trichloroethane|71-55-6|C2H3Cl3|133.396
1,1,2-Trichloroethane|79-00-5|C2H3Cl3|133.396
1,1,1,2-Tetrachloroethane|630-20-6|C2H2Cl4|167.838
1,1,2,2-Tetrachloroethane|79-34-5|C2H2Cl4|167.838
Methylene chloride|75-09-2|CH2Cl2|84.927
Chloroform|67-66-3|CHCl3|119.369
Carbon tetrachloride|56-23-5|CCl4|153.811
Bromodichloromethane|75-27-4|CHBrCl2|163.823
Dibromochloromethane|124-48-1|CHBr2Cl|208.277
Bromoform|75-25-2|CHBr3|252.731
1,2-Dichloropropane|78-87-5|C3H6Cl2|112.981
cis-1,3-Dichloropropene|10061-01-5|C3H4Cl2|110.965
trans-1,3-Dichloropropene|10061-02-6|C3H4Cl2|110.965
1,2-Dibromoethane|106-93-4|C2H4Br2|187.862
Chlorobenzene|108-90-7|C6H5Cl|112.556
1,2-Dichlorobenzene|95-50-1|C6H4Cl2|146.998
1,3-Dichlorobenzene|541-73-1|C6H4Cl2|146.998
1,4-Dichlorobenzene|106-46-7|C6H4Cl2|146.998
1,2,4-Trichlorobenzene|120-82-1|C6H3Cl3|181.44
Hexachlorobutadiene|87-68-3|C4Cl6|260.744
Trichlorofluoromethane|75-69-4|CCl3F|137.359
Dichlorodifluoromethane|75-71-8|CCl2F2|120.908
1,1,2-Trichloro-1,2,2-trifluoroethane|76-13-1|C2Cl3F3|187.367
1,2-Dichloro-1,1,2,2-tetrafluoroethane|76-14-2|C2Cl2F4|170.916
Benzene|71-43-2|C6H6|78.114
Toluene|108-88-3|C7H8|92.141
Ethylbenzene|100-41-4|C8H10|106.168
m-Xylene|108-38-3|C8H10|106.168
p-Xylene|106-42-3|C8H10|106.168
o-Xylene|95-47-6|C8H10|106.168
Xylenes (total)|1330-20-7|C8H10|106.168
Styrene|100-42-5|C8H8|104.152
Isopropylbenzene|98-82-8|C9H12|120.195
n-Propylbenzene|103-65-1|C9H12|120.195
1,2,4-Trimethylbenzene|95-63-6|C9H12|120.195
1,3,5-Trimethylbenzene|108-67-8|C9H12|120.195
n-Butylbenzene|104-51-8|C10H14|134.222
Methyl tert-butyl ether|1634-04-4|C5H12O|88.15
1,4-Dioxane|123-91-1|C4H8O2|88.106
Acetone|67-64-1|C3H6O|58.08
2-Butanone|78-93-3|C4H8O|72.107
4-Methyl-2-pentanone|108-10-1|C6H12O|100.161
2-Hexanone|591-78-6|C6H12O|100.161
Carbon disulfide|75-15-0|CS2|76.131
1,3-Butadiene|106-99-0|C4H6|54.092
n-Hexane|110-54-3|C6H14|86.178
Cyclohexane|110-82-7|C6H12|84.162
n-Heptane|142-82-5|C7H16|100.205
n-Octane|111-65-9|C8H18|114.232
2,2,4-Trimethylpentane|540-84-1|C8H18|114.232
Undecane|1120-21-4|C11H24|156.313
Tridecane|629-50-5|C13H28|184.367
Pentadecane|629-62-9|C15H32|212.421
Naphthalene|91-20-3|C10H8|128.174
2-Methylnaphthalene|91-57-6|C11H10|142.201
1-Methylnaphthalene|90-12-0|C11H10|142.201
Acenaphthene|83-32-9|C12H10|154.212
Acenaphthylene|208-96-8|C12H8|152.196
Fluorene|86-73-7|C13H10|166.223
Phenanthrene|85-01-8|C14H10|178.234
Anthracene|120-12-7|C14H10|178.234
Fluoranthene|206-44-0|C16H10|202.256
Pyrene|129-00-0|C16H10|202.256
Ethene|74-85-1|C2H4|28.054
"""

# Standard atomic weights, CIAAW 2021, abridged or conventional values, read at ciaaw.org's table
# (from memory for the last digit of S).
WEIGHTS = {"C": 12.011, "H": 1.008, "O": 15.999, "S": 32.06, "Cl": 35.45, "Br": 79.904, "F": 18.998}


def rows() -> list[tuple[str, str, str, float]]:
    """Return name, CAS number, formula and molar mass of each compound."""
    parts = [line.rsplit("|", 3) for line in COMPOUNDS.strip().splitlines()]
    return [(name, cas, formula, float(mass)) for name, cas, formula, mass in parts]


def test_the_published_list_has_75_compounds() -> None:
    assert len(rows()) == 75


@pytest.mark.parametrize(("name", "cas", "formula", "mass"), rows())
def test_cas_check_digits_of_published_numbers_hold(name: str, cas: str, formula: str, mass: float) -> None:
    """CAS: sum of digit times position from the right, modulo 10, for every number of the list."""
    assert name
    assert formula
    assert mass > 0
    assert cas_agrees(cas)
    assert int(cas[-1]) == cas_digit(cas[:-1].replace("-", ""))


@pytest.mark.parametrize(("name", "cas", "formula", "mass"), rows())
def test_one_wrong_digit_before_the_check_digit_is_always_found(name: str, cas: str, formula: str, mass: float) -> None:
    """The digit before the check digit has the weight 1, so that every change of it is found."""
    assert (name, formula, mass) != ("", "", 0.0)
    digits = cas.replace("-", "")
    for other in set("0123456789") - {digits[-2]}:
        assert cas_digit(digits[:-2] + other) != int(digits[-1])


def test_water_has_the_check_digit_of_the_registrys_own_example() -> None:
    """CAS registry: 7732-18-5, whose sum is 105."""
    assert cas_digit("773218") == 5


def test_known_compounds_are_those_of_the_published_list() -> None:
    """Names aside: CAS number and molar mass, within 0.01 g/mol."""
    known = known_compounds()
    assert set(known) == {cas for _, cas, _, _ in rows()}
    for _, cas, _, mass in rows():
        assert known[cas].molar_mass_g_mol == pytest.approx(mass, abs=0.01)


@pytest.mark.parametrize(("name", "cas", "formula", "mass"), rows())
def test_molar_masses_are_those_of_the_formula(name: str, cas: str, formula: str, mass: float) -> None:
    """IUPAC CIAAW standard atomic weights, within 0.03 g/mol, the check's own limit being 0.1."""
    assert name
    assert cas
    assert formula_mass(formula) == pytest.approx(mass, abs=0.03)
    assert LIMITS["molar_mass_g_mol"].value == 0.1


def formula_mass(formula: str) -> float:
    """Return the molar mass of a formula such as C2Cl4."""
    total, at = 0.0, 0
    while at < len(formula):
        element = formula[at : at + 2] if formula[at : at + 2] in WEIGHTS else formula[at]
        at += len(element)
        end = at
        while end < len(formula) and formula[end].isdigit():
            end += 1
        total += WEIGHTS[element] * int(formula[at:end] or 1)
        at = end
    return total


@pytest.mark.parametrize(
    ("result", "qualifier", "limit"),
    [
        (None, "U", 10.0),
        (8.0, "U", 10.0),
        (10.0, "U", 10.0),
        (10.1, "J+", None),
        (30.0, "J+", None),
        (30.1, "", None),
        (300.0, "", None),
    ],
)
def test_blank_rule_of_the_dod_table(result: float | None, qualifier: str, limit: float | None) -> None:
    """US DoD Data Validation Guidelines, revised table A, 9 February 2022: LOD 10, blank 6.

    At or below the LOD: U at the LOD. Above it and at or below five times the blank: J+.
    Above five times the blank: unchanged.
    """
    proposal = propose(blank_rule("five_times_estimate", LIMITS), result, 10.0, 6.0)
    assert (proposal.qualifier, proposal.limit) == (qualifier, limit)
    assert LIMITS["blank_ratio"].value == 5


def test_limits_of_epa_325a_and_b() -> None:
    """US EPA Methods 325A/B (40 CFR 63, appendix A).

    Sampling up to 14 d; analysis within 30 d of the end of sampling; one duplicate in ten
    locations ; duplicates agreeing within 30 %.
    """
    assert LIMITS["exposure_days_max"].value == 14
    assert LIMITS["hold_days"].value == 30
    assert LIMITS["duplicate_rate"].value == pytest.approx(1 / 10)
    assert LIMITS["duplicate_rpd_pct"].value == 30
    for name in ("exposure_days_max", "hold_days", "duplicate_rate", "duplicate_rpd_pct"):
        assert "325" in LIMITS[name].source


def test_surrogate_limits_of_the_california_advisory() -> None:
    """California soil-gas advisory, 6.3: about 70 to 130 %."""
    assert (LIMITS["surrogate_lower_pct"].value, LIMITS["surrogate_upper_pct"].value) == (70, 130)


@pytest.mark.parametrize(("a", "b", "percent"), [(8, 9, 12), (13, 15, 14), (17, 20, 16), (26, 30, 14), (7.5, 10, 29)])
def test_relative_percent_difference(a: float, b: float, percent: int) -> None:
    """Worked pairs of an environmental glossary; the denominator is the mean of the two."""
    assert round(rpd(a, b)) == percent


def test_the_two_feet_differ_by_two_parts_in_a_million() -> None:
    """US survey foot = 1200/3937 m (US Federal Register 24 FR 5348, 1959): 2 ppm of the length."""
    assert foot_shift_m(1_000_000) == pytest.approx(1_000_000 * (1200 / 3937 - 0.3048))
    assert foot_shift_m(1_000_000) == pytest.approx(0.6096, abs=1e-4)
