"""A building that a copy withholds: its points keep their answers, and nothing is said of it that its record denies.

The survey is that of ``air_survey.py``: PCE is 6 µg/m³ at IA-01 and 8 at IA-02, TCE is below a limit of 1 at IA-02.
The Office, which holds both, is occupied and residential, while the project's settings name a commercial land use.
"""

from __future__ import annotations

import json
from functools import cache

import pytest
from air_survey import LEVELS, survey_of, texts
from builders import content, example, setting

from sitegen.compute.evaluate import evaluate
from sitegen.compute.results.screening import ABOVE, CANNOT_TELL
from sitegen.report.points.location import lead
from sitegen.report.record.pages import Callout, Section, Table
from sitegen.report.results.occupied import occupied_blocks
from sitegen.report.write.context import Context
from sitegen.report.write.publish import publishable
from sitegen.report.write.whereabouts import where_text

LEVELS_HERE = LEVELS.replace("residential,8.0", "residential,5.0").replace(",,2.5,", ",commercial,7,")
"""PCE in indoor air: 5 residential, 7 commercial."""

FEATURES = "locations/features.geojson"
NO_FEATURES = b'{"type": "FeatureCollection", "features": []}'


def hidden_office() -> bytes:
    """Return the example's features, its Office not public and with a use and a land use of its own."""
    whole = json.loads(example().files[FEATURES].content)
    (office,) = [one["properties"] for one in whole["features"] if one["properties"].get("name") == "Office"]
    office |= {"public": "no", "use": "clinic", "land_use": "residential", "land_use_source": "memo"}
    return json.dumps(whole).encode()


@cache
def copy(level: str, *, drawn_at_all: bool = True) -> Context:
    """Return the copy for a level of the survey whose Office is not public."""
    survey = publishable(
        survey_of(
            content(FEATURES, hidden_office() if drawn_at_all else NO_FEATURES),
            content("reference/screening_levels.csv", LEVELS_HERE.encode()),
            setting('land_use = "residential"', 'land_use = "commercial"'),
            setting('level = "internal"', f'level = "{level}"'),
        )
    )
    return Context(survey, evaluate(survey), ())


@pytest.mark.parametrize("level", ["client", "public"])
def test_the_answers_at_its_points_are_no_milder_than_the_teams(level: str) -> None:
    """The project's land use is not put in place of the building's own: every level is compared, by its land use."""
    (team,) = copy("internal").buildings
    (shown,) = copy(level).buildings
    assert [one.worst for one in team.indoor if one.answers] == [ABOVE, ABOVE, CANNOT_TELL]
    assert [one.worst for one in shown.indoor if one.answers] == [ABOVE, ABOVE, CANNOT_TELL]
    assert {a.level.land_use for one in shown.indoor for a in one.answers} == {"residential", "commercial"}
    (callout,) = [one for one in occupied_blocks(copy(level), brief=True) if isinstance(one, Callout)]
    assert callout.title == "Above a screening level in indoor air at IA-01, IA-02"


def test_what_is_withheld_of_it_is_said_to_be_withheld() -> None:
    """Neither its drawing, its occupancy, its use nor its land use is called absent from the record."""
    found = copy("client")
    (section,) = [one for one in occupied_blocks(found, brief=False) if isinstance(one, Section)]
    shown = next(one for one in section.blocks if isinstance(one, Table) and one.id == "occupied-buildings")
    assert texts(shown) == [
        ["withheld building 1", "occupancy not given in this version", "not given in this version",
         "IA-01, IA-02 (2 samplers)", "–", "not given in this version"]
    ]  # fmt: skip
    words = repr(occupied_blocks(found, brief=False)).replace("\\", "")
    assert (
        "withheld building 1 (occupancy not given in this version): Tetrachloroethene (IA-01: 6.0 µg/m³ against"
        in words
    )
    assert "No land use is given in this version: results are compared with the levels of every land use" in words
    for denied in ("not drawn", "not recorded", "No land use is set", "clinic", "memo"):
        assert denied not in words


def test_it_names_no_point() -> None:
    """Where a point is, and the page of the point, have a number in place of the name of the building."""
    for level, name in (("internal", "Office"), ("client", "withheld building 1"), ("public", "withheld building 1")):
        found = copy(level)
        row = next(row for row in found.locations if row.location_id == "IA-01")
        assert name in lead(found, row)
        assert ("Office" in where_text(found, "IA-01") + lead(found, row)) == (level == "internal")


def test_a_building_that_is_not_drawn_is_said_not_to_be_where_none_is_withheld() -> None:
    """Without a drawn building the project's land use applies at every level, and the record is called incomplete."""
    (shown,) = copy("client", drawn_at_all=False).buildings
    assert (shown.name, shown.land_use.use) == ("Office", "commercial")
    words = repr(occupied_blocks(copy("client", drawn_at_all=False), brief=False))
    assert "not drawn, occupancy not recorded" in words
