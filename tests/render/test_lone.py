"""Maps to print alone as files: true to scale on paper, whole, and the same bytes each time."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from PIL import Image
from pypdf import PdfReader
from sample_report import HOSTILE, sample_meta
from synthetic_figures import CRS_TEXT, LABELS, place_features, place_points, place_values

from sitegen.figures.inputs import PlaceFeature, PlacePoint, PlaceValue
from sitegen.figures.lonesheet import PAPERS
from sitegen.figures.look import CLASS_COLOURS
from sitegen.render.print.lone import DPI, MARK, Labels, is_lone_map, lone_pdf, lone_png, lone_sources, lone_texts
from sitegen.render.print.picture import size_px, text_of, with_texts
from sitegen.render.proof.lone import lone_differences
from sitegen.report.record.lone import Atlas, LoneGround, LoneMap
from sitegen.report.record.pages import Meta

PAPER_NAMES = sorted(PAPERS)
FACTS = (("Samplers placed", "23 October 2025"), ("Samplers retrieved", "no record"))
APART_M = (137.0, 61.0)
INCH_M = 0.0254
"""Exact: US Federal Register 24 FR 5348 (1959)."""


def a_map(title: str = "Tetrachloroethene (CAS 127-18-4)", count: int = 57, layer: int = 0) -> LoneMap:
    values = place_values(count, layer)
    texts = tuple("120 J" if value.size_class == 2 else "" for value in values)
    return LoneMap(
        title, title, 0, title, "Mass, ng per sampler", f"Map of {title}.", "ng per sampler", values, texts,
        ("A mass is no concentration.",), ("Hollow: not detected.",), "Beside the points: masses.",
    )  # fmt: skip


def a_ground(points: tuple[PlacePoint, ...] | None = None, *, feet: bool = False) -> LoneGround:
    return LoneGround(points or place_points(57), place_features(), LABELS, CRS_TEXT, feet, FACTS)


def an_atlas(*titles: str, feet: bool = False) -> Atlas:
    maps = tuple(a_map(title, layer=at) for at, title in enumerate(titles or ("Benzene",)))
    return Atlas((a_ground(feet=feet),), maps)


def meta() -> Meta:
    return sample_meta("")


def two_points(*, feet: bool) -> Atlas:
    """Return a map of two non-detects, a known way apart."""
    one = PlacePoint("A", 470000.0, 4770000.0, None, None, "soil_gas", "soil", "retrieved")
    other = one._replace(label="B", easting_m=470000.0 + APART_M[0], northing_m=4770000.0 + APART_M[1])
    ground = LoneGround((one, other), (), LABELS, CRS_TEXT, feet, FACTS)
    return Atlas((ground,), (replace(a_map(), values=(PlaceValue(-1), PlaceValue(-1)), texts=("<10", "<10")),))


def curve_starts(data: bytes) -> list[tuple[float, float]]:
    """Return where each outline that is made of curves begins on the first page, in points, as the PDF has it."""
    starts: list[tuple[float, float]] = []
    last: list[tuple[float, float]] = []

    def visit(operator: bytes, operands: list[Any], cm: list[float], _tm: list[float]) -> None:
        if operator == b"m":
            x, y = (float(one) for one in operands)
            last[:] = [(cm[0] * x + cm[2] * y + cm[4], cm[1] * x + cm[3] * y + cm[5])]
        elif operator == b"c" and last:
            starts.append(last.pop())

    PdfReader(io.BytesIO(data)).pages[0].extract_text(visitor_operand_before=visit)
    return starts


def stated_ratio(data: bytes) -> int:
    """Return the scale that stands in words on the first page."""
    words = "".join(PdfReader(io.BytesIO(data)).pages[0].extract_text().split())
    found = re.search(r"Scale(?:1in=[\d,]+ft\()?1:([\d,]+)", words)
    assert found, words
    return int(found[1].replace(",", ""))


@pytest.mark.parametrize("feet", [False, True])
@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_the_scale_is_true_on_paper(paper: str, feet: bool) -> None:
    """Two circles of the PDF lie as far apart in points as their points do in metres, at the scale it states.

    The circles are read from the page's own operators (ISO 32000-1, 8.5.2), by another library than wrote
    them. Within 0.03 pt, which is 0.01 mm.
    """
    data = lone_pdf(two_points(feet=feet), meta(), paper)
    per_metre = 72 / INCH_M / stated_ratio(data)
    wanted = tuple(metres * per_metre for metres in APART_M)
    starts = curve_starts(data)
    ways = [(b[0] - a[0], b[1] - a[1]) for a in starts for b in starts]
    assert any(way == pytest.approx(wanted, abs=0.03) for way in ways)
    off = tuple(1.005 * side for side in wanted)
    assert not any(way == pytest.approx(off, abs=0.03) for way in ways)


@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_each_map_has_one_page_of_the_paper(paper: str) -> None:
    """Three maps are three pages, each as large as the paper, and each is in the outline under its title."""
    titles = ("Benzene", "Toluene", "Sum of fuel aromatics")
    data = lone_pdf(an_atlas(*titles), meta(), paper)
    reader = PdfReader(io.BytesIO(data))
    sides = sorted(float(side) for side in PAPERS[paper][1:3])
    for page in reader.pages:
        assert sorted((float(page.mediabox.width), float(page.mediabox.height))) == pytest.approx(sides, abs=0.02)
    assert [item["/Title"] for item in reader.outline] == list(titles)
    assert len(reader.pages) == len(titles)


def test_the_title_block_says_all_that_it_must() -> None:
    """What a sheet that was torn out of everything must tell is text of the file."""
    own = replace(meta(), notices=("Invented example.",), client="A client", work_plan="")
    words = " ".join(PdfReader(io.BytesIO(lone_pdf(an_atlas(), own, "a3"))).pages[0].extract_text().split())
    wanted = (
        own.project_id, own.title, own.site, own.client, own.prepared_by, f"Revision {own.revision}", own.day,
        own.state, own.digest[:8], CRS_TEXT, "23 October 2025", "no record", "Invented example.", "ng per sampler",
        "A mass is no concentration.", "Hollow: not detected.", "A3", "at 100%",
    )  # fmt: skip
    assert not [one for one in wanted if "".join(one.split()) not in "".join(words.split())]


def test_the_figure_is_tagged_with_its_words() -> None:
    """PDF/UA-1 (ISO 14289-1, 7.3) asks for alternative text of a figure: it is that of the map."""
    with pikepdf.open(io.BytesIO(lone_pdf(an_atlas("Benzene"), meta(), "a4"))) as document:
        assert b"pdfuaid" in document.Root.Metadata.read_bytes()
        alts = [str(one.get("/Alt")) for one in document.objects if _is_figure(one)]
    assert "Map of Benzene." in alts


def _is_figure(one: pikepdf.Object) -> bool:
    return isinstance(one, pikepdf.Dictionary) and one.get("/S") == pikepdf.Name.Figure and "/Alt" in one


@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_hostile_and_long_words_stay_words_on_one_page(paper: str) -> None:
    """Markup and three hundred letters in every free text change neither the count of pages nor what is run."""
    long = (HOSTILE + " #panic() $x$ `raw` @ref <label> ") * 3
    own = replace(
        meta(), title=long[:300], site=long[:300], client="W" * 300, prepared_by=long[:300], notices=(long[:300],)
    )
    points = tuple(point._replace(label=f"{point.label}<b>#") for point in place_points(57))
    ground = replace(a_ground(points), facts=(("Round", long[:300]), *FACTS))
    one = replace(a_map(long[:300]), subtitle=long[:200], alt=long[:500], notes=(long, long), cautions=(long,))
    data = lone_pdf(Atlas((ground,), (one,)), own, paper)
    assert len(PdfReader(io.BytesIO(data)).pages) == 1


def test_the_same_maps_give_the_same_bytes() -> None:
    """Neither PDF nor PNG holds a clock or a chance."""
    for make in (lone_pdf, lone_png):
        assert make(an_atlas(), meta(), "letter") == make(an_atlas(), meta(), "letter")


@cache
def picture(paper: str, labels: Labels = "ids") -> bytes:
    return lone_png(an_atlas(), meta(), paper, labels)


@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_a_picture_has_the_pixels_of_its_paper(paper: str) -> None:
    """At 200 dots to the inch, A4 is 2339 by 1654 pixels, and the file says how large it is to be printed."""
    with Image.open(io.BytesIO(picture(paper))) as opened:
        opened.load()
        sides = [round(side / 72 * DPI) for side in PAPERS[paper][1:3]]
        assert sorted(opened.size) == pytest.approx(sorted(sides), abs=1)
        assert opened.size == size_px(picture(paper))
        assert opened.info["dpi"] == pytest.approx((DPI, DPI), abs=0.01)


def test_a_picture_says_what_it_is() -> None:
    """Another reader of PNG finds title, words and program in the texts of the file, and no time."""
    with Image.open(io.BytesIO(picture("a4"))) as opened:
        opened.load()
        assert opened.info["Title"].startswith("Benzene")
        assert opened.info["Description"] == "Map of Benzene."
        assert not {"Creation Time", "date:create"} & set(opened.info)


def test_a_picture_stays_in_order_without_colour() -> None:
    """In grey the classes of the legend grow darker with the mass: each is darker than the one below it.

    Grey is luma as ITU-R BT.601 weighs it, which is Pillow's mode L.
    """
    greys = [Image.new("RGB", (1, 1), colour).convert("L").tobytes()[0] for colour in CLASS_COLOURS]
    assert greys == sorted(greys, reverse=True)
    assert all(light - dark >= 20 for light, dark in pairwise(greys))


def test_files_of_this_kind_are_known_again_and_others_are_not() -> None:
    """PDF and PNG of ours are told from any other file."""
    assert is_lone_map(lone_pdf(an_atlas(), meta(), "a4"))
    assert is_lone_map(picture("a4"))
    empty = io.BytesIO()
    pikepdf.new().save(empty)
    plain = io.BytesIO()
    Image.new("L", (2, 2)).save(plain, "PNG")
    assert not any(map(is_lone_map, (empty.getvalue(), plain.getvalue(), b"", b"%PDF-1.7 broken", b"text")))


def test_only_a_png_takes_texts() -> None:
    """Bytes of another kind are refused; what was put in is read again."""
    with pytest.raises(ValueError, match="no PNG"):
        with_texts(b"GIF89a", 200, {})
    plain = io.BytesIO()
    Image.new("L", (2, 2)).save(plain, "PNG")
    made = with_texts(plain.getvalue(), 300, {"Comment": "µ", "Title": "t"})
    assert (text_of(made, "Comment"), text_of(made, "Title"), text_of(made, "Author")) == ("µ", "t", "")


@pytest.mark.parametrize(
    ("labels", "there", "absent"),
    [("ids", "SG-01", "120 J"), ("values", "120 J", "SG-01"), ("both", "SG-01", None), ("none", None, "SG-01")],
)
def test_labels_are_those_asked_for(labels: Labels, there: str | None, absent: str | None) -> None:
    """Ids, results, both or nothing stand at the points, and results bring their explanation."""
    sources = lone_sources(an_atlas(), meta(), "a3", labels).files["data.json"].decode()
    svg = sources[sources.index("<svg") : sources.index("</svg>")]
    assert there is None or f">{there}" in svg
    assert absent is None or f">{absent}" not in svg
    assert ("Beside the points: masses." in sources) == (labels in ("values", "both"))


def test_a_page_that_is_missing_or_changed_is_told(tmp_path: Path) -> None:
    """The proof tells a page too few and a title that is another."""
    file = tmp_path / "maps.pdf"
    atlas = an_atlas("Benzene", "Toluene")
    file.write_bytes(lone_pdf(atlas, meta(), "a4"))
    assert list(lone_differences(file, atlas)) == []
    assert len([*lone_differences(file, atlas.only(atlas.maps[:1]))]) == 2
    assert len([*lone_differences(file, atlas.only(atlas.maps[::-1]))]) == 2


def test_every_text_of_a_sheet_is_among_those_searched() -> None:
    """What a search for private words reads holds every text that stands in the title block and on the map."""
    atlas = an_atlas("Benzene")
    ground = replace(
        atlas.grounds[0], features=(PlaceFeature("well", "Secret well", "point", (((470020.0, 4770020.0),),)),)
    )
    texts = [*lone_texts(Atlas((ground,), atlas.maps), meta())]
    for wanted in ("Secret well", "SG-01", "Map of Benzene.", "23 October 2025", CRS_TEXT, meta().client, "120 J"):
        assert wanted in texts
    assert MARK not in texts
