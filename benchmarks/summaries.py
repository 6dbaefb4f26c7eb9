"""Time the summaries, relations and detectors on 1,000 locations × 60 compounds.

    python benchmarks/summaries.py [LOCATIONS] [COMPOUNDS]

The store is made up from named random streams; nothing is read or written. The budget
is 3 s for 1,000 × 60 on two cores.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from sitegen.compute.limits import DEFAULTS
from sitegen.compute.marks import Marks
from sitegen.compute.place.points import Point
from sitegen.compute.quality.locallow import local_lows, unit_slips
from sitegen.compute.results.relate import MOST_CORRELATED
from sitegen.compute.results.relations import ethenes, fuels
from sitegen.compute.results.summary import summaries
from sitegen.compute.results.totals import detected_sums, soil_sum
from sitegen.compute.statistics.rank import correlations
from sitegen.project.schema import Origin

NONE: frozenset[tuple[str, str]] = frozenset()
FIRST = ("127-18-4", "79-01-6", "156-59-2", "75-01-4", "156-60-5", "75-35-4", "71-43-2", "108-88-3", "95-47-6")


def made_up(locations: int, compounds: int) -> tuple[pd.DataFrame, tuple[Point, ...]]:
    """Return a store of primary results, and points on a grid of 10 m."""
    rng = np.random.default_rng(20_250_711)
    count = locations * compounds
    points = np.repeat([f"SG-{i:04d}" for i in range(locations)], compounds)
    limits = rng.choice([2.0, 10.0, 25.0], count)
    values = rng.lognormal(2.0, 2.0, count)
    detected = values >= limits
    store = pd.DataFrame(
        {
            "location_id": points,
            "lab_sample_id": points,
            "sampler_id": points,
            "analyte_id": np.tile([f"c{j:02d}" for j in range(compounds)], locations),
            "unit": "ng",
            "value": np.where(detected, values, np.nan),
            "detected": detected,
            "rl": limits,
            "lod": limits,
            "rejected": False,
            "lab_qualifier": np.where(rng.random(count) < 0.1, "J", ""),
            "validation_qualifier": "",
            "medium": "soil_gas",
            "surface": np.repeat(rng.choice(["soil", "asphalt"], locations), compounds),
            "_file": "lab/results.csv",
            "_row": np.arange(2, count + 2),
        }
    )
    side = int(np.ceil(np.sqrt(locations)))
    return store, tuple(_point(i, 10.0 * (i % side), 10.0 * (i // side)) for i in range(locations))


def _point(number: int, x: float, y: float) -> Point:
    name = f"SG-{number:04d}"
    return Point(name, "soil_gas", "soil", x, y, 0.0, 0.0, None, False, Origin("locations.csv", number + 2))


def main(locations: int = 1000, compounds: int = 60) -> None:
    """Print the seconds that each step takes, and their sum."""
    store, points = made_up(locations, compounds)
    names = [f"c{j:02d}" for j in range(compounds)]
    cas = dict(zip(names, FIRST, strict=False))
    molar = dict.fromkeys(names, 100.0)
    in_force = {record.name: record for record in DEFAULTS}
    steps: dict[str, Callable[[], object]] = {
        "summaries": lambda: summaries(store, NONE, names),
        "relations": lambda: (ethenes(store, cas, molar), fuels(store, cas)),
        "correlations": lambda: correlations(store, names[:MOST_CORRELATED]),
        "local lows": lambda: local_lows(store, points, Marks({}, {}), in_force),
        "unit slips": lambda: unit_slips(store, points, in_force),
        "sums": lambda: (detected_sums(store, NONE), soil_sum(store, NONE)),
        "summaries with means": lambda: summaries(store, NONE, names, with_means=True),
    }
    spent = {}
    for name, step in steps.items():
        start = time.perf_counter()
        step()
        spent[name] = time.perf_counter() - start
        print(f"{name:22} {spent[name]:6.2f} s")
    print(f"{'all but means':22} {sum(spent.values()) - spent['summaries with means']:6.2f} s")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:3]))
