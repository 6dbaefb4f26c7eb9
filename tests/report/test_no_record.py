"""Where nothing is on record a page says so, and never that there was nothing."""

from __future__ import annotations

import re
from functools import cache

import pytest
from builders import Change, cells, changed, every, example, removed, without_rows
from longcases import mostly_long
from matrix_survey import young
from slips import report_texts

from sitegen.checking import check_snapshot
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.project.tables import TABLE, LabSample


def said(folder: Folder) -> dict[str, str]:
    """Return the words of a report's texts by place, those of one place joined."""
    found: dict[str, list[str]] = {}
    for text in report_texts(compose(check_snapshot(folder))[1]):
        found.setdefault(text.place, []).append(text.words.replace("\\", ""))
    return {place: " | ".join(words) for place, words in found.items()}


@cache
def in_example() -> dict[str, str]:
    """Return what the example says as it is."""
    return said(example())


@cache
def at(stage: str) -> dict[str, str]:
    """Return what a project says at a stage."""
    return said(young(stage, "internal"))


def header_only(name: str) -> Change:
    """Return a change that leaves a table its header alone."""
    return without_rows(TABLE[name].path, lambda _: True)


CLAIMS = re.compile(
    r"\bnothing found\b|\btouch(?:es)? no results?\b|\bno results touched\b|\bno gaps?\b|\b0 of 0\b"
    r"|\bno seals? read otherwise\b|\bnone of \d+ seals?\b|\b(?:no|none of \d+) hand-overs? (?:without|unsigned)\b"
    r"|\bno surrogate recoveries lie\b|\bno results lie above\b|\bno duplicate pairs? differ"
    r"|\bwas detected at a soil point\b|\blies far below its neighbours\.",
    re.IGNORECASE,
)
"""Words that say there was nothing: true only of a record that is there."""

SEALED = ("sent out", "in the ground")
"""Stages at which the one seal put on was read at the other end."""
RULES = "page page checks, table checks"
"""Where the rules stand, which say what would be right."""


@pytest.mark.parametrize("stage", ["new", "points", "sent out", "in the ground", "retrieved"])
def test_before_results_nothing_is_said_to_be_absent(stage: str) -> None:
    """No page of a project without results claims that blanks, recoveries, gaps or detections are none."""
    kept = ("no seals read otherwise", "none of 1 seal") if stage in SEALED else ()
    found = [
        (place, match[0])
        for place, words in at(stage).items()
        for match in CLAIMS.finditer(words)
        if match[0].casefold() not in kept and place != RULES
    ]
    assert found == []


@pytest.mark.parametrize(
    ("page", "words"),
    [
        ("page start#found", "No result at a soil point is on record."),
        ("page start#sure", "* No point is on record."),
        ("page start#sure", "* No blank with results is on record."),
        ("page custody", "No sampler is on record. No sampler has a hand-over on record. No seal is on record."),
        ("page quality", "No result at a point is on record. No blank with results is on record;"),
        ("page compounds", "No compound is on the analyte list."),
        ("page relations", "No result at a soil point is on record."),
        ("page field", "No sampler is on record as installed."),
    ],
)
def test_the_template_says_that_nothing_is_on_record(page: str, words: str) -> None:
    """A folder straight from the template has no record of anything, and each lead says so."""
    assert words in at("new")[f"page {page}"]


def test_samplers_in_place_have_no_return_on_record() -> None:
    """While samplers are in the ground nothing came back yet, and of none is it said."""
    assert "No return is on record. 8 are in place." in at("in the ground")["page page custody"]
    assert "no retrieval is on record" in at("in the ground")["page page start"]


def test_zero_of_some_is_told_with_what_it_rests_on() -> None:
    """A count of gaps, seals and signatures says among how many records it was counted."""
    lead = in_example()["page page custody"]
    assert "1 custody gap was found; 63 of 63 samplers have a hand-over on record." in lead
    assert "4 of 4 seals applied were read at receipt, with 1 seal-number discrepancy." in lead
    assert "17 of 18 hand-overs on record are signed; 1 is not." in lead


def test_hand_overs_without_rows_are_no_record() -> None:
    """With its header only, custody.csv gives no word of signatures or of hand-overs that were whole."""
    lead = said(changed(header_only("custody")))["page page custody"]
    assert "no sampler has a hand-over on record" in lead
    assert "No signature of a hand-over is on record." in lead


@pytest.mark.parametrize("header", [True, False], ids=["header only", "absent"])
def test_quality_control_without_rows_is_no_record(*, header: bool) -> None:
    """Without lab_qc.csv no recovery is said to be within limits."""
    edit = header_only("lab_qc") if header else removed(TABLE["lab_qc"].path)
    found = said(changed(edit))
    assert "no surrogate recovery is on record" in found["page page quality"]
    assert "No surrogate recovery with limits is on record." in " ".join(found.values())


def test_blanks_without_results_touch_nothing_and_free_nothing() -> None:
    """Where no blank has results, pages say that, and no count of results that none touches."""
    found = said(changed(_without_blanks("")))
    assert "* No blank with results is on record" in found["page page start#sure"]
    assert "No blank with results is on record;" in found["page page quality"]
    affected = next(words for place, words in found.items() if place.endswith("table blank-affected"))
    assert "(trip blank: no results on record; method blank: no results on record)" in affected
    assert "no record" in affected
    assert "0 (0 %" not in affected


def _without_blanks(kind: str) -> Change:
    """Return a change that takes away the results of the blanks of a kind, of every kind for ""."""
    gone = _blank_samples(kind)
    return without_rows("lab/results.csv", lambda row: row["lab_sample_id"] in gone)


@cache
def _blank_samples(kind: str) -> frozenset[str]:
    rows = compose(check_snapshot(example()))[0].rows(LabSample)
    return frozenset(row.lab_sample_id for row in rows if row.type.endswith(f"{kind}_blank"))


TEXTS = tuple(removed(path) for path in example().files if path.startswith("text/"))


@pytest.mark.parametrize(
    ("edits", "place", "words"),
    mostly_long(
        [
            ((removed("review/comments.csv"),), "page page working-set", "no review comment on record"),
            (
                (removed("review/comments.csv"),),
                "page page working-set#comments, table to-read",
                "No review comment is on record.",
            ),
            (TEXTS, "page page report", "No written section is on record."),
            (
                TEXTS,
                "page page claims",
                "No sentence of the summary, interpretation, conclusions or recommendations is on record.",
            ),
            (TEXTS, "chapter interpretation", "No written section is on record."),
            ((header_only("products"),), "page page air#products, table products", "No product is on record."),
            (
                (removed("field/deviations.csv"),),
                "page page deviations",
                "No deviations from the work plan are on record. 8 were identified",
            ),
            (
                (removed("field/clearance.csv"),),
                "page page field#clearance, table clearance",
                "No utility clearance ticket is on record, so it cannot be confirmed that utilities were cleared",
            ),
            (
                (removed("reference/uptake_rates.csv"),),
                "page page air#screening, table screening",
                (
                    "No concentration could be compared: no concentration is on record, because there is neither an "
                    "uptake rate nor a concentration reported by the laboratory."
                ),
            ),
            (
                (header_only("lab_qc"),),
                "page page methods#quality",
                "No laboratory control measurement is on record.",
            ),
        ],
        3,
    ),
    ids=lambda value: value if isinstance(value, str) and " " not in value else "",
)
def test_a_page_says_which_record_is_missing(edits: tuple[Change, ...], place: str, words: str) -> None:
    """A page whose file is gone names what is not on record, and no count of nothing."""
    assert words in said(changed(*edits))[place]


@pytest.mark.long
def test_what_the_laboratory_measured_is_counted_apart_from_its_samples() -> None:
    """Three control samples with 18 results are not 21 results, and blanks are samples."""
    words = in_example()["page page methods#quality"]
    samples = "3 method blanks, 3 control samples, 3 control duplicates and 2 trip blanks."
    assert f"Quality-control samples on record: {samples}" in words
    assert re.search(r"Laboratory control measurements on record: [^.]*\b18 control-sample results\b", words)


@pytest.mark.long
def test_map_layers_that_are_not_there_are_not_promised() -> None:
    """Without features of the site the file for GIS holds none, and its line says so by leaving them out."""
    place = "page page downloads#gis, table downloads-gis"
    assert "and site features in the project's system" in in_example()[place]
    assert "site features" not in said(changed(removed("locations/features.geojson")))[place]


@pytest.mark.long
def test_a_blank_cell_is_a_group_not_recorded() -> None:
    """Points without a bag or a surface stand under "not recorded", and no head of a row is empty."""
    edit = every("field/deployments.csv", lambda _: {"bag_id": ""})
    plain = every("locations/locations.csv", lambda _: {"surface": ""})
    words = said(changed(edit, plain))
    for key in ("bag", "surface"):
        groups = words[f"page page quality#completeness, table completeness-{key}"].split(" | ")
        assert "not recorded" in groups
        assert "none" not in groups


def test_missing_features_lead_nowhere_but_count_no_number() -> None:
    """A finding on a file that is absent tells no number, so none leads nowhere."""
    words = said(changed(removed("field/clearance.csv"), removed("field/weather.csv")))["page page sources"]
    assert ", and 0 have no source" in words


@pytest.mark.parametrize("name", ["clearance", "deviations", "weather", "lab_qc"])
def test_an_expected_table_without_rows_is_told_as_one_that_is_absent(name: str) -> None:
    """A header alone is a flag, as an absent file is."""
    path = TABLE[name].path
    for edit, code in ((header_only(name), "table-without-rows"), (removed(path), "file-absent")):
        found = [f for f in check_snapshot(changed(edit)).findings if f.where.file == path and f.code == code]
        assert [f.severity.value for f in found] == ["flag"], code


def test_points_without_a_condition_or_depth_on_record_are_not_called_usable() -> None:
    """Where no condition and no depth is on record no point is free of a mark, and the pages say why."""
    found = at("little noted")
    why = "no condition or depth is on record"
    assert (
        f"0 of 6 planned points (0 %; criterion: at least 90 %) are usable without sample-specific qualifications \
(condition, exposure or depth), excluding bag-wide custody qualifications (for 6, {why})"
        in found["page page start#sure"]
    )
    assert f"0 in all without sample-specific qualifications; for 6 {why}" in found["page page start"]
    assert (
        f"0 of 6 planned points have results without sample-specific qualifications, excluding bag-wide custody \
qualifications; for 6 {why}."
        in found["page page quality"]
    )
    stages = found["page page quality#completeness, table completeness"]
    assert f"6 points without such a qualification, for which {why}, are not counted." in stages
    findings = found["page page findings, table findings"]
    words = "0 of 6 planned points usable without sample-specific qualifications (0 %), 6 without a condition or depth"
    assert words in findings


def test_points_without_a_surface_on_record_are_not_summarised_as_unpaved() -> None:
    """Where no surface is on record a compound's page has one group for that, and no unpaved ground."""
    table = at("little noted")["page compound pce#summary, table summary-pce"]
    assert "Surface not recorded" in table
    assert "Unpaved ground" not in table


def test_ethenes_without_a_molar_mass_are_not_compared_and_not_said_to_be_absent() -> None:
    """Tetrachloroethene was detected at 5 of 6 points: what is missing is its molar mass, and the page says that."""
    lead = at("little noted")["page page relations"]
    assert "chlorinated ethenes are not compared, because no molar mass is on record (Tetrachloroethene" in lead
    assert "no points with chlorinated ethenes" not in lead


LOCATIONS = TABLE["locations"].path


def test_points_without_positions_are_not_compared_with_neighbours() -> None:
    """Without positions there are no neighbours to be below of, and no point is said to be none."""
    low = at("little noted")["page page relations#low, table local-lows"]
    assert "Not compared: no point has three neighbours without a sample-specific qualification that have pos" in low
    assert "None of" not in low


@pytest.mark.parametrize(
    ("gone", "words"),
    [
        (("SG-01",), "Compared: 5 of 6 soil points with results."),
        (("SG-01", "SG-35"), "Compared: 1 of 6 soil points with results."),
        (("SG-01", "SG-35", "SG-36"), "Not compared"),
    ],
)
def test_the_points_compared_with_neighbours_are_counted(gone: tuple[str, ...], words: str) -> None:
    """A point needs three unmarked neighbours with a position: SG-37 is marked, and is itself no neighbour."""
    lost = {"easting": "", "northing": "", "plan_easting": "", "plan_northing": ""}
    folder = changed(*(cells(LOCATIONS, name, **lost) for name in gone), folder=young("analysed", "internal"))
    assert words in said(folder)["page page relations#low, table local-lows"]


PLACES_OF_BLANKS = (
    "page page compounds, table compounds",
    "page compound pce#summary, table summary-pce",
    "page page relations#sums, table detected-sums",
    "page page quality#blanks, table blank-affected",
)
"""Tables that count what blanks touch, or leave."""


def test_without_blanks_no_detection_is_said_to_be_free_of_them() -> None:
    """Where no blank has results every count of what they touch, or leave, is no record."""
    found = said(changed(_without_blanks("")))
    for place in PLACES_OF_BLANKS:
        assert "no record" in found[place], place
        assert "(100 %)" not in found[place], place
    assert "unaffected by a blank" not in found["page page start#found"] + found["page page start#maps"]


@pytest.mark.parametrize("kind", [pytest.param("trip", marks=pytest.mark.long), "method"])
def test_a_kind_of_blank_without_results_is_named_beside_what_the_other_leaves(kind: str) -> None:
    """With one kind alone each count, and each sentence that rests on it, names the kind that is missing."""
    found, other = said(changed(_without_blanks(kind))), {"trip": "method", "method": "trip"}[kind]
    lack = f"{kind} blank: no results on record)"
    for place in (*PLACES_OF_BLANKS, "page page quality", "page page start#sure", "page page start#maps"):
        assert lack in found[place], place
        assert f"{other} blank: no results" not in found[place], place
    whole = in_example()
    assert not [place for place in whole if "blank: no results on record" in whole[place]]


def test_a_blank_whose_bag_or_batch_is_not_recorded_says_nothing_of_samples() -> None:
    """What such blanks touch is not known: no page counts it as none, or the rest as unaffected."""
    found = at("little noted")
    words = "2 detections in blanks; the results affected are not known (bag not recorded);"
    assert words in found["page page quality"]
    assert (
        "* 5 blanks have results; which results they affect is not known (trip blank: bag not recorded; method blank: \
batch not recorded)."
        in found["page page start#sure"]
    )
    for place in (*PLACES_OF_BLANKS, "page page quality#blanks, table blanks"):
        assert "not known" in found[place], place
        assert not re.search(r"of detections\)|\(100 %\)|\| 0 \| 0 \|", found[place]), place


def test_only_what_was_analysed_in_a_blank_is_said_to_be_free_of_detections() -> None:
    """One result of one blank says nothing of the other compounds, nor of points without results."""
    found = at("one result")
    assert "Nothing was detected in 1 result of 1 blank" in found["page page quality"]
    assert "* 1 blank has results; no result at a point is on record." in found["page page start#sure"]
    assert "Samplers with results to which it applies" in found["page page quality#blanks, table blanks-analysed"]
    assert "Nothing was detected in 1 result of 1 blank" in found["page page quality#blanks, table blanks"]
    assert not [place for place in found if "1 blank with results" in found[place]]


@pytest.mark.parametrize("stage", ["little noted", "analysed"])
def test_data_files_leave_blank_what_no_blank_tells(stage: str) -> None:
    """compounds.csv and blanks.csv have no zero, and no count of the unaffected, where no blank says so."""
    tables = {table.name: table for table in compose(check_snapshot(young(stage, "internal")))[1].exports}
    columns = (("compounds", "not_blank_affected"), ("blanks", "samples"), ("blanks", "touched"))
    for name, column in columns:
        table = tables[name]
        cells_there = {row[table.at(column)] is None for row in table.rows}
        assert cells_there == {stage == "little noted"}, (name, column)
        assert "empty where" in table.fields[table.at(column)].meaning


def test_a_sum_without_detections_is_no_number() -> None:
    """A non-detect is no number, and so is a sum over non-detects alone."""
    note = at("non-detects")["page page relations#sums, table detected-sums"]
    assert "Over all soil points: nothing was detected in 42 results." in note
    assert "0 ng per sampler" not in note


def test_tops_of_calibration_of_non_detects_are_on_record_and_compare_nothing() -> None:
    """Each row has the top of its calibration, and no detection to lie above it."""
    words = "othing was detected, so there is no result to compare with the upper calibration limit"
    found = at("non-detects")
    for place in ("page page quality", "page page quality#calibration, table over-range"):
        assert words in found[place]
        assert "o upper calibration limit is on record" not in found[place]
    assert "no upper calibration limit is on record" in at("little noted")["page page quality"]


@pytest.mark.long
def test_the_laboratorys_e_is_told_as_such_where_no_top_of_calibration_is_on_record() -> None:
    """Without tops nobody but the laboratory says that a result lies above the calibration, and pages say that."""
    without_tops = every("lab/results.csv", lambda _: {"calibration_top": ""})
    found, qualified = said(changed(without_tops)), "qualified E (above the calibration range) by the laboratory"
    for place, words in (
        ("page page relations#sums, table detected-sums", f"Results {qualified}, which are estimates, account for"),
        ("page page patterns#sums, table group-sums", f"Results {qualified}, which are estimates, account for"),
        ("page page quality", qualified),
        ("page page quality#calibration, table over-range", qualified),
    ):
        assert words in found[place], place
        assert "Results above the calibration range or" not in found[place], place
    words = "no upper calibration limit is on record; 4 detections without one are qualified E"
    assert words in found["page page quality"]
    assert qualified not in " ".join(in_example().values())


def test_sums_by_group_are_shown_without_positions_and_say_that_no_group_is_on_record() -> None:
    """42 results at points without a position are summed like any others, as other compounds."""
    sums = at("little noted")["page page patterns#sums, table group-sums"]
    assert "No compound has a group on record, so all are summed together." in sums
    assert "56,200 (3 of 7)" in sums
    assert "group on record" not in at("analysed")["page page patterns#sums, table group-sums"]


def test_a_compounds_figure_speaks_of_that_compound_alone() -> None:
    """Where tetrachloroethene was not detected benzene was: the words name the compound."""
    found = at("little noted")
    assert "Tetrachloroethene was not detected at 1 point." in found["page compound pce#pattern, figure ranked-pce"]
    assert not [place for place in found if "nothing was detected." in found[place]]


def test_a_result_of_a_blank_is_no_result_at_a_point() -> None:
    """The one result is a blank's: a compound's page misses results at soil points, not any result."""
    assert at("one result")["page compound pce"].endswith("No result at a soil point is on record.")


def test_pairs_of_which_nothing_could_be_compared_neither_agree_nor_differ() -> None:
    """Two non-detects give no figure: two pairs of these alone are no record of duplicates that agree."""
    found = at("non-detects")
    assert "* No compound of 2 duplicate pairs could be compared." in found["page page start#sure"]
    assert "no compound of 2 duplicate pairs with results (all media) could be compared" in found["page page quality"]
    sheet = found["page page defensibility, table defensibility"]
    answer = sheet[sheet.index("Duplicates were installed as planned and agree.") :]
    assert answer.split(" | ")[1:3] == [
        "no record",
        "field duplicates with at least one compound compared with the primary: \
0 of 2",
    ]


@pytest.mark.long
def test_pairs_without_results_are_told_apart_from_those_of_one() -> None:
    """Where neither sampler of a pair has results, the table does not say that one has; nor does the summary."""
    found = at("one result")
    pairs = found["page page quality#duplicates, table pairs"]
    assert "not compared: neither has results on record" in pairs
    assert "only one of the two" not in pairs
    assert "* No duplicate pair with results is on record." in found["page page start#sure"]
    half = said(changed(without_rows("lab/results.csv", lambda row: row["lab_sample_id"] == "04417-044")))
    assert "not compared: one of the two has no results" in half["page page quality#duplicates, table pairs"]


def test_samplers_of_which_no_bag_is_named_are_not_said_to_have_come_outside_one() -> None:
    """No row names a bag or a bag's blank: ten came back, and of none is it said in which bag, or in none."""
    lead = at("little noted")["page page custody"]
    assert "10 were returned: 2 trip blanks, 6 samples, 2 field duplicates with no return bag on record." in lead
    assert "outside a bag" not in " ".join(at("little noted").values())


def test_samplers_sent_out_are_not_on_record_as_placed() -> None:
    """The receipt of what was sent out is on record; what is not are placing and return."""
    assert "10 are not on record as installed or returned." in at("sent out")["page page custody"]


def test_counts_of_a_new_project_are_not_recorded() -> None:
    """The template has no row to count, and a column that no row fills gives no nought."""
    told = at("new")["page page custody#counts, table custody-counts"]
    assert told.count("not recorded") >= 1
    assert not re.search(r"\| 0\b", told)
    few = at("little noted")["page page custody#counts, table custody-counts"]
    assert "not recorded" in few


@pytest.mark.long
def test_time_lines_say_what_is_drawn_where_no_hand_over_is_on_record() -> None:
    """Placing and retrieval alone are no line without a gap; with analyses each way back has no record."""
    figure = "page page custody#lines, figure custody-survey"
    few = at("little noted")[figure]
    assert "Time lines of 8 samplers, as far as they are on record; none has a hand-over on record." in few
    blank = {"sealed_at": "", "sealed_by": "", "packed_at": "", "received_at": ""}
    bare = [
        every(TABLE[name].path, lambda row: {k: "" for k in blank if k in row}) for name in ("return_bags", "shipments")
    ]
    drawn = said(changed(header_only("custody"), *bare))[figure]
    assert "57 have a period with custody not recorded; none has a hand-over on record." in drawn


@pytest.mark.long
def test_methods_say_sealed_only_of_bags_whose_seal_is_on_record() -> None:
    """Of two bags none has a seal number or a blank; with one number, in custody.csv alone, one has a seal."""
    place = "page page methods#transport"
    assert "none of the bags has a seal number on record and none a trip blank." in at("little noted")[place]
    bare = every(TABLE["return_bags"].path, lambda _: {"seal_applied": ""})
    one = without_rows(TABLE["custody"].path, lambda row: row["event"] != "sealed" or row["subject_id"] != "RB-1")
    words = said(changed(bare, one))[place]
    assert "in 2 return bags; 1 of the bags has a seal number on record and 2 a trip blank." in words
    assert "from 1 custody event and" in words
    assert "No custody event is on record" in said(changed(header_only("custody")))[place]


@pytest.mark.long
def test_the_tables_show_the_seal_and_the_receipt_that_custody_alone_records() -> None:
    """seal_applied, seal_outer and received_at blank: numbers and time are those of custody.csv, as findings tell."""
    found = said(
        changed(
            every(TABLE["return_bags"].path, lambda _: {"seal_applied": ""}),
            every(TABLE["shipments"].path, lambda _: {"seal_outer": "", "received_at": ""}),
        )
    )
    bags, boxes = (found[f"page page custody#counts, table {name}"] for name in ("return-bags", "shipments"))
    assert "448213 | 448231 (differs)" in bags
    assert "771188" in boxes
    assert "2025-11-10 10:32 CST" in boxes


@cache
def bagless() -> dict[str, str]:
    """Return what the example says where no row names a sampler's bag."""
    return said(changed(every(TABLE["deployments"].path, lambda _: {"bag_id": ""})))


@pytest.mark.long
def test_a_bag_of_which_no_sampler_is_on_record_frees_no_result() -> None:
    """Its page says that nobody is on record as in it, not that its blank touched nothing."""
    page = bagless()["page bag RB-1"]
    assert "Return bag with trip blank 0047101; no sampler is on record in this bag." in page
    assert "detections of this bag" not in page
    assert "cannot be compared with any result" in bagless()["page bag RB-1#touched, table touched-RB-1"]


def test_pages_of_samplers_and_shipments_say_what_is_not_on_record() -> None:
    """No batch, no count of items, no placement, and no sampler at all."""
    few = at("little noted")
    assert (
        "Outward shipment. Items declared: number not recorded; received: number not recorded."
        in few["page shipment SH-O1"]
    )
    assert "(batch not recorded)" in few["page sampler 0047119"]
    assert "no installation on record" in at("sent out")["page sampler 0047119"]
    assert at("new")["page page samplers"].endswith("No sampler is on record.")


def test_a_bag_without_its_trip_blank_is_told_beside_every_count_of_what_blanks_touch() -> None:
    """With one bag's trip blank unnamed fewer results are touched, and each place says for how many blanks speak."""
    found = said(changed(cells("field/return_bags.csv", "RB-2", trip_blank_id="")))
    for place in (*PLACES_OF_BLANKS, "page page start#sure"):
        assert "trip blank: results for 28 of 57 samplers" in found[place], place


def test_seals_read_without_a_condition_are_read() -> None:
    """The seal that differs is among those read, whether or not its condition was noted."""
    no_condition = every("field/custody.csv", lambda _: {"seal_condition": ""})
    bare = every("field/shipments.csv", lambda _: {"seal_condition": ""})
    found = said(changed(no_condition, bare))
    assert "1 seal-number discrepancy in 4 seals read" in found["page page start#sure"]
    assert "4 of 4 seals applied were read at receipt, with 1 seal-number discrepancy" in found["page page custody"]


def test_a_compound_without_a_group_is_not_called_another() -> None:
    """Where no group is on record tetrachloroethene is in none, not among "other compounds"."""
    found = at("little noted")
    assert "Compounds without a group on record" in found["page page start#tables, table group-tops"]
    assert not [place for place, words in found.items() if "other compounds" in words.casefold()]
