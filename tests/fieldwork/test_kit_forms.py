"""Custody forms, packing list, checklists and contacts: nobody's sampler is missing, and what is counted is by hand."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest
from kits import begun, edited, planned, printed, sizes, survey_of, text_of
from planned_survey import folder, in_field, texts
from pypdf import PdfReader

from sitegen.compute.design.fieldplan import field_plan
from sitegen.fieldwork.kit.checklists import checklists
from sitegen.fieldwork.kit.contacts import contacts
from sitegen.fieldwork.kit.custodyforms import custody_forms
from sitegen.fieldwork.kit.packing import packing_list


def forms_of(data: Any, kind: str) -> list[Any]:  # noqa: ANN401 - a tree of plain data
    return [form for form in data["forms"] if form["kind"] == kind]


def test_each_sampler_stands_on_one_bags_form() -> None:
    """18 points, 2 duplicates and 1 field blank at 12 to a bag make 2 bags; each has its trip blank as the last row."""
    data = custody_forms(*planned())
    bags = forms_of(data, "bag")
    uses = Counter(row["use"] for bag in bags for row in bag["rows"])
    assert uses == {"sample": 18, "field_duplicate": 2, "field_blank": 1, "trip_blank": len(bags)}
    assert [bag["rows"][-1]["use"] for bag in bags] == ["trip_blank"] * 2
    assert max(Counter(row["label"] for bag in bags for row in bag["rows"]).values()) == 1


def test_the_outward_form_counts_everything() -> None:
    """All that the laboratory is asked for: 18, 2 duplicates, 1 field blank, 2 trip blanks and 2 spares."""
    (form,) = forms_of(custody_forms(*planned()), "out")
    assert len(form["rows"]) == 25
    assert form["known"] == {}


def test_serials_are_printed_where_the_laboratory_gave_them() -> None:
    """A label with a serial in the list of samplers has it on the bag's form, the others have boxes."""
    head = texts()["field/samplers.csv"]
    files = texts() | {"field/samplers.csv": head + "0093,SG-03,sample,,,,,,\n"}
    survey = survey_of(files)
    plan = field_plan(survey)
    rows = [row for bag in forms_of(custody_forms(survey, plan), "bag") for row in bag["rows"]]
    assert {row["label"]: row["serial"] for row in rows if row["serial"]} == {"SG-03": "0093"}


def test_a_label_that_two_samplers_have_leaves_the_box_for_a_serial() -> None:
    """Which of the two it is only the crew can tell."""
    head = texts()["field/samplers.csv"]
    survey = survey_of(texts() | {"field/samplers.csv": head + "0093,SG-03,sample,,,,,,\n0094,SG-03,sample,,,,,,\n"})
    rows = [row for bag in forms_of(custody_forms(survey, field_plan(survey)), "bag") for row in bag["rows"]]
    assert [row["serial"] for row in rows if row["label"] == "SG-03"] == [""]


def test_each_of_two_samplers_at_a_point_is_on_a_bags_form() -> None:
    """Both are placed and both come back, though the plan has one there."""
    files = in_field()
    files["field/samplers.csv"] += "0209,,sample,T1,LOT-1,2025-10-22,SH-1,,\n"
    files["field/deployments.csv"] += "0209,SG-05,NA,2025-10-27T10:03,,3.0,,,FS-1,,\n"
    survey = survey_of(files)
    rows = [row for bag in forms_of(custody_forms(survey, field_plan(survey)), "bag") for row in bag["rows"]]
    assert Counter(row["serial"] for row in rows if row["serial"] in ("0204", "0209")) == {"0204": 1, "0209": 1}


def test_what_is_on_record_is_printed() -> None:
    """In the field, bags and shipments on record have their seals, and retrieved samplers their bag."""
    data = custody_forms(*begun())
    (out,) = forms_of(data, "out")
    assert (out["name"], out["known"]["seal"], out["known"]["items_received"], len(out["rows"])) == (
        "SH-1",
        "7001",
        "8",
        8,
    )
    bags = {bag["name"]: bag for bag in forms_of(data, "bag")}
    assert bags["RB-1"]["known"]["seal"] == "5501"
    assert {row["label"]: row["serial"] for row in bags["RB-1"]["rows"]} == {
        "SG-01": "0201", "SG-02": "0202", "SG-02-D": "0203", "TB-1": "0207",
    }  # fmt: skip
    rows = [row for bag in bags.values() for row in bag["rows"]]
    assert Counter(row["use"] for row in rows) == {
        "sample": 18, "field_duplicate": 2, "field_blank": 1, "trip_blank": len(bags),
    }  # fmt: skip
    assert [bag["rows"][-1]["use"] for bag in bags.values()] == ["trip_blank"] * len(bags)


def test_each_form_counts_its_own_pages() -> None:
    """Every form begins at page 1 and says how many there are, and names itself in the foot."""
    survey, plan = begun()
    data = custody_forms(survey, plan)
    feet = _feet(printed("custody_forms", survey, data))
    assert feet[0].startswith("Shipment out SH-1 page 1 of ")
    starts = [foot for foot in feet if " page 1 of " in foot]
    assert len(starts) == len(data["forms"])  # type: ignore[arg-type]
    for foot in starts:
        name, _, last = foot.partition(" page 1 of ")
        assert sum(other.startswith(f"{name} page ") for other in feet) == int(last)


def _feet(pdf: bytes) -> list[str]:
    """Return name and page of each foot, which are artifacts that the reader of texts leaves out."""
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        lines = page.extract_text().splitlines()
        (last,) = [line for line in lines if "content 01234567" in line]
        found.append(" ".join(last.partition("01234567")[2].split()))
    return found


def test_trip_blanks_and_seals_are_on_paper() -> None:
    """The printed form marks the trip blank, has a box for each state of a seal, and blocks to give and to take."""
    survey, plan = planned()
    text = text_of(printed("custody_forms", survey, custody_forms(survey, plan)))
    assert text.count("relinquishedby") == text.count("acceptedby") == 2 + 2 * 3 + 3
    for words in ("TB-1tripblank", "TB-2tripblank", "sealreadonreceipt", "intact", "broken", "absent"):
        assert words in text


def test_holes_are_counted_by_ground() -> None:
    """Ten points are unpaved, four paved, two below a floor, two in air; a duplicate has a hole of its own."""
    survey, plan = planned()
    data: Any = packing_list(survey, plan)
    twins: Counter[str] = Counter(
        next(point.ground for point in plan.points if point.location_id == slot.location_id)
        for slot in plan.allocation.of("field_duplicate")
    )
    assert data["holes"] == dict(Counter({"unpaved": 10, "paved": 4, "slab": 2, "air": 2}) + twins)
    assert (data["trip_blanks"], data["bags"], data["spares"], data["in_own_bag"]) == (2, 2, 2, 21)
    assert data["samplers"] == {"sample": 18, "field_duplicate": 2, "field_blank": 1}


def test_a_point_in_air_without_a_position_has_no_hole() -> None:
    """What is sampled is known before it is known where."""
    survey, plan = planned()
    air = next(point for point in plan.points if point.ground == "air")
    unplaced = replace(
        plan, points=tuple(one for one in plan.points if one != air), unplaced=(*plan.unplaced, air.location_id)
    )
    data: Any = packing_list(survey, unplaced)
    assert data["holes"] == dict(packing_list(survey, plan))["holes"]


def test_in_the_field_only_what_is_left_is_packed() -> None:
    """Six of twenty-one are placed, and three of those are still in place."""
    data: Any = packing_list(*begun())
    assert sum(data["samplers"].values()) == 15
    assert data["to_retrieve"] == 3


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_lists_keep_to_their_pages(paper: str) -> None:
    """The packing list is one page; start, hole and evening have one page each, with three tickets."""
    survey, plan = planned()
    assert len(sizes(printed("packing_list", survey, packing_list(survey, plan), paper))) == 1
    assert len(sizes(printed("checklists", survey, checklists(survey, plan), paper))) == 3


def test_tickets_are_told_as_on_record() -> None:
    """Each ticket with its validity; where none is on record the list says so, and that no hole is made."""
    survey, plan = planned()
    text = text_of(printed("checklists", survey, checklists(survey, plan)))
    assert "UT-22025-10-2408:002025-11-0323:594" in text
    without = survey_of({path: words for path, words in texts().items() if path != "field/clearance.csv"})
    bare = text_of(printed("checklists", without, checklists(without, plan)))
    assert "Noticketisonrecord" in bare
    assert "Noholeismadewithoutone" in bare


def test_cautions_leave_decisions_to_codes_and_professionals() -> None:
    """Utilities, dust, traffic, electricity, confined and occupied spaces, and that anyone may stop the work."""
    survey, plan = planned()
    text = text_of(printed("checklists", survey, checklists(survey, plan)))
    for words in (
        "Localcodes,thesafetyplanandthelicensedprofessionaldecide", "Anyonemaystopthework", "Utilities:ticketvalid",
        "Dustandsilica", "Traffic", "Electricity", "Confinedoroccupiedspaces", "Nosolventmarker",
        "Nofuelnearsamplers",
        "emergencynumber",
    ):  # fmt: skip
        assert words in text, words


def test_contacts_are_the_private_tables() -> None:
    """Each private table with all its columns; nothing where there is none."""
    files = texts() | {"private/people.csv": 'role,name,phone\nFS-1,"A. *Invented*",555-0100\n'}
    survey = survey_of(files)
    data = contacts(survey.folder)
    assert data == {"tables": [
        {"name": "people.csv", "columns": ["role", "name", "phone"], "rows": [["FS-1", "A. *Invented*", "555-0100"]]}
    ]}  # fmt: skip
    assert "FS-1A.*Invented*555-0100" in text_of(printed("contacts", survey, data))
    assert contacts(folder(texts())) is None


def test_hostile_ids_stay_on_the_forms() -> None:
    """An id of a hundred letters, and one of markup, are printed as they are."""
    files = in_field()
    files = edited("field/return_bags.csv", "RB-1,", f"{'B' * 100},", files)
    files = edited("field/shipments.csv", "SH-1,out,CR-1", '"#x *y* [z]",out,' + "C" * 90, files)
    survey = survey_of(files)
    text = text_of(printed("custody_forms", survey, custody_forms(survey, field_plan(survey))))
    assert "#x*y*[z]" in text
    assert "C" * 90 in text
