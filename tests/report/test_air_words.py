"""The page on air: masses, concentrations, levels and answers worked by hand from rates of 1 mL/min.

Samplers hung for 10,000 minutes: C = 1000 m / (U t) in µg/m³ is a tenth of the mass in ng.
"""

from __future__ import annotations

import pytest
from air_survey import context_of, texts
from builders import cells, every, removed, table

from sitegen.report.record.pages import Ref, Section
from sitegen.report.results.air import (
    air_blocks,
    air_rows,
    not_compared_table,
    pairs_table,
    products_table,
    results_table,
    screening_table,
)
from sitegen.report.write.context import Context


@pytest.fixture(scope="module")
def context() -> Context:
    return context_of()


def test_masses_become_concentrations_by_mass_and_by_volume(context: Context) -> None:
    """6, 8 and 2 µg/m³ of PCE; at 20 °C a mole fills 24.055 L, so that 8 µg/m³ are 8 × 24.055 / 165.822 = 1.16 ppbv.

    2 µg/m³ are 0.29, 6 are 0.87; of TCE (131.38 g/mol) 4 µg/m³ are 0.73, and a limit of 1 is 0.18.
    """
    made = {(row[0], row[3]): row for row in texts(results_table(context, air_rows(context)))}
    assert made["IA-01", "Tetrachloroethene"][4:] == ["60", "6.0", "0.87"]
    assert made["IA-02", "Tetrachloroethene"][4:] == ["80", "8.0", "1.2"]
    assert made["OA-01", "Tetrachloroethene"][2:] == ["outdoor air", "Tetrachloroethene", "20", "2.0", "0.29"]
    assert made["OA-01", "Trichloroethene"][4:] == ["40", "4.0", "0.73"]
    assert made["IA-02", "Trichloroethene"][4:] == ["<10", "<1.0", "<0.18"]
    assert len(made) == 5


def test_a_mark_stands_beside_every_number_that_rests_on_its_sampler() -> None:
    """A broken cap at IA-02: mass, concentration and ppbv carry it, and none of the numbers at IA-01."""
    broken = context_of(cells("field/deployments.csv", "0047128", condition="cap_damaged"))
    rows = [row for row in results_table(broken, air_rows(broken)).rows if row[3].text == "Tetrachloroethene"]
    marked = {row[0].text: [{mark.word for mark in cell.marks} for cell in row[4:]] for row in rows}
    mass, by_mass, by_volume = marked["IA-02"]
    assert mass == by_mass == by_volume
    assert mass - marked["IA-01"][0] == {"cap damaged"}


def test_a_non_detect_without_a_rate_is_counted_and_has_no_row(context: Context) -> None:
    """With no rate for TCE indoors its non-detect has no row; a detection without one keeps its mass."""
    bare = context_of(
        table(
            "reference/uptake_rates.csv",
            lambda rows: [r for r in rows if (r["analyte_id"], r["medium"]) != ("tce", "indoor_air")],
        )
    )
    made = results_table(bare, air_rows(bare))
    assert ["IA-02", "Trichloroethene"] not in [[row[0], row[3]] for row in texts(made)]
    assert len(made.rows) == len(results_table(context, air_rows(context)).rows) - 1
    assert "Not listed: 1 non-detect without a concentration (Trichloroethene)" in made.note
    assert "Not listed" not in results_table(context, air_rows(context)).note
    none = context_of(table("reference/uptake_rates.csv", lambda _: []))
    rows = texts(results_table(none, air_rows(none)))
    assert [row[4:] for row in rows if row[0] == "IA-01"] == [["60", "not calculated", "–"]]


def test_what_is_said_under_the_results_is_what_they_rest_on(context: Context) -> None:
    """Rates stated for 20 °C, which is where ppbv stand too, at 1,013.25 hPa."""
    note = results_table(context, air_rows(context)).note
    assert "Parts per billion by volume are given at 20 °C and 1,013.25 hPa" in note
    assert "The rates are stated for 20 °C; the mean outdoor air temperature" in note
    assert "Uptake rates: Example rate table (invented for this example, not for use)." in note


def test_indoors_stands_beside_outdoors_compound_by_compound(context: Context) -> None:
    """6 / 2 = 3 and 8 / 2 = 4; of TCE the limit of 1 indoors lies below the 4 outdoors: no ratio."""
    assert texts(pairs_table(context)) == [
        ["Tetrachloroethene", "IA-02", "8.0", "OA-01", "2.0", "higher indoors", "4.0"],
        ["Tetrachloroethene", "IA-01", "6.0", "OA-01", "2.0", "higher indoors", "3.0"],
        ["Trichloroethene", "IA-02", "<1.0", "OA-01", "4.0", "detected outdoors only", "–"],
    ]


def test_each_concentration_stands_beside_every_level_of_its_medium(context: Context) -> None:
    """6 of 8 is 0.75, 8 of 8 is not above but near; both are above 2.5; a limit of 1 can't be told from 0.5."""
    made = screening_table(context)
    assert [row[0:1] + row[2:] for row in texts(made)] == [
        ["IA-01", "Tetrachloroethene", "6.0", "8", "residential", "at or below", "0.75"],
        ["IA-01", "Tetrachloroethene", "6.0", "2.5", "–", "above", "2.4"],
        ["IA-02", "Tetrachloroethene", "8.0", "8", "residential", "at or below, near the level", "1.0"],
        ["IA-02", "Tetrachloroethene", "8.0", "2.5", "–", "above", "3.2"],
        ["IA-02", "Trichloroethene", "<1.0", "0.5", "residential", "inconclusive (reporting limit exceeds level)", "–"],
    ]
    assert [row[6].tone for row in made.rows] == ["", "flag", "", "flag", "partly"]
    assert "Levels: Set S, edition of 1 May 2025; Set T, edition of unknown date." in made.note


def test_a_level_that_nothing_stands_beside_says_why(context: Context) -> None:
    """Vinyl chloride was not analysed indoors, whatever else was; no sampler in soil gas has a result here."""
    nothing = "not compared (no result for this compound in this medium)"
    assert texts(not_compared_table(context)) == [
        ["Vinyl chloride", "indoor air", "0.2", "residential", nothing],
        ["Tetrachloroethene", "soil gas", "270", "residential", nothing],
    ]


def test_without_rate_or_exposure_a_level_says_which_of_them_lacks() -> None:
    """With no rate on file it is the rate, with no time of placing it is the exposure; results there are."""
    no_rate = context_of(table("reference/uptake_rates.csv", lambda _: []))
    no_time = context_of(every("field/deployments.csv", lambda _: {"placed_at": ""}))
    reasons = [
        {row[0]: row[4] for row in texts(not_compared_table(one)) if row[1] == "indoor air"}
        for one in (no_rate, no_time)
    ]
    masses = "not compared (results in this medium are masses; no"
    assert [found["Tetrachloroethene"] for found in reasons] == [
        f"{masses} uptake rate is on record)", f"{masses} exposure time is on record)",
    ]  # fmt: skip
    assert [found["Vinyl chloride"] for found in reasons] == [
        "not compared (no result for this compound in this medium)"
    ] * 2


def test_products_name_the_compounds_on_their_labels(context: Context) -> None:
    """Ids with blanks around them are read; what was not noted is a dash."""
    made = products_table(context)
    assert texts(made) == [
        ["IA-02", "paint", "Tetrachloroethene, Benzene", "in use", "lid dented"],
        ["IA-01", "pens", "–", "–", "–"],
    ]
    assert made.note
    assert not products_table(context_of(table("field/products.csv", lambda _: []))).note


def test_the_page_has_a_part_for_each_thing_on_record(context: Context) -> None:
    """Levels, pairs, products and results, as far as there are any; without results the occupied buildings alone."""
    parts = [block.id for block in air_blocks(context) if isinstance(block, Section)]
    assert parts == ["occupied", "screening", "pairs", "products", "results"]
    unnoted = context_of(removed("field/products.csv"))
    assert "products" not in [block.id for block in air_blocks(unnoted) if isinstance(block, Section)]
    inside = context_of(
        every("locations/locations.csv", lambda r: {"medium": r["medium"].replace("outdoor", "indoor")})
    )
    assert "pairs" not in [block.id for block in air_blocks(inside) if isinstance(block, Section)]
    silent = context_of(table("lab/results.csv", lambda _: []))
    assert [block.id for block in air_blocks(silent) if isinstance(block, Section)] == ["occupied"]
    assert {row[0].ref for row in pairs_table(context).rows} == {Ref("compound", "pce"), Ref("compound", "tce")}
