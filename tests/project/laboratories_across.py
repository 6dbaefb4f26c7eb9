"""Invented laboratories that lay samples or compounds across."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from laboratory import (
    COMPOUNDS,
    SERIALS,
    Laboratory,
    amount,
    analysed,
    book_of,
    csv_of,
    lab_id,
    letters,
    plain,
    ties,
    truths,
    words_of,
)


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
