"""What holds for every drawing: well formed, safe, apart from each other, repeatable."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from synthetic_figures import (
    CRS_TEXT,
    DAY,
    LABELS,
    TICKS,
    custody_row,
    exposure_windows,
    ground,
    place_features,
    place_points,
    place_values,
    result_items,
    weather_rows,
)

from sitegen.figures.bars import ranked_bars
from sitegen.figures.ground import prepare_ground
from sitegen.figures.inputs import CustodyRow, CustodySegment, ExposureWindow, ResultBar, Tick
from sitegen.figures.sitemap import location_map, symbol_map
from sitegen.figures.timeline import custody_timeline
from sitegen.figures.weather import exposure_weather

HOSTILE = '</text><script>alert(1)</script>&"\' id="x" url(#y) $x^2$ {{ 7 }} \x00\u2028'
SVG = "{http://www.w3.org/2000/svg}"


def all_drawings(word: str = "SG-01") -> dict[str, str]:
    """Every kind of drawing, with a word of the caller's wherever a record has text."""
    points = tuple(point._replace(label=word) for point in place_points()[:9])
    features = tuple(item._replace(name=word) for item in place_features())
    site = prepare_ground(points, features, word)
    segment = CustodySegment(0, 20 * DAY, "held", word)
    row = CustodyRow(word, (segment,), (Tick(DAY, word),))
    bars = (ResultBar(word, word, 100, 10, 2), ResultBar(word, word, None, 10, -1, marked=True))
    stay = ExposureWindow(word, DAY, 9 * DAY, marked=True)
    days = (Tick(DAY, word),)
    return {
        "symbol": symbol_map("symbol", site, place_values()[:9], (word,) * 5, word),
        "location": location_map("location", site),
        "timeline": custody_timeline("timeline", [row], 0, 20 * DAY, days),
        "bars": ranked_bars("bars", bars, word),
        "ranked": ranked_bars("ranked", bars, word, 1),
        "weather": exposure_weather("weather", [stay], weather_rows(), 0, 20 * DAY, days),
    }


DRAWN = all_drawings()


@pytest.mark.parametrize("name", DRAWN)
def test_a_drawing_is_one_svg_element_with_a_view_box_and_no_fixed_size(name: str) -> None:
    root = ET.fromstring(DRAWN[name])  # noqa: S314
    assert root.tag == f"{SVG}svg"
    x, y, width, height = map(float, root.attrib["viewBox"].split())
    assert (x, y) == (0, 0)
    assert min(width, height) > 50
    assert root.attrib["width"] == "100%"
    assert "height" not in root.attrib


@pytest.mark.parametrize("name", DRAWN)
def test_a_drawing_brings_no_style_sheet_script_picture_or_outside_reference(name: str) -> None:
    tags = {element.tag.removeprefix(SVG) for element in ET.fromstring(DRAWN[name]).iter()}  # noqa: S314
    assert not tags & {"style", "script", "image", "foreignObject", "a", "use"}
    assert "href" not in DRAWN[name]
    assert "currentColor" not in DRAWN[name]
    assert "var(" not in DRAWN[name]
    assert "class=" not in DRAWN[name]


def test_hostile_words_stay_words() -> None:
    plain, hostile = all_drawings(), all_drawings(HOSTILE)
    for name in plain:
        root = ET.fromstring(hostile[name])  # noqa: S314
        assert not list(root.iter(f"{SVG}script"))
        said = [element.text or "" for element in root.iter(f"{SVG}text")]
        assert any(words.startswith("</text>") for words in said), name
        assert re.findall(r'\bid="([^"]+)"', hostile[name]) == re.findall(r'\bid="([^"]+)"', plain[name])


def test_ids_are_each_figure_s_own_and_every_reference_is_met() -> None:
    site = ground()
    drawn = [
        symbol_map("map-pce", site, place_values(), LABELS),
        symbol_map("map-tce", site, place_values(layer=1), LABELS),
        location_map("map locations", site),
        custody_timeline("custody", [custody_row(4)], 0, 24 * DAY, TICKS),
        custody_timeline("custody/2", [custody_row(4)], 0, 24 * DAY, TICKS),
        custody_timeline("custody.dots", [custody_row(4)], 0, 24 * DAY, TICKS),
        ranked_bars("custody-dots", result_items()),
    ]
    whole = "".join(drawn)
    ids = re.findall(r'\bid="([^"]+)"', whole)
    assert len(ids) == len(set(ids)) >= 5
    for svg in drawn:
        own = set(re.findall(r'\bid="([^"]+)"', svg))
        assert set(re.findall(r"url\(#([^)]+)\)", svg)) <= own


@pytest.mark.parametrize("name", DRAWN)
def test_nothing_is_drawn_outside_the_view_box(name: str) -> None:
    root = ET.fromstring(DRAWN[name])  # noqa: S314
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    for element in root.iter(f"{SVG}text"):
        if "transform" not in element.attrib:
            assert 0 <= float(element.attrib["x"]) <= width
            assert 0 <= float(element.attrib["y"]) <= height
    for element in root.iter(f"{SVG}rect"):
        x, wide = float(element.attrib["x"]), float(element.attrib["width"])
        assert x + wide <= width + 0.01


def test_the_same_records_give_the_same_text_in_another_process_and_place(tmp_path: Path) -> None:
    """Hash seed, time zone, locale and folder change; matplotlib's own settings file too."""
    (tmp_path / "matplotlibrc").write_text("lines.linewidth: 9\nsvg.fonttype: path\naxes.edgecolor: red\n")
    code = "from test_drawings import all_drawings; print(repr(all_drawings()))"
    here = Path(__file__).parent
    paths = os.pathsep.join(map(str, (here, here.parent, here.parent.parent)))
    odd = {"PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo", "LC_ALL": "C.UTF-8", "PYTHONPATH": paths}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env={**os.environ, **odd}, capture_output=True, check=True
    )
    assert done.stdout.decode().strip() == repr(DRAWN)


def test_fonts_are_named_so_that_text_stays_text() -> None:
    for svg in DRAWN.values():
        assert 'font-family="DejaVu Sans, sans-serif"' in svg
        assert "<text" in svg


@pytest.mark.parametrize(
    "call",
    [
        lambda: symbol_map("x", ground(9), place_values(8), LABELS),
        lambda: prepare_ground((), (), CRS_TEXT),
        lambda: custody_timeline("x", [], 5, 5, ()),
        lambda: custody_timeline("x", [CustodyRow("a", (CustodySegment(0, 1, "lent"),))], 0, 5, ()),
        lambda: ranked_bars("f", [ResultBar("a", "0", 0.0, None)]),
        lambda: exposure_weather("f", [], [], 5, 5, ()),
    ],
)
def test_what_can_t_be_drawn_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=r"."):
        call()


def test_empty_records_give_a_drawing_all_the_same() -> None:
    for svg in (
        ranked_bars("f", []),
        ranked_bars("f", []),
        custody_timeline("x", [], 0, 9, ()),
        exposure_weather("f", [], [], 0, 9, ()),
    ):
        assert ET.fromstring(svg).tag == f"{SVG}svg"  # noqa: S314


def test_the_survey_s_drawings_stay_light() -> None:
    assert len(symbol_map("pce", ground(60), place_values(60), LABELS)) < 80_000
    rows = [custody_row(i) for i in range(60)]
    assert len(custody_timeline("all", rows, 0, 24 * DAY, TICKS)) < 80_000
    assert len(ranked_bars("f", result_items())) < 8_000
    assert len(exposure_weather("f", exposure_windows(60), weather_rows(), 0, 24 * DAY, TICKS)) < 40_000
