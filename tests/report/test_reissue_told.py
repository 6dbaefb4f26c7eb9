"""A laboratory issues its file again with one value corrected: sentences, page and history say that value alone.

The files are those of invented laboratories (``tests/project/lab_files.py``), each in a layout of its own.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from builders import write
from in_memory import example, example_with
from lab_files import crosstab_xlsx, long_csv, saved
from openpyxl import load_workbook

from sitegen.checking import check
from sitegen.pipeline import compose
from sitegen.project.folder import Folder
from sitegen.report.record.pages import Page, Prose, Report
from sitegen.report.trace.printed import tables_in

SETTINGS = (example().content("project.toml") or b"").decode()
REASONS = b"revision,key,reason\n2,results:04417-005+pce,a dilution was entered twice\n"


class Layout(NamedTuple):
    """A laboratory's file, its mapping, a corrected one, and what the sentence says of the file and the numbers."""

    file: str
    again: str
    content: bytes
    mapping: str
    corrected: bytes
    before: str
    after: str
    dated: str = ""


def long() -> Layout:
    """Lay out long: semicolons, µg, qualifiers joined to the numbers: 0.007 J becomes 0.0085 J."""
    content, mapping = long_csv()
    line = next(line for line in content.splitlines() if line.startswith(b"04417-005;127-18-4"))
    assert line.split(b";")[3] == b"0.007 J"
    corrected = content.replace(line, line.replace(b"0.007 J", b"0.0085 J"))
    return Layout("lab/long.csv", "lab/long_rev1.csv", content, mapping, corrected, "7 (J)", "8.5 ng per sampler (J)")


def across() -> Layout:
    """Lay samples across under three lines of head, with the day of each report in a line of its own."""
    content, mapping = crosstab_xlsx()

    def edited(day: str, value: object) -> bytes:
        book = load_workbook(io.BytesIO(content))
        sheet = book.worksheets[0]
        sheet.cell(2, 1, f"Reported {day}")
        heads = [cell.value for cell in sheet[3]]
        (row,) = [row[0].row for row in sheet.iter_rows(min_row=4) if row[0].value == "PERC"]
        sheet.cell(row, heads.index("04417-005") + 1, value)
        return saved(book)

    first, second = edited("21 November 2025", "7.0"), edited("2 December 2025", "8.5")
    texts = "7.0 (J)", "8.5 ng per sampler (J)"
    return Layout("lab/cross.xlsx", "lab/cross_rev1.xlsx", first, mapping, second, *texts, "2 December 2025")


def folders(layout: Layout, reasons: bytes = REASONS) -> tuple[Folder, Folder]:
    """Return the survey before and after: the former issue goes to records/, as the program asks."""

    def declared(file: str) -> str:
        return f'\n[files."{file}"]\ndelimiter = ";"\n' if file.endswith(".csv") else ""

    kept = f"records/{Path(layout.file).name}"
    anew = layout.mapping.replace(layout.file, layout.again).replace("[source]", f'[source]\nreplaces = "{kept}"')
    second = SETTINGS.replace("revision = 1\n", 'revision = 2\nprevious = "../first"\n')
    second = second.replace("report_date = 2025-12-12", "report_date = 2026-01-09")
    assert second.count("previous") == 1
    seconds = declared(layout.again) + declared(kept)
    return (
        example_with({
            "lab/results.csv": None, "project.toml": (SETTINGS + declared(layout.file)).encode(),
            layout.file: layout.content, "lab/theirs.map.toml": layout.mapping.encode(),
        }),
        example_with({
            "lab/results.csv": None, "project.toml": (second + seconds).encode(), kept: layout.content,
            layout.again: layout.corrected, "lab/theirs.map.toml": anew.encode(), "review/changes.csv": reasons,
        }),
    )  # fmt: skip


def report_of(layout: Layout, root: Path, **kept: bytes) -> Report:
    first, second = folders(layout, **kept)
    write(first, root / "first")
    return compose(check(write(second, root / "second")))[1]


def page_of(report: Report) -> Page:
    return next(page for page in report.pages if page.ref.id == "changes")


@pytest.mark.parametrize("made", [long, across], ids=lambda made: made.__name__)
def test_the_one_corrected_value_is_all_that_is_told(made: Callable[[], Layout], tmp_path: Path) -> None:
    """Old and new with unit and qualifier, both files, the reason, a date where the files have one; no other change."""
    layout = made()
    report = report_of(layout, tmp_path)
    page = page_of(report)
    kept = f"records/{Path(layout.file).name}"
    dated = f" (latest date in the file: {layout.dated})" if layout.dated else ""
    assert page.lead == (
        f"One result changed: Tetrachloroethene at SG-31, from {layout.before} to {layout.after}, in the reissued "
        f"laboratory file {layout.again}, which replaces {kept}{dated}. "
        "Reason on record: “a dilution was entered twice”."
    )
    tables = {table.id: table.rows for table in tables_in(page.blocks)}
    ((about, kind, _, before, now, *_, key, reason),) = tables["changes-values"]
    assert (about.text, kind.text, key.text) == ("SG-31, Tetrachloroethene", "value", "results:04417-005+pce")
    assert (before.text, now.text, reason.text) == (layout.before, layout.after, "a dilution was entered twice")
    for name in ("records", "text", "settings", "findings"):
        assert tables[f"changes-{name}"] == (), name
    assert [row[0].text for row in tables["changes-points"]] == ["SG-31"]
    assert report.history is not None
    assert [[cell.text for cell in row] for row in report.history.rows] == [
        ["2", f"Tetrachloroethene at SG-31: {layout.before} → {layout.after}", "a dilution was entered twice"]
    ]


def test_the_sentences_say_what_the_corrected_value_affects_and_what_not(tmp_path: Path) -> None:
    """SG-31 is neither end of the range: one map, no number of the text, no level, no other record, no finding."""
    page = page_of(report_of(long(), tmp_path))
    told = next(block.markdown for block in page.blocks if isinstance(block, Prose)).replace("\\", "")
    assert "* This affects the map of Tetrachloroethene.\n" in told
    assert "No compound at a point newly exceeds a screening level, and no former exceedance has ceased." in told
    told = " ".join(told.split())
    assert "summary, interpretation and recommendations, 11 were reworded or refer to something that changed." in told
    assert "2 have the same outcome as before and none a different one; 38 cannot be checked by rule" in told
    assert "Other changes" not in told
    assert "Findings about the survey: none opened, none closed." in told


def test_without_a_reason_the_page_and_the_history_say_that_none_is_on_record(tmp_path: Path) -> None:
    """No sentence claims a reason; the value is in the history all the same."""
    report = report_of(long(), tmp_path, reasons=b"revision,key,reason\n")
    assert page_of(report).lead.endswith("which replaces records/long.csv. No reason is on record.")
    assert report.history is not None
    assert [[cell.text for cell in row] for row in report.history.rows] == [
        ["2", "Tetrachloroethene at SG-31: 7 (J) → 8.5 ng per sampler (J)", "none on record"]
    ]
