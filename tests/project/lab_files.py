"""Three laboratories' ways of laying out the example's results, with their mapping files.

The rows come from ``example_project/lab/results.csv`` and ``lab_qc.csv``; each builder
returns the laboratory's file and the mapping file that leads back to them.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from decimal import Decimal
from functools import cache
from itertools import count
from pathlib import Path

from openpyxl import Workbook

EXAMPLE = Path(__file__).parents[2] / "example_project"
THEIR_NAMES = {"pce": "PERC", "tce": "Trichlor", "vc": "Chloroethylene", "mxylene": "Xylene (meta)"}


def rows(path: str) -> list[dict[str, str]]:
    """Return the rows of one of the example's tables as text."""
    with (EXAMPLE / path).open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


RESULTS = rows("lab/results.csv")
QC = rows("lab/lab_qc.csv")
ANALYTES = {row["analyte_id"]: row for row in rows("lab/analytes.csv")}


def name_of(analyte: str) -> str:
    """Return the name under which the invented laboratory reports a compound."""
    return THEIR_NAMES.get(analyte, ANALYTES[analyte]["name"])


NAMES = "\n".join(f'"{theirs}" = "{ours}"' for ours, theirs in THEIR_NAMES.items())


def micro(text: str) -> str:
    """Return a number of ng as the laboratory's µg: every number of a text, over 1000."""
    sign = "<" if text.startswith("<") else ""
    bare = text.removeprefix("<")
    return text if bare in ("", "ND") else f"{sign}{Decimal(bare) / 1000:f}"


def csv_bytes(table: Iterable[Iterable[object]], delimiter: str = ",") -> bytes:
    """Write rows as CSV."""
    buffer = io.StringIO(newline="")
    csv.writer(buffer, delimiter=delimiter).writerows(table)
    return buffer.getvalue().encode("utf-8")


def xlsx_bytes(table: Iterable[Iterable[object]], title: str = "Data") -> bytes:
    """Write rows as the only sheet of an XLSX file."""
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = title
    for row in table:
        sheet.append(list(row))
    return saved(book)


def saved(book: Workbook) -> bytes:
    """Return a workbook as bytes."""
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


@cache
def long_csv() -> tuple[bytes, str]:
    """Lay out long: other names, µg, semicolons, an accepted spelling of columns, joined qualifiers."""
    table = [["Lab No.", "CAS No.", "Parameter", "Result", "Units", "Limit", "MDL", "Flag", "Cal. top"]]
    for row in RESULTS:
        analyte = row["analyte_id"]
        joined = f"{micro(row['result_text'])} J" if row["lab_qualifier"] == "J" else micro(row["result_text"])
        flag = "" if row["lab_qualifier"] == "J" else {"U": "nd"}.get(row["lab_qualifier"], row["lab_qualifier"])
        limits = [micro(row[name]) for name in ("rl", "mdl")]
        cas = ANALYTES[analyte]["cas"] if analyte != "tce" else ""
        top = micro(row["calibration_top"])
        table.append([row["lab_sample_id"], cas, name_of(analyte), joined, "ug/sampler", *limits, flag, top])
    mapping = f"""
[source]
file = "lab/long.csv"
layout = "long"
joined_qualifiers = true
[columns]
lab_sample_id = ["Lab ID", "Lab No."]
analyte_id = "Parameter"
cas = "CAS No."
result_text = "Result"
unit = "Units"
rl = ["RL", "Limit"]
mdl = "MDL"
lab_qualifier = "Flag"
calibration_top = "Cal. top"
[units]
"ug/sampler" = 1000
[nondetect]
tokens = ["ND"]
[names]
{NAMES}
[qualifiers]
nd = "U"
[control]
rows = {len(RESULTS)}
"""
    return csv_bytes(table, delimiter=";"), mapping


@cache
def crosstab_xlsx() -> tuple[bytes, str]:
    """Lay samples across, with a qualifier and three limit columns each; ids typed as text."""
    samples = list(dict.fromkeys(row["lab_sample_id"] for row in RESULTS))
    cells = {(row["lab_sample_id"], row["analyte_id"]): row for row in RESULTS}
    parts = {"lab_qualifier": " Q", "rl": " RL", "mdl": " MDL", "calibration_top": " top"}
    heads = [head for sample in samples for head in (sample, *(sample + end for end in parts.values()))]
    table: list[list[object]] = [["Example Laboratory (invented)"], [], ["Compound", "Group", *heads]]
    for analyte in ANALYTES:
        line: list[object] = [name_of(analyte), "x"]
        for sample in samples:
            row = cells.get((sample, analyte))
            found = row["result_text"] if row else ""
            line.append(float(found) if found.replace(".", "").isdigit() and found == f"{float(found):g}" else found)
            line += [(float(row[n]) if row[n][:1].isdigit() else row[n]) if row else "" for n in parts]
        table.append(line)
    suffixes = ", ".join(f'{ours} = "{end}"' for ours, end in parts.items())
    mapping = f"""
[source]
file = "lab/cross.xlsx"
layout = "crosstab"
header_row = 3
blank = "not_reported"
[columns]
analyte_id = "Compound"
[crosstab]
across = "samples"
ignore = ["Group"]
suffixes = {{ {suffixes} }}
[constants]
unit = "ng per sampler"
[units]
"ng per sampler" = 1
[nondetect]
tokens = ["ND"]
[names]
{NAMES}
"""
    return xlsx_bytes(table), mapping


@cache
def mixed_xlsx() -> tuple[bytes, str]:
    """Lay out long: title rows, a totals row, QC rows mixed in, a replaced run, percentages as numbers."""
    book = Workbook()
    sheet = book.worksheets[0]
    sheet.append(["Report 04417 (invented)"])
    sheet.append([])
    head = [
        "Sample",
        "Kind",
        "Substance",
        "CAS",
        "Found",
        "Unit",
        "RL",
        "MDL",
        "Q",
        "Top",
        "Low",
        "High",
        "Limits from",
        "Report?",
    ]
    sheet.append(head)
    numbers = count(4)

    def add(shown: str, **cells: object) -> None:
        sheet.append([cells.get(name.rstrip("?"), "") for name in head])
        sheet.cell(next(numbers), 5).number_format = shown

    for row in RESULTS:
        add(
            "0.0" if row["result_text"].endswith(".0") else "General",
            Sample=row["lab_sample_id"],
            Kind="Target",
            Substance=name_of(row["analyte_id"]),
            CAS=ANALYTES[row["analyte_id"]]["cas"],
            Found=_typed(row["result_text"]),
            Unit="ng",
            RL=_typed(row["rl"]),
            MDL=_typed(row["mdl"]),
            Q=row["lab_qualifier"],
            Top=_typed(row["calibration_top"]),
            Report="Y",
        )
    first = RESULTS[30]
    again = {"Sample": first["lab_sample_id"], "Substance": name_of(first["analyte_id"])}
    add("General", Kind="Target", Found=999999, Unit="ng", Report="N", **again)
    for row in QC:
        limits = {"Low": row["lower"], "High": row["upper"], "Limits from": row["limit_source"]}
        of = {"Sample": row["lab_sample_id"], "Kind": row["qc_type"].upper(), "Substance": row["name"]}
        add("0%", Found=float(row["value"]) / 100, **of, **limits)
    sheet.append(["Grand total", "", "", "", "=SUM(E4:E99)"])
    kinds = "\n".join(f'{kind.upper()} = "{kind}"' for kind in sorted({row["qc_type"] for row in QC}))
    detected = [row for row in RESULTS if row["detected"] == "yes"]
    mapping = f"""
[source]
file = "lab/mixed.xlsx"
layout = "long"
header_row = 3
skip_containing = ["Grand total"]
qc_column = "Kind"
[columns]
lab_sample_id = "Sample"
analyte_id = "Substance"
cas = "CAS"
result_text = "Found"
unit = "Unit"
rl = "RL"
mdl = "MDL"
lab_qualifier = "Q"
calibration_top = "Top"
lower = "Low"
upper = "High"
limit_source = "Limits from"
reportable = "Report?"
[units]
ng = 1
[nondetect]
tokens = ["ND"]
[names]
{NAMES}
[qc]
Target = "result"
{kinds}
[control]
rows = {len(RESULTS)}
detected_rows = {len(detected)}
sum_detected = {sum(Decimal(row["value"]) for row in detected)}
"""
    return saved(book), mapping


def _typed(text: str) -> float | str:
    return float(text) if text.replace(".", "").isdigit() else text
