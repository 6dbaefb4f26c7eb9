"""Time how long a change takes from the disk to the screen in a preview.

    python benchmarks/preview.py [FOLDER ...] [--points 1000] [--times 10] [--served]

Each folder (the example where none is named) is copied, and ``python -m sitegen preview`` shows the copy as
a user has it. A sentence is added to ``text/summary.md``, and time runs until Chromium shows it on the first page,
which is open there; with ``--served``, or without a browser, until the server gives it. Then a title is changed
in ``project.toml``, for which the whole is made anew. Between two changes the preview comes to rest.
Prints a Markdown table, with the machine and its load; wall seconds, for that is what a person waits.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from run import machine
from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from synthetic import write_folder

EXAMPLE = Path(__file__).resolve().parent.parent / "example_project"
PATIENCE_S = 900.0
LOOK_S = 0.01
Read = Callable[[], str]


def wait(read: Read, holds: Callable[[str], bool]) -> float:
    """Return the seconds until what is read holds."""
    start = time.perf_counter()
    while not holds(read()):
        if time.perf_counter() - start > PATIENCE_S:
            raise SystemExit(f"not so after {PATIENCE_S:.0f} s")
        time.sleep(LOOK_S)
    return time.perf_counter() - start


@contextmanager
def previewed(folder: Path) -> Iterator[tuple[str, int]]:
    """Start the command on a folder; yield the address and the number of the process."""
    command = [sys.executable, "-u", "-m", "sitegen", "preview", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            said = process.stdout.readline() if process.stdout else ""
            yield said.split()[-1], process.pid
        finally:
            process.terminate()


@contextmanager
def screen(url: str, *, served: bool) -> Iterator[Read]:
    """Yield how to read the first page: in a browser that has it open, or from the server."""
    program, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if served or not (program and driver):
        yield lambda: urllib.request.urlopen(url, timeout=PATIENCE_S).read().decode()  # noqa: S310 - our own server
        return
    options = webdriver.ChromeOptions()
    options.binary_location = program
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"):
        options.add_argument(argument)
    started = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    started.get(url)

    def text() -> str:
        try:
            return str(started.execute_script("return document.title + document.body.innerText"))
        except WebDriverException:
            return ""  # between two pages

    try:
        yield text
    finally:
        started.quit()


def at_rest(words: str) -> bool:
    """Tell whether a page says that nothing more is being made."""
    return "Preview, not a report" in words and "Updating" not in words and "being built" not in words


def one_folder(source: Path, times: int, *, served: bool) -> list[str]:
    """Return the row of a folder: medians and extremes of both kinds of change, and the memory of the preview."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "survey"
        shutil.copytree(source, folder)
        with previewed(folder) as (url, process), screen(url, served=served) as read:
            first = wait(read, at_rest)
            sentences = [_sentence(folder, number, read) for number in range(times)]
            titles = [_title(folder, number, read) for number in range(max(1, times // 5))]
            memory = re.search(r"VmHWM:\s+(\d+)", Path(f"/proc/{process}/status").read_text())
    peak = f"{int(memory[1]) / 1024:,.0f}" if memory else ""
    return [f"{first:.1f}", _told(sentences), _told(titles), peak]


def _sentence(folder: Path, number: int, read: Read) -> float:
    text = folder / "text/summary.md"
    words = f"This sentence has the number {number}."
    text.write_text(f"{text.read_text('utf-8')}\n\n{words}\n", "utf-8")
    took = wait(read, lambda said: words in said)
    wait(read, at_rest)
    return took


def _title(folder: Path, number: int, read: Read) -> float:
    settings = folder / "project.toml"
    text = settings.read_text("utf-8")
    settings.write_text(re.sub(r'^title = "(?:Title \d+: )?', f'title = "Title {number}: ', text, flags=re.MULTILINE))
    took = wait(read, lambda said: f"Title {number}: " in said)
    wait(read, at_rest)
    return took


def _told(seconds: list[float]) -> str:
    return f"{statistics.median(seconds):.2f} ({min(seconds):.2f} to {max(seconds):.2f}, {len(seconds)} times)"


def main() -> None:
    """Time each folder and print the table."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("folders", type=Path, nargs="*", default=[EXAMPLE])
    ask.add_argument("--points", type=int, nargs="*", default=[], help="also invented surveys of so many points × 60")
    ask.add_argument("--times", type=int, default=10, help="how many sentences")
    ask.add_argument("--served", action="store_true", help="until the server gives it, without a browser")
    told = ask.parse_args()
    print("| folder | first pages, s | a sentence, s | a title, whole made anew, s | peak memory, MB |")
    print("| --- | ---: | ---: | ---: | ---: |")
    with tempfile.TemporaryDirectory() as place:
        made = [write_folder(points, Path(place) / f"{points} points × 60") for points in told.points]
        for folder in (*told.folders, *made):
            name = f"{folder.name} (load {os.getloadavg()[0]:.1f})"
            print(f"| {name} | {' | '.join(one_folder(folder, told.times, served=told.served))} |", flush=True)
    print(f"\n{machine()}")


if __name__ == "__main__":
    main()
