"""Pages of statistics: means only where asked for, both conventions shown, the list of checks printed."""

from __future__ import annotations

import builders
import pytest

from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.published import published_checks
from sitegen.compute.results.relations import Share
from sitegen.project.schema import SOIL_MEDIA
from sitegen.report.evidence.calculation import calculation_blocks, checked_table
from sitegen.report.evidence.methods import methods_blocks
from sitegen.report.record.pages import Section
from sitegen.report.results.compound import compound_blocks
from sitegen.report.results.compoundtables import means_table, summary_table
from sitegen.report.results.relations import bounds_text, ethenes_table, flow_figure, low_table, relations_blocks
from sitegen.report.write.context import Context


def context(*changes: builders.Change) -> Context:
    survey = builders.load(builders.changed(*changes))
    evaluation = evaluate(survey)
    return Context(survey, evaluation, ())


@pytest.fixture(scope="module")
def plain() -> Context:
    return context()


def edited(old: bytes, new: bytes) -> builders.Change:
    def edit(content: bytes) -> bytes:
        assert old in content
        return content.replace(old, new, 1)

    return builders.Change("project.toml", edit)


def test_no_mean_stands_unless_the_project_asks(plain: Context) -> None:
    """By default there is no table of means; asked for, each has its demand, and refusals say why."""
    listed = plain.evaluation.compounds
    assert all(means_table(plain, compound) is None for compound in listed)
    asked = context(edited(b"[rules]\n", b"[rules]\nmean = true\n"))
    assert "No mean is given" in str(methods_blocks(plain, "tool"))
    assert "No mean is given" not in str(methods_blocks(asked, "tool"))
    tables = {c.analyte_id: means_table(asked, c) for c in listed}
    sections = {getattr(b, "id", ""): b for b in compound_blocks(asked, asked.compounds["pce"], None)}
    assert tables["pce"] in sections["summary"].blocks, "on the compound's page"
    pce, toluene = tables["pce"], tables["toluene"]
    assert pce is not None
    assert toluene is not None
    assert pce.columns[1].unit == "ng per sampler"
    assert not pce.rows[0][1].text.startswith("not given")
    assert pce.rows[0][2].text != "–", "a Kaplan–Meier mean prints where its tail stands"
    assert toluene.rows[0][1].text == "not given: too many non-detects"


def test_the_frequency_has_its_interval(plain: Context) -> None:
    """41 of 51: 67 to 90 %."""
    compound = plain.compounds["pce"]
    soil = summary_table(plain, compound).rows[0]
    assert soil[2].text.startswith("41 ")
    assert soil[-1].text == "67 to 90"


def test_both_bounds_are_shown_where_they_print_differently() -> None:
    """One figure where they print alike, two where not."""
    assert bounds_text(Share(25.0, 25.001)) == "25"
    assert bounds_text(Share(10.4, 100.0)) == "10 to 100"
    assert bounds_text(Share(None, None)) == "–"


def test_marks_travel_with_shares(plain: Context) -> None:
    """The wet vial stands beside SG-37's shares and beside its local low."""
    for table in (ethenes_table(plain), low_table(plain)):
        row = next(row for row in table.rows if row[0].text == "SG-37")
        assert "water" in {mark.word for mark in row[0].marks}


def test_a_flow_line_that_is_not_public_is_drawn_only_inside(plain: Context) -> None:
    """At public level a private line gives no figure."""
    flow = plain.evaluation.related.flows[0]
    assert flow_figure(plain, flow) is not None
    public = context(edited(b'level = "internal"', b'level = "public"'))
    assert flow_figure(public, flow) is not None

    def hide(content: bytes) -> bytes:
        at = content.index(b"flow_line")
        end = content.index(b'"yes"', at)
        return content[:end] + b'"no"' + content[end + 5 :]

    hidden = context(
        edited(b'level = "internal"', b'level = "public"'), builders.Change("locations/features.geojson", hide)
    )
    assert not hidden.evaluation.related.flows[0].public
    assert flow_figure(hidden, hidden.evaluation.related.flows[0]) is None


def test_a_survey_without_results_still_has_its_pages() -> None:
    """No family, no correlation, no low: the pages say so."""
    empty = context(builders.table("lab/results.csv", lambda _: []))
    sections = [block.id for block in relations_blocks(empty) if isinstance(block, Section)]
    assert sections == ["low", "sums"]
    assert len(calculation_blocks(empty)) > 15


def test_the_calculation_sheet_lists_every_outside_check(plain: Context) -> None:
    """One row for each entry of the list, with a word for how it is known."""
    rows = checked_table(plain).rows
    assert len(rows) == len(published_checks()) >= 20
    assert "memory" not in {row[2].text for row in rows}, "the word is spelled out"


def test_sums_and_lows_speak_of_soil_alone(plain: Context) -> None:
    """No air point stands in a table of masses in soil gas."""
    media = {row.location_id: row.medium for row in plain.locations}
    for block in relations_blocks(plain):
        for table in block.blocks if isinstance(block, Section) else ():
            for row in getattr(table, "rows", ()):
                assert media.get(row[0].text, "soil_gas") in SOIL_MEDIA
