"""The page on changes writes each change out as it stands: a difference put together by hand."""

from __future__ import annotations

import pytest
from builders import changed, content, load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.difference import Change, Difference
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.report.evidence.changes import changes_page, changes_table, marked_words
from sitegen.report.evidence.changetables import extent
from sitegen.report.record.pages import Cell, Facts, Page, Prose, Ref, Table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context

DOUBLED = Change(
    "value", "results:L-1+pce", "lab/results.csv", "SG-01, PCE", "value", "25", "50", 2.0,
    location_id="SG-01", in_summary=True,
)  # fmt: skip
QUALIFIED = Change("qualifier", "results:L-2+pce", "lab/results.csv", "SG-02, PCE", "lab_qualifier", "", "J")
MOVED = Change(
    "moved", "locations:SG-02", "locations/locations.csv", "SG-02", "", "1, 2", "4, 6", moved_m=5.0, location_id="SG-02"
)
REWRITTEN = Change(
    "text", "text:setting", "text/setting.md", "setting", "", "", "",
    words=(("same", "The water lies"), ("removed", "deep"), ("added", "near the surface")),
)  # fmt: skip
LIMIT = Change("setting", "rules.duplicate_rate", "project.toml", "rules.duplicate_rate", "", "0.05", "0.1")
REASONS = "revision,key,reason\n1,results:L-1+pce,the laboratory corrected a dilution\n1,text/setting.md,asked for\n"


def finding(code: str, severity: Severity) -> Finding:
    return Finding(code, severity, "SG-01", Where("lab/results.csv"), f"what {code} says", "", "")


FOUND = Difference(
    (DOUBLED, QUALIFIED, MOVED, REWRITTEN, LIMIT),
    (finding("newly-there", Severity.HOLD),), (finding("gone-now", Severity.FLAG),),
    ("sitegen 1", "sitegen 2"), ("0123456789abcdef", "fedcba9876543210"), (3, 4), frozenset(),
)  # fmt: skip


@pytest.fixture(scope="module")
def page() -> Page:
    survey = load(changed(content("review/changes.csv", REASONS.encode())))
    return changes_page(Context(survey, evaluate(survey), ()), FOUND)


def table(page: Page, name: str) -> Table:
    return next(table for table in tables_in(page.blocks) if table.id == f"changes-{name}")


def texts(row: tuple[Cell, ...]) -> list[str]:
    return [cell.text for cell in row]


def test_a_change_stands_in_its_own_table_with_its_old_and_its_new_text(page: Page) -> None:
    """25 ng before and 50 now is a factor of 2, printed in the summary; a point moved by 5 m; a dash for nothing."""
    doubled, qualified = table(page, "values").rows
    assert texts(doubled) == [
        "SG-01, PCE", "value", "value", "25", "50", "× 2.0", "yes", "results:L-1+pce",
        "the laboratory corrected a dilution",
    ]  # fmt: skip
    assert texts(qualified)[2:7] == ["lab_qualifier", "–", "J", "–", "–"]
    assert table(page, "values").landscape, "nine columns"
    (moved,) = table(page, "records").rows
    assert texts(moved)[0::5] == ["SG-02", "5.00 m"]
    assert texts(moved)[2:5] == ["–", "1, 2", "4, 6"]
    (limit,) = table(page, "settings").rows
    assert texts(limit)[3:5] == ["0.05", "0.1"]
    assert (doubled[0].ref, moved[0].ref, limit[0].ref) == (Ref("location", "SG-01"), Ref("location", "SG-02"), None)


def test_only_a_change_without_a_reason_is_a_hold(page: Page) -> None:
    """A reason by the key, or by the file of a text, stands beside the change; none yet is said and marked."""
    reasons = {row[7].text: row[8] for name in ("values", "records", "settings") for row in table(page, name).rows}
    assert reasons["results:L-1+pce"].tone == ""
    assert (reasons["results:L-2+pce"].text, reasons["results:L-2+pce"].tone) == ("none yet", "hold")
    (text,) = table(page, "text").rows
    assert (text[3].text, text[3].tone) == ("asked for", "")


def test_words_taken_out_and_put_in_are_told_apart(page: Page) -> None:
    """What went stands between minus signs, what came between plus signs, in the order of the text."""
    (row,) = table(page, "text").rows
    assert row[1].text == "The water lies [-deep-] {+near the surface+}" == marked_words(REWRITTEN)
    assert row[0].ref == Ref("page", "report", "text-setting")


def test_the_page_begins_with_what_changed_from_which_revision(page: Page) -> None:
    """Five changes since revision 3, made by another tool; beside results a point, a section and a setting."""
    told = next(block.markdown for block in page.blocks if isinstance(block, Prose)).replace("\\", "")
    assert told.endswith(
        "\n\nTotal: 5 changes since revision 3, compared by key; files in *review/* are excluded from the comparison."
    )
    assert "* Other changes: 1 point moved (SG-02 by 5.00 m), the text of the setting, 1 setting.\n" in told
    assert "* Findings about the survey: 1 opened, 1 closed.\n" in told
    facts = next(block for block in page.blocks if isinstance(block, Facts))
    assert {name: cell.text for name, cell in facts.rows} == {
        "Revisions": "3, now 4",
        "Content digests": "01234567, now fedcba98",
        "Tool": "sitegen 1, now sitegen 2",
    }


def test_each_changed_point_tells_its_own_changes_alone(page: Page) -> None:
    """SG-01 by its value, SG-02 by its position; a qualifier that names no point is with neither."""
    assert [(row[0].text, row[2].text) for row in table(page, "points").rows] == [
        ("SG-01", "SG-01, PCE: value, formerly 25, now 50"),
        ("SG-02", "SG-02: moved, formerly 1, 2, now 4, 6"),
    ]


def test_findings_that_opened_lead_to_themselves_and_closed_ones_nowhere(page: Page) -> None:
    """A closed finding has no row to lead to."""
    opened, closed = table(page, "findings").rows
    assert (texts(opened), opened[1].ref, opened[0].tone) == (
        ["opened", "newly-there:SG-01", "what newly-there says"], Ref("finding", "newly-there:SG-01"), "hold",
    )  # fmt: skip
    assert (texts(closed), closed[1].ref, closed[0].tone) == (
        ["closed", "gone-now:SG-01", "what gone-now says"], None, "muted",
    )  # fmt: skip


def test_a_table_without_changes_says_so_and_asks_for_no_reason() -> None:
    """The note on how to record a reason stands only where a change needs one."""
    made = changes_table(FOUND, ("feature",), "records", ())
    assert (made.rows, made.note, made.empty) == ((), "", "No change.")


@pytest.mark.parametrize(
    ("factor", "text"), [(0.5, "× 0.50"), (1.006, "× 1.006"), (1.0004, "× 1.0004"), (1200.0, "× 1,200")]
)
def test_a_factor_never_reads_as_one(factor: float, text: str) -> None:
    """Two figures as any rounded number, and as many as tell it from 1."""
    assert extent(Change("value", "", "", "", "", "", "", factor)) == text
