"""Review: comments and their answers, sign-off, reasons for changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches

from sitegen.checks.catalogue import find
from sitegen.checks.rows import compound_names, first_rows, setting_where, surplus
from sitegen.compute.custody.signatures import Unsigned, signatures, unsigned_roles
from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import SECTIONS
from sitegen.project.survey import Survey
from sitegen.project.tables import Deployment, ReviewComment, SignOff
from sitegen.voice import worded

_TARGETS = {
    "location": ("locations", "location_id"),
    "compound": ("analytes", "analyte_id"),
    "sampler": ("samplers", "sampler_id"),
    "bag": ("return_bags", "bag_id"),
    "shipment": ("shipments", "shipment_id"),
}


def must_fix(survey: Survey) -> Iterator[Finding]:
    """No must-fix comment is open."""
    table = survey.tables["comments"]
    bad = (table.frame["class"] == "must_fix") & table.frame["state"].isin(("open", ""))
    for row in first_rows(table, bad, ReviewComment):
        yield find(
            "comment-must-fix",
            row.comment_id,
            row.origin.where("state"),
            worded("an open must-fix comment on {about}", about=_about(survey, row.target)),
            worded("an answer accepted by its author"),
            kind="comment",
        )
    yield from surplus("comment-must-fix", table, bad, "state")


def _about(survey: Survey, target: str) -> str:
    """Say in words what a comment is about: a section, a compound by its name, anything else by its id."""
    kind, _, name = target.partition(":")
    if kind == "text" and name:
        title = name.replace("_", " ").capitalize()
        return worded("the section {name}", name=worded(title) if name in SECTIONS else title)
    if kind == "compound":
        name = compound_names(survey).get(name, name)
    words = kind.replace("_", " ")
    return f"{worded(words) if kind in _TARGETS else words} {name}" if name else target or worded("the report")


def others_open(survey: Survey) -> Iterator[Finding]:
    """Every other comment has an answer, and an answered comment says what."""
    table = survey.tables["comments"]
    frame = table.frame
    unanswered = (frame["class"] != "must_fix") & frame["state"].isin(("open", ""))
    silent = frame["state"].isin(("answered", "accepted")) & (frame["response"] == "")
    for code, bad, column, found in (
        ("comment-open", unanswered, "state", "an open comment on {about}"),
        ("comment-without-answer", silent, "response", "no response on {about}"),
    ):
        for row in first_rows(table, bad, ReviewComment):
            where = row.origin.where(column)
            text = worded(found, about=_about(survey, row.target))
            yield find(code, row.comment_id, where, text, worded("an answer"), kind="comment")
        yield from surplus(code, table, bad, column)


def own_comments(survey: Survey) -> Iterator[Finding]:
    """A comment is answered by another role than the one that made it."""
    table = survey.tables["comments"]
    frame = table.frame
    bad = (frame["by_role"] != "") & (frame["by_role"] == frame["responded_by"])
    for row in first_rows(table, bad, ReviewComment):
        yield find(
            "reviewer-is-author",
            row.comment_id,
            row.origin.where("responded_by"),
            worded("made and answered by {role}", role=row.by_role),
            worded("two roles"),
            kind="comment",
        )
    yield from surplus("reviewer-is-author", table, bad, "responded_by")


def targets_known(survey: Survey) -> Iterator[Finding]:
    """A comment is about something that exists."""
    known: Mapping[str, list[str]] = {
        **{
            kind: survey.frame(name)[column].tolist()
            for kind, (name, column) in _TARGETS.items()
            if survey.tables[name].present
        },
        "text": sorted(survey.texts),
    }
    for row in survey.rows(ReviewComment):
        kind, _, name = row.target.partition(":")
        if kind not in known or not name or name in known[kind]:
            continue
        nearest = get_close_matches(name, known[kind], n=1, cutoff=0.6)
        yield find(
            "comment-target-unknown",
            row.comment_id,
            row.origin.where("target"),
            worded("the {kind} {name!r}", kind=worded(kind), name=name),
            worded("a {kind} of this survey", kind=worded(kind)),
            do=worded("write {kind}:{nearest}", kind=kind, nearest=nearest[0]) if nearest else "",
            kind="comment",
        )


def sign_offs(survey: Survey) -> Iterator[Finding]:
    """An issued revision is signed by every role required."""
    project = survey.settings.project
    table = survey.tables["signoff"]
    roles = {row.role for row in signatures(survey)}
    missing = [role for role in survey.settings.signoff.roles_required if role not in roles]
    if project.status == "issued" and (missing or not roles):
        yield find(
            "signoff-missing",
            f"revision {project.revision}",
            setting_where(survey, "project.status"),
            worded("status issued without a sign-off by {roles}", roles=", ".join(missing))
            if missing
            else worded("status issued without a sign-off by anyone"),
            worded("rows of {file} for revision {revision}", file=table.called, revision=project.revision),
        )


def signatures_hold(survey: Survey) -> Iterator[Finding]:
    """A signature of this revision holds for these very inputs."""
    revision = survey.settings.project.revision
    table = survey.tables["signoff"]
    stale = (table.frame["revision"] == revision) & (table.frame["content_digest"] != survey.digest)
    for row in first_rows(table, stale, SignOff):
        yield find(
            "signoff-stale",
            f"revision {revision}+{row.role}",
            row.origin.where("content_digest"),
            worded("the digest {digest}", digest=row.content_digest[:8])
            if row.content_digest
            else worded("the digest none"),
            worded("{digest}…, the digest of the current inputs", digest=survey.digest[:8]),
            kind="signoff",
        )


def signatures_missing(survey: Survey) -> Iterator[Finding]:
    """Each role that must sign has signed this revision and this content; asked for an issue alone.

    A draft may wait for its signatures: they are given to what the draft shows.
    """
    revision = survey.settings.project.revision
    path = survey.tables["signoff"].file
    for one in unsigned_roles(survey):
        yield find(
            "signature-missing",
            f"revision {revision}+{one.role}",
            Where(path, one.row.origin.row if one.row else None, _LACKS[one.lack]),
            _unsigned_text(survey, one),
            worded(
                "a signature of {role} for revision {revision} with the digest {digest}…",
                role=one.role,
                revision=revision,
                digest=survey.digest[:8],
            ),
            kind="signoff",
        )


_LACKS = {"row": None, "revision": "revision", "moment": "signed_at", "digest": "content_digest"}


def _unsigned_text(survey: Survey, one: Unsigned) -> str:
    if one.row is None:
        there = survey.tables["signoff"].present
        return (
            worded("no row for {role}", role=one.role)
            if there
            else worded("no signature of {role}: the file is absent", role=one.role)
        )
    if one.lack == "revision":
        return worded("{role} on record for revision {revision:.0f} only", role=one.role, revision=one.row.revision)
    if one.lack == "moment":
        return worded("a row for {role} without the time of signing", role=one.role)
    if not one.row.content_digest:
        return worded("{role} signed a different version (digest not stated)", role=one.role)
    digest = one.row.content_digest[:8]
    return worded("{role} signed a different version (digest {digest})", role=one.role, digest=digest)


def signer_independent(survey: Survey) -> Iterator[Finding]:
    """Who signs as reviewer did not do the field work."""
    revision = survey.settings.project.revision
    crew = {role for row in survey.rows(Deployment) for role in (row.placed_by, row.retrieved_by)} - {""}
    for row in survey.rows(SignOff):
        if row.revision == revision and row.role in crew:
            yield find(
                "signer-did-field-work",
                f"revision {revision}+{row.role}",
                row.origin.where("role"),
                worded("{role}, who installed or retrieved samplers", role=row.role),
                worded("a role that did no field work"),
                kind="signoff",
            )


def revision_explained(survey: Survey) -> Iterator[Finding]:
    """A later revision says why it differs from the one before."""
    project = survey.settings.project
    rows = survey.frame("changes")
    if project.revision > 1 and not (rows["revision"] == project.revision).any():
        yield find(
            "revision-unexplained",
            f"revision {project.revision}",
            setting_where(survey, "project.revision"),
            worded("revision {revision} without a reason in review/changes.csv", revision=project.revision),
            worded("what changed, and why"),
        )


RULES = (
    must_fix,
    others_open,
    own_comments,
    targets_known,
    sign_offs,
    signatures_hold,
    signer_independent,
    revision_explained,
)
