"""Revisions of a survey of a few points, each with one sampler, one laboratory sample and one compound or more."""

from __future__ import annotations

from collections.abc import Mapping

from builders import Row, changed, content
from builders import load as loaded
from journeys import folder

from sitegen.compute.evaluate import evaluate
from sitegen.compute.evidence.difference import Revision

COMPOUNDS: list[Row] = [
    {"analyte_id": "pce", "name": "Tetrachloroethene", "cas": "127-18-4", "map": "yes", "group": "chlorinated_ethenes"},
    {"analyte_id": "tce", "name": "Trichloroethene", "cas": "79-01-6", "map": "yes", "group": "chlorinated_ethenes"},
]


def tables_of(
    masses: Mapping[str, Mapping[str, str]],
    *,
    serial: str = "S-",
    number: str = "L-",
    day: str = "2025-06-02",
    **others: list[Row],
) -> dict[str, list[Row]]:
    """Return tables in which each point has a sampler placed on ``day``, and results as ``12``, ``12 J`` or ``<5``.

    Serials and laboratory numbers are the point's own behind ``serial`` and ``number``.
    """
    results = [_result(f"{number}{p}", name, text) for p, own in masses.items() for name, text in own.items()]
    made: dict[str, list[Row]] = {
        "locations": [
            {"location_id": p, "medium": "soil_gas", "status": "placed", "easting": f"{470000 + 10 * n}",
             "northing": "4770000"}
            for n, p in enumerate(masses)
        ],
        "samplers": [{"sampler_id": f"{serial}{p}", "kind": "sample"} for p in masses],
        "deployments": [
            {"sampler_id": f"{serial}{p}", "location_id": p, "placed_at": f"{day}T08:00"} for p in masses
        ],
        "analytes": COMPOUNDS,
        "lab_samples": [
            {"lab_sample_id": f"{number}{p}", "sampler_id": f"{serial}{p}", "type": "sample"} for p in masses
        ],
        "results": results,
    }  # fmt: skip
    return made | others


def _result(sample: str, analyte: str, text: str) -> Row:
    number, _, mark = text.partition(" ")
    missed = number.startswith("<")
    return {
        "lab_sample_id": sample, "analyte_id": analyte, "result_text": number, "value": "" if missed else number,
        "detected": "no" if missed else "yes", "unit": "ng", "rl": number[1:] if missed else "10",
        "lab_qualifier": mark or ("U" if missed else ""),
    }  # fmt: skip


def revision_of(tables: Mapping[str, list[Row]], **texts: str) -> Revision:
    """Return a revision of tables, with sections of the text."""
    sections = [content(f"text/{name}.md", text.encode()) for name, text in texts.items()]
    survey = loaded(changed(*sections, folder=folder(dict(tables))))
    return Revision(survey, evaluate(survey), (), "sitegen 1")
