"""A sign-off holds for one content: one changed byte un-signs every page."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

import pytest
from builders import Change, changed, content, example, load, write
from pypdf import PdfReader

from sitegen.compute.signatures import signature_state, signed_roles
from sitegen.pipeline import build
from sitegen.project.folder import Folder
from sitegen.report.assemble import status_word

SIGNOFF = "review/signoff.csv"
STALE = "a signature does not fit this content"


def signed(roles: tuple[str, ...] = ("PM-1", "LR-1")) -> Folder:
    """Return the example with signatures for its present content."""
    digest = load(example()).digest
    rows = [f"1,{role},I have read it.,2025-12-12T10:00,{digest},\n" for role in roles]
    head = "revision,role,statement,signed_at,content_digest,licence_ref\n"
    return changed(content(SIGNOFF, "".join([head, *rows]).encode()))


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


@pytest.mark.parametrize(
    "path", [path for path in example().files if path != SIGNOFF and not path.startswith("private/")]
)
def test_one_changed_byte_in_any_input_unsigns(path: str) -> None:
    """A byte more at the end of any input file, and no signature fits any longer."""
    survey = load(changed(Change(path, lambda old: old + b"\n"), folder=signed()))
    assert signature_state(survey) == "stale"
    assert status_word(survey, issue=True) != "issued"


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
    assert "signed other content" in review
    assert re.search(r"not an electronic signature in law", review)
