"""Timelines, bars and weather: lengths and places that are true by construction."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from synthetic_figures import DAY, TICKS, custody_row, exposure_windows, result_items, weather_rows

from sitegen.figures.bars import ranked_bars
from sitegen.figures.inputs import CustodyRow, CustodySegment, ResultBar, Tick, WeatherRow
from sitegen.figures.look import CUSTODY_STYLES
from sitegen.figures.svg import text_width
from sitegen.figures.timeline import WIDTH, custody_timeline
from sitegen.figures.weather import exposure_weather

SVG = "{http://www.w3.org/2000/svg}"


def found(svg: str, tag: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(f"{SVG}{tag}"))  # noqa: S314


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in found(svg, "text")]


def stretches(svg: str, state: str) -> list[tuple[float, float]]:
    """Left and right end of a state's bars, the legend's last."""
    fill = CUSTODY_STYLES[state][0]
    paths = [path.attrib["d"] for path in found(svg, "path") if path.attrib.get("fill") == fill]
    return [(float(x0), float(x1)) for d in paths for x0, x1 in re.findall(r"M([\d.]+) [\d.]+H([\d.]+)v", d)]


def row(*segments: CustodySegment, label: str = "SG-01") -> CustodyRow:
    return CustodyRow(label, segments)


def test_lengths_on_the_timeline_are_in_proportion_to_minutes() -> None:
    segments = (CustodySegment(0, 600, "held"), CustodySegment(600, 2400, "in place, unattended"))
    svg = custody_timeline("x", [row(*segments)], 0, 2400, ())
    (h0, h1), *_ = stretches(svg, "held")
    (p0, p1), *_ = stretches(svg, "in place, unattended")
    assert (p1 - p0) / (h1 - h0) == pytest.approx(3, rel=1e-3)
    assert p0 == h1


def test_a_gap_of_minutes_in_weeks_is_still_seen_and_flagged() -> None:
    segments = (
        CustodySegment(0, 14000, "held"),
        CustodySegment(14000, 14020, "in transit, custody not recorded"),
        CustodySegment(14020, 30000, "held"),
    )
    svg = custody_timeline("x", [row(*segments)], 0, 30000, ())
    (x0, x1), *_ = stretches(svg, "in transit, custody not recorded")
    assert x1 - x0 >= 4
    assert "in transit, custody not recorded" in texts(svg)


def test_no_alarm_is_drawn_where_custody_is_whole() -> None:
    svg = custody_timeline("x", [custody_row(0)], 0, 24 * DAY, TICKS)
    assert stretches(svg, "in transit, custody not recorded") == []
    assert not [words for words in texts(svg) if "not recorded" in words]


def test_the_legend_names_exactly_the_states_that_occur() -> None:
    svg = custody_timeline("x", [row(CustodySegment(0, 4, "stored"))], 0, 9, ())
    assert [words for words in texts(svg) if words in CUSTODY_STYLES] == ["stored", "stored"]


def test_a_change_of_custodian_without_a_transfer_is_marked_where_it_was_seen() -> None:
    """A line held by one and then by another has a triangle at the change, and the legend says what it is."""
    segments = (CustodySegment(0, 1000, "held", "A-1"), CustodySegment(1000, 2000, "held", "A-2"))
    plain = custody_timeline("x", [CustodyRow("SG-01", segments)], 0, 2000, ())
    marked = custody_timeline("x", [CustodyRow("SG-01", segments, changes_min=(1000,))], 0, 2000, ())
    said = "change of custodian without a recorded transfer"
    assert (said in texts(plain), said in texts(marked)) == (False, True)
    left = 16 + text_width("SG-01", 11)
    middle = left + (WIDTH - 12 - left) / 2
    feet = [float(foot) for foot in re.findall(r'd="M([\d.]+) [\d.]+h10l-5 -10z"', marked)]
    assert feet[0] == pytest.approx(middle - 5, abs=0.1)
    assert len(feet) == 2


def test_every_state_can_be_told_without_colour() -> None:
    patterns = [pattern for _, pattern in CUSTODY_STYLES.values()]
    assert patterns.count("solid") == 2
    assert len(set(patterns)) == len(patterns) - 1


def test_a_single_row_names_holders_and_events() -> None:
    said = texts(custody_timeline("x", [custody_row(4)], 0, 24 * DAY, TICKS))
    assert {"FS-2", "CR", "held, LB-1", "in place, unattended"} <= set(said)
    assert {"placed by FS-1", "bagged", "received by the laboratory"} <= set(said)


def test_no_leader_runs_through_an_event_s_name() -> None:
    events = tuple(Tick(at, f"event number {at}") for at in (1000, 1040, 1200, 3000, 3010))
    svg = custody_timeline("x", [CustodyRow("a", (CustodySegment(0, 9000, "held"),), events)], 0, 9000, ())
    names = [item for item in found(svg, "text") if (item.text or "").startswith("event")]
    leaders = [item for item in found(svg, "line") if item.attrib["stroke-width"] == "0.7"]
    assert len(names) == len(leaders) == 5
    for name in names:
        x, y = float(name.attrib["x"]), float(name.attrib["y"])
        right = x + 6.0 * len(name.text or "")
        for leader in leaders:
            at, end = float(leader.attrib["x1"]), float(leader.attrib["y2"])
            assert not (x + 4 < at < right and end > y - 8)


def test_sixty_rows_stand_twenty_two_apart() -> None:
    rows = [custody_row(i) for i in range(60)]
    svg = custody_timeline("x", rows, 0, 24 * DAY, TICKS)
    places = [float(item.attrib["y"]) for item in found(svg, "text") if re.fullmatch(r"SG-\d\d", item.text or "")]
    assert len(places) == 60
    assert {round(b - a, 2) for a, b in pairwise(places)} == {22}


def test_a_decade_has_one_length() -> None:
    items = [ResultBar(str(mass), str(mass), mass, None, 0) for mass in (10, 100, 1000)]
    bars = [float(bar.attrib["width"]) for bar in found(ranked_bars("f", items), "rect") if "stroke" in bar.attrib][1:4]
    assert bars[1] - bars[0] == pytest.approx(bars[2] - bars[1], abs=0.02)


def test_a_non_detect_has_no_bar_but_an_angle_ending_at_its_limit() -> None:
    svg = ranked_bars("f", [ResultBar("a", "<10", None, 10, -1)])
    bars = [bar for bar in found(svg, "rect") if bar.attrib.get("stroke-width") == "0.6"]
    assert len(bars) == 1, "the panel alone"
    angle = next(path for path in found(svg, "path") if path.attrib["fill"] == "none")
    limit = next(item for item in found(svg, "line") if item.attrib["stroke-width"] == "1.6")
    reach = max(float(x) for x in re.findall(r"[ML]([\d.]+) ", angle.attrib["d"]))
    assert float(limit.attrib["x1"]) - reach == pytest.approx(1.5, abs=0.02)


def test_values_are_written_as_given() -> None:
    said = texts(ranked_bars("f", result_items()))
    assert {item.text for item in result_items()} <= set(said)
    assert any("ng per sampler" in words for words in said)


def test_ranking_puts_detections_first_by_mass_then_non_detects() -> None:
    items = [
        ResultBar("low", "2", 2, 1),
        ResultBar("none", "<50", None, 50),
        ResultBar("high", "900", 900, 1),
        ResultBar("mid", "40", 40, 1),
    ]
    said = [words for words in texts(ranked_bars("f", items)) if words in {item.label for item in items}]
    assert said == ["high", "mid", "low", "none"]


def test_what_is_not_drawn_is_counted() -> None:
    items = [ResultBar(f"p{i}", "5", 5.0 + i, 1) for i in range(6)] + [ResultBar("n", "<1", None, 1)]
    assert "5 more not drawn (4 detected): see the table." in texts(ranked_bars("f", items, most=2))


def test_one_line_stands_for_a_limit_that_all_share() -> None:
    same = [ResultBar("a", "5", 5, 1), ResultBar("b", "<1", None, 1)]
    mixed = [ResultBar("a", "5", 5, 1), ResultBar("b", "<2", None, 2)]
    assert 'stroke-dasharray="4 3"' in ranked_bars("f", same)
    assert 'stroke-dasharray="4 3"' not in ranked_bars("f", mixed)


def test_the_legend_explains_only_signs_that_occur() -> None:
    said = texts(ranked_bars("f", [ResultBar("a", "5", 5, None)]))
    assert "detected" in said
    assert not {"reporting limit", "not detected, below its limit"} & set(said)


def test_rain_is_summed_and_bars_stand_in_proportion() -> None:
    rows = [WeatherRow(0, 0.0, None), WeatherRow(60, 1.0, None), WeatherRow(120, 4.0, None)]
    svg = exposure_weather("f", [], rows, 0, 120, ())
    heights = [float(bar.attrib["height"]) for bar in found(svg, "rect") if bar.attrib["fill"] == "#4f7fa3"]
    assert heights[1] / heights[0] == pytest.approx(4, rel=1e-3)
    assert "5 mm in total" in texts(svg)
    assert "no pressure on record" in texts(svg)


def test_a_missing_pressure_breaks_the_line() -> None:
    svg = exposure_weather("f", exposure_windows(3), weather_rows(), 0, 24 * DAY, TICKS)
    assert len(found(svg, "polyline")) == 2


def test_a_stay_out_of_plan_is_named_even_among_many() -> None:
    said = texts(exposure_weather("f", exposure_windows(57), weather_rows(), 0, 24 * DAY, TICKS))
    assert [words for words in said if words.startswith("SG-")] == ["SG-13"]
    assert "dashed: duration outside its limits" in " ".join(said)


def test_the_foot_counts_what_is_not_drawn_by_what_it_is() -> None:
    """Non-detects alone are called so; with detections among them both are counted."""

    def foot(hits: int, nondetects: int, most: int) -> str:
        items = [ResultBar(f"P-{at}", "9", 9.0, 1.0) for at in range(hits)]
        items += [ResultBar(f"N-{at}", "ND", None, 1.0) for at in range(nondetects)]
        return next((said for said in texts(ranked_bars("x", items, most=most)) if "not drawn" in said), "")

    assert foot(3, 10, 3) == "10 non-detects not drawn: see the table."
    assert foot(3, 1, 3) == "1 non-detect not drawn: see the table."
    assert foot(3, 1, 2) == "2 more not drawn (1 detected): see the table."
    assert foot(3, 1, 4) == ""
