"""Read the printed report again: the numbers of its tables in their order, and what is attached."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from itertools import groupby
from pathlib import Path

import pikepdf

from sitegen.render.print.markdown import Node
from sitegen.render.print.pdf import PrintSources
from sitegen.render.print.sheets import flat
from sitegen.render.proof.pdf_text import Document, read_pdf, squeeze

_PLAIN = re.compile("[\x20-\u02af\u0370-\u04ff\u2000-\u206f\u2070-\u22ff\u2500-\u27bf\u00ad]*")
"""Texts whose signs are drawn one by one in the order in which they are written."""
_WAYS = ((False, False), (True, False), (True, True))
"""Ways to read a PDF, the quickest first: a row that goes on over a page is whole in the tree of tags
alone, and the search for texts may be led astray."""


def print_differences(path: Path, sources: PrintSources, attachments: Mapping[str, bytes]) -> Iterator[str]:
    """Yield what differs between a PDF and what it was set from, and between what it carries and ``attachments``."""
    tree = json.loads(sources.files["data.json"])
    found: list[str] = []
    try:
        for tagged, parsed in _WAYS:
            found = list(_differences(path.name, read_pdf(path, tagged=tagged, parsed=parsed), tree, attachments))
            if not found:
                break
    except (pikepdf.PdfError, ValueError) as error:
        found = [f"{path.name} can't be read: {error}"]
    yield from found


def _differences(file: str, document: Document, tree: Node, attachments: Mapping[str, bytes]) -> Iterator[str]:
    yield from _attachment_differences(file, document, attachments)
    at = 0
    for sheet in tree["sheets"]:
        for node in flat(sheet["nodes"]):
            for run in _runs(_cells(node)):
                found = document.text.find(run, at)
                if found < 0:
                    yield f"{file}: {_name(node)} is not there as it was set: {run[:80]!r}"
                    return
                at = found + len(run)


def _attachment_differences(file: str, document: Document, meant: Mapping[str, bytes]) -> Iterator[str]:
    for name in sorted(meant.keys() | document.attachments.keys()):
        if meant.get(name) != document.attachments.get(name):
            yield f"{file}, attached {name}: not the file that was given"


def _name(node: Node) -> str:
    return f"{node['kind']} {node['caption']!r}" if "caption" in node else f"a list ({node['kind']})"


def _cells(node: Node) -> Iterator[str]:
    """Yield the texts of a table, a list of facts or tiles, in the order in which print shows them."""
    match node["kind"]:
        case "table":
            for row in node["rows"]:
                yield from map(_cell_text, row)
        case "facts":
            for label, cell in node["rows"]:
                yield label
                yield _cell_text(cell)
        case "tiles":
            for tile in node["tiles"]:
                yield from (tile["value"], tile["label"], tile["note"])
        case _:
            return


def _cell_text(cell: str | Node) -> str:
    if isinstance(cell, str):
        return cell
    text: str = cell["text"]
    return text + ", ".join(cell.get("marks", ()))


def _runs(cells: Iterator[str]) -> Iterator[str]:
    """Join neighbouring texts that can be compared, so that each is found in its place."""
    for plain, some in groupby(cells, key=lambda text: _PLAIN.fullmatch(text) is not None):
        run = squeeze("".join(some)) if plain else ""
        if run:
            yield run
