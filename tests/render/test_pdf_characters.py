"""Characters in the printed report: hostile text stays text, and what no font can draw is told."""

from __future__ import annotations

from html import escape
from pathlib import Path

import pytest
from pdf_samples import (
    SVG,
    a_report,
    render,
    squeezed,
    text_of,
)
from sample_report import HOSTILE, sample_files, sample_report

from sitegen import glyphs
from sitegen.render.print import pdf
from sitegen.report.record.pages import (
    Bound,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    Mark,
    Prose,
    Quote,
    Section,
    Source,
    Table,
    Tile,
    Tiles,
)

ATTACKS = (
    '#read("/etc/passwd")',
    '#include "x.typ" $x^2$ *bold* _it_ @ref <label> // gone /* gone */ \\ ~ -- ---',
    "<script>alert(1)</script>",
    "{{ 7 * 7 }} {% raw %}",
    "=cmd|' /C calc'!A0",
)


@pytest.mark.parametrize("attack", ATTACKS)
def test_hostile_text_is_printed_as_it_was_written(attack: str) -> None:
    blocks = (
        Quote(attack, attack),
        Table("t", attack, (Column("a", attack, attack),), ((Cell(attack),),), note=attack, sources=(Source(attack),)),
        Facts(((attack, Cell(attack)),)),
        Tiles((Tile(attack, attack, attack),)),
        Callout("flag", attack, "text"),
        Figure("f", SVG, attack, attack, attack),
    )
    report = a_report(Section("s", attack, blocks), title=attack, site=attack, notices=(attack,))
    assert squeezed(render(report)).count("".join(attack.split())) >= 16


def test_markdown_keeps_raw_html_and_typst_as_text() -> None:
    shown = squeezed(
        render(a_report(Prose('<b onclick="x">raw</b> #read("/etc/passwd") [x](javascript:alert%281%29)')))
    )
    assert '<bonclick="x">raw</b>#read("/etc/passwd")' in shown


def test_characters_without_a_glyph_are_replaced_counted_and_placed() -> None:
    table = Table("t", "Serials", (Column("a", "A"),), ((Cell("水\x07"),),))
    report = a_report(Section("s", "Field", (table, Prose("right to left: שלום العربية 😀 e\u0301 µg/m³ ≥ ₂"))))
    assert pdf.missing_glyphs(report) == (("\x07", "Field: Serials"), ("水", "Field: Serials"))
    shown = text_of(render(report))
    assert "U+6C34 CJK UNIFIED IDEOGRAPH-6C34 · first in: Field: Serials" in shown
    assert "��" in shown
    assert "水" not in shown
    assert "µg/m³ ≥ ₂" in shown


@pytest.mark.parametrize("drawn", ["水", "&#27700;", "&#x6c34;"])
def test_characters_inside_a_drawing_are_checked_too(drawn: str) -> None:
    report = a_report(Figure("f", SVG.replace("axis", drawn), "Drawing", "alt"))
    assert pdf.missing_glyphs(report) == (("水", "Chapter: Drawing"),)
    assert render(report)


def test_combining_marks_in_a_drawing_are_composed_or_reported() -> None:
    composed = a_report(Figure("f", SVG.replace("axis", "e\u0301\u00ad\u200d"), "Drawing", "alt"))
    assert pdf.missing_glyphs(composed) == ()
    loose = a_report(Figure("f", SVG.replace("axis", "\u0338\U0001f469\u0338\ufe0f\u0eb3\u07eb"), "Drawing", "alt"))
    assert "\u0338" in dict(pdf.missing_glyphs(loose))
    assert render(composed)
    assert render(loose)


def test_every_printable_character_can_stand_in_a_drawing() -> None:
    lines = (f"<text>{escape(char)}</text>" for char in sorted(glyphs.drawable()))
    assert render(a_report(Figure("f", SVG.replace("</svg>", "".join(lines) + "</svg>"), "Drawing", "alt")))


def test_overrides_of_the_writing_direction_and_private_characters_are_not_printed() -> None:
    assert glyphs.printable("12\u202e34\ue000\ufeff") == "12�34��"


def test_every_character_called_printable_has_a_glyph_in_every_style() -> None:
    chars = " ".join(sorted(glyphs.drawable() - {"`", "*", "_", "\\", "<", "&", "[", "]", "!"}))
    slanted = "".join(char for char in chars if char not in glyphs.upright_only())
    styles = Prose(f"{chars}\n\n**{chars}**\n\n*{slanted}*\n\n***{slanted}***\n\n`{chars}`")
    report = a_report(Quote(" ".join(sorted(glyphs.drawable()))), styles)
    assert pdf.missing_glyphs(report) == ()
    assert set("שلو😀₂") <= glyphs.drawable()
    assert len(glyphs.drawable()) > 4000
    assert render(report)


def test_a_script_without_slanted_glyphs_stays_upright() -> None:
    word = "العربية"
    table = Table("t", word, (Column("a", word),), ((Cell("1", marks=(Mark(word, word),)),),))
    empty = Table("u", word, (Column("a", word),), (), empty=word)
    report = a_report(Prose(f"*{word} 12* and ***{word}*** and *slanted*"), table, empty)
    assert pdf.missing_glyphs(report) == ()
    assert render(report)


def test_hostile_sample_report_is_written_whole(tmp_path: Path) -> None:
    sample = sample_report(HOSTILE + "水\ud800")
    chapters = tuple(Chapter(f"{page.ref.kind}-{page.ref.id}", page.title, page.blocks) for page in sample.pages)
    report = Bound(sample.meta, chapters)
    pdf.write_pdf(report, tmp_path / "report.pdf", sample_files())
    shown = squeezed((tmp_path / "report.pdf").read_bytes())
    assert shown.count('<script>alert("x")</script>{{7*7}}{%raw%}</title>"onload=\'x\'&lt;b&gt;') > 50
    assert {char for char, _ in pdf.missing_glyphs(report)} == {"\x00", "\x1b", "水", "\ud800"}
