"""The survey that invented laboratories report: samplers, compounds, and what each result was made as."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

COMPOUNDS = {
    "vc": ("Vinyl chloride", "75-01-4"),
    "cis12dce": ("cis-1,2-Dichloroethene", "156-59-2"),
    "tce": ("Trichloroethene", "79-01-6"),
    "pce": ("Tetrachloroethene", "127-18-4"),
    "benzene": ("Benzene", "71-43-2"),
    "toluene": ("Toluene", "108-88-3"),
}
SERIALS = [f"00471{number:02}" for number in range(1, 13)]
TRIP_BLANK = SERIALS[0]
START = datetime(2025, 11, 17, 7, 52)  # noqa: DTZ001 - a laboratory's wall clock

SAMPLERS_CSV = "sampler_id,label,kind,sampler_type,lot,prepared_on,shipment_id,outcome,note\n" + "".join(
    f"{serial},SG-{at:02},{'trip_blank' if serial == TRIP_BLANK else 'sample'},T1,L1,2025-10-17,SH-1,used,\n"
    for at, serial in enumerate(SERIALS)
)
ANALYTES_CSV = "analyte_id,name,cas,group,molar_mass_g_mol,map,order,synonyms,common_lab_contaminant\n" + "".join(
    f'{analyte},"{name}",{cas},other,100,yes,{at},,no\n' for at, (analyte, (name, cas)) in enumerate(COMPOUNDS.items())
)


class Truth(NamedTuple):
    """A result as it was made: numbers in ng, None for a non-detect's value."""

    sample: str
    analyte: str
    value: Decimal | None
    rl: Decimal | None
    qualifier: str


@dataclass(frozen=True)
class Laboratory:
    """A laboratory's file and the truth about it.

    ``fields`` gives, by sheet, every line that its mapping can have, ``answers`` what a person says to the lines
    that the draft asks for.
    """

    file: str
    content: bytes
    truth: frozenset[Truth]
    fields: dict[str, dict[str, object]]
    answers: dict[str, object] = field(default_factory=dict)
    samplers: dict[str, str] = field(default_factory=dict)
    qc: frozenset[tuple[str, str, str, float, float, float]] = frozenset()
    settings: str = ""
    analytes: str = ANALYTES_CSV


def lab_id(serial: str) -> str:
    """Return the laboratory's id of a sampler."""
    return f"L25-{100 + int(serial[-2:])}"


def analysed(serial: str) -> datetime:
    """Return when a sampler was analysed: over three days, in the afternoon too."""
    return START + timedelta(minutes=397 * (int(serial[-2:]) - 1))


def amount(serial: str, analyte: str) -> tuple[Decimal, Decimal, bool, str]:
    """Return number, limit, whether detected, and qualifier of a result."""
    seed = (int(serial) * 31 + sum(map(ord, analyte)) * 17) % 997
    limit = Decimal(5 if analyte in ("benzene", "toluene") else 2)
    if seed % 3 == 0 or serial == TRIP_BLANK:
        return limit, limit, False, "U"
    value = Decimal(seed * 7 % 4000 + 10) / (10 if seed % 2 else 1)
    return value, limit, True, "J" if seed % 5 == 0 else ""


def truths(
    sample: Callable[[str], str] = lab_id, *, limits: bool = True, marks: bool = True, mark_below: bool = True
) -> frozenset[Truth]:
    """Return the truth of all results, as a file tells it that has limits and qualifiers or lacks them."""
    made = set()
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        told = mark if marks and (found or mark_below) else ""
        made.add(Truth(sample(serial), analyte, value if found else None, limit if limits else None, told))
    return frozenset(made)


def every() -> list[tuple[str, str]]:
    """Return every sampler with every compound."""
    return [(serial, analyte) for serial in SERIALS for analyte in COMPOUNDS]


def plain(number: Decimal) -> str:
    """Write a number as most laboratories do."""
    return f"{number:f}"


def csv_of(rows: Iterable[Sequence[object]], delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    """Write rows as CSV."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return out.getvalue().encode(encoding)


def book_of(*sheets: tuple[str, list[list[Any]], list[str]]) -> bytes:
    """Write sheets (name, rows, merged ranges) as XLSX."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for name, rows, merged in sheets:
        sheet: Worksheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
        for range_ in merged:
            sheet.merge_cells(range_)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def words_of(sample: Callable[[str], str]) -> dict[str, object]:
    """Return the kind of each sample by its id, as a draft tells it where no column does."""
    return {f"lab_samples.words.{sample(s)}": "trip_blank" if s == TRIP_BLANK else "sample" for s in SERIALS}


def ties(sample: Callable[[str], str] = lab_id) -> dict[str, str]:
    """Return the sampler of each laboratory id."""
    return {sample(serial): serial for serial in SERIALS}


def comma(number: Decimal) -> str:
    """Write a number with a comma for decimals and points between thousands."""
    return f"{number:,f}".replace(",", "x").replace(".", ",").replace("x", ".")


def letters(number: int) -> str:
    """Return the letters of a spreadsheet column below ZZ."""
    first, second = divmod(number - 1, 26)
    return (chr(64 + first) if first else "") + chr(65 + second)
