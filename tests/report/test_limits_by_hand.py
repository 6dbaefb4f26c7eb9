"""What the report does at a limit and one beyond it: the numbers are those that a reader is told, written out here."""

from __future__ import annotations

import byhand_survey as survey
import pytest
from builders import load

from sitegen.compute.evaluate import evaluate
from sitegen.report.evidence.working import working_page
from sitegen.report.points.results import result_figures
from sitegen.report.record.pages import PrintedValue, Ref, Section, Table
from sitegen.report.results import compound, patterns
from sitegen.report.write.context import Context
from sitegen.report.write.publish import guarded_texts


def context(*, level: str = "internal", comment: str = "") -> Context:
    """Return the context of the survey worked by hand, at a level, with the words of its review comment."""
    settings = survey.FILES["project.toml"].replace("[publish]\n", f'[publish]\nlevel = "{level}"\n')
    comments = survey.FILES["review/comments.csv"].replace("Which Benzene is left after the blanks?", comment)
    one = load(survey.folder(survey.FILES | {"project.toml": settings, "review/comments.csv": comments}))
    return Context(one, evaluate(one), ())


@pytest.mark.parametrize(("letters", "guarded"), [(11, False), (12, True)])
def test_a_withheld_comment_of_twelve_letters_is_looked_for_in_what_is_written(letters: int, *, guarded: bool) -> None:
    """A shorter one would be found in other sentences."""
    assert ("x" * letters in guarded_texts(context(level="public", comment="x" * letters).survey)) is guarded


@pytest.mark.parametrize(("count", "left"), [(25, False), (26, True)])
def test_a_points_drawing_has_25_detections(count: int, *, left: bool) -> None:
    """Of more it says how many are not drawn."""
    hand = context()
    row = next(row for row in hand.by_location["SG-4"] if row.detected)
    (drawn,) = result_figures(hand, "SG-4", [row] * count)
    assert ("more not drawn" in drawn.svg) is left


@pytest.mark.parametrize(
    ("detected", "others", "left"), [(60, 0, 0), (61, 0, 1), (61, 3, 4), (1, 39, 0), (1, 40, 1), (41, 1, 1)]
)
def test_a_compounds_drawing_has_sixty_bars_and_goes_on_with_nondetects_up_to_forty(
    detected: int, others: int, left: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand = context()
    one = next(one for one in hand.evaluation.compounds if one.analyte_id == "pce")
    found = next(row for row in compound.soil_rows(hand, one) if row.detected)
    missed = next(row for row in compound.soil_rows(hand, one) if not row.detected)
    monkeypatch.setattr(compound, "soil_rows", lambda *_: [found] * detected + [missed] * others)
    drawn = compound.ranked_figure(hand, one).svg
    assert ("not drawn" in drawn) is bool(left)
    told = f"{left} more not drawn ({detected - 60} detected)" if detected > 60 else f"{left} non-detect not drawn"
    assert not left or told in drawn


@pytest.mark.parametrize(("compounds", "sheets"), [(12, [12]), (13, [12, 1]), (24, [12, 12])])
def test_a_sheet_has_twelve_small_maps(compounds: int, sheets: list[int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patterns, "mapped_compounds", lambda _: [*range(compounds)])
    monkeypatch.setattr(patterns, "_sheet_once", lambda _, __, part, number, count: (len(part), number, count))
    shown = patterns.multiples_figures(None, None)  # type: ignore[arg-type]
    assert shown == tuple((maps, at, len(sheets)) for at, maps in enumerate(sheets, start=1))


@pytest.mark.parametrize(("count", "rows"), [(300, 300), (301, 300)])
def test_the_page_of_values_to_compare_has_three_hundred(count: int, rows: int) -> None:
    """The file to download has all of them, and the note says of how many these are."""
    value = PrintedValue(Ref("page", "start"), "table", "t", "row", 1, "c", "1", ("f.csv", 2, "c"), ())
    page = working_page(context(), (), (value,) * count)
    (part,) = (block for block in page.blocks if isinstance(block, Section) and block.id == "sample")
    (table,) = (block for block in part.blocks if isinstance(block, Table))
    assert len(table.rows) == rows
    assert f"{rows}" in table.note
    assert f"{count}" in table.note
