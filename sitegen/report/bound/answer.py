"""The blocks that answer a reader first: state of the report, what was found, who may be affected, what is next."""

from __future__ import annotations

from sitegen.compute.results.screening import CANNOT_TELL, by_result
from sitegen.compute.text.opening import list_items, opening_of
from sitegen.findings.problems import Severity
from sitegen.report.evidence.ledger import LEDGER
from sitegen.report.record.pages import Block, Prose, Ref, Section, Table
from sitegen.report.results.headlines import found_prose
from sitegen.report.results.occupied import occupied_blocks
from sitegen.report.results.pressing import levels_callout
from sitegen.report.rounds.changes import brief, brief_blocks
from sitegen.report.rounds.sides import reported_name, several
from sitegen.report.write.context import Context
from sitegen.report.write.narrative import opening_words, own_words, section_text, written
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say, word

OPEN_ITEMS = Ref("page", "start", "open")
REPORT = Ref("page", "report")
RECOMMENDATIONS = REPORT._replace(anchor="text-recommendations")
MOST_ITEMS = 5
"""Recommendations that the summary shows; all of them are in the section of their own."""
MOST_CHARS = {"summary": 1000, "recommendations": 500}
"""Whole paragraphs up to this length: of the own summary in print, and of recommendations that are no list."""


def state_line(context: Context) -> tuple[Prose, ...]:
    """Say in one line how far the report is from its issue; nothing of one that nothing is open of."""
    status = context.survey.settings.project.status
    holds = [finding for finding in context.findings if finding.severity is Severity.HOLD]
    if not context.for_team:
        holds = [finding for finding in holds if finding.key not in context.dispositions]
    state = "" if status == "issued" else word("report_state", status)
    if not state and not holds:
        return ()
    text = markdown("front.state_line", state=state, holds=len(holds), team=context.for_team)
    return (Prose(text, (OPEN_ITEMS,)),)


@traced
def found_blocks(context: Context, *, printed: bool = False) -> tuple[Block, ...]:
    """Return what was found: the project's own words, then what the data say of each group, then the rounds.

    Of the report as ``printed`` the summary keeps to a page: own words that are longer go on in a later chapter.
    """
    if printed:
        own, rest = opening_words(context, "summary", MOST_CHARS["summary"])
        told = brief(context, printed=True)
        rounds: tuple[Block, ...] = (Prose(told),) if told else ()
    else:
        own, rest = section_text(context, "summary"), None
        rounds = brief_blocks(context)
    more = prose("front.summary_continued") if rest else None
    ledger = to_ledger(context) if own and not printed else ()
    found = found_prose(context, reported_name(context) if several(context) else "")
    return tuple(block for block in (own, more, *ledger, found, *rounds) if block)


def to_ledger(context: Context) -> tuple[Prose, ...]:
    """Return the pointer from sentences of the project to the ledger of their claims, where the copy has one."""
    return (Prose(markdown("ledger.pointer"), (LEDGER,)),) if context.for_reviewers else ()


def summary_rest(context: Context) -> tuple[Section, ...]:
    """Return what of the project's own summary has no room on the printed summary page."""
    _, rest = opening_words(context, "summary", MOST_CHARS["summary"])
    return (Section("text-summary", say("front.summary_rest_title"), (rest,)),) if rest else ()


@traced
def people_blocks(context: Context) -> tuple[Block, ...]:
    """Return who may be affected: occupied buildings, results above levels, or what is on record of indoor air."""
    told = tuple(block for block in occupied_blocks(context, brief=True) if not isinstance(block, Table))
    return told or levels_callout(context) or (_indoor_prose(context),)


@traced
def people_tables(context: Context) -> tuple[Section, ...]:
    """Return the results behind who may be affected; in print they are in the chapter on air."""
    tables = tuple(block for block in occupied_blocks(context, brief=True) if isinstance(block, Table))
    return (Section("levels", say("front.levels_title"), tables),) if tables else ()


def _indoor_prose(context: Context) -> Prose:
    indoor = [row.location_id for row in context.locations if row.medium == "indoor_air"]
    compared = [one for one in context.evaluation.comparisons if one.concentration.medium == "indoor_air"]
    buildings = [one for one in context.survey.features if one.kind == "building"]
    shown = allowed_classes(context.survey.settings.publish)
    return prose(
        "front.people_none",
        indoor=len(indoor),
        with_results=sum(location_id in context.by_location for location_id in indoor),
        compared=len({(one.concentration.lab_sample_id, one.concentration.analyte_id) for one in compared}),
        unsure=len(by_result(compared, CANNOT_TELL)),
        placed=len(context.evaluation.placements),
        buildings=len(buildings),
        whole="private_features" in shown,
        occupied=[one.name or say("front.unnamed_building") for one in buildings if one.occupied],
    )


@traced
def next_blocks(context: Context) -> tuple[Block, ...]:
    """Return the first of the project's recommendations with the way to all of them, or that none is on record."""
    text = written(context, "recommendations")
    if not text:
        return (prose("front.next_none"),)
    items = list_items(text)
    shown = "\n".join(items[:MOST_ITEMS]) if items else opening_of(text, MOST_CHARS["recommendations"]).head
    more = Prose(markdown("front.next_more", shown=bool(shown), more=len(items) - MOST_ITEMS), (RECOMMENDATIONS,))
    return (own_words(context, shown), more) if shown else (more,)
