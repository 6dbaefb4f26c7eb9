"""Reading our own PDF: what print shows, as another reader sees it."""

from __future__ import annotations

from io import BytesIO

import pikepdf
import pytest
from pypdf import PdfReader
from sample_report import sample_report

from sitegen.render.print.finish import finish
from sitegen.render.print.pdf import print_sources, typeset
from sitegen.render.proof.pdf_text import read_pdf, squeeze
from sitegen.report.record.pages import Chapter, Prose

WORDS = "Brackets ((a) b) and \\\\ slash, 1,250 J, <10 µg/m³, office ﬁ, “quoted” – Ünïcödé Ωμ"


@pytest.fixture(scope="module")
def content() -> bytes:
    chapter = Chapter("one", "Chapter", (Prose(WORDS), *sample_report().pages[0].blocks))
    sources = print_sources(sample_report(chapters=(chapter,)), {})
    return finish(typeset(sources), {"a.csv": b"x\r\n"}, sources.day)


def test_the_text_is_that_of_the_page(content: bytes) -> None:
    """Escapes, pairs of brackets, ligatures and signs beyond ASCII come back as they were set."""
    assert squeeze(WORDS.replace("\\\\", "\\").replace("ﬁ", "fi")) in read_pdf(content).text.replace("ﬁ", "fi")


def test_another_reader_sees_the_same_numbers(content: bytes) -> None:
    """Every word with a digit that pypdf finds on the pages with tables is in our text, running heads aside."""
    ours = read_pdf(content).text
    theirs = PdfReader(BytesIO(content)).pages[-1].extract_text().splitlines()[1:-1]
    words = {word for line in theirs for word in line.split() if any(sign.isdigit() for sign in word)}
    assert words
    assert {word for word in words if squeeze(word) not in ours} == set()


def test_running_heads_and_drawings_are_left_out(content: bytes) -> None:
    """What is marked as an artifact, and the labels of a drawing, are no part of the text."""
    text = read_pdf(content).text
    assert "in place, unattended".replace(" ", "") not in text
    assert text.count(squeeze(sample_report().meta.title)) <= 2


def test_codes_that_look_like_the_start_of_a_text_do_not_lead_the_parser_astray() -> None:
    """The two codes 4254 and 2041 are the bytes of ``BT A``: the quick reader loses them, the parser does not."""
    made = pikepdf.new()
    page = made.add_blank_page()
    table = made.make_stream(b"2 beginbfchar\n<4254> <0037>\n<2041> <0035>\nendbfchar")
    font = pikepdf.Dictionary(Encoding=pikepdf.Name("/Identity-H"), ToUnicode=table)
    page.obj.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F1=made.make_indirect(font)))
    page.obj.Contents = made.make_stream(b"BT /F1 12 Tf (BT A) Tj\nET\n/Artifact BMC BT /F1 12 Tf (BT A) Tj\nET EMC")
    target = BytesIO()
    made.save(target)
    assert read_pdf(target.getvalue(), parsed=True).text == "75"
    assert read_pdf(target.getvalue()).text != "75"


def test_both_readers_find_what_was_set(content: bytes) -> None:
    """Numbers and words of the page come out of the parser as out of the quick reader."""
    parsed = read_pdf(content, parsed=True)
    assert squeeze(WORDS.replace("\\\\", "\\").replace("ﬁ", "fi")) in parsed.text.replace("ﬁ", "fi")
    assert parsed.attachments == read_pdf(content).attachments


def test_attachments_are_read_whole(content: bytes) -> None:
    """Each attached file comes back byte for byte."""
    assert dict(read_pdf(content).attachments) == {"a.csv": b"x\r\n"}


def test_what_is_no_pdf_or_written_otherwise_is_an_error() -> None:
    """A broken file and text in fonts that this program does not write are told, not guessed at."""
    with pytest.raises(pikepdf.PdfError):
        read_pdf(b"%PDF-1.7")
    other = pikepdf.new()
    page = other.add_blank_page()
    font = pikepdf.Dictionary(Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica)
    page.obj.Resources = pikepdf.Dictionary(Font=pikepdf.Dictionary(F1=other.make_indirect(font)))
    page.obj.Contents = other.make_stream(b"BT /F1 12 Tf (12.5) Tj\nET")
    target = BytesIO()
    other.save(target)
    with pytest.raises(ValueError, match="another way"):
        read_pdf(target.getvalue())
