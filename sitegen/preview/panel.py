"""What the preview adds to a page: a panel with the findings, its style, and the script that looks for newer pages.

Both are files of the preview's own server, which the pages' policy (:mod:`sitegen.render.policy`) allows as it
stands: nothing inline is added, so no page gets another policy than it has in the report.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.findings.problems import Finding, Severity
from sitegen.kept import template_cache
from sitegen.preview.board import Shown
from sitegen.render.policy import policy
from sitegen.render.site.html import clean

OWN = "-preview"
"""The folder of the preview's own files in an address; no page of a report has this name."""
GOOD = "-last-good"
"""The folder in an address under which the last good pages are reached while findings stop the newer ones."""
MOST_GROUPS = 12
MOST_EXAMPLES = 3
"""How much the panel shows; all of it is what ``check`` tells."""
_BEFORE = b"</body>"
_FILES = {name: Path(__file__).parent.parent / "templates/preview" / name for name in ("preview.css", "preview.js")}


class Group(NamedTuple):
    """The findings of one code: severity, code, how many, and the first ones."""

    severity: str
    code: str
    size: int
    first: tuple[Finding, ...]


def groups(findings: Iterable[Finding]) -> tuple[Group, ...]:
    """Return the findings by severity and code in their order, notes left out."""
    told = (finding for finding in findings if finding.severity is not Severity.NOTE)
    made = []
    for (severity, code), members in groupby(told, key=lambda one: (one.severity.value, one.code)):
        alike = tuple(members)
        made.append(Group(severity, code, len(alike), alike[:MOST_EXAMPLES]))
    return tuple(made)


def own_file(name: str) -> bytes | None:
    """Return the style or the script of the panel, None for any other name."""
    return _FILES[name].read_bytes() if name in _FILES else None


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("sitegen", "templates/preview"),
        bytecode_cache=template_cache("preview"),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _render(template: str, **values: object) -> str:
    return clean(_environment().get_template(template).render(values))


def mark_of(content: bytes) -> str:
    """Return what tells one content of a page from another."""
    return sha256(content).hexdigest()[:16]


def panel(shown: Shown, path: str, mark: str, *, good: bool = False) -> str:
    """Return the panel of a page: ``good`` where it is one of the last good pages while newer ones are stopped."""
    found = groups(shown.findings)
    return _render(
        "panel.html",
        own=OWN,
        good_at=GOOD,
        shown=shown,
        path=path,
        mark=mark,
        good=good,
        groups=found[:MOST_GROUPS],
        more=len(found) - len(found[:MOST_GROUPS]),
    )


def with_panel(page: bytes, shown: Shown, path: str, *, good: bool = False) -> bytes:
    """Return a page of the report with the panel in it; taken out again, the page is as it was."""
    head, mark, tail = page.rpartition(_BEFORE)
    return head + panel(shown, path, mark_of(page), good=good).encode() + mark + tail


def notice(shown: Shown, path: str) -> bytes:
    """Return the page that stands where there is none: why, the findings, and the way to the last good pages."""
    has_page = shown.pages is not None and path in shown.pages.urls
    if shown.stopped:
        kind = "stopped"
    elif shown.pages is None:
        kind = "making"
    elif path in shown.pages.later:
        kind = "later"
    else:
        kind = "missing"
    body = _render("notice.html", kind=kind, shown=shown, good_at=GOOD, path=path if has_page else "index.html")
    own = panel(shown, path, mark_of(body.encode()))
    return _render("page.html", policy=policy(), own=OWN, body=body, panel=own).encode()
