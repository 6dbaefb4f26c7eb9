"""Small tools shared by the scripts that make the example survey.

Nothing here knows the survey: random streams that give the same figures on
every machine, the folder format's columns, CSV and PNG writing.
"""

from __future__ import annotations

import csv
import io
import struct
import zlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path

import numpy as np

SEED = 20251023
Row = dict[str, str]

COLUMNS: dict[str, str] = {
    "locations/locations.csv": (
        "location_id medium design rationale plan_easting plan_northing easting northing "
        "coordinate_method accuracy_m surface surface_thickness_in building status off_site "
        "public_label comment"
    ),
    "field/samplers.csv": ("sampler_id label kind sampler_type lot prepared_on shipment_id outcome note"),
    "field/deployments.csv": (
        "sampler_id location_id duplicate_of placed_at retrieved_at tz depth_ft "
        "hole_diameter_in hole_method sleeve closure refusal moved_ft soil_type moisture odour "
        "condition individually_bagged bag_id hole_restored placed_by retrieved_by scan_file "
        "scan_page comment"
    ),
    "field/return_bags.csv": ("bag_id trip_blank_id seal_applied sealed_at sealed_by count_declared shipment_id note"),
    "field/shipments.csv": (
        "shipment_id direction carrier_ref packed_at seal_outer items_declared received_at tz "
        "items_received seal_received seal_condition receipt_note chilled scan_file"
    ),
    "field/custody.csv": (
        "event_id subject_kind subject_id event at tz by_role organisation to_role signature "
        "seal_number seal_condition place scan_file comment"
    ),
    "field/clearance.csv": "ticket requested_at valid_from valid_to scope location_ids",
    "field/deviations.csv": ("deviation_id date plan_ref what why effect affected_ids agreed_by_role agreed_on"),
    "field/weather.csv": ("at rain_mm temperature_c pressure_hpa pressure_kind source station distance_km"),
    "field/photos.csv": "file location_id taken_at direction caption alt_text publish",
    "lab/analytes.csv": ("analyte_id name cas group molar_mass_g_mol map order synonyms common_lab_contaminant"),
    "lab/lab_samples.csv": (
        "lab_sample_id sampler_id type lab_received_at tz analysed_at batch_id method modification dilution reportable"
    ),
    "lab/results.csv": (
        "lab_sample_id analyte_id result_text value unit rl mdl lab_qualifier "
        "validation_qualifier validation_reason detected calibration_top"
    ),
    "lab/lab_qc.csv": "lab_sample_id qc_type name value unit lower upper limit_source",
    "reference/uptake_rates.csv": (
        "sampler_type analyte_id medium rate_ml_min temperature_c days_min days_max source_title source_date"
    ),
    "reference/screening_levels.csv": (
        "level_set analyte_id medium land_use value unit basis source_title edition_date "
        "retrieved_on attenuation_factor attenuation_source"
    ),
}
"""Header row of every table that the scripts write, in the folder format's order."""


def stream(*names: str) -> np.random.Generator:
    """Give the random stream that belongs to a name, and to that name only.

    A stream per name keeps one sampler's figures as they are when another
    sampler is added. Only ``Generator.random`` is ever drawn from it, whose
    bits PCG64 fixes; shaped distributions may change between numpy releases.

    >>> float(stream("a").random()) == float(stream("a").random())
    True
    """
    key = zlib.crc32("/".join(names).encode())
    return np.random.Generator(np.random.PCG64([SEED, key]))


def bell(rng: np.random.Generator) -> float:
    """Draw a nearly normal figure (mean 0, variance 1) as a sum of twelve uniforms.

    Additions only, so the last digit is the same on every machine.

    >>> -6.0 <= bell(stream("a")) <= 6.0
    True
    """
    return float(sum(rng.random(12).tolist())) - 6.0


def between(rng: np.random.Generator, low: int, high: int) -> int:
    """Draw a whole number from ``low`` to ``high``, both included.

    >>> 6 <= between(stream("a"), 6, 12) <= 12
    True
    """
    return low + int(float(rng.random()) * (high - low + 1))


def wall(text: str) -> datetime:
    """Read a local wall-clock time; it carries no zone, the folder's rows say which.

    >>> wall("2025-10-23T08:05").minute
    5
    """
    return datetime.fromisoformat(text)


def minute(at: datetime) -> str:
    """Write a local wall-clock time as the folder format wants it.

    >>> minute(wall("2025-10-23T08:05"))
    '2025-10-23T08:05'
    """
    return at.strftime("%Y-%m-%dT%H:%M")


def csv_text(columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> str:
    r"""Write rows as RFC 4180 text with LF line ends; a column without a value stays blank.

    Raises ``ValueError`` where a row carries a column that the header lacks.

    >>> csv_text(["a", "b"], [{"b": "x,y"}])
    'a,b\n,"x,y"\n'
    """
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, list(columns), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return buffer.getvalue()


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text with LF line ends, making the folders on the way."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode("utf-8"))


def write_table(folder: Path, name: str, rows: Iterable[Mapping[str, str]]) -> None:
    """Write one table of the folder format under its own name."""
    write_text(folder / name, csv_text(COLUMNS[name].split(), rows))


def png_bytes(shade: np.ndarray, palette: list[tuple[int, int, int]]) -> bytes:
    """Pack an image of palette numbers as a PNG of four bits a pixel.

    ``shade`` is (rows, columns) of whole numbers 0..15, an even number of
    columns. The pixels are stored, not compressed: compressors differ between
    machines, stored blocks do not (PNG, ISO/IEC 15948; stored blocks, RFC 1951
    section 3.2.4).

    >>> png_bytes(np.zeros((1, 2), dtype=np.uint8), [(0, 0, 0)])[1:4]
    b'PNG'
    """
    rows, columns = shade.shape
    pairs = (shade[:, 0::2].astype(np.uint8) << 4) | shade[:, 1::2].astype(np.uint8)
    raw = b"".join(b"\x00" + line.tobytes() for line in pairs)
    stored = struct.pack("<BHH", 1, len(raw), len(raw) ^ 0xFFFF) + raw
    data = b"\x78\x01" + stored + struct.pack(">I", zlib.adler32(raw))
    head = struct.pack(">IIBBBBB", columns, rows, 4, 3, 0, 0, 0)
    colours = bytes(part for colour in palette for part in colour)
    parts = ((b"IHDR", head), (b"PLTE", colours), (b"IDAT", data), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, body) for kind, body in parts)


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
