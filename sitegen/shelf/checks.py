"""What is on record of checks of archives: a table beside the page, ``verified.csv``.

A day is written only where a person gives it: the page and the table depend on no clock. A row stands for
an archive by its seal, so that what was changed or written anew since counts as not checked.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import NamedTuple

from sitegen.archive.verify import verify
from sitegen.findings.problems import WrongUse, no_formula, usable
from sitegen.project import limits
from sitegen.shelf.records import Kept

FILE = "verified.csv"
HEADER = ("archive", "seal_sha512", "verified_on", "result", "files", "first_fault")
WHOLE, NOT_WHOLE = "whole", "not whole"
_SEAL = re.compile(r"[0-9a-f]{128}")
_FAULT_CHARS = 300


class Check(NamedTuple):
    """A check of an archive: its path from the page, its seal, the day, what it came to, and files read."""

    archive: str
    seal: str
    day: str
    result: str
    files: int
    fault: str = ""


def read_checks(beside: Path) -> tuple[Check, ...]:
    """Return the rows of the table beside a page, none where there is none. Raises WrongUse where it can't be read."""
    file = beside / FILE
    with usable(file):
        if not file.exists():
            return ()
        with file.open("rb") as stream:
            content = stream.read(limits.RECORD_BYTES.value + 1)
    try:
        return _rows(content)
    except (ValueError, csv.Error) as error:
        raise WrongUse(f"{file} can't be read ({error}); correct or remove it") from error


def _rows(content: bytes) -> tuple[Check, ...]:
    if len(content) > limits.RECORD_BYTES.value:
        raise ValueError(f"it has more than {limits.RECORD_BYTES.value:,} bytes")
    head, *rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), strict=True)) or [[]]
    if tuple(head) != HEADER:
        raise ValueError("its columns differ from those that this command writes")
    return tuple(_row(row) for row in rows if row)


def _row(cells: list[str]) -> Check:
    if len(cells) != len(HEADER):
        raise ValueError(f"a row has {len(cells)} cells")
    archive, seal, day, result, files, fault = map(_written, cells)
    if not _SEAL.fullmatch(seal) or result not in (WHOLE, NOT_WHOLE) or not re.fullmatch(r"[0-9]{1,9}", files):
        raise ValueError(f"a row of {archive[:_FAULT_CHARS]!a} differs from what this command writes")
    return Check(archive, seal, date.fromisoformat(day).isoformat(), result, int(files), fault)


def _written(cell: str) -> str:
    """Return a cell as it was before it was kept from running as a formula."""
    return cell[1:] if cell[:1] == "'" and no_formula(cell[1:]) == cell else cell


def check_one(kept: Kept, path: Path, day: date) -> Check:
    """Compare every file of an archive with its digests, and say what that came to on a day; nothing is built anew."""
    verdict = verify(path, rebuild=False)
    fault = next(iter(verdict.faults), None)
    said = f"{fault.path}: {fault.said}"[:_FAULT_CHARS] if fault else ""
    result = WHOLE if verdict.holds else NOT_WHOLE
    return Check(kept.name, kept.seal, day.isoformat(), result, verdict.files, said)


def checks_csv(checks: Iterable[Check]) -> bytes:
    """Return the table, each archive's rows by their days; a row that is there twice stands once."""
    target = io.StringIO(newline="")
    writer = csv.writer(target, lineterminator="\n")
    writer.writerow(HEADER)
    for one in sorted(set(checks), key=lambda one: (one.archive, one.day, one)):
        writer.writerow([no_formula(str(cell)) for cell in one])
    return target.getvalue().encode()


def last_checks(checks: Iterable[Check]) -> Mapping[tuple[str, str], Check]:
    """Return the last check of each archive with its seal; of two on one day, the worse.

    The path counts too: a folder and a zip file of the same content have one seal and are two copies.
    """
    in_time = sorted(checks, key=lambda one: (one.day, one.result == NOT_WHOLE))
    return {(one.archive, one.seal): one for one in in_time}
