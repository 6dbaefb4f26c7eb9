"""The shelf page as one HTML file: nothing from elsewhere, the same bytes for the same archives."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sitegen.figures.sitesmap import Site, sites_map
from sitegen.findings.problems import visible
from sitegen.kept import template_cache
from sitegen.render.policy import policy
from sitegen.render.sizes import size_text
from sitegen.shelf.order import Shelved
from sitegen.shelf.records import Unread

MARK = "<!-- sitegen shelf page -->"
"""The second line of the page: a file without it is never written over."""


def shelf_page(projects: Sequence[Shelved], unread: Sequence[Unread], readers: str, tool: str) -> bytes:
    """Return the page for some readers."""
    style, script = (
        files("sitegen").joinpath(f"templates/shelf/shelf.{end}").read_text("utf-8") for end in ("css", "js")
    )
    inline = f"<script>\n{script}</script>"
    sites = _sites(projects)
    facts = {
        "projects": projects,
        "unread": unread,
        "readers": readers,
        "tool": tool,
        "mark": Markup(MARK),  # noqa: S704 - the package's own words
        "policy": Markup(policy(inline)),  # noqa: S704 - as above
        "script": Markup(inline),  # noqa: S704 - the package's own file
        "style": Markup(style),  # noqa: S704 - as above
        "map": Markup(sites_map(sites, f"Map of {len(sites)} site(s)")) if sites else "",  # noqa: S704 - escaped where drawn
        "mapped": len(sites),
        "archives": sum(len(one.newest) + len(one.older) for one in projects),
        "short": sum(kept.withheld for one in projects for kept in (*one.newest, *one.older)),
    }
    text = _environment().get_template("shelf.html.j2").render(facts)
    return (re.sub(r"\n[ \n]*\n", "\n", text).strip() + "\n").encode()


def _sites(projects: Sequence[Shelved]) -> list[Site]:
    """Return a site for each project whose newest revision tells its place."""
    found = ((one, one.first.told) for one in projects)
    return [
        Site(one.number, visible(told.site or one.project), *told.place, f"#project-{one.number}")
        for one, told in found
        if told and told.place
    ]


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("sitegen", "templates/shelf"),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=template_cache("shelf"),
        finalize=lambda value: visible(value) if type(value) is str else value,
    )
    made.filters["size"] = size_text
    made.filters["of"] = lambda count, noun: f"{count:,} {noun if count == 1 else noun + 's'}"
    return made
