"""The page that checks an archive, opened from disk in a browser with the network cut."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from selenium.webdriver.chrome.webdriver import WebDriver
from selenium.webdriver.common.by import By
from windows import Window, text_of, wait_until

from sitegen.archive.words import check_page
from sitegen.render.place.bag import Label, close_bag

LONG = bytes(range(256)) * 1500
"""Longer than one block of SHA-256 by far, and of every byte."""
OWN_DIGEST = "Object.defineProperty(window, 'crypto', {value: undefined, configurable: true});"


@pytest.fixture
def bag(tmp_path: Path) -> Path:
    """Make a small bag with the page in it."""
    root = tmp_path / "bag"
    (root / "data/inner folder").mkdir(parents=True)
    (root / "data/inner folder/a.txt").write_bytes(b"one")
    (root / "data/empty.txt").write_bytes(b"")
    (root / "data/long.bin").write_bytes(LONG)
    (root / "data/padded.bin").write_bytes(bytes(55 + 64))
    (root / "verify.html").write_bytes(check_page())
    close_bag(root, [Label("Project", "KD")], date(2025, 12, 12))
    return root


def verdict(driver: WebDriver, bag: Path) -> tuple[str, list[str]]:
    """Choose the folder on the page and return what the page says."""
    driver.find_element(By.ID, "choose").send_keys(str(bag))
    wait_until(driver, "!document.getElementById('verdict').hidden && document.getElementById('bar').hidden")
    told = text_of(driver, "#verdict")
    faults = [item.text for item in driver.find_elements(By.CSS_SELECTOR, "#faults li")]
    return told, faults


@pytest.mark.parametrize("own", [False, True], ids=["browser's digest", "own digest"])
def test_the_page_confirms_and_names(browser: WebDriver, bag: Path, own: bool) -> None:
    """A whole bag is confirmed; a changed, a missing and an added file are named, asking no network."""
    window = Window(browser, bag)
    window.console()
    window.outside_requests()
    driver = window.open("verify.html")
    if own:
        driver.execute_script(OWN_DIGEST)
    assert driver.execute_script("return Boolean(window.crypto && window.crypto.subtle)") is not own
    assert verdict(driver, bag) == ("All listed files are unchanged", [])
    (bag / "data/long.bin").write_bytes(LONG[:-1] + b"\x00")
    (bag / "data/empty.txt").unlink()
    (bag / "data/added.txt").write_bytes(b"<b>new</b>")
    driver = window.open("verify.html")
    if own:
        driver.execute_script(OWN_DIGEST)
    said, faults = verdict(driver, bag)
    assert said == "Files are missing, changed or added"
    assert sorted(faults) == ["data/added.txt: added", "data/empty.txt: missing", "data/long.bin: changed"]
    assert window.console() == []
    assert window.outside_requests() == []


def test_the_page_takes_a_dropped_folder(browser: WebDriver, bag: Path) -> None:
    """Files read entry by entry, as a drop gives them, are found below the folder at every depth."""
    driver = Window(browser, bag).open("verify.html")
    found = driver.execute_async_script("""
        const done = arguments[0];
        const file = (name) => ({ name, isFile: true, file: (give) => give(new File(["x"], name)) });
        const folder = (name, batches) => ({
          name, isDirectory: true,
          createReader: () => { let at = 0; return { readEntries: (give) => give(batches[at++] || []) }; },
        });
        const inner = folder("data", [[file("a")], [file("b"), folder("c", [[file("d")]])]]);
        const files = new Map();
        droppedFiles(folder("bag", [[inner], [file("bagit.txt")]]), "", files).then(() => done([...files.keys()]));
    """)
    assert sorted(found) == ["bagit.txt", "data/a", "data/b", "data/c/d"]


def test_another_folder_is_told(browser: WebDriver, bag: Path, tmp_path: Path) -> None:
    """A folder that is no bag is said to be none."""
    other = tmp_path / "other"
    other.mkdir()
    (other / "x.txt").write_bytes(b"x")
    said, faults = verdict(Window(browser, bag).open("verify.html"), other)
    assert said == "Files are missing, changed or added"
    assert "choose the folder that contains this page" in faults[0]
