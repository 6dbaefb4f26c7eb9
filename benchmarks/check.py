"""Time ``check`` on a folder of at least 180,000 results: median of several runs, and peak memory.

    python benchmarks/check.py [--points 2515] [--runs 7]

Each run is a process of its own; its time is that of the call, without loading the program,
which is printed beside it. The folder is written by ``synthetic.py`` first.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from synthetic import write_folder

RUN = """
import gc, json, resource, sys, time
gc.set_threshold(200_000, 20, 100)  # as the command line does
start = time.perf_counter()
from pathlib import Path
from sitegen.checking import check
loaded = time.perf_counter()
checked = check(Path(sys.argv[1]))
done = time.perf_counter()
peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
rows = len(checked.survey.frame("results"))
print(json.dumps([loaded - start, done - loaded, peak_mb, rows, checked.stopped]))
"""


def main() -> None:
    """Write a folder, check it several times and print what it took."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--points", type=int, default=2515)
    ask.add_argument("--runs", type=int, default=7)
    told = ask.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = write_folder(told.points, Path(place) / "survey")
        runs = [_run(folder) for _ in range(told.runs)]
    loads, checks, peaks, rows, stopped = zip(*runs, strict=True)
    if any(stopped):
        raise SystemExit("the folder is stopped by findings: nothing behind them was timed")
    print(f"{rows[0]:,} results, {told.runs} runs: " + ", ".join(f"{s:.2f}" for s in checks) + " s")
    print(
        f"median {statistics.median(checks):.2f} s, loading {statistics.median(loads):.2f} s, peak {max(peaks):.0f} MB"
    )


def _run(folder: Path) -> tuple[float, float, float, int, bool]:
    ended = subprocess.run([sys.executable, "-c", RUN, str(folder)], capture_output=True, check=True, text=True)
    load, check, peak, rows, stopped = json.loads(ended.stdout)
    return load, check, peak, rows, stopped


if __name__ == "__main__":
    main()
