"""Hostile texts in every column of free text: legal, so they must come out of the report as text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from builders import Change, Row, changed, rows_of, sentence, setting, table
from hostile_case import Answer, Hostile, edited, small_example
from hostile_texts import READ_AS_ZONE

from sitegen.project.limits import NAME
from sitegen.project.schema import Kind
from sitegen.project.tables import TABLES

RUN = "window.ran=1"
FAMILIES: dict[str, tuple[str, ...]] = {
    "formulas": (
        '=HYPERLINK("http://example.invalid","x")', "@SUM(1)", "+cmd|' /C x'!A0", "-cmd|'x'!A0", "\t=1+1",
        '=IMPORTXML("http://example.invalid","//a")', "\uff1d1+1", '=cmd|"/C x"!A0',
    ),
    "HTML": (
        f"<script>{RUN}</script>", f"<img src=x onerror={RUN}>", f"<iframe srcdoc='<script>{RUN}</script>'>",
        f"</title></textarea></script><script>{RUN}</script>", f"<!--><script>{RUN}</script>-->",
        f"\"' onmouseover={RUN} x='", "<base href=//example.invalid>", "<meta http-equiv=refresh content=0>",
        f"&lt;script&gt;{RUN}&lt;/script&gt;", f"&#60;script&#62;{RUN}", "<plaintext>",
        f"<form action=javascript:{RUN}>",
    ),
    "SVG": (
        f"<svg onload={RUN}>", f"<svg><script>{RUN}</script></svg>", "<use href=http://example.invalid/x#y>",
        "]]></svg><svg>", "<foreignObject><body onload=window.ran=1>", f"<animate onbegin={RUN}>",
        "<image href=file:///x>",
    ),
    "Typst": (
        '#read("/etc/passwd")', '#panic("no")', "$x^2$ $", "@nowhere", "<label>", "\\", "`raw", "```", "#import \"x\"",
        '#include "/etc/passwd"', "#{", "]", "#set page(width: 1pt)", "/* */ // x", "= Heading", "\\u{110000}", "#[",
    ),
    "Markdown": (
        f"[x](javascript:{RUN})", "![x](http://example.invalid/x.png)", "**bold** __x__ ~~y~~", "| a | b |\n|---|---|",
        f"<javascript:{RUN}>", "[x]: http://example.invalid", "# Heading", "> quote", "```\ncode", "- [ ] x", "[[x]]",
    ),
    "templates": (
        "{{ 7*7 }}", "{% for x in y %}", "{# note #}", "${7*7}", "{{ config.__class__ }}", "%(name)s", "{0}", "{name}",
        "{{ count.pce }}", "%s%n", "$(touch x)", "`touch x`", "{% raw %}", "}}",
    ),
    "addresses": (
        f"javascript:{RUN}", f"JaVaScRiPt:{RUN}", f"data:text/html,<script>{RUN}</script>", "vbscript:x", "file:///etc/passwd",
        "//example.invalid/x", "http://[::1", "http://example.invalid:99999/", "mailto:x@example.invalid", "\\\\x\\y",
        f"java\u200bscript:{RUN}", "blob:x", "tel:1", "ftp://example.invalid",
    ),
    "directions and unseen characters": (
        "\u202ereversed\u202c", "\u2066\u2067x", "\u200b\u200c\u200d", "\ufeffx",
        "a\u0301\u0301\u0301" * 30, "\u2028x\u2029",
        "\U000e0041x", "\ufdfd" * 20, "\U0001f9ea\u200d\U0001f9ea", "\ue000", "\ufffd", "\u00ad",
    ),
    "lines and long words": (
        "a\nb\n\nc", "w" * 300, "w" * 299 + "\u00e9",
        "\u6c34" * 300, "x " * 150, "-" * 300, "." * 300, "\u2014" * 300,
    ),
}  # fmt: skip


def inputs() -> Iterator[Hostile]:
    """Yield the inputs of this class."""
    columns = [
        (spec.path, column.name)
        for spec in TABLES
        for column in spec.columns
        if column.kind is Kind.TEXT and spec.path in small_example().files and column.name != READ_AS_ZONE
    ]
    for family, texts in FAMILIES.items():
        changes = [table(path, _filling(path, columns, texts)) for path in dict.fromkeys(path for path, _ in columns)]
        make = edited(*changes, small=True)
        yield Hostile("texts", f"{family} in every text", make, Answer.BUILT, aimed=len(columns))
        yield Hostile(
            "texts", f"{family} in the narrative", edited(*_narrative(texts)), Answer.BOUNDED, aimed=len(texts)
        )
    yield from _settings()
    yield from _ids()


def _filling(path: str, columns: Sequence[tuple[str, str]], texts: Sequence[str]) -> Callable[[list[Row]], list[Row]]:
    names = [name for file, name in columns if file == path]

    def edit(rows: list[Row]) -> list[Row]:
        for at, row in enumerate(rows):
            for shift, name in enumerate(names):
                if name in row:
                    row[name] = texts[(at + shift) % len(texts)][: _longest(path, name)]
        return rows

    return edit


def _longest(path: str, name: str) -> int:
    spec = next(spec for spec in TABLES if spec.path == path)
    return (spec.column(name).longest or NAME).value


def _narrative(texts: Sequence[str]) -> list[Change]:
    return [sentence("interpretation", f"Seen: {words}") for words in texts]


def _settings() -> Iterator[Hostile]:
    """Texts in the project's own names, each of which stands on every page."""
    for family, texts in FAMILIES.items():
        words = " ".join(texts)[:250].replace("\\", "/").replace('"', "'")
        plain = "".join(sign if sign.isprintable() else " " for sign in words)
        changes = [setting(f'{key} = "', f'{key} = "{plain} ') for key in ("title", "site")]
        yield Hostile("texts", f"{family} in title and site", edited(*changes), Answer.BOUNDED, aimed=2)


def _ids() -> Iterator[Hostile]:
    """Ids of a point and a sampler, changed wherever they stand: pages, files and keys are named by them."""
    hostile = (
        "../../../x",
        "<b>SG</b>",
        "=SG",
        "CON",
        "SG 01",
        "{{ 7*7 }}",
        "#SG",
        "s\u0301g",
        "..",
        "%2e%2e%2f",
        "SG'\"",
    )
    for name in hostile:
        yield Hostile("texts", f"a point called {name!a}", edited(*_renamed("SG-01", name)), Answer.BOUNDED, aimed=2)


def _renamed(old: str, new: str) -> list[Change]:
    changes: list[Change] = []
    for path, file in changed().files.items():
        if path.endswith(".csv") and old.encode() in file.content and rows_of(file.content)[1]:
            changes.append(table(path, lambda rows: [_row(row, old, new) for row in rows]))
    return changes


def _row(row: Row, old: str, new: str) -> Row:
    return {name: new if text == old else text.replace(f"{old};", f"{new};") for name, text in row.items()}
