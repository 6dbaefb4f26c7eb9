"""The web map of several rounds in a browser: the chooser, what it shows, and what the address opens."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.keys import Keys
from synthetic_map import map_data, meta
from windows import Window, map_ready, press, tab_to, text_of, unfold, wait_for, wait_until

from sitegen.compute.rounds.factors import factor_labels
from sitegen.figures.changesigns import CHANGE_WORDS, SIGNS
from sitegen.render.map.webmap import map_files
from sitegen.report.record.maps import MapChange, MapChangeLayer, MapData, MapMark, MapPoint, MapView

HOSTILE = "<img src=x onerror=\"document.title='broken in'\">"
GONE = "OLD-01"
KINDS = list(CHANGE_WORDS)
Opener = Callable[..., WebDriver]
AXE = """
const [done] = arguments;
const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
axe.run(document, { runOnly: { type: "tag", values: tags }, resultTypes: ["violations"], iframes: false })
  .then((found) => done(found.violations.map(({ id, nodes }) => `${id}: ${nodes[0].html.slice(0, 160)}`)));
"""


def change_at(i: int, words: str = "") -> MapChange:
    """Return a change of each kind in turn."""
    kind = KINDS[i % len(KINDS)]
    marks = (MapMark("water", "First round: water was inside."),) if i == 4 else ()
    return MapChange(words or CHANGE_WORDS[kind], kind, i % 3, False, marks, ("First round: 25 J", "Second round: 100"))


def rounds(title: str = "First round", words: str = "", count: int = 57) -> MapData:
    """Return the made-up map with an earlier round, which has a point more and no third compound."""
    own = map_data(count)
    first = own.points[0]
    gone: MapPoint = first._replace(location_id=GONE, label=GONE, lat=first.lat + 2e-4, paged=False)
    last = own.points[-1]._replace(supplement="More points, placed 5 weeks later than its round")
    points = (*own.points, gone)
    layers = tuple(
        type(layer)(layer.id, layer.title, layer.unit, (*reversed(layer.values), layer.values[0]))
        for layer in own.layers[:2]
    )
    values = tuple(change_at(i, words) for i in range(len(points)))
    changes = (MapChangeLayer("c01", "Compound 01", "ng per sampler", values),)
    views = (
        MapView("R2", "round", "Second round", "Values of a round", reported=True),
        MapView("R1", "round", title, "Values of a round", points, layers),
        MapView("R1", "change", f"{title} to Second round", "What became of the masses", points, changes=changes),
    )
    return map_data(count, points=(*own.points[:-1], last), views=views, factor_labels=factor_labels())


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Iterator[Window]:
    """Show maps from a folder; a test ends without a console message or an outside request."""
    shown = Window(browser, tmp_path)
    shown.console()
    shown.outside_requests()
    yield shown
    own_readback = "getImageData"  # said of the tests' own look at the pixels
    assert [message for message in shown.console() if own_readback not in message] == []
    assert shown.outside_requests() == []


@pytest.fixture
def opened(window: Window) -> Opener:
    """Write a map and open it at an address part."""

    def open_map(data: MapData, at: str = "", width: int = 1280) -> WebDriver:
        for name, content in map_files(data, meta(), lambda i: f"../locations/{quote(i)}.html").items():
            path = window.root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        driver = window.open(f"map/index.html{at}", width, 800)
        map_ready(driver)
        return driver

    return open_map


def report(browser: WebDriver) -> dict[str, Any]:
    found = json.loads(browser.execute_script("return JSON.stringify(sitegenMap.report())"))
    assert isinstance(found, dict)
    return found


def address(browser: WebDriver) -> str:
    return browser.current_url.partition("#")[2]


def test_it_opens_at_the_round_that_is_reported(opened: Opener) -> None:
    """Nothing of an earlier round is on show, and the address names no round."""
    data = rounds()
    browser = opened(data)
    found = report(browser)
    assert (found["round"], found["points"], found["layer"]) == ("round=R2", 57, "c00")
    assert address(browser) == "c00"
    assert text_of(browser, "#summary").startswith("Second round. Compound 00: detected at")


def test_rounds_are_chosen_by_keyboard_and_the_compound_stays(opened: Opener) -> None:
    """Tab reaches the chooser first; its arrows lead through rounds and changes, and each says its name."""
    browser = opened(rounds(), "#c01/SG-07")
    tab_to(browser, "#round", 6)
    press(browser, Keys.ARROW_DOWN)
    wait_until(browser, "sitegenMap.report().round === 'round=R1'")
    found = report(browser)
    assert (found["layer"], found["selected"], found["points"]) == ("c01", "SG-07", 58)
    assert text_of(browser, "#summary").startswith("First round. Compound 01")
    press(browser, Keys.ARROW_DOWN)
    wait_until(browser, "sitegenMap.report().round === 'change=R1'")
    assert address(browser) == "c01/SG-07/change=R1"
    assert text_of(browser, "#summary").startswith("First round to Second round. Compound 01: of 56 soil points")
    assert browser.switch_to.active_element.get_attribute("id") == "round"
    press(browser, Keys.ARROW_UP, Keys.ARROW_UP)
    wait_until(browser, "sitegenMap.report().round === 'round=R2'")
    assert address(browser) == "c01/SG-07"


@pytest.mark.parametrize(
    ("at", "shown", "layer", "selected"),
    [
        ("#SG-07", "round=R2", "c00", "SG-07"),
        ("#round=R1", "round=R1", "c00", ""),
        ("#c01/SG-07/round=R1", "round=R1", "c01", "SG-07"),
        (f"#{GONE}/round=R1", "round=R1", "c00", GONE),
        ("#change=R1", "change=R1", "c01", ""),
        ("#c02/change=R1", "change=R1", "c01", ""),
        ("#c01/round=R9", "round=R2", "c01", ""),
        ("#round=R2/c01", "round=R2", "c01", ""),
        ("#%E0%A4%A/round=R1", "round=R1", "c00", ""),
    ],
)
def test_the_address_opens_a_round(opened: Opener, at: str, shown: str, layer: str, selected: str) -> None:
    """Round, compound and point may be named together; what is not known is left alone."""
    found = report(opened(rounds(), at))
    assert (found["round"], found["layer"], found["selected"]) == (shown, layer, selected)


def test_a_changed_address_leads_to_another_round_and_back(opened: Opener) -> None:
    """An address without a round is one of the round that is reported."""
    browser = opened(rounds(), "#c01/round=R1")
    browser.execute_script("location.hash = '#c01/change=R1'")
    wait_until(browser, "sitegenMap.report().round === 'change=R1'")
    browser.execute_script("location.hash = '#SG-05'")
    wait_until(browser, "sitegenMap.report().round === 'round=R2' && sitegenMap.report().selected === 'SG-05'")


def test_the_legend_of_a_change_counts_every_soil_point(opened: Opener) -> None:
    """Its kinds add up to the points without the two of air; the classes of mass and the surfaces are gone."""
    data = rounds()
    browser = opened(data, "#change=R1")
    view = data.views[2]
    soil = [
        value.kind
        for point, value in zip(view.points, view.changes[0].values, strict=True)
        if point.medium == "soil_gas"
    ]
    counts = report(browser)["counts"]
    assert counts["kinds"] == {kind: soil.count(kind) for kind in KINDS}
    assert counts["points"] == len(soil) == 56
    rows = [row.text for row in browser.find_elements("css selector", "#panel-body > .key:nth-of-type(1) li")]
    assert rows == [f"{words}\n{soil.count(kind)}" for kind, words in CHANGE_WORDS.items()]
    assert not browser.execute_script("return document.getElementById('panel').innerText.includes('Shape: surface')")
    browser.find_element("css selector", "#round option[value='0']").click()
    text_of(browser, "#panel", "Shape: surface at the point")


def test_what_opens_at_a_point_has_both_rounds_and_their_marks(opened: Opener) -> None:
    """The fifth point is within the spread, and its mark says of which round it is."""
    browser = opened(rounds(), "#SG-05/change=R1")
    assert text_of(browser, ".point .value") == CHANGE_WORDS["within"]
    text_of(browser, ".point", "First round: 25 J")
    text_of(browser, ".point", "Second round: 100")
    text_of(browser, ".point .marks", "First round: water was inside.")


def test_a_point_of_an_earlier_round_alone_has_no_link(opened: Opener) -> None:
    """The report has no page about it."""
    browser = opened(rounds(), f"#{GONE}/round=R1")
    text_of(browser, ".point h2", GONE)
    assert browser.find_elements("css selector", ".point a[href]") == []


def test_a_supplement_is_told_at_its_points_and_in_the_legend(opened: Opener) -> None:
    """One point of the reported round is a supplement's, and none of the first."""
    browser = opened(rounds(), "#SG-57")
    text_of(browser, ".point", "More points, placed 5 weeks later than its round")
    text_of(
        browser, "#supplement", "1 point of a supplement (More points, placed 5 weeks later than its round) is drawn"
    )
    browser.find_element("css selector", "#round option[value='2']").click()
    wait_until(browser, "document.getElementById('supplement').hidden")


def test_a_sign_is_painted_in_its_colour(opened: Opener) -> None:
    """The pixel at the middle of an arrow has the colour of its kind."""
    browser = opened(rounds(), "#change=R1")
    script = """
      const [id, done] = arguments;
      requestAnimationFrame(() => requestAnimationFrame(() => {
        const at = sitegenMap.report().pixel(id);
        const canvas = document.querySelector('.leaflet-overlay-pane canvas');
        const box = canvas.getBoundingClientRect();
        const ground = document.getElementById('map_sitegen').getBoundingClientRect();
        const scale = canvas.width / box.width;
        const x = (ground.left + at.x - box.left) * scale, y = (ground.top + at.y - box.top) * scale;
        done(Array.from(canvas.getContext('2d').getImageData(x, y, 1, 1).data).slice(0, 3));
      }));
    """
    for at, kind in ((0, "grew"), (1, "shrank")):
        fill = SIGNS[KINDS[at]].fill
        wanted = [int(fill[start : start + 2], 16) for start in (1, 3, 5)]
        assert KINDS[at] == kind
        assert browser.execute_async_script(script, f"SG-{at + 1:02d}") == wanted


def test_a_map_of_one_round_offers_no_rounds(opened: Opener) -> None:
    """No chooser, and no word of rounds in the sentence that is read out."""
    browser = opened(map_data())
    assert browser.find_elements("css selector", "#round") == []
    assert text_of(browser, "#summary").startswith("Compound 00: detected at")


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("at", ["", "#round=R1", "#SG-05/change=R1"])
def test_no_rule_of_access_is_broken(opened: Opener, window: Window, at: str, width: int) -> None:
    """Axe finds nothing, on a desk and on a phone, and no page is wider than its window."""
    browser = opened(rounds(), at, width)
    unfold(browser)
    browser.execute_script(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))
    assert window.console() == []
    assert browser.execute_async_script(AXE) == []
    window.console()  # axe asks for style sheets, which a file may not be asked for
    assert browser.execute_script("return document.documentElement.scrollWidth <= innerWidth")


def test_words_of_rounds_are_shown_and_never_run(opened: Opener) -> None:
    """A title and a change of markup stand as they are."""
    browser = opened(rounds(HOSTILE, HOSTILE), "#SG-05/change=R1")
    assert text_of(browser, ".point .value") == HOSTILE
    assert text_of(browser, "#summary").startswith(HOSTILE)
    shown = browser.find_element("css selector", "#round").find_elements("css selector", "option")
    assert [one.get_attribute("textContent") for one in shown][1] == HOSTILE
    wait_for(browser, lambda page: page.title, lambda title: title == "Map of Former Kesterly Depot")
    assert browser.find_elements("css selector", "img[src=x]") == []


def test_three_hundred_points_change_rounds_at_once(opened: Opener) -> None:
    """Every point of a large survey is drawn anew, and none is left from the round before."""
    browser = opened(rounds(count=300))
    for index, points in (("1", 301), ("2", 301), ("0", 300)):
        browser.find_element("css selector", f"#round option[value='{index}']").click()
        wait_until(browser, f"sitegenMap.report().points === {points}")
        assert len(browser.find_elements("css selector", "#place option")) == points + 1
