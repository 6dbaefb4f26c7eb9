"""Where an internal link of the printed report can lead.

Chapters, sections, tables, figures and photographs get labels made from their place
in the report, so that an id used on several pages never points to the wrong one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sitegen.report.record.pages import Block, Chapter, Figure, Ref, Section, Table

Path = tuple[int, ...]
"""Place of a block: chapter number, then block numbers downwards."""

_ID_ALONE = frozenset({"page", "location", "compound", "sampler", "bag", "shipment"})


def label_at(path: Path) -> str:
    """Return the label of the block at `path`.

    >>> label_at((2, 0, 5))
    'at-2-0-5'
    """
    return "at-" + "-".join(map(str, path))


@dataclass(frozen=True, slots=True)
class Targets:
    """Labels by id, and by ``holder/id`` for each chapter or section that holds it."""

    labels: dict[str, str]
    repeated: frozenset[str]

    def resolve(self, ref: Ref | None) -> str:
        """Return the label that `ref` leads to, or nothing where print has no such place.

        A Ref matches a block whose id is ``kind-id`` (``location-SG-01``) or, for the
        kinds that have pages, the id alone. Its anchor is looked for inside that block
        first; a page's anchor is also found elsewhere if no other block has that id.
        """
        if ref is None:
            return ""
        names = [f"{ref.kind}-{ref.id}"] + ([ref.id] if ref.kind in _ID_ALONE else [])
        if ref.anchor:
            inside = [f"{name}/{ref.anchor}" for name in names]
            alone = [ref.anchor] if ref.kind == "page" and ref.anchor not in self.repeated else []
            names = inside + alone + names
        return next((self.labels[name] for name in names if name in self.labels), "")


def find_targets(chapters: Sequence[Chapter]) -> Targets:
    """Collect every place that a link can lead to; the first of equal names wins."""
    labels: dict[str, str] = {}
    seen: set[str] = set()
    repeated: set[str] = set()
    for number, chapter in enumerate(chapters):
        for ids, path in _walk(chapter, (number,), ()):
            if ids[-1] in seen:
                repeated.add(ids[-1])
            seen.add(ids[-1])
            for name in (ids[-1], *(f"{holder}/{ids[-1]}" for holder in ids[:-1])):
                labels.setdefault(name, label_at(path))
    return Targets(labels, frozenset(repeated))


def _walk(block: Chapter | Block, path: Path, holders: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Path]]:
    if isinstance(block, Chapter | Section | Table | Figure):
        yield (*holders, block.id), path
    if isinstance(block, Chapter | Section):
        for number, child in enumerate(block.blocks):
            yield from _walk(child, (*path, number), (*holders, block.id))
