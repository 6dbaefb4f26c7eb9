"""The log sheets: every sampler has its boxes once, in walking order, in the words of the format."""

from __future__ import annotations

import re
from collections import Counter
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from kits import begun, edited, in_degrees, planned, printed, sizes, survey_of, text_of
from planned_survey import POINTS, in_field
from pypdf import PageObject, PdfReader

from sitegen.compute.design.fieldplan import field_plan
from sitegen.fieldwork.form.plandata import plan_data
from sitegen.fieldwork.kit.logsheets import _pages, log_sheets
from sitegen.render.proof.pdf_text import squeeze

COLUMNS = Path(__file__).parents[2] / "project_template/COLUMNS.md"


def columns(data: Any, kind: str = "log") -> list[Any]:  # noqa: ANN401 - a tree of plain data
    return [column for page in data["pages"] for column in page if column["kind"] == kind]


def test_every_point_has_one_sheet_in_walking_order() -> None:
    """Each point of the plan has one column of its own, and they come as the points are walked."""
    survey, plan = planned()
    names = [column["name"] for column in columns(log_sheets(survey, plan)) if column["use"] == "sample"]
    assert Counter(names) == Counter(point[0] for point in POINTS)
    assert names == [point.location_id for point in plan.points]


def test_duplicates_stand_beside_their_parents() -> None:
    """Two of eighteen points are doubled (a tenth, rounded up), each on the page of its parent."""
    data = log_sheets(*planned())
    pairs = [page for page in data["pages"] if any(column["use"] == "field_duplicate" for column in page)]  # type: ignore[attr-defined]
    assert len(pairs) == 2
    for page in pairs:
        parent, twin = page
        assert (twin["parent"], twin["name"]) == (parent["name"], f"{parent['name']}-D")
        assert twin["placed"] is None


def test_a_pair_is_never_parted() -> None:
    """Before a parent and its duplicate a page is ended, though half of it is left."""

    def column(name: str, location: str, use: str = "sample") -> dict[str, object]:
        return {"kind": "log", "name": name, "location": location, "use": use, "ground": "paved"}

    way = [column("A", "A"), column("B", "B"), column("B-D", "B", "field_duplicate"), column("C", "C")]
    names = [[one["name"] for one in page] for page in _pages(way)]
    assert names == [["A"], ["B", "B-D"], ["C"]]


def test_blanks_and_spares_have_boxes_too() -> None:
    """The planned field blank and the two spares have a column each; trip blanks stay closed and have none."""
    uses = Counter(column["use"] for column in columns(log_sheets(*planned())))
    assert uses == {"sample": 18, "field_duplicate": 2, "field_blank": 1, "spare": 2}


def test_indoor_air_has_its_inventory_beside_it() -> None:
    """The room's list of products is on its page, or after a duplicate on one of its own; outdoors there is none."""
    data: Any = log_sheets(*planned())
    at = next(at for at, page in enumerate(data["pages"]) if any(column["kind"] == "products" for column in page))
    names = [[column["name"] for column in page] for page in data["pages"]]
    assert names[at - 1 : at + 1] == [["IA-1", "IA-1-D"], ["IA-1"]]
    alone: list[Any] = [
        {"kind": "log", "name": name, "location": name, "use": "sample", "ground": ground}
        for name, ground in (("SG-9", "paved"), ("IA-2", "air"), ("SG-1", "paved"))
    ]
    assert [[one["name"] for one in page] for page in _pages(alone)] == [["SG-9"], ["IA-2", "IA-2"], ["SG-1"]]
    grounds = {column["name"]: column["ground"] for column in columns(data)}
    assert (grounds["OA-1"], grounds["SS-1"], grounds["SG-03"], grounds["SG-01"]) == (
        "outdoor", "slab", "paved", "unpaved",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("column", "words"),
    [
        ("hole_method", "rotary_hammer slide_hammer auger core_drill hand existing_port"),
        ("closure", "foil_and_soil foil_and_patch cap other"),
        ("moisture", "dry moist wet saturated frozen"),
        ("condition", "intact cap_damaged glass_damaged water_inside soil_inside disturbed not_recovered"),
        ("hole_restored", "yes temporary no"),
        ("sleeve", "yes no"),
        ("refusal", "yes no"),
    ],
)
def test_boxes_have_the_words_of_the_format(column: str, words: str) -> None:
    """What can be ticked is what the table takes, in its order (design of the folder format, 3.1)."""
    data: Any = log_sheets(*planned())
    box = data["words"][column]
    assert [choice["value"] for choice in box["choices"]] == words.split()
    assert [choice["shown"].replace(" ", "_") for choice in box["choices"]] == words.split()
    assert column in COLUMNS.read_text("utf-8")


@pytest.mark.parametrize("code", ["EPSG:4326", "EPSG:4269"])
def test_positions_in_degrees_are_told_apart(code: str) -> None:
    """SG-01 is 15 m from the corner: in metres on the sheet, to a centimetre (1e-7 degrees) on the form."""
    survey = survey_of(in_degrees(code))
    plan = field_plan(survey)
    facts = columns(log_sheets(survey, plan))[0]["facts"]
    assert (facts["system"], facts["easting"], facts["northing"]) == ("EPSG:32614", "470015.00", "4770015.00")
    point = plan_data(survey, plan)["points"][0]
    assert point["position"] == f"longitude -99.3683680, latitude 43.0822552 ({code})"


@pytest.fixture(scope="module", params=["a4", "us-letter"])
def sheets(request: pytest.FixtureRequest) -> tuple[str, Any, bytes]:
    """Return the log sheets of the planned survey on one of the papers."""
    survey, plan = planned()
    data = log_sheets(survey, plan)
    return request.param, data, printed("log_sheets", survey, data, request.param)


def test_print_has_a_page_for_each_page(sheets: tuple[str, Any, bytes]) -> None:
    """No box runs over: as many pages are printed as were laid out, in the size of ISO 216 or of a US letter."""
    paper, data, pdf = sheets
    size = {"a4": (595.3, 841.9), "us-letter": (612.0, 792.0)}[paper]
    assert sizes(pdf) == [size] * len(data["pages"])


def test_remarks_have_room_on_every_sheet(sheets: tuple[str, Any, bytes]) -> None:
    """Boxes end where remarks begin, and at least 8 mm are left for these above the margin of 14.5 mm."""
    _, data, pdf = sheets
    heights = [y for page in PdfReader(BytesIO(pdf)).pages for text, y in _drawn(page) if "(remarks)" in text]
    assert len(heights) == len(columns(data))
    assert min(heights) > (14.5 + 8) / 25.4 * 72


def _drawn(page: PageObject) -> list[tuple[str, float]]:
    """Return each text of a page with its height over the page's foot, in points."""
    found: list[tuple[str, float]] = []
    page.extract_text(visitor_text=lambda text, cm, tm, *_: found.append((text, _height(cm, tm))))
    return found


def _height(around: list[float], own: list[float]) -> float:
    """Return the height of a text: its own place, turned by what surrounds it (ISO 32000-1, 8.3.4)."""
    return own[4] * around[1] + own[5] * around[3] + around[5]


def test_print_has_every_word_to_tick(sheets: tuple[str, Any, bytes]) -> None:
    """Each choice is printed on each sheet of a hole, and each point's id, depth and ties."""
    _, data, pdf = sheets
    text = text_of(pdf)
    holes = [c for c in columns(data) if c["ground"] in ("unpaved", "paved", "slab", "any")]
    for word in ("rotary hammer", "existing port", "foil and patch", "temporary"):
        assert text.count(squeeze(word)) == len(holes), word
    assert text.count("waterinside") == len(columns(data))
    for point in POINTS:
        assert point[0] in text
    assert "plandepth3ft" in text
    assert "7.00m(23.0ft)southofParkingarea" in text  # SG-12 is 7 m south of its edge, 7 / 0.3048 = 22.97 ft


def test_print_says_when_the_clocks_change(sheets: tuple[str, Any, bytes]) -> None:
    """The clocks go back between placing and retrieval, and every page says when."""
    _, data, pdf = sheets
    said = {column: data["clocks"][0][column] for column in ("before", "after", "minutes")}
    assert said == {"before": "2025-11-02T02:00", "after": "2025-11-02T01:00", "minutes": -60}
    assert pdf == printed("log_sheets", planned()[0], data, sheets[0])


def test_what_is_retrieved_has_no_sheet() -> None:
    """Of six that were placed, three are in place and printed as on record; points done are left out."""
    survey, plan = begun()
    data = log_sheets(survey, plan)
    there = {column["name"]: column["placed"] for column in columns(data)}
    assert not {"SG-01", "SG-02", "SG-02-D"} & there.keys()
    placed = {name: row for name, row in there.items() if row}
    assert {name: (row["sampler_id"], row["placed_at"], row["depth"]) for name, row in placed.items()} == {
        "SG-05": ("0204", "2025-10-27T10:02", "3"),
        "SG-06": ("0205", "2025-10-27T10:44", "3"),
        "IA-1": ("0206", "2025-10-28T08:12", ""),
    }
    assert Counter(column["use"] for column in columns(data)) == {
        "sample": 16, "field_duplicate": 1, "field_blank": 1, "spare": 2,
    }  # fmt: skip


def test_what_is_placed_is_printed_in_the_boxes() -> None:
    """The serial and the time of a sampler in place stand in its boxes, and what was ticked is crossed."""
    files = in_field()
    head = "condition,bag_id,"
    files["field/deployments.csv"] = files["field/deployments.csv"].replace(head, f"hole_method,{head}", 1)
    files = edited("field/deployments.csv", "2025-10-27T10:44,,3.0,,", "2025-10-27T10:44,,3.0,auger,,", files)
    survey = survey_of(files)
    data = log_sheets(survey, field_plan(survey))
    (row,) = [column["placed"] for column in columns(data) if column["name"] == "SG-06"]
    assert (row["hole_method"], row["placed_by"]) == ("auger", "FS-1")
    text = text_of(printed("log_sheets", survey, data))
    assert "0205placedat2025-10-2710:44" in text
    assert "×auger" in text


def test_a_sampler_that_is_lost_needs_no_sheet() -> None:
    """A sampler that was not recovered, or is lost by the list of samplers, is not looked for again."""
    files = edited("field/samplers.csv", "0204,SG-05,sample,T1,LOT-1,2025-10-22,SH-1,,", "0204,SG-05,sample,T1,LOT-1,2025-10-22,SH-1,lost,", in_field())  # fmt: skip  # noqa: E501
    survey = survey_of(files)
    names = [column["name"] for column in columns(log_sheets(survey, field_plan(survey)))]
    assert "SG-05" not in names
    assert "SG-06" in names


def test_what_is_in_place_at_an_abandoned_point_is_still_retrieved() -> None:
    """A point that has left the plan keeps its sheet while a sampler is in place there."""
    files = in_field()
    row = re.compile(r"^(SG-06,.*),placed,", re.MULTILINE)
    files["locations/locations.csv"] = row.sub(r"\1,abandoned,", files["locations/locations.csv"])
    survey = survey_of(files)
    (column,) = [c for c in columns(log_sheets(survey, field_plan(survey))) if c["name"] == "SG-06"]
    assert column["placed"]["sampler_id"] == "0205"
    assert column["facts"]["surface"] == "vegetation"


def test_a_point_without_a_position_has_a_sheet_that_says_so() -> None:
    """It comes after those that are walked, and asks before any hole is made."""
    survey = survey_of(edited("locations/locations.csv", "grid,470040.00,4770015.00", "grid,,"))
    plan = field_plan(survey)
    data = log_sheets(survey, plan)
    names = [column["name"] for column in columns(data) if column["use"] == "sample"]
    assert names[-1] == "SG-02"
    assert "Nopositionisonrecord" in text_of(printed("log_sheets", survey, data))


def test_boxes_of_a_date_say_which_part_goes_where() -> None:
    """Crews write days and months in either order: each empty box has the letter of what belongs there."""
    survey, plan = planned()
    data: Any = log_sheets(survey, plan)
    said = text_of(printed("log_sheets", survey, {**data, "pages": data["pages"][:1]}))
    assert "YYYY-MM-DDhh:minmin" in said


def test_an_occupied_building_is_told_where_the_crew_works() -> None:
    """The shop is occupied: its points' sheets and the form say so; other points' don't."""
    survey, plan = planned()
    sheets = {one["name"]: one["facts"]["building"] for one in columns(log_sheets(survey, plan)) if one["facts"]}
    assert (sheets["SS-1"], sheets["SG-01"]) == ("Shop (occupied)", "")
    form = {one["id"]: one["building"] for one in plan_data(survey, plan)["points"]}
    assert (form["IA-1"], form["SG-01"]) == ("Shop (occupied)", "")


def test_where_air_is_sampled_nobody_asks_about_a_hole() -> None:
    """Without a position the sheet asks for the place."""
    survey = survey_of(
        edited("locations/locations.csv", "air of the office,470088.00,4770057.00", "air of the office,,")
    )
    said = text_of(printed("log_sheets", survey, log_sheets(survey, field_plan(survey))))
    assert "Nopositionisonrecord:askwheretodeploythesampler." in said
    assert "Nopositionisonrecord:askbefore" not in said


HOSTILE = '#panic("x") *b* $x$ @a <l> \\ `r` [e] = - // /* 水 é \u202e'


def test_hostile_words_stay_words() -> None:
    """Words of the project that look like markup are printed as they are, and long ones don't push boxes off."""
    long = "L" * 100
    cell = '"' + HOSTILE.replace('"', '""') + " " + "word " * 1_900 + '"'
    files = edited("locations/locations.csv", "north of the fuel tank", cell)
    files = edited("locations/locations.csv", "SG-10,", f"{long},", files)
    files = edited("locations/locations.csv", "SG-11,", '"#let a = 1; [x] *y*",', files)
    survey = survey_of(files)
    data: Any = log_sheets(survey, field_plan(survey))
    assert max(len(column["facts"]["remark"]) for column in columns(data) if column["facts"]) == 90
    for paper in ("a4", "us-letter"):
        pdf = printed("log_sheets", survey, data, paper)
        assert len(sizes(pdf)) == len(data["pages"])
    text = text_of(pdf)
    assert long in text
    assert '#panic("x")*b*$x$@a<l>\\`r`[e]=-///*\ufffdé\ufffd' in text
    assert "#leta=1;[x]*y*" in text
