"""The cover letter: its parts from top to bottom, and the list of where its numbers come from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

from sitegen.compute.evidence.difference import Difference
from sitegen.compute.results.screening import CANNOT_TELL, by_result
from sitegen.compute.text.tokens import NOTHING
from sitegen.project.reads import reading
from sitegen.report.bound.front import how_sure
from sitegen.report.bound.front import lead as found_lead
from sitegen.report.evidence.changesshown import may_tell_changes
from sitegen.report.evidence.changewords import change_sentences
from sitegen.report.letter.enclosing import enclosed_blocks
from sitegen.report.letter.facts import Fact, Facts, highest_facts, level_facts, media_facts, token_facts
from sitegen.report.letter.numbers import Passage, annex, numbers, texts_of
from sitegen.report.plan.points import occupied_buildings
from sitegen.report.plan.start import caution, open_blocks
from sitegen.report.plan.start import lead as plan_lead
from sitegen.report.record.letters import Enclosed, Letter
from sitegen.report.record.pages import Block, Callout, Meta, Prose, Section, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.results.pressing import REVIEW, levels_callout, open_callout
from sitegen.report.rounds.changes import brief
from sitegen.report.trace.sources import source_files
from sitegen.report.write.campaign import whole_name
from sitegen.report.write.context import Context
from sitegen.report.write.words import escape_markdown, prose, say, word
from sitegen.voice import worded

COMMENTS = REVIEW._replace(anchor="comments")
"""Where a callout points for a comment that waits for an answer."""


def letter(
    context: Context, meta: Meta, difference: Difference | None, enclosed: Enclosed | None, not_enclosed: str = ""
) -> Letter:
    """Return the letter to a report; ``not_enclosed`` says why a report that is there does not go with it.

    ``context`` is that of what may be published, so that the letter tells nothing that the report does not.
    """
    facts = token_facts(context)
    status = worded(enclosed.status if enclosed else meta.status_word)
    head = _head(context, facts, meta, status)
    told = [*_opening(context, facts, status), *_done(context), *_found(context), *_open(context)]
    told += _changes(context, difference)
    files = source_files(context)
    listed = numbers([*head, *told, *_signing(context)], files)
    sender, day, addressee, subject = (_text(passage) for passage in head)
    return Letter(
        say("letter.running", id=meta.project_id, revision=meta.revision),
        say("letter.draft", team=context.for_team),
        (sender, day, addressee),
        subject,
        (*_sections(told), enclosed_blocks(enclosed, not_enclosed)),
        _signatures(context),
        annex(listed, files),
    )


def _passage(under: str, sentence: str, facts: Mapping[str, Fact], **others: object) -> Passage:
    """Fill a sentence with facts; those that it asks for are its own."""
    used = Facts(facts)
    with reading() as seen:
        text = say(sentence, t=used, **others)
    return Passage(under, _plain(text), tuple(used.used.values()), frozenset(seen))


def _made(under: str, make: Callable[[], Block], facts: Sequence[Fact] = (), source: str = "") -> Passage:
    """Return a block of the report with what was read while it was made."""
    with reading() as seen:
        block = make()
    return Passage(under, block, tuple(facts), frozenset(seen), source)


def _plain(text: str) -> Prose:
    return prose("plan.plain", text=text)


def _head(context: Context, facts: Mapping[str, Fact], meta: Meta, status: str) -> tuple[Passage, ...]:
    """Return sender, day, addressee and subject."""
    project = context.survey.settings.project
    document = meta.document or say("letter.report")
    stated = {name: _setting(name, text) for name in ("prepared_by", "client") if (text := getattr(project, name))}
    facts = {**facts, **stated}

    def line(name: str, instead: str) -> Passage:
        used = tuple(fact for fact in (facts.get(name),) if fact and fact.text != worded(NOTHING))
        return Passage("", _plain(used[0].text if used else say(f"letter.{instead}")), used)

    return (
        line("prepared_by", "no_sender"),
        line("date.report", "no_sender"),
        line("client", "no_client"),
        _passage("", "letter.subject", facts, document=document, status=status),
    )


def _setting(name: str, text: str) -> Fact:
    return Fact(f"project.{name}", text, place=("project.toml", 0, f"project.{name}"))


def _text(passage: Passage) -> str:
    return " ".join(texts_of(passage.block))


def _opening(context: Context, facts: Mapping[str, Fact], status: str) -> Iterator[Passage]:
    yield _passage("", "letter.opening", facts, stage=context.stage, status=status)


def _done(context: Context) -> Iterator[Passage]:
    """Yield what was done, a sentence for each round; of a plan nothing was."""
    under = say("letter.done_title")
    if context.stage == "planned":
        return
    for one in context.rounds:
        facts = token_facts(one)
        name = whole_name(one)
        named = {"round.name": Fact("round.name", name, frozenset({"project"}))} if name else {}
        passage = _passage(under, "letter.round", facts, name=name)
        yield Passage(under, passage.block, (*passage.facts, *named.values()), passage.reads)
        if one.with_results:
            groups = [
                {"id": group.group, "name": word("medium_group", group.group)}
                for group in one.evaluation.completeness.planned_by
            ]
            yield _passage(under, "letter.media", facts | media_facts(one), groups=groups)


def _found(context: Context) -> Iterator[Passage]:
    """Yield the report's own sentences on what was found, or is planned, with its cautions."""
    if not context.with_results:
        under = say("letter.planned_title")
        yield _made(under, lambda: _plain(plan_lead(context)))
        yield Passage(under, _plain(say("letter.no_results")))
        yield _made(under, lambda: _occupied(context))
        yield _made(under, lambda: _in_words(caution()))
        return
    under = say("letter.found_title")
    if context.earlier:
        yield _made(under, lambda: Prose(brief(context)))
    yield _made(under, lambda: _plain(found_lead(context)), highest_facts(context))
    if levels_callout(context):
        yield _made(under, lambda: _in_words(levels_callout(context)[0]), tuple(level_facts(context)))
    else:
        yield _made(under, lambda: _no_level(context))
    yield _made(under, lambda: _occupied(context))
    yield _made(under, lambda: Callout("info", say("front.howsure_title"), how_sure(context).markdown))
    yield Passage(under, _plain(say("letter.cautions")))


def _no_level(context: Context) -> Prose:
    found = context.evaluation.comparisons
    compared = {(one.concentration.lab_sample_id, one.concentration.analyte_id) for one in found}
    return _plain(say("letter.no_level", compared=len(compared), unsure=len(by_result(found, CANNOT_TELL))))


def _occupied(context: Context) -> Prose:
    """Say which buildings are recorded as occupied, and the points that name them."""
    names = occupied_buildings(context)
    found = [
        {"name": name or "–", "points": [row.location_id for row in context.locations if name and row.building == name]}
        for name in names
    ]
    buildings = sum(one.kind == "building" for one in context.survey.features)
    return _plain(say("letter.occupied", occupied=found, buildings=buildings))


def _open(context: Context) -> Iterator[Passage]:
    """Yield what is open: for the team what holds the issue, for other readers the state of the version."""
    under, source = say("letter.open_title"), say("letter.checks_source")
    if context.with_results:
        yield Passage(under, _in_words(open_callout(context)), source=source)
        return
    for callout in open_blocks(context):
        yield Passage(under, _in_words(callout), source=source)


def _in_words(callout: Callout) -> Callout:
    """Return a callout with its pointers as items of its text; those to a page as a whole say nothing here."""
    lines = [f"* {escape_markdown(cell.text)}" for cell in callout.refs if cell.ref and cell.ref.kind != "page"]
    lines += [f"* {escape_markdown(cell.text)}" for cell in callout.refs if cell.ref and cell.ref == COMMENTS]
    return replace(callout, markdown="\n\n".join((callout.markdown, *lines)), refs=())


def _changes(context: Context, difference: Difference | None) -> Iterator[Passage]:
    """Yield what changed since the previous revision, as far as it may be told."""
    under = say("letter.changes_title")
    settings = context.survey.settings
    if difference is not None:
        source = say("letter.changes_source", revision=difference.revisions[0], digest=difference.digests[0][:16])
        for sentence in change_sentences(context, difference):
            yield Passage(under, _plain(sentence), source=source)
    elif not settings.project.previous:
        yield Passage(under, _plain(say("letter.no_previous")))
    else:
        told = may_tell_changes(settings.publish)
        yield Passage(under, _plain(say("letter.no_comparison" if told else "letter.changes_withheld")))


def _sections(passages: Sequence[Passage]) -> Iterator[Block]:
    """Yield the blocks of passages, those under one heading together."""
    for under in dict.fromkeys(passage.under for passage in passages):
        blocks = tuple(passage.block for passage in passages if passage.under == under)
        if under:
            yield Section(escape_markdown(under), under, blocks)
        else:
            yield from blocks


def _roles(context: Context) -> list[str]:
    """Return the roles that must sign, each with its function where the settings state one."""
    settings = context.survey.settings
    known = {} if context.survey.withheld.roles else settings.roles
    return [f"{word('function', known[role])} ({role})" if role in known else role
            for role in dict.fromkeys(settings.signoff.roles_required)] or [say("letter.no_roles")]  # fmt: skip


def _signing(context: Context) -> Iterator[Passage]:
    """Yield the roles for the list of numbers: their codes hold figures."""
    for role in _roles(context):
        place = ("project.toml", 0, "signoff.roles_required")
        yield Passage(say("letter.signatures_title"), _plain(role), (Fact("role", role, place=place),))


def _signatures(context: Context) -> Table:
    """Return a line for each role, blank but for its name."""
    columns: list[Spec[str]] = [
        Spec("role", "Role", kind="wide", cell=lambda role: role),
        Spec("name", "Name", kind="wide", cell=lambda _: ""),
        Spec("signature", "Signature", kind="wide", cell=lambda _: ""),
        Spec("day", "Date", cell=lambda _: ""),
    ]
    return table("signatures", say("letter.signatures_caption"), columns, _roles(context))
