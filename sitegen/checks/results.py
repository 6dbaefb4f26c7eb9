"""Results row by row: value, limits, the text as received, units, qualifiers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np
import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import Mask, compound_names, enumeration, first_rows, number_of, surplus
from sitegen.compute.results.reported import read_text, split_qualifiers
from sitegen.compute.results.store import stated_detection
from sitegen.compute.statistics.rounding import as_reported
from sitegen.findings.problems import Finding
from sitegen.project.read.cells import tidy
from sitegen.project.schema import QUALIFIERS, SOIL_MEDIA
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import Deployment, LabSample, Location, Result
from sitegen.units import CONCENTRATION_UNITS, MASS_UNITS, RESULT_UNITS, UNIT_TEXT
from sitegen.voice import worded

Says = Callable[[Result], str]


def _rows(survey: Survey, code: str, bad: Mask, column: str, found: Says, expected: Says) -> Iterator[Finding]:
    """Yield one finding for each masked row of the results, and one for the surplus."""
    table = survey.tables["results"]
    for row in first_rows(table, bad, Result):
        subject = f"{row.lab_sample_id}+{row.analyte_id}"
        yield find(code, subject, row.origin.where(column), found(row), expected(row), kind="result")
    yield from surplus(code, table, bad, column)


def detections(survey: Survey) -> Iterator[Finding]:
    """A detection has a value, a non-detect a limit, and neither has the other's."""
    frame = survey.frame("results")
    detected = stated_detection(frame)
    no_value = (frame["detected"] == "yes") & frame["value"].isna()
    with_value = (frame["detected"] == "no") & frame["value"].notna()
    no_limit = ~detected & ~no_value & frame["rl"].isna()
    yield from _rows(
        survey,
        "value-missing",
        no_value,
        "value",
        lambda _: worded("a detection without a value"),
        lambda _: worded("its value"),
    )
    yield from _rows(
        survey,
        "value-for-nondetect",
        with_value,
        "value",
        lambda row: worded("the value {value:g} for a non-detect", value=row.value),
        lambda _: worded("no value, and the reporting limit in rl"),
    )
    yield from _rows(
        survey, "limit-missing", no_limit, "rl",
        lambda _: worded("a non-detect without a reporting limit"), lambda _: worded("the reporting limit"),
    )  # fmt: skip


def limits_in_order(survey: Survey) -> Iterator[Finding]:
    """A detection limit lies below the reporting limit, and a detection above the detection limit."""
    frame = survey.frame("results")
    yield from _rows(
        survey, "mdl-above-rl", frame["mdl"] > frame["rl"], "mdl",
        lambda row: worded("MDL {mdl} above RL {rl}", mdl=as_reported(row.mdl), rl=as_reported(row.rl)),
        lambda _: worded("an MDL at or below the RL"),
    )  # fmt: skip
    low = stated_detection(frame) & (frame["value"] < frame["mdl"]) & (frame["value"] > 0)
    yield from _rows(
        survey,
        "detected-below-mdl",
        low,
        "value",
        lambda row: worded(
            "a detection of {value} {unit}", value=as_reported(row.value), unit=UNIT_TEXT.get(row.unit, row.unit)
        ),
        lambda row: worded("at least the MDL, {mdl}", mdl=as_reported(row.mdl)),
    )


def limits_given(survey: Survey) -> Iterator[Finding]:
    """A detection has its reporting limit too: duplicates and low points are judged by it."""
    table = survey.tables["results"]
    bad = stated_detection(table.frame) & table.frame["rl"].isna() & _blank_as_received(table, "rl")
    if bad.any():
        row = first_rows(table, bad, Result)[0]
        name = compound_names(survey).get(row.analyte_id, row.analyte_id)
        more = (
            worded(" and for {detections}", detections=number_of(int(bad.sum()) - 1, "more detection"))
            if bad.sum() > 1
            else ""
        )
        found = worded(
            "no reporting limit for {compound} of {sample}{more}",
            compound=name,
            sample=row.lab_sample_id,
            more=more,
        )
        expected = worded("the reporting limit of each detection")
        yield find("detection-without-limit", "results", row.origin.where("rl"), found, expected)


def text_agrees(survey: Survey) -> Iterator[Finding]:
    """What the laboratory wrote says the same as value, limit and detection."""
    table = survey.tables["results"]
    frame = table.frame
    codes, texts = pd.factorize(frame["result_text"])
    read = [read_text(text) for text in texts]
    says = np.array([kind for kind, _ in read] or [""], dtype=object)[codes]
    figure = np.array([np.nan if value is None else value for _, value in read] or [np.nan])[codes]
    own = (frame["_file"] == table.file) & (frame["result_text"] != "")
    detected = stated_detection(frame)
    value_says = own & (says == "value")
    below_says = own & (says == "nondetect")
    against = (value_says & ~detected) | (below_says & detected)
    against |= value_says & frame["value"].notna() & ~np.isclose(figure, frame["value"], rtol=1e-9, atol=0.0)
    limit = np.isclose(figure, frame["rl"], rtol=1e-9, atol=0.0)
    limit |= np.isclose(figure, frame["mdl"], rtol=1e-9, atol=0.0)
    against |= below_says & np.isfinite(figure) & frame["rl"].notna() & ~limit
    yield from _rows(
        survey, "text-disagrees", against, "result_text",
        lambda row: repr(row.result_text), _other_columns,
    )  # fmt: skip


def _other_columns(row: Result) -> str:
    if row.detected == "no" or np.isnan(row.value):
        return worded("a non-detect below {rl:g}, as in the other columns", rl=row.rl)
    return worded("{value:g}, as in the column value", value=row.value)


def _media(survey: Survey) -> pd.Series[str]:
    """Return the medium behind each result, "" where there is none."""
    place = {row.sampler_id: row.location_id for row in survey.rows(Deployment)}
    medium = {row.location_id: row.medium for row in survey.rows(Location)}
    of = {row.lab_sample_id: medium.get(place.get(row.sampler_id, ""), "") for row in survey.rows(LabSample)}
    return survey.frame("results")["lab_sample_id"].map(of).astype(object).fillna("")


def _blank_as_received(table: SurveyTable, column: str) -> Mask:
    """Return where a column held nothing; text that could not be read was told when it was read."""
    received = table.received.get(column)
    if received is None:
        return pd.Series(data=True, index=table.frame.index)
    blank = {text for text in set(received) if not tidy(text)}
    return pd.Series([text in blank for text in received], index=table.frame.index, dtype=bool)


def units(survey: Survey) -> Iterator[Finding]:
    """Soil results are masses; the results of one medium are in one unit; none is without."""
    table = survey.tables["results"]
    unit, medium = table.frame["unit"], _media(survey)
    per_volume = medium.isin(SOIL_MEDIA) & unit.isin(CONCENTRATION_UNITS)
    yield from _rows(
        survey, "soil-result-per-volume", per_volume, "unit",
        lambda row: worded("{unit} for a soil-gas sampler", unit=row.unit),
        lambda _: worded("{units}: a mass is not a concentration", units=f" {worded('or')} ".join(MASS_UNITS)),
    )  # fmt: skip
    blank = (unit == "") & _blank_as_received(table, "unit")
    yield from _rows(
        survey,
        "unit-missing",
        blank,
        "unit",
        lambda _: worded("no unit"),
        lambda _: f", {worded('or')} ".join(RESULT_UNITS),
    )
    kept = ~per_volume & (unit != "")
    for name in sorted(set(medium) - {""}):
        counts = unit[kept & (medium == name)].value_counts().sort_index()
        if len(counts) > 1:
            rare = counts.idxmin()
            row = first_rows(table, kept & (medium == name) & (unit == rare), Result)[0]
            parts = (
                worded("{results} in {unit}", results=number_of(int(count), "result"), unit=text)
                for text, count in counts.items()
            )
            yield find(
                "units-mixed", name, row.origin.where("unit"), enumeration(parts), worded("one unit"), kind="medium"
            )


def mass_unit(survey: Survey) -> Iterator[Finding]:
    """The masses of a survey are in one unit, whatever they were sampled in; blanks count too."""
    table = survey.tables["results"]
    unit = table.frame["unit"]
    counts = unit[unit.isin(MASS_UNITS)].value_counts().sort_index()
    if len(counts) > 1:
        row = first_rows(table, unit == counts.idxmin(), Result)[0]
        parts = (
            worded("{results} in {unit}", results=number_of(int(count), "result"), unit=text)
            for text, count in counts.items()
        )
        yield find(
            "mass-units-mixed", "survey", row.origin.where("unit"), enumeration(parts), worded("one unit of mass")
        )


def _with_marks(cells: pd.Series[str], wanted: Callable[[list[str]], bool]) -> Mask:
    """Return where the qualifiers of a cell meet a condition, each text looked at once."""
    memo: Mapping[str, bool] = {text: wanted(split_qualifiers(text)) for text in cells.unique()}
    return cells.map(memo).astype(bool)


def qualifiers(survey: Survey) -> Iterator[Finding]:
    """Qualifiers are known, and a person's qualifier has a reason."""
    frame = survey.frame("results")
    quotes: tuple[tuple[str, Says], ...] = (
        ("lab_qualifier", lambda row: repr(row.lab_qualifier)),
        ("validation_qualifier", lambda row: repr(row.validation_qualifier)),
    )
    for column, quote in quotes:
        unknown = _with_marks(frame[column], lambda marks: any(mark not in QUALIFIERS for mark in marks))
        yield from _rows(
            survey,
            "qualifier-unknown",
            unknown,
            column,
            quote,
            lambda _: worded("of {qualifiers}", qualifiers=", ".join(QUALIFIERS)),
        )
    no_reason = (frame["validation_qualifier"] != "") & (frame["validation_reason"] == "")
    yield from _rows(
        survey,
        "validation-unexplained",
        no_reason,
        "validation_reason",
        lambda row: worded("{qualifier} without a reason", qualifier=row.validation_qualifier),
        lambda _: worded("the reason for the change"),
    )


def estimates(survey: Survey) -> Iterator[Finding]:
    """J marks what lies between the limits, E what lies above the calibration."""
    frame = survey.frame("results")
    detected = stated_detection(frame)
    estimated = _with_marks(frame["lab_qualifier"], lambda marks: any(m[0] in "JN" or m == "E" for m in marks))
    estimated |= frame["validation_qualifier"] != ""
    low = detected & (frame["value"] < frame["rl"]) & ~(frame["value"] < frame["mdl"]) & ~estimated
    yield from _rows(
        survey,
        "j-missing",
        low,
        "lab_qualifier",
        lambda row: worded(
            "{value} between the MDL and the RL {rl}, without J", value=as_reported(row.value), rl=as_reported(row.rl)
        ),
        lambda _: worded("J: an estimate"),
    )
    marked = _with_marks(frame["lab_qualifier"], lambda marks: "E" in marks)
    above = detected & (frame["value"] > frame["calibration_top"])
    yield from _rows(
        survey, "e-missing", above & ~marked, "lab_qualifier",
        lambda row: worded("{value} above the calibration range, without E", value=as_reported(row.value)),
        lambda row: worded("E above {top}", top=as_reported(row.calibration_top)),
    )  # fmt: skip
    yield from _rows(
        survey,
        "e-without-cause",
        marked & ~above & frame["calibration_top"].notna(),
        "lab_qualifier",
        lambda row: worded("E at {value:g}", value=row.value),
        lambda row: worded("E only above {top}", top=as_reported(row.calibration_top)),
    )


RULES = (
    detections, limits_in_order, limits_given, text_agrees, units, mass_unit, qualifiers, estimates,
)  # fmt: skip
