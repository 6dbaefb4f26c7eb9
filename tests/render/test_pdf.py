"""The printed report: what it claims to be, what it shows, and that text stays text."""

from __future__ import annotations

import hashlib
import io
import math
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
import typst
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_samples import (
    COLUMNS,
    SVG,
    TRIP,
    WATER,
    a_report,
    elements,
    full_bytes,
    full_report,
    pages_of,
    render,
    text_of,
)
from PIL import Image
from pypdf import PdfReader

from sitegen.render.print import table as print_table
from sitegen.render.print import widths as print_widths
from sitegen.render.print.finish import finish
from sitegen.render.print.targets import find_targets
from sitegen.render.print.tree import document_tree
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Chapter,
    Column,
    Facts,
    Figure,
    Mark,
    Photo,
    Prose,
    Quote,
    Ref,
    Section,
    Table,
    Tiles,
)


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
    ours = finish(bare, {"a.csv": b"a,b\r\n"}, day.date())
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


def test_a_line_is_as_wide_under_every_python() -> None:
    """Widths are added exactly: Pythons differ in how ``sum`` rounds, and so would the order of the letters."""
    lines = [f"{name} {number}" for name in ("Tetrachloroethene", "cis-1,2-DCE", "m,p-Xylene") for number in range(50)]
    assert [one for one in lines if print_widths.width_em(one) != print_widths.width_em("".join(sorted(one)))] == []


def test_bytes_depend_on_nothing_but_the_report(tmp_path: Path) -> None:
    script = (
        "import hashlib, sys; sys.path.insert(0, sys.argv[1]); import pdf_samples as t;"
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


def test_cover_names_parties_status_and_notices_and_the_next_page_digest_and_empty_approval() -> None:
    """The cover is what a client sees first; what identifies the version stands on page 2 with the lines to sign."""
    cover, control = pages_of(full_bytes())[:2]
    for words in (
        "Draft for review",
        "Former Kesterly Depot",
        "Ostrel Bend Redevelopment Board",
        "31 March 2026",
        "Prepared for",
        "Prepared by",
    ):
        assert words in cover
    assert "Everything in this report is invented." in cover
    assert "0123456789abcdef" * 4 in "".join(control.split())
    signed = control.split("Date")[-1].split("Revision 2")[0]
    assert signed.split() == ["Prepared", "Checked", "Approved"]


def test_every_page_but_the_cover_has_running_lines() -> None:
    pages = pages_of(full_bytes())
    for number, page in enumerate(pages[1:], 2):
        assert f"page {number} of {len(pages)}" in page
        assert "Revision 2 · 31 March 2026 · 01234567" in page
        assert "OB-2041" in page
        assert "Draft for review" in page
    assert "page 1 of" not in pages[0]


def test_contents_and_lists_name_chapters_tables_and_figures() -> None:
    contents = pages_of(full_bytes())[2]
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
    assert "Figures" not in pages_of(render(a_report(Prose("x"))))[2]


def test_legend_says_each_mark_once_and_the_number_carries_its_words() -> None:
    sheet = pages_of(full_bytes())[-1]
    assert sheet.count(TRIP.reason) == 1
    assert sheet.count(WATER.reason) == 1
    assert "1,200 †, ‡" in " ".join(sheet.split())
    assert f"† trip blank: {TRIP.reason}" in " ".join(sheet.split())
    assert "Mass, never a concentration." in sheet
    assert "Source: lab/results.csv" in sheet
    assert "ng per sampler" in sheet


def test_one_mark_word_with_two_reasons_has_both_after_its_sign() -> None:
    other = Mark("water", "Water stood in the hole.")
    rows = ((Cell("a", marks=(WATER,)), Cell("b", marks=(other, WATER))),)
    table = Table("t", "T", (Column("a", "A"), Column("b", "B")), rows)
    (node,) = print_table.table_nodes(table, find_targets(()), 470.0, "at")
    assert node["legend"] == [("† water", f"{WATER.reason} {other.reason}")]


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
    pages = pages_of(render(a_report(Table("t", "Long", COLUMNS, rows))))[3:]
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
    assert "Photograph not available to print: photos/b.jpg. A cap" in shown
    assert "Photograph not available to print: photos/c.jpg. A cap" in shown


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
        assert math.fsum(column["width"] for column in node["columns"]) <= 470.0
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
