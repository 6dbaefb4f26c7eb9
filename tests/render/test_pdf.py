"""The printed report: what it claims to be, what it shows, and that text stays text."""

from __future__ import annotations

import hashlib
import io
import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import cache
from html import escape
from pathlib import Path

import pikepdf
import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader
from sample_report import HOSTILE, sample_files, sample_report

from sitegen import glyphs
from sitegen.render import pdf, print_table, print_widths
from sitegen.render.pdf_finish import finished
from sitegen.render.print_targets import find_targets
from sitegen.render.print_tree import document_tree
from sitegen.report.records import (
    Block,
    Bound,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    MapFrame,
    Mark,
    Meta,
    Photo,
    Printable,
    Prose,
    Quote,
    Ref,
    Section,
    Table,
    Tile,
    Tiles,
)

TRIP = Mark("trip blank", "The trip blank of the same bag held this compound.")
WATER = Mark("water", "Water stood in the vial.")
LONG_NAME = "1,1,2-Trichloro-1,2,2-trifluoroethane (isomers)"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 60"><text x="4" y="30">axis ng</text></svg>'
COLUMNS = (
    Column("c", "Compound"),
    Column("m", "Mass", "ng per sampler", "number"),
    Column("t", "As received"),
)


def a_report(*blocks: Block, chapters: tuple[Chapter, ...] = (), **meta: object) -> Bound:
    shown = {
        "project_id": "OB-2041",
        "title": "Passive soil-gas survey of a closed depot",
        "site": "Former Kesterly Depot, Ostrel Bend",
        "client": "Ostrel Bend Redevelopment Board (invented)",
        "prepared_by": "Example Field Group (invented)",
        "revision": 2,
        "status_word": "Draft for review",
        "report_date": "2026-03-31",
        "digest": "0123456789abcdef" * 4,
        "publish_level": "client",
        "tool": "sitegen 0.1.0",
        "notices": ("Everything in this report is invented.",),
    } | meta
    made = chapters or (Chapter("c", "Chapter", blocks),)
    return Bound(Meta(**shown), made)  # type: ignore[arg-type]


def full_report() -> Bound:
    rows = (
        (Cell(LONG_NAME, Ref("compound", "cfc113")), Cell("1,200", marks=(TRIP, WATER)), Cell("1200 J")),
        (Cell("Benzene"), Cell("<10", tone="nondetect"), Cell("<10")),
        (Cell("Toluene"), Cell("34", marks=(TRIP,)), Cell("34")),
    )
    results = Table(
        "results",
        "Results at L-01",
        COLUMNS,
        rows,
        note="Mass, never a concentration.",
        source="lab/results.csv",
    )
    matrix_columns = (
        Column("l", "Location"),
        *(Column(f"k{i}", f"{LONG_NAME} {i}", "ng per sampler", "number") for i in range(24)),
    )
    matrix = Table(
        "matrix",
        "All masses",
        matrix_columns,
        ((Cell("L-01"), *(Cell(f"{i},000") for i in range(24))),),
        landscape=True,
    )
    summary = (
        Tiles((Tile("58 of 60", "locations sampled", "two lost", Ref("location", "L-01")),)),
        Callout("hold", "Seals differ", "Read *again*.", (Cell("L-01", Ref("location", "L-01")),)),
        Prose("# Found\n\n* one\n  1. two\n\n[web](https://example.org/a) [gone](other.html) `code`\n\n> quoted"),
        Figure("map", SVG, "Where the samplers stood", "Map of three points", "Three points in a row."),
        MapFrame("Web map"),
    )
    sheet = (
        Facts((("Condition", Cell("water inside", tone="flag")),)),
        Quote("wet\n  very wet", "FS-1"),
        results,
    )
    return a_report(
        chapters=(
            Chapter("summary", "Summary", summary),
            Chapter("compounds", "Compounds", (Section("compound-cfc113", LONG_NAME, (Prose("A solvent."),)),)),
            Chapter("annex", "Matrix annex", (Prose("Every mass."), matrix), appendix=True),
            Chapter("sheets", "Location sheets", (Section("location-L-01", "L-01", sheet),), appendix=True),
        )
    )


def render(report: Printable, files: dict[str, bytes] | None = None, attached: dict[str, bytes] | None = None) -> bytes:
    sources = pdf.print_sources(report, files or {})
    return finished(pdf.typeset(sources), attached or {}, sources.day)


@cache
def full_bytes() -> bytes:
    return render(full_report(), attached={"data/results.csv": b"a,b\r\n", "readme.txt": b"\xff plain"})


def pages_of(data: bytes) -> list[str]:
    unseen = str.maketrans("", "", print_widths.BREAK + "\u2060")
    return [page.extract_text().translate(unseen) for page in PdfReader(io.BytesIO(data)).pages]


def text_of(data: bytes) -> str:
    return "\n".join(pages_of(data))


def squeezed(data: bytes) -> str:
    return "".join(text_of(data).split())


def elements(data: bytes, kind: str) -> list[tuple[str, bool]]:
    """Return the structure elements of a kind: alternative text, and whether a scope is given."""
    with pikepdf.open(io.BytesIO(data)) as opened:
        found = [item for item in _walk(opened.Root.StructTreeRoot.K) if item.get("/S") == kind]
        return [(str(item.get("/Alt", "")), _has_scope(item.get("/A", []))) for item in found]


def _has_scope(attributes: pikepdf.Object) -> bool:
    parts = [attributes] if isinstance(attributes, pikepdf.Dictionary) else attributes
    return any("/Scope" in part for part in parts)


def _walk(node: pikepdf.Object) -> Iterator[pikepdf.Object]:
    if isinstance(node, pikepdf.Array):
        for child in node:
            yield from _walk(child)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from _walk(node.K)


def test_file_claims_both_standards_and_names_its_language() -> None:
    with pikepdf.open(io.BytesIO(full_bytes())) as opened:
        claims = opened.open_metadata()
        assert (claims["pdfaid:part"], claims["pdfaid:conformance"], claims["pdfuaid:part"]) == (
            "3",
            "A",
            "1",
        )
        assert claims["dc:title"] == "Passive soil-gas survey of a closed depot"
        assert claims["dc:creator"] == ["Example Field Group (invented)"]
        assert claims["xmp:CreateDate"].startswith("2026-03-31")
        assert str(opened.Root.Lang) == "en-GB"
        assert opened.Root.ViewerPreferences.DisplayDocTitle
        assert opened.Root.MarkInfo.Marked


def test_outline_follows_chapters_and_sections() -> None:
    with pikepdf.open(io.BytesIO(full_bytes())) as opened, opened.open_outline() as outline:
        titles = [entry.title for entry in outline.root]
        assert titles == ["1 Summary", "2 Compounds", "A Matrix annex", "B Location sheets"]
        assert [child.title for child in outline.root[3].children] == ["B.1 L-01"]


def test_every_font_is_embedded() -> None:
    with pikepdf.open(io.BytesIO(full_bytes())) as opened:
        descriptors = [
            item
            for item in opened.objects
            if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor"
        ]
        assert descriptors
        assert all({"/FontFile", "/FontFile2", "/FontFile3"} & set(item.keys()) for item in descriptors)


def test_table_headers_have_a_scope_and_figures_have_alternative_text() -> None:
    heads = elements(full_bytes(), "/TH")
    assert len(heads) == 4 + 3 + 25
    assert all(scope for _, scope in heads)
    texts = [text for text, _ in elements(full_bytes(), "/Figure")]
    assert "Map of three points" in texts
    assert all(texts)


def test_attachments_are_embedded_with_their_relationship() -> None:
    with pikepdf.open(io.BytesIO(full_bytes())) as opened:
        found = {str(item.UF): (str(item.AFRelationship), item.EF.F.read_bytes()) for item in opened.Root.AF}
    assert found == {"data/results.csv": ("/Data", b"a,b\r\n"), "readme.txt": ("/Supplement", b"\xff plain")}


def test_attachments_are_written_as_typst_writes_them(tmp_path: Path) -> None:
    """Typst, which checks what it writes against PDF/A-3, is the model for every entry but the date's hour."""
    (tmp_path / "a.csv").write_bytes(b"a,b\r\n")
    say = 'pdf.attach("a.csv", relationship: "data", mime-type: "text/csv", description: "a.csv")'
    for name, words in (("bare", ""), ("model", say)):
        (tmp_path / f"{name}.typ").write_text(f'#set document(title: "x", date: auto)\n#{words or "[]"}\nText', "utf-8")
    day = datetime(2025, 11, 20, tzinfo=UTC)
    bare, model = (
        typst.compile(tmp_path / f"{name}.typ", pdf_standards=["a-3b"], timestamp=day) for name in ("bare", "model")
    )
    ours = finished(bare, {"a.csv": b"a,b\r\n"}, day.date())
    entries = []
    for content in (ours, model):
        with pikepdf.open(io.BytesIO(content)) as opened:
            (one,) = opened.Root.AF
            assert opened.attachments["a.csv"].obj.objgen == one.objgen
            held = one.EF.F
            entries.append(
                {str(key): str(value) for key, value in one.items() if key != "/EF"}
                | {key: str(held[key]) for key in ("/Type", "/Subtype")}
                | {"size": int(held.Params.Size), "day": str(held.Params.ModDate)[:10], "same": one.EF.UF.read_bytes()}
            )
    assert entries[0] == entries[1]


@pytest.mark.parametrize("name", ["/etc/x", "../x", "a/../../x", ""])
def test_an_attachment_outside_the_document_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="plain relative path"):
        render(a_report(Prose("x")), attached={name: b""})


def test_bytes_depend_on_nothing_but_the_report(tmp_path: Path) -> None:
    script = (
        "import hashlib, sys; sys.path.insert(0, sys.argv[1]); import test_pdf as t;"
        "print(hashlib.sha256(t.full_bytes()).hexdigest())"
    )
    sums = {hashlib.sha256(full_bytes()).hexdigest()}
    for number, zone in enumerate(("Pacific/Kiritimati", "America/St_Johns")):
        folder = tmp_path / zone.replace("/", "-")
        folder.mkdir()
        surroundings = {
            "TZ": zone,
            "PYTHONHASHSEED": str(number),
            "TMPDIR": str(folder),
            "LC_ALL": "C",
            "SOURCE_DATE_EPOCH": "7",
        }
        paths = os.pathsep.join(path for path in sys.path if path)
        run = subprocess.run(
            [sys.executable, "-c", script, str(Path(__file__).parent)],
            cwd=folder, env={**os.environ, **surroundings, "PYTHONPATH": paths},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        sums.add(run.stdout.strip())
    assert len(sums) == 1


def test_cover_names_status_digest_notices_and_leaves_the_approval_empty() -> None:
    cover = pages_of(full_bytes())[0]
    for words in (
        "Draft for review",
        "Former Kesterly Depot",
        "Ostrel Bend Redevelopment Board",
        "2026-03-31",
        "client",
    ):
        assert words in cover
    assert "0123456789abcdef" * 4 in "".join(cover.split())
    assert "Everything in this report is invented." in cover
    assert cover.split("Date")[-1].split() == ["Prepared", "Checked", "Approved"]


def test_every_page_but_the_cover_has_running_lines() -> None:
    pages = pages_of(full_bytes())
    for number, page in enumerate(pages[1:], 2):
        assert f"page {number} of {len(pages)}" in page
        assert "Revision 2 · 2026-03-31 · 01234567" in page
        assert "OB-2041" in page
        assert "Draft for review" in page
    assert "page 1 of" not in pages[0]


def test_contents_and_lists_name_chapters_tables_and_figures() -> None:
    contents = pages_of(full_bytes())[1]
    for words in (
        "Contents",
        "1 Summary",
        "B Location sheets",
        "Tables",
        "Results at L-01",
        "Figures",
        "Where the samplers stood",
    ):
        assert words in " ".join(contents.split())
    assert "Figures" not in pages_of(render(a_report(Prose("x"))))[1]


def test_legend_says_each_mark_once_and_the_number_carries_its_words() -> None:
    sheet = pages_of(full_bytes())[-1]
    assert sheet.count(TRIP.reason) == 1
    assert sheet.count(WATER.reason) == 1
    assert "1,200 trip blank, water" in " ".join(sheet.split())
    assert "Mass, never a concentration." in sheet
    assert "Source: lab/results.csv" in sheet
    assert "ng per sampler" in sheet


def test_one_mark_word_with_two_reasons_gets_two_legend_lines() -> None:
    other = Mark("water", "Water stood in the hole.")
    rows = ((Cell("a", marks=(WATER,)), Cell("b", marks=(other, WATER))),)
    table = Table("t", "T", (Column("a", "A"), Column("b", "B")), rows)
    assert print_table.legend(table) == [("water", WATER.reason), ("water", other.reason)]


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (Cell("seal differs", tone="flag"), "▲ flag: seal differs"),
        (Cell("Hold", tone="hold"), "◆ Hold"),
        (Cell("", tone="stop"), "■ stop"),
        (Cell("9 of 12", tone="partly"), "◐ partly: 9 of 12"),
        (Cell("No", tone="no"), "○ No"),
    ],
)
def test_a_tone_is_said_in_shape_and_word(cell: Cell, shown: str) -> None:
    assert print_table.cell_text(cell) == shown


def test_wide_tables_turn_the_page_and_take_their_heading_along() -> None:
    reader = PdfReader(io.BytesIO(full_bytes()))
    wide = [page for page in reader.pages if page.mediabox.width > page.mediabox.height]
    assert len(wide) == 1
    words = " ".join(wide[0].extract_text().split())
    assert "A Matrix annex Every mass." in words
    assert "All masses, ng per sampler" in words


def test_too_many_columns_are_split_into_panels_that_repeat_the_row_heading() -> None:
    columns = (Column("l", "Location"), *(Column(str(i), f"C{i}", "ng", "number") for i in range(90)))
    table = Table("t", "Many", columns, ((Cell("L-01"), *(Cell(f"{i},000,000") for i in range(90))),))
    nodes = print_table.table_nodes(table, find_targets(()), 470.0, "at")
    assert len(nodes) > 1
    assert all(node["columns"][0]["title"] == "Location" and node["rows"][0][0] == "L-01" for node in nodes)
    shown = [cell for node in nodes for cell in node["rows"][0][1:]]
    assert shown == [cell.text for cell in table.rows[0][1:]]


def test_long_tables_repeat_their_header_row_on_every_page() -> None:
    rows = tuple((Cell(f"compound {i}"), Cell(str(i)), Cell("x")) for i in range(150))
    pages = pages_of(render(a_report(Table("t", "Long", COLUMNS, rows))))[2:]
    assert len(pages) > 2
    assert all("ng per sampler" in page for page in pages)


def test_an_empty_table_says_so() -> None:
    shown = text_of(
        render(a_report(Table("t", "Tickets", COLUMNS, (), empty="No ticket is recorded."), Table("u", "U", (), ())))
    )
    assert "No ticket is recorded." in shown
    assert "Nothing recorded." in " ".join(shown.split())


def test_links_lead_to_places_in_print_and_nowhere_else() -> None:
    rows = (
        (
            Cell("here", Ref("location", "L-01")),
            Cell("there", Ref("page", "summary", "map")),
            Cell("not", Ref("file", "summary")),
            Cell("no", Ref("term", "x")),
        ),
    )
    targets = find_targets(full_report().chapters)
    found = [targets.resolve(cell.ref) for cell in rows[0]]
    assert found == ["at-3-0", "at-0-3", "", ""]
    links = [
        str(link["/A"]["/URI"])
        for page in PdfReader(io.BytesIO(full_bytes())).pages
        for link in _links(page)
        if "/A" in link and "/URI" in link["/A"]
    ]
    assert links == ["https://example.org/a"]


def test_anchor_used_on_several_pages_is_found_in_the_right_one() -> None:
    inner = tuple(Section(f"location-L-{i}", f"L-{i}", (Section("results", "Results", ()),)) for i in range(3))
    targets = find_targets((Chapter("sheets", "Sheets", inner),))
    assert targets.resolve(Ref("location", "L-2", "results")) == "at-0-2-0"
    assert targets.resolve(Ref("location", "L-1", "custody")) == "at-0-1"
    assert targets.resolve(Ref("page", "elsewhere", "results")) == ""


def _links(page: dict) -> list[dict]:  # type: ignore[type-arg]
    return [item.get_object() for item in page.get("/Annots", []) if item.get_object().get("/Subtype") == "/Link"]


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
        Table("t", attack, (Column("a", attack, attack),), ((Cell(attack),),), note=attack, source=attack),
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
    lines = (f"<text>{escape(char)}</text>" for char in sorted(glyphs.covered()))
    assert render(a_report(Figure("f", SVG.replace("</svg>", "".join(lines) + "</svg>"), "Drawing", "alt")))


def test_overrides_of_the_writing_direction_and_private_characters_are_not_printed() -> None:
    assert glyphs.printable("12\u202e34\ue000\ufeff") == "12�34��"


def test_every_character_called_printable_has_a_glyph_in_every_style() -> None:
    chars = " ".join(sorted(glyphs.covered() - {"`", "*", "_", "\\", "<", "&", "[", "]", "!"}))
    slanted = "".join(char for char in chars if char not in glyphs.upright_only())
    styles = Prose(f"{chars}\n\n**{chars}**\n\n*{slanted}*\n\n***{slanted}***\n\n`{chars}`")
    report = a_report(Quote(" ".join(sorted(glyphs.covered()))), styles)
    assert pdf.missing_glyphs(report) == ()
    assert set("שلو😀₂") <= glyphs.covered()
    assert len(glyphs.covered()) > 4000
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


def test_photographs_lose_their_position_and_missing_ones_are_named() -> None:
    exif = Image.Exif()
    exif[0x010E] = "taken at a private address"
    exif[0x0112] = 6
    target = io.BytesIO()
    Image.new("RGB", (40, 20), "red").save(target, "JPEG", exif=exif)
    files = {"photos/a.jpg": target.getvalue(), "photos/b.jpg": b"not a picture"}
    blocks = tuple(Photo(f"photos/{name}.jpg", f"Cap {name}", "A cap", "FS-1") for name in "abc")
    data = render(a_report(*blocks), files)
    with pikepdf.open(io.BytesIO(data)) as opened:
        pictures = [item for page in opened.pages for item in page.get_images().values()]
        sizes = [(int(item.Width), int(item.Height)) for item in pictures]
        raw = b"".join(item.read_raw_bytes() for item in pictures)
    assert sizes == [(20, 40)]
    assert b"private address" not in raw
    shown = text_of(data)
    assert "Photograph photos/b.jpg is not available to print. A cap" in shown
    assert "Photograph photos/c.jpg is not available to print. A cap" in shown


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("us-letter", (612, 792))])
def test_paper_is_as_the_report_says(paper: str, size: tuple[int, int]) -> None:
    page = PdfReader(io.BytesIO(render(a_report(Prose("x"), paper=paper)))).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_unknown_paper_and_unreadable_date_are_refused() -> None:
    with pytest.raises(ValueError, match="paper 'napkin'"):
        render(a_report(paper="napkin"))
    with pytest.raises(ValueError, match="isoformat"):
        render(a_report(report_date="last Tuesday"))


def test_blank_titles_alternatives_and_blocks_do_not_stop_the_writer() -> None:
    nested: tuple[Block, ...] = ()
    for _ in range(9):
        nested = (Section("s", " ", nested),)
    blocks = (
        Prose("# \n\n* \n"),
        Tiles(()),
        Facts(()),
        Quote(""),
        Callout("", "", ""),
        Figure("f", SVG, "", ""),
        Photo("", "", ""),
    )
    assert render(a_report(*nested, *blocks))


def test_a_row_longer_than_a_page_is_printed_to_its_end() -> None:
    comment = " ".join(f"word{i}" for i in range(1500)) + " last"
    rows = ((Cell("L-01"), Cell(comment), Cell("x" * 400)),)
    shown = text_of(
        render(
            a_report(
                Table(
                    "t",
                    "T",
                    (Column("l", "L"), Column("c", "Comment", kind="wide"), Column("s", "Serial")),
                    rows,
                )
            )
        )
    )
    assert all(word in shown for word in ("word0", "word700", "word1499", "last"))
    assert "".join(shown.split()).count("x") >= 400


WORDS = st.text(st.sampled_from("aWi1-,/ 水\n"), max_size=60)
TABLES = st.integers(1, 30).flatmap(
    lambda width: st.tuples(
        st.lists(
            st.tuples(WORDS, WORDS, st.sampled_from(["text", "number", "wide"])),
            min_size=width,
            max_size=width,
        ),
        st.lists(st.lists(WORDS, min_size=width, max_size=width), max_size=3),
        st.integers(-1, 0),
    )
)


@settings(max_examples=80, deadline=None)
@given(TABLES)
def test_no_column_set_is_wider_than_its_page_and_no_word_than_its_column(
    made: tuple[list[tuple[str, str, str]], list[list[str]], int],
) -> None:
    titles, rows, heading = made
    columns = tuple(Column(str(i), title, unit, kind) for i, (title, unit, kind) in enumerate(titles))
    table = Table("t", "T", columns, tuple(tuple(map(Cell, row)) for row in rows), row_header=heading)
    for node in print_table.table_nodes(table, find_targets(()), 470.0, "at"):
        assert sum(column["width"] for column in node["columns"]) <= 470.0
        for row in node["rows"]:
            for column, cell in zip(node["columns"], row, strict=True):
                inner_em = (column["width"] - 2 * node["pad"]) / node["size"]
                pieces = cell.replace(print_widths.BREAK, " ").split()
                assert all(print_widths.width_em(piece) <= max(inner_em, 1.0) + 1e-6 for piece in pieces)


def test_tree_holds_no_markup_of_its_own_making() -> None:
    tree = document_tree(full_report())
    assert {node["kind"] for sheet in tree["sheets"] for node in sheet["nodes"]} == {
        "heading", "tiles", "callout", "prose", "figure", "table", "facts", "verbatim",
    }  # fmt: skip
