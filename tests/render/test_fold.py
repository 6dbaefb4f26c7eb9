"""Maps on fold-out sheets: their paper, what stands on it, and that it can be read."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

import pikepdf
import pytest
from builders import changed, setting, write
from longcases import mostly_long
from pypdf import PdfReader
from sample_report import sample_meta, sample_report
from synthetic_figures import CRS_TEXT, place_features, place_points, place_values

from sitegen.checking import check
from sitegen.figures.foldout import FEW_WORDS_PT, FOLDED_PT, MANY_WORDS_PT, MARGINS_PT, UNIT_PT, fold_rooms
from sitegen.figures.ground import Ground, prepare_ground
from sitegen.figures.inputs import PlacePoint
from sitegen.figures.multiples import Panel, small_multiples
from sitegen.figures.sitemap import symbol_map
from sitegen.pipeline import compose
from sitegen.render.print.front import MARGIN_PT
from sitegen.render.print.pdf import print_sources, typeset
from sitegen.render.print.sheets import ACROSS_PT, flat
from sitegen.render.print.tree import PAPERS_PT, document_tree
from sitegen.render.proof.pdf_text import read_pdf
from sitegen.report.record.pages import (
    Block,
    Bound,
    Callout,
    Cell,
    Chapter,
    Column,
    Figure,
    Prose,
    Report,
    Section,
    Table,
)

LABELS = ("below 10", "10 to 100", "100 to 1,000", "1,000 to 10,000", "above 10,000", "higher", "highest")
PAPERS = sorted(FOLDED_PT)
LONG = "A sentence of some length about what the map shows and what it does not show. " * 60


def folded_ground(paper: str, words_pt: float = FEW_WORDS_PT, points: tuple[PlacePoint, ...] | None = None) -> Ground:
    return prepare_ground(points or place_points(57), place_features(), CRS_TEXT, fold_rooms(paper, words_pt))


def a_map(name: str, paper: str, description: str = "The highest lies in the middle.") -> Figure:
    svg = symbol_map(name, folded_ground(paper), place_values(57), LABELS)
    return Figure(name, svg, f"Map {name} of all points", f"Alternative of {name}", description, width="fold")


def report_with(paper: str, *blocks: Block) -> Report:
    meta = sample_meta("")
    chapters = (
        Chapter("first", "First", (Prose("Before any map."),)),
        Chapter("maps", "Maps", blocks),
        Chapter("last", "Last", (Prose("After every map."),), appendix=True),
    )
    fields = {name: getattr(meta, name) for name in meta.__slots__} | {"paper": paper}
    return sample_report(meta=type(meta)(**fields), chapters=chapters)


@cache
def rendered(paper: str) -> bytes:
    """Return a report with two maps, the second with a remark ahead and a table after it."""
    table = Table("t", "After the map", (Column("c", "Compound"),), ((Cell("Benzene"),),))
    remark = Callout("flag", "A blank touches it", "Read the numbers with care.")
    one = Section("one", "First compound", (a_map("one", paper),))
    two = Section("two", "Second compound", (remark, a_map("two", paper), table))
    return typeset(print_sources(report_with(paper, Prose("Lead."), one, two), {}))


def boxes(data: bytes) -> list[tuple[float, float]]:
    with pikepdf.open(io.BytesIO(data)) as opened:
        return [tuple(float(edge) for edge in list(page.mediabox)[2:]) for page in opened.pages]  # type: ignore[misc]


def texts(data: bytes) -> list[str]:
    return ["".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages]


@pytest.mark.long
@pytest.mark.parametrize("paper", PAPERS)
def test_each_map_has_a_fold_out_and_all_else_the_ordinary_paper(paper: str) -> None:
    """Exactly A3 or 11 × 17 inches, landscape; as many such pages as maps, none of them empty."""
    expected = {"a4": (420 / 25.4 * 72, 297 / 25.4 * 72), "us-letter": (17 * 72, 11 * 72)}[paper]
    plain = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "us-letter": (8.5 * 72, 11 * 72)}[paper]
    found = boxes(rendered(paper))
    large = [at for at, box in enumerate(found) if box == pytest.approx(expected, abs=0.5)]
    assert len(large) == 2
    assert all(found[at] == pytest.approx(plain, abs=0.5) for at in range(len(found)) if at not in large)
    for at, name in zip(large, ("one", "two"), strict=True):
        assert f"Map{name}ofallpoints" in texts(rendered(paper))[at]


@pytest.mark.parametrize("paper", PAPERS)
def test_a_fold_out_has_all_that_other_pages_have(paper: str) -> None:
    """Heading, remark, caption and words beside the map; running lines, page numbers, lists and claims."""
    data = rendered(paper)
    shown = texts(data)
    second = next(
        text for text in shown if "Maptwoofallpoints" in text and "Secondcompound" in text and "flag" in text.lower()
    )
    at = shown.index(second) + 1
    for words in (
        "Second compound",
        "A blank touches it",
        "The highest lies in the middle.",
        "Figure 2",
        f"page {at} of {len(shown)}",
    ):
        assert "".join(words.split()) in second, words
    assert sample_meta("").project_id.replace(" ", "") in second
    lists = read_pdf(data).text  # a caption has a point after its number, an entry of a list has none
    assert "Figure1Maponeofallpoints" in lists
    assert "Figure2Maptwoofallpoints" in lists
    with pikepdf.open(io.BytesIO(data)) as opened:
        claims = opened.open_metadata()
        assert [claims[key] for key in ("pdfaid:part", "pdfaid:conformance", "pdfuaid:part")] == ["3", "A", "1"]
        alts = {str(item["/Alt"]) for item in opened.objects if isinstance(item, pikepdf.Dictionary) and "/Alt" in item}
    assert {"Alternative of one", "Alternative of two"} <= alts


def test_the_same_maps_give_the_same_bytes() -> None:
    again = typeset(print_sources(report_with("a4", a_map("one", "a4")), {}))
    assert again == typeset(print_sources(report_with("a4", a_map("one", "a4")), {}))


def test_words_too_long_for_the_sheet_follow_on_an_ordinary_page() -> None:
    """Nothing is clipped and nothing lost; the fold-out stays one page."""
    data = typeset(print_sources(report_with("a4", a_map("one", "a4", LONG)), {}))
    found = boxes(data)
    assert sum(width > 1000 for width, _ in found) == 1
    after = next(at for at, (width, _) in enumerate(found) if width > 1000) + 1
    assert "".join(texts(data)[after:]).replace("-", "").count("Asentenceofsomelength") == 60


def figures_of(report: Report) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    for sheet in document_tree(report)["sheets"]:
        yield from ((sheet, node) for node in flat(sheet["nodes"]) if node["kind"] == "figure")


def points_to_a_unit(node: dict[str, Any]) -> float:
    found = re.search(r'viewBox="0 0 ([\d.]+) ', node["svg"])
    assert found
    return float(node["width"]) / float(found[1])


@pytest.fixture(scope="module", params=mostly_long(PAPERS, 2))
def example_report(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Report:
    words = f'[publish]\nfold_out_maps = true\npaper = "{request.param}"'
    edits = [setting("[publish]", words), setting("[rules]", "[rules]\ncontours = true")]
    old = changed().files["project.toml"].content.decode()
    for key in ("paper", "contours"):
        line = re.search(rf"(?m)^{key} = .*\n", old)
        edits = ([setting(line[0], "")] if line else []) + edits
    folder = write(changed(*edits), tmp_path_factory.mktemp("fold") / request.param)
    return compose(check(folder))[1]


@pytest.mark.long
def test_the_maps_of_the_example_unfold_and_no_other_drawing(example_report: Report) -> None:
    """Location map, side-by-side maps, mapped compounds and interpolated patterns; the summary keeps its page."""
    large = [node for sheet, node in figures_of(example_report) if "fold" in sheet]
    captions = [node["caption"] for node in large]
    mapped = [page for page in example_report.pages if page.ref.kind == "compound"]
    assert captions[0].startswith("Mapped compounds")
    assert captions[-1].startswith("Points as planned")
    assert sum("interpolated pattern" in caption for caption in captions) >= 2
    assert sum("ring: sample- or result-specific" in caption for caption in captions) == 8
    assert len(mapped) > 8
    first = next(node for _, node in figures_of(example_report))
    assert "ring: sample- or result-specific" in first["caption"]
    assert first["width"] < PAPERS_PT[example_report.meta.paper][0]


def test_letters_on_a_fold_out_are_eight_to_nine_points(example_report: Report) -> None:
    """The smallest and the usual letters of every map, as they are set."""
    for sheet, node in figures_of(example_report):
        if "fold" in sheet:
            sizes = {float(size) for size in re.findall(r'font-size="([\d.]+)"', node["svg"])}
            assert 6.4 <= min(sizes) <= max(sizes) <= 7.5
            assert min(sizes) * points_to_a_unit(node) >= 7.9, node["caption"]
            assert 7 * points_to_a_unit(node) <= 9.2


@pytest.mark.long
def test_each_fold_out_of_the_example_is_one_page(example_report: Report) -> None:
    """Heights are guessed on the safe side: no map drives its words to another large page."""
    large = [sheet for sheet in document_tree(example_report)["sheets"] if "fold" in sheet]
    only = [chapter for chapter in example_report.chapters if chapter.id in ("results", "field")]
    report = Bound(example_report.meta, tuple(only))
    found = boxes(typeset(print_sources(report, {})))
    assert sum(width > 1000 for width, _ in found) == len(large) > 10


def test_the_site_keeps_its_own_drawings(example_report: Report) -> None:
    """No page of the site shows a drawing made for a fold-out."""

    def figures(blocks: tuple[Block, ...]) -> Iterator[Figure]:
        for block in blocks:
            if isinstance(block, Figure):
                yield block
            elif isinstance(block, Section):
                yield from figures(block.blocks)

    assert not [f.id for page in example_report.pages for f in figures(page.blocks) if f.width == "fold"]


def test_margins_are_those_of_every_page() -> None:
    assert MARGINS_PT == (2 * MARGIN_PT, ACROSS_PT)
    assert all(FOLDED_PT[paper][1] == pytest.approx(PAPERS_PT[paper][1], abs=0.01) for paper in ("a4", "us-letter"))


def spread(east_m: float, north_m: float) -> tuple[PlacePoint, ...]:
    corners = [(0.0, 0.0), (east_m, north_m), (east_m / 2, north_m / 3)]
    spots = enumerate(corners)
    return tuple(PlacePoint(f"P{i}", *spot, None, None, "soil_gas", "soil", "retrieved") for i, spot in spots)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("words_pt", [FEW_WORDS_PT, MANY_WORDS_PT])
@pytest.mark.parametrize("size_m", [(900.0, 90.0), (300.0, 200.0), (100.0, 100.0), (50.0, 700.0)])
def test_maps_of_any_shape_fit_their_sheet(paper: str, words_pt: float, size_m: tuple[float, float]) -> None:
    """The whole site is on the map, and the drawing as large as it is made fits between the margins."""
    ground = prepare_ground(spread(*size_m), (), CRS_TEXT, fold_rooms(paper, words_pt))
    svg = symbol_map("x", ground, place_values(3), LABELS)
    width, height = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())  # type: ignore[union-attr]
    room = [side - margin for side, margin in zip(FOLDED_PT[paper], MARGINS_PT, strict=True)]
    assert width * UNIT_PT <= room[0] + 0.1
    assert height * UNIT_PT <= room[1]
    west, east, south, north = ground.frame.limits_m
    assert west <= 0 <= size_m[0] <= east
    assert south <= 0 <= size_m[1] <= north


def test_small_maps_fill_a_fold_out() -> None:
    """They stand in as many columns as make them largest, within the room, each larger than on a page."""
    panels = [Panel(f"Compound {i}", "1 of 57 detected", place_values(57)) for i in range(12)]
    ordinary = prepare_ground(place_points(57), place_features(), CRS_TEXT)
    for paper in PAPERS:
        ground = folded_ground(paper)
        svg = small_multiples("m", ground, panels, LABELS)
        width, height = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())  # type: ignore[union-attr]
        assert width <= ground.room.width + 0.1
        assert height <= ground.room.most + 70
        frames = [float(x) for x in re.findall(r'<rect x="[\d.]+" y="[\d.]+" width="([\d.]+)"', svg)]
        page = small_multiples("m", ordinary, panels, LABELS)
        plain = [float(x) for x in re.findall(r'<rect x="[\d.]+" y="[\d.]+" width="([\d.]+)"', page)]
        on_page = (PAPERS_PT[paper][0] - MARGINS_PT[0]) / ordinary.room.width
        assert sorted(frames)[-2] * UNIT_PT > sorted(plain)[-2] * on_page
