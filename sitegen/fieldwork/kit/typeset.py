"""Set a form of the kit as a PDF: PDF/A-3a and PDF/UA-1, by the rules and with the fonts of the report.

The templates in ``templates/kit`` are static; what a project says reaches them as one JSON file, so that its
words can't become markup.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from functools import cache
from importlib import resources
from typing import Any

from sitegen.render.print.finish import finish
from sitegen.render.print.pdf import compile_sources, printable_tree
from sitegen.voice import Voice, unquoted_spelt, voice


def set_pdf(template: str, data: Mapping[str, Any], *, paper: str, day: date) -> bytes:
    """Return the PDF that ``templates/kit/<template>.typ`` makes of ``data``, the same bytes each time.

    Parameters
    ----------
    template
        The template's name without its ending.
    data
        Plain data, which the template reads from ``data.json``; characters that print can't draw become U+FFFD.
    paper
        ``a4`` or ``us-letter``; the template finds it as ``paper`` beside the data.
    day
        The day that the document bears.

    Raises
    ------
    typst.TypstError
        If the template can't be set with this data.
    """
    tree = printable_tree({**data, "paper": paper, "day": day.isoformat()})
    sources = {**_templates(voice()), "data.json": json.dumps(tree, ensure_ascii=False).encode()}
    return finish(compile_sources(sources, day, f"{template}.typ"), {}, day)


@cache
def _templates(_: Voice) -> dict[str, bytes]:
    """Return the templates in the voice that speaks."""
    folder = resources.files("sitegen") / "templates" / "kit"
    found = {item.name: item.read_text("utf-8") for item in folder.iterdir() if item.name.endswith(".typ")}
    return {name: unquoted_spelt(text).encode() for name, text in found.items()}
