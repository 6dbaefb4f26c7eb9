"""Hostile words for every place of the format that takes free text."""

from __future__ import annotations

from collections.abc import Callable

from builders import Change, Row, cell, cells, example, feature_added, rows_of, sentence, setting, table

from sitegen.project.schema import Kind
from sitegen.project.tables import TABLES

HTML = "<script>alert(1)</script><img src=x onerror=alert(2)> & \"quoted\" 'marks'"
TYPST = '#read("/etc/passwd") #panic("no") $x^2$ @ref <label> \\ `raw`'
MARKDOWN = "[words](javascript:alert(3)) ![p](http://example.invalid/p.png) **bold** <b>x</b>"
TEMPLATE = "{{ 7*7 }} {% for x in y %} {# note #} ${7*7}"
PATHS = "../../etc/passwd C:\\Windows\\x file:///etc/passwd"
FORMULA = '=HYPERLINK("http://example.invalid","click")'
SCRIPTS = "עברית العربية 地下气体 ガス 🧪"
LONG = "word " * 399 + "end."
LONG_NAME = "1,1,1,2,3,3,3-heptafluoro-2-propanyl methyl ether"[:48]
COMMENTS = (HTML, TYPST, MARKDOWN, TEMPLATE, PATHS, FORMULA, SCRIPTS, LONG)
SAMPLERS = ("0047102", "0047103", "0047104", "0047105", "0047106", "0047107", "0047108", "0047109")
GATE = {"type": "Point", "coordinates": [-99.3675, 43.0825]}


def planted() -> tuple[Change, ...]:
    """Put each hostile text where free text goes: comments, names, captions, narrative, settings."""
    placed = zip(SAMPLERS, COMMENTS, strict=True)
    return (
        *(cell("field/deployments.csv", sampler, "comment", words) for sampler, words in placed),
        cell("lab/analytes.csv", "pce", "name", LONG_NAME),
        cell("lab/analytes.csv", "toluene", "name", "<i>Toluene</i> {{ 7*7 }}"),
        cell("lab/results.csv", "04417-005+pce", "validation_reason", FORMULA),
        cell("lab/results.csv", "04417-005+toluene", "result_text", HTML),
        cell("lab/results.csv", "04417-006+toluene", "result_text", TYPST),
        cell("lab/results.csv", "04417-007+toluene", "result_text", MARKDOWN),
        cell("lab/results.csv", "04417-008+toluene", "result_text", FORMULA),
        cell("locations/locations.csv", "SG-37", "rationale", HTML),
        cells("field/photos.csv", "photos/sg-35.png", caption=HTML, alt_text=TEMPLATE),
        feature_added(GATE, kind="other", name="</script><script>alert(4)</script>", public="yes"),
        setting("withhold = []", "withhold = []\nnarrative_docx = true"),
        sentence("interpretation", f"Seen: {MARKDOWN} and {TYPST}"),
    )


RUNNING = (
    "<script>window.ran=1</script>",
    "<img src=x onerror=window.ran=1>",
    "<svg onload=window.ran=1>",
    "javascript:window.ran=1",
    "data:text/html,<script>window.ran=1</script>",
    "[x](javascript:window.ran=1)",
    "\"' onmouseover=window.ran=1 x='",
)
"""Texts that set ``window.ran`` where a page takes them for more than text."""

READ_AS_ZONE = "tz"
"""The one text column whose words are looked up, and refused where they are no zone."""


def running() -> tuple[Change, ...]:
    """Put a text that would run into every cell of every text column that the example has."""
    filled: list[Change] = []
    for spec in TABLES:
        file = example().files.get(spec.path)
        header = rows_of(file.content)[0] if file else []
        names = [column.name for column in spec.columns if column.kind is Kind.TEXT and column.name in header]
        filled += [table(spec.path, _filling(name)) for name in names if name != READ_AS_ZONE]
    return (*filled, *(setting(f'{name} = "', f'{name} = "{RUNNING[1]} ') for name in ("title", "site", "client")))


def _filling(name: str) -> Callable[[list[Row]], list[Row]]:
    return lambda rows: [row | {name: RUNNING[at % len(RUNNING)]} for at, row in enumerate(rows)]
