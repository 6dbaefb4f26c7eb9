"""The evening page as one HTML file: no script, nothing from elsewhere, the same bytes for the same folder."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable, Mapping
from functools import cache
from hashlib import sha256
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sitegen.fieldwork.evening.record import Evening, Line
from sitegen.findings.problems import visible
from sitegen.kept import InVoice, template_cache
from sitegen.voice import Voice, voice

MARK = "<!-- sitegen evening page -->"
"""The second line of the page: a file without it is never written over."""
_STYLE = Path(__file__).parents[2] / "templates/fieldwork/evening.css"


def evening_page(evening: Evening | None, stops: Iterable[Line], stop_count: int, tool: str) -> bytes:
    """Return the page. Where a folder can't be read there is no ``evening``, and the page lists the stops alone.

    ``stop_count`` is how many they are, for one line may stand for several.
    """
    style = _STYLE.read_text("utf-8")
    digest = b64encode(sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; img-src 'none'; form-action 'none'; base-uri 'none'"
    facts: Mapping[str, object] = {
        "evening": evening,
        "stops": tuple(stops),
        "stop_count": stop_count,
        "policy": policy,
        "style": Markup(style),  # noqa: S704 - the package's own file
        "mark": Markup(MARK),  # noqa: S704 - as above
        "tool": tool,
    }
    text = _environment(voice()).get_template("evening.html.j2").render(facts)
    return (re.sub(r"\n[ \n]*\n", "\n", text).strip() + "\n").encode()


@cache
def _environment(_: Voice) -> Environment:
    made = Environment(
        loader=PackageLoader("sitegen", "templates/fieldwork"),
        extensions=[InVoice],
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=template_cache("fieldwork"),
        finalize=lambda value: visible(value) if type(value) is str else value,
    )
    made.filters["words"] = lambda code: str(code).replace("_", " ")
    made.filters["of"] = lambda count, noun: f"{count:,} {noun if count == 1 else noun + 's'}"
    return made
