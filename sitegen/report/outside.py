"""Pages that other packages bring: made from the context as our own are, and written by the same writers."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import get_args

from sitegen.plugins import PAGES, Plugin, plugins
from sitegen.project.reads import reading
from sitegen.report.record.pages import Block, Figure, Page, Ref, Section, Table
from sitegen.report.write.context import Context


def outside_pages(context: Context, groups: Collection[str], former: Mapping[str, str]) -> Iterator[Page]:
    """Yield the page of each plug-in, in order of their names; each must be in one of ``groups``.

    ``former`` names the groups as they were called before, with the ones that took their place.
    """
    for plugin in plugins(PAGES):
        if not callable(plugin.target):
            raise plugin.fault("is no function")
        with reading() as seen:
            page = _sound(plugin, plugin.call(plugin.target, context), groups, former)
        reads = frozenset(seen)
        yield replace(page, blocks=tuple(_carrying(block, reads) for block in page.blocks), reads=reads)


def _carrying(block: Block, reads: frozenset[str]) -> Block:
    """Have the tables and figures of a page carry what was read for it, where they do not say it themselves."""
    if isinstance(block, Section):
        block = replace(block, blocks=tuple(_carrying(inner, reads) for inner in block.blocks))
    return replace(block, reads=reads) if isinstance(block, Section | Table | Figure) and not block.reads else block


def _sound(plugin: Plugin, page: object, groups: Collection[str], former: Mapping[str, str]) -> Page:
    """Return a page that can be written and reached."""
    if not isinstance(page, Page):
        raise plugin.fault("gives something that is no Page")
    if page.ref != Ref("page", f"plugin-{plugin.name}"):
        raise plugin.fault(f"gives a page with another address than Ref('page', 'plugin-{plugin.name}')")
    page = replace(page, group=former.get(page.group, page.group))
    if page.group not in groups:
        raise plugin.fault(f"gives a page of the group {page.group!r}; the groups are {', '.join(groups)}")
    if not all(isinstance(text, str) and text for text in (page.title, page.lead)):
        raise plugin.fault("gives a page without a title or without a lead")
    if not isinstance(page.blocks, tuple) or not all(isinstance(block, get_args(Block)) for block in page.blocks):
        raise plugin.fault("gives a page with something in it that is no block")
    return page
