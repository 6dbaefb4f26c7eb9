"""A comparison as far as its copy may show it: what is withheld is withheld here too, whoever reads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sitegen.compute.evidence.difference import Change, Difference
from sitegen.project.settings import PublishPart
from sitegen.report.write.publish import FIELD_COMMENTS, allowed_classes, published_findings
from sitegen.report.write.words import say


def may_tell_changes(stated: PublishPart) -> bool:
    """Tell whether a copy may say what changed: who withholds the whole comparison by name withholds all of it."""
    return "changed_results" in allowed_classes(stated) and "revision_changes" not in stated.withhold


def shown_difference(found: Difference | None, stated: PublishPart) -> Difference | None:
    """Return a comparison without what is withheld; None where the copy may tell of none.

    Remarks are masked, and with them the words of whole rows that may hold one; changes of site features and
    photographs are left out where any of these are.
    """
    if found is None or not may_tell_changes(stated):
        return None
    return replace(
        found,
        changes=tuple(_shown(found, allowed_classes(stated))),
        opened=published_findings(found.opened, stated),
        closed=published_findings(found.closed, stated),
    )


def _shown(found: Difference, shows: frozenset[str]) -> Iterator[Change]:
    for change in found.changes:
        table = change.key.partition(":")[0]
        if table == "feature" and "private_features" not in shows:
            continue
        if (table == "photos" or change.path.startswith("photos/")) and "uncleared_photos" not in shows:
            continue
        if "field_comments" not in shows and _may_quote(table, change):
            mask = say("publish.remark")
            yield replace(change, old=change.old and mask, new=change.new and mask)
        else:
            yield change


def _may_quote(table: str, change: Change) -> bool:
    remarks = FIELD_COMMENTS.get(table, ())
    return change.column in remarks or (bool(remarks) and change.kind in ("added", "removed"))
