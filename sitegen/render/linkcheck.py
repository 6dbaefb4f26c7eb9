"""Check a built site: every link, source and anchor resolves, and nothing comes from outside."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from html import unescape
from pathlib import Path
from posixpath import dirname, join, normpath
from urllib.parse import unquote, urlsplit

from sitegen.render.paths import MAP_PAGE

_LINK = re.compile(r'\s(?:xlink:href|href|src|poster|data|action|formaction|background)=(?:"([^"]*)"|\'([^\']*)\')')
_SOURCE_SET = re.compile(r'\ssrcset="')
_ID = re.compile(r'\sid="([^"]*)"')
_SCRIPT = re.compile(r"(<script\b[^>]*>).*?</script>", re.DOTALL | re.IGNORECASE)
_CSS_LINK = re.compile(r"url\(\s*[\"']?([^\"')]*)|@import\s+[\"']([^\"']*)")
_FREE_FRAGMENTS = (MAP_PAGE, "map/")
"""Files in which what follows ``#`` is not an anchor but a place on the web map."""


def check_links(out: Path) -> list[str]:
    """Return what is wrong with the links of the site in ``out``, one sentence each, sorted.

    Read are all HTML, SVG and CSS files. An address with a scheme or a host is wrong
    wherever it stands, ``data:`` in a source excepted. File names are compared with
    their case, as most web servers do.
    """
    paths = {path.relative_to(out).as_posix(): path for path in out.rglob("*") if path.is_file()}
    texts = {
        name: path.read_text(encoding="utf-8", errors="replace")
        for name, path in paths.items()
        if name.endswith((".html", ".svg", ".css"))
    }
    marked = {name: frozenset(map(unescape, _ID.findall(text))) for name, text in texts.items()}
    names = frozenset(paths)

    @cache
    def problem(base: str, address: str) -> str:
        return _problem(base, address, names, marked)

    problems = {
        f"{name}: {address}: {found}"
        for name, text in texts.items()
        for address in frozenset(_addresses(name, text))
        if (found := problem(_base(name, address), address))
    }
    return sorted(problems)


def _base(name: str, address: str) -> str:
    """Return what an address is read from: files of one folder share it, but for their own anchors."""
    return name if address.startswith(("#", "?")) or not address else f"{dirname(name)}/".lstrip("/")


def _addresses(name: str, text: str) -> Iterator[str]:
    if name.endswith(".css"):
        yield from (first or second for first, second in _CSS_LINK.findall(text))
        return
    text = _SCRIPT.sub(r"\1</script>", text)
    yield from (unescape(double or single) for double, single in _LINK.findall(text))
    if _SOURCE_SET.search(text):
        yield "srcset:"


def _target(name: str, path: str) -> str:
    return normpath(join(dirname(name), unquote(path))) if path else name


def _problem(name: str, address: str, names: frozenset[str], marked: Mapping[str, frozenset[str]]) -> str:
    """Return what is wrong with an address in a file, or nothing."""
    if address.startswith("data:"):
        return "" if address.startswith(("data:image/", "data:font/")) else "holds data that is not a picture"
    try:
        parts = urlsplit(address)
    except ValueError:
        return "is no address"
    if parts.scheme or parts.netloc:
        return "leads out of the site"
    target = _target(name, parts.path)
    if target not in names:
        return "there is no such file"
    if not parts.fragment or target.startswith(_FREE_FRAGMENTS):
        return ""
    return "" if unquote(parts.fragment) in marked.get(target, frozenset()) else "there is no such anchor"
