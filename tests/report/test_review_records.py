"""Comments, decisions and signatures as they stand on record, each written out by hand."""

from __future__ import annotations

import pytest
from builders import Change, changed, content, load

from sitegen.compute.evaluate import evaluate
from sitegen.findings.problems import Finding, Severity, Touch, Where
from sitegen.report.record.pages import Cell, Page, Ref, Table
from sitegen.report.review.findings import (
    about_text,
    comments_page,
    findings_page,
    signoff_table,
    subject_ref,
    target_ref,
    target_text,
)
from sitegen.report.review.lists import limits_table
from sitegen.report.trace.printed import tables_in
from sitegen.report.write.context import Context

COMMENTS = """comment_id,revision,target,class,text,by_role,raised_on,response,responded_by,state
C-1,1,text:limitations,must_fix,One,LR-1,2025-12-10,,,open
C-2,1,sampler:0047102,must_fix,Two,LR-1,,Done,PM-1,accepted
C-3,1,shipment:SH-O1,question,Three,,2025-12-11,Seen,,
C-4,1,heat_table,editorial,Four,,,,,withdrawn
"""
SIGNED = """revision,role,statement,signed_at,content_digest,licence_ref
1,PM-1,I read it,2025-12-12T10:00,aaaaaaaabbbb,
0,PM-1,I read the one before,2025-12-13T10:00,cccccccc,
1,FS-9,I read another,2025-12-12T11:00,ddddddddeeee,
1,LR-1,,,aaaaaaaabbbb,
"""
DECIDED = """finding_key,disposition,reason,by_role,on
first:SG-01,accepted,looked into,LR-1,2025-12-10
second:SG-02,explained,known,,
"""


def context_of(*changes: Change, findings: tuple[Finding, ...] = ()) -> Context:
    survey = load(changed(*changes))
    return Context(survey, evaluate(survey), findings)


@pytest.fixture(scope="module")
def plain() -> Context:
    return context_of()


def finding(code: str, severity: Severity, subject: str, kind: str = "", *touches: Touch, row: int = 7) -> Finding:
    return Finding(code, severity, subject, Where("lab/results.csv", row), code, "", "", kind, touches)


def table(page: Page, name: str) -> Table:
    return next(table for table in tables_in(page.blocks) if table.id == name)


def texts(row: tuple[Cell, ...]) -> list[str]:
    return [cell.text for cell in row]


def test_an_open_comment_that_must_be_answered_blocks_and_no_other() -> None:
    """Two of four are open, a state that is not recorded among them; of the two that must be fixed one is answered."""
    context = context_of(content("review/comments.csv", COMMENTS.encode()))
    page = comments_page(context, "")
    rows = table(page, "comments").rows
    assert [texts(row) for row in rows] == [
        ["C-1", "must fix", "open", "section Limitations", "One", "LR-1 2025-12-10", "–"],
        ["C-2", "must fix", "accepted", "sampler 0047102", "Two", "LR-1", "Done (PM-1)"],
        ["C-3", "question", "open", "shipment SH-O1", "Three", "2025-12-11", "Seen"],
        ["C-4", "editorial", "withdrawn", "heat_table", "Four", "–", "–"],
    ]
    assert [row[1].tone for row in rows] == ["hold", "", "", ""]
    assert page.lead.startswith("4 review comments, 2 of them open, 1 of these to be answered before issue.")


def test_a_comment_leads_to_what_it_is_about(plain: Context) -> None:
    """A section to the report's text, the summary to the first page, a record to its page; a word to nothing."""
    targets = (
        "text:limitations",
        "text:summary",
        "text:unknown",
        "bag:RB-1",
        "location:SG-01",
        "bag:",
        "heat_table",
        "",
    )
    assert {name: target_ref(plain, name) for name in targets} == {
        "text:limitations": Ref("page", "report", "text-limitations"),
        "text:summary": Ref("page", "start"),
        "text:unknown": Ref("page", "report"),
        "bag:RB-1": Ref("bag", "RB-1"),
        "location:SG-01": Ref("location", "SG-01"),
        "bag:": None,
        "heat_table": None,
        "": None,
    }
    said = [target_text(plain, name) for name in ("compound:pce", "location:SG-01", "return_bag:RB-1", "")]
    assert said == ["Tetrachloroethene", "SG-01", "return bag RB-1", "–"]


def test_only_a_signature_for_this_content_and_revision_is_one() -> None:
    """Of PM-1's two rows that of this revision counts; LR-1's has no moment; FS-9 signed something else."""
    context = context_of(content("review/signoff.csv", SIGNED.encode()))
    rows = signoff_table(context, "aaaaaaaabbbb").rows
    assert [texts(row) for row in rows] == [
        ["PM-1", "I read it", "2025-12-12 10:00 CST", "1", "aaaaaaaa", "signed"],
        ["LR-1", "–", "–", "–", "–", "no signature on record"],
        ["FS-9", "I read another", "2025-12-12 11:00 CST", "1", "dddddddd", "signed for another version"],
    ]
    assert [row[5].tone for row in rows] == ["", "", "hold"]
    assert [row[5].text for row in signoff_table(context, "other").rows] == [
        "signed for another version", "no signature on record", "signed for another version",
    ]  # fmt: skip


def test_the_page_counts_the_required_roles_that_signed_this_content() -> None:
    """One of the two required roles signed what is here; a role that need not sign counts for nothing."""
    digest = context_of(content("review/signoff.csv", SIGNED.encode())).survey.digest
    signed = SIGNED.replace("aaaaaaaabbbb", digest).replace("ddddddddeeee", digest)
    context = context_of(content("review/signoff.csv", signed.encode()))
    assert context.survey.digest == digest, "the digest leaves signatures out"
    assert "1 of 2 required signatures" in comments_page(context, digest).lead


def test_a_decision_stands_beside_its_finding_with_who_made_it_and_when() -> None:
    """Two of four findings are decided; a hold or a flag without a decision says so, a note needs none."""
    findings = (
        finding("custody-gap", Severity.HOLD, "SG-01"),
        finding("custody-gap", Severity.FLAG, "SG-02"),
        finding("custody-gap", Severity.FLAG, "SG-03"),
        finding("custody-gap", Severity.NOTE, "SG-04"),
    )
    decided = DECIDED.replace("first:", "custody-gap:").replace("second:", "custody-gap:")
    context = context_of(content("review/dispositions.csv", decided.encode()), findings=findings)
    page = findings_page(context)
    assert [row[5].text for row in table(page, "findings").rows] == [
        "accepted: looked into (LR-1 2025-12-10)", "explained: known", "none yet", "–",
    ]  # fmt: skip
    assert page.lead.startswith("4 findings: 1 blocks")


def test_a_finding_is_about_the_one_thing_that_it_touches(plain: Context) -> None:
    """One sampler: its point, with the compound where it is one; two samplers: what the finding's subject names."""
    one, other = Touch("0047102", "pce"), Touch("0047103", "pce")

    def told(found: Finding) -> tuple[str, Ref | None]:
        return about_text(plain, found), subject_ref(plain, found)

    flag = Severity.FLAG
    assert told(finding("x", flag, "a+b", "", one)) == ("SG-50, Tetrachloroethene", Ref("location", "SG-50"))
    assert told(finding("x", flag, "a", "", one, Touch("0047102", "tce"))) == ("SG-50", Ref("location", "SG-50"))
    assert told(finding("x", flag, "pair+two", "pair", one, other))[0] == "pair pair and two"
    assert told(finding("x", flag, "0047102", "sampler")) == ("SG-50", Ref("location", "SG-50"))
    assert told(finding("x", flag, "0047199", "sampler")) == ("sampler 0047199", Ref("sampler", "0047199"))
    assert told(finding("x", flag, "RB-1+28", "bag", one)) == ("bag RB-1", Ref("bag", "RB-1"))
    assert told(finding("x", flag, "pce+high", "compound")) == ("Tetrachloroethene", Ref("compound", "pce"))
    assert told(finding("x", flag, "L-1+tce", "blank", row=3))[0] == "Trichloroethene"
    assert told(finding("x", flag, "results+L-1", "results", row=3))[0] == "lab/results.csv, row 3"


def test_limits_tell_who_set_them(plain: Context) -> None:
    """Four limits and five figures of the plan are the project's own; all others are defaults."""
    own = limits_table(plain, own_only=True)
    assert {row[4].text for row in own.rows} == {
        "duplicate_rpd_pct", "exposure_from_median_pct", "utility_distance_m", "hold_days",
        "duplicate_rate", "samplers_per_bag", "depth_tolerance_m", "exposure_days_min", "exposure_days_max",
    }  # fmt: skip
    assert {row[2].text for row in own.rows} == {"the project"}
    every = {row[4].text: row[2].text for row in limits_table(plain, own_only=False).rows}
    assert {name for name, by in every.items() if by == "the project"} == {row[4].text for row in own.rows}
    assert every["flow_line_reach_m"] == "default"
    assert own.source_line == "project.toml"
