"""Drawings on the pages: readable on a phone, moved by keyboard, marks legible on dark cells."""

from __future__ import annotations

import re

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from windows import Window

from sitegen.pipeline import Built

PAGES = ("compounds/pce.html", "patterns.html", "field.html", "quality.html")


@pytest.fixture
def window(browser: WebDriver, built: Built) -> Window:
    return Window(browser, built.out / "site")


@pytest.mark.parametrize("page", PAGES)
def test_words_in_full_width_drawings_stay_readable_on_a_phone(window: Window, page: str) -> None:
    """At 390 px the smallest text of a drawing keeps 7 px or more, and the page itself never scrolls sideways."""
    driver = window.open(page, 390, 844)
    smallest = driver.execute_script(
        "return Math.min(...[...document.querySelectorAll('.drawing-full .paper svg text')]"
        ".map((t) => { const m = t.getScreenCTM();"
        " return parseFloat(getComputedStyle(t).fontSize) * Math.hypot(m.a, m.b); }))"
    )
    assert smallest >= 7
    assert driver.execute_script("return document.documentElement.scrollWidth") <= 390


def test_a_drawing_is_a_tab_stop_only_where_it_is_wider_than_its_box(window: Window) -> None:
    count = "return document.querySelectorAll('.paper[tabindex=\"0\"][role=region][aria-label]').length"
    assert window.open("compounds/pce.html", 1280).execute_script(count) == 0
    assert window.open("compounds/pce.html", 390, 844).execute_script(count) >= 1


def test_a_drawing_that_goes_on_beyond_its_box_says_so(window: Window) -> None:
    """On a phone a hint stands above a drawing that can be moved; a window that shows it whole has none."""
    count = "return [...document.querySelectorAll('.drawing-hint')].filter((hint) => hint.offsetHeight).length"
    assert window.open("compounds/pce.html", 1280).execute_script(count) == 0
    assert window.open("compounds/pce.html", 390, 844).execute_script(count) == 2


def luminance(colour: str) -> float:
    """Return relative luminance (WCAG 2.2)."""
    parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
    r, g, b = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_marks_in_the_heat_table_can_be_read_on_every_shade(window: Window, colours: str) -> None:
    driver = window.open("heat.html", colours=colours)
    found = driver.execute_script(
        "return [...document.querySelectorAll('td[class*=tone-class] .mark')].map((m) => {"
        "const s = getComputedStyle(m); return [s.color, s.backgroundColor]; })"
    )
    assert len(found) > 20
    for ink, ground in set(map(tuple, found)):
        light, dark = sorted((luminance(ink), luminance(ground)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5
