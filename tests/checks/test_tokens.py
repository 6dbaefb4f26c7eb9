"""Tokens print what the data give, with unit, place and marks."""

from __future__ import annotations

import re

import pytest
from builders import Change, Row, cells, changed, every, example, load, rows_of, text
from few_rows import deployed, sampler, survey_of

from sitegen.cli import template_folder
from sitegen.compute.evaluate import evaluate
from sitegen.compute.text.tokens import TOKEN, fill, token_names, tokens

RESULTS = "lab/results.csv"


def values(*changes: Change) -> dict[str, str]:
    """Return the tokens of the example, changed."""
    survey = load(changed(*changes))
    return tokens(survey, evaluate(survey))


@pytest.fixture(scope="module")
def example_tokens() -> dict[str, str]:
    """Return the tokens of the unchanged example."""
    return values()


def test_every_name_of_the_vocabulary_has_a_text_and_no_other(example_tokens: dict[str, str]) -> None:
    assert set(example_tokens) == token_names(load(example()))
    assert all(example_tokens.values())


def test_the_templates_readme_lists_the_vocabulary() -> None:
    guide = (template_folder() / "README.md").read_text("utf-8")
    section = guide.split("## Numbers in the text")[1].split("| what | tokens |")[1].split("\n\n")[0]
    listed = set(re.findall(r"`([a-z_.]+)`", section)) - {"analyte_id", "project.toml"}
    compounds = load(example()).frame("analytes")["analyte_id"]
    others = {name for name in token_names(load(example())) if name.rpartition(".")[2] in set(compounds) - {"pce"}}
    assert listed == token_names(load(example())) - others


def test_counts_are_those_of_the_files(example_tokens: dict[str, str]) -> None:
    files = example().files
    _, deployed = rows_of(files["field/deployments.csv"].content)
    _, samplers = rows_of(files["field/samplers.csv"].content)
    lost = sum(row["condition"] == "not_recovered" for row in deployed)
    assert example_tokens["count.samplers.listed"] == str(len(samplers))
    assert example_tokens["count.samplers.placed"] == str(len(deployed))
    assert example_tokens["count.samplers.recovered"] == str(len(deployed) - lost)
    assert example_tokens["count.samplers.lost"] == str(lost)
    assert example_tokens["count.locations.planned"] == "55"
    assert example_tokens["count.locations.added"] == "1"


def test_a_highest_mass_carries_unit_place_and_qualifier(example_tokens: dict[str, str]) -> None:
    assert example_tokens["max.pce"] == "53,300 ng per sampler (SS-01; E)"


def test_a_highest_mass_that_a_blank_touches_says_so(example_tokens: dict[str, str]) -> None:
    assert "blank" not in example_tokens["max.toluene"]
    in_the_blank = {"value": "1000", "result_text": "1000", "detected": "yes", "lab_qualifier": ""}
    found = values(cells(RESULTS, "04417-029+toluene", **in_the_blank))
    assert found["max.toluene"] == example_tokens["max.toluene"].replace(")", "; blank)")


def test_a_compound_never_detected_prints_its_limit_and_no_number_of_its_own() -> None:
    def none_of_it(row: Row) -> Row:
        if row["analyte_id"] != "vc":
            return {}
        return {"value": "", "detected": "no", "result_text": "ND", "lab_qualifier": "U"}

    found = values(every(RESULTS, none_of_it))
    assert found["max.vc"].startswith("not detected (reporting limit 10")
    assert found["max.vc"].endswith("ng per sampler)")
    assert found["detections.vc"].startswith("0 of ")


def test_exposures_are_in_days_of_1440_minutes(example_tokens: dict[str, str]) -> None:
    assert example_tokens["exposure.days.shortest"] == "4.9"
    assert example_tokens["exposure.days.median"] == "13.0"


def test_dates_are_written_in_words(example_tokens: dict[str, str]) -> None:
    assert example_tokens["date.report"] == "12 December 2025"
    assert example_tokens["date.placed.first"] == "23 October 2025"
    assert example_tokens["date.retrieved.last"] == "6 November 2025"


def test_filling_puts_every_token_of_the_narrative(example_tokens: dict[str, str]) -> None:
    for section in load(example()).texts.values():
        assert not TOKEN.search(fill(section, example_tokens))


def test_an_unknown_token_cannot_be_filled(example_tokens: dict[str, str]) -> None:
    with pytest.raises(KeyError):
        fill("{{ max.unobtainium }}", example_tokens)


def test_text_from_the_settings_is_taken_as_it_stands() -> None:
    found = values(text("project.toml", "Former Kesterly Depot, Ostrel Bend (invented)", "Depot {{ max.pce }} <b>"))
    assert found["project.site"] == "Depot {{ max.pce }} <b>"
    assert fill("{{ project.site }}", found) == "Depot {{ max.pce }} <b>"


def test_the_counts_of_a_small_survey_are_those_of_its_rows() -> None:
    """Of two planned points and one added; five samplers placed nowhere or lost; two blanks of different kinds."""
    kinds = {"S-1": "sample", "S-2": "sample", "S-3": "field_duplicate", "S-4": "trip_blank", "S-5": "field_blank",
             "S-6": "spare"}  # fmt: skip
    placed = {"S-1": ("P-1", "intact"), "S-2": ("P-2", "not_recovered"), "S-3": ("P-1", "intact"), "S-5": ("P-1", "")}
    survey = survey_of({
        "locations": [{"location_id": f"P-{n}", "medium": "soil_gas", "status": "placed",
                       "design": "added" if n == 3 else "grid"} for n in (1, 2, 3)],
        "samplers": [sampler(kind, sampler_id=name) for name, kind in kinds.items()],
        "deployments": [
            deployed("2025-06-02T08:00", "" if condition == "not_recovered" else "2025-06-10T08:00", sampler_id=name,
                     location_id=at, condition=condition, bag_id="B-1", duplicate_of="S-1" if name == "S-3" else "")
            for name, (at, condition) in placed.items()
        ],
        "return_bags": [{"bag_id": "B-1"}],
        "shipments": [{"shipment_id": "O", "direction": "out"}, {"shipment_id": "R", "direction": "return"}],
        "analytes": [{"analyte_id": key, "name": key, "cas": ""} for key in ("pce", "tce")],
        "lab_samples": [{"lab_sample_id": "L-1", "sampler_id": "S-1", "type": "sample"}],
        "results": [{"lab_sample_id": "L-1", "analyte_id": "pce", "value": "5", "unit": "ng", "rl": "1"},
                    {"lab_sample_id": "L-1", "analyte_id": "tce", "unit": "ng", "rl": "1"}],
    })  # fmt: skip
    counts = {name: text for name, text in tokens(survey, evaluate(survey)).items() if name.startswith("count.")}
    assert {name.removeprefix("count."): int(text) for name, text in counts.items()} == {
        "locations.planned": 2, "locations.placed": 2, "locations.recovered": 1, "locations.analysed": 1,
        "locations.usable": 0, "locations.added": 0, "samplers.listed": 6, "samplers.placed": 3,
        "samplers.recovered": 2, "samplers.lost": 1, "samplers.duplicates": 1, "samplers.blanks": 2,
        "samplers.spares": 1, "results": 2, "detections": 1, "compounds": 2, "compounds.detected": 1, "bags": 1,
        "shipments": 2,
    }  # fmt: skip
