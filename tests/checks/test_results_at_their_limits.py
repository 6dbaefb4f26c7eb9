"""Rules on results and batches, where they begin to tell and just before: what, where, and of which row."""

from __future__ import annotations

import pytest
from builders import Row
from few_rows import deployed, sampler, survey_of, told

from sitegen.checks import laboratory, quality, results
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLES

KEYS = {spec.name: spec.key for spec in TABLES}
NAMES = {"pce": "Tetrachloroethene", "tce": "Trichloroethene"}


def result(analyte: str = "pce", sample: str = "L-1", **others: str) -> Row:
    return {"lab_sample_id": sample, "analyte_id": analyte, "unit": "ng", "rl": "10", "mdl": "3"} | others


def a_value(value: str, **others: str) -> Row:
    return result(value=value, detected="yes", **others)


def nothing(**others: str) -> Row:
    return result(detected="no", **others)


def survey_with(*rows: Row) -> Survey:
    """Return a survey of results, of one sampler in soil gas."""
    return survey_of({
        "samplers": [sampler()],
        "locations": [{"location_id": "P-1", "medium": "soil_gas"}],
        "deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact")],
        "analytes": [{"analyte_id": key, "name": name, "cas": ""} for key, name in NAMES.items()],
        "lab_samples": [{"lab_sample_id": "L-1", "sampler_id": "S-1", "type": "sample"}],
        "results": list(rows),
    })  # fmt: skip


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (a_value("12"), []),
        (result(value="12"), []),
        (nothing(), []),
        (result(), []),
        (a_value(""), ["result L-1+pce (2 value): a detection without a value"]),
        (a_value("", rl=""), ["result L-1+pce (2 value): a detection without a value"]),
        (nothing(value="5"), ["result L-1+pce (2 value): the value 5 for a non-detect"]),
        (nothing(rl=""), ["result L-1+pce (2 rl): a non-detect without a reporting limit"]),
        (result(rl=""), ["result L-1+pce (2 rl): a non-detect without a reporting limit"]),
        (a_value("12", rl=""), []),
    ],
)
def test_a_detection_has_a_value_and_a_non_detect_a_limit(row: Row, expected: list[str]) -> None:
    """Where the laboratory does not say whether it detected, a value says yes, and none says no."""
    assert told(results.detections(survey_with(row))) == expected


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (nothing(mdl="10"), []),
        (nothing(mdl="10.1"), ["result L-1+pce (2 mdl): MDL 10.1 above RL 10"]),
        (a_value("3"), []),
        (a_value("2.9"), ["result L-1+pce (2 value): a detection of 2.9 ng per sampler"]),
        (nothing(value="2.9"), []),
    ],
)
def test_limits_stand_in_order_and_may_be_equal(row: Row, expected: list[str]) -> None:
    """MDL 3, RL 10; a negative value is told as impossible, not as below the MDL."""
    assert told(results.limits_in_order(survey_with(row))) == expected
    assert told(results.limits_in_order(survey_with(a_value("-1")))) == []


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ((a_value("12"),), []),
        ((nothing(rl=""),), []),
        ((a_value("12", rl="?"),), []),
        ((a_value("12", rl=""),), ["no reporting limit for Tetrachloroethene of L-1"]),
        (
            (a_value("12"), a_value("12", analyte="tce", rl=""), a_value("9", analyte="other", rl="")),
            ["no reporting limit for Trichloroethene of L-1 and for 1 more detection"],
        ),
    ],
)
def test_a_detection_has_its_limit_too(rows: tuple[Row, ...], expected: list[str]) -> None:
    """A limit that can't be read was told when it was read."""
    assert [f.found for f in results.limits_given(survey_with(*rows))] == expected


@pytest.mark.parametrize(
    ("row", "tells"),
    [
        (a_value("12", result_text="12"), False),
        (a_value("12", result_text="1.2E+01"), False),
        (a_value("12", result_text="12.1"), True),
        (a_value("12", result_text="<10"), True),
        (a_value("", result_text="12"), False),
        (a_value("12", result_text="see note"), False),
        (nothing(result_text="<10"), False),
        (nothing(result_text="<3"), False),
        (nothing(result_text="<5"), True),
        (nothing(result_text="ND"), False),
        (nothing(result_text="12"), True),
        (nothing(rl="", result_text="<5"), False),
    ],
)
def test_what_the_laboratory_wrote_is_beside_what_the_columns_have(row: Row, *, tells: bool) -> None:
    """A non-detect is written below its RL of 10 or its MDL of 3, and below nothing else."""
    expected = f"result L-1+pce (2 result_text): {row['result_text']!r}"
    assert told(results.text_agrees(survey_with(row))) == ([expected] if tells else [])


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        (a_value("10"), []),
        (a_value("9.9"), ["result L-1+pce (2 lab_qualifier): 9.9 between the MDL and the RL 10, without J"]),
        (a_value("3"), ["result L-1+pce (2 lab_qualifier): 3 between the MDL and the RL 10, without J"]),
        (a_value("2.9"), []),
        (a_value("9.9", mdl=""), ["result L-1+pce (2 lab_qualifier): 9.9 between the MDL and the RL 10, without J"]),
        (a_value("9.9", lab_qualifier="J"), []),
        (a_value("9.9", lab_qualifier="B, NJ"), []),
        (a_value("9.9", lab_qualifier="E"), []),
        (a_value("9.9", lab_qualifier="B"), [
            "result L-1+pce (2 lab_qualifier): 9.9 between the MDL and the RL 10, without J"]),
        (a_value("9.9", validation_qualifier="J-"), []),
        (nothing(value="9.9"), []),
        (a_value("500", calibration_top="500"), []),
        (a_value("501", calibration_top="500"), [
            "result L-1+pce (2 lab_qualifier): 501 above the calibration range, without E"]),
        (a_value("501", calibration_top="500", lab_qualifier="E"), []),
        (a_value("500", calibration_top="500", lab_qualifier="E"), ["result L-1+pce (2 lab_qualifier): E at 500"]),
        (a_value("500", lab_qualifier="E"), []),
    ],
)  # fmt: skip
def test_an_estimate_is_marked_as_one(row: Row, expected: list[str]) -> None:
    """J from the MDL of 3 to below the RL of 10, E above the calibration; where no top is given, E may be right."""
    found = [f for f in results.estimates(survey_with(row)) if f.found != "E at 9.9"]
    assert told(found) == expected


def test_the_rarer_unit_is_shown_and_of_two_as_rare_the_first_by_name() -> None:
    """Of a medium: a result in µg/m³ beside two masses is told as such, and not as a mixture."""
    masses = [result(sample="L-1"), result("tce", unit="ug")]
    assert told(results.units(survey_with(*masses))) == ["medium soil_gas (2 unit): 1 result in ng, 1 result in ug"]
    assert told(results.mass_unit(survey_with(*masses, result("benzene", unit="ug")))) == [
        " survey (2 unit): 1 result in ng, 2 results in ug"
    ]
    assert told(results.units(survey_with(result(), result("tce", unit="ug/m3")))) == [
        "result L-1+tce (3 unit): ug/m3 for a soil-gas sampler"
    ]
    assert told(results.units(survey_with(result(), result("tce", unit="")))) == ["result L-1+tce (3 unit): no unit"]
    assert told(results.mass_unit(survey_with(result(), result("tce")))) == []


# --- the laboratory ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (("2025-06-01", "2025-06-30"), []),
        (("2025-05-31", "2025-06-30"), [" lab.valid_from: 1 analysis outside the validity period: L-0"]),
        (("2025-06-01", "2025-07-01"), [" lab.valid_to: 1 analysis outside the validity period: L-1"]),
        (("2025-07-01", "2025-07-02"), [" lab.valid_to: 2 analyses outside the validity period: L-0, L-1"]),
        (("", "2025-06-15"), []),
    ],
)
def test_an_accreditation_is_valid_on_its_first_and_its_last_day(days: tuple[str, str], expected: list[str]) -> None:
    """From 1 to 30 June; an analysis without a day is not outside of it."""
    samples = [
        {"lab_sample_id": f"L-{n}", "type": "method_blank", "analysed_at": f"{day}T23:00" if day else ""}
        for n, day in enumerate(days)
    ]
    validity = "valid_from = 2025-06-01\nvalid_to = 2025-06-30"
    found = laboratory.accreditation(survey_of({"lab_samples": samples}, validity))
    assert [f"{f.subject_kind} {f.subject}: {f.found}" for f in found] == expected
    assert list(laboratory.accreditation(survey_of({"lab_samples": samples}))) == []


def test_a_method_is_one_of_those_accredited_where_any_is_named() -> None:
    """A blank method is none; the first row of a strange one is shown."""
    samples = [{"lab_sample_id": f"L-{n}", "type": "control", "method": name} for n, name in enumerate(("", "A", "B"))]
    strange = survey_of({"lab_samples": samples}, 'methods = ["A"]')
    assert told(laboratory.accreditation(strange)) == [" B (4 method): the method 'B'"]
    assert told(laboratory.accreditation(survey_of({"lab_samples": samples}))) == []


def lab_sample(number: int, kind: str = "sample", **others: str) -> Row:
    return {"lab_sample_id": f"L-{number}", "type": kind} | others


def test_a_batch_has_its_own_blank_and_control_where_it_has_a_sample() -> None:
    """B-1 has both, B-2 a control alone, B-3 nothing but a blank; a sample and a trip blank name no batch."""
    survey = survey_of({"lab_samples": [
        lab_sample(1, batch_id="B-1"), lab_sample(2, "method_blank", batch_id="B-1"),
        lab_sample(3, "control", batch_id="B-1"), lab_sample(4, "control", batch_id="B-2"),
        lab_sample(5, batch_id="B-2"), lab_sample(6, "field_blank", batch_id="B-2"),
        lab_sample(7, "method_blank", batch_id="B-3"), lab_sample(8), lab_sample(9, "trip_blank"),
        lab_sample(10, "control"),
    ]})  # fmt: skip
    assert told(laboratory.batches(survey)) == [
        "batch B-2 (6 batch_id): batch B-2 with 2 samples",
        "lab_sample L-8 (9 batch_id): no batch",
        "lab_sample L-9 (10 batch_id): no batch",
    ]


def test_of_several_runs_one_is_reported_for_each_compound() -> None:
    """S-1: both runs, of two compounds each; S-2: none; S-3: one of two; S-4: both, of a compound each."""
    runs = [(1, "S-1", ""), (2, "S-1", "yes"), (3, "S-2", "no"), (4, "S-2", "no"), (5, "S-3", "no"), (6, "S-3", "yes"),
            (7, "S-4", ""), (8, "S-4", "")]  # fmt: skip
    samples = [lab_sample(number, sampler_id=name, reportable=kept) for number, name, kept in runs]
    both = [result(analyte, f"L-{number}", value="12") for number in range(1, 7) for analyte in NAMES]
    survey = survey_of({
        "analytes": [{"analyte_id": key, "name": name, "cas": ""} for key, name in NAMES.items()],
        "lab_samples": [*samples, lab_sample(9, "method_blank"), lab_sample(10, "method_blank")],
        "results": [*both, result("pce", "L-7", value="12"), result("tce", "L-8", value="12")],
    })  # fmt: skip
    assert told(laboratory.one_reportable(survey)) == [
        "sampler S-1 (3 reportable): two reportable results of sampler S-1 for Tetrachloroethene, Trichloroethene",
        "sampler S-2 (5 reportable): 2 runs of sampler S-2, none of them reportable",
    ]


def test_a_sample_with_any_result_has_one_for_each_compound_of_the_list() -> None:
    """L-2 lacks one compound; L-3 has one that is not listed in its place; L-4 is not reported, L-5 has no results."""
    rows = [("pce", 1), ("tce", 1), ("pce", 2), ("pce", 3), ("other", 3), ("pce", 4)]
    survey = survey_of({
        "analytes": [{"analyte_id": key, "name": name, "cas": ""} for key, name in NAMES.items()],
        "lab_samples": [lab_sample(n, reportable="no" if n == 4 else "") for n in range(1, 6)],
        "results": [result(analyte, f"L-{n}", value="12") for analyte, n in rows],
    })  # fmt: skip
    assert told(laboratory.compounds_complete(survey)) == [
        "lab_sample L-2 (3 None): no result for Trichloroethene",
        "lab_sample L-3 (4 None): no result for Trichloroethene",
    ]


def test_a_surrogate_is_asked_for_where_the_laboratory_measures_them() -> None:
    """Of three samples L-1 has one, L-2 a control of another kind, L-3 nothing; a blank needs none."""
    samples = [lab_sample(n, sampler_id=f"S-{n}") for n in (1, 2, 3)] + [lab_sample(4, "method_blank")]
    measured = {"lab_sample_id": "L-1", "qc_type": "surrogate", "value": "99"}
    other = {"lab_sample_id": "L-2", "qc_type": "internal_standard", "value": "99"}
    found = list(laboratory.surrogates_present(survey_of({"lab_samples": samples, "lab_qc": [measured, other]})))
    assert told(found) == [f"lab_sample L-{n} ({n + 1} None): no surrogate in lab_qc.csv" for n in (2, 3)]
    assert [[t.sampler_id for t in f.touches] for f in found] == [["S-2"], ["S-3"]]
    assert told(laboratory.surrogates_present(survey_of({"lab_samples": samples, "lab_qc": [other]}))) == []


def measured_at(*values: str) -> tuple[Survey, Evaluation]:
    """Return a survey with one compound, detected or (blank) not detected at a point each, kilometres apart."""
    names = [f"{n}" for n in range(len(values))]
    survey = survey_of({
        "samplers": [sampler(sampler_id=f"S-{n}") for n in names],
        "locations": [{"location_id": f"P-{n}", "medium": "soil_gas", "status": "placed", "easting": f"47{n}000",
                       "northing": "4770000"} for n in names],
        "deployments": [deployed("2025-06-02T08:00", "2025-06-10T08:00", condition="intact", sampler_id=f"S-{n}",
                                 location_id=f"P-{n}") for n in names],
        "analytes": [{"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4"}],
        "lab_samples": [lab_sample(int(n), sampler_id=f"S-{n}") for n in names],
        "results": [result(sample=f"L-{n}", value=value) for n, value in zip(names, values, strict=True)],
    })  # fmt: skip
    return survey, evaluate(survey)


@pytest.mark.parametrize(
    ("values", "row"),
    [
        (("20", "50", "500", "30"), 4),
        (("20", "50", "499", "30"), None),
        (("50", "500", "30"), None),
        (("50", "500", "30", ""), None),
    ],
)
def test_a_highest_value_ten_times_the_next_is_told_among_four_detections(
    values: tuple[str, ...], row: int | None
) -> None:
    """At 10 × already; it marks that compound of that sampler."""
    found = list(laboratory.odd_values(*measured_at(*values)))
    words = f"result L-2+pce ({row} value): 500 ng per sampler, the next highest 50"
    assert told(found) == ([words] if row else [])
    assert [(t.sampler_id, t.analyte_id) for f in found for t in f.touches] == ([("S-2", "pce")] if row else [])


@pytest.mark.parametrize(
    ("values", "found", "expected"),
    [
        (("50", "50", "50000", "50"), "50,000 ng per sampler, 1,000 × its highest neighbour",
         "less than about 1000 × the neighbouring results"),
        (("50000", "50000", "50", "50000"), "50 ng per sampler, 1/1,000 of its lowest neighbour",
         "more than about 1/1000 of them"),
    ],
)  # fmt: skip
def test_a_value_a_thousand_times_its_neighbours_is_told_as_a_slip_and_not_as_an_outlier(
    values: tuple[str, ...], found: str, expected: str
) -> None:
    (slip,) = laboratory.odd_values(*measured_at(*values))
    assert (slip.code, slip.subject, slip.where.row, slip.where.column) == ("unit-slip", "L-2+pce", 4, "value")
    assert (slip.found, slip.expected) == (found, expected)
    assert [(t.sampler_id, t.analyte_id) for t in slip.touches] == [("S-2", "pce")]


@pytest.mark.parametrize(("value", "tells"), [("500", False), ("501", True)])
def test_a_result_at_the_top_of_the_calibration_is_within_it(value: str, *, tells: bool) -> None:
    survey = survey_with(a_value(value, calibration_top="500"))
    found = list(quality.calibration(survey, evaluate(survey)))
    assert told(found) == ["result L-1+pce (2 value): 501 ng per sampler of Tetrachloroethene"] * tells
    assert [(t.sampler_id, t.analyte_id) for f in found for t in f.touches] == [("S-1", "pce")] * tells
