"""Check a built site: every link, source and anchor resolves, and nothing comes from outside."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from html import unescape
from pathlib import Path
from posixpath import dirname, join, normpath
from urllib.parse import unquote, urlsplit

from sitegen.render.site.paths import MAP_PAGE, SCANS
from sitegen.report.record.lone import MAPS

_ATTRIBUTE = re.compile(
    r'\s(id|xlink:href|href|src|srcset|poster|data|action|formaction|background)=(?:"([^"]*)"|\'([^\']*)\')'
)
_SCRIPT = re.compile(r"(<script\b[^>]*>).*?</script>", re.DOTALL | re.IGNORECASE)
_CSS_LINK = re.compile(r"url\(\s*[\"']?([^\"')]*)|@import\s+[\"']([^\"']*)")
_FREE_FRAGMENTS = (MAP_PAGE, "map/", SCANS, MAPS)
"""Files in which what follows ``#`` is not an anchor but a place on the web map, or a page of a PDF."""


def check_links(out: Path) -> list[str]:
    """Return what is wrong with the links of the site in ``out``, one sentence each, sorted.

    Read are all HTML, SVG and CSS files, one at a time. An address with a scheme or a host
    is wrong wherever it stands, ``data:`` in a source excepted. File names are compared with
    their case, as most web servers do.
    """
    paths = {path.relative_to(out).as_posix(): path for path in out.rglob("*") if path.is_file()}
    addresses: dict[str, frozenset[str]] = {}
    marked: dict[str, frozenset[str]] = {}
    for name in sorted(name for name in paths if name.endswith((".html", ".svg", ".css"))):
        text = paths[name].read_text(encoding="utf-8", errors="replace")
        marked[name], addresses[name] = _css_links(text) if name.endswith(".css") else _attributes(text)
    names = frozenset(paths)

    @cache
    def leads(folder: str, path: str) -> tuple[str, str]:
        return _leads(folder, path, names)

    problems = set()
    for name, there in addresses.items():
        folder = dirname(name)
        for address in there:
            place, _, fragment = address.partition("#")
            path = place.partition("?")[0]
            target, found = leads(folder, path) if path else (name, "")
            if found or (fragment and not _is_anchor(fragment, target, marked)):
                problems.add(f"{name}: {address}: {found or 'there is no such anchor'}")
    return sorted(problems)


def _attributes(text: str) -> tuple[frozenset[str], frozenset[str]]:
    """Return the anchors of an HTML or SVG file and the addresses in it."""
    if "<script" in text or "<script" in text.lower():
        text = _SCRIPT.sub(r"\1</script>", text)
    anchors: set[str] = set()
    addresses: set[str] = set()
    for kind, double, single in _ATTRIBUTE.findall(text):
        (anchors if kind == "id" else addresses).add("srcset:" if kind == "srcset" else double or single)
    return frozenset(map(unescape, anchors)), frozenset(map(unescape, addresses))


def _css_links(text: str) -> tuple[frozenset[str], frozenset[str]]:
    return frozenset(), frozenset(first or second for first, second in _CSS_LINK.findall(text))


def _leads(folder: str, path: str, names: frozenset[str]) -> tuple[str, str]:
    """Return the file that an address without its fragment leads to from a folder, and what is wrong with it."""
    if path.startswith("data:"):
        return "", "" if path.startswith(("data:image/", "data:font/")) else "holds data that is not a picture"
    try:
        parts = urlsplit(path)
    except ValueError:
        return "", "is no address"
    if parts.scheme or parts.netloc:
        return "", "leads out of the site"
    target = normpath(join(folder, unquote(parts.path)))
    return target, "" if target in names else "there is no such file"


def _is_anchor(fragment: str, target: str, marked: Mapping[str, frozenset[str]]) -> bool:
    return not target or target.startswith(_FREE_FRAGMENTS) or unquote(fragment) in marked.get(target, frozenset())
