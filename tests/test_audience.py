"""A copy for readers outside the project team says what it withholds, and speaks to them, not to the team."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache

import pytest
from builders import Change, cell, changed, example, removed, setting, table

from sitegen.checking import check_snapshot
from sitegen.checks.catalogue import catalogue
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.render.data.values import value_files
from sitegen.render.site.html import Finisher
from sitegen.report.record.pages import Block, Callout, Cell, Chapter, Facts, Page, Quote, Report, Section, Table
from sitegen.report.write.words import escape_markdown, lexicon

COMMENTS = "review/comments.csv"


def copy_of(*edits: Change, level: str = "client") -> Report:
    """Return the example's report for a level, without its private words, put together in memory."""
    quiet = cell("field/deployments.csv", "0047102", "comment", "Gate was locked; began 20 min late.")
    shown = setting('level = "internal"', f'reviewer_pages = true\nlevel = "{level}"')
    kept = {path: file for path, file in example().files.items() if not path.startswith("private/")}
    return compose(check_snapshot(changed(quiet, shown, *edits, folder=Folder(kept, (), ()))))[1]


@cache
def plain_copy(level: str) -> Report:
    """Return the example's report for a level, nothing else changed."""
    return copy_of(level=level)


def blocks_of(some: Page | Chapter | Section) -> list[Block]:
    """Return every block, those of sections included."""
    found: list[Block] = []
    for block in some.blocks:
        found.append(block)
        if isinstance(block, Section):
            found += blocks_of(block)
    return found


def page(report: Report, name: str) -> Page:
    """Return the page of that id."""
    return next(page for page in report.pages if page.ref.kind in ("page", "location") and page.ref.id == name)


def chapter(report: Report, name: str) -> Chapter:
    """Return the chapter of that id."""
    return next(chapter for chapter in report.chapters if chapter.id == name)


def table_in(some: Page | Chapter, name: str) -> Table:
    """Return the table of that id."""
    return next(block for block in blocks_of(some) if isinstance(block, Table) and block.id == name)


REVIEWERS = {"review", "checks", "claims", "calculation", "working-set"}


@pytest.mark.parametrize(
    ("lines", "there"),
    [
        ('level = "internal"', REVIEWERS),
        ('level = "client"', set()),
        ('level = "public"', set()),
        ('reviewer_pages = false\nlevel = "internal"', set()),
        ('reviewer_pages = true\nlevel = "client"', REVIEWERS - {"working-set"}),
    ],
)
def test_pages_for_reviewers_are_there_for_the_team_or_where_asked_for(lines: str, there: set[str]) -> None:
    """No other page goes with them, and the pages that trace a number stay at every level."""
    report = copy_of(setting('reviewer_pages = true\nlevel = "client"', lines))
    names = {page.ref.id for page in report.pages}
    assert names & REVIEWERS == there
    assert {page.ref.id for page in report.pages if page.group == "For reviewers"} == there
    assert names >= {"findings", "defensibility", "methods", "limits", "sources", "files"}
    assert [page for page in report.pages if page.ref.kind == "source"]


def test_a_link_to_a_page_that_is_left_out_is_text_alone() -> None:
    """In a client copy a finding names its subject without a link, and no link leads to a page for reviewers."""
    report = copy_of(setting('reviewer_pages = true\nlevel = "client"', 'level = "client"'))
    finisher = Finisher(report, ())
    assert not [
        url
        for url in finisher.urls
        if re.search(r'href="[^"]*(?:checks|review|claims)\.html', finisher.page(url).article)
    ]
    assert re.search(r"<td[^>]*>Custody</td>", finisher.page("findings.html").article)
    assert "checks.html#" in Finisher(copy_of(), ()).page("findings.html").article


@pytest.mark.parametrize("level", ["client", "public"])
def test_withheld_comments_are_told_as_withheld_with_the_number_open(level: str) -> None:
    """The page on review says that there are five and one is open; its table says withheld, never none."""
    review = page(plain_copy(level), "review")
    assert review.lead.startswith("5 review comments withheld from this version (1 open).")
    comments = table_in(review, "comments")
    assert (comments.rows, comments.empty) == ((), "withheld (1 open)")


def test_where_no_comment_is_on_record_none_is_told_as_withheld() -> None:
    """Without the file, and with its header alone, there is nothing to withhold, and the page says so."""
    for empty in (removed(COMMENTS), table(COMMENTS, lambda _: [])):
        review = page(copy_of(empty), "review")
        assert review.lead.startswith("No review comment is on record.")
        assert table_in(review, "comments").empty == "No review comment is on record."


def test_a_departure_not_on_record_tells_its_comment_as_withheld() -> None:
    """In site and print the open comment that names the point is withheld in a client copy, named in the team's."""
    inside = table_in(page(plain_copy("internal"), "deviations"), "unrecorded")
    assert [row[2].text for row in inside.rows] == ["C-1, must fix"]
    client = plain_copy("client")
    for some in (page(client, "deviations"), chapter(client, "deviations")):
        assert [row[2].text for row in table_in(some, "unrecorded").rows] == ["withheld (1 open)"]


def test_the_working_set_tells_withheld_comments_at_the_internal_level_too() -> None:
    """A project that withholds its comments inside still has a working set, which says that they are withheld."""
    working = page(copy_of(setting("withhold = []", 'withhold = ["review_comments"]'), level="internal"), "working-set")
    assert "review comments withheld (1 open)" in working.lead
    assert table_in(working, "to-read").empty == "withheld (1 open)"


def test_withheld_remarks_leave_a_word_where_they_were_and_nowhere_else() -> None:
    """Pages, sheets and exports say that a remark is withheld where one is on record; the notes say how many."""
    public = plain_copy("public")
    quoted = [block.text for block in blocks_of(page(public, "SG-37")) if isinstance(block, Quote)]
    assert quoted == ["[remark withheld]"]
    assert not [block for block in blocks_of(page(public, "SG-28")) if isinstance(block, Quote)]
    sheet = next(s for s in chapter(public, "sheets").blocks if isinstance(s, Section) and "SG-37" in s.title)
    facts = [row for block in blocks_of(sheet) if isinstance(block, Facts) for row in block.rows]
    assert ("Field notes", "[remark withheld]") in [(name, shown.text) for name, shown in facts]
    for some in (page(public, "field"), chapter(public, "field")):
        notes = table_in(some, "notes")
        assert notes.rows == ()
        assert re.fullmatch(r"Withheld: \d+ remarks of the field and laboratory record are not part of this version\.",
                            notes.empty)  # fmt: skip
    events = next(export for export in public.exports if export.name == "custody_events")
    at = [field.name for field in events.fields].index("comment")
    assert {row[at] for row in events.rows} == {"", "[remark withheld]"}


def test_a_public_copy_names_roles_by_function_and_tells_two_apart() -> None:
    """Custody, findings and sign-off say crew 1, crew 2, carrier, laboratory, lead, reviewer; no code is left."""
    public = plain_copy("public")
    chain = repr((page(public, "custody").blocks, chapter(public, "findings").blocks))
    for words in ("crew 1", "crew 2", "project lead"):
        assert words in chain
    assert "crew 2, then bagged by crew 1" in repr(page(public, "custody"))
    signed = [row[0].text for row in table_in(page(public, "review"), "signoff").rows]
    assert signed == ["project lead", "licensed reviewer"]
    sampler = repr(next(page for page in public.pages if page.ref.kind == "sampler"))
    for words in ("carrier", "laboratory 1"):
        assert words in sampler
    assert not re.search(r"(?<![\w-])(?:FS|PM|LR|LB)-\d(?!\w)", repr((public.pages, public.chapters, public.exports)))


def test_a_client_copy_keeps_the_codes() -> None:
    """A client may see the codes, and does; at no level does a function stand beside its code."""
    client = plain_copy("client")
    assert "FS-1" in repr(page(client, "custody"))
    assert "crew 1" not in repr(client.pages)


def texts(value: object) -> list[str]:
    """Return every text of a report's records: of cells, blocks, titles and exports."""
    found: list[str] = []
    if isinstance(value, str):
        found.append(value)
    elif isinstance(value, Mapping):
        found += [text for item in value.items() for text in texts(item)]
    elif isinstance(value, tuple | list):
        found += [text for item in value for text in texts(item)]
    elif is_dataclass(value):
        found += [text for field in fields(value) for text in texts(getattr(value, field.name))]
    return found


TEAM_WORDS = (
    "block issue", "none yet", "add a row", "adds a row", "next:", "tick_sheet",
    "working set", "disposition yet", "without a disposition", "before issue", "project.toml)",
    "for the reviewer to assess", "the reviewer compares", "notify the client", "notify the responsible",
    "notification of the client", "awaiting acceptance",
)  # fmt: skip
"""Words by which the report speaks to the project team: the internal copy has each of them."""


def told(report: Report) -> str:
    """Return all that pages, print, volumes and exports say, in lower case; what is left out is named beside."""
    kept = [page for page in report.pages if page.ref.kind != "source"]
    said = "\n".join(texts((kept, report.chapters, report.volumes, report.exports))).casefold()
    for words in (WITHHELD_NOTES, escape_markdown(WITHHELD_NOTES)):
        said = said.replace(words.casefold(), "")
    return said


WITHHELD_NOTES = lexicon("labels")["withheld"]["team_notes"]


@pytest.mark.parametrize("level", ["client", "public"])
def test_nothing_in_a_copy_for_others_speaks_to_the_team(level: str) -> None:
    """Pages, print and exports have none of the words that the team is spoken to with, and no advice of any finding."""
    inside, outside = told(plain_copy("internal")), told(plain_copy(level))
    assert [words for words in TEAM_WORDS if words not in inside] == []
    assert [words for words in TEAM_WORDS if words in outside] == []
    advice = {check.do.rstrip(".").casefold() for check in catalogue().values()}
    assert len([one for one in advice if one in inside]) > 100
    assert [one for one in advice if one in outside] == []


@pytest.mark.parametrize("level", ["client", "public"])
def test_no_cell_or_box_in_a_copy_for_others_is_called_a_hold(level: str) -> None:
    """Print and site put a tone into words; what the team calls a hold is major for others, on every page."""
    inside, outside = plain_copy("internal"), plain_copy(level)
    assert {"hold", "flag"} <= tones(inside.pages) & tones(inside.chapters)
    assert "hold" not in tones((outside.pages, outside.chapters, outside.volumes))
    assert "major" in tones(outside.pages) & tones(outside.chapters)
    assert "hold" not in texts(outside.pages)


def tones(value: object) -> set[str]:
    """Return the tone of every cell and box."""
    own = {value.tone} if isinstance(value, Cell | Callout) else set()
    if isinstance(value, tuple):
        return own.union(*(tones(item) for item in value))
    if not is_dataclass(value):
        return own
    return own | {tone for field in fields(value) for tone in tones(getattr(value, field.name))}


@pytest.mark.parametrize("level", ["client", "public"])
def test_the_working_set_and_its_tick_sheet_are_the_team_s(level: str) -> None:
    """The page is not there, the file is not written, and the list of downloads does not name it."""
    report = plain_copy(level)
    assert "working-set" not in {page.ref.id for page in report.pages}
    assert report.sample is None
    assert "downloads/tick_sheet.csv" not in value_files(report)
    files = [row[0].text for row in table_in(page(report, "downloads"), "downloads").rows]
    assert "values.csv" in files
    assert "tick_sheet.csv" not in files
    inside = plain_copy("internal")
    assert "downloads/tick_sheet.csv" in value_files(inside)
    assert "working-set" in {page.ref.id for page in inside.pages}


def test_the_summary_of_a_client_copy_gives_the_state_of_the_version() -> None:
    """In site and print: findings undecided, comments withheld with the number open, and signatures."""
    client = plain_copy("client")
    for some in (page(client, "start"), chapter(client, "glance")):
        state = next(b for b in blocks_of(some) if isinstance(b, Callout) and b.title == "State of this version")
        assert "2 major, 34 flagged" in state.markdown
        assert "withheld (1 open)" in state.markdown.replace("\\", "")
        assert "0 of 2 required" in state.markdown
        assert [cell for cell in state.refs if cell.text.startswith("Blocks")] == []


def test_findings_of_a_client_copy_are_major_flagged_or_noted() -> None:
    """Two of the example are major, in words and tone, in site and print; there is no column of what to do."""
    client = plain_copy("client")
    for some in (page(client, "findings"), chapter(client, "findings")):
        found = table_in(some, "findings")
        assert [column.key for column in found.columns] == ["severity", "subject", "about", "found", "disposition"]
        assert [row[0].text for row in found.rows[:3]] == ["Major", "Major", "Flag"]
        assert [row[0].tone for row in found.rows[:3]] == ["major", "major", "flag"]
    assert page(client, "findings").lead.startswith("49 findings from the automated checks: 2 major, 35 flagged")
    exported = next(export for export in client.exports if export.name == "findings")
    assert "do" not in [field.name for field in exported.fields]
    assert {len(row) for row in exported.rows} == {len(exported.fields)}


def test_the_notice_of_a_client_s_copy_for_comments_gives_no_task() -> None:
    """The team is told to carry accepted changes into the text files, a client that they go into a new version."""
    wanted = setting("withhold = []", "withhold = []\nnarrative_docx = true")
    for level, said, unsaid in (("internal", "to the files of text/", "accepted by the authors"),
                                ("client", "accepted by the authors", "to the files of text/")):  # fmt: skip
        copied = copy_of(wanted, level=level).comment_copy
        assert copied is not None
        assert said in copied.notices[0]
        assert unsaid not in copied.notices[0]


def test_the_glossary_of_a_client_copy_has_the_readers_words() -> None:
    """A major finding is explained, a hold and a stop are not, and the order is that of the alphabet."""
    terms = [row[0].text for row in table_in(page(plain_copy("client"), "glossary"), "glossary").rows]
    assert "major finding" in terms
    assert not {"hold", "stop"} & set(terms)
    assert terms == sorted(terms, key=str.casefold)


def test_a_project_may_withhold_its_notes_inside_as_well() -> None:
    """The class is one that a project withholds by name, and the copy says so."""
    report = copy_of(setting("withhold = []", 'withhold = ["team_notes"]'), level="internal")
    assert WITHHELD_NOTES in report.meta.withheld
    assert "working-set" not in {page.ref.id for page in report.pages}
    assert table_in(page(report, "review"), "comments").rows


@pytest.mark.parametrize("level", ["client", "public"])
def test_an_answer_does_not_depend_on_who_may_read_the_copy(level: str) -> None:
    """Comments and features that a copy leaves out are still on record: the sheet answers as inside."""

    def sheet(report: Report) -> list[tuple[str, str]]:
        return [(row[1].text, row[2].text) for row in table_in(page(report, "defensibility"), "defensibility").rows]

    assert sheet(plain_copy(level)) == sheet(plain_copy("internal"))
