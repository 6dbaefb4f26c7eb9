"""Rounds of a few invented points, each a folder in memory that is loaded and evaluated as any other.

    a_round(At("P-1", pce="100", tce="<10"), At("P-2", pce="0.2 ug"))

A result is a detection (``100``), a non-detect (``<10``, its limit) or a detection and its limit (``6/10``), each with
a unit after it where it is not ng, and with ``R`` at the end where it is rejected. The limit is 10 where none is given.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from builders import Change, changed, load
from journeys import folder

from sitegen.compute.evaluate import Evaluation, evaluate

Row = dict[str, str]
CAS = {"pce": "127-18-4", "tce": "79-01-6", "benzene": "71-43-2", "vc": "75-01-4"}
EAST, NORTH = 470_000.0, 4_770_000.0


class At:
    """A sampler at a point: where the point lies (m from the corner of the site), when it stood there, its results."""

    def __init__(self, name: str, *, x: float = 0.0, y: float | None = 0.0, medium: str = "soil_gas", twin: str = "",
                 placed: str = "2025-06-02T08:00", taken: str = "2025-06-10T08:00", accuracy: str = "",
                 **results: str) -> None:  # fmt: skip
        self.name, self.x, self.y, self.medium, self.twin = name, x, y, medium, twin
        self.placed, self.taken, self.accuracy, self.results = placed, taken, accuracy, results

    def __hash__(self) -> int:
        return hash(repr(vars(self)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, At) and vars(self) == vars(other)

    @property
    def sampler(self) -> str:
        """Its serial."""
        return f"S-{self.name}{self.twin}"

    @property
    def place(self) -> Row:
        """The row of its point."""
        east, north = ("", "") if self.y is None else (f"{EAST + self.x:.3f}", f"{NORTH + self.y:.3f}")
        return {
            "location_id": self.name, "medium": self.medium, "status": "placed", "easting": east, "northing": north,
            "accuracy_m": self.accuracy,
        }  # fmt: skip

    @property
    def deployment(self) -> Row:
        """The row of its placing."""
        return {
            "sampler_id": self.sampler, "location_id": self.name, "placed_at": self.placed, "bag_id": "B-1",
            "retrieved_at": self.taken, "duplicate_of": f"S-{self.name}" if self.twin else "", "condition": "intact",
        }  # fmt: skip


def result(sample: str, compound: str, said: str) -> Row:
    """Return the row of a result as the module's head writes it."""
    words = said.split()
    rejected = words[-1] == "R"
    number, unit = words[0], words[1] if len(words) - rejected > 1 else "ng"
    value, _, limit = number.partition("/")
    row = {"lab_sample_id": sample, "analyte_id": compound, "result_text": number, "unit": unit}
    row |= {"validation_qualifier": "R"} if rejected else {}
    if number.startswith("<"):
        return row | {"detected": "no", "rl": number[1:], "lab_qualifier": "U"}
    return row | {"detected": "yes", "value": value, "rl": limit or "10"}


def compounds(ats: Iterable[At], cas: dict[str, str]) -> list[Row]:
    """Return the list of compounds: those with results, and those with a CAS number of their own."""
    names = dict.fromkeys([*(name for at in ats for name in at.results), *cas])
    return [{"analyte_id": n, "name": n, "cas": (CAS | cas).get(n, ""), "map": "yes"} for n in names]


@cache
def a_round(*ats: At, changes: tuple[Change, ...] = (), cas: tuple[tuple[str, str], ...] = (),
            trip_blank: tuple[tuple[str, str], ...] = ()) -> Evaluation:  # fmt: skip
    """Return what a round with these samplers supports; ``trip_blank`` holds the results of its bag's blank."""
    samples = [(f"L-{at.sampler}", at.sampler, "sample") for at in ats]
    results = [result(f"L-{at.sampler}", name, said) for at in ats for name, said in at.results.items()]
    if trip_blank:
        samples.append(("L-TB", "TB", "trip_blank"))
        results += [result("L-TB", name, said) for name, said in trip_blank]
    tables = {
        "locations": list({at.name: at.place for at in ats}.values()),
        "samplers": [
            *({"sampler_id": at.sampler, "kind": "field_duplicate" if at.twin else "sample"} for at in ats),
            *([{"sampler_id": "TB", "kind": "trip_blank"}] if trip_blank else []),
        ],
        "deployments": [at.deployment for at in ats],
        "return_bags": [{"bag_id": "B-1", "trip_blank_id": "TB" if trip_blank else ""}],
        "analytes": compounds(ats, dict(cas)),
        "lab_samples": [{"lab_sample_id": a, "sampler_id": b, "type": c} for a, b, c in samples],
        "results": results,
    }
    return evaluate(load(changed(*changes, folder=folder(tables))))
