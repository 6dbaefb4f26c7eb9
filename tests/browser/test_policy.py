"""The second wall: what a page's policy refuses, and that no page of a report full of scripts runs any."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import changed, write
from hostile_texts import RUNNING, running
from render.sample_report import sample_files, sample_report
from selenium.webdriver.chrome.webdriver import WebDriver
from windows import Window, wait_until

from sitegen.pipeline import build
from sitegen.render.site.site import write_site

LISTEN = """
window.refused = [];
document.addEventListener("securitypolicyviolation", (event) => window.refused.push(event.effectiveDirective));
"""
PLANT = """
const holder = document.createElement("div");
holder.innerHTML = arguments[0];
document.body.append(holder);
for (const script of holder.querySelectorAll("script")) {
  const again = document.createElement("script");
  again.textContent = script.textContent;
  script.replaceWith(again);
}
"""

SHOWS = "return arguments[0].some((text) => document.body.textContent.includes(text))"


def asked(driver: WebDriver) -> dict[str, str]:
    """Return each request since the last look that is not for a file, with what blocked it before it was sent."""
    events = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    by_id = {
        event["params"]["requestId"]: event["params"]["request"]["url"]
        for event in events
        if event["method"] == "Network.requestWillBeSent"
    }
    blocked = {
        event["params"]["requestId"]: event["params"].get("blockedReason", "")
        for event in events
        if event["method"] == "Network.loadingFailed"
    }
    return {url: blocked.get(name, "") for name, url in by_id.items() if url.startswith("http")}


@pytest.fixture
def window(browser: WebDriver, tmp_path: Path) -> Iterator[Window]:
    """Open pages of a sample site, with a listener for what their policy refuses."""
    write_site(sample_report(), tmp_path / "out", sample_files())
    yield Window(browser, tmp_path / "out")
    browser.get_log("browser")


@pytest.mark.parametrize(
    ("words", "directive"),
    [
        ("<script>window.ran = 1</script>", "script-src-elem"),
        ("<img src='missing.png' onerror='window.ran = 1'>", "script-src-attr"),
        ("<iframe src='https://example.invalid/'></iframe>", "frame-src"),
        ("<img src='https://example.invalid/a.png'>", "img-src"),
        ("<object data='https://example.invalid/a'></object>", "object-src"),
        ("<link rel='stylesheet' href='https://example.invalid/a.css'>", "style-src-elem"),
    ],
)
def test_what_gets_into_a_page_is_refused_by_its_policy(window: Window, words: str, directive: str) -> None:
    """Were a text ever let through, it would neither run nor ask for anything; the browser reports the refusal."""
    driver = window.open("index.html")
    window.outside_requests()
    driver.execute_script(LISTEN)
    driver.execute_script(PLANT, words)
    wait_until(driver, "window.refused.includes(arguments[0])", directive)
    assert not driver.execute_script("return window.ran")
    assert set(asked(driver).values()) <= {"csp"}


@pytest.mark.long
def test_no_page_of_a_report_full_of_scripts_runs_one(browser: WebDriver, tmp_path: Path) -> None:
    """Every text column of every table holds texts that would run: every page is opened, none runs or is refused."""
    site = build(write(changed(*running()), tmp_path / "survey"), tmp_path / "out").out / "site"
    window = Window(browser, site)
    window.console()
    window.outside_requests()
    pages = sorted(path.relative_to(site).as_posix() for path in site.rglob("*.html"))
    assert len(pages) > 200
    ran, shown = [], 0
    for page in pages:
        driver = window.open(page)
        ran += [page] if driver.execute_script("return window.ran !== undefined") else []
        shown += driver.execute_script(
            "return arguments[0].some((text) => document.body.textContent.includes(text))", RUNNING
        )
        assert "Content-Security-Policy" in (site / page).read_text("utf-8")[:1500]
    assert ran == []
    assert shown > 100
    assert window.console() == []
    assert window.outside_requests() == []
