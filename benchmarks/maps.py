"""Time the maps: sixty symbol maps for 200 points, and opening a web map of 2,000 × 60.

Run ``python benchmarks/maps.py`` from the repository; a Chromium with its driver is
needed for the second part. Exit code 1 where a budget is missed.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import quote

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from selenium import webdriver
from synthetic_figures import LABELS, ground, place_values
from synthetic_map import map_data, meta

from sitegen.figures.sitemap import symbol_map
from sitegen.render.map.webmap import map_files

PRINT_BUDGET_S, OPEN_BUDGET_S, SIZE_BUDGET_BYTES = 10.0, 2.0, 3_000_000


def print_maps() -> float:
    """Return the seconds taken by one ground of 200 points and sixty symbol maps on it."""
    start = time.perf_counter()
    site = ground(200)
    size = sum(len(symbol_map(f"c{k}", site, place_values(200, k), LABELS)) for k in range(60))
    taken = time.perf_counter() - start
    print(f"60 symbol maps of 200 points: {taken:.2f} s (budget {PRINT_BUDGET_S:g} s), {size / 60e3:.0f} kB each")
    return taken


def web_map(folder: Path) -> tuple[int, float | None]:
    """Write the web map of 2,000 points and 60 compounds; return its bytes and seconds to open it."""
    files = map_files(map_data(2000, 60), meta(), lambda name: f"../locations/{quote(name)}.html")
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    size = sum(len(content) for content in files.values())
    opened = _opened((folder / "map/index.html").as_uri())
    said = "no Chromium found" if opened is None else f"{opened:.2f} s (budget {OPEN_BUDGET_S:g} s)"
    print(f"web map of 2,000 × 60: {size / 1e6:.2f} MB (budget {SIZE_BUDGET_BYTES / 1e6:g} MB), opens in {said}")
    return size, opened


def _opened(address: str) -> float | None:
    """Return the median seconds from the request to the drawn map, over five openings."""
    program, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if program is None or driver is None:
        return None
    options = webdriver.ChromeOptions()
    options.binary_location = program
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--window-size=1280,900"):
        options.add_argument(argument)
    browser = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    drawn = "requestAnimationFrame(() => requestAnimationFrame(() => arguments[0](performance.now())))"
    try:
        times = []
        for _ in range(5):
            browser.get("about:blank")
            browser.get(address)
            times.append(float(browser.execute_async_script(drawn)) / 1000)
        return sorted(times)[2]
    finally:
        browser.quit()


def main() -> int:
    """Run both parts; return 1 where a budget is missed."""
    taken = print_maps()
    with tempfile.TemporaryDirectory() as folder:
        size, opened = web_map(Path(folder))
    slow = opened is not None and opened > OPEN_BUDGET_S
    return int(taken > PRINT_BUDGET_S or size > SIZE_BUDGET_BYTES or slow)


if __name__ == "__main__":
    raise SystemExit(main())
