"""Every kind of page holds to WCAG 2.2 AA and to good practice, as axe-core sees it.

Each page is opened once; its width and colours are then changed in place. All rules run
at desktop width in light colours and at phone width in dark ones; what depends on the
colours alone runs in the two other pairs as well.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from windows import Window, map_ready, unfold

from sitegen.pipeline import Built

TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
COLOUR_RULES = ("color-contrast", "link-in-text-block")
Mode = tuple[int, str, tuple[str, ...]]
EVERYWHERE: tuple[Mode, ...] = ((1280, "light", ()), (360, "dark", ()))
"""Width, colours, and the rules to run (all of TAGS where there are none), on every kind of page."""
CROSSED: tuple[Mode, ...] = ((1280, "dark", COLOUR_RULES), (360, "light", COLOUR_RULES))
"""The other two of the four, where only colours can differ, on the pages with every kind of block."""
CROSSED_PAGES = (
    "index.html", "air.html", "compounds/pce.html", "locations/SG-37.html", "findings.html", "heat.html",
    "custody.html", "quality.html", "map/index.html",
)  # fmt: skip

OF_MANY = {
    "bags": "RB-1",
    "compounds": "pce",
    "locations": "SG-37",
    "samplers": "0047102",
    "shipments": "SH-R1",
    "sources": "04417-054",
}
"""The one page that stands for its kind, where a folder holds many."""
RUN = """
const [rules, tags, done] = arguments;
const runOnly = rules.length ? { type: "rule", values: rules } : { type: "tag", values: tags };
axe.run(document, { runOnly, resultTypes: ["violations"], iframes: false }).then(
  (found) => done(found.violations.map(({ id, nodes }) =>
    `${id}: ${nodes.length} x ${nodes[0].html.slice(0, 160)} | ${nodes[0].failureSummary.slice(0, 300)}`)),
  (error) => done([String(error)]),
);
"""


def page_types(root: Path) -> list[str]:
    """Return one page of every kind: each page at the root, one of each folder, the map alone."""
    single = sorted(path.name for path in root.glob("*.html"))
    folders = sorted(path.name for path in root.iterdir() if path.is_dir() and any(path.glob("*.html")))
    return single + [f"{name}/{'index' if name == 'map' else OF_MANY[name]}.html" for name in folders]


@pytest.fixture(scope="module")
def axe() -> str:
    """Return the text of axe-core."""
    return files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")


@pytest.fixture
def window(browser: WebDriver, built: Built) -> Iterator[Window]:
    """Show the example's site, and give the window back as it was."""
    yield Window(browser, built.out / "site")
    browser.switch_to.default_content()


def violations(window: Window, axe: str, modes: tuple[Mode, ...] = EVERYWHERE) -> list[str]:
    """Return what axe finds in the document on show, in each mode."""
    found = []
    window.driver.execute_script(axe)
    for width, colours, rules in modes:
        window.shape(width, 900, colours)
        told = window.driver.execute_async_script(RUN, list(rules), list(TAGS))
        found += [f"{width} {colours} {violation}" for violation in told]
    return found


@pytest.mark.long
def test_every_kind_of_page_has_no_violation(window: Window, axe: str) -> None:
    """No rule is broken on any kind of page, at 1280 px in light and at 360 px in dark colours."""
    pages = page_types(window.root)
    assert len(pages) > 30
    assert all((window.root / page).is_file() for page in pages)
    found = []
    for page in pages:
        driver = window.open(page)
        unfold(driver)
        found += [f"{page} {violation}" for violation in violations(window, axe)]
    assert found == [], "\n".join(found)


@pytest.mark.parametrize(
    "page", [pytest.param(page, marks=() if page == "index.html" else pytest.mark.long) for page in CROSSED_PAGES]
)
def test_pages_with_every_kind_of_block_have_no_violation(window: Window, axe: str, page: str) -> None:
    """No rule is broken in the two modes of every page, and none of colours in the two others."""
    unfold(window.open(page))
    found = violations(window, axe, (*EVERYWHERE, *CROSSED))
    assert found == [], "\n".join(found)


def test_the_map_in_its_frame_has_no_violation(window: Window, axe: str) -> None:
    """The map keeps the rules at the size of its frame too."""
    driver = window.open("map.html")
    frame = driver.find_element(By.CSS_SELECTOR, ".map-frame iframe")
    driver.execute_script("arguments[0].scrollIntoView()", frame)
    driver.switch_to.frame(frame)
    map_ready(driver)
    found = violations(window, axe)
    assert found == [], "\n".join(found)


def test_axe_sees_what_is_broken(window: Window, axe: str) -> None:
    """A field without a label and pale words are told: the tests above can fail."""
    driver = window.open("index.html")
    broken = "<h1>A</h1><input><p style='color:#ddd;background:#fff'>pale</p>"
    driver.execute_script("document.querySelector('article').innerHTML = arguments[0]", broken)
    told = " ".join(violations(window, axe))
    assert "label:" in told
    assert "color-contrast:" in told
