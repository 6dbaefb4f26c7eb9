"""Messages about how tables come: in workbooks, with defaults and ranges of serials, with rows of the template."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from datetime import datetime

import defects as named
from builders import Change, cell, changed, content, every, example, removed, row_added, settings_added, table
from openpyxl import Workbook, load_workbook
from remedies import file_added, line_removed, row_removed, rows_at, text_of, written
from trials import Trial

from sitegen.findings.problems import Finding
from sitegen.project.examples import example_row
from sitegen.project.folder import Folder
from sitegen.project.schema import BOOK_FILE
from sitegen.project.tables import TABLE
from sitegen.project.tables import TABLES as SPECS
from tests import typed_once
from tests.workbooks import in_one_workbook, in_workbooks_of_their_own, saved

WHERE = "[[defaults.deployments.where]]\n"


def book_edited(folder: Folder, edit: Callable[[Workbook], None], path: str = BOOK_FILE) -> Change:
    """Open a workbook of the folder, do something in it and save it."""
    book = load_workbook(io.BytesIO(folder.files[path].content))
    edit(book)
    return content(path, saved(book))


def in_book(edit: Callable[[Workbook], None]) -> Callable[[], Folder]:
    """Return the example with its tables in one workbook, in which something was done."""

    def folder() -> Folder:
        plain = changed(removed("review/signoff.xlsx"), folder=in_one_workbook(example()))
        return changed(book_edited(plain, edit), folder=plain)

    return folder


def cell_of(finding: Finding) -> tuple[str, str, int]:
    """Return sheet, column and row that a finding names."""
    sheet, _, column = (finding.where.column or "").partition("!")
    return sheet, column, finding.where.row or 0


def put(book: Workbook, sheet: str, column: str, row: int, value: object, form: str = "@") -> None:
    """Write into the cell below a header."""
    at = next(cell.column for cell in book[sheet][1] if cell.value == column)
    one = book[sheet].cell(row, at)
    one.value, one.number_format = value, form


def typed_again(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Give the column the text format, or the cell a plain one, and type what the papers say."""
    told = r"format the column as text|plain number format|or enter the value$|write \S+ if"
    assert re.search(told, finding.do), finding.do
    sheet, column, row = cell_of(finding)
    spec = next(path for path in example().files if path.endswith(f"/{sheet}.csv"))
    yield book_edited(folder, lambda book: put(book, sheet, column, row, rows_at(example(), spec)[row - 2][column]))


def sheet_renamed(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Rename the sheet that the finding names as it tells."""
    match = re.search(r"rename it to (\w+)", finding.do)
    assert match, finding.do
    old = (finding.where.column or "").partition("!")[0]
    yield book_edited(folder, lambda book: setattr(book[old], "title", match[1]))


def sheet_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert finding.do == "leave it, or remove it"
    old = (finding.where.column or "").partition("!")[0]
    yield book_edited(folder, lambda book: book.remove(book[old]))


def signoff_moved(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Move the sheet's rows to the first of the two files that the message names."""
    match = re.search(r"move it to (\S+) or", finding.do)
    assert match, finding.do
    sheet = load_workbook(io.BytesIO(folder.files[BOOK_FILE].content))["signoff"]
    lines = [",".join(str(one.value or "") for one in row) for row in sheet.iter_rows()]
    yield content(match[1], ("\n".join(lines) + "\n").encode())
    yield book_edited(folder, lambda book: book.remove(book["signoff"]))


def other_moved(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Keep the workbook's sheet, and move the file to records/."""
    assert "move the other to records/" in finding.do
    yield removed(named.SAMPLERS)
    yield content("records/samplers.csv", folder.files[named.SAMPLERS].content)


def sheet_of_two_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert "remove its sheet" in finding.do
    yield book_edited(folder, lambda book: book.remove(book["samplers "]))


def template_row_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert "overwrite the whole row, or delete it" in finding.do
    yield from row_removed(folder, finding)


def with_template_row() -> Folder:
    """Return the example with the invented row of the template left in a table."""
    lines = table(named.DEVIATIONS, lambda rows: [example_row(TABLE["deviations"]), *rows])
    return changed(lines)


def default(words: str, *changes: Change) -> Callable[[], Folder]:
    """Return the example with lines about defaults."""
    return lambda: changed(*changes, settings_added(words))


def default_removed(folder: Folder, finding: Finding) -> Iterator[Change]:
    assert re.fullmatch(r"remove \w+ from defaults", finding.do)
    yield from line_removed(folder, finding)


def one_where_row_narrowed(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Let the second of the two where rows ask for what the first asks against."""
    assert "make one of the two where rows more specific" in finding.do
    now = text_of(folder, named.SETTINGS)
    yield content(named.SETTINGS, now.replace("placed_by =", "placed_on = 2025-10-24\nplaced_by =", 1).encode())


def default_corrected(new: str) -> Callable[[Folder, Finding], Iterator[Change]]:
    """Write another line for the one that the finding names."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        lines = text_of(folder, named.SETTINGS).split("\n")
        assert finding.where.row is not None
        lines[finding.where.row - 1] = new
        yield content(named.SETTINGS, "\n".join(lines).encode())

    return remedy


def kindless() -> Folder:
    """Return a survey with a range of serials of which one more sampler was neither placed nor a blank."""
    first, last = typed_once.SAMPLERS[0], typed_once.SAMPLERS[-1]
    return changed(
        cell(named.SAMPLERS, f"{first}-{last}", "sampler_id", f"{first}-{int(last) + 1:07d}"),
        folder=typed_once.short(),
    )


def spare_listed(_: Folder, finding: Finding) -> Iterator[Change]:
    """Give the sampler that the finding names a row of its own."""
    match = re.search(r"in no other table: (\d+)", finding.found)
    assert match, finding.found
    assert "a row for each spare here" in finding.do
    day = typed_once.samplers()[0]["prepared_on"]
    more = {"kind": "spare", "outcome": "returned_unused", "prepared_on": day}
    yield row_added(finding.where.file, sampler_id=match[1], **more)


def ranged(cell_text: str, label: str = "") -> Callable[[], Folder]:
    first, last = typed_once.SAMPLERS[0], typed_once.SAMPLERS[-1]
    change = {"sampler_id": cell_text} | ({"label": label} if label else {})

    def folder() -> Folder:
        edit = lambda rows: [row | change if "-" in row["sampler_id"] else row for row in rows]  # noqa: E731
        return changed(table(named.SAMPLERS, edit, *change), folder=typed_once.short())

    assert first < last
    return folder


def sheet_named(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Name the sheet as the message tells."""
    match = re.search(r"name only the sheet with the table (\w+)", finding.do)
    assert match, finding.do
    path = finding.where.file
    yield book_edited(folder, lambda book: setattr(book["Sheet1"], "title", match[1]), path)


def saved_as_csv(_: Folder, finding: Finding) -> Iterator[Change]:
    """Save each of its tables as CSV, and let the workbook go."""
    assert "save each as CSV" in finding.do
    yield removed(finding.where.file)
    for spec in SPECS:
        if spec.path in example().files:
            yield content(spec.path, example().files[spec.path].content)


def two_sheets() -> Folder:
    """Return the example with a table in a workbook of its own that has a second sheet."""
    plain = in_workbooks_of_their_own(example())
    path = "field/samplers.xlsx"
    return changed(
        book_edited(plain, lambda book: book.create_sheet("Notes").append(["of the day"]), path), folder=plain
    )


def serial_typed(value: object, form: str = "General", column: str = "sampler_id") -> Callable[[], Folder]:
    """Return the example in one workbook, with a serial that is no text."""
    return in_book(lambda book: put(book, "samplers", column, 2, value, form))


WHOLE = f"{typed_once.SAMPLERS[0]}-{typed_once.SAMPLERS[-1]}"
BLANK_CLOSURES = every(named.DEPLOYMENTS, lambda row: {"closure": "" if row["closure"] != "NA" else "NA"})
TWO_ROWS = (
    f'{WHERE}placed_on = 2025-10-23\nset = {{ closure = "cap" }}\n'
    f'{WHERE}placed_by = "FS-1"\nset = {{ closure = "other" }}'
)
DAY = datetime.fromisoformat("2025-03-02")

TABLES = (
    Trial(
        "default-ambiguous",
        "default-ambiguous",
        default(TWO_ROWS, BLANK_CLOSURES),
        one_where_row_narrowed,
    ),
    Trial(
        "default-invalid",
        "default-invalid",
        default('[defaults.deployments]\ndepth_ft = "3.0"'),
        default_corrected("depth_ft = 3.0"),
    ),
    Trial(
        "default-refused",
        "default-refused",
        default('[defaults.deployments]\ncondition = "intact"'),
        default_removed,
    ),
    Trial("example-row-left", "example-row-left", with_template_row, template_row_removed),
    Trial("kind-not-derived", "kind-not-derived", kindless, spare_listed),
    Trial(
        "range-turned",
        "serial-range-invalid",
        ranged("-".join(reversed(WHOLE.split("-")))),
        lambda folder, finding: written("-".join(reversed(finding.found.split("-"))))(folder, finding),
    ),
    Trial("range-without-zeros", "serial-range-invalid", ranged("47130-0047154"), written(WHOLE)),
    Trial("range-with-label", "serial-range-invalid", ranged(WHOLE, "SG-1"), written("")),
    Trial(
        "sheet-renamed",
        "sheet-unknown",
        in_book(lambda book: setattr(book["weather"], "title", "wether")),
        sheet_renamed,
    ),
    Trial(
        "sheet-of-notes",
        "sheet-unknown",
        in_book(lambda book: book.create_sheet("Scratch").append(["x"])),
        sheet_removed,
    ),
    Trial(
        "signoff-in-workbook",
        "signoff-in-workbook",
        in_book(lambda book: book.create_sheet("signoff").append(["revision", "role", "statement"])),
        signoff_moved,
    ),
    Trial(
        "table-beside-sheet",
        "table-twice",
        lambda: changed(
            content(named.SAMPLERS, example().files[named.SAMPLERS].content), folder=in_one_workbook(example())
        ),
        other_moved,
    ),
    Trial(
        "table-on-two-sheets",
        "table-twice",
        in_book(lambda book: setattr(book.copy_worksheet(book["samplers"]), "title", "samplers ")),
        sheet_of_two_removed,
    ),
    Trial(
        "text-typed-as-date",
        "text-typed-as-date",
        in_book(lambda book: put(book, "samplers", "lot", 2, DAY, "d-m")),
        typed_again,
    ),
    Trial("serial-as-number", "id-typed-as-number", serial_typed(47102), typed_again),
    Trial("serial-without-zeros", "id-zeros-lost", serial_typed(47102), typed_again),
    Trial("serial-as-date", "id-typed-as-date", serial_typed(DAY, "d-m"), typed_again),
    Trial("serial-by-formula", "cell-without-value", serial_typed("=A3"), typed_again),
    Trial("serial-with-sign", "cell-format-speaks", serial_typed(47102, '"S-"0000000'), typed_again),
    Trial("two-sheets", "sheet-unclear", two_sheets, sheet_named),
    Trial(
        "no-workbook",
        "workbook-unreadable",
        lambda: changed(content(BOOK_FILE, b"PK no workbook"), folder=in_book(lambda _: None)()),
        saved_as_csv,
    ),
    Trial(
        "too-many-columns",
        "table-too-large",
        lambda: changed(content(named.WEATHER, ("at," + ",".join(f"x_{n}" for n in range(20_000)) + "\n").encode())),
        file_added,
    ),
    Trial("range-of-too-many", "serial-range-invalid", ranged("1000000000-1999999999"), written(WHOLE)),
)
