"""The sheets of points and compounds, held to the small survey that is worked by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import byhand_survey as survey
import pytest
from builders import changed, load
from survey_in_feet import feet

from sitegen.checking import check_snapshot
from sitegen.compute.evaluate import evaluate
from sitegen.compute.rounds.campaigns import Campaign
from sitegen.pipeline import compose
from sitegen.report.data.sheetnotes import workbook
from sitegen.report.data.widesheets import wide_sheets
from sitegen.report.record.pages import Meta, Report
from sitegen.report.record.sheets import SheetCell, Shown, WideSheet, Workbook, sheet_names
from sitegen.report.write.context import Context
from sitegen.report.write.words import lexicon

RESULTS, PLACES, SETTINGS = "lab/results.csv", "locations/locations.csv", "project.toml"
META = Meta("P", "T", "", "", "", 1, "draft", "2026-01-30", "", "internal", "")
SOIL, AIR, COMPUTED, NOTES = range(4)


def publish(*lines: str) -> tuple[str, str, str]:
    """Return the change that adds settings of how a report is published."""
    return (SETTINGS, "[publish]", "\n".join(("[publish]", *lines)))


def context(files: Mapping[str, str] = survey.FILES) -> Context:
    """Return what the pages of a survey would be written from."""
    found = load(survey.folder(files))
    return Context(found, evaluate(found), ())


def told(cell: SheetCell) -> str:
    """Return what a cell shows; a number in brackets, so that no text passes for it."""
    return f"[{cell.text}]" if isinstance(cell, Shown) else cell or ""


def results(sheet: WideSheet) -> list[str]:
    """Return each row as point, sample, and its results with what stands beside them."""
    there = [at for at, column in enumerate(sheet.columns) if column.analyte_id]
    beside = 0 if sheet.twin else 1
    return [
        " | ".join((*map(told, row[:2]), *(" ".join(map(told, row[at : at + 1 + beside])).strip() for at in there)))
        for row in sheet.rows
    ]


def column(sheet: WideSheet, head: str) -> list[str]:
    """Return the cells of the one column whose head begins with these words."""
    (at,) = (at for at, one in enumerate(sheet.columns) if one.head.startswith(head))
    return [told(row[at]) for row in sheet.rows]


def about(book: Workbook, what: str) -> list[str]:
    """Return what the notes say of something."""
    return [told(row[1]) for row in book.sheets[-1].rows if row[0] == what]


def test_a_row_to_a_point_with_its_duplicate_below_and_those_without_results_last() -> None:
    """Worked by hand from results.csv: numbers as the laboratory wrote them, other limits beside, non-detects as texts.

    Of benzene three of six results have a limit of 20, at least half; SG-4 was diluted tenfold. Blanks: 150 of
    PCE is below five times 32, 12 of TCE below five times 3, 26 of benzene below five times 6. The pair at SG-1
    differs in TCE alone, by 33 %; a surrogate of SG-5 came to 64 %.
    """
    assert results(survey.report().workbook.sheets[SOIL]) == [
        "SG-1 | primary | [620] | [84] duplicate | [7] J | [55] RL 10",
        "SG-1 | duplicate of 0101 | [480] | [60] duplicate | <12 | [38] RL 6",
        "SG-2 | primary | [150] trip blank | <8 | <12 | [26] J+; field blank",
        "SG-3 | primary | <10 | <8 | <12 | [140] E; over range",
        "SG-4 | primary | [10800] RL 100 | [860] RL 80 | <120 | <200",
        "SG-5 | primary | [44] surrogate | [12] method blank; surrogate | <12 surrogate | <20 surrogate",
        "SG-6 |  |  |  |  | ",
        "SG-7 | primary |  |  |  | ",
        "SG-8 | primary |  |  |  | ",
    ]


def test_heads_name_unit_and_limit_and_rows_their_ground_and_why_there_is_nothing() -> None:
    """The unit follows every compound; depth is in the feet of the field sheets, a position as it was surveyed."""
    soil = survey.report().workbook.sheets[SOIL]
    assert [one.head for one in soil.columns if one.analyte_id] == [
        "Tetrachloroethene (ng per sampler; RL 10, others next to the number)",
        "Trichloroethene (ng per sampler; RL 8, others next to the number)",
        "cis-1,2-Dichloroethene (ng per sampler; RL 12)",
        "Benzene (ng per sampler; RL 20, others next to the number)",
    ]
    assert column(soil, "Depth (ft)") == ["[3]", "[3.1]", "[2.9]", "[3]", "[3.2]", "[3]", "", "[3]", "[3]"]
    assert column(soil, "Exposure")[:2] == ["[10.1]", "[10.1]"]  # ten days and 92 minutes, and the hour of 2 November
    assert column(soil, "Exposure")[-1] == "not recorded"
    assert column(soil, "Easting as surveyed (EPSG:32614, m)")[:3] == ["[470010.30]", "[470010.30]", "[470030.06]"]
    assert column(soil, "Northing")[6] == "not surveyed"
    assert column(soil, "Sampler")[:3] == ["0101", "0102", "0103"]
    assert column(soil, "Qualifications of every result")[3:] == [
        "exposure", "water", "", "no results: not installed", "no results on record; the sampler was retrieved",
        "no results: sampler lost",
    ]  # fmt: skip


def test_masses_and_concentrations_never_share_a_sheet() -> None:
    """Soil gas, air, what was computed of it. 36 ng at 0.5 mL/min in 10.1 days are 5.0 µg/m³; cis has no rate."""
    book = survey.report().workbook
    assert sheet_names(book.sheets, ()) == (
        "Soil gas ng per sampler", "Air ng per sampler", "Air µg per m³ computed", "notes",
    )  # fmt: skip
    assert results(book.sheets[AIR]) == ["IA-1 | primary | [36] | <8 | <12 | [95]"]
    assert results(book.sheets[COMPUTED]) == ["IA-1 | primary | [5.0] | <0.92 | [16]"]
    for sheet in book.sheets[:NOTES]:
        units = {one.head.partition("(")[2].partition(";")[0] for one in sheet.columns if one.analyte_id}
        assert units == {"µg/m³" if sheet.computed else "ng per sampler"}
        assert not any(one.head.startswith("Depth") for one in sheet.columns) or sheet is book.sheets[SOIL]
    assert "not a concentration" in about(book, "mass")[0]
    assert len(about(book, "concentration")) == 1


def test_a_non_detect_a_rejected_result_and_a_missing_one_are_texts() -> None:
    """A limit alone is a text; R leaves no number; what is not on file is said, not left for zero."""
    sheet = survey.report(
        (RESULTS, "L-01,tce,84,84,ng,8,2,,,,yes,5000\n", ""),
        (RESULTS, "L-02,tce,60,60,ng,8,2,,,,", "L-02,tce,60,60,ng,8,2,,R,bad peak,"),
        (RESULTS, "L-03,pce,150,150,ng,10,3,,,,", "L-03,pce,150,150,ng,10,3,,U,blank,"),
        (RESULTS, "L-03,tce,<8,,", "L-03,tce,ND,,"),
    ).workbook.sheets[SOIL]
    assert [line.split(" | ")[2:4] for line in results(sheet)[:3]] == [
        ["[620]", "no result"],
        ["[480]", "rejected R"],
        ["<150 U", "<8"],
    ]
    assert all(isinstance(cell, str | Shown) for row in sheet.rows for cell in row)


def test_beside_a_rejected_result_stands_no_limit() -> None:
    """What is rejected was found not to hold, up to no limit: the row's own of 6 beside a head of 10 isn't told."""
    rejected = (RESULTS, "L-02,benzene,38,38,ng,6,2,,,,", "L-02,benzene,38,38,ng,6,2,,R,bad peak,")
    lines = results(survey.report(rejected).workbook.sheets[SOIL])
    assert lines[1].split(" | ")[-1] == "rejected R"


@pytest.mark.parametrize(
    ("text", "shown"),
    [("620.50", "620.50"), ("6.20E+02", "6.20E+02"), ("6.2e2 J", "6.2E+02"), ("0620", "620"), ("620,00", "620")],
)
def test_a_number_keeps_the_laboratory_s_digits(text: str, shown: str) -> None:
    """Zeros at the end and powers of ten stay; what is written in another way is shown as the number that was read."""
    value = "620.5" if text == "620.50" else "620"
    row = f'L-01,pce,"{text}",{value},ng'
    sheet = survey.report((RESULTS, "L-01,pce,620,620,ng", row)).workbook.sheets[SOIL]
    (cell,) = (cell for one, cell in zip(sheet.columns, sheet.rows[0], strict=True) if one.analyte_id == "pce")
    assert cell == Shown(float(value), *cell[1:])  # type: ignore[index]
    assert told(cell) == f"[{shown}]"


def test_qualifiers_in_a_row_below_where_the_project_wants_them_there() -> None:
    """Rows of remarks repeat point, sample and sampler, and are there where there is something to say."""
    sheet = survey.report(publish('workbook_qualifiers = "row"')).workbook.sheets[SOIL]
    assert results(sheet)[:6] == [
        "SG-1 | primary | [620] | [84] | [7] | [55]",
        "SG-1 | primary |  | duplicate | J | RL 10",
        "SG-1 | duplicate of 0101 | [480] | [60] | <12 | [38]",
        "SG-1 | duplicate of 0101 |  | duplicate |  | RL 6",
        "SG-2 | primary | [150] | <8 | <12 | [26]",
        "SG-2 | primary | trip blank |  |  | J+; field blank",
    ]
    assert column(sheet, "Line")[:2] == ["result", "qualifiers, qualifications"]
    assert column(sheet, "Sampler")[:4] == ["0101", "0101", "0102", "0102"]
    assert column(sheet, "Depth")[:2] == ["[3]", ""]
    assert sheet.fixed == 4
    assert "below the number" in next(one.head for one in sheet.columns if one.analyte_id == "benzene")


def test_another_unit_of_mass_is_told_everywhere() -> None:
    """A laboratory that gives micrograms: heads, names, titles and notes say so, and none says ng."""
    files = survey.FILES | {RESULTS: survey.FILES[RESULTS].replace(",ng,", ",ug,")}
    book = compose(check_snapshot(survey.folder(files)))[1].workbook
    assert book.sheets[SOIL].kind == "Soil gas µg per sampler"
    assert "ng per sampler" not in repr(book)
    assert "µg per sampler" in about(book, "mass")[0]


def test_two_units_of_one_medium_are_two_sheets_and_no_point_is_on_neither() -> None:
    """SG-4 in µg: it leaves the sheet of ng, which does not say that it has no results."""
    text = survey.FILES[RESULTS]
    files = survey.FILES | {RESULTS: "".join(
        line.replace(",ng,", ",ug,") if line.startswith("L-05R") else line for line in text.splitlines(keepends=True)
    )}  # fmt: skip
    found = {sheet.kind: [told(row[0]) for row in sheet.rows] for sheet in wide_sheets(context(files))}
    assert "SG-4" not in found["Soil gas ng per sampler"]
    assert found["Soil gas µg per sampler"][0] == "SG-4"


def test_a_point_alone_without_results_is_a_row_that_says_why() -> None:
    """One point, nothing analysed: the sheet has no compound, and no number but those of the ground."""
    kept = ("SG-7", "0107", "location_id", "sampler_id", "lab_sample_id")
    names = (PLACES, "field/samplers.csv", "field/deployments.csv", "lab/lab_samples.csv", RESULTS)
    files = dict(survey.FILES) | {
        name: "".join(
            line for line in survey.FILES[name].splitlines(keepends=True) if line.startswith(kept)
        )
        for name in names
    }  # fmt: skip
    (sheet,) = wide_sheets(context(files))
    assert [column(sheet, head) for head in ("Point", "Qualifications of every")] == [
        ["SG-7"], ["no results on record; the sampler was retrieved"],
    ]  # fmt: skip
    assert sheet.kind == "Soil gas"
    assert results(sheet) == ["SG-7 | primary"]
    book = workbook(context(files), META, ())
    assert "No result" in about(book, "qualifications")[0]
    assert "1 point, 1 of them without results here" in about(book, "sheet Soil gas")[0]


def test_a_survey_in_feet_gives_feet_and_says_which() -> None:
    """Coordinates are those of locations.csv, in its system; nothing is converted."""
    told_in_feet = load(changed(*feet("us_survey")))
    sheet = wide_sheets(Context(told_in_feet, evaluate(told_in_feet), ()))[SOIL]
    assert column(sheet, "Easting as surveyed (EPSG:3455, US survey ft)")[0] == (
        f"[{told_in_feet.tables['locations'].received['easting'][0]}]"
    )


def test_each_round_has_its_sheets_and_this_one_s_come_first() -> None:
    """Where a title is too long for one sheet all of its round have the id; only this round's are of results.csv."""
    first, second = context(), context()
    both = replace(
        second, campaign=Campaign("R2", "Second: [east/west]"), earlier=(replace(first, campaign=Campaign("R1")),)
    )
    sheets = wide_sheets(both)
    assert sheet_names(sheets, ()) == (
        "R2 Soil gas ng per sampler",
        "R2 Air ng per sampler",
        "R2 Air µg per m³ computed",
        "R1 Soil gas ng per sampler",
        "R1 Air ng per sampler",
        "R1 Air µg per m³ computed",
    )
    assert [sheet.stored for sheet in sheets] == [True, True, False, False, False, False]
    assert sheets[0].title.startswith("Second: [east/west]: Soil gas")
    assert results(sheets[3]) == results(sheets[0])


def test_what_is_not_published_is_not_on_the_sheets() -> None:
    """Remarks, role codes and ids that a point has another name for stay out of a public workbook."""
    public = survey.report(publish('level = "public"'), (PLACES, "no,SG-6,", "no,Point F,")).workbook
    inside = survey.report((PLACES, "no,SG-6,", "no,Point F,")).workbook
    assert "Point F" in column(public.sheets[SOIL], "Point")
    assert "SG-6" in column(inside.sheets[SOIL], "Point")
    for text in ("SG-6", "Stockpile", "Peg on a root", "FS-1", "PM-1"):
        assert text not in repr(public)


def test_the_key_explains_what_stands_on_the_sheets_and_no_more() -> None:
    """Every word beside a number has its line in the notes; what occurs nowhere has none."""
    book = survey.report().workbook
    beside = {
        part
        for sheet in book.sheets[:NOTES]
        for row in sheet.rows
        for one, cell in zip(sheet.columns, row, strict=True)
        if "qualif" in one.head.lower() and isinstance(cell, str) and not cell.startswith("no results")
        for part in cell.split("; ")
        if part and not part.startswith("RL ")
    }
    keyed = {
        told(row[0]).removeprefix("qualification ")
        for row in book.sheets[-1].rows
        if told(row[0]).startswith("qualification ")
    }
    assert beside - keyed == {"J", "J+", "E"}
    assert keyed <= beside
    assert about(book, "qualifiers")[0].endswith("On the sheets: J, J+, E.")
    assert survey.report().meta.digest in " ".join(about(book, "report"))


def test_every_mark_has_a_key_that_names_no_case() -> None:
    """A sentence with facts of a case can't stand in a key."""
    for code, entry in lexicon("marks").items():
        assert "{" not in entry.get("key", entry["reason"]), code


def test_before_there_are_results_there_is_no_such_sheet() -> None:
    """A plan has its long tables alone."""
    planned: Report = compose(check_snapshot(survey.folder(_planned())))[1]
    assert planned.workbook.sheets == ()
    assert planned.workbook.page == "Page {page} of {pages}"


def _planned() -> dict[str, str]:
    """Return the files of the survey before anything was sent out."""
    kept = ("project.toml", PLACES, "locations/features.geojson", "lab/analytes.csv")
    heads = {name: text.split("\n")[0] + "\n" for name, text in survey.FILES.items() if name.endswith(".csv")}
    return (
        heads
        | {name: survey.FILES[name] for name in kept}
        | {PLACES: survey.FILES[PLACES].replace(",placed,", ",planned,").replace(",not_done,", ",planned,")}
    )
