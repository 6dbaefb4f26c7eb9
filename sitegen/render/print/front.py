"""What the cover and every running line of the printed report say, and its colours."""

from __future__ import annotations

from sitegen.figures import look
from sitegen.render.print import table as print_table
from sitegen.render.print.markdown import Node
from sitegen.render.print.widths import UPRIGHT_EM, soften
from sitegen.report.record.pages import Meta
from sitegen.report.write.words import lexicon
from sitegen.voice import voice

MARGIN_PT = 62.0
"""Left and right margin of every page (22 mm)."""

_PROSE_WORD_EM = 30.0
_HEADING_WORD_EM = 20.0
_RUNNING_TITLE = 80  # characters of a title that fit the running head beside project and status


def meta_node(meta: Meta) -> Node:
    """Return what the cover, the running lines and the file's own description say."""
    volume = f", volume {meta.volume}" if meta.volume else ""
    return {
        "project_id": meta.project_id,
        "document": meta.document,
        "title": meta.title + volume,
        "cover_title": soften(meta.title + volume, _HEADING_WORD_EM),
        "short_title": _shorten(meta.title, _RUNNING_TITLE) + volume,
        "site": meta.site,
        "prepared_by": meta.prepared_by,
        "revision": meta.revision,
        "status_word": meta.state,
        "report_date": meta.report_date,
        "day": meta.day,
        "digest8": meta.digest[:8],
        "parties": [[label, soften(name, _HEADING_WORD_EM)] for label, name in parties(meta)],
        "issue_line": _line("issue", meta),
        "foot": _line("foot", meta),
        "description": f"{meta.site}; {meta.state}; {_line('foot', meta)}",
        "facts": [[label, soften(value, _PROSE_WORD_EM)] for label, value in control_facts(meta)],
        "notices": [soften(notice, _PROSE_WORD_EM) for notice in meta.notices],
        "paper": meta.paper,
    }


def fixed_words() -> Node:
    """Return the words of print that no survey changes, by what the templates call them."""
    words = {name: text for name, text in lexicon("print").items() if not isinstance(text, dict)}
    return words | {"language": voice().language}


def parties(meta: Meta) -> list[tuple[str, str]]:
    """Return for whom and by whom the report is, each with its label."""
    labels = lexicon("print")["parties"]
    return [(labels["client"], meta.client), (labels["prepared_by"], meta.prepared_by)]


def control_facts(meta: Meta) -> list[tuple[str, str]]:
    """Return what identifies this version, label and value; a work plan, or a round, only where one is named."""
    labels, lines = lexicon("print")["facts"], lexicon("print")["lines"]
    plan = [("work_plan", meta.work_plan)] if meta.work_plan else []
    about = [("round", meta.round)] if meta.round else []
    facts = [
        ("project", meta.project_id),
        *plan,
        *about,
        ("revision", str(meta.revision)),
        ("date", meta.day),
        ("distribution", meta.distribution or meta.publish_level),
        ("withheld", "; ".join(meta.withheld) or lines["withheld_none"]),
        ("digest", soften(meta.digest, 16.0)),
        ("tool", meta.tool),
    ]
    return [(labels[name], value) for name, value in facts]


def _line(name: str, meta: Meta) -> str:
    """Write a line that tells one version from another."""
    line: str = lexicon("print")["lines"][name]
    return line.format(revision=meta.revision, date=meta.day, digest=meta.digest[:8])


def _shorten(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def look_node() -> Node:
    """Return colours and measures that the templates draw with."""
    return {
        "accent": look.ACCENT,
        "ink": look.INK,
        "muted": look.MUTED,
        "rule": look.RULE,
        "warn": look.WARN,
        "margin": MARGIN_PT,
        "mark_size": print_table.MARK_SIZE,
        "upright": UPRIGHT_EM,
        "classes": [[colour, _text_on(colour)] for colour in look.CLASS_COLOURS],
    }


def _text_on(colour: str) -> str:
    """Return ink or paper, whichever reads better on a colour (WCAG 2 contrast ratio)."""
    light, dark = (_luminance(text) for text in (look.PAPER, look.INK))
    ground = _luminance(colour)
    on_light = (light + 0.05) / (ground + 0.05)
    on_dark = (ground + 0.05) / (dark + 0.05)
    return look.PAPER if on_light > on_dark else look.INK


def _luminance(colour: str) -> float:
    """Return relative luminance, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
