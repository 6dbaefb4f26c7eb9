"""A work plan built whole: its site holds to the rules of access, its map opens, its archive proves itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import write
from planned_survey import planned
from pypdf import PdfReader
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select
from test_axe import axe, violations
from windows import Window, map_ready, text_of, unfold

from sitegen.archive import make
from sitegen.archive.make import Archived, archive
from sitegen.archive.verify import verify

pytestmark = pytest.mark.long
__all__ = ["axe"]


@pytest.fixture(scope="module")
def archived(tmp_path_factory: pytest.TempPathFactory) -> Archived:
    """Return the archive of the planned survey, which holds its site: built once, and once more to verify."""
    root = tmp_path_factory.mktemp("planned")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(make, "_built_twice", lambda *_: ("0" * 64, "0" * 64))
        return archive(write(planned(), root / "survey"), root / "archives")


@pytest.fixture
def window(browser: WebDriver, archived: Archived) -> Iterator[Window]:
    """Show the site of the work plan, and give the window back as it was."""
    yield Window(browser, archived.bag / "data/site")
    browser.switch_to.default_content()


def site(archived: Archived) -> Path:
    """Return where the site of the work plan lies."""
    return archived.bag / "data/site"


def test_the_archive_of_a_work_plan_proves_itself(archived: Archived) -> None:
    """Built anew from its own inputs, the work plan is the archived one, byte for byte."""
    verdict = verify(archived.bag)
    assert verdict.holds, verdict
    assert verdict.rebuilt is not None
    assert verdict.rebuilt > 60


def test_the_site_has_no_page_of_results(archived: Archived) -> None:
    """Pages of compounds, air, quality, custody and samplers are not written."""
    pages = {path.stem for path in site(archived).glob("*.html")}
    assert {"design", "locations", "programme", "cautions", "plan-samplers"} <= pages
    assert not pages & {"compounds", "air", "quality", "custody", "samplers", "relations", "claims", "defensibility"}


def test_the_printed_work_plan_says_what_it_is(archived: Archived) -> None:
    """The cover says work plan, and no chapter is about results."""
    pages = PdfReader(site(archived) / "downloads/report.pdf").pages
    assert "Work plan" in pages[0].extract_text()
    whole = "\n".join(one.extract_text() for one in pages)
    assert "Field programme" in whole
    assert "Results in soil gas" not in whole


@pytest.mark.parametrize("page", ["index.html", "locations/SS-1.html", "map/index.html"])
def test_pages_of_a_work_plan_have_no_violation(window: Window, axe: str, page: str) -> None:
    """No rule of axe is broken at 1280 px in light and at 360 px in dark colours."""
    unfold(window.open(page))
    found = violations(window, axe)
    assert found == [], "\n".join(found)


@pytest.mark.parametrize("width", [1280, 390])
def test_the_map_of_a_plan_tells_why_a_point_is_there(window: Window, width: int) -> None:
    """The list of points opens one; neither a compound nor a mass is told, and the chooser of compounds is gone."""
    driver = window.open("map/index.html", width)
    map_ready(driver)
    assert text_of(driver, "#summary") == "Planned points: 18 planned, no sampler on record."
    assert not driver.find_element(By.ID, "layer").is_displayed()
    Select(driver.find_element(By.ID, "place")).select_by_value("SG-12")
    told = text_of(driver, ".leaflet-popup-content", "along the sewer")
    assert "asphalt" in told
    assert "Mass" not in driver.find_element(By.TAG_NAME, "main").text
    assert [line for line in window.console() if "SEVERE" in line] == []
