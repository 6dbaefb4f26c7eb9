"""What a reviewer reads says where to go and what to write: words for targets, keys, the digest to sign."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from builders import cells, changed, load, row_added, setting

from sitegen.checking import Checked, check_snapshot
from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.difference import Revision, difference
from sitegen.project.folder import Folder
from sitegen.report.bound.history import history_table
from sitegen.report.data.exports import findings_export
from sitegen.report.evidence.changes import changes_page
from sitegen.report.evidence.defence import defence_table
from sitegen.report.evidence.ledger import ledger_page
from sitegen.report.field.fieldwork import deviations_table, field_pages
from sitegen.report.points.location import location_pages
from sitegen.report.quality.page import calibration_tables
from sitegen.report.record.pages import Cell, Figure, Page, Ref, Section, Table
from sitegen.report.results.mapdata import ground
from sitegen.report.review.findings import comments_page, findings_page, findings_table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context

DECISIONS = "review/dispositions.csv"
CHANGED = cells("lab/results.csv", "04417-005+toluene", result_text="600", value="600")


@cache
def checked() -> Checked:
    return check_snapshot(changed())


def context() -> Context:
    """Return the example's context."""
    survey, evaluation = checked().survey, checked().evaluation
    assert survey is not None
    assert evaluation is not None
    return Context(survey, evaluation, checked().findings)


def revision(folder: Folder) -> Revision:
    survey = load(folder)
    return Revision(survey, evaluate(survey), (), "sitegen 1")


def table(page: Page, name: str) -> Table:
    return next(table for table in tables_in(page.blocks) if table.id == name)


def test_comments_name_what_they_are_about_in_words_and_lead_there() -> None:
    """A section by its heading, a compound by its name, each linked to its page or section."""
    found = context()
    rows = table(comments_page(found, found.survey.digest), "comments").rows
    about = {row[0].text: (row[3].text, row[3].ref) for row in rows}
    assert about["C-1"] == ("section Limitations", Ref("page", "report", "text-limitations"))
    assert about["C-2"] == ("Toluene", Ref("compound", "toluene"))
    assert about["C-3"] == ("bag RB-2", Ref("bag", "RB-2"))


def test_the_page_on_review_says_what_to_sign() -> None:
    """The whole digest stands there to be copied, and how many required signatures fit it."""
    found = context()
    page = comments_page(found, found.survey.digest)
    assert found.survey.digest in table(page, "signoff").note
    assert "0 of 2 required signatures" in page.lead
    assert "1 of these to be answered" in page.lead


def test_findings_are_about_records_and_lead_to_them() -> None:
    """No bare key: a pair, an event, a cell of a file, each with a page or its row as received."""
    rows = table(findings_page(context()), "findings").rows
    about = {row[0].ref.id: row[2] for row in rows if row[0].ref}
    assert about["duplicate-differs:0047143+0047144"].text == "pair 0047143 and 0047144"
    assert about["deviation-unrecorded:SG-16+refused"].text == "SG-16"
    assert about["hand-over-unsigned:E-0024"].ref == Ref("source", "file-custody", "row-25")
    assert about["personal-data:deployments+0047102+comment"].text == "field/deployments.csv, row 2"


def test_a_finding_about_a_duplicate_names_its_sampler() -> None:
    """10,100 is the duplicate's; the map and the point's page show 8,630 for SG-45 itself."""
    rows = table(findings_page(context()), "findings").rows
    about = {row[0].ref.id: row[2] for row in rows if row[0].ref}
    assert about["above-calibration:04417-007+124tmb"].text == "SG-45-D, duplicate at SG-45, 1,2,4-Trimethylbenzene"


def test_a_finding_leads_to_the_departure_that_it_cites() -> None:
    """The link goes to the row of DV-4, which has an anchor of its own; print writes the place out."""
    rows = table(findings_page(context()), "findings").rows
    cited = {row[4].ref for row in rows if row[4].ref}
    assert Ref("page", "deviations", "DV-4") in cited
    heads = {row[0].ref for row in deviations_table(context()).rows}
    assert cited <= heads
    assert not any("field/deployments.csv" in row[3].text for row in rows)
    assert any("(field/deployments.csv, row 5, column" in row[3].text for row in printed_rows())


def printed_rows() -> tuple[tuple[Cell, ...], ...]:
    return findings_table(context(), with_place=True).rows


def test_departures_name_what_is_not_on_record() -> None:
    """SG-16's refusal, with its finding and the comment that asks for it; nothing once it is on record."""
    page = next(page for page in field_pages(context(), None) if page.ref.id == "deviations")
    ((point, what, comment, _),) = table(page, "unrecorded").rows
    assert (point.text, what.text, what.ref) == (
        "SG-16", "refusal before target depth", Ref("finding", "deviation-unrecorded:SG-16+refused"),
    )  # fmt: skip
    assert (comment.text, comment.ref) == ("C-1, must fix", Ref("page", "review"))
    assert page.lead.startswith("7 deviations from the work plan are on record. 1 more was identified by the checks")


def test_other_runs_stand_beside_the_reported_result() -> None:
    """SS-01 in PCE: 53300 reported, 4.96E+04 on file and within its range, each leading to its row."""
    found = context()
    page = next(page for page in location_pages(found, {}) if page.ref.id == "SS-01")
    row = next(row for row in table(page, "runs-SS-01").rows if row[0].text == "Tetrachloroethene")
    assert [cell.text for cell in row[1:6]] == [
        "53300 E", "4.96E+04", "100,000", "within", "04417-019R",
    ]  # fmt: skip
    assert row[2].ref == Ref("source", "04417-019R", "pce")
    assert "first run is reported" in row[6].text
    _, runs = calibration_tables(found)
    assert [(row[0].text, row[3].text) for row in runs.rows] == [("SS-01", "4.96E+04")]


def test_a_point_leads_to_its_departures() -> None:
    found = context()
    pages = {page.ref.id: page for page in location_pages(found, {})}
    (row,) = table(pages["SG-30"], "departures-SG-30").rows
    assert (row[0].text, row[0].ref) == ("DV-4", Ref("page", "deviations", "DV-4"))
    assert "departures-SG-16" not in {table.id for table in tables_in(pages["SG-16"].blocks)}


def test_the_defensibility_sheet_speaks_of_points_not_of_checks() -> None:
    """What speaks against a statement names point and fact, and no check's code."""
    found = context()
    against = " ".join(row[3].text for row in defence_table(found).rows)
    assert "SG-27: 1.8 m from the planned position" in against
    assert not [finding.code for finding in found.findings if f"{finding.code} (" in against]


def test_the_ledger_speaks_of_a_previous_revision_only_where_there_is_one() -> None:
    """Without one the column is left out; with one a sentence on a changed compound or on its group is marked."""
    found = context()
    assert "state" not in {column.key for column in table(ledger_page(found, None), "claims-conclusions").columns}
    new = difference(revision(changed(CHANGED)), revision(changed()))
    claims = table(ledger_page(found, new), "claims-conclusions")
    states = {row[1].text: row[-1] for row in claims.rows if row[1].text}
    marked = [text for text, state in states.items() if state.tone == "flag"]
    assert [text.partition(" around")[0][:30] for text in marked] == [
        "The fuel aromatics are attribu", "Chlorinated ethenes and fuel a", "Toluene and m-xylene in the so",
    ]  # fmt: skip


def test_the_ledger_tells_how_a_changed_sentence_was_printed_before() -> None:
    """The highest mass stands in a sentence of the conclusions: the new text, and a line for the old one."""
    old = changed(cells("lab/results.csv", "04417-019+pce", result_text="61400", value="61400"))
    found = context()
    new = difference(revision(old), revision(changed()))
    rows = table(ledger_page(found, new), "claims-conclusions").rows
    (before,) = [row for row in rows if row[-1].text.startswith("before: ")]
    assert before[0].text == "1"
    assert before[-1].text.endswith("tetrachloroethene is highest, 61,400 ng per sampler (SS-01; E).")
    assert "53,300 ng per sampler (SS-01; E)" in rows[0][1].text
    assert rows[0][-1].text == "read again, changed: max.pce; Tetrachloroethene; chlorinated ethenes; SS-01"


def test_the_history_of_earlier_revisions_names_what_its_keys_mean() -> None:
    """A result by compound and point, many by their beginning, a section by its heading; a setting by its name."""
    keys = {
        "results:04417-019+pce": "Tetrachloroethene at SS-01",
        "results:04417-*": "results of 04417-…",
        "text:setting": "text of the section “setting”",
        "locations:SG-05": "point SG-05",
        "setting:plan.duplicate_rate": "setting:plan.duplicate_rate",
        "text/setting.md": "text/setting.md",
    }
    rows = [row_added("review/changes.csv", revision="1", key=key, reason="known") for key in keys]
    history = history_table(replace(context(), survey=load(changed(*rows))))
    assert history is not None
    assert [row[1].text for row in history.rows] == list(keys.values())


def test_changed_points_are_drawn_and_named() -> None:
    """The page on changes has a map of the points that a change is about; one taken out since is named."""
    old = changed(CHANGED, row_added("locations/locations.csv", location_id="SG-99", medium="soil_gas"))
    found = difference(revision(old), revision(changed()))
    page = changes_page(context(), found, ground(context()))
    (figure,) = (b for s in page.blocks if isinstance(s, Section) for b in s.blocks if isinstance(b, Figure))
    assert figure.description.startswith("Changed: ")
    assert figure.description.endswith("and not drawn: SG-99.")
    assert figure.svg.count('r="7"') == 1


def test_each_change_shows_the_key_that_a_reason_needs() -> None:
    """The key of changes.csv stands beside the change, a setting's as well."""
    new = difference(
        revision(changed(CHANGED, setting("duplicate_rate = 0.05", "duplicate_rate = 0.1"))), revision(changed())
    )
    page = changes_page(context(), new)
    keys = {row[7].text for name in ("values", "settings") for row in table(page, f"changes-{name}").rows}
    assert keys == {change.key for change in new.changes}
    assert "review/changes.csv" in table(page, "changes-values").note


def test_the_history_writes_revisions_as_whole_numbers() -> None:
    """Reasons of two revisions stand under 1 and 2, as a person writes them."""
    reasons = (row_added("review/changes.csv", revision=n, key=f"file:{n}", reason="re-issued") for n in ("1", "2"))
    history = history_table(replace(context(), survey=load(changed(*reasons))))
    assert history is not None
    assert [[cell.text for cell in row] for row in history.rows] == [
        ["1", "file:1", "re-issued"],
        ["2", "file:2", "re-issued"],
    ]


def test_a_decision_by_a_star_says_so_on_the_page_and_in_the_export() -> None:
    """Who reads one finding sees that it was not decided alone."""
    star = {"disposition": "accepted", "reason": "diluted runs", "by_role": "LR-1", "on": "2025-12-11"}
    of_all = replace(context(), survey=load(changed(row_added(DECISIONS, finding_key="above-calibration:*", **star))))
    rows = findings_table(of_all).rows
    starred = [row[-1].text for row in rows if "above-calibration:*" in row[-1].text]
    assert len(starred) > 3
    assert set(starred) == {"accepted: diluted runs (LR-1 2025-12-11). Decision for all of above-calibration:*"}
    (alone,) = [row[-1].text for row in rows if row[-1].text.startswith("accepted: Masses at SG-37")]
    assert "Decided for" not in alone
    export = findings_export(of_all)
    decided = {str(row[0]): row[-1] for row in export.rows if str(row[0]).startswith(("above-cal", "water-in"))}
    assert decided.pop("water-in-sampler:0047154") == "accepted"
    assert set(decided.values()) == {"accepted (all of above-calibration:*)"}
