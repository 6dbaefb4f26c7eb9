"""A sign-off holds for one content: one changed byte un-signs every page."""

from __future__ import annotations

import hashlib
import re
from io import BytesIO
from pathlib import Path

import pytest
from builders import Change, changed, content, example, load, removed, setting, table, write
from pypdf import PdfReader

from sitegen.archive.make import archive
from sitegen.checking import check_snapshot
from sitegen.checks.review import signatures_missing
from sitegen.compute.custody.signatures import signature_state, signed_roles
from sitegen.findings.problems import Finding, Stopped
from sitegen.pipeline import build, prepare
from sitegen.project.folder import Folder
from sitegen.report.assemble import status_word

SIGNOFF = "review/signoff.csv"
STALE = "a signature does not match this content"


def signed(roles: tuple[str, ...] = ("PM-1", "LR-1"), folder: Folder | None = None) -> Folder:
    """Return the example, or another folder, with signatures for its present content."""
    digest = load(folder or example()).digest
    rows = [f"1,{role},I have read it.,2025-12-12T10:00,{digest},\n" for role in roles]
    head = "revision,role,statement,signed_at,content_digest,licence_ref\n"
    return changed(content(SIGNOFF, "".join([head, *rows]).encode()), folder=folder or example())


@pytest.fixture(scope="module")
def settled() -> Folder:
    """Return the example with a disposition of each of its findings, to be issued: its signatures alone are awaited."""
    issued = changed(setting('status = "review"', 'status = "issued"'))
    keys = [finding.key for finding in check_snapshot(issued).findings if finding.code != "signoff-missing"]
    made = {"disposition": "accepted", "reason": "looked into", "by_role": "LR-1", "on": "2025-12-11"}
    return changed(table("review/dispositions.csv", lambda _: [{"finding_key": k} | made for k in keys]), folder=issued)


def refused(folder: Folder) -> list[Finding]:
    """Return what keeps a folder from being issued; nothing where it may go."""
    try:
        prepare(check_snapshot(folder), issue=True)
    except Stopped as stopped:
        return list(stopped.findings)
    return []


def test_signatures_of_every_role_sign_this_content() -> None:
    """Nobody, some and all of the required roles give three states."""
    assert signature_state(load(example())) == "none"
    assert signature_state(load(signed(("PM-1",)))) == "part"
    assert signature_state(load(signed())) == "whole"


def test_a_row_without_its_moment_or_of_another_revision_is_no_signature() -> None:
    """State and count of signatures agree: a row that waits to be signed, or is of revision 0, counts for nothing."""
    for old, new in ((b",2025-12-12T10:00,", b",,"), (b"\n1,", b"\n0,")):
        survey = load(changed(Change(SIGNOFF, lambda text, o=old, n=new: text.replace(o, n)), folder=signed()))
        assert signature_state(survey) == "none"
        assert signed_roles(survey) == frozenset()


def test_the_digest_is_of_the_files_alone_and_common_tools_repeat_it(tmp_path: Path) -> None:
    """``sha256sum`` over the files, sorted by path, and once more over its lines gives what a signature is bound to."""
    folder = write(example(), tmp_path / "survey")
    paths = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    lines = [
        f"{hashlib.sha256((folder / path).read_bytes()).hexdigest()}  {path}\n"
        for path in paths
        if path != SIGNOFF and not path.startswith("private/")
    ]
    assert load(example()).digest == hashlib.sha256("".join(lines).encode()).hexdigest()


@pytest.mark.parametrize(
    "path", [path for path in example().files if path != SIGNOFF and not path.startswith("private/")]
)
def test_one_changed_byte_in_any_input_unsigns(path: str) -> None:
    """A byte more at the end of any input file, and no signature fits any longer."""
    survey = load(changed(Change(path, lambda old: old + b"\n"), folder=signed()))
    assert signature_state(survey) == "stale"
    assert status_word(survey, issue=True) != "issued"


@pytest.mark.long
def test_every_page_of_site_and_print_says_that_the_signature_does_not_fit(tmp_path: Path) -> None:
    """After one more byte in a text, each page of the site and of the PDF says so."""
    folder = changed(Change("text/setting.md", lambda old: old + b"\n"), folder=signed())
    out = build(write(folder, tmp_path / "survey"), tmp_path / "out").out
    pages = list((out / "site").rglob("*.html"))
    assert len(pages) > 200
    for page in pages:
        assert STALE in page.read_text("utf-8"), page.name
    reader = PdfReader(BytesIO((out / "site/downloads/report.pdf").read_bytes()))
    assert len(reader.pages) > 50
    for number, printed in enumerate(reader.pages, start=1):
        assert STALE in " ".join(printed.extract_text().split()), number
    review = (out / "site/review.html").read_text("utf-8")
    assert "signed for another version" in review
    assert re.search(r"not an electronic signature in law", review)


def test_a_report_that_every_required_role_signed_is_issued(settled: Folder) -> None:
    """With all findings decided and both signatures for this content, the report is issued, and says so."""
    folder = signed(folder=settled)
    assert refused(folder) == []
    _, made, _ = prepare(check_snapshot(folder), issue=True)
    assert made.bound.meta.status_word == "issued"


def test_an_issue_waits_for_the_one_role_that_has_not_signed(settled: Folder) -> None:
    """Of two roles one signed: the refusal names the other, and only the other."""
    (found,) = refused(signed(("PM-1",), settled))
    assert (found.key, found.severity.value) == ("signature-missing:revision 1+LR-1", "hold")
    assert found.found == "no row for LR-1"


@pytest.mark.parametrize(
    ("absent", "words"),
    [(True, "no signature of {}: the file is absent"), (False, "no row for {}")],
    ids=["absent", "header only"],
)
def test_an_issue_waits_where_nobody_has_signed(settled: Folder, absent: bool, words: str) -> None:
    """Without the table, or with its header alone, each required role is named, once."""
    folder = changed(removed(SIGNOFF), folder=settled) if absent else signed((), settled)
    found = refused(folder)
    assert [f.key for f in found] == [f"signature-missing:revision 1+{role}" for role in ("LR-1", "PM-1")]
    assert [f.found for f in found] == [words.format(role) for role in ("LR-1", "PM-1")]


@pytest.mark.parametrize(
    ("old", "new", "words", "column"),
    [
        (b",2025-12-12T10:00,", b",,", "a row for {} without the time of signing", "signed_at"),
        (b"\n1,", b"\n0,", "{} on record for revision 0 only", "revision"),
    ],
    ids=["not dated", "another revision"],
)
def test_a_row_that_is_no_signature_of_this_revision_issues_nothing(
    settled: Folder, old: bytes, new: bytes, words: str, column: str
) -> None:
    """A row without its moment, or of another revision, is named with what it lacks and where it stands."""
    whole = signed(folder=settled)
    found = refused(changed(Change(SIGNOFF, lambda text: text.replace(old, new)), folder=whole))
    assert [f.found for f in found] == [words.format(role) for role in ("PM-1", "LR-1")]
    assert [(f.where.row, f.where.column) for f in found] == [(2, column), (3, column)]


def test_signatures_for_other_content_issue_nothing_and_no_disposition_helps(settled: Folder) -> None:
    """After one more byte each signature is stale: each role is named once, whatever was decided about it."""
    row = "signoff-stale:revision 1+{},accepted,looked into,LR-1,2025-12-11\n"
    decided = "".join(row.format(role) for role in ("PM-1", "LR-1")).encode()
    whole = signed(folder=settled)
    digest = load(whole).digest
    found = refused(changed(Change("review/dispositions.csv", lambda old: old + decided), folder=whole))
    assert [f.key for f in found] == [f"signature-missing:revision 1+{role}" for role in ("PM-1", "LR-1")]
    assert all(f"signed a different version (digest {digest[:8]})" in f.found for f in found)


def test_a_status_other_than_issued_does_not_spare_the_signatures() -> None:
    """The example, in review and unsigned, is refused for its signatures too; its draft is built without a word."""
    found = {finding.code for finding in refused(example())}
    assert {"signature-missing", "comment-must-fix"} <= found
    assert "signature-missing" not in {finding.code for finding in check_snapshot(example()).findings}
    prepare(check_snapshot(example()))


def test_where_no_role_must_sign_no_signature_is_missing() -> None:
    """A project that requires no signature is not held for one."""
    folder = changed(setting('roles_required = ["PM-1", "LR-1"]', "roles_required = []"))
    assert list(signatures_missing(load(folder))) == []


def test_an_archive_for_issue_waits_for_the_signatures_as_well(settled: Folder, tmp_path: Path) -> None:
    """An archive for issue is refused, naming the role, and nothing is written."""
    with pytest.raises(Stopped, match="issued") as stopped:
        archive(write(signed(("LR-1",), settled), tmp_path / "survey"), tmp_path / "out", issue=True)
    assert [finding.subject for finding in stopped.value.findings] == ["revision 1+PM-1"]
    assert not (tmp_path / "out").exists()
