"""Occupied buildings: points, land use and the answer for each compound, worked by hand from rates of 1 mL/min.

The survey is that of ``air_survey.py``: PCE is 6 µg/m³ at IA-01, 8 at IA-02 and 2 outdoors; TCE is below a limit
of 1 at IA-02. Both indoor points are in the Office, which is on record as occupied.
"""

from __future__ import annotations

import json
import re

import pytest
from air_survey import LEVELS, context_of, texts
from builders import Change, cell, content, every, example, removed, setting, table

from sitegen.compute.picture.occupied import NEAR, Building
from sitegen.compute.results.screening import ABOVE, AT_OR_BELOW, CANNOT_TELL
from sitegen.report.record.pages import Block, Callout, Section, Table
from sitegen.report.results.mapdata import map_data, place_points
from sitegen.report.results.occupied import occupied_blocks, point_blocks
from sitegen.report.write.context import Context

FEATURES = "locations/features.geojson"
NO_USE = setting('land_use = "residential"', 'land_use = ""')
COMMERCIAL = setting('land_use = "residential"', 'land_use = "Commercial"')
TWO_USES = content(
    "reference/screening_levels.csv",
    LEVELS.replace("S,pce,indoor_air,,2.5,ug/m3,b,Set T,", "S,pce,indoor_air,commercial,7,ug/m3,b,Set T,").encode(),
)
"""PCE: 8 residential, 7 commercial, so that 8 at IA-02 is near the one and above the other."""


def drawn(**office: object) -> Change:
    """Change properties of the Office, None takes one away."""
    whole = json.loads(example().files[FEATURES].content)
    for one in whole["features"]:
        if one["properties"].get("name") == "Office":
            properties = one["properties"] | office
            one["properties"] = {name: value for name, value in properties.items() if value is not None}
    return content(FEATURES, json.dumps(whole).encode())


def office(*changes: Change) -> Building:
    (found,) = [one for one in context_of(*changes).buildings if one.name == "Office"]
    return found


def answers(building: Building) -> dict[tuple[str, str], list[tuple[str, float, str]]]:
    return {
        (one.location_id, one.analyte_id): [(a.level.land_use, a.level.ug_m3, a.answer) for a in one.answers]
        for one in building.indoor
    }


def callouts(blocks: tuple[Block, ...]) -> list[Callout]:
    inner = [one for block in blocks for one in (block.blocks if isinstance(block, Section) else (block,))]
    return [one for one in inner if isinstance(one, Callout)]


def tables(context: Context, *, brief: bool) -> dict[str, Table]:
    blocks = occupied_blocks(context, brief=brief)
    inner = [one for block in blocks for one in (block.blocks if isinstance(block, Section) else (block,))]
    return {one.id: one for one in inner if isinstance(one, Table)}


def words(context: Context, *, brief: bool = False) -> str:
    return " ".join(f"{one.title} {one.markdown}" for one in callouts(occupied_blocks(context, brief=brief))).replace(
        "\\", ""
    )


def test_the_levels_of_the_land_use_that_is_set_apply_and_those_that_name_none() -> None:
    """Residential is set: 8 and the level of no land use, 2.5; 6 is below and above, 8 near and above."""
    assert answers(office()) == {
        ("IA-01", "pce"): [("residential", 8.0, AT_OR_BELOW), ("", 2.5, ABOVE)],
        ("IA-01", "tce"): [],
        ("IA-01", "vc"): [],
        ("IA-02", "pce"): [("residential", 8.0, NEAR), ("", 2.5, ABOVE)],
        ("IA-02", "tce"): [("residential", 0.5, CANNOT_TELL)],
        ("IA-02", "vc"): [],
    }
    assert {one.reason for one in office().indoor if not one.answers} == {"no_result"}


def test_another_land_use_changes_the_answer_and_hides_no_exceedance() -> None:
    """Of 8 and 7: residential, 8 is near and above the other's level; commercial, 8 is above; none set, both apply."""
    found = {name: office(TWO_USES, *more) for name, more in (("r", ()), ("c", (COMMERCIAL,)), ("none", (NO_USE,)))}
    at = ("IA-02", "pce")
    assert answers(found["r"])[at] == [("residential", 8.0, NEAR)]
    (one,) = [one for one in found["r"].indoor if (one.location_id, one.analyte_id) == at]
    assert [level.land_use for level in one.other_uses] == ["commercial"]
    assert answers(found["c"])[at] == [("commercial", 7.0, ABOVE)]
    assert answers(found["none"])[at] == [("residential", 8.0, NEAR), ("commercial", 7.0, ABOVE)]
    assert "Above the level of a land use other than the one that applies" in words(context_of(TWO_USES))


def test_a_building_s_own_land_use_goes_before_that_of_the_project() -> None:
    """The Office is commercial by its own record, with its own source."""
    own = drawn(land_use="commercial", land_use_source="lease (invented)", use="meeting rooms")
    found = office(TWO_USES, own)
    assert (found.land_use.use, found.land_use.source, found.use) == ("commercial", "lease (invented)", "meeting rooms")
    made = tables(context_of(TWO_USES, own), brief=False)
    (row,) = texts(made["occupied-buildings"])
    assert row == [
        "Office",
        "occupied",
        "meeting rooms",
        "IA-01, IA-02 (2 samplers)",
        "–",
        "commercial (lease (invented))",
    ]
    assert "commercial (lease (invented))" in made["occupied"].note


def test_where_no_land_use_is_set_that_is_said_and_all_levels_are_given() -> None:
    made = tables(context_of(TWO_USES, NO_USE), brief=False)["occupied"]
    assert "No land use is set: results are compared with the levels of every land use on record" in made.note
    rows = {(row[0], row[1]): row for row in texts(made)}
    pce = rows["IA-02", "Tetrachloroethene"]
    assert pce[2:5] == [
        "8.0",
        "8 (residential); 7 (commercial)",
        "near (within the margin, at or below the level): residential; above: commercial",
    ]


def test_a_level_for_another_land_use_alone_is_no_comparison() -> None:
    """TCE has a residential level alone: for commercial use it is not compared, and the reason is said."""
    (one,) = [
        one for one in office(TWO_USES, COMMERCIAL).indoor if (one.location_id, one.analyte_id) == ("IA-02", "tce")
    ]
    assert (one.answers, one.reason) == ((), "no_level")
    row = {tuple(row[:2]): row for row in texts(tables(context_of(TWO_USES, COMMERCIAL), brief=False)["occupied"])}
    assert row["IA-02", "Trichloroethene"][4] == "not compared (no level for the land use that applies)"


def test_a_duplicate_that_says_more_against_the_air_decides() -> None:
    """IA-02 made a duplicate at IA-01: 8 and 6 there, the higher is shown, the other beside it; TCE is inconclusive."""
    double = every(
        "field/deployments.csv",
        lambda row: {"location_id": "IA-01", "duplicate_of": "0047129"} if row["sampler_id"] == "0047128" else {},
    )
    found = {key: value for key, value in answers(office(double)).items() if key[0] == "IA-01"}
    assert found["IA-01", "pce"] == [("residential", 8.0, NEAR), ("", 2.5, ABOVE)]
    assert found["IA-01", "tce"] == [("residential", 0.5, CANNOT_TELL)]
    rows = {tuple(row[:2]): row for row in texts(tables(context_of(double), brief=False)["occupied"])}
    assert rows["IA-01", "Tetrachloroethene"][2] == "8.0"
    assert rows["IA-01", "Tetrachloroethene"][5] == "primary 6.0"


def test_the_answer_comes_first_and_says_whose_turn_it_is() -> None:
    """The team is told to notify; a client's copy says that it is a matter for the authority, and no verdict."""
    text = words(context_of())
    assert text.startswith("Above a screening level in indoor air at IA-01, IA-02: notify the responsible parties now")
    told = text.split("in indoor air exceeds a screening level.")[0]
    assert re.search(
        r"Office \(occupied\): Tetrachloroethene \(IA-01: [^;]+ against [\d.]+; IA-02: [^;]+ against [\d.]+\) $", told
    )
    assert "Inconclusive, because the reporting limit exceeds the level: Trichloroethene (IA-02)." in text
    assert "Not compared: 3 pairs of indoor point and compound." in text
    assert "it does not by itself establish a risk" in text
    client = words(context_of(setting('level = "internal"', 'level = "client"')))
    assert "otify" not in client
    assert "responsible authority and the licensed professional" in client


def test_the_short_form_has_what_is_pressing_and_counts_the_rest() -> None:
    """Above, near or inconclusive: PCE at both points, TCE at IA-02; three of six pairs are not compared."""
    made = tables(context_of(), brief=True)
    assert list(made) == ["occupied-brief"]
    assert [row[:3] for row in texts(made["occupied-brief"])] == [
        ["IA-01", "Tetrachloroethene", "6.0"],
        ["IA-02", "Tetrachloroethene", "8.0"],
        ["IA-02", "Trichloroethene", "<1.0"],
    ]
    assert "Of 6 pairs of indoor point and compound with a level, 0 are at or below" in made["occupied-brief"].note
    assert "3 are not compared" in made["occupied-brief"].note


def test_outdoor_air_and_products_of_the_building_stand_beside_a_result() -> None:
    """2 outdoors, 6 and 8 indoors; the paint at IA-02 names PCE, which is said at both points of the building."""
    rows = {tuple(row[:2]): row for row in texts(tables(context_of(), brief=False)["occupied"])}
    assert rows["IA-01", "Tetrachloroethene"][6:] == ["OA-01 2.0: higher indoors", "paint (IA-02, in use)"]
    assert rows["IA-02", "Trichloroethene"][6:] == ["OA-01 4.0: detected outdoors only", "none on record"]
    unknown = texts(tables(context_of(removed("field/products.csv")), brief=False)["occupied"])
    assert {row[7] for row in unknown} == {"no record of products"}


def test_a_point_in_no_drawn_building_is_told_with_what_its_row_says() -> None:
    """Without drawn buildings the points are those of "Office", not drawn; without a name, of a building not drawn."""
    bare = content(FEATURES, b'{"type": "FeatureCollection", "features": []}')
    (named,) = context_of(bare).buildings
    assert (named.name, named.occupied, named.shape, named.sampled) == ("Office", "", None, ("IA-01", "IA-02"))
    assert "Office (not drawn, occupancy not recorded):" in words(context_of(bare))
    nameless = every("locations/locations.csv", lambda _: {"building": ""})
    assert "Building not drawn (not drawn, occupancy not recorded):" in words(context_of(bare, nameless))


def test_a_building_that_nobody_calls_occupied_keeps_its_results_and_says_so() -> None:
    assert "Office (recorded as not occupied):" in words(context_of(drawn(occupied="no")))
    assert "Office (occupancy not recorded):" in words(context_of(drawn(occupied=None)))


def test_an_occupied_building_without_indoor_points_is_named_with_its_nearest_soil_point() -> None:
    """With the indoor points gone the Office is not sampled; no soil result is left here, and that is said."""
    gone = table("locations/locations.csv", lambda rows: [r for r in rows if r["medium"] != "indoor_air"])
    away = table("field/deployments.csv", lambda rows: [r for r in rows if not r["location_id"].startswith("IA")])
    context = context_of(gone, away)
    made = tables(context, brief=False)
    assert texts(made["occupied-unsampled"]) == [
        ["Office", "not recorded", "no result with a position on record", "–", "–"]
    ]
    assert "occupied" not in made
    assert "No indoor-air sampler on record: Office (occupied)." in words(context, brief=True)


@pytest.mark.parametrize("missing", ["reference/screening_levels.csv", "reference/uptake_rates.csv"])
def test_nothing_compared_is_no_all_clear(missing: str) -> None:
    """Without levels, or without rates, no result is called below anything."""
    text = words(context_of(removed(missing)))
    assert "no indoor-air result could be compared with a screening level" in text
    assert "no result exceeds" not in text
    assert "health matter" in text


def test_a_survey_without_indoor_air_or_occupied_building_has_nothing_here() -> None:
    outdoors = table("locations/locations.csv", lambda rows: [r for r in rows if r["medium"] != "indoor_air"])
    context = context_of(outdoors, drawn(occupied="no"))
    assert occupied_blocks(context, brief=True) == occupied_blocks(context, brief=False) == ()


def test_a_point_s_own_page_and_the_map_have_the_same_facts() -> None:
    """IA-01's page has its rows alone; both maps know which points are above a level."""
    context = context_of()
    (section,) = point_blocks(context, "IA-01")
    assert isinstance(section, Section)
    (made,) = [one for one in section.blocks if isinstance(one, Table)]
    assert next(row[:3] for row in texts(made)) == ["Tetrachloroethene", "6.0", "8 (residential); 2.5"]
    assert point_blocks(context, "SG-01") == ()
    above = {one.location_id: one.above for one in map_data(context).points if one.above}
    assert above == dict.fromkeys(("IA-01", "IA-02"), "Above a screening level: Tetrachloroethene.")
    assert {one.label for one in place_points(context) if one.above} == {"IA-01", "IA-02"}


def test_a_building_whose_results_are_compared_with_no_level_is_not_counted_among_those_without_concern() -> None:
    """Its results are rejected: the summary names it and says that nothing was compared, not that nothing is above."""
    apart = every("locations/locations.csv", lambda row: {"building": "Shop"} if row["location_id"] == "IA-02" else {})
    samples = {row.lab_sample_id for row in context_of().by_location["IA-02"]}
    rejected = every(
        "lab/results.csv", lambda row: {"validation_qualifier": "R"} if row["lab_sample_id"] in samples else {}
    )
    far = cell("locations/locations.csv", "IA-02", "easting", "470200.0")
    (callout,) = callouts(occupied_blocks(context_of(apart, far, rejected), brief=True))
    words = callout.markdown.replace("\\", "")
    assert "further building" not in words
    assert "Shop (not drawn, occupancy not recorded): no indoor-air result could be compared" in words
