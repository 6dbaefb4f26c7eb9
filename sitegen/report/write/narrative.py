"""The project's own text, with tokens replaced by numbers from the store, each with the way to its source."""

from __future__ import annotations

import re

from sitegen.compute.field.stage import SECTIONS_DUE, is_due
from sitegen.compute.text.opening import opening_of
from sitegen.compute.text.tokens import TOKEN
from sitegen.project.schema import SECTIONS, THEME_FOLDER
from sitegen.report.record.pages import Prose, Ref, Section
from sitegen.report.write.context import Context
from sitegen.report.write.words import escape_markdown, word

_PAGES = (
    ("count.locations.", Ref("page", "quality", "completeness")),
    ("count.samplers.", Ref("page", "samplers")),
    ("count.bags", Ref("page", "custody")),
    ("count.shipments", Ref("page", "custody")),
    ("count.", Ref("page", "compounds")),
    ("exposure.days.", Ref("page", "field")),
    ("date.placed.", Ref("page", "field")),
    ("date.retrieved.", Ref("page", "field")),
)
"""The page that a token's number is counted on, by how the token begins."""
_TEMPLATE = "TODO"
"""How each section of the template begins."""

_NO_LINK = re.compile(
    r"^(```|~~~).*?^\1|^(?: {4}|\t)[^\n]*|(?<!`)(`++)(?:(?!\n\s*\n).)+?(?<!`)\2(?!`)"
    r"|\[(?:(?!\n\s*\n)[^\[\]]|\[[^\[\]]*\])*\](?:\([^()\n]*\))?",
    re.DOTALL | re.MULTILINE,
)
"""Code, and a link of the author's own with its address: no link can stand in it."""


def section_text(context: Context, name: str) -> Prose | None:
    """Return a section's text with its numbers filled in, None where the folder has none."""
    text = written(context, name)
    return own_words(context, text) if text else None


def written(context: Context, name: str) -> str:
    """Return a section's text as it is written, "" where the folder has none.

    Of a section that is due at a later stage the template's own words are none: a plan concludes nothing. A token
    that is not in the vocabulary stays as it is; a check stops the build over it.
    """
    text = context.survey.texts.get(name)
    if text is None or not text.strip():
        return ""
    due = is_due(SECTIONS_DUE.get(name, "planned"), context.stage)
    return text if due or not text.lstrip().startswith(_TEMPLATE) else ""


def opening_words(context: Context, name: str, most_chars: int) -> tuple[Prose | None, Prose | None]:
    """Return the paragraphs of a section that fit in a length, and those after them; None where there are none."""
    head, rest = opening_of(written(context, name), most_chars)
    return (own_words(context, head) if head else None, own_words(context, rest) if rest else None)


def own_words(context: Context, text: str) -> Prose:
    """Return a text of the project with its numbers filled in."""
    refs: dict[Ref, int] = {}
    kept = [found.span() for found in _NO_LINK.finditer(text)]

    def value(match: re.Match[str]) -> str:
        printed = context.tokens.get(match["name"])
        if printed is None:
            return match[0]
        ref = token_ref(context, match["name"])
        if ref is None or any(start <= match.start() < end for start, end in kept):
            return escape_markdown(printed)
        return f"[{escape_markdown(printed)}](ref:{refs.setdefault(ref, len(refs))})"

    return Prose(TOKEN.sub(value, text), tuple(refs))


def token_ref(context: Context, name: str) -> Ref | None:
    """Return where a token's number comes from: a result's row as received, a compound's page, a page of counts."""
    kind, _, analyte_id = name.partition(".")
    if kind == "max":
        soil = context.evaluation.summaries.get((analyte_id, "soil"))
        if soil and soil.highest_sample:
            return Ref("source", soil.highest_sample, analyte_id)
    if kind in ("max", "detections", "rl"):
        return Ref("compound", analyte_id)
    return next((ref for start, ref in _PAGES if name.startswith(start)), None)


def other_sections(context: Context) -> tuple[str, ...]:
    """Return the names of texts that are none of the usual sections and no page of their own, in name order."""
    names = context.survey.texts
    return tuple(sorted(name for name in names if name not in SECTIONS and not name.startswith(THEME_FOLDER)))


def narrative_blocks(context: Context) -> tuple[Section, ...]:
    """Return the project's own sections, in the order of the format, others after by name."""
    blocks = []
    for name in (*SECTIONS, *other_sections(context)):
        text = section_text(context, name)
        if text and name != "summary":
            blocks.append(Section(f"text-{name}", word("section", name).capitalize(), (text,)))
    return tuple(blocks)
