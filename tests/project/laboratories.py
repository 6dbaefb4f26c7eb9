"""Invented laboratories, each with a layout of its own, and what their files say by construction.

    laboratory = LABORATORIES["long"]()
    laboratory.content, laboratory.truth, laboratory.fields

All of them report the same twelve samplers and six compounds in their own way.
"""

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


def long() -> Laboratory:
    """Lay out long, with the trade's words and dates month first."""
    head = ["Lab Sample ID", "Client Sample ID", "Sample Type", "Analyte", "CAS No.", "Result", "Qual", "RL", "Units"]
    head += ["Dilution", "Date Analyzed", "Analysis Batch", "Method", "Matrix"]
    rows: list[list[object]] = [head]
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        text = plain(value) if found else f"<{plain(limit)}"
        day = analysed(serial).strftime("%m/%d/%Y %H:%M")
        kind = "TB" if serial == TRIP_BLANK else "SA"
        rows.append(
            [
                lab_id(serial),
                serial,
                kind,
                *COMPOUNDS[analyte],
                text,
                mark,
                plain(limit),
                "ng",
                1,
                day,
                "B1",
                "EL-07",
                "air",
            ]
        )
    fields: dict[str, object] = {
        "source.header_row": 1, "source.layout": "long", "source.dates": "month/day/year hour:minute",
        "columns.lab_sample_id": "Lab Sample ID", "columns.analyte_id": "Analyte", "columns.cas": "CAS No.",
        "columns.result_text": "Result", "columns.lab_qualifier": "Qual", "columns.rl": "RL", "columns.unit": "Units",
        "units.ng": 1, "lab_samples.columns.sampler_id": "Client Sample ID", "lab_samples.columns.type": "Sample Type",
        "lab_samples.words.TB": "trip_blank", "lab_samples.words.SA": "sample",
        "lab_samples.columns.dilution": "Dilution", "lab_samples.columns.analysed_at": "Date Analyzed",
        "lab_samples.columns.batch_id": "Analysis Batch", "lab_samples.columns.method": "Method",
    }  # fmt: skip
    return Laboratory("lab/long.csv", csv_of(rows), truths(), {"": fields}, samplers=ties())


def units_in_header() -> Laboratory:
    """Lay out long with the unit in the heading; the serial is the only id, ND the only non-detect."""
    rows: list[list[object]] = [["Sampler", "Compound", "Mass (ng)", "LOQ (ng)", "Flag"]]
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        flag = mark if found else ""
        rows.append([serial, COMPOUNDS[analyte][0], plain(value) if found else "ND", plain(limit), flag])
    own: Callable[[str], str] = lambda serial: serial  # noqa: E731
    fields = {
        "source.header_row": 1, "source.layout": "long", "columns.lab_sample_id": "Sampler",
        "columns.analyte_id": "Compound", "columns.result_text": "Mass (ng)", "columns.rl": "LOQ (ng)",
        "columns.lab_qualifier": "Flag", "constants.unit": "ng", "units.ng": 1, "nondetect.tokens": ["ND"],
        "lab_samples.columns.sampler_id": "Sampler", "lab_samples.columns.type": "Sampler", **words_of(own),
    }  # fmt: skip
    return Laboratory("lab/header.csv", csv_of(rows), truths(own, mark_below=False), {"": fields}, samplers=ties(own))


def comma(number: Decimal) -> str:
    """Write a number with a comma for decimals and points between thousands."""
    return f"{number:,f}".replace(",", "x").replace(".", ",").replace("x", ".")


def semicolons() -> Laboratory:
    """Lay out long in German, cp1252 with semicolons and decimal commas, in µg."""
    rows: list[list[object]] = [
        ["Prüfbericht 25-0417 (erfunden)"],
        [],
        ["Labornummer", "Sammler-Nr.", "Stoff", "CAS-Nr.", "Messwert", "Einheit", "BG", "Kennung", "Analysiert am"],
    ]
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        text = comma(value / 1000) if found else "n.n."
        day = analysed(serial).strftime("%d.%m.%Y %H:%M")
        unit, cas = "µg/Sammler", COMPOUNDS[analyte][1]
        rows.append([lab_id(serial), serial, COMPOUNDS[analyte][0], cas, text, unit, comma(limit / 1000), mark, day])
    fields = {
        "source.header_row": 3, "source.layout": "long", "source.decimal": ",",
        "source.dates": "day.month.year hour:minute", "columns.lab_sample_id": "Labornummer",
        "columns.analyte_id": "Stoff", "columns.cas": "CAS-Nr.", "columns.result_text": "Messwert",
        "columns.unit": "Einheit", "columns.rl": "BG", "columns.lab_qualifier": "Kennung", "units.µg/Sammler": 1000,
        "nondetect.tokens": ["n.n."], "lab_samples.columns.sampler_id": "Sammler-Nr.",
        "lab_samples.columns.type": "Labornummer", "lab_samples.columns.analysed_at": "Analysiert am",
        **words_of(lab_id),
    }  # fmt: skip
    settings = '[files."lab/semicolons.csv"]\nencoding = "cp1252"\ndelimiter = ";"\n'
    content = csv_of(rows, ";", "cp1252")
    return Laboratory("lab/semicolons.csv", content, truths(), {"": fields}, samplers=ties(), settings=settings)


def merged() -> Laboratory:
    """Lay samples across under merged cells: the sampler above, the laboratory's id, then Result and Q."""
    above: list[Any] = ["", ""]
    ids: list[Any] = ["Compound", "CAS No."]
    last: list[Any] = ["", ""]
    above[0] = "Client Sample ID"
    ranges = ["A5:A6", "B5:B6"]
    for at, serial in enumerate(SERIALS):
        above += [serial, ""]
        ids += [lab_id(serial), ""]
        last += ["Result", "Q"]
        ranges += [f"{letters(3 + 2 * at)}{row}:{letters(4 + 2 * at)}{row}" for row in (4, 5)]
    rows: list[list[Any]] = [["Example Laboratory (invented)"], ["Units: ng/sampler"], [""], above, ids, last]
    for analyte, (name, cas) in COMPOUNDS.items():
        line: list[Any] = [name, cas]
        for serial in SERIALS:
            value, limit, found, mark = amount(serial, analyte)
            line += [float(value) if found else f"<{plain(limit)}", mark]
        rows.append(line)
    fields = {
        "source.sheet": "Report", "source.header_row": [5, 6], "source.layout": "crosstab",
        "columns.analyte_id": "Compound", "columns.cas": "CAS No.", "crosstab.across": "samples",
        "crosstab.suffixes.result_text": " / Result", "crosstab.suffixes.lab_qualifier": " / Q",
        "constants.unit": "ng/sampler", "units.ng/sampler": 1, "lab_samples.rows.sampler_id": 4,
        "lab_samples.rows.type": 5, **words_of(lab_id),
    }  # fmt: skip
    content = book_of(("Report", rows, ranges))
    # The limit of a detection does not stand in this file.
    truth = frozenset(one if one.value is None else one._replace(rl=None) for one in truths())
    return Laboratory("lab/merged.xlsx", content, truth, {"Report": fields}, samplers=ties())


def letters(number: int) -> str:
    """Return the letters of a spreadsheet column below ZZ."""
    first, second = divmod(number - 1, 26)
    return (chr(64 + first) if first else "") + chr(65 + second)


def compounds_across() -> Laboratory:
    """Lay samples down and compounds across, CAS numbers above and limits in a row below the header."""
    names = [name for name, _ in COMPOUNDS.values()]
    rows: list[list[object]] = [
        ["All results in ng per sampler"],
        ["CAS No.", "", *(cas for _, cas in COMPOUNDS.values())],
        ["Lab ID", "Sampler", *names],
        ["RL", "", *(plain(amount(SERIALS[0], analyte)[1]) for analyte in COMPOUNDS)],
    ]
    for serial in SERIALS:
        cells = (amount(serial, analyte) for analyte in COMPOUNDS)
        rows.append([lab_id(serial), serial, *(plain(value) if found else "ND" for value, _, found, _ in cells)])
    fields = {
        "source.header_row": 3, "source.layout": "crosstab", "columns.lab_sample_id": "Lab ID",
        "crosstab.across": "analytes", "crosstab.rows.rl": 4, "crosstab.rows.cas": 2,
        "constants.unit": "ng per sampler", "units.ng per sampler": 1, "nondetect.tokens": ["ND"],
        "lab_samples.columns.sampler_id": "Sampler", "lab_samples.columns.type": "Lab ID", **words_of(lab_id),
    }  # fmt: skip
    return Laboratory("lab/across.csv", csv_of(rows), truths(marks=False), {"": fields}, samplers=ties())


def suffixed() -> Laboratory:
    """Lay samples across, a qualifier and a limit beside each; the headings are the serials."""
    head = ["Parameter", "CAS Number", "Unit"]
    for serial in SERIALS:
        head += [serial, f"{serial} Q", f"{serial} RL"]
    rows: list[list[Any]] = [["Results (invented)"], [], head]
    for analyte, (name, cas) in COMPOUNDS.items():
        line: list[Any] = [name, cas, "ug"]
        for serial in SERIALS:
            value, limit, found, mark = amount(serial, analyte)
            line += [plain(value / 1000) if found else "ND", mark, plain(limit / 1000)]
        rows.append(line)
    own: Callable[[str], str] = lambda serial: serial  # noqa: E731
    fields = {
        "source.sheet": "Data", "source.header_row": 3, "source.layout": "crosstab", "columns.analyte_id": "Parameter",
        "columns.cas": "CAS Number", "columns.unit": "Unit", "crosstab.across": "samples",
        "crosstab.suffixes.lab_qualifier": " Q", "crosstab.suffixes.rl": " RL", "units.ug": 1000,
        "nondetect.tokens": ["ND"], "lab_samples.rows.sampler_id": 3, "lab_samples.rows.type": 3, **words_of(own),
    }  # fmt: skip
    content = book_of(("Data", rows, []))
    return Laboratory("lab/suffixed.xlsx", content, truths(own), {"Data": fields}, samplers=ties(own))


def mixed() -> Laboratory:
    """Lay out long with surrogates, a control sample and a method blank among the results."""
    head = [
        "Lab ID",
        "Field ID",
        "Sample Type",
        "Result Type",
        "Analyte",
        "CAS",
        "Result",
        "Units",
        "RL",
        "Q",
        "Limits",
    ]
    rows: list[list[Any]] = [head]
    qc = set()
    for number, serial in enumerate(SERIALS):
        kind = "TB" if serial == TRIP_BLANK else "N"
        for analyte, (name, cas) in COMPOUNDS.items():
            value, limit, found, mark = amount(serial, analyte)
            text = float(value) if found else f"<{plain(limit)}"
            rows.append([lab_id(serial), serial, kind, "TRG", name, cas, text, "ng", float(limit), mark, ""])
        rows.append([lab_id(serial), serial, kind, "SUR", "Toluene-d8", "", 90 + number, "%", "", "", "70-130"])
        qc.add((lab_id(serial), "surrogate", "Toluene-d8", float(90 + number), 70.0, 130.0))
    for name, cas in COMPOUNDS.values():
        rows.append(["MB-1", "", "MB", "TRG", name, cas, "<2", "ng", 2, "U", ""])
    truth = set(truths()) | {Truth("MB-1", analyte, None, Decimal(2), "U") for analyte in COMPOUNDS}
    fields = {
        "source.sheet": "EDD", "source.header_row": 1, "source.layout": "long", "source.qc_column": "Result Type",
        "qc.TRG": "result", "qc.SUR": "surrogate", "columns.lab_sample_id": "Lab ID", "columns.analyte_id": "Analyte",
        "columns.cas": "CAS", "columns.result_text": "Result", "columns.unit": "Units", "columns.rl": "RL",
        "columns.lab_qualifier": "Q", "columns.lower": "Limits", "columns.upper": "Limits", "units.ng": 1,
        "lab_samples.columns.sampler_id": "Field ID", "lab_samples.columns.type": "Sample Type",
        "lab_samples.words.TB": "trip_blank", "lab_samples.words.N": "sample", "lab_samples.words.MB": "method_blank",
    }  # fmt: skip
    content = book_of(("EDD", rows, []))
    return Laboratory("lab/mixed.xlsx", content, frozenset(truth), {"EDD": fields}, samplers=ties(), qc=frozenset(qc))


def two_sheets() -> Laboratory:
    """Put surrogate recoveries on a sheet of their own, with both limits in one cell."""
    results: list[list[Any]] = [
        ["Lab ID", "Client ID", "Compound", "CAS No.", "Result", "Unit", "Reporting Limit", "Qual"]
    ]
    surrogates: list[list[Any]] = [["Lab ID", "Surrogate", "% Recovery", "Limits"]]
    surrogates[0][1] = "Compound"
    qc = set()
    for number, serial in enumerate(SERIALS):
        for analyte, (name, cas) in COMPOUNDS.items():
            value, limit, found, mark = amount(serial, analyte)
            results.append([lab_id(serial), serial, name, cas, plain(value), "ng", plain(limit), mark])
        surrogates.append([lab_id(serial), "Toluene-d8", 85 + number, "70-130"])
        qc.add((lab_id(serial), "surrogate", "Toluene-d8", float(85 + number), 70.0, 130.0))
    fields = {
        "source.sheet": "Results", "source.header_row": 1, "source.layout": "long", "columns.lab_sample_id": "Lab ID",
        "columns.analyte_id": "Compound", "columns.cas": "CAS No.", "columns.result_text": "Result",
        "columns.unit": "Unit", "columns.rl": "Reporting Limit", "columns.lab_qualifier": "Qual", "units.ng": 1,
        "lab_samples.columns.sampler_id": "Client ID", "lab_samples.columns.type": "Lab ID", **words_of(lab_id),
    }  # fmt: skip
    of_qc = {
        "source.sheet": "Surrogates", "source.header_row": 1, "source.layout": "long", "source.holds": "qc",
        "constants.qc_type": "surrogate", "constants.unit": "%", "columns.lab_sample_id": "Lab ID",
        "columns.analyte_id": "Compound", "columns.result_text": "% Recovery", "columns.lower": "Limits",
        "columns.upper": "Limits",
    }  # fmt: skip
    content = book_of(("Results", results, []), ("Surrogates", surrogates, []))
    sheets: dict[str, dict[str, object]] = {"Results": fields, "Surrogates": of_qc}
    return Laboratory("lab/sheets.xlsx", content, truths(), sheets, samplers=ties(), qc=frozenset(qc))


def pages() -> Laboratory:
    """Print long pages: a preamble, a header on each, a line with the page's number, notes at the end."""
    head: list[object] = ["Sample ID", "Serial No.", "Compound", "CAS No.", "Result", "Units", "PQL", "Flag"]
    rows: list[list[object]] = [["Report 0417 (invented)"], ["Method: EL-07 (invented)"], [], head]
    for at, (serial, analyte) in enumerate(every()):
        if at and at % 20 == 0:
            rows += [[f"Page {at // 20} of 4"], head]
        value, limit, found, mark = amount(serial, analyte)
        text = plain(value) if found else f"< {plain(limit)}"
        rows.append([lab_id(serial), serial, *COMPOUNDS[analyte], text, "ng", plain(limit), mark])
    rows += [[], ["Notes: U means not detected; results in ng"], ["Approved by LR-9 (invented)"]]
    fields = {
        "source.header_row": 4, "source.layout": "long", "source.repeated_header": True,
        "source.end_containing": ["Notes: U means not detected; results in ng"], "source.skip_containing": ["Page"],
        "columns.lab_sample_id": "Sample ID", "columns.analyte_id": "Compound", "columns.cas": "CAS No.",
        "columns.result_text": "Result", "columns.unit": "Units", "columns.rl": "PQL", "columns.lab_qualifier": "Flag",
        "units.ng": 1, "lab_samples.columns.sampler_id": "Serial No.", "lab_samples.columns.type": "Sample ID",
        "lab_samples.constants.method": "EL-07 (invented)", **words_of(lab_id),
    }  # fmt: skip
    return Laboratory("lab/pages.csv", csv_of(rows), truths(), {"": fields}, samplers=ties())


def numbers_as_ids() -> Laboratory:
    """Keep serials as numbers, so that they lost their zeros, and times as a spreadsheet's own."""
    rows: list[list[Any]] = [
        [
            "Laboratory ID",
            "Serial Number",
            "Analyte",
            "CAS No.",
            "Result",
            "Units",
            "RL",
            "MDL",
            "Qualifier",
            "Analyzed",
        ]
    ]
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        cells = [float(value) if found else "ND", "ng/sample", float(limit), float(limit / 2), mark]
        rows.append([lab_id(serial), int(serial), *COMPOUNDS[analyte], *cells, analysed(serial)])
    fields = {
        "source.sheet": "Sheet1", "source.header_row": 1, "source.layout": "long",
        "columns.lab_sample_id": "Laboratory ID", "columns.analyte_id": "Analyte", "columns.cas": "CAS No.",
        "columns.result_text": "Result", "columns.unit": "Units", "columns.rl": "RL", "columns.mdl": "MDL",
        "columns.lab_qualifier": "Qualifier", "units.ng/sample": 1, "nondetect.tokens": ["ND"],
        "lab_samples.columns.sampler_id": "Serial Number", "lab_samples.serial_digits": 7,
        "lab_samples.columns.type": "Laboratory ID", "lab_samples.columns.analysed_at": "Analyzed", **words_of(lab_id),
    }  # fmt: skip
    content = book_of(("Sheet1", rows, []))
    return Laboratory("lab/numbers.xlsx", content, truths(), {"Sheet1": fields}, samplers=ties())


def joined() -> Laboratory:
    """Write the qualifier behind the number, and a limit with its sign before it; other names of compounds."""
    theirs = {"pce": "PCE", "tce": "TCE", "vc": "Chloroethene"}
    rows: list[list[object]] = [["Lab No", "Tube ID", "Target Compound", "Final Result", "UOM"]]
    for serial, analyte in every():
        value, limit, found, mark = amount(serial, analyte)
        text = f"{plain(value)} {mark}".strip() if found else f"<{plain(limit)} U"
        rows.append([lab_id(serial), serial, theirs.get(analyte, COMPOUNDS[analyte][0]), text, "ng/tube"])
    fields = {
        "source.header_row": 1, "source.layout": "long", "source.joined_qualifiers": True,
        "columns.lab_sample_id": "Lab No", "columns.analyte_id": "Target Compound", "columns.result_text": "Final Result",
        "columns.unit": "UOM", "units.ng/tube": 1, "names.PCE": "pce", "names.TCE": "tce", "names.Chloroethene": "vc",
        "lab_samples.columns.sampler_id": "Tube ID", "lab_samples.columns.type": "Lab No", **words_of(lab_id),
    }  # fmt: skip
    truth = frozenset(one if one.value is None else one._replace(rl=None) for one in truths())
    return Laboratory("lab/joined.csv", csv_of(rows), truth, {"": fields}, samplers=ties())


def labelled_rows() -> Laboratory:
    """Lay samples across below rows that each begin with what they hold."""

    def line(label: str, cell: Callable[[str], object]) -> list[Any]:
        return [label, *(cell(serial) for serial in SERIALS)]

    rows: list[list[Any]] = [
        ["Example Laboratory (invented)"],
        line("Client ID", str),
        line("Lab ID", lab_id),
        line("Matrix", lambda _: "sorbent"),
        line("Units", lambda _: "ng"),
        line("Dilution Factor", lambda _: 1),
        line("Date Analyzed", lambda serial: analysed(serial).strftime("%d-%b-%Y %H:%M")),
    ]
    for analyte, (name, _) in COMPOUNDS.items():
        cells = {serial: amount(serial, analyte) for serial in SERIALS}
        rows.append(
            line(name, lambda s, cells=cells: plain(cells[s][0]) if cells[s][2] else f"ND<{plain(cells[s][1])}")
        )
    fields = {
        "source.header_row": 3, "source.layout": "crosstab", "source.skip_rows": [4],
        "source.dates": "day-monthname-year hour:minute", "columns.analyte_id": "Lab ID", "crosstab.across": "samples",
        "crosstab.rows.unit": 5, "units.ng": 1, "nondetect.less_than_prefix": ["ND<"], "lab_samples.rows.sampler_id": 2,
        "lab_samples.rows.dilution": 6, "lab_samples.rows.analysed_at": 7, "lab_samples.rows.type": 3,
        **words_of(lab_id),
    }  # fmt: skip
    truth = frozenset(one if one.value is None else one._replace(rl=None) for one in truths(marks=False))
    return Laboratory("lab/labelled.csv", csv_of(rows), truth, {"": fields}, samplers=ties())


def unclear() -> Laboratory:
    """Leave open what a person must say: 1,234, dates below the 13th, a dash, a qualifier of the laboratory's own."""
    numbers = {serial: 1_000 + 37 * at for at, serial in enumerate(SERIALS)}
    rows: list[list[object]] = [
        ["Lab ID", "Sampler ID", "Compound", "CAS No.", "Result", "Units", "Qual", "Date Analyzed"]
    ]
    truth = set()
    for at, (serial, number) in enumerate(numbers.items()):
        for analyte, (name, cas) in COMPOUNDS.items():
            dash = at == 3 and analyte == "vc"
            mark = "D" if at == 5 else ""
            text = "-" if dash else f"{number:,}"
            rows.append([lab_id(serial), serial, name, cas, text, "ng", mark, f"{at % 12 + 1:02}/11/2025 08:0{at % 9}"])
            truth.add(Truth(lab_id(serial), analyte, None if dash else Decimal(number), None, ""))
    fields = {
        "source.header_row": 1, "source.layout": "long", "source.decimal": ".", "source.thousands": ",",
        "source.dates": "month/day/year hour:minute", "columns.lab_sample_id": "Lab ID", "columns.analyte_id": "Compound",
        "columns.cas": "CAS No.", "columns.result_text": "Result", "columns.unit": "Units",
        "columns.lab_qualifier": "Qual", "units.ng": 1, "nondetect.tokens": ["-"], "qualifiers.D": "",
        "lab_samples.columns.sampler_id": "Sampler ID", "lab_samples.columns.type": "Lab ID",
        "lab_samples.columns.analysed_at": "Date Analyzed", **words_of(lab_id),
    }  # fmt: skip
    answers = {
        "source.decimal": ".", "source.thousands": ",", "source.dates": "month/day/year hour:minute",
        "nondetect.tokens": ["-"], "qualifiers.D": "",
    }  # fmt: skip
    return Laboratory("lab/unclear.csv", csv_of(rows), frozenset(truth), {"": fields}, answers, samplers=ties())


def continued() -> Laboratory:
    """Lay out long below two lines of a CSV, whose merged cells came out blank."""
    rows: list[list[object]] = [
        ["Client", "Laboratory", "", "", "Final", "", "Reporting", ""],
        ["Sample ID", "Sample ID", "Compound", "CAS No.", "Result", "Units", "Limit", "Qualifier"],
    ]
    for serial, analyte in every():
        value, limit, _, mark = amount(serial, analyte)
        rows.append([serial, lab_id(serial), *COMPOUNDS[analyte], plain(value), "ng", plain(limit), mark])
    fields = {
        "source.header_row": [1, 2], "source.layout": "long", "columns.lab_sample_id": "Laboratory / Sample ID",
        "columns.analyte_id": "Compound", "columns.cas": "CAS No.", "columns.result_text": "Final / Result",
        "columns.unit": "Units", "columns.rl": "Reporting / Limit", "columns.lab_qualifier": "Qualifier", "units.ng": 1,
        "lab_samples.columns.sampler_id": "Client / Sample ID",
        "lab_samples.columns.type": "Laboratory / Sample ID", **words_of(lab_id),
    }  # fmt: skip
    return Laboratory("lab/lines.csv", csv_of(rows), truths(), {"": fields}, samplers=ties())


LABORATORIES: dict[str, Callable[[], Laboratory]] = {
    made.__name__: made
    for made in (
        long, units_in_header, semicolons, merged, compounds_across, suffixed, mixed, two_sheets, pages, numbers_as_ids,
        joined, labelled_rows, unclear, continued,
    )
}  # fmt: skip
