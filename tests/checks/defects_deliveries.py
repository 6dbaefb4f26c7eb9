"""Single defects of a survey whose laboratory tables come in files of the laboratory's own."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "project"))

from builders import Change, content, removed, settings_added
from defects import Defect
from lab_files import csv_bytes, long_csv, rows
from whole_book import TABLES, whole_book

LONG, OTHER = "lab/long.csv", "lab/other.csv"
MAPPING, SAMPLES = "lab/long.map.toml", "lab/samples.map.toml"
CONTENT, WORDS = long_csv()
DRAFT = '[confirmed]\nmapping = "{mapping}"\ncontrol = "{control}"\n'
BOOK = dict(whole_book())
SEAL = f'[source]\nsha256 = "{hashlib.sha256(BOOK["lab/book.xlsx"]).hexdigest()}"'


def delivered(code: str, severity: str, file: str, row: int | None, mapping: str, *more: Change) -> Defect:
    """Return a defect of the example whose results come in ``lab/long.csv``, with this mapping."""
    seal = f'[source]\nsha256 = "{hashlib.sha256(CONTENT).hexdigest()}"'
    files = "\n".join(f'[files."{path}"]\ndelimiter = ";"' for path in (LONG, OTHER))
    changes = (
        removed("lab/results.csv"),
        settings_added(files),
        content(LONG, CONTENT),
        content(MAPPING, mapping.replace("[source]", seal, 1).encode()),
        *more,
    )
    return Defect(code, changes, ((code, severity, file, row),))


def supplied(code: str, severity: str, file: str, row: int | None, *change: str, more: Change | None = None) -> Defect:
    """Return a defect of the example whose laboratory tables come in one workbook, with one mapping changed."""
    maps = {path: text.decode().replace("[source]", SEAL, 1) for path, text in BOOK.items() if path.endswith(".toml")}
    for old, new in zip(change[::2], change[1::2], strict=True):
        assert old in maps[SAMPLES], old
        maps[SAMPLES] = maps[SAMPLES].replace(old, new)
    changes = (
        *map(removed, TABLES),
        content("lab/book.xlsx", BOOK["lab/book.xlsx"]),
        *(content(name, text.encode()) for name, text in maps.items()),
        *((more,) if more else ()),
    )
    return Defect(code, changes, ((code, severity, file, row),))


RECEIVED, DAY = ', lab_received_at = "lab_received_at"', 'lab_received_at = "2025-11-14"'
CONSTANT = 'tz = "America/Denver"'
SAMPLE = rows("lab/lab_samples.csv")[1]
OWN_SAMPLE = csv_bytes([list(SAMPLE), [*(SAMPLE | {"modification": "another"}).values()]])

DELIVERIES = (
    delivered("deliverable-reissued", "hold", OTHER, None, WORDS, content(OTHER, CONTENT)),
    delivered("mapping-unconfirmed", "stop", MAPPING, 30, WORDS + DRAFT.format(mapping="", control="LR-1")),
    delivered("control-unconfirmed", "hold", MAPPING, 30, WORDS + DRAFT.format(mapping="LR-1", control="")),
    delivered(
        "replaced-unreadable", "hold", MAPPING, 4, WORDS.replace("[source]", '[source]\nreplaces = "records/a.csv"')
    ),
    supplied("sample-kind-unmapped", "stop", "lab/book.xlsx", 39, 'TB = "trip_blank", ', ""),
    supplied("supplied-day-alone", "flag", "lab/book.xlsx", 4, RECEIVED, "", CONSTANT, f"{CONSTANT}, {DAY}"),
    supplied("supplied-differs", "flag", "lab/lab_samples.csv", 2, more=content("lab/lab_samples.csv", OWN_SAMPLE)),
)
