"""How results, limits, ranges and marks are written, and which cell of the record each leads to."""

from __future__ import annotations

from math import nan

import pytest
from builders import row_of

from sitegen.compute.marks import MarkFact
from sitegen.compute.results.store import StoredResult
from sitegen.compute.results.summary import Percentile, Summary
from sitegen.compute.statistics.intervals import Interval
from sitegen.project.schema import Origin
from sitegen.project.tables import ReviewComment
from sitegen.report.record.pages import Page, Prose, Ref, Section
from sitegen.report.trace.sources import steps
from sitegen.report.write import values
from sitegen.report.write.remarks import by_target, callout, with_comments

OWN = Origin("lab/results.csv", 7)
LABS = Origin("lab/their.xlsx", 9, "Air", "PCE")


def result(value: float | None = None, **others: object) -> StoredResult:
    """Return a stored result, RL 10 and MDL 3, of the laboratory's text ``<10`` or the value."""
    known: dict[str, object] = {
        "lab_sample_id": "L-1", "analyte_id": "pce", "value": nan if value is None else value, "unit": "ng",
        "detected": value is not None, "rl": 10.0, "mdl": 3.0, "origin": OWN, "reportable": True,
        "result_text": "<10" if value is None else f"{value:g}",
    }  # fmt: skip
    return row_of(StoredResult, **(known | others))


@pytest.mark.parametrize(
    ("row", "display", "text"),
    [
        (result(1268.0), "rl", "1,270"),
        (result(1268.0, lab_qualifier="J"), "rl", "1,270 J"),
        (result(1268.0, lab_qualifier="J", validation_qualifier="J-"), "rl", "1,270 J-"),
        (result(), "rl", "<10"),
        (result(), "mdl", "<3"),
        (result(mdl=nan), "mdl", "<10"),
        (result(lab_qualifier="U"), "rl", "<10"),
        (result(lab_qualifier="UJ"), "rl", "<10 UJ"),
        (result(validation_qualifier="U", by_person=True, rl=12.0), "mdl", "<12 U"),
        (result(50.0, rejected=True), "rl", "rejected"),
    ],
)
def test_a_result_in_a_sentence_is_rounded_and_keeps_its_qualifier(row: StoredResult, display: str, text: str) -> None:
    """A non-detect has its limit; that which a person made of a detection, its value, whatever limit is shown."""
    assert values.value_text(row, display) == text


def test_a_cell_of_a_result_leads_to_its_row_and_to_the_text_as_received() -> None:
    detected, nothing = result(1268.0), result(result_text="ND")
    assert values.value_cell(detected, "rl", ())._asdict() == {
        "text": "1268", "ref": Ref("source", "L-1", "pce"), "marks": (), "tone": "",
        "origin": ("lab/results.csv", 7, "result_text"),
    }  # fmt: skip
    assert (values.value_cell(nothing, "rl", ()).text, values.reported_cell(nothing, "rl", ()).text) == (
        "ND (<10)", "ND",
    )  # fmt: skip
    assert values.value_cell(nothing, "mdl", ()).text == "ND (<3)"
    assert values.value_cell(nothing, "rl", ()).tone == "nondetect"
    elsewhere = Ref("page", "air")
    assert values.value_cell(detected, "rl", (), elsewhere).ref == elsewhere
    assert values.origin_of(result(5.0, origin=LABS)) == ("lab/their.xlsx", 9, "Air!PCE")
    assert values.sample_source(detected)[:3] == (
        "lab/results.csv, laboratory sample L-1", Ref("source", "L-1"), "lab/results.csv",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "text", "behind"),
    [
        (result(5.0), "rl", "10", "rl"),
        (result(5.0), "mdl", "3", "mdl"),
        (result(5.0, rl=nan), "rl", "–", None),
        (result(by_person=True, rl=12.5), "rl", "12.5", "value"),
        (result(by_person=True), "mdl", "3", "mdl"),
    ],
)
def test_a_limit_leads_to_its_own_column(row: StoredResult, column: str, text: str, behind: str | None) -> None:
    """Where a person made a non-detect of a detection, the limit is the value that was detected."""
    cell = values.limit_cell(row, "rl" if column == "rl" else "mdl")
    assert (cell.text, cell.origin) == (text, (OWN.file, OWN.row, behind) if behind else None)


@pytest.mark.parametrize(("value", "tone"), [(9.9, "class0"), (10.0, "class1"), (2.5e4, "class4"), (None, "nondetect")])
def test_the_shade_of_a_result_is_its_decade(value: float | None, tone: str) -> None:
    assert values.class_tone(result(value)) == tone


def test_a_mark_is_told_with_its_facts_as_stated() -> None:
    """The top of a calibration without needless zeros, in its unit in full; anything else word for word."""
    facts = (("top", "50000.0"), ("unit", "ng"))
    (mark,) = values.mark_words([MarkFact("above-calibration", "result", "L-1+pce", facts)])
    assert mark == (
        "over range",
        "The result is above the top of the calibration range (50,000 ng per sampler); it is an estimate.",
        "above-calibration:L-1+pce",
        "",
    )


def summary(lowest: float | None, highest: float | None, low_mark: str = "", high_mark: str = "") -> Summary:
    return Summary(
        "pce", "soil", "ng", 5, 3, 3, lowest, highest, low_mark, high_mark, "P-1", "L-1", (), 5.0, 10.0,
        Interval(0.1, 0.9, 0.95),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("lowest", "highest", "marks", "text"),
    [
        (6.3, 53_300.0, ("J", "E"), "6.3 J to 53,300 E"),
        (6.3, 12.0, ("", ""), "6.3 to 12"),
        (6.3, 6.3, ("J", "J"), "6.3 J"),
        (None, None, ("", ""), "none"),
    ],
)
def test_a_range_of_detections_keeps_both_qualifiers(
    lowest: float | None, highest: float | None, marks: tuple[str, str], text: str
) -> None:
    """One detection is no range."""
    row = summary(lowest, highest, *marks)
    assert values.range_text(row) == text
    assert values.highest_text(row) == ("–" if highest is None else text.rpartition("to ")[2])


@pytest.mark.parametrize(
    ("written", "text"),
    [
        (values.percentile_text(Percentile(0.5, 1268.0, 10.0, "J")), "1,270 J"),
        (values.percentile_text(Percentile(0.5, 1268.0, 10.0)), "1,270"),
        (values.percentile_text(Percentile(0.5, None, 10.0)), "<10"),
        (values.limits_text(5.0, 12.5), "5 to 12.5"),
        (values.limits_text(10.0, 10.0), "10"),
        (values.limits_text(nan, nan), ""),
        (values.interval_text(Interval(0.6688, 0.145, 0.95)), "67 to 15"),
        (values.proposal_text("J-", reject=False), "J-"),
        (values.place_text(OWN), "lab/results.csv, row 7"),
        (values.place_text(LABS), "lab/their.xlsx, sheet Air, row 9"),
    ],
)
def test_figures_and_places_in_words(written: str, text: str) -> None:
    assert written == text


def test_a_proposal_to_reject_is_said_beside_its_qualifier_or_alone() -> None:
    alone = values.proposal_text("", reject=True)
    assert alone
    assert values.proposal_text("UJ", reject=True) == f"UJ, {alone}"


# --- comments at what they are about -----------------------------------------------------------


def comment(target: str, weight: str = "question", state: str = "open", name: str = "C-1") -> ReviewComment:
    return row_of(ReviewComment, comment_id=name, target=target, class_=weight, state=state, text="t")


@pytest.mark.parametrize(
    ("comments", "tone"),
    [
        ((comment("x", "must_fix"), comment("x")), "hold"),
        ((comment("x", "must_fix", ""),), "hold"),
        ((comment("x", "must_fix", "answered"), comment("x")), "flag"),
        ((comment("x", "must_fix", "answered"),), "note"),
        ((comment("x", state="withdrawn"),), "note"),
    ],
)
def test_a_box_of_comments_has_the_tone_of_the_gravest_that_is_open(
    comments: tuple[ReviewComment, ...], tone: str
) -> None:
    assert callout(comments).tone == tone


def test_a_comment_stands_first_on_the_page_or_in_the_section_that_it_is_about() -> None:
    """Of a point on its page, of the summary on the first page, of a section in that section of the narrative."""
    known = by_target([comment("location:P-1"), comment("text:summary"), comment("text:setting"), comment("page:P-1")])
    word = Prose("w")

    def page(ref: Ref) -> Page:
        return Page(ref, "t", "l", (word, Section("text-setting", "Setting", (word,))))

    def first_in(ref: Ref) -> tuple[str, str]:
        whole = with_comments(page(ref), known).blocks
        section = whole[-1]
        assert isinstance(section, Section)
        return type(whole[0]).__name__, type(section.blocks[0]).__name__

    assert first_in(Ref("location", "P-1")) == ("Callout", "Prose")
    assert first_in(Ref("location", "P-2")) == ("Prose", "Prose")
    assert first_in(Ref("page", "P-1")) == ("Prose", "Prose")
    assert first_in(Ref("page", "start")) == ("Callout", "Prose")
    assert first_in(Ref("page", "report")) == ("Prose", "Callout")


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (result(1268.0), "detected; 1,268 ng per sampler, in sentences and figures 1,270"),
        (result(12.34), "detected; 12.34 ng per sampler, in sentences and figures 12"),
        (result(), "non-detect; below its limit of 10 ng per sampler"),
        (result(rl=nan), "non-detect; below its limit of – ng per sampler"),
        (result(rejected=True), "rejected by the reviewer; the value is not used"),
        (
            result(by_person=True),
            "detected by the laboratory, non-detect by the reviewer; below 10 ng per sampler",
        ),
        (
            result(12.0, lab_qualifier="J"),
            "detected; 12 ng per sampler, in sentences and figures 12; J is the laboratory's qualifier",
        ),
        (
            result(12.0, lab_qualifier="J", validation_qualifier="J-"),
            "detected; 12 ng per sampler, in sentences and figures 12; J- is the reviewer's qualifier",
        ),
        (
            result(reportable=False),
            "non-detect; below its limit of 10 ng per sampler; not reportable, superseded by another run",
        ),
    ],
)
def test_what_was_done_with_a_row_is_told_step_by_step(row: StoredResult, told: str) -> None:
    """Between the file and the page: who found it, who judged it, its number as reported and as rounded."""
    assert steps(row, "rl") == told
