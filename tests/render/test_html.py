"""Pages as HTML: what is said, and that no text becomes markup."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from sample_report import HOSTILE, sample_files, sample_report

from sitegen.findings.problems import OutputFault
from sitegen.render.site.html import FinishedPage, finished_pages, navigation
from sitegen.report.record.pages import (
    Block,
    Callout,
    Cell,
    Column,
    Figure,
    MapFrame,
    Mark,
    Page,
    Photo,
    Prose,
    Quote,
    Ref,
    Section,
    Table,
)

VOID = {"input", "img", "br", "hr", "meta", "link", "path", "rect"}


class Reader(HTMLParser):
    """Collects elements, headings and text, and checks that elements close in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element."""
        self.seen.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note an element that closes itself."""
        self.seen.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Check that the innermost element closes."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Gather the text."""
        self.text += data

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """Return the attributes of every element of a kind."""
        return [attrs for name, attrs in self.seen if name == tag]


def made(hostile: str = "") -> list[FinishedPage]:
    return list(finished_pages(sample_report(hostile), sorted(sample_files())))


def one_page(*blocks: Block, files: tuple[str, ...] = ()) -> str:
    """Return the article of a page with these blocks in a report with little else."""
    report = sample_report()
    page = Page(Ref("page", "trial"), "Trial", "", blocks)
    return list(finished_pages(replace(report, pages=(*report.pages, page)), files))[-1].article


def table(*rows: tuple[Cell, ...], **changes: object) -> Table:
    columns = (Column("name", "Name"), Column("mass", "Mass", "ng per sampler", "number"))
    return replace(Table("t", "A table", columns, rows), **changes)


def test_hostile_text_stays_text_on_every_page() -> None:
    for page in made(HOSTILE):
        for part in (
            page.article,
            page.navigation,
            page.strip,
            page.footer,
            page.head_title,
            page.site_title,
        ):
            reader = Reader(part)
            assert not reader.all("script")
            assert not reader.all("b")
            assert not [name for _, attrs in reader.seen for name in attrs if name.startswith("on")]
            assert not re.search("[\x00-\x08\x0b-\x1f]", part)


def test_hostile_text_is_shown_as_it_was_given() -> None:
    start = Reader(made(HOSTILE)[0].article)
    assert '<script>alert("x")</script>{{ 7 * 7 }}{% raw %}</title>"onload=\'x\' &lt;b&gt;' in start.text


def test_search_entries_are_escaped_and_in_page_order() -> None:
    pages = made(HOSTILE)
    entries = [entry for page in pages for entry in page.search]
    assert [entry.location for entry in entries if "#" not in entry.location] == [page.url for page in pages]
    assert not [entry for entry in entries if "<script" in entry.title + entry.text]


def test_headings_come_in_order_with_one_h1() -> None:
    for page in made():
        levels = [int(tag[1]) for tag, _ in Reader(page.article).seen if re.fullmatch("h[1-6]", tag)]
        assert levels.count(1) == 1
        assert levels[0] == 1
        assert all(deeper - level <= 1 for level, deeper in pairwise(levels))


def test_ids_are_unique_on_every_page() -> None:
    for page in made():
        html = page.navigation + page.strip + page.article + page.footer
        ids = [attrs["id"] for _, attrs in Reader(html).seen if "id" in attrs]
        assert len(ids) == len(set(ids))


def test_every_page_says_state_revision_date_digest_and_project() -> None:
    for page in made():
        for words in (
            "Draft for review",
            "Revision 2",
            "5 December 2025",
            "8d1f0c37",
            "KD-2025",
            "This is a draft",
        ):
            assert words in page.strip
        assert "8d1f0c37aa" not in page.strip + page.footer


def test_navigation_keeps_the_order_of_groups_and_pages() -> None:
    groups = navigation(sample_report(groups=("Quality", "Overview", "Results")))
    assert [group for group, _ in groups] == ["Quality", "Overview", "Results"]
    assert [item.title for item in groups[0][1]] == ["Findings", "Checks", "Glossary"]


def test_breadcrumb_follows_the_parents_and_series_links_the_neighbours() -> None:
    pages = {page.url: page for page in made()}
    sampler = pages["samplers/S-0007.html"].article
    assert re.findall(r'<li><a href="([^"]*)">', sampler.split("</nav>")[0]) == [
        "../map.html",
        "../locations/SG-01.html",
    ]
    second = pages["locations/SG-02.html"]
    assert (second.previous, second.following) == ("../locations/SG-01.html", "../locations/SG-03.html")
    assert pages["locations/SG-01.html"].previous == ""


def test_a_circle_of_parents_ends() -> None:
    pages = (
        Page(Ref("page", "a"), "A", "", (), parent=Ref("page", "b")),
        Page(Ref("page", "b"), "B", "", (), parent=Ref("page", "a")),
    )
    first = next(finished_pages(sample_report(pages=pages), ()))
    assert first.article.count("<li><a") == 1


def test_a_number_shows_its_marks_and_the_key_says_why_once() -> None:
    blank = Mark("trip blank", "The bag's blank holds it.", "trip-blank-hit:BAG-2")
    rows = [(Cell(f"C{n}"), Cell("12", marks=(blank,))) for n in range(3)]
    article = one_page(table(*rows, (Cell("C3"), Cell("12"))))
    assert article.count('12 <span class="mark">trip blank</span>') == 3
    assert article.count("The bag&#39;s blank holds it.") == 1
    assert 'href="findings.html#trip-blank-hit-BAG-2-' in article


def test_what_all_values_share_is_said_above_the_table_and_not_in_its_cells() -> None:
    """The table is described by the line, so that it is heard before the rows."""
    blank = Mark("trip blank", "The bag's blank holds it.", "trip-blank-hit:BAG-2")
    article = one_page(table(*[(Cell(f"C{n}"), Cell("12", marks=(blank,))) for n in range(3)]))
    assert '<p class="table-every" id="table-t-every">All results: trip blank.</p>' in article
    assert 'aria-describedby="table-t-every"' in article
    assert article.count('<span class="mark">trip blank</span>') == 1  # in the key
    assert "The bag&#39;s blank holds it." in article


def test_one_mark_with_two_reasons_names_the_rows_of_each() -> None:
    rows = [(Cell(f"C{n}"), Cell("12", marks=(Mark("blank", f"Reason {n % 2}."),))) for n in range(3)]
    text = Reader(one_page(table(*rows))).text
    assert "Reason 0. (C0, C2)" in text
    assert "Reason 1. (C1)" in text


def test_two_reasons_of_one_word_give_one_sign_and_no_list_of_rows_where_both_bear_on_all() -> None:
    """A sampler with two gaps shows "custody" once beside a number; below the table stand both, without the rows."""
    gaps = (Mark("custody", "A gap of 10 min."), Mark("custody", "A gap of 20 min."))
    rows = [(Cell(f"C{n}"), Cell("12", marks=gaps)) for n in range(3)]
    page = one_page(table(*rows, (Cell("C3"), Cell("12"))))
    assert page.count('12 <span class="mark">custody</span></td>') == len(rows)
    assert "A gap of 10 min." in page
    assert "A gap of 20 min." in page
    assert "C0, C1, C2" not in page


def test_numbers_are_right_aligned_with_the_unit_in_the_header_and_rows_have_headers() -> None:
    article = one_page(table((Cell("PCE"), Cell("<25", tone="nondetect"))))
    assert (
        '<th scope="col" class="number" data-key="mass">Mass <span class="unit">ng per sampler</span></th>' in article
    )
    assert '<th scope="row">PCE</th><td class="number tone-nondetect">&lt;25</td>' in article
    assert 'role="region" tabindex="0" aria-labelledby="table-t-caption"' in article


def test_a_table_of_long_text_is_marked_to_be_stacked_on_phones() -> None:
    """A table with long text says so, and its paths may be broken; one without does not."""
    number = Column("mass", "Mass", "ng per sampler", "number")
    columns = (Column("what", "What"), number, Column("why", "Why", "", "wide"))
    rows = ((Cell("PCE"), Cell("<25"), Cell("see field/return_bags.csv")), (Cell("TCE"), Cell("12"), Cell("")))
    article = one_page(Table("t", "Caption", columns, rows))
    assert '<div class="table-region" data-stacks role="region"' in article
    assert "see field/<wbr>return_<wbr>bags.<wbr>csv" in article
    plain = one_page(table((Cell("field/return_bags.csv"), Cell("12"))))
    assert "data-stacks" not in plain


def test_only_words_longer_than_any_name_may_break_anywhere() -> None:
    """A compound's name of many letters stays whole; a digest need not."""
    for text, breaks in (("1,1,2-Trichlorotrifluoroethane", False), ("1a" * 32, True)):
        assert ('class="long breaks"' in one_page(table((Cell(text), Cell("12"))))) is breaks


def test_a_number_carries_its_source_row() -> None:
    article = one_page(table((Cell("PCE"), Cell("12", origin=("lab/results.csv", 7, "value")))))
    assert 'data-origin="lab/results.csv, row 7, value"' in article
    assert "Show the source row of each number" in article


def test_an_empty_table_says_so() -> None:
    article = one_page(table(empty="No duplicate was taken."))
    assert "No duplicate was taken." in article
    assert "<table" not in article


def test_filters_name_columns_that_exist() -> None:
    article = one_page(table((Cell("a"), Cell("1")), (Cell("b"), Cell("2")), filters=("mass", "absent")))
    assert 'data-filters="1"' in article


def test_a_single_row_has_nothing_to_filter() -> None:
    assert "data-filters" not in one_page(table((Cell("a"), Cell("1")), filters=("mass",)))


def test_links_that_lead_nowhere_are_plain_text() -> None:
    refs = (Ref("location", "SG-99"), Ref("page", "start", "absent"), Ref("file", "private/a.csv"))
    article = one_page(table(*[(Cell("there is no such place", ref), Cell("1")) for ref in refs]))
    assert "<a " not in article
    assert article.count("there is no such place") == 3


def test_a_heading_cell_that_points_to_its_own_page_is_the_anchor() -> None:
    pages = {page.url: page.article for page in made()}
    assert '<tr id="seal-differs">' in pages["checks.html"]
    assert re.search(r'<div id="trip-blank-[0-9a-f]{8}">', pages["glossary.html"])
    assert pages["findings.html"].count("<tr id=") == 3


def test_prose_keeps_known_links_and_prints_other_addresses() -> None:
    article = one_page(
        Prose(
            "[in](compounds/pce.html) [out](https://example.org/) ![p](https://example.org/p.png) "
            "[bad](javascript:alert) [gone](nowhere.html) <i>x</i>"
        )
    )
    assert '<a href="compounds/pce.html">in</a> out (https://example.org/) p (https://example.org/p.png)' in article
    assert "gone &lt;i&gt;x&lt;/i&gt;" in article
    assert article.count("<a ") == 1
    assert "<img" not in article


def test_headings_in_prose_go_below_the_section_they_stand_in() -> None:
    article = one_page(Section("s", "S", (Section("u", "U", (Prose("# Big\n\n##### Small"),)),)))
    assert re.findall(r"<(h\d)", article) == ["h1", "h2", "h3", "h4", "h4"]


def test_quotes_are_verbatim() -> None:
    article = one_page(Quote("two  spaces\n\n# no heading\n<b>", "FS-1"))
    assert "<blockquote>two  spaces\n\n# no heading\n&lt;b&gt;</blockquote>" in article


def test_callouts_say_their_tone_in_a_word() -> None:
    assert '<span class="tone-hold">Hold</span> Open' in one_page(Callout("hold", "Open", "Text."))


def test_figures_are_one_image_with_words_and_own_ids() -> None:
    svg = '<?xml version="1.0"?><svg viewBox="0 0 1 1"><g id="a" clip-path="url(#a)"/><use href="#a"/></svg>'
    article = one_page(Figure("f", svg, "Caption", 'Alt "text"', "It falls."))
    assert '<svg role="img" aria-label="Alt &#34;text&#34;" aria-describedby="figure-f-words"' in article
    assert 'id="figure-f-a" clip-path="url(#figure-f-a)"/><use href="#figure-f-a"/>' in article
    assert '<p id="figure-f-words">It falls.</p>' in article
    assert "<?xml" not in article


def test_photos_that_are_not_published_are_described_only() -> None:
    article = one_page(Photo("photos/a.png", "C", "A hole"), Photo("photos/b.png", "C", "Two"), files=("photos/a.png",))
    assert '<img src="photos/a.png" alt="A hole"' in article
    assert "not part of this publication. It shows: Two" in article


def test_the_map_is_framed_at_its_place_or_left_out() -> None:
    assert 'src="map/index.html#pce/SG%2001"' in one_page(MapFrame("Map", "pce/SG 01"), files=("map/index.html",))
    assert "<iframe" not in one_page(MapFrame("Map"))


def test_two_pages_under_one_name_are_refused() -> None:
    pages = (Page(Ref("location", "SG-1a"), "A", "", ()), Page(Ref("location", "SG-1A"), "B", "", ()))
    with pytest.raises(OutputFault, match="would overwrite"):
        list(finished_pages(sample_report(pages=pages), ()))
