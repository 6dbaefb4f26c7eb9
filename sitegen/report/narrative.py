"""The project's own text, with tokens replaced by numbers from the store."""

from __future__ import annotations

import re

from sitegen.project.schema import SECTIONS
from sitegen.report.context import Context
from sitegen.report.records import Prose
from sitegen.report.words import escape_markdown

TOKEN = re.compile(r"\{\{\s*([^{}]*?)\s*\}\}")


def section_text(context: Context, name: str) -> Prose | None:
    """Return a section's text with its numbers filled in, None where the folder has none.

    A token that is not in the vocabulary stays as it is; a check stops the build over it.
    """
    text = context.survey.texts.get(name)
    if text is None or not text.strip():
        return None
    return Prose(TOKEN.sub(lambda match: _value(context, match), text))


def _value(context: Context, match: re.Match[str]) -> str:
    value = context.tokens.get(match[1])
    return match[0] if value is None else escape_markdown(value)


def other_sections(context: Context) -> tuple[str, ...]:
    """Return the names of texts that are none of the usual sections, in name order."""
    return tuple(sorted(name for name in context.survey.texts if name not in SECTIONS))
