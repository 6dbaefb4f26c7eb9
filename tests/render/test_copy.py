"""The copy for comments: real headings, lists and tables, the report's own words, and nothing that runs."""

from __future__ import annotations

import io
import re
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from xml.parsers import expat

import pytest
from builders import changed, setting, write
from copy_samples import NOTICE, sample_copy
from docx import Document
from docx.document import Document as Docx
from docx.oxml.ns import qn
from docx.text.paragraph import Paragraph
from sample_report import HOSTILE, sample_meta, sample_report

from sitegen.checking import check
from sitegen.pipeline import compose
from sitegen.render.comment.docx import docx_bytes
from sitegen.render.comment.parts import clean, copy_texts
from sitegen.render.data.downloads import COPY, attachments, download_files
from sitegen.render.proof.comments import copy_differences, paragraph_texts
from sitegen.render.proof.scan import leaks
from sitegen.report.record.pages import Chapter, CommentCopy, Prose, Report, Section
from sitegen.report.review.comments import COPIED

META = sample_meta()
NAME = "O'Varnhollow"


def opened(copy: CommentCopy | None = None, **meta: str) -> Docx:
    return Document(io.BytesIO(docx_bytes(copy or sample_copy(), replace(META, **meta))))


def members(content: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        return {name: package.read(name) for name in package.namelist()}


def styled(document: Docx, style: str) -> list[str]:
    return [one.text for one in document.paragraphs if one.style is not None and one.style.name == style]


# --- structure -----------------------------------------------------------------------------


def test_it_opens_with_what_it_is_and_headings_are_headings() -> None:
    """Title and notices come first; chapters, sections and headings of texts have a level each."""
    document = opened()
    assert [one.text for one in document.paragraphs[:2]] == [META.title, NOTICE]
    assert styled(document, "Heading 1") == ["Summary", "Interpretation"]
    assert styled(document, "Heading 2")[:2] == ["What was found", "How sure this is"]
    assert "Title in a text" in styled(document, "Heading 2")
    assert styled(document, "Heading 3") == ["A heading from a text file", "Blanks"]
    assert document.sections[0].header.paragraphs[0].text == "KD-2025, draft"
    assert {f.get(qn("w:instr")) for f in document.sections[0].footer.part.element.iter(qn("w:fldSimple"))} == {
        "PAGE",
        "NUMPAGES",
    }


def numbering(document: Docx, paragraph: Paragraph) -> tuple[int, int]:
    """Return the list that a paragraph belongs to and the number at which that list begins."""
    number = paragraph.paragraph_format.element.pPr.numPr.numId.val
    form = document.part.numbering_part.element.num_having_numId(number)
    return number, int(form.find(f".//{qn('w:startOverride')}").get(qn("w:val")))


def test_lists_are_lists_and_each_begins_at_its_own_number() -> None:
    """A list goes on after one inside it; the next one begins anew, at the number that was written."""
    document = opened()
    lists = {one.text: numbering(document, one) for one in document.paragraphs if one.style.name.startswith("List N")}
    assert list(lists) == ["one", "two", "inner a", "inner b", "three", "seven", "eight"]
    outer, inner, last = lists["one"], lists["inner a"], lists["seven"]
    assert (outer[1], inner[1], last[1]) == (1, 1, 7)
    assert len({outer[0], inner[0], last[0]}) == 3
    assert (lists["two"], lists["three"], lists["inner b"], lists["eight"]) == (outer, outer, inner, last)
    assert styled(document, "List Continue 2") == ["more on b"]
    assert styled(document, "List Bullet 2") == ["x", "b"]
    assert styled(document, "List Bullet 3") == ["c", "d"]
    assert "57 Soil-gas points (54 recovered and analysed)" in styled(document, "List Bullet")


def test_looks_links_code_and_quotes_are_as_in_the_text() -> None:
    """Bold and slanted words are so; an address stands in words; nothing is a link."""
    document = opened()
    words = next(one for one in document.paragraphs if one.text.startswith("Between"))
    looks = {run.text: (run.bold, run.italic, run.font.name) for run in words.runs}
    assert looks["bold"] == (True, None, None)
    assert looks["slanted"] == (None, True, None)
    assert looks["both"] == (True, True, None)
    assert looks["mono"] == (None, None, "Courier New")
    assert words.text.endswith(
        "words (https://example.org/a), https://example.org/b\nand a [script](javascript:alert)."
    )
    assert "code  in\n\tlines" in styled(document, "macro")
    assert styled(document, "Quote")[0] == "quoted"
    assert not list(document.element.iter(qn("w:hyperlink")))


def test_a_tables_head_comes_again_and_marks_stand_beside_their_numbers() -> None:
    """Header rows are marked so, no row is split, units and marks are there, and reasons follow."""
    document = opened()
    table = document.tables[0]
    rows = [[cell.text for cell in row.cells] for row in table.rows]
    assert rows[0] == ["Compound", "Mass, ng per sampler", "Reporting limit, ng per sampler", "Qualifier", "Highest at",
                       "Remark"]  # fmt: skip
    assert rows[2][:2] == ["Trichloroethene", "274 [water, above cal.]"]
    assert [row._tr.find(f".//{qn('w:tblHeader')}") is not None for row in table.rows] == [True] + [False] * 12
    assert all(row._tr.find(f".//{qn('w:cantSplit')}") is not None for row in table.rows)
    texts = [one.text for one in document.paragraphs]
    assert "water: Water stood in the vial when it was opened." in texts
    assert "shallow: Refusal on rubble before the planned depth." in texts
    assert "Source: lab/results.csv, field/deployments.csv" in texts
    assert isinstance(list(document.iter_inner_content())[-1], Paragraph)


def test_drawings_and_photographs_are_mentioned() -> None:
    """A copy to write in has no pictures, but says where they stand and what they show."""
    content = docx_bytes(sample_copy(), META)
    texts = [one.text for one in opened().paragraphs]
    assert "Drawing, in the report: Who held the sampler" in texts
    assert "Photograph, in the report: The hole after coring (FS-2)" in texts
    assert not [name for name in members(content) if name.endswith((".png", ".jpeg", ".svg"))]


def test_a_table_without_rows_says_so() -> None:
    """Nothing recorded is a sentence, as in the report."""
    empty = next(
        block for page in sample_report().pages for block in page.blocks if getattr(block, "id", "") == "closed"
    )
    document = opened(CommentCopy((NOTICE,), "", (Chapter("c", "C", (empty,)),)))
    assert [one.text for one in document.paragraphs][-2:] == ["Closed findings", "No finding is closed."]


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.25, 841.9)), ("us-letter", (612, 792))])
def test_paper_language_properties_and_tracking_are_set(paper: str, size: tuple[float, float]) -> None:
    """The paper is the setting's; the language is English; no person and no other program is named."""
    document = opened(paper=paper)
    page, told = document.sections[0], document.core_properties
    assert (page.page_width.pt, page.page_height.pt) == pytest.approx(size, abs=0.1)
    assert {one.get(qn("w:val")) for one in document.styles.element.iter(qn("w:lang"))} == {"en-GB"}
    assert (told.title, told.language, told.author, told.last_modified_by, told.comments) == (
        META.title, "en-GB", "", "", "",
    )  # fmt: skip
    assert f"{told.created:%Y-%m-%dT%H:%M}" == f"{told.modified:%Y-%m-%dT%H:%M}" == f"{META.report_date}T00:00"
    assert document.settings.element.find(qn("w:trackRevisions")) is not None
    assert not {"docProps/app.xml", "docProps/thumbnail.jpeg"} & members(docx_bytes(sample_copy(), META)).keys()


# --- bytes, hostile texts, private words ---------------------------------------------------


def test_the_same_copy_gives_the_same_bytes() -> None:
    """Nothing in the package is of the moment; its members are in the order of their names."""
    content = docx_bytes(sample_copy(HOSTILE), META)
    assert content == docx_bytes(sample_copy(HOSTILE), META)
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        assert {info.date_time for info in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert package.namelist() == sorted(package.namelist())


def test_every_part_is_xml_and_none_leads_outside() -> None:
    """With hostile text in every place each part can be parsed; no relation leads out of the package."""
    parts = members(docx_bytes(sample_copy(HOSTILE), sample_meta(HOSTILE)))
    for part in parts.values():
        expat.ParserCreate().Parse(part, True)
    assert b"TargetMode" not in b"".join(part for name, part in parts.items() if name.endswith(".rels"))


@pytest.mark.parametrize(
    "hostile", [HOSTILE, "]]> <w:p/> &#x41; _x0041_", "\ufffe\uffff\ud800\x0b", "a\rb\r\nc\td", "  =cmd|'/c calc'!A1  "]
)
def test_hostile_words_are_words(hostile: str, tmp_path: Path) -> None:
    """What XML can't hold is U+FFFD; all else comes back as it is, and adds no element."""
    copy, meta = sample_copy(hostile), sample_meta(hostile)
    path = tmp_path / "narrative.docx"
    path.write_bytes(docx_bytes(copy, meta))
    assert list(copy_differences(path, copy, meta)) == []
    found = Document(io.BytesIO(path.read_bytes()))
    quote = next(text for text in styled(found, "Quote") if text.startswith("Smell"))
    assert quote == clean(f"Smell of solvent when core came out.\n  Patch is rough, come back!{hostile}")
    plain = {child.tag for child in opened().element.iter()} | {qn("w:br"), qn("w:tab")}
    assert {child.tag for child in found.element.iter()} <= plain


def test_a_long_title_and_a_bad_date_are_told_apart() -> None:
    """A title longer than a property holds is cut there alone; a date that is none is refused."""
    long = "Survey " * 60
    assert len(opened(title=long).core_properties.title) == 255
    assert opened(title=long).paragraphs[0].text == long
    with pytest.raises(ValueError, match="isoformat"):
        docx_bytes(sample_copy(), replace(META, report_date="soon"))


@pytest.mark.parametrize("words", [NAME, "O'Varn**hollow**", "*O'Varnhollow*, by phone"])
def test_a_private_word_in_it_is_found(words: str, tmp_path: Path) -> None:
    """A name is found in the packed file, with a part of it bold as well."""
    copy = CommentCopy((NOTICE,), "", (Chapter("c", "C", (Prose(f"Rang {words} twice"),)),))
    (tmp_path / "narrative.docx").write_bytes(docx_bytes(copy, META))
    assert leaks(tmp_path, sample_report(), [NAME]) == [f"narrative.docx: {NAME!r}"]
    assert leaks(tmp_path, sample_report(), ["Varnholl"]) == []


# --- read back -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("274 [water", "247 [water"),
        ("&lt;25", "25"),
        ("61 % Non", "16 % Non"),
        ("invented.", "real."),
        ("draft", "issued"),
    ],
)
def test_another_word_or_number_is_told(old: str, new: str, tmp_path: Path) -> None:
    """Swapped digits, a lost limit sign, another tile, sentence or status line: each is told."""
    path, copy = tmp_path / "narrative.docx", sample_copy()
    parts = members(docx_bytes(copy, META))
    assert any(old.encode() in part for part in parts.values())
    with zipfile.ZipFile(path, "w") as package:
        for name, part in parts.items():
            package.writestr(name, part.replace(old.encode(), new.encode()))
    assert any(new.replace("&lt;", "<") in line for line in copy_differences(path, copy, META))


def test_a_lost_paragraph_and_a_broken_file_are_told(tmp_path: Path) -> None:
    """A copy of fewer chapters, and a file that is no package, are differences."""
    path, copy = tmp_path / "narrative.docx", sample_copy()
    path.write_bytes(docx_bytes(replace(copy, chapters=copy.chapters[:1]), META))
    assert [line.rpartition(": ")[2] for line in copy_differences(path, copy, META)] == ["None"]
    path.write_bytes(b"PK")
    assert "can't be read" in next(copy_differences(path, copy, META))


# --- the project's setting -----------------------------------------------------------------


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """Return the example's report with a copy for comments."""
    on = setting("withhold = []", "withhold = []\nnarrative_docx = true")
    return compose(check(write(changed(on), tmp_path_factory.mktemp("asked") / "survey")))[1]


def test_the_copy_has_the_texts_with_their_numbers(asked: Report) -> None:
    """Every section of the text and the methods is there, tokens are filled in, and the first words say what it is."""
    document = Document(io.BytesIO(docx_bytes(asked.comment_copy, asked.meta)))
    assert styled(document, "Heading 1") == ["Summary", "Objectives, setting and interpretation", "Methods"]
    assert {"Objectives", "Interpretation", "Conclusions", "Limitations", "Samplers and principle"} <= {
        *styled(document, "Heading 2")
    }
    first = document.paragraphs[1].text
    for words in (asked.meta.state, f"Revision {asked.meta.revision} of", "copy for comments", "PDF", "files of text/"):
        assert words in first
    whole = "\n".join(copy_texts(asked.comment_copy, asked.meta))
    assert "{{" not in whole
    assert "53,300 ng per sampler (SS-01; E)" in whole


def test_every_number_listed_for_its_chapters_stands_in_it(asked: Report) -> None:
    """What values.csv lists under these chapters of print is what the copy says."""
    content = docx_bytes(asked.comment_copy, asked.meta)
    whole = " ".join(" ".join(paragraph_texts(members(content)["word/document.xml"])).split())
    titles = {chapter.title for chapter in asked.chapters if chapter.id in COPIED}
    listed = [value for value in asked.values if value.in_print.partition(" / ")[0] in titles]
    assert len(listed) > 20
    assert [value.text for value in listed if " ".join(value.text.split()) not in whole] == []


def test_it_is_listed_with_its_size_and_print_does_not_carry_it(asked: Report) -> None:
    """The page of downloads names it; the PDF, which may be signed, has no file that is there to be changed."""
    page = next(page for page in asked.pages if page.ref.id == "downloads")
    (others,) = (block for block in page.blocks if isinstance(block, Section) and block.id == "others")
    assert others.blocks[0].rows[0][0].text == "narrative.docx"
    files = download_files(asked)
    assert COPY in files
    assert not [name for name in attachments(files) if name.endswith(".docx")]


def test_without_the_setting_there_is_none_and_the_library_stays_unloaded() -> None:
    """By default nothing is written, and python-docx is not even imported."""
    code = (
        "import sys; from sample_report import sample_report; import sitegen.pipeline\n"
        "from sitegen.render.data.downloads import download_files\n"
        "files = download_files(sample_report())\n"
        "print([name for name in files if name.endswith('.docx')], 'docx' in sys.modules)"
    )
    here = Path(__file__).parent
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=here)
    assert done.stdout.strip() == "[] False"


def test_only_its_writer_imports_the_library() -> None:
    """The library stays behind one module."""
    room = Path(sys.modules[docx_bytes.__module__].__file__ or "").parents[2]
    users = {
        path.name
        for path in room.rglob("*.py")
        if re.search(r"^\s*(from|import) docx\b", path.read_text("utf-8"), re.MULTILINE)
    }
    assert users == {"docx.py"}
