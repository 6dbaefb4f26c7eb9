"""Review: comments, dispositions, sign-off."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.problems import Finding
from sitegen.project.survey import Survey


def must_fix(survey: Survey) -> Iterator[Finding]:
    """No must-fix comment is open."""
    table = survey.tables["comments"]
    frame = table.frame
    for index in frame.index[(frame["class"] == "must_fix") & frame["state"].isin(("open", ""))]:
        row = frame.loc[index]
        yield find(
            "comment-must-fix",
            str(row["comment_id"]),
            table.where(index, "state"),
            f"an open must-fix comment on {row['target'] or 'the report'}",
            "an answer that its author accepts",
            kind="comment",
        )


RULES = (must_fix,)
