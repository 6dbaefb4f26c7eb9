"""What could have been missed: which points count by stage, why there may be no chance, and what is promised."""

from __future__ import annotations

import re
from functools import cache

import byhand_survey as by_hand
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.report.evidence.missed import missed_section
from sitegen.report.field.plantwin import twin_blocks
from sitegen.report.record.pages import Block, Callout, Facts, Figure, Prose, Section, Table
from sitegen.report.write.context import Context
from sitegen.report.write.publish import publishable

FEATURES, LOCATIONS = "locations/features.geojson", "locations/locations.csv"
LATER = ("lab/lab_samples.csv", "lab/results.csv", "lab/lab_qc.csv")
Change = tuple[str, str, str]


@cache
def context(*changes: Change, without: tuple[str, ...] = ()) -> Context:
    """Return the survey worked by hand with words changed, and tables cut to their heads."""
    texts = dict(by_hand.FILES)
    for path, old, new in changes:
        assert texts[path].count(old) == 1, (path, old)
        texts[path] = texts[path].replace(old, new)
    for path in without:
        texts[path] = texts[path].split("\n")[0] + "\n"
    survey = load(by_hand.folder(texts))
    whole = evaluate(survey)
    shown = publishable(survey)
    return Context(shown, whole if shown is survey else evaluate(shown, whole), ())


def words(block: Block) -> str:
    match block:
        case Section():
            return " ".join(map(words, block.blocks))
        case Prose() | Callout():
            return block.markdown.replace("\\", "")
        case Facts():
            return "; ".join(cell.text for _, cell in block.rows)
        case _:
            return ""


def said(of: Context) -> str:
    return words(missed_section(of))


def drawn(of: Context) -> bool:
    return any(isinstance(block, Figure) for block in missed_section(of).blocks)


def test_a_survey_that_is_back_counts_points_with_results() -> None:
    told = said(context())
    assert "Of 8 soil points on record, 5 are counted; 3 without results are excluded. 1 air point is excluded" in told
    assert missed_section(context()).title == "Source areas that could have been missed"


def test_a_survey_in_plan_counts_the_points_of_the_plan() -> None:
    """SG-6 has left the plan; nothing else has been done."""
    field = ("field/deployments.csv", "field/return_bags.csv", "field/shipments.csv", "field/custody.csv")
    planned = context(without=(*LATER, *field))
    told = said(planned)
    assert missed_section(planned).title == "Source areas that could be missed"
    assert "7 are counted; 1 no longer in the plan is excluded" in told
    assert "at least one of the soil points of the plan" in told
    assert "7 within a site boundary of 6,000 m²" in told


def test_nothing_here_promises_detection() -> None:
    told = said(context())
    assert "It is not the chance that the area is detected, and detection is not implied." in told
    assert "collects vapour from a larger volume of soil than its hole" in told


def test_the_size_of_circles_has_no_error_and_that_of_long_areas_its_own() -> None:
    told = said(context())
    assert "93 m in diameter (computed from areas, no sampling error)" in told
    assert re.search(r"\d+ m long, half as wide \(simulated, standard error \d\.\d m\)", told)


def test_without_a_boundary_it_says_so_and_counts_nothing() -> None:
    """What is known as a boundary becomes a drive: no boundary is on record."""
    of = context((FEATURES, '"kind": "site_boundary"', '"kind": "paved_area", "surface": "gravel"'))
    assert not drawn(of)
    assert "No chance is given: no site boundary is on record." in said(of)
    assert "are counted" not in said(of)


def test_a_boundary_that_is_not_published_is_on_record_all_the_same() -> None:
    secret = (FEATURES, '"name": "Hand Yard", "public": "yes"', '"name": "Hand Yard", "public": "no"')
    of = context(secret, ("project.toml", "[publish]", '[publish]\nlevel = "public"'))
    assert not drawn(of)
    assert "the site boundary is withheld from it" in said(of)


def test_fewer_than_three_points_have_no_curve() -> None:
    """Three of the five are moved out of the yard, 200 m to the east."""
    away = [
        (LOCATIONS, "470010.30,4770010.40", "470210.30,4770010.40"),
        (LOCATIONS, "470030.06,4770010.08", "470230.06,4770010.08"),
        (LOCATIONS, "470010.00,4770040.00,GNSS", "470210.00,4770040.00,GNSS"),
    ]
    two = context(*away)
    assert not drawn(two)
    told = said(two)
    assert "2 are counted; 3 are outside the boundary and are excluded" in told
    assert "2 soil points with results are within the site boundary, and at least 3 are needed" in told
    assert drawn(context(*away[:2]))


def test_points_without_a_position_are_counted_as_such() -> None:
    of = context((LOCATIONS, "NA,NA,470030.00,4770040.00", "NA,NA,NA,NA"))
    assert "1 without a position on record is excluded" in said(of)
    assert "4 within a site boundary" in said(of)


def test_a_size_that_is_not_quite_sure_is_not_called_sure() -> None:
    figure = missed_section(context()).blocks[-1]
    assert isinstance(figure, Figure)
    assert figure.table is not None
    for row in figure.table.rows:
        assert all(cell.text == "100" or cell.text.startswith(">") or float(cell.text) < 100 for cell in row[1:3])
        assert float(row[3].text) <= 0.5


def test_before_anything_is_placed_the_plan_is_compared_with_nothing() -> None:
    (told,) = twin_blocks(context(without=("field/deployments.csv", *LATER)))
    assert isinstance(told, Prose)
    assert "the work plan cannot yet be compared" in told.markdown


def twin_rows(of: Context) -> dict[str, list[str]]:
    (made,) = twin_blocks(of)
    assert isinstance(made, Table)
    return {row[0].text: [cell.text for cell in row[1:]] for row in made.rows}


def test_a_difference_that_no_departure_names_says_so() -> None:
    rows = twin_rows(context(without=("field/deviations.csv",)))
    assert rows["Points, soil gas"][2:] == ["yes", "no deviation on record: SG-6, SG-5"]
    assert rows["Samplers retrieved"][2:] == ["yes", "no deviation on record: SG-8"]


def test_a_number_that_differs_is_named_by_none_or_may_be() -> None:
    """Two field blanks were planned and one was opened: a departure that names nothing may be about it."""
    two = ("project.toml", "samplers_per_bag = 30", "samplers_per_bag = 30\nfield_blanks = 2")
    assert twin_rows(context(two))["Field blanks"] == ["2", "1 opened", "yes", "no deviation on record"]
    loose = ("field/deviations.csv", "stockpile over the peg,no result there,SG-6", "stockpile over the peg,none,NA")
    assert twin_rows(context(two, loose))["Field blanks"][3] == "no deviation on record names it; DV-2 may apply"


def test_while_samplers_are_out_the_table_says_that_the_work_is_not_over() -> None:
    still = ("field/deployments.csv", "2025-10-28T10:43,2025-11-07T10:11", "2025-10-28T10:43,NA")
    out = context(still, without=(*LATER, "field/return_bags.csv", "field/shipments.csv", "field/custody.csv"))
    (made,) = twin_blocks(out)
    assert isinstance(made, Table)
    assert "Field work is not complete" in made.note
    (back,) = twin_blocks(context())
    assert isinstance(back, Table)
    assert "Field work is not complete" not in back.note
