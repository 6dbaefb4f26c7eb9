"""One small laboratory file with its mapping, read without the rest of a folder."""

from __future__ import annotations

from builders import row_of
from in_memory import folder_of
from lab_files import csv_bytes

from sitegen.findings.problems import Finding
from sitegen.project.delivery.mapping import Delivery, read_deliveries
from sitegen.project.tables import Analyte, LabSample

KNOWN = [
    row_of(Analyte, analyte_id="pce", name="Tetrachloroethene", cas="127-18-4", synonyms="PCE; perc"),
    row_of(Analyte, analyte_id="tce", name="Trichloroethene", cas="79-01-6"),
]
SAMPLES = [
    row_of(LabSample, lab_sample_id="L-1", sampler_id="0041"),
    row_of(LabSample, lab_sample_id="L-2", sampler_id="0042"),
]
COLUMNS = {"lab_sample_id": "s", "analyte_id": "c", "result_text": "r", "unit": "u"}


def simple(source: str = "", columns: dict[str, str] | None = None, rest: str = "", file: str = "lab/a.csv") -> str:
    """Return a mapping file for a small long table."""
    named = "\n".join(f'{ours} = "{theirs}"' for ours, theirs in (COLUMNS | (columns or {})).items() if theirs)
    units = "" if "[units]" in rest else "[units]\nng = 1\n"
    return f'[source]\nfile = "{file}"\nlayout = "long"\n{source}\n[columns]\n{named}\n{units}{rest}'


def deliver(content: bytes, mapping: str, file: str = "lab/a.csv") -> tuple[Delivery | None, list[Finding]]:
    """Read one laboratory file with its mapping; the note on a blank digest is left out."""
    folder = folder_of({file: content, "lab/a.map.toml": mapping.encode()})
    deliveries, _, findings, _ = read_deliveries(folder, {}, KNOWN, SAMPLES)
    told = [finding for finding in findings if finding.code != "deliverable-unsealed"]
    return (deliveries[0] if deliveries else None), told


def table(*lines: list[str], header: tuple[str, ...] = ("s", "c", "r", "u")) -> bytes:
    """Return a small CSV file."""
    return csv_bytes([list(header), *lines])


def results(delivery: Delivery | None) -> list[dict[str, str]]:
    """Return the mapped rows as dictionaries."""
    assert delivery is not None
    return [dict(zip(delivery.results.header, row, strict=True)) for row in delivery.results.rows]


def one(content: bytes, mapping: str, file: str = "lab/a.csv") -> dict[str, str]:
    """Return the only mapped row of a delivery without findings."""
    delivery, findings = deliver(content, mapping, file)
    assert findings == []
    (row,) = results(delivery)
    return row
