"""The field form's file: what it embeds of the plan, and that nothing else can get in or out."""

from __future__ import annotations

import json
import re
from base64 import b64encode
from hashlib import sha256
from typing import Any

import pytest
from builders import Change, cell, changed, example, load, setting
from fieldwork.exports import ENTERED, entered, export_data, faults, replayed, sealed
from hostile_texts import HTML, RUNNING, SCRIPTS, running

from sitegen.compute.design.fieldplan import field_plan
from sitegen.fieldwork.form.page import field_form, for_script
from sitegen.fieldwork.form.plandata import canonical, choices, plan_data
from sitegen.project.folder import Folder
from sitegen.project.schema import Kind
from sitegen.project.tables import TABLE


def form(folder: Folder) -> str:
    """Return the form of a folder."""
    survey = load(folder)
    return field_form(survey, field_plan(survey)).decode()


def embedded(page: str) -> dict[str, Any]:
    """Return the plan as a browser reads it from the page."""
    found = re.search(r'<script type="application/json" id="plan">(.*?)</script>', page, re.DOTALL)
    assert found
    return dict(json.loads(found[1]))


@pytest.fixture(scope="module")
def page() -> str:
    """Return the form of the example."""
    return form(example())


def test_the_policy_lets_in_the_pages_own_script_and_style_alone(page: str) -> None:
    """Two hashes, those of the script and the style that stand in the page as a browser takes them (CSP Level 3)."""
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    script = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    style = re.findall(r"<style>(.*?)</style>", page, re.DOTALL)
    assert policy
    assert (len(script), len(style)) == (1, 1)
    one, other = (b64encode(sha256(text.encode()).digest()).decode() for text in (script[0], style[0]))
    assert policy[1].split("; ") == [
        "default-src 'none'",
        f"script-src 'sha256-{one}'",
        f"style-src 'sha256-{other}'",
        "form-action 'none'",
        "base-uri 'none'",
    ]


def test_nothing_is_asked_for_elsewhere(page: str) -> None:
    """No address but the name of SVG's own language, no handler or style in an element, no way to make HTML of text."""
    assert set(re.findall(r"https?://[^\s\"'<]+", page)) == {"http://www.w3.org/2000/svg"}
    for way in (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "Function(",
        "fetch(",
        "XMLHttp",
        "WebSocket",
    ):
        assert way not in page
    assert not re.search(r"<[a-z][^>]*\s(on\w+|style|src)=", page)


def test_the_kit_is_the_digest_of_what_is_embedded(page: str) -> None:
    """``kit`` is the first 16 digits of the SHA-256 of all else, as JSON with sorted keys and no blanks."""
    plan = embedded(page)
    kit = plan.pop("kit")
    text = json.dumps(plan, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    assert kit == sha256(text.encode()).hexdigest()[:16]


def test_same_folder_same_bytes(page: str) -> None:
    """The form is the same each time, and another where the plan is another."""
    assert form(example()) == page
    other = embedded(form(changed(cell("locations/locations.csv", "SG-02", "comment", "behind the fence"))))
    assert other["kit"] != embedded(page)["kit"]


def test_points_stand_in_walking_order_with_what_is_needed_there(page: str) -> None:
    """Each point of the plan, as the plan has them; SG-02 is 3 ft deep, with its ties and its position."""
    survey = load(example())
    plan = embedded(page)
    assert [one["id"] for one in plan["points"]] == [one.location_id for one in field_plan(survey).points]
    point = next(one for one in plan["points"] if one["id"] == "SG-02")
    assert (point["medium"], point["ground"], point["depth"]) == ("soil_gas", "unpaved", "3 ft")
    assert point["position"] == "470025.94 E, 4770002.02 N (EPSG:32614)"
    assert len(point["ties"]) == 2
    assert all(re.match(r"\d+\.\d m \(\d+\.\d ft\) ", one) for one in point["ties"])
    assert [one["label"] for one in plan["slots"]] == [one.label for one in field_plan(survey).allocation.slots]


def test_rows_on_record_are_taken_word_for_word(page: str) -> None:
    """A device of the second day knows what is in place: filled cells alone, as the folder has them."""
    rows = {row["sampler_id"]: row for row in embedded(page)["tables"]["deployments"]}
    assert len(rows) == len(load(example()).frame("deployments"))
    assert rows["0047103"] == {
        "sampler_id": "0047103", "location_id": "SG-28", "placed_at": "2025-10-23T08:23", "placed_by": "FS-1",
        "retrieved_at": "2025-11-05T08:30", "retrieved_by": "FS-2", "depth_ft": "3.1", "hole_diameter_in": "1.0",
        "hole_method": "slide_hammer", "sleeve": "no", "closure": "foil_and_soil", "refusal": "no", "moved_ft": "0.0",
        "soil_type": "silty clay", "moisture": "wet", "odour": "none", "condition": "intact", "bag_id": "RB-1",
        "individually_bagged": "yes", "hole_restored": "yes",
        "scan_file": "records/field_sheet_1.txt", "scan_page": "1",
    }  # fmt: skip


def test_what_project_toml_fills_is_not_on_record() -> None:
    """A cell that a default filled is no entry of anybody: the form begins without it."""
    blank = Change("field/deployments.csv", lambda content: content.replace(b"slide_hammer", b""))
    default = setting("[rules]", '[defaults.deployments]\nhole_method = "auger"\n\n[rules]')
    survey = load(changed(blank, default))
    frame = survey.frame("deployments")
    filled = set(frame["sampler_id"][frame["hole_method"] == "auger"])
    rows = plan_data(survey, field_plan(survey))["tables"]["deployments"]
    assert filled
    assert filled <= {row["sampler_id"] for row in rows if "hole_method" not in row}
    assert "auger" not in {row.get("hole_method") for row in rows}


DEPTHS = [
    ('{ value = 3.0, unit = "ft" }', "depth_ft", {"unit": "ft", "value": "3", "tolerance": "0.5"}),
    ('{ value = 36.0, unit = "in" }', "depth_ft", {"unit": "ft", "value": "3", "tolerance": "0.5"}),
    ('{ value = 90.0, unit = "cm" }', "depth_m", {"unit": "m", "value": "0.9", "tolerance": "0.15"}),
]
"""36 in are 3 ft, 90 cm are 0.9 m; the example's tolerance of 0.5 ft is 0.1524 m (24 FR 5348, 1959)."""


@pytest.mark.parametrize(("depth", "column", "written"), DEPTHS)
def test_depths_are_in_the_unit_of_their_column(depth: str, column: str, written: dict[str, str]) -> None:
    """The planned depth is told in the unit that the crew writes."""
    survey = load(changed(setting('depth = { value = 3.0, unit = "ft" }', f"depth = {depth}")))
    plan = plan_data(survey, field_plan(survey))
    assert (plan["depth_column"], plan["depth"]) == (column, written)


def test_each_word_of_the_format_has_a_plain_label() -> None:
    """What can be chosen is what the format has, each with a label without an underscore."""
    offered = choices()
    for name in ENTERED:
        for column in TABLE[name].columns:
            if column.kind is Kind.CHOICE:
                assert tuple(word for word, _ in offered[column.name]) == column.choices, column.name
    assert [label for held in offered.values() for _, label in held if "_" in label] == []
    assert offered["sleeve"] == [["yes", "yes"], ["no", "no"]]


@pytest.mark.parametrize(
    "words", [*RUNNING, HTML, SCRIPTS, "</script><script>window.ran=1</script>", "<!--", "]]>", "\u2028"]
)
def test_hostile_words_stay_inside_the_data(words: str) -> None:
    """Text that would end the data's element stays in it, and is read as it was written."""
    text = for_script(canonical({"comment": words}).decode())
    assert not set("<>&\u2028\u2029") & set(text)
    assert json.loads(text) == {"comment": words}


def test_a_hostile_folder_makes_a_page_of_the_same_elements(page: str) -> None:
    """Whatever a folder says, the page has the elements that it always has."""
    tags = re.compile(r"<(\w+)")
    assert tags.findall(form(changed(*running()))) == tags.findall(page)


def test_exports_made_here_are_judged_sound() -> None:
    """The builder of exports makes what the judge lets pass, and the judge sees each kind of fault."""
    rows = [{"sampler_id": "0047102", "location_id": "SG-02", "placed_at": "2025-10-23T08:11"}]
    good = export_data({"deployments": rows})
    assert faults(good) == []
    assert replayed(entered({"deployments": rows}, "2025-10-23T08:11")) == {"deployments": {"0047102": dict(rows[0])}}
    bad = [
        ({**good, "project": "x"}, "sha256"),
        (sealed({**good, "number": "0"}), "number '0'"),
        (export_data({"deployments": [*rows, *rows]}, changes=()), "deployments twice: 0047102"),
        (export_data({"deployments": [{**rows[0], "sudo": "x"}]}), "deployments.sudo is no column"),
        (export_data({"deployments": [{**rows[0], "moisture": "soaked"}]}), "deployments.moisture: 'soaked'"),
        (export_data({"deployments": rows}, changes=()), "the log does not lead to the rows"),
    ]
    for data, fault in bad:
        assert fault in faults(data)
