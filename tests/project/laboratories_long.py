"""Invented laboratories that give a row to each result."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from laboratory import (
    COMPOUNDS,
    SERIALS,
    TRIP_BLANK,
    Laboratory,
    Truth,
    amount,
    analysed,
    book_of,
    comma,
    csv_of,
    every,
    lab_id,
    plain,
    ties,
    truths,
    words_of,
)


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
            value, limit, _, mark = amount(serial, analyte)
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
        "columns.lab_sample_id": "Lab No", "columns.analyte_id": "Target Compound",
        "columns.result_text": "Final Result",
        "columns.unit": "UOM", "units.ng/tube": 1, "names.PCE": "pce", "names.TCE": "tce", "names.Chloroethene": "vc",
        "lab_samples.columns.sampler_id": "Tube ID", "lab_samples.columns.type": "Lab No", **words_of(lab_id),
    }  # fmt: skip
    truth = frozenset(one if one.value is None else one._replace(rl=None) for one in truths())
    return Laboratory("lab/joined.csv", csv_of(rows), truth, {"": fields}, samplers=ties())


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
        "source.dates": "month/day/year hour:minute", "columns.lab_sample_id": "Lab ID",
        "columns.analyte_id": "Compound", "columns.cas": "CAS No.", "columns.result_text": "Result",
        "columns.unit": "Units",
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
