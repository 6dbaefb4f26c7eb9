"""The example's four laboratory tables as one invented workbook that supplies all of them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from lab_files import ANALYTES, QC, RESULTS, rows, saved
from openpyxl import Workbook

LAB_SAMPLES = rows("lab/lab_samples.csv")
TABLES = ("lab/results.csv", "lab/lab_samples.csv", "lab/analytes.csv", "lab/lab_qc.csv")
THEIR_TYPES = {"sample": "Air", "trip_blank": "TB", "method_blank": "MB"}
_SAMPLES = (
    "sampler_id",
    "lab_received_at",
    "analysed_at",
    "batch_id",
    "method",
    "modification",
    "dilution",
    "reportable",
)
_COMPOUNDS = ("cas", "group", "molar_mass_g_mol", "map", "order", "synonyms", "common_lab_contaminant")
_RESULTS = ("result_text", "unit", "rl", "mdl", "lab_qualifier", "calibration_top")
_QC = ("qc_type", "name", "value", "unit", "lower", "upper", "limit_source")


def day_first(time: str) -> str:
    """Write a time as the invented laboratory does: day.month.year hour:minute."""
    day, _, clock = time.partition("T")
    return ".".join(reversed(day.split("-"))) + f" {clock}" if time else ""


@cache
def whole_book() -> Mapping[str, bytes]:
    """Return a workbook of four sheets with a mapping file for each."""
    book = Workbook()
    book.remove(book.worksheets[0])
    lines = [
        [s["lab_sample_id"], THEIR_TYPES.get(s["type"], s["type"]), *(_cell(s, n) for n in _SAMPLES)]
        for s in LAB_SAMPLES
    ]
    _sheet(book, "Received", ["Lab no.", "Kind", *_SAMPLES], lines)
    compounds = [[a["name"], *(a[name] for name in _COMPOUNDS)] for a in ANALYTES.values()]
    _sheet(book, "Compounds", ["Substance", *_COMPOUNDS], compounds)
    results = [
        [r["lab_sample_id"], ANALYTES[r["analyte_id"]]["name"], *(r[name] for name in _RESULTS)] for r in RESULTS
    ]
    _sheet(book, "Results", ["Lab no.", "Substance", *_RESULTS], results)
    _sheet(book, "QC", ["Lab no.", *_QC], [[q["lab_sample_id"], *(q[name] for name in _QC)] for q in QC])
    maps = {"samples": _samples(), "compounds": _compounds(), "results": _results(), "qc": _qc()}
    return {"lab/book.xlsx": saved(book)} | {f"lab/{name}.map.toml": text.encode() for name, text in maps.items()}


def _cell(row: Mapping[str, str], name: str) -> str:
    return day_first(row[name]) if name.endswith("_at") else row[name]


def _sheet(book: Workbook, title: str, head: list[str], lines: list[list[str]]) -> None:
    sheet = book.create_sheet(title)
    sheet.append(["Example Laboratory (invented)"])
    sheet.append([])
    for line in (head, *lines):
        sheet.append(line)


def _source(sheet: str, holds: str, more: str = "") -> str:
    file = '[source]\nfile = "lab/book.xlsx"\nlayout = "long"\nheader_row = 3\n'
    return f'{file}sheet = "{sheet}"\nholds = "{holds}"\n{more}'


def _named(columns: tuple[str, ...]) -> str:
    return ", ".join(f'{name} = "{name}"' for name in columns)


def _samples() -> str:
    words = ", ".join(f'{theirs} = "{ours}"' for ours, theirs in THEIR_TYPES.items())
    source = _source("Received", "lists", 'dates = "day.month.year hour:minute"\n')
    columns = f'columns = {{ type = "Kind", {_named(_SAMPLES)} }}\nwords = {{ {words} }}\n'
    zone = 'constants = { tz = "America/Denver" }\n'
    return f'{source}[columns]\nlab_sample_id = "Lab no."\n[lab_samples]\n{columns}{zone}'


def _compounds() -> str:
    names = "\n".join(f'"{row["name"]}" = "{analyte}"' for analyte, row in ANALYTES.items())
    columns = f"[analytes]\ncolumns = {{ {_named(_COMPOUNDS)} }}\n"
    return f'{_source("Compounds", "lists")}[columns]\nanalyte_id = "Substance"\n{columns}[names]\n{names}\n'


def _results() -> str:
    columns = "\n".join(f'{name} = "{name}"' for name in _RESULTS)
    head = f'{_source("Results", "results")}[columns]\nlab_sample_id = "Lab no."\nanalyte_id = "Substance"\n{columns}\n'
    return f'{head}[units]\nng = 1\n[nondetect]\ntokens = ["ND"]\n'


def _qc() -> str:
    kinds = "\n".join(f'{kind} = "{kind}"' for kind in sorted({row["qc_type"] for row in QC}))
    columns = 'lab_sample_id = "Lab no."\nanalyte_id = "name"\nresult_text = "value"\n'
    more = "\n".join(f'{name} = "{name}"' for name in ("unit", "lower", "upper", "limit_source"))
    source = _source("QC", "qc", 'qc_column = "qc_type"\n')
    return f"{source}[columns]\n{columns}{more}\n[qc]\n{kinds}\n"
