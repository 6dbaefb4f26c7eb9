"""What the report opens with where there are several rounds: which it tells of, and what changed since the last one."""

from __future__ import annotations

from dataclasses import replace

from builders import example
from hand_rounds import context, folder, page, report, section, table, texts, without_second

from sitegen.checking import check_snapshot
from sitegen.compute.field.weather import idle_spans
from sitegen.pipeline import compose
from sitegen.render.print.front import control_facts
from sitegen.report.letter.compose import letter
from sitegen.report.record.pages import Block, Prose, Ref, Section
from sitegen.report.rounds.changes import brief
from sitegen.report.rounds.sides import earlier_rounds
from sitegen.report.rounds.told import masses_table

START = Ref("page", "start")
TOLD = (
    "2 rounds are on record: Spring round; Autumn round, with its supplement. "
    "Unless a round is named, this report describes Autumn round only."
)
CHANGED = (
    "Since Spring round: 11 results (one compound at one point) can be compared. 5 were detected in both rounds: "
    "1 increased and 1 decreased beyond the field-duplicate criterion. 2 were newly detected and 1 no longer detected; "
    "for 1 of these the other round’s reporting limit does not allow a change to be established."
)
"""By hand from the table in ``hand_rounds``: of 12 rows C's benzene is rejected; B's benzene of 5 lies below 10."""


def words(blocks: tuple[Block, ...]) -> str:
    """Return the sentences of blocks as they are read."""
    return "\n".join(one.markdown.replace("\\", "") for one in blocks if isinstance(one, Prose))


def test_the_summary_says_which_round_it_tells_of_and_what_changed() -> None:
    """On the page, in print and in the letter alike; the page leads to more, the first number names its round."""
    start = page(START)
    told = next(
        one for one in section(start.blocks, "found").blocks if isinstance(one, Prose) and TOLD in words((one,))
    )
    assert CHANGED in words((told,))
    assert [ref.id for ref in told.refs] == ["rounds", "round-changes"]
    assert "\n\nResults of Autumn round. Masses show" in words(section(start.blocks, "found").blocks)
    chapter = next(one for one in report().chapters if one.id == "summary")
    printed = words(section(chapter.blocks, "summary-found").blocks)
    assert TOLD in printed
    assert CHANGED in printed
    assert "See the chapter “Comparison of sampling rounds”." in printed
    assert "Comparison of sampling rounds" in {one.title for one in report().chapters}
    (found,) = (one for one in letter(context(), report().meta, None, None).blocks
                if isinstance(one, Section) and one.title == "Results of the survey")  # fmt: skip
    sent = words(found.blocks)
    assert TOLD in sent
    assert CHANGED in sent


def test_the_cover_names_the_round_with_its_supplement() -> None:
    """The round stands among the lines of the cover where there are several, and no such line where there is one."""
    assert ("Round", "Autumn round, with its supplement") in control_facts(report().meta)
    assert "Round" not in dict(control_facts(compose(check_snapshot(example()))[1].meta))


def test_a_supplement_alone_and_a_single_round_claim_no_change() -> None:
    """With a supplement the page says so and leads to the rounds; with one round it says nothing of rounds."""
    start = page(START, compose(check_snapshot(folder(without_second())))[1])
    found = words(section(start.blocks, "found").blocks)
    assert "Spring round is reported with 1 supplement." in found
    assert "changed" not in found
    assert not brief(replace(context(), earlier=(), campaign=replace(context().campaign, supplements=())))


def test_findings_about_another_round_speak_against_nothing_here() -> None:
    """By hand: RB-2 and 301 alone lack a holder after the field, RB-2 before it too; the gaps of RB-1 are R1's."""
    start = page(START)
    sure = next(one for one in start.blocks if isinstance(one, Section) and one.id == "sure")
    assert "3 custody gaps (hand-overs of 6 of 7 samplers on record)" in words(sure.blocks)
    sheet = table(page(Ref("page", "defensibility")).blocks, "defensibility")
    assert not [row for row in texts(sheet) if "RB-1" in row[3]]


def test_the_time_without_a_sampler_is_told_with_the_weather() -> None:
    """By hand: out on 15 October at 9:00, the supplement in on 5 November at 9:00: 21 days."""
    (span,) = idle_spans(context().survey)
    assert (span[1] - span[0]) / (24 * 60) == 21
    (earlier,) = context().earlier
    assert not idle_spans(earlier.survey)
    (figure,) = section(page(Ref("page", "field")).blocks, "weather").blocks
    said = getattr(figure, "description", "").replace("\\", "")
    assert "From 15 October 2025, 09:00 to 5 November 2025, 09:00 no sampler was in place" in said


def test_a_factor_of_concentrations_is_told_apart_from_the_masses_beside_it() -> None:
    """In air the factor is of concentrations: the note under the masses says so there, and there alone."""
    (earlier,) = earlier_rounds(context())
    point = next(one for one in earlier.change.points if one.factor)
    notes = [
        masses_table(context(), earlier, ("t", "T"), [change], by_compound=True).note
        for change in (point, replace(point, quantity="concentration"))
    ]
    assert ["not of the masses listed" in note for note in notes] == [False, True]
