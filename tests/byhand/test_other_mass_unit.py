"""A survey whose laboratory gives masses in µg: every heading, drawing and file names that unit, and none names ng.

The survey is the one worked by hand with its masses read as µg: the same numbers in another unit, and nothing is
converted but a mass that becomes a concentration.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache

import byhand_survey as survey
from slips import Text, report_slips, report_texts

from sitegen.checking import check_snapshot
from sitegen.findings.problems import Finding, Severity
from sitegen.pipeline import compose
from sitegen.report.record.pages import Report
from sitegen.units import CONCENTRATION_UNITS, MASS_UNITS, RESULT_UNITS

RESULTS = "lab/results.csv"


def texts(unit: str, rows: slice = slice(None)) -> dict[str, str]:
    """Return the files with another unit in some rows of the results."""
    head, *lines = survey.FILES[RESULTS].splitlines()
    lines[rows] = [line.replace(",ng,", f",{unit},") for line in lines[rows]]
    return survey.FILES | {RESULTS: "\n".join((head, *lines)) + "\n"}


def checked(files: Mapping[str, str]) -> tuple[Finding, ...]:
    """Return the findings of a survey from its files."""
    return check_snapshot(survey.folder(files)).findings


@cache
def in_micrograms() -> Report:
    """Return the report of the survey in µg."""
    return compose(check_snapshot(survey.folder(texts("ug"))))[1]


def all_texts(report: Report) -> Iterator[Text]:
    """Yield the texts of the pages, of print, of the web map and of the files to download."""
    yield from report_texts(report)
    for layer in report.map.layers:
        yield Text("map", f"{layer.title} {layer.unit}")
        yield from (Text("map", value.text) for value in layer.values)
    for table in report.exports:
        yield from (Text(table.name, words) for words in (table.title, table.note))
        yield from (Text(table.name, f"{field.unit}; {field.meaning}") for field in table.fields)
        yield from (Text(table.name, cell) for row in table.rows for cell in row if isinstance(cell, str))


def test_a_unit_says_what_it_is_a_unit_of() -> None:
    """The choices of the format come from the records; what asks for a mass asks the record."""
    assert (MASS_UNITS, CONCENTRATION_UNITS) == (("ng", "ug"), ("ug/m3",))
    assert [unit.text for unit in RESULT_UNITS.values()] == ["ng per sampler", "µg per sampler", "µg/m³"]
    assert [unit.moles for unit in RESULT_UNITS.values() if unit.code in MASS_UNITS] == ["nmol", "µmol"]


def test_every_text_names_the_unit_of_the_data() -> None:
    """No page, drawing, map or file speaks of ng; only the equation of a concentration has ng, and says so."""
    words = list(all_texts(in_micrograms()))
    assert not [text for text in words if "ng per sampler" in text.words]
    equation = r"m in ng|A mass in µg is 1,000 times as many ng"
    assert not [text for text in words if re.search(r"\bng\b", re.sub(equation, "", text.words))]
    named = {text.place.split(",")[0].split("#")[0] for text in words if "µg per sampler" in text.words}
    assert {"map", "results", "page compound pce", "page location SG-1", "chapter summary"} <= named
    assert report_slips(in_micrograms()) == []


def test_masses_are_printed_as_they_were_given() -> None:
    """The highest is 10,800 µg at SG-4; the classes are the same decades, of the unit that heads them."""
    (layer,) = (layer for layer in in_micrograms().map.layers if layer.id == "pce")
    (before,) = (layer for layer in survey.report().map.layers if layer.id == "pce")
    assert layer.unit == "µg per sampler"
    assert [value.size_class for value in layer.values] == [value.size_class for value in before.values]
    (results,) = (table for table in in_micrograms().exports if table.name == "results")
    names = [field.name for field in results.fields]
    given = {row[names.index("value")]: row[names.index("unit")] for row in results.rows}
    assert given[10800.0] == "µg per sampler"


def test_a_mass_becomes_a_concentration_by_the_factor_of_its_unit() -> None:
    """IA-1 was out for 14,491 min: 36 µg are 36,000 ng, and 1000 × 36,000 / (0.50 × 14,491) = 4,968.6 µg/m³.

    The limit of 10 µg is 1000 × 10,000 / (0.50 × 14,491) = 1,380.17 µg/m³; above the 4.0 and the 18 of the levels.
    """
    evaluation = check_snapshot(survey.folder(texts("ug"))).evaluation
    assert evaluation
    found = evaluation.concentrations["L-07", "pce"]
    assert (round(found.ug_m3, 1), round(found.rl_ug_m3, 2)) == (4968.6, 1380.17)
    (above,) = (e for e in evaluation.exceedances if e.analyte_id == "pce")
    assert [one.level.ug_m3 for one in above.above] == [4.0, 18.0]


def test_masses_in_two_units_are_a_stop() -> None:
    """A method blank in µg beside samples in ng: the survey has one unit of mass, and the few are named."""
    (finding,) = (f for f in checked(texts("ug", slice(0, 4))) if f.severity is Severity.STOP)
    assert (finding.code, finding.found) == ("mass-units-mixed", "44 results in ng, 4 results in ug")
    assert (finding.where.file, finding.where.row, finding.where.column) == (RESULTS, 2, "unit")
    assert not [f for f in checked(texts("ug")) if f.code == "mass-units-mixed"]


def test_an_unknown_unit_is_a_stop() -> None:
    """Nothing is made of mg: the format does not know it, and the message names the units that it knows."""
    stops = [f for f in checked(texts("mg", slice(4, 5))) if f.severity is Severity.STOP]
    (unknown,) = (f for f in stops if f.code == "word-unknown")
    assert (unknown.found, unknown.expected) == ("'mg'", "one of ng, ug, ug/m3")
    assert (unknown.where.file, unknown.where.row, unknown.where.column) == (RESULTS, 6, "unit")
