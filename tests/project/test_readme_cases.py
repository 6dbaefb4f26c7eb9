"""The worked cases of laboratory files in the folder's README are read as they stand there."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from textwrap import dedent

import pytest
from builders import row_of
from in_memory import folder_of
from lab_files import saved
from openpyxl import Workbook
from small_delivery import KNOWN

from sitegen.cli import template_folder
from sitegen.project.delivery.keys import allowed
from sitegen.project.delivery.mapping import Deliveries, read_deliveries
from sitegen.project.delivery.supplied import Supply
from sitegen.project.tables import LabSample

GUIDE = (template_folder() / "README.md").read_text("utf-8")
SECTION = GUIDE.split("## The laboratory's own file\n")[1].split("\n## ")[0]
BLOCKS = [dedent(block).strip("\n") for block in re.findall(r"(?:^    .*\n|^\n(?=    ))+", SECTION, re.MULTILINE)]
LONG, CROSS, RESULTS, QC = (tuple(BLOCKS[at : at + 2]) for at in (0, 2, 4, 6))


def cells(block: str) -> list[list[str]]:
    """Return the cells of a drawn sheet, without the numbers of its rows and the letters of its columns."""
    lines = [[cell.strip() for cell in line.strip("| ").split("|")] for line in block.splitlines()]
    return [line[1:] for line in lines[1:]]


def workbook(**sheets: str) -> Workbook:
    """Return a workbook with the sheets as they are drawn; numbers are typed as numbers."""
    book = Workbook()
    book.remove(book.worksheets[0])
    for title, block in sheets.items():
        sheet = book.create_sheet(title)
        for row in cells(block):
            sheet.append([int(cell) if cell.isdigit() and not cell.startswith("0") else cell or None for cell in row])
    return book


def read(files: dict[str, bytes], samples: tuple[LabSample, ...] = (), known: bool = True) -> Deliveries:
    """Read the files of a case; nothing may be told of them but that they are not sealed, and ids typed as numbers."""
    given = read_deliveries(folder_of(files), {}, KNOWN if known else [], samples)
    told = {finding.code for finding in given.findings}
    assert told <= {"deliverable-unsealed", "id-typed-as-number", "rows-passed-over"}, given.findings
    return given


def values(given: Deliveries) -> list[tuple[str, ...]]:
    """Return sample, compound, text as received, value, limit and qualifier of each result."""
    names = ("lab_sample_id", "analyte_id", "result_text", "value", "rl", "lab_qualifier")
    return [
        tuple(row[delivery.results.header.index(name)] for name in names)
        for delivery in given.read
        for row in delivery.results.rows
    ]


def supplied(supply: Supply) -> dict[str, dict[str, str]]:
    """Return what is supplied, as plain texts by key."""
    return {key: {name: given.ours for name, given in row.items()} for key, row in supply.rows.items()}


def test_the_readme_has_the_blocks_that_are_tried_here() -> None:
    """Each case is a file, or sheets, with a mapping for each; the maker of blocks finds them all."""
    assert len(BLOCKS) == 8
    for mapping in (BLOCKS[1], BLOCKS[3], BLOCKS[6], BLOCKS[7]):
        assert tomllib.loads(mapping)["source"]["file"].startswith("lab/")


def test_the_long_table_is_read() -> None:
    """Title, repeated header and footer are passed over; numbers come to ng."""
    samples = (row_of(LabSample, lab_sample_id="L-1", sampler_id="0047102"),)
    samples += (row_of(LabSample, lab_sample_id="L-2", sampler_id="0047103"),)
    given = read({"lab/air.csv": BLOCKS[0].encode(), "lab/air.map.toml": BLOCKS[1].encode()}, samples)
    assert values(given) == [
        ("L-1", "pce", "0.012 J", "12.0", "5.0", "J"),
        ("L-1", "tce", "<0.005", "", "5.0", ""),
        ("L-2", "pce", "ND", "", "5.0", ""),
    ]
    assert given.read[0].results.numbers == [3, 4, 6]


def test_the_cross_tab_with_two_header_rows_is_read() -> None:
    """Merged headers are filled, limits and serials come from their rows, and the serials have their zeros."""
    book = workbook(Sheet=BLOCKS[2])
    sheet = book.worksheets[0]
    for merged in ("A1:A2", "B1:C1", "D1:E1"):
        sheet.merge_cells(merged)
    given = read({"lab/cross.xlsx": saved(book), "lab/cross.map.toml": BLOCKS[3].encode()})
    assert values(given) == [
        ("L-1", "pce", "12", "12.0", "5.0", "J"),
        ("L-2", "pce", "< 5", "", "5.0", ""),
        ("L-1", "tce", "ND", "", "5.0", ""),
        ("L-2", "tce", "40", "40.0", "5.0", ""),
    ]
    samples = supplied(given.supplied[0])
    assert {key: row["sampler_id"] for key, row in samples.items()} == {"L-1": "0047102", "L-2": "0047103"}
    place = given.supplied[0].rows["L-2"]["sampler_id"].place
    assert (place.file, place.row, place.column) == ("lab/cross.xlsx", 3, "L-2 / ng")
    assert given.read[0].results.numbers == [5, 5, 6, 6]


def test_the_workbook_supplies_samples_compounds_and_qc() -> None:
    """Nothing is typed: samples, compounds and QC rows come from the two sheets."""
    files = {
        "lab/book.xlsx": saved(workbook(Results=BLOCKS[4], QC=BLOCKS[5])),
        "lab/book-results.map.toml": BLOCKS[6].encode(),
        "lab/book-qc.map.toml": BLOCKS[7].encode(),
    }
    given = read(files, known=False)
    assert values(given) == [
        ("L-1", "perc", "12", "12.0", "5.0", ""),
        ("L-1", "trichloroethene", "< 5", "", "5.0", ""),
        ("L-9", "perc", "< 5", "", "5.0", ""),
    ]
    samples, compounds = map(supplied, given.supplied)
    assert samples["L-1"] == {
        "lab_sample_id": "L-1", "sampler_id": "0047102", "type": "sample", "batch_id": "B-7",
        "analysed_at": "2025-11-12T14:05",
    }  # fmt: skip
    assert (samples["L-9"]["type"], samples["L-9"]["sampler_id"]) == ("method_blank", "")
    assert samples["L-10"] == {"lab_sample_id": "L-10", "type": "control"}
    assert compounds["perc"] == {"analyte_id": "perc", "name": "PERC", "cas": "127-18-4", "group": "chlorinated"}
    (qc,) = [delivery for delivery in given.read if delivery.sheet.name == "QC"]
    rows = [dict(zip(qc.qc.header, row, strict=True)) for row in qc.qc.rows]
    shown = [
        tuple(row[n] for n in ("lab_sample_id", "qc_type", "name", "value", "unit", "lower", "upper")) for row in rows
    ]
    assert shown == [
        ("L-1", "surrogate", "Dye X", "98", "%", "70", "130"),
        ("L-10", "control", "PERC", "104", "%", "80", "120"),
    ]


def keys() -> Iterator[tuple[str, str]]:
    """Yield every table of a mapping file with each of its keys."""
    for table in allowed(()):
        yield from ((table, key) for key in allowed((table,)) if table != "units")


@pytest.mark.parametrize(("table", "key"), list(keys()))
def test_every_key_of_the_format_stands_in_the_readme(table: str, key: str) -> None:
    """The list of tables names each key of each of them."""
    (line,) = [line for line in SECTION.splitlines() if line.startswith(f"| `[{table}]` |")]
    assert f"`{key}`" in line
