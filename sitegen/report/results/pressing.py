"""What can't wait: results above a screening level, what holds the issue, and whose turn it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from sitegen.compute.custody.signatures import signed_roles
from sitegen.compute.results.concentration import Concentration
from sitegen.compute.results.screening import ABOVE, CANNOT_TELL, Exceedance, by_result
from sitegen.findings.problems import Finding, Severity
from sitegen.project.tables import ReviewComment
from sitegen.report.record.pages import Callout, Cell, Ref, Tile
from sitegen.report.results.aircells import concentration_cell
from sitegen.report.review.findings import about_text, target_text
from sitegen.report.write.audience import withheld_comments
from sitegen.report.write.context import Context
from sitegen.report.write.remarks import OPEN
from sitegen.report.write.values import mark_words
from sitegen.report.write.words import markdown, say, word
from sitegen.voice import worded

AIR = Ref("page", "air", "screening")
REVIEW = Ref("page", "review")


def review_pages() -> tuple[Cell, ...]:
    """Return pointers to the pages that say more of what is open."""
    return (Cell(worded("Findings"), Ref("page", "findings")), Cell(worded("Review"), REVIEW))


def levels_callout(context: Context, among: Callable[[str], bool] | None = None) -> tuple[Callout, ...]:
    """Name each result above a screening level and whom to notify; nothing where none is above.

    ``among`` says of a point whether its results are named, all where it is None.
    """
    wanted = [one for one in context.evaluation.exceedances if among is None or among(one.location_id)]
    over = sorted(wanted, key=lambda one: one.location_id)
    if not over:
        return ()
    points = ", ".join(dict.fromkeys(one.location_id for one in over))
    text = markdown(
        "occupied.levels_text",
        team=context.for_team,
        over=[_over(context, one) for one in over],
        unsure=0 if among else len(by_result(context.evaluation.comparisons, CANNOT_TELL)),
    )
    return (
        Callout(
            "caution",
            say("occupied.levels_title", points=points, team=context.for_team),
            text,
            (Cell(say("occupied.link"), AIR),),
        ),
    )


def _over(context: Context, some: Exceedance) -> dict[str, Any]:
    """Return the facts of one compound above levels: where, how much, with its marks, above which, beside what."""
    found = some.concentration
    cell = concentration_cell(context, found)
    return {
        "at": some.location_id,
        "by": word("role", context.by_key[found.lab_sample_id, found.analyte_id].role) if some.others else "",
        "others": [_other(context, one) for one in some.others],
        "near": any(one.near for one in some.above),
        "medium": word("medium", found.medium),
        "name": context.name(found.analyte_id),
        "value": cell.text,
        "marks": ", ".join(dict.fromkeys(mark.word for mark in cell.marks)),
        "levels": [one.level for one in some.above],
    }


def _other(context: Context, found: Concentration) -> str:
    """Write another result at the point with its role: ``primary 1.1``."""
    role = context.by_key[found.lab_sample_id, found.analyte_id].role
    return f"{word('role', role)} {concentration_cell(context, found).text}"


def levels_tile(context: Context) -> tuple[Tile, ...]:
    """Count the results above a screening level among those compared, duplicates included; nothing without any."""
    found = context.evaluation.comparisons
    if not found:
        return ()
    compared = {(one.concentration.lab_sample_id, one.concentration.analyte_id) for one in found}
    unsure = len(by_result(found, CANNOT_TELL))
    note = say("occupied.levels_unsure", count=unsure) if unsure else ""
    share = worded("{part:,} of {whole:,}", part=len(by_result(found, ABOVE)), whole=len(compared))
    return (Tile(share, say("occupied.levels_tile"), note, AIR),)


def open_callout(context: Context, *, more: tuple[Cell, ...] = ()) -> Callout:
    """Say what stands between this report and its issue, one line each, and who acts next.

    Readers outside the project team are given the state of the version instead: what is decided
    and signed, and nothing to do. ``more`` are pointers to put below the lines, such as :func:`review_pages`.
    """
    text = open_text(context)
    if not context.for_team:
        return Callout("info", say("front.state_title"), text, more)
    held = _held_findings(context)
    waits = held or _undisposed(context) or _unsigned(context)
    lines = (*(_held(context, one) for one in held), *(_answered(context, row) for row in _answers(context)))
    return Callout("hold" if waits else "info", say("front.next_title"), text, (*lines, *more))


def open_text(context: Context) -> str:
    """Count what stands between this report and its issue; Markdown. Other readers are given the state alone."""
    roles = context.survey.settings.signoff.roles_required
    if not context.for_team:
        return _state_text(context)
    unsigned = _unsigned(context)
    return markdown(
        "front.next_text",
        holds=len(_held_findings(context)),
        undisposed=_undisposed(context),
        answered=len(_answers(context)),
        signed=len(roles) - len(unsigned),
        roles=len(roles),
        unsigned=f" {worded('and')} ".join(unsigned),
    )


def _held_findings(context: Context) -> list[Finding]:
    return [finding for finding in context.findings if finding.severity is Severity.HOLD]


def _answers(context: Context) -> list[ReviewComment]:
    return [row for row in context.survey.rows(ReviewComment) if row.state == "answered"]


def _undisposed(context: Context) -> int:
    return sum(f.severity is Severity.FLAG and f.key not in context.dispositions for f in context.findings)


def _unsigned(context: Context) -> list[str]:
    signed = signed_roles(context.survey)
    return [role for role in context.survey.settings.signoff.roles_required if role not in signed]


def _state_text(context: Context) -> str:
    undecided = [f.severity for f in context.findings if f.key not in context.dispositions]
    required = dict.fromkeys(context.survey.settings.signoff.roles_required)
    return markdown(
        "front.state_text",
        majors=undecided.count(Severity.HOLD),
        flags=undecided.count(Severity.FLAG),
        comments=len(context.survey.rows(ReviewComment)),
        open=sum(row.state in OPEN for row in context.survey.rows(ReviewComment)),
        withheld=withheld_comments(context),
        signed=len(signed_roles(context.survey) & set(required)),
        roles=len(required),
    )


def _held(context: Context, finding: Finding) -> Cell:
    """Return a finding that holds the issue in one line; of a comment who raised it, and whether it is answered."""
    comment = next(
        (
            row
            for row in context.survey.rows(ReviewComment)
            if finding.subject_kind == "comment" and row.comment_id == finding.subject
        ),
        None,
    )
    facts = {"about": about_text(context, finding), "found": finding.found}
    if comment is None:
        text = say("front.held", **facts, decided=finding.key in context.dispositions)
    else:
        target = target_text(context, comment.target)
        text = say("front.held_comment", id=finding.subject, target=target, by=comment.by_role,
                   answered=bool(comment.response))  # fmt: skip
    return Cell(text, Ref("finding", finding.key))


def _answered(context: Context, row: ReviewComment) -> Cell:
    """Return a comment that is answered and not yet accepted, with whose turn it is."""
    target = target_text(context, row.target)
    by, who = row.responded_by, row.by_role
    return Cell(
        say("front.answered", id=row.comment_id, target=target, by=by, next=who), REVIEW._replace(anchor="comments")
    )


_NO_BAG = "In no bag"


def bag_marks_text(context: Context) -> str:
    """Name the custody marks that samplers share with their bag: ``RB-1: seal, unsigned; RB-2: custody``."""
    return "; ".join(f"{bag or worded(_NO_BAG)}: {', '.join(words)}" for bag, words in _bag_marks(context))


def _bag_marks(context: Context) -> Iterator[tuple[str, list[str]]]:
    found: dict[str, dict[str, None]] = {}
    for placement in context.evaluation.placements:
        marks = context.evaluation.marks.by_sampler.get(placement.sampler_id, ())
        for mark in mark_words(mark for mark in marks if mark.scope == "chain"):
            found.setdefault(placement.bag_id, {})[mark.word] = None
    for bag in sorted(found, key=lambda bag: (not bag, bag)):
        yield bag, list(found[bag])
