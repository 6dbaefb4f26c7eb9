"""The printed report as a volume: what stays together, what is listed, what is explained once."""

from __future__ import annotations

import io
from datetime import date
from functools import cache

import pikepdf
from pdf_samples import SVG, TRIP, WATER, a_report, pages_of, render, text_of
from pypdf import PdfReader

from sitegen.pipeline import Built
from sitegen.render.print import front as print_front
from sitegen.render.print import pdf
from sitegen.render.print import sheets as print_sheets
from sitegen.render.print import table as print_table
from sitegen.render.print import widths as print_widths
from sitegen.render.print.finish import finish
from sitegen.render.print.targets import find_targets
from sitegen.render.print.tree import document_tree
from sitegen.report.record.pages import (
    Block,
    Bound,
    Callout,
    Cell,
    Chapter,
    Column,
    Figure,
    Mark,
    Prose,
    Ref,
    Section,
    Table,
    Tile,
    Tiles,
)

COLUMNS = (Column("c", "Compound"), Column("m", "Mass", "ng per sampler", "number"))
TEXT = Prose("Words enough for a line or two of the report, and then a few more of them. " * 4)


def a_table(rows: int, name: str = "t", **more: object) -> Table:
    cells = tuple((Cell(f"compound {i}"), Cell(str(i))) for i in range(rows))
    return Table(name, f"Results at {name}, ng per sampler", COLUMNS, cells, **more)  # type: ignore[arg-type]


def a_map() -> Figure:
    return Figure("map", SVG, "The site", "Map")


def starts(*chapters: Chapter) -> list[tuple[str, bool]]:
    return [(sheet["start"], sheet["wide"]) for sheet in document_tree(a_report(chapters=chapters))["sheets"]]


@cache
def sheets_bytes() -> bytes:
    sections = tuple(
        Section(f"location-L-{i:02}", f"L-{i:02}", (Prose("Soil."), a_table(22, f"L-{i:02}"))) for i in range(12)
    )
    first = Chapter("a", "Results", (Section("s", "Maps", (a_table(2, "maps"), a_map())),))
    return render(a_report(chapters=(first, Chapter("sheets", "Sheets", sections, True, listed=False))))


def test_sections_of_an_unlisted_chapter_are_bookmarks_but_stand_in_no_list() -> None:
    contents = " ".join(pages_of(sheets_bytes())[2].split())
    assert "A Sheets" in contents
    assert "1.1 Maps" in contents
    assert "Table 1 Results at maps" in contents
    assert "L-03" not in contents
    with pikepdf.open(io.BytesIO(sheets_bytes())) as opened, opened.open_outline() as outline:
        assert [entry.title for entry in outline.root[1].children][:2] == ["A.1 L-00", "A.2 L-01"]
        assert len(outline.root[1].children) == 12


def test_sheets_are_kept_whole_two_to_a_page() -> None:
    sheets = [page for page in pages_of(sheets_bytes()) if "compound 21" in page]
    assert [page.count("compound 0 ") for page in sheets] == [page.count("compound 21 ") for page in sheets]
    assert [page.count("compound 0 ") for page in sheets] == [2] * 6


def test_tables_of_an_unlisted_chapter_take_no_number_from_the_others() -> None:
    last = Chapter("z", "Last", (a_table(1, "last"),), appendix=True)
    first = Chapter("a", "First", (a_table(1, "first"),))
    sheets = Chapter("s", "Sheets", (Section("x", "X", (a_table(1, "x"),)),), appendix=True, listed=False)
    shown = " ".join(text_of(render(a_report(chapters=(first, sheets, last)))).split())
    assert "Table 2. Results at last" in shown
    assert "Table 3" not in shown


def test_a_small_table_is_not_split_and_a_long_one_is() -> None:
    tables = (a_table(30, "one"), a_table(30, "two"), a_table(120, "long"))
    nodes = document_tree(a_report(*tables))["sheets"][0]["nodes"]
    assert [node["whole"] for node in nodes[1:]] == [True, True, False]
    holders = [page.count("compound 29 29") for page in pages_of(render(a_report(TEXT, *tables)))]
    starts_at = [page.count("compound 0 0") for page in pages_of(render(a_report(TEXT, *tables)))]
    assert sum(holders) == sum(starts_at) == 3
    assert holders[:3] == starts_at[:3]


def test_only_the_first_chapter_appendices_and_single_pages_must_begin_on_a_new_page() -> None:
    wide = a_table(2, landscape=True)
    found = starts(
        Chapter("a", "A", (TEXT,), single_page=True),
        Chapter("b", "B", (TEXT,)),
        Chapter("c", "C", (TEXT, a_table(3), wide, a_table(3))),
        Chapter("d", "D", (TEXT,), appendix=True),
    )
    assert found == [
        ("page", False), ("page", False), ("room", False), ("", True), ("", False), ("page", False),
    ]  # fmt: skip


def test_short_chapters_share_a_page_and_a_heading_never_ends_one() -> None:
    chapters = tuple(Chapter(f"c{i}", f"Chapter number {i}", (TEXT, TEXT)) for i in range(12))
    pages = pages_of(render(a_report(chapters=chapters)))[3:]
    assert 2 <= len(pages) <= 4
    for page in pages:
        assert "Chapter number" not in page.splitlines()[-3]


def test_what_follows_the_drawing_of_a_single_page_stands_beside_it() -> None:
    blocks: tuple[Block, ...] = (
        TEXT,
        Tiles((Tile("5", "points"),)),
        a_map(),
        Section("sure", "How sure", (Prose("* fairly"),)),
        Callout("hold", "Open", "Two things."),
    )
    chapters = (Chapter("s", "Summary", blocks, single_page=True), Chapter("b", "Next", (TEXT,)))
    nodes = document_tree(a_report(chapters=chapters))["sheets"][0]["nodes"]
    assert [node["kind"] for node in nodes] == ["heading", "prose", "tiles", "row"]
    assert [[node["kind"] for node in cell] for cell in nodes[-1]["cells"]] == [
        ["figure"],
        ["heading", "prose", "callout"],
    ]
    pages = pages_of(render(a_report(chapters=chapters)))
    assert all(words in pages[3] for words in ("Summary", "The site", "fairly", "Two things."))
    assert "Next" in pages[4]


def test_a_single_page_chapter_without_a_drawing_is_printed_whole() -> None:
    shown = text_of(render(a_report(chapters=(Chapter("s", "Summary", (TEXT, TEXT), single_page=True),))))
    assert shown.count("a few more of them") == 8


def keyed_chapter() -> Chapter:
    many = tuple(Mark("shallow", f"The hole ended at {i} ft.") for i in range(9))
    rows = (
        (Cell("L-01"), Cell("12", marks=(TRIP, WATER))),
        (Cell("L-02"), Cell("<10", marks=(WATER,))),
        *((Cell(f"L-1{i}"), Cell("3", marks=(mark,))) for i, mark in enumerate(many)),
    )
    table = Table("matrix", "Everything, ng per sampler", COLUMNS, rows, landscape=True)
    return Chapter("m", "Matrix", (table,), appendix=True, keyed=True)


def test_signs_are_used_for_marks_and_a_key_explains_each_once() -> None:
    shown = " ".join(text_of(render(a_report(chapters=(keyed_chapter(),)))).split())
    assert "12 †, ‡" in shown
    assert "<10 ‡" in shown
    assert "† trip blank; ‡ water; § shallow." in shown
    assert shown.count(TRIP.reason) == 1
    assert f"water: {WATER.reason}" in shown
    assert "And 3 more, each said beside its number on the site." in shown


def test_the_key_stands_on_the_last_page_of_its_tables() -> None:
    reader = PdfReader(io.BytesIO(render(a_report(chapters=(keyed_chapter(),)))))
    assert len(reader.pages) == 4
    assert TRIP.reason in reader.pages[3].extract_text().replace(print_widths.BREAK, "")


def test_panels_of_a_table_too_wide_are_about_equal() -> None:
    columns = (Column("l", "Location"), *(Column(str(i), f"C{i}", "ng", "number") for i in range(40)))
    table = Table("t", "Many", columns, ((Cell("L-01"), *(Cell("10,000 J") for _ in range(40))),))
    nodes = print_table.table_nodes(table, find_targets(()), 470.0, "at")
    counts = [len(node["columns"]) - 1 for node in nodes]
    assert sum(counts) == 40
    assert max(counts) - min(counts) <= len(counts)
    assert all(node["caption"].startswith("Many, ng (columns, part") for node in nodes)


def test_parts_of_a_long_wide_table_are_sheets_of_their_own() -> None:
    columns = (Column("l", "Location"), *(Column(str(i), f"C{i}", "ng", "number") for i in range(60)))
    rows = tuple((Cell(f"L-{n}"), *(Cell("10,000 J") for _ in range(60))) for n in range(80))
    tree = document_tree(a_report(Table("t", "Many", columns, rows, landscape=True)))
    kinds = [[node["kind"] for node in sheet["nodes"]] for sheet in tree["sheets"]]
    assert kinds == [["heading", "table"], *[["table"]] * (len(kinds) - 1)]
    assert len(kinds) > 1


def test_a_link_that_the_row_heading_has_is_not_repeated_in_its_cells() -> None:
    here, there = Ref("location", "L-01"), Ref("location", "L-02")
    chapter = Chapter("s", "S", tuple(Section(f"location-L-0{i}", f"L-0{i}", ()) for i in (1, 2)))
    table = Table("t", "T", (*COLUMNS, Column("x", "X")), ((Cell("a", here), Cell("b", here), Cell("c", there)),))
    row = print_table.table_nodes(table, find_targets((chapter,)), 470.0, "at")[0]["rows"][0]
    assert row == [{"text": "a", "to": "at-0-0"}, "b", {"text": "c", "to": "at-0-1"}]


def test_data_of_a_drawing_are_printed_where_they_are_short() -> None:
    short = text_of(render(a_report(Figure("f", SVG, "Rain", "Rain", "It rained.", a_table(20)))))
    assert "compound 19" in short
    long = text_of(render(a_report(Figure("f", SVG, "Rain", "Rain", "It rained.", a_table(21)))))
    assert "compound 0" not in long
    assert "It rained. The site has the data of this figure as a table." in " ".join(long.split())


def test_lists_show_the_first_words_of_a_long_caption() -> None:
    caption = "Benzene, ng per sampler: size and shade by mass class, shape by surface, a ring for a mark"
    pages = pages_of(render(a_report(Figure("f", SVG, caption, "Map"))))
    assert "a ring for a mark" not in pages[2]
    assert "Benzene, ng per sampler" in pages[2]
    assert "a ring for a mark" in pages[3]


def test_document_control_gives_work_plan_distribution_and_what_is_withheld() -> None:
    """Page 2 identifies the version; the cover is for the parties and the title."""
    meta = {"work_plan": "Plan 2, section 4", "distribution": "the client", "withheld": ("coordinates", "photos")}
    cover, control = (" ".join(page.split()) for page in pages_of(render(a_report(TEXT, **meta)))[:2])
    assert "Plan 2" not in cover
    assert "Work plan Plan 2, section 4" in control
    assert "Distribution the client" in control
    assert "Information withheld coordinates; photos" in control
    plain = print_front.control_facts(a_report(TEXT).meta)
    assert ("Information withheld", "none by name") in plain
    assert "Work plan" not in dict(plain)


def test_revision_history_stands_before_the_contents_and_its_characters_are_checked() -> None:
    history = Table("h", "What changed", (Column("r", "Revision"), Column("k", "Why")), ((Cell("1"), Cell("水")),))
    plain = a_report(TEXT)
    report = Bound(plain.meta, plain.chapters, history)
    page, contents = pages_of(render(report))[1:3]
    assert page.index("Document control") < page.index("Revision history") < page.index("What changed")
    assert "Contents" in contents
    assert ("水", "revision history") in pdf.missing_glyphs(report)


def test_compact_file_keeps_claims_pages_and_structure() -> None:
    loose = io.BytesIO()
    with pikepdf.open(io.BytesIO(sheets_bytes())) as opened:
        metadata = opened.Root.Metadata.read_raw_bytes()
        assert opened.check_pdf_syntax() == []
        opened.save(loose, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    assert b"<pdfaid:part>3</pdfaid:part>" in metadata
    assert b"<pdfuaid:part>1</pdfuaid:part>" in metadata
    assert len(sheets_bytes()) < 0.6 * len(loose.getvalue())
    again = finish(loose.getvalue(), {}, date(2025, 11, 20))
    assert text_of(again) == text_of(sheets_bytes())
    assert again == finish(loose.getvalue(), {}, date(2025, 11, 20))


def test_data_files_of_a_build_are_attached_to_its_report(built: Built) -> None:
    downloads = built.pdf.parent
    written = {path.name: path.read_bytes() for path in downloads.rglob("*.*") if path != built.pdf}
    with pikepdf.open(built.pdf) as opened:
        attached = {name: item.get_file().read_bytes() for name, item in opened.attachments.items()}
    assert {f"{table.name}.csv" for table in built.report.exports} <= set(attached)
    assert attached == {name: written[name] for name in attached}
    assert {"tables.xlsx", "datapackage.json", "locations.geojson"} <= set(attached)
    assert not {name for name in attached if name.startswith("by_point") or name in ("survey.gpkg", "README.txt")}


def test_summary_of_the_example_is_one_page(built: Built) -> None:
    """From what was found to what is open it takes one page; the next begins on the next."""
    pages = (" ".join(page.extract_text().split()) for page in PdfReader(built.pdf).pages)
    summary = next(page for page in pages if "1 Summary" in page and "Contents" not in page)
    heads = ("What was found", "Who may be affected", "Recommended next", "Confidence in the results", "Open items")
    assert [head for head in heads if f"1.{heads.index(head) + 1} {head}" in summary] == [*heads]
    assert "Signatures: 0 of 2" in summary
    assert "2 Maps and results at a glance" in next(pages)


def test_heights_grow_with_what_stands_in_them() -> None:
    low, high = (
        print_sheets.height_pt(document_tree(a_report(*blocks))["sheets"][0]["nodes"], 471.0)
        for blocks in ((TEXT,), (TEXT, a_table(22)))
    )
    assert 0 < low < 150
    assert 250 < high - low < 450
    assert print_sheets.height_pt([{"kind": "figure"}], 471.0) == float("inf")


def test_lists_of_tables_and_figures_are_left_out_where_the_settings_say_so() -> None:
    """The contents remain; with lists the same report has one."""
    blocks = (a_table(2), a_map())
    with_lists, without = (
        " ".join(pages_of(render(a_report(*blocks, lists=lists)))[2].split()) for lists in (True, False)
    )
    assert "Table 1 Results at t" in with_lists
    assert "Contents" in without
    assert "Table 1" not in without
    assert "Figures" not in without


def test_sections_of_an_appendix_stand_in_the_contents_only_where_they_are_asked_for() -> None:
    """A calculation annex of twenty formulas has one line in the contents; sheets of a volume one each."""
    parts = (Section("x", "Formula one", (TEXT,)),)
    plain = Chapter("c", "Calculations", parts, appendix=True)
    indexed = Chapter("v", "Sheets", parts, appendix=True, indexed=True)
    assert "Formula one" not in pages_of(render(a_report(chapters=(Chapter("a", "A", (TEXT,)), plain))))[2]
    assert "Formula one" in pages_of(render(a_report(chapters=(Chapter("a", "A", (TEXT,)), indexed))))[2]
