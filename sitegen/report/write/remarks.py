"""Review comments at their target: a callout on the page, or in the section, that they are about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sitegen.project.schema import THEME_FOLDER
from sitegen.project.tables import ReviewComment
from sitegen.report.record.pages import Block, Callout, Cell, Page, Ref, Section
from sitegen.report.write.words import markdown, say, word
from sitegen.voice import worded

KINDS = ("location", "compound", "sampler", "bag", "shipment")
OPEN = ("open", "")

Comments = Mapping[str, Sequence[ReviewComment]]


def by_target(comments: Sequence[ReviewComment]) -> Comments:
    """Return the comments by their target, such as ``location:SG-37``."""
    found: dict[str, list[ReviewComment]] = {}
    for row in comments:
        found.setdefault(row.target, []).append(row)
    return found


def with_comments(page: Page, comments: Comments) -> Page:
    """Return the page with the comments about it first, and those about a section in that section."""
    if page.ref == Ref("page", "report"):
        return replace(page, blocks=tuple(_in_section(block, comments) for block in page.blocks))
    target = f"{page.ref.kind}:{page.ref.id}" if page.ref.kind in KINDS else ""
    if page.ref == Ref("page", "start"):
        target = "text:summary"
    if page.ref.kind == "page" and page.ref.id.startswith("own-"):
        target = f"text:{THEME_FOLDER}{page.ref.id.removeprefix('own-')}"
    found = comments.get(target, ())
    return replace(page, blocks=(callout(found), *page.blocks)) if found else page


def _in_section(block: Block, comments: Comments) -> Block:
    if not isinstance(block, Section):
        return block
    found = comments.get(block.id.replace("text-", "text:", 1), ())
    return replace(block, blocks=(callout(found), *block.blocks)) if found else block


def callout(comments: Sequence[ReviewComment]) -> Callout:
    """Return comments as a box, its tone that of the gravest that is open."""
    waiting = [row for row in comments if row.state in OPEN]
    blocking = any(row.class_ == "must_fix" for row in waiting)
    tone = "hold" if blocking else "flag" if waiting else "note"
    lines = [
        row._replace(class_=word("comment_class", row.class_), state=word("comment_state", row.state or "open"))
        for row in comments
    ]
    title = say("review.here_title", count=len(comments), open=len(waiting))
    return Callout(
        tone, title, markdown("review.here", comments=lines), (Cell(worded("Review"), Ref("page", "review")),)
    )
