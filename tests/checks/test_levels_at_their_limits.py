"""Rules on levels, rates and compounds, where they begin to tell and just before: what, where, and of which row."""

from __future__ import annotations

import pytest
from builders import Row
from few_rows import deployed, sampler, survey_of, told

from sitegen.checks import compounds, screening
from sitegen.compute.evaluate import evaluate

NAMES = {"pce": "Tetrachloroethene", "tce": "Trichloroethene"}


def level(**others: str) -> Row:
    stated = {"level_set": "EX", "analyte_id": "pce", "medium": "indoor_air", "value": "8", "unit": "ug/m3"}
    return stated | {"source_title": "invented", "edition_date": "2025-01-01"} | others


@pytest.mark.parametrize(
    ("dates", "expected"),
    [
        (("2023-01-01",), []),
        (("2022-12-30",), ["level_set EX (2 edition_date): an edition of 30 December 2022"]),
        (("2025-01-01", "2022-12-30"), ["level_set EX (2 edition_date): an edition of 30 December 2022"]),
        (("2025-01-01", ""), ["level_set EX (3 edition_date): 1 level of EX without an edition"]),
    ],
)
def test_a_set_of_levels_is_three_years_old_at_most(dates: tuple[str, ...], expected: list[str]) -> None:
    """The report is of 31 December 2025. Three years are 1,095.75 d; of several editions the oldest counts."""
    levels = [level(edition_date=day, analyte_id=f"a{n}") for n, day in enumerate(dates)]
    assert told(screening.editions(survey_of({"screening_levels": levels}))) == expected


def test_a_factor_names_its_source() -> None:
    levels = [
        level(attenuation_factor="0.03", attenuation_source="a table"),
        level(analyte_id="tce", attenuation_factor="0.03"),
        level(analyte_id="dce"),
    ]
    assert told(screening.attenuation(survey_of({"screening_levels": levels}))) == [
        "level_set EX+tce+indoor_air+ (3 attenuation_source): the factor 0.03 without a source"
    ]


def rate(**others: str) -> Row:
    stated = {"sampler_type": "T1", "analyte_id": "pce", "medium": "soil_gas", "rate_ml_min": "1", "source_title": "s"}
    return stated | {"source_date": "2025-01-01", "days_min": "8", "days_max": "9"} | others


@pytest.mark.parametrize(
    ("least", "most", "tells"), [("8", "9", False), ("7", "8", False), ("8.1", "9", True), ("7", "7.9", True)]
)
def test_a_rate_is_used_up_to_the_ends_of_its_exposures(least: str, most: str, *, tells: bool) -> None:
    """Eight days in the ground; of two rates only that of the compound out of its range is told."""
    survey = survey_of({
        "samplers": [sampler(sampler_type="T1")],
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}],
        "deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact")],
        "analytes": [{"analyte_id": key, "name": name, "cas": ""} for key, name in NAMES.items()],
        "uptake_rates": [rate(), rate(analyte_id="tce", days_min=least, days_max=most)],
    })  # fmt: skip
    found = list(screening.rate_exposures(survey, evaluate(survey)))
    words = "8.0 days, with 1 uptake rate valid for other exposure durations (Trichloroethene)"
    assert told(found) == [f"sampler S-1 (2 retrieved_at): {words}"] * tells
    assert [f.expected for f in found] == [f"{least} to {most} days, as in uptake_rates.csv"] * tells
    assert [(t.sampler_id, t.analyte_id) for f in found for t in f.touches] == [("S-1", "tce")] * tells


def test_a_rate_says_its_date_and_its_longest_exposure() -> None:
    rates = [rate(), rate(analyte_id="tce", source_date=""), rate(analyte_id="dce", days_max="")]
    assert told(screening.rate_sources(survey_of({"uptake_rates": rates}))) == [
        "rate T1+tce+soil_gas+source_date (3 source_date): a rate without the date of its source",
        "rate T1+dce+soil_gas+days_max (4 days_max): a rate without the exposure durations it is valid for",
    ]


@pytest.mark.parametrize(("mass", "tells"), [("165.92", False), ("165.93", True), ("165.72", True)])
def test_a_molar_mass_is_within_a_tenth_of_its_formula_s(mass: str, *, tells: bool) -> None:
    """C2Cl4: 2 × 12.011 + 4 × 35.45 = 165.822 g/mol, told as it is listed."""
    rows = [{"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4", "molar_mass_g_mol": mass}]
    found = told(compounds.molar_masses(survey_of({"analytes": rows})))
    assert found == [f"compound pce (2 molar_mass_g_mol): {mass} g/mol"] * tells


def test_a_number_that_stands_twice_is_told_at_the_later_row_with_the_first() -> None:
    """A compound without a number shares none with another."""
    rows = [{"analyte_id": key, "name": key, "cas": cas} for key, cas in (
        ("a", "127-18-4"), ("b", ""), ("c", ""), ("d", "127-18-4"))]  # fmt: skip
    assert told(compounds.cas_once(survey_of({"analytes": rows}))) == [
        "compound d (5 cas): 127-18-4, also the number of a"
    ]


def in_air(masses: dict[str, str], *levels: Row) -> list[tuple[str, str, list[str]]]:
    """Return what is found above levels of PCE in indoor air by S-1 and by S-2, which is beside it, and by S-3.

    Eight days are 11,520 min, and the rate is 0.5 mL/min: 5.76 ng in the sampler are 1 µg/m³.
    """
    roster = {"S-1": ("sample", "P-1", ""), "S-2": ("field_duplicate", "P-1", "S-1"), "S-3": ("sample", "P-2", "")}
    survey = survey_of({
        "samplers": [sampler(kind, sampler_id=name, sampler_type="T1") for name, (kind, _, _) in roster.items()],
        "locations": [{"location_id": f"P-{n}", "medium": "indoor_air", "status": "placed"} for n in (1, 2)],
        "deployments": [
            deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact", sampler_id=name, location_id=at,
                     duplicate_of=of)
            for name, (_, at, of) in roster.items()
        ],
        "analytes": [{"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4"}],
        "lab_samples": [{"lab_sample_id": f"L-{name}", "sampler_id": name, "type": "sample"} for name in masses],
        "results": [
            {"lab_sample_id": f"L-{name}", "analyte_id": "pce", "value": mass.lstrip("<") if "<" not in mass else "",
             "unit": "ng", "rl": mass.lstrip("<") if "<" in mass else "2.88"}
            for name, mass in masses.items()
        ],
        "uptake_rates": [rate(medium="indoor_air", rate_ml_min="0.5")],
        "screening_levels": list(levels),
    })  # fmt: skip
    found = list(screening.above_levels(survey, evaluate(survey)))
    lines = told(found)
    touched = [[f"{t.sampler_id}/{t.analyte_id}" for t in f.touches] for f in found]
    return list(zip(lines, (f.expected for f in found), touched, strict=True))


def test_a_result_above_a_level_is_told_with_the_level_and_with_what_else_was_found_there() -> None:
    """57.6 ng are 10 µg/m³ and 46.08 ng are 8; the level of 8 is exceeded by more than itself."""
    words = "location P-1+pce (2 value): a mean Tetrachloroethene concentration of 10 µg/m³ in indoor air"
    eight = level(land_use="residential")
    assert in_air({"S-1": "57.6"}, eight) == [(words, "at most 8 µg/m³ (EX, residential)", ["S-1/pce"])]
    assert in_air({"S-1": "46.08"}, eight) == []
    two = (level(value="8"), level(land_use="commercial", value="9"), level(land_use="industrial", value="11"))
    assert in_air({"S-1": "57.6"}, *two) == [
        (words, "at most 8 µg/m³ (EX); 9 µg/m³ (EX, commercial)", ["S-1/pce"])
    ]  # fmt: skip
    assert in_air({"S-1": "46.08", "S-2": "57.6"}, eight) == [(
        words.replace("(2 value)", "(3 value)") + " by the duplicate (other results there: 8.0)",
        "at most 8 µg/m³ (EX, residential)", ["S-2/pce"],
    )]  # fmt: skip
    assert in_air({"S-1": "57.6", "S-2": "<17.28"}, eight)[0][0] == (
        f"{words} by the primary sampler (other results there: <3.0)"
    )
    assert [line.split()[1] for line, _, _ in in_air({"S-1": "57.6", "S-3": "57.6"}, eight)] == ["P-1+pce", "P-2+pce"]


def test_a_compound_with_a_level_in_air_has_a_rate_where_air_was_sampled() -> None:
    """TCE has a level and no rate; of outdoor air nothing was sampled, and levels of soil media are none of a rate."""
    survey = survey_of({
        "samplers": [sampler()],
        "locations": [{"location_id": "P-1", "medium": "indoor_air"}],
        "deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact")],
        "analytes": [{"analyte_id": key, "name": name, "cas": ""} for key, name in NAMES.items()],
        "uptake_rates": [rate(medium="indoor_air"), rate(medium="soil_gas", analyte_id="tce")],
        "screening_levels": [level(), level(analyte_id="tce"), level(analyte_id="tce", land_use="commercial"),
                             level(analyte_id="tce", medium="outdoor_air"), level(analyte_id="tce", medium="soil_gas")],
    })  # fmt: skip
    assert told(screening.rates_for_levels(survey, evaluate(survey))) == [
        "level_set EX+indoor_air (3 analyte_id): 1 compound with a level but no uptake rate: Trichloroethene"
    ]
    assert told(screening.soil_levels(survey)) == [
        "level_set EX+soil_gas (6 medium): 1 level for soil gas in EX"
    ]  # fmt: skip
