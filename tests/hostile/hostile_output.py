"""Whether anything in a built report is more than text: what would run, load or calculate is told."""

from __future__ import annotations

import csv
import io
import json
from html.parser import HTMLParser
from pathlib import Path

MARK = "window.ran"
"""Hostile texts that would run hold this."""
_ADDRESSES = ("href", "src", "action", "formaction", "xlink:href", "data", "poster", "srcset")
_LIVE = ("javascript:", "data:text/html", "vbscript:", "file:")
_PLAIN_SCRIPTS = ("application/json", "application/ld+json")


class _Page(HTMLParser):
    """Gathers what a browser would take for more than text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self._script = False

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        """Look at the attributes of an element."""
        values = {name: value or "" for name, value in attributes}
        self._script = tag in ("script", "style") and values.get("type", "") not in _PLAIN_SCRIPTS
        for name, value in values.items():
            if name.startswith("on") and MARK in value:
                self.faults.append(f"<{tag} {name}> would run")
            if name in _ADDRESSES and "".join(value.split()).lower().startswith(_LIVE):
                self.faults.append(f"<{tag} {name}={value[:60]!r}>")

    def handle_endtag(self, _: str) -> None:
        """Leave a script."""
        self._script = False

    def handle_data(self, data: str) -> None:
        """Look into what a script says."""
        if self._script and MARK in data:
            self.faults.append("a script holds the text")


def output_faults(report: Path) -> list[str]:
    """Return what of a report is more than text, as sentences; [] where all is text."""
    site = report / "site"
    pages = sorted(site.rglob("*.html"))
    faults = [] if pages else ["output: no page was written"]
    for path in pages:
        page = _Page()
        page.feed(path.read_text("utf-8"))
        faults += [f"output: {path.relative_to(site)}: {fault}" for fault in page.faults]
    for path in sorted(site.rglob("*.csv")):
        rows = csv.reader(io.StringIO(path.read_text("utf-8-sig"), newline=""))
        formulas = [cell for row in rows for cell in row if cell.startswith(("=", "@", "+cmd", "-cmd", "\t="))]
        faults += [f"output: {path.relative_to(site)}: the formula {cell[:60]!r}" for cell in formulas[:3]]
    for path in (*site.rglob("*.json"), *site.rglob("*.geojson")):
        json.loads(path.read_text("utf-8"))
    return faults
