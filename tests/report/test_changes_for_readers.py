"""Changes in a copy for the client: what concerns them, in sentences and tables, and nothing that is withheld."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache

import pytest
from builders import (
    Change,
    cell,
    cells,
    changed,
    content,
    example,
    feature_added,
    row_added,
    sentence,
    setting,
    text,
)

from sitegen.checking import check_snapshot, with_previous
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.project.revisions import Opened
from sitegen.project.settings import PublishPart
from sitegen.report.evidence.changesshown import may_tell_changes
from sitegen.report.record.pages import Page, Report
from sitegen.report.trace.printed import tables_in

RESULTS, LOCATIONS = "lab/results.csv", "locations/locations.csv"
REMARK, NEW_REMARK = "Began twenty minutes late at the gate.", "Cover stone put back by the crew, by hand."
GATE, TAKEN_OUT = "Gate of Varnhollow", "Nobody has told the tenant of the laundry yet."
REASONS = "revision,key,reason\n2,results:04417-005+pce,a dilution was entered twice\n2,text/setting.md,asked for\n"
QUIET = cell("field/deployments.csv", "0047102", "comment", REMARK)
AS_NEXT = (
    setting("revision = 1", 'revision = 2\nprevious = "../first"'),
    setting("report_date = 2025-12-12", "report_date = 2026-01-09"),
    content("review/changes.csv", REASONS.encode()),
)
TEAM = (
    cell("field/deployments.csv", "0047102", "comment", NEW_REMARK),
    setting("duplicate_rate = 0.05", "duplicate_rate = 0.1"),
    feature_added({"type": "Point", "coordinates": [-99.3675, 43.0825]}, kind="other", name=GATE, public="no"),
    row_added("field/deviations.csv", deviation_id="DV-99", date="2025-11-06", what="Stone", why="Gate"),
    cell("review/comments.csv", "C-3", "text", "A comment of the review that is long enough."),
)
CONCERNS = (
    cells(RESULTS, "04417-005+pce", result_text="8.0", value="8.0"),
    cell(LOCATIONS, "SG-05", "easting", "470098.33"),
    text("text/setting.md", TAKEN_OUT, "The yard was swept."),
)


@cache
def before() -> Folder:
    kept = {path: file for path, file in example().files.items() if not path.startswith("private/")}
    return changed(QUIET, sentence("setting", TAKEN_OUT), folder=Folder(kept, (), ()))


def copy_for(level: str, withhold: str) -> tuple[Change, Change]:
    return (
        setting('level = "internal"', f'level = "{level}"'),
        setting("withhold = []", f"withhold = {withhold}"),
    )


@cache
def report(level: str, withhold: str = "[]") -> Report:
    """Return the second revision's report for a level: what concerns a client changed, and what does not."""
    checked = check_snapshot(changed(*AS_NEXT, *TEAM, *CONCERNS, *copy_for(level, withhold), folder=before()))
    return compose(with_previous(checked, Opened(before(), "")))[1]


def page(found: Report) -> Page | None:
    return next((page for page in found.pages if page.ref.id == "changes"), None)


def texts(value: object) -> Iterator[str]:
    """Yield every text of a record and of all that it holds."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple | list):
        for item in value:
            yield from texts(item)
    elif is_dataclass(value):
        for field in fields(value):
            yield from texts(getattr(value, field.name))


def rows(some: Page, name: str) -> list[list[str]]:
    return next([[c.text for c in row] for row in t.rows] for t in tables_in(some.blocks) if t.id == f"changes-{name}")


def test_a_client_gets_results_points_text_and_statements_with_reasons() -> None:
    """The value with its file and reason, the moved point, the words put in; the lead is the team's own sentence."""
    client, inside = page(report("client")), page(report("internal"))
    assert client is not None
    assert inside is not None
    assert client.lead == inside.lead
    assert client.lead.endswith("in lab/results.csv. Reason on record: “a dilution was entered twice”.")
    assert rows(client, "results") == [
        ["Tetrachloroethene at SG-31", "7.0 (J)", "8.0 ng per sampler (J)", "× 1.1", "lab/results.csv",
         "a dilution was entered twice"]
    ]  # fmt: skip
    assert rows(client, "points") == [["SG-05", "moved", "0.23 m", "none on record"]]
    assert rows(client, "text") == [["Setting", "The yard was swept.", "asked for"]]
    assert len(rows(client, "statements")) == len(rows(inside, "statements")) == 11


def test_a_client_is_told_no_matter_of_the_team() -> None:
    """No key, setting, record, finding, remark, private feature, comment or word taken out, here or in the history."""
    found = report("client")
    told = " ".join(texts((page(found), found.history)))
    wrong = [
        "results:04417", "duplicate_rate", "DV-99", "finding", REMARK, NEW_REMARK, GATE, TAKEN_OUT,
        "A comment of the review", "changes.csv", "setting:",
    ]  # fmt: skip
    assert [words for words in wrong if words in told] == []
    inside = " ".join(texts((page(report("internal")), report("internal").history)))
    assert [words for words in wrong if words not in inside] == ["A comment of the review"]


def test_the_history_of_a_client_has_the_values() -> None:
    """Value and text with their reasons; what has none on record stands in a line of its own."""
    history = report("client").history
    assert history is not None
    assert [[cell.text for cell in row] for row in history.rows] == [
        ["2", "Tetrachloroethene at SG-31: 7.0 (J) → 8.0 ng per sampler (J)", "a dilution was entered twice"],
        ["2", "text of the section “setting”", "asked for"],
        ["2", "SG-05: moved by 0.23 m", "none on record"],
    ]


def test_a_public_copy_and_one_that_withholds_it_tell_of_no_change() -> None:
    """No page, no state in the ledger, and in the history the reasons without values."""
    for found in (report("public"), report("client", '["changed_results"]'), report("client", '["revision_changes"]')):
        assert page(found) is None
        assert not [page for page in found.pages if page.ref.id == "claims"], "for reviewers alone"
        assert found.history is not None
        assert "8.0" not in " ".join(texts(found.history))


def test_a_copy_inside_that_withholds_remarks_shows_none_in_its_comparison() -> None:
    """The cell is there and its words are not; private features are gone where they are withheld."""
    inside = page(report("internal", '["field_comments", "private_features"]'))
    assert inside is not None
    told = " ".join(texts(inside))
    assert [words for words in (REMARK, NEW_REMARK, GATE) if words in told] == []
    (row,) = [row for row in rows(inside, "records") if row[2] == "comment"]
    assert row[3:5] == ["[remark withheld]", "[remark withheld]"]
    whole = page(report("internal"))
    assert whole is not None
    assert [words for words in (REMARK, NEW_REMARK, GATE) if words not in " ".join(texts(whole))] == []


def test_a_point_that_is_gone_is_not_named_where_ids_are_withheld() -> None:
    """X-77 was planned and is no more; without a label in this revision nothing may stand for its id."""
    planned = {
        "location_id": "X-77",
        "medium": "soil_gas",
        "status": "planned",
        "easting": "470010",
        "northing": "4770040",
    }
    first = changed(row_added(LOCATIONS, **planned), folder=before())

    def told(withhold: str) -> str:
        checked = check_snapshot(changed(*AS_NEXT, *copy_for("client", withhold), folder=before()))
        made = compose(with_previous(checked, Opened(first, "")))[1]
        return " ".join(texts((page(made), made.history))).replace("\\", "")

    assert "1 point removed (X-77)" in told("[]")
    withheld = told('["location_ids"]')
    assert "1 point removed" in withheld
    assert "X-77" not in withheld


@pytest.mark.parametrize(
    ("level", "withhold", "shows"),
    [
        ("internal", [], True),
        ("client", [], True),
        ("public", [], False),
        ("client", ["changed_results"], False),
        ("internal", ["revision_changes"], False),
    ],
)
def test_who_may_be_told_of_changes(level: str, withhold: list[str], *, shows: bool) -> None:
    """Inside and client, unless the project withholds either class; never the public."""
    stated = PublishPart.model_validate({"level": level, "withhold": withhold})
    assert may_tell_changes(stated) is shows
