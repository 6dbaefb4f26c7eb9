"""Pages for the reviewer: findings, checks, limits, comments, glossary, files."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from sitegen.checks.catalogue import catalogue
from sitegen.checks.dispositions import is_star
from sitegen.compute.custody.signatures import signed_roles
from sitegen.findings.problems import Finding, Severity
from sitegen.project.folder import InputFile
from sitegen.project.places import sheet_at
from sitegen.project.schema import THEME_FOLDER
from sitegen.project.tables import Departure, ReviewComment, SignOff
from sitegen.project.zones import ZONE_DATA_VERSION
from sitegen.report.record.pages import Cell, Page, Prose, Ref, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.review.codes import roles_and_codes_table
from sitegen.report.review.lists import glossary_table
from sitegen.report.trace.printed import record_ref
from sitegen.report.trace.sources import LISTED_ELSEWHERE
from sitegen.report.write.audience import grave, severity_cell, withheld_comments
from sitegen.report.write.context import Context, found_at
from sitegen.report.write.remarks import OPEN
from sitegen.report.write.traced import traced
from sitegen.report.write.words import known_word, prose, say, word
from sitegen.voice import thousands, worded

_KIND_REFS = {
    "sampler": "sampler",
    "location": "location",
    "bag": "bag",
    "shipment": "shipment",
    "compound": "compound",
}

_WHOLES = ("survey", "soil", "air")
"""What a finding is about that is of no single thing."""


@traced
def glossary_page(context: Context) -> Page:
    """Return the page of the words."""
    lead = say("review.glossary_lead")
    return Page(
        Ref("page", "glossary"),
        worded("Glossary"),
        lead,
        (glossary_table(context), roles_and_codes_table(context)),
        group="Data",
    )


@traced
def files_page(context: Context, digest: str, tool: str, *, volumes: bool) -> Page:
    """Return the page of the input files, with how the digest over them is made."""
    return Page(
        Ref("page", "files"),
        worded("Input files"),
        say("review.files_lead", digest=digest[:8], volumes=volumes),
        (_how_digested(context, tool), files_table(context)),
        group="Data",
    )


def _how_digested(context: Context, tool: str) -> Prose:
    settings = context.survey.settings
    return prose(
        "review.files_how",
        tool=tool,
        zones=ZONE_DATA_VERSION,
        stylesheet=settings.theme.stylesheet,
        comment_copy=settings.publish.narrative_docx,
    )


@traced
def findings_page(context: Context) -> Page:
    """Return the page on findings."""
    count = {s: sum(f.severity is s for f in context.findings) for s in Severity}
    lead = say(
        "review.findings_lead",
        team=context.for_team,
        total=len(context.findings),
        holds=count[Severity.HOLD],
        flags=count[Severity.FLAG],
        notes=count[Severity.NOTE],
        disposed=sum(f.key in context.dispositions for f in context.findings),
    )
    return Page(
        Ref("page", "findings"), worded("Findings"), lead, (findings_table(context),), group="Findings and advice"
    )


@traced
def findings_table(context: Context, *, with_place: bool = False) -> Table:
    """Return every finding with its disposition, worst first.

    ``with_place`` writes file, row and column out, for print: a page shows them where asked to.
    """
    return table(
        "findings",
        say("review.findings_caption", team=context.for_team),
        _finding_columns(context, with_place=with_place),
        context.findings,
        empty=say("review.findings_none"),
        filters=("severity", "subject"),
        landscape=True,
    )


def _finding_columns(context: Context, *, with_place: bool) -> list[Spec[Finding]]:
    advice: list[Spec[Finding]] = [
        Spec("do", "Effect and action", kind="wide", cell=lambda one: Cell(one.do, departure_ref(context, one.do)))
    ]
    return [
        Spec("severity", "Severity", cell=lambda one: severity_cell(context, one.severity, Ref("finding", one.key))),
        Spec("subject", "Subject", cell=_check_cell),
        Spec("about", "Applies to", cell=lambda one: Cell(about_text(context, one), subject_ref(context, one))),
        *_round_column(context),
        Spec(
            "found",
            "Found and expected",
            kind="wide",
            tells=True,
            cell=lambda one: _found_cell(one, with_place=with_place),
        ),
        *(advice if context.for_team else ()),
        Spec("disposition", "Disposition", cell=lambda one: disposition_text(context, one)),
    ]


def _round_column(context: Context) -> list[Spec[Finding]]:
    """Return the column of the round that a finding is of, where the folder has several; a dash for all of them."""
    names = {one.campaign.id: one.campaign.name for one in context.rounds}
    return [Spec("round", "Round", cell=lambda one: names.get(one.round, "–"))] if context.whole else []


def _check_cell(finding: Finding) -> Cell:
    return Cell(word("subject", catalogue()[finding.code].subject), Ref("check", finding.code))


def _found_cell(finding: Finding, *, with_place: bool) -> Cell:
    place = finding.where if with_place else ""
    words = say("review.found", found=finding.found, expected=finding.expected, where=place)
    return Cell(words, origin=found_at(finding))


def departure_ref(context: Context, do: str) -> Ref | None:
    """Return the row of the departure that an advice begins with, None where it names none."""
    known = {row.deviation_id for row in context.survey.rows(Departure)}
    name = do.partition(" states ")[0]
    return Ref("page", "deviations", name) if name in known else None


def about_text(context: Context, finding: Finding) -> str:
    """Say in words what a finding is about."""
    placed = {t.sampler_id for t in finding.touches if t.sampler_id in context.placed}
    compounds = {t.analyte_id for t in finding.touches if t.analyte_id}
    if finding.subject_kind in ("bag", "shipment"):
        return f"{_kind_word(finding.subject_kind)} {finding.about.partition('+')[0]}"
    if len(placed) == 1:
        point = _point_text(context, placed.pop())
        return f"{point}, {context.name(compounds.pop())}" if len(compounds) == 1 else point
    if finding.subject_kind == "sampler" and finding.about in context.placed:
        return _point_text(context, finding.about)
    return _named(context, finding)


def _point_text(context: Context, sampler: str) -> str:
    """Name a point by its id; a duplicate's sampler by its own label, for other numbers are the point's."""
    placement = context.placed[sampler]
    if not placement.duplicate_of:
        return placement.location_id
    return say("review.duplicate", label=placement.label or sampler, point=placement.location_id)


def _named(context: Context, finding: Finding) -> str:
    """Name a finding's subject by what it is: a file and row for a cell, kind and id for a record."""
    kind, where = finding.subject_kind, finding.where
    first, _, last = finding.about.partition("+")
    if kind in context.survey.tables and where.row:
        return say("sources.place", file=where.file, sheet=sheet_at(where), row=where.row)
    if kind == "blank":
        return context.name(finding.about.rpartition("+")[2])
    if kind in ("location", "compound"):
        return context.name(first)
    words = finding.about.replace("+", f" {worded('and')} ") if last else first
    return worded(words) if not kind and words in _WHOLES else f"{_kind_word(kind)} {words}".strip()


def _kind_word(kind: str) -> str:
    """Return what a kind of thing is called that findings and comments are about."""
    return worded(kind.replace("_", " "))


def subject_ref(context: Context, finding: Finding) -> Ref | None:
    """Return the page of what a finding is about, else its row as received; a writer leaves out what is not there."""
    kind = _KIND_REFS.get(finding.subject_kind)
    subject = finding.about.split("+")[0]
    if kind == "sampler" and subject in context.placed:
        return Ref("location", context.placed[subject].location_id)
    if kind:
        return Ref(kind, subject)
    touched = {context.placed[t.sampler_id].location_id for t in finding.touches if t.sampler_id in context.placed}
    if len(touched) == 1:
        return Ref("location", touched.pop())
    where = finding.where
    return LISTED_ELSEWHERE["comments"] if finding.subject_kind == "comment" else record_ref(where)


def disposition_text(context: Context, finding: Finding) -> str:
    """Return what was decided about a finding, by whom and why."""
    row = context.dispositions.get(finding.key)
    if row is None:
        return (
            say("review.undecided", team=context.for_team)
            if finding.severity in (Severity.HOLD, Severity.FLAG)
            else "–"
        )
    who = " ".join(part for part in (row.by_role, row.on) if part)
    text = _with_role(f"{known_word('decision', row.disposition)}: {row.reason}", who)
    return say("review.starred", text=text, key=row.finding_key) if is_star(row, finding) else text


@traced
def comments_page(context: Context, digest: str) -> Page:
    """Return the page on review: comments and sign-off."""
    comments = context.survey.rows(ReviewComment)
    roles = set(context.survey.settings.signoff.roles_required)
    lead = say(
        "review.review_lead",
        withheld=context.survey.withheld,
        comments=len(comments),
        open=sum(_is_open(row) for row in comments),
        blocking=sum(_blocks(row) for row in comments),
        signed=len(signed_roles(context.survey) & roles),
        roles=len(roles),
    )
    blocks = (
        Section("comments", worded("Comments"), (comments_table(context, comments),)),
        Section("signoff", worded("Sign-off"), (signoff_table(context, digest),)),
    )
    return Page(Ref("page", "review"), worded("Review"), lead, blocks, group="For reviewers")


def comments_table(context: Context, comments: Sequence[ReviewComment]) -> Table:
    """Return review comments with their responses."""
    columns: list[Spec[ReviewComment]] = [
        Spec("id", "No.", cell=lambda row: row.comment_id),
        Spec("class", "Class", cell=_class_cell),
        Spec("state", "State", cell=lambda row: worded(row.state or "open")),
        Spec("target", "Applies to", cell=lambda row: _target_cell(context, row.target)),
        Spec("text", "Comment", kind="wide", cell=lambda row: row.text),
        Spec("by", "By", cell=lambda row: " ".join(filter(None, (row.by_role, row.raised_on))) or "–"),
        Spec("response", "Response", kind="wide", cell=_answer_text),
    ]
    caption = say("review.comments_caption")
    empty = withheld_comments(context) or say("review.comments_none")
    return table("comments", caption, columns, comments, empty=empty, filters=("class", "state"))


def _class_cell(row: ReviewComment) -> Cell:
    return Cell(worded(row.class_.replace("_", " ")), tone="hold" if _blocks(row) else "")


def _target_cell(context: Context, target: str) -> Cell:
    return Cell(target_text(context, target), target_ref(context, target))


def _answer_text(row: ReviewComment) -> str:
    return _with_role(row.response, row.responded_by) if row.response else "–"


def _with_role(text: str, who: str) -> str:
    """Write words with who said them, where that is on record."""
    return f"{text} ({who})" if who else text


def _is_open(row: ReviewComment) -> bool:
    return row.state in OPEN


def _blocks(row: ReviewComment) -> bool:
    return row.class_ == "must_fix" and _is_open(row)


def target_text(context: Context, target: str) -> str:
    """Say in words what a comment is about.

    Kinds are those of the format: ``text:limitations`` is the section, ``compound:pce`` the compound.
    """
    kind, _, name = target.partition(":")
    if not name:
        return target or "–"
    if kind == "text" and name.startswith(THEME_FOLDER):
        return name.removeprefix(THEME_FOLDER)
    if kind == "text":
        return say("review.about_text", section=word("section", name))
    return context.name(name) if kind in ("location", "compound") else f"{_kind_word(kind)} {name}"


def target_ref(context: Context, target: str) -> Ref | None:
    """Return the page, or the section of the text, that a comment is about, as far as its target says."""
    kind, _, name = target.partition(":")
    if kind in ("location", "compound", "bag", "shipment", "sampler") and name:
        return Ref(kind, name)
    if kind != "text":
        return None
    if name == "summary":
        return Ref("page", "start")
    if name.startswith(THEME_FOLDER) and name in context.survey.texts:
        return Ref("page", f"own-{name.removeprefix(THEME_FOLDER)}")
    return Ref("page", "report", f"text-{name}" if name in context.survey.texts else "")


class _Role(NamedTuple):
    """A role with its newest signature; None where none is on record."""

    role: str
    signed: SignOff | None


@traced
def signoff_table(context: Context, digest: str) -> Table:
    """Return the sign-off records."""
    now = context.survey.settings.project.revision
    columns: list[Spec[_Role]] = [
        Spec("role", "Role", cell=lambda one: one.role),
        _signed_column("statement", "Statement", lambda row: row.statement or "–", kind="wide"),
        _signed_column("at", "Signed", lambda row: context.moment(row.signed_at_utc)),
        _signed_column("revision", "Revision", lambda row: f"{row.revision:.0f}", kind="number"),
        _signed_column("digest", "Digest of the version signed", lambda row: row.content_digest[:8]),
        Spec("state", "State", cell=lambda one: _signed_cell(context, one.signed, digest)),
    ]
    return table(
        "signoff",
        say("review.signoff_caption"),
        columns,
        _roles(context, now),
        note=say("review.signoff_note", team=context.for_team, digest=digest, revision=now),
    )


def _roles(context: Context, now: int) -> Iterator[_Role]:
    """Yield each role that must sign or did, with its last record, that of the revision ``now`` before others."""
    latest = sorted(
        context.survey.rows(SignOff),
        key=lambda row: (row.revision == now, row.revision, bool(row.signed_at)),
    )
    by_role = {row.role: row for row in latest}
    for role in dict.fromkeys([*context.survey.settings.signoff.roles_required, *by_role]):
        row = by_role.get(role)
        yield _Role(role, row if row and row.signed_at else None)


def _signed_column(key: str, title: str, text: Callable[[SignOff], str], kind: str = "text") -> Spec[_Role]:
    """Return a column of what was signed, with a dash where nothing was."""
    return Spec(key, title, kind=kind, cell=lambda one: text(one.signed) if one.signed else "–")


def _signed_cell(context: Context, row: SignOff | None, digest: str) -> Cell:
    if row is None:
        return Cell(worded("no signature on record"))
    fits = row.content_digest == digest
    text = worded("signed") if fits else worded("signed for another version")
    return Cell(text, tone="" if fits else grave(context))


@traced
def files_table(context: Context) -> Table:
    """Return the input files with size and SHA-256; private files are not listed."""
    columns: list[Spec[InputFile]] = [
        Spec("path", "File", cell=lambda file: file.path),
        Spec("size", "Size", "bytes", "number", cell=lambda file: thousands(f"{file.size:,}")),
        Spec("sha", "SHA-256", kind="wide", cell=lambda file: file.sha256),
    ]
    files = sorted(context.survey.folder.files.items())
    shown = [file for path, file in files if not path.startswith("private/")]
    return table("files", say("review.files_caption"), columns, shown)
