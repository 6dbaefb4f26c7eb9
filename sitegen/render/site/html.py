"""Pages of the report to finished HTML, through our own templates with every text escaped."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, NamedTuple
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from sitegen.kept import InVoice, template_cache
from sitegen.render.site import prose
from sitegen.render.site.html_table import view_table
from sitegen.render.site.paths import MAP_PAGE, anchor, page_url, relative, root_of
from sitegen.render.site.searching import search_words
from sitegen.render.site.targets import Targets, block_id, data_table, gather_targets, own_anchor
from sitegen.report.record.pages import (
    Block,
    Buttons,
    Callout,
    Facts,
    Figure,
    MapFrame,
    Meta,
    Page,
    Photo,
    Prose,
    Quote,
    Ref,
    Report,
    Section,
    Table,
    Tiles,
)
from sitegen.voice import Voice, voice, worded

STYLESHEET = "theme/look.css"
"""Where the project's own stylesheet stands on the site."""

MAP_FILE = "map/index.html"
"""Where the web map stands in the output folder."""

TONE_WORDS = {
    "stop": "Stop",
    "hold": "Hold",
    "major": "Major",
    "flag": "Flag",
    "note": "Note",
    "caution": "Caution",
    "info": "For your information",
}
"""The word before a callout's title, so that no tone is told by colour alone."""

_NOT_FOR_HTML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
_SVG_START = re.compile(r"<svg\b[^>]*>", re.DOTALL)
_SVG_ID = re.compile(r'(\bid="|url\(#|href="#)(?=[^"])')


class NavItem(NamedTuple):
    """A page in the navigation: URL and title."""

    url: str
    title: str


class SearchEntry(NamedTuple):
    """What the search index holds for a page or a section; title and text are HTML-escaped.

    ``words`` are other names of the page, one after the other with a bar between, ``kind`` is the page's.
    """

    location: str
    title: str
    text: str
    words: str
    kind: str


@dataclass(frozen=True, slots=True)
class FinishedPage:
    """A page as HTML, in the pieces that the theme's frame puts in their places."""

    url: str
    head_title: str
    site_title: str
    navigation: str
    strip: str
    article: str
    footer: str
    previous: str
    following: str
    search: tuple[SearchEntry, ...]
    logo: str
    stylesheet: str


@dataclass(frozen=True, slots=True)
class Place:
    """Where a block is being written: the page's URL and the level of the next heading."""

    here: str
    level: int
    targets: Targets

    def link(self, ref: Ref | None) -> str:
        """Return the link to a Ref from here, or nothing."""
        return self.targets.href(ref, self.here)

    def written_link(self, address: str) -> str:
        """Return the link for an address written in Markdown, relative to the output folder."""
        if address.startswith("#"):
            address = self.here + address
        return relative(self.here, address) if self.targets.has(address) else ""


def environment() -> Environment:
    """Return the template environment of the voice that speaks: escaping on, unknown names are errors."""
    return _environment(voice())


@cache
def _environment(_: Voice) -> Environment:
    made = Environment(
        loader=PackageLoader("sitegen", "templates/site"),
        extensions=[InVoice],
        bytecode_cache=template_cache("site"),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["anchor"] = anchor
    made.globals["worded"] = worded
    made.globals["tone_words"] = TONE_WORDS
    made.filters["short_digest"] = lambda digest: digest[:8]
    return made


def finished_pages(report: Report, files: Sequence[str]) -> Iterator[FinishedPage]:
    """Render every page of the report, in its order; ``files`` are the extra files' paths."""
    finisher = Finisher(report, files)
    yield from map(finisher.page, finisher.urls)


class Finisher:
    """Renders pages of a report one at a time, each when it is asked for; ``files`` are the extra files' paths."""

    def __init__(self, report: Report, files: Sequence[str]) -> None:
        self._pages = {page_url(page.ref): page for page in report.pages}
        self._parents = {url: page.parent for url, page in self._pages.items()}
        self._targets = gather_targets(report.pages, files)
        self._frames = Frames(report.meta, navigation(report))

    @property
    def urls(self) -> tuple[str, ...]:
        """The pages' URLs, in the order of the report."""
        return tuple(self._pages)

    def page(self, url: str) -> FinishedPage:
        """Render one page; raises KeyError where there is none."""
        return _finish(self._pages[url], self._frames, self._parents, self._targets)


def navigation(report: Report) -> tuple[tuple[str, tuple[NavItem, ...]], ...]:
    """Return the navigation: groups in the report's order, pages in theirs."""
    items: dict[str, list[NavItem]] = {group: [] for group in report.groups}
    for page in report.pages:
        if page.group:
            items.setdefault(page.group, []).append(NavItem(page_url(page.ref), page.title))
    return tuple((worded(group), tuple(pages)) for group, pages in items.items() if pages)


class Frames:
    """What stands around every page; pages of one folder that the navigation doesn't list share theirs."""

    def __init__(self, meta: Meta, groups: tuple[tuple[str, tuple[NavItem, ...]], ...]) -> None:
        self.meta = meta
        self.strip = clean(_render("strip.html", meta=meta))
        self.footer = clean(_render("footer.html", meta=meta))
        self._groups = groups
        self._listed = frozenset(item.url for _, items in groups for item in items)
        self._written: dict[tuple[str, str, str], str] = {}

    def logo(self, url: str) -> str:
        """Return the project's logo as it stands on a page, "" where it has none."""
        look = self.meta.look
        return clean(_render("logo.html", root=root_of(url), look=look)) if look.logo_at else ""

    def navigation(self, url: str, above: Sequence[str] = ()) -> str:
        """Return the navigation as it is on a page; ``above`` are the URLs of the pages that head it, nearest first.

        The entry of the page itself is the current one, else that of the nearest page above it.
        """
        here = next((one for one in (url, *above) if one in self._listed), "")
        key = (root_of(url), here, "page" if here == url else "true")
        if key not in self._written:
            root, here, current = key
            html = _render("navigation.html", root=root, here=here, current=current, groups=self._groups)
            self._written[key] = clean(html)
        return self._written[key]


def _finish(page: Page, frames: Frames, parents: Mapping[str, Ref | None], targets: Targets) -> FinishedPage:
    url = page_url(page.ref)
    place = Place(url, 2, targets)
    meta = frames.meta
    title = meta.title if page.title == meta.title else f"{page.title} – {meta.title}"
    return FinishedPage(
        url=url,
        head_title=_escaped(title),
        site_title=_escaped(meta.title),
        navigation=frames.navigation(url, _above(url, parents, targets)),
        strip=frames.strip,
        article=clean(_article(page, place, _trail(url, parents, targets))),
        footer=frames.footer,
        previous=place.link(page.previous),
        following=place.link(page.following),
        search=tuple(_search_entries(page, url)),
        logo=frames.logo(url),
        stylesheet=STYLESHEET if meta.look.stylesheet else "",
    )


def _article(page: Page, place: Place, trail: Sequence[NavItem]) -> Markup:
    titles = place.targets.titles
    return _render(
        "article.html",
        page=page,
        place=place,
        trail=trail,
        contents=[block for block in page.blocks if isinstance(block, Section)],
        body=render_blocks(page.blocks, place),
        series=[
            (word, place.link(ref), titles.get(page_url(ref).partition("#")[0], ref.id))
            for word, ref in (("Previous", page.previous), ("Next", page.following))
            if ref is not None and place.link(ref)
        ],
    )


def _trail(url: str, parents: Mapping[str, Ref | None], targets: Targets) -> list[NavItem]:
    """Return the pages above a page, outermost first; a circle of parents ends the way."""
    return [NavItem(relative(url, one), targets.titles[one]) for one in reversed(_above(url, parents, targets))]


def _above(url: str, parents: Mapping[str, Ref | None], targets: Targets) -> list[str]:
    """Return the URLs of the pages above a page, nearest first."""
    found: list[str] = []
    parent = parents.get(url)
    while parent is not None:
        above = page_url(parent).partition("#")[0]
        if above in (url, *found) or above not in targets.titles:
            break
        found.append(above)
        parent = parents.get(above)
    return found


def _search_entries(page: Page, url: str) -> Iterator[SearchEntry]:
    for found in search_words(page):
        where = f"{url}#{found.section}" if found.section else url
        words = _escaped("|".join(found.words))
        yield SearchEntry(where, _escaped(found.title), _escaped(found.text), words, page.ref.kind)


def render_blocks(blocks: Sequence[Block], place: Place) -> Markup:
    """Return the HTML of blocks in their order."""
    return Markup("").join(_RENDERERS[type(block)](block, place) for block in blocks)


def _section(block: Section, place: Place) -> Markup:
    inner = replace(place, level=min(place.level + 1, 6))
    return _render("blocks/section.html", block=block, place=place, body=render_blocks(block.blocks, inner))


def _table(block: Table, place: Place) -> Markup:
    view = view_table(block, place.targets, place.here)
    sources = [(source.text, place.link(source.ref) if source.ref else "") for source in block.sources]
    return _render("blocks/table.html", block=block, name=block_id(block), view=view, sources=sources)


def _figure(block: Figure, place: Place) -> Markup:
    table = None if block.table is None else _table(data_table(block, block.table), place)
    return _render("blocks/figure.html", block=block, name=block_id(block), svg=inline_svg(block), table=table)


def _photo(block: Photo, place: Place) -> Markup:
    return _render("blocks/photo.html", block=block, src=place.link(Ref("file", block.file)))


def _prose(block: Prose, place: Place) -> Markup:
    numbered = {f"ref:{at}": ref for at, ref in enumerate(block.refs)}

    def link(address: str) -> str:
        return place.link(numbered[address]) if address in numbered else place.written_link(address)

    body = prose.to_html(block.markdown, place.level, link)
    return _render("blocks/prose.html", body=body)


def _callout(block: Callout, place: Place) -> Markup:
    body = prose.to_html(block.markdown, place.level, place.written_link)
    return _render("blocks/callout.html", block=block, body=body, link=place.link)


def _facts(block: Facts, place: Place) -> Markup:
    known = place.targets.anchors.get(place.here, {})
    names = [own_anchor(cell, place.here) for _, cell in block.rows]
    ids = [name if known.get(name) == ("", index) else "" for index, name in enumerate(names)]
    return _render("blocks/facts.html", rows=zip(block.rows, ids, strict=True), link=place.link)


def _map_frame(block: MapFrame, place: Place) -> Markup:
    file = place.link(Ref("file", MAP_FILE))
    at = f"#{quote(block.at)}" if block.at and file else ""
    return _render("blocks/map.html", block=block, src=file + at, follows=place.here == MAP_PAGE)


def _tiles(block: Tiles, place: Place) -> Markup:
    return _render("blocks/tiles.html", block=block, link=place.link)


def _buttons(block: Buttons, place: Place) -> Markup:
    return _render("blocks/buttons.html", block=block, link=place.link)


def _quote(block: Quote, place: Place) -> Markup:  # noqa: ARG001 - all renderers are called alike
    return _render("blocks/quote.html", block=block)


_RENDERERS: dict[type, Callable[[Any, Place], Markup]] = {
    Section: _section,
    Table: _table,
    Figure: _figure,
    Photo: _photo,
    Prose: _prose,
    Quote: _quote,
    Facts: _facts,
    Tiles: _tiles,
    Buttons: _buttons,
    Callout: _callout,
    MapFrame: _map_frame,
}


def inline_svg(figure: Figure) -> Markup:
    """Return a figure's drawing for use inside a page.

    The prolog goes, ids get the figure's own prefix (two drawings on a page may use the
    same ones), and the drawing is announced as one image with its alternative text.
    """
    start = _SVG_START.search(figure.svg)
    if start is None:
        return Markup("")
    name = block_id(figure)
    opening = re.sub(r'\s(?:role|aria-[a-z]+)="[^"]*"', "", start.group())
    words = f' aria-describedby="{name}-words"' if figure.description else ""
    label = f'<svg role="img" aria-label="{escape(figure.alt)}"{words} '
    body = figure.svg[start.end() :]
    return Markup(label + _SVG_ID.sub(rf"\1{name}-", opening[len("<svg") :] + body))  # noqa: S704


def clean(text: str) -> str:
    r"""Replace characters that HTML does not allow, such as control characters.

    >>> clean("a\x00b") == "a\N{REPLACEMENT CHARACTER}b"
    True
    """
    return _NOT_FOR_HTML.sub("\ufffd", text)


def _escaped(text: str) -> str:
    return str(escape(clean(text)))


def _render(template: str, **values: Any) -> Markup:  # noqa: ANN401 - a template takes anything
    return Markup(environment().get_template(template).render(values))  # noqa: S704 - escaped inside
