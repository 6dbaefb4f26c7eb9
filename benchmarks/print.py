"""Time the printed report: a matrix annex of many points by many compounds, names of 48 characters.

Usage:
    python benchmarks/print.py [POINTS [COMPOUNDS]]

The targets on two quiet cores, for 1,000 points by 60 compounds: 15 s, 1.5 GB.
"""

from __future__ import annotations

import resource
import sys
import time

from sitegen.render.print.pdf import print_sources, typeset
from sitegen.report.record.pages import Bound, Cell, Chapter, Column, Mark, Meta, Table

CUSTODY = Mark("custody", "No holder is recorded for 130 min.")


def matrix(points: int, compounds: int) -> Table:
    """Return a table with about two thirds non-detects, and marks on a tenth of the detections."""
    columns = (
        Column("point", "Point"),
        *(
            Column(f"c{j}", f"1,1,2-Trichloro-1,2,2-trifluoroethane, mixed {j:03}", "ng", "number")
            for j in range(compounds)
        ),
    )
    rows = tuple((Cell(f"P-{i:04}"), *(cell(i, j) for j in range(compounds))) for i in range(points))
    return Table("matrix", "Every point by compound, ng per sampler.", columns, rows, landscape=True)


def cell(point: int, compound: int) -> Cell:
    """Return a made-up result, the same on every run."""
    number = (point * 7919 + compound * 104729) % 1000
    if number < 650:
        return Cell("<10", tone="nondetect", marks=(CUSTODY,) if point % 9 == 0 else ())
    blank = Mark("trip blank", f"Compound {compound} is in the trip blank of bag {point % 40}.")
    return Cell(f"{number * (number % 37) + 3:,}", marks=(blank,) if number % 10 == 0 else ())


def main() -> None:
    """Print what one report takes."""
    points, compounds = map(int, (sys.argv[1:] + ["1000", "60"][len(sys.argv) - 1 :])[:2])
    meta = Meta(
        "P-1", "Benchmark", "Invented site", "Nobody", "Nobody", 1, "draft", "2026-01-31", "0" * 64, "internal", "-"
    )
    chapter = Chapter(
        "matrix", "Results by point and compound", (matrix(points, compounds),), appendix=True, keyed=True
    )
    report = Bound(meta, (chapter,))
    began, cpu = time.perf_counter(), time.process_time()
    size = len(typeset(print_sources(report, {})))
    took, cpu = time.perf_counter() - began, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    print(f"{points} points x {compounds} compounds: {took:.1f} s, {cpu:.1f} s CPU, {peak:.2f} GiB, {size:,} bytes")


if __name__ == "__main__":
    main()
