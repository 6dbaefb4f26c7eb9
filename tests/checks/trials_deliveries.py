"""Messages about a laboratory's own file and the mapping file that says how it is read."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime

import defects as named
from builders import Change, changed, content, removed, settings_added, without_rows
from defects_deliveries import BOOK, CONTENT, LONG, MAPPING, SAMPLES, TABLES, WORDS
from lab_files import mixed_xlsx
from openpyxl import Workbook
from remedies import rows_added_again, text_of
from remedies_lab import line_taken_out, mapping_line, mapping_of, under
from trials import Trial
from trials_tables import book_edited

from sitegen.findings.problems import Finding
from sitegen.project.folder import Folder

Steps = Callable[[Folder, Finding], Iterator[Change]]
RECEIVED = "04417-005"


def edited(cells: Mapping[str, str], compound: str = "PERC") -> bytes:
    """Return the laboratory's file with cells of one result changed; new columns are blank in all others."""
    rows = list(csv.reader(io.StringIO(CONTENT.decode(), newline=""), delimiter=";"))
    header = [*rows[0], *(name for name in cells if name not in rows[0])]
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, header, delimiter=";", restval="")
    writer.writeheader()
    for row in rows[1:]:
        one = dict(zip(rows[0], row, strict=True))
        hit = one["Lab No."] == RECEIVED and one["Parameter"] == compound
        writer.writerow(one | dict(cells) if hit else one)
    return out.getvalue().encode()


def long(file: bytes = CONTENT, *change: str, more: tuple[Change, ...] = ()) -> Callable[[], Folder]:
    """Return the example whose results come in ``lab/long.csv``, with words of its mapping file changed."""
    words = WORDS.partition("[control]")[0] if file != CONTENT else WORDS
    for old, new in zip(change[::2], change[1::2], strict=True):
        assert old in words, old
        words = words.replace(old, new, 1)
    changes = (
        removed(named.RESULTS),
        settings_added(f'[files."{LONG}"]\ndelimiter = ";"'),
        content(LONG, file),
        content(MAPPING, words.encode()),
        *more,
    )
    return lambda: changed(*changes)


def sent(asked: str, file: bytes = CONTENT, path: str = LONG) -> Steps:
    """Put the file there that the laboratory sends when it is asked as the message tells."""

    def remedy(_: Folder, finding: Finding) -> Iterator[Change]:
        assert asked in finding.do.lower(), finding.do
        yield content(path, file)

    return remedy


def line_told(section: str, stands_for: str) -> Steps:
    """Write the line that the message shows, with what the word stands for."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert f"under [{section}]" in finding.do, finding.do
        match = re.search(r'as in (".+?") = ', finding.do)
        assert match, finding.do
        yield under(section, f"{match[1]} = {stands_for}", folder=folder, mapping=mapping_of(folder, finding))

    return remedy


def pattern_told(pattern: str, old: str, new: str) -> Steps:
    """Write what the message gives in place of what the mapping file has."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        match = re.search(pattern, finding.do)
        assert match, finding.do
        yield from mapping_line(old, new.format(match[1]))(folder, finding)

    return remedy


def sealed(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the line that the message gives."""
    match = re.search(r'write (sha256 = "\w+") under \[source\]', finding.do)
    assert match, finding.do
    yield under("source", match[1], folder=folder, mapping=finding.where.file)


def blank_declared(folder: Folder, finding: Finding) -> Iterator[Change]:
    match = re.search(r'write (blank = "\w+") under \[source\]', finding.do)
    assert match, finding.do
    yield under("source", match[1], folder=folder, mapping=MAPPING)


def said(words: str, old: str, new: str) -> Steps:
    """Change the mapping file as the message says in these words."""

    def remedy(folder: Folder, finding: Finding) -> Iterator[Change]:
        assert words in finding.do, finding.do
        yield from mapping_line(old, new)(folder, finding)

    return remedy


def named_line_mended(folder: Folder, finding: Finding) -> Iterator[Change]:
    """Write the line that the finding names as the laboratory's mapping had it."""
    lines = text_of(folder, finding.where.file).split("\n")
    assert finding.where.row is not None
    lines[finding.where.row - 1] = WORDS.split("\n")[finding.where.row - 1]
    yield content(finding.where.file, "\n".join(lines).encode())


def mixed(*change: str, more: tuple[Change, ...] = ()) -> Callable[[], Folder]:
    """Return the example whose results and QC rows come in one sheet."""
    book, words = mixed_xlsx()
    for old, new in zip(change[::2], change[1::2], strict=True):
        assert old in words, old
        words = words.replace(old, new, 1)
    changes = (removed(named.RESULTS), removed(named.QC), content("lab/mixed.xlsx", book))
    return lambda: changed(*changes, content("lab/mixed.map.toml", words.encode()), *more)


def book_with(edit: Callable[[Workbook], None]) -> Callable[[], Folder]:
    """Return the example whose laboratory tables come in one workbook, in which something was done."""

    def folder() -> Folder:
        maps = {path: text for path, text in BOOK.items() if path.endswith(".toml")}
        plain = changed(
            *map(removed, TABLES),
            content("lab/book.xlsx", BOOK["lab/book.xlsx"]),
            *(content(path, text) for path, text in maps.items()),
        )
        return changed(book_edited(plain, edit, "lab/book.xlsx"), folder=plain)

    return folder


def another_sampler(book: Workbook) -> None:
    """Give a sample a second line, with another sampler."""
    sheet = book["Received"]
    line = next([cell.value for cell in row] for row in sheet.iter_rows() if row[0].value == RECEIVED)
    at = next(at for at, cell in enumerate(sheet[3]) if cell.value == "sampler_id")
    line[at] = "0047160"
    sheet.append(line)


THE_BOOK = BOOK["lab/book.xlsx"]
NOT_LISTED = without_rows(named.LAB, lambda row: row["lab_sample_id"] == RECEIVED)
DELIVERIES = (
    Trial("delivery", "deliverable-unsealed", long(), sealed),
    Trial("file-misspelt", "deliverable-missing", long(CONTENT, '"lab/long.csv"', '"lab/lng.csv"'),
          pattern_told(r"write (\S+)", '"lab/lng.csv"', '"{}"')),
    Trial("another-file", "deliverable-changed", long(CONTENT, "[source]", '[source]\nsha256 = "aa"'),
          pattern_told(r"enter its sha256, (\w+)", '"aa"', '"{}"')),
    Trial("name-not-mapped", "compound-unmapped", long(CONTENT, '"Trichlor" = "tce"\n', ""),
          line_told("names", '"tce"')),
    Trial("name-of-another", "compound-contradicts", long(edited({"CAS No.": "71-43-2"})),
          sent("compare both with the laboratory's report")),
    Trial("unit-not-declared", "unit-undeclared", long(CONTENT, '"ug/sampler" = 1000', '"ug/tube" = 1000'),
          line_told("units", "1000")),
    Trial("qualifier-not-mapped", "qualifier-unmapped", long(CONTENT, 'nd = "U"', 'x = "U"'),
          line_told("qualifiers", '"U"')),
    Trial("sample-not-listed", "lab-sample-unlisted", long(more=(NOT_LISTED,)), rows_added_again(named.LAB)),
    Trial("another-sampler", "sampler-differs",
          long(edited({"Field ID": "0047160"}), 'mdl = "MDL"', 'mdl = "MDL"\nsampler_id = "Field ID"'),
          sent("check the custody form for the one that has results",
               edited({"Field ID": ""}))),
    Trial("no-result", "result-blank", long(edited({"Result": ""})), blank_declared),
    Trial("no-result-sent", "result-blank", long(edited({"Result": ""})), sent("ask the laboratory")),
    Trial("two-results", "result-contradicts",
          long(edited({"Result": "5", "Value": "6"}), 'mdl = "MDL"', 'mdl = "MDL"\nvalue = "Value"'),
          sent("ask the laboratory which of the two is correct", edited({"Result": "5", "Value": "5"}))),
    Trial("two-limits", "limits-differ", long(edited({"Result": "<5", "Limit": "10", "MDL": "1"})),
          sent("ask the laboratory which of the two is correct", edited({"Result": "<5", "Limit": "5", "MDL": "1"}))),
    Trial("no-run-reported", "no-reportable-run",
          long(edited({"Report?": "no"}), 'mdl = "MDL"', 'mdl = "MDL"\nreportable = "Report?"'),
          sent("ask the laboratory which run it reports", edited({"Report?": "yes"}))),
    Trial("total-mistyped", "control-total-differs", long(CONTENT, "rows = 1386", "rows = 1368"),
          mapping_line("rows = 1368", "rows = 1386")),
    Trial("column-not-there", "mapped-column-missing", long(CONTENT, 'mdl = "MDL"', 'mdl = "LOD"'),
          mapping_line('mdl = "LOD"', 'mdl = "MDL"')),
    Trial("mapping-broken", "mapping-unreadable", long(CONTENT, 'unit = "Units"', 'unit = "Units'), named_line_mended),
    Trial("key-unknown", "mapping-invalid", long(CONTENT, 'mdl = "MDL"', 'mdll = "MDL"'),
          pattern_told(r"(?:write|rename it to) (\w+)", 'mdll = "MDL"', '{} = "MDL"')),
    Trial("skipped-in-vain", "mapping-unused", long(CONTENT, "[columns]", 'skip_containing = ["Total"]\n[columns]'),
          line_taken_out("skip_containing")),
    Trial("kind-of-row-not-mapped", "row-kind-unmapped", mixed('SURROGATE = "surrogate"', ""),
          line_told("qc", '"surrogate"')),
    Trial("two-samplers", "supplied-contradicts", book_with(another_sampler),
          sent("ask the laboratory which one is correct", THE_BOOK, "lab/book.xlsx")),
    Trial("token-not-declared", "number-unreadable", long(CONTENT, 'tokens = ["ND"]', 'tokens = ["none"]'),
          said("tokens or less_than_prefix under [nondetect]", 'tokens = ["none"]', 'tokens = ["ND"]')),
    Trial("joined-not-declared", "number-unreadable", long(CONTENT, "joined_qualifiers = true\n", ""),
          said("joined_qualifiers under [source]", 'layout = "long"', 'layout = "long"\njoined_qualifiers = true')),
    Trial("limit-with-comma", "number-unreadable",
          long(edited({"Limit": "1,000"}), "[columns]", 'sheet = ""\n[columns]'),
          said("declare its separators as thousands and decimal", 'sheet = ""', 'thousands = ","')),
    Trial("unit-not-mapped", "mapping-invalid", long(CONTENT, 'unit = "Units"\n', ""),
          said("give its column as unit under [columns]", "[columns]", '[columns]\nunit = "Units"')),
    Trial("no-units", "mapping-invalid", long(CONTENT, '"ug/sampler" = 1000\n', ""),
          said("write each under [units] with its factor", "[units]", '[units]\n"ug/sampler" = 1000')),
    Trial("kinds-without-column", "mapping-invalid", mixed('qc_column = "Kind"\n', ""),
          said("add the other, or remove this one", "[columns]", 'qc_column = "Kind"\n[columns]')),
    Trial("name-of-no-compound", "mapping-invalid", long(CONTENT, '= "tce"', '= "tcee"'),
          pattern_told(r"write (\w+)", '= "tcee"', '= "{}"')),
    Trial("qualifier-of-none", "mapping-invalid", long(CONTENT, 'nd = "U"', 'nd = "Z"'),
          said("use the qualifiers of the folder format", 'nd = "Z"', 'nd = "U"')),
    Trial("word-of-no-kind", "mapping-invalid", mixed('SURROGATE = "surrogate"', 'SURROGATE = "surrogates"'),
          said("use one of these words", '"surrogates"', '"surrogate"')),
    Trial("signs-alike", "mapping-invalid", long(CONTENT, "[columns]", 'thousands = "."\n[columns]'),
          said("correct thousands or decimal", 'thousands = "."', 'thousands = ","')),
    Trial("file-not-there", "deliverable-missing", long(CONTENT, '"lab/long.csv"', '"zzz"'),
          said("put it into lab/, and enter its path as file under [source]", '"zzz"', '"lab/long.csv"')),
    Trial("header-of-a-blank-row", "mapped-column-missing", mixed("header_row = 3", "header_row = 2"),
          said("correct header_row under [source]", "header_row = 2", "header_row = 3")),
    Trial("cross-in-long", "mapping-invalid", long(CONTENT, "[units]", '[crosstab]\nacross = "samples"\n[units]'),
          said("remove it, or set layout to crosstab", '[crosstab]\nacross = "samples"\n', "")),
    Trial("word-for-detected", "word-unknown",
          long(edited({"Found?": "perhaps"}), 'mdl = "MDL"', 'mdl = "MDL"\ndetected = "Found?"'),
          sent("ask the laboratory for its meaning", edited({"Found?": ""}))),
    Trial("unit-of-another-kind", "mapping-invalid", long(CONTENT, '"ug/sampler" = 1000', '"ug/m3" = 1000'),
          said("correct the unit: mass is not concentration", '"ug/m3" = 1000', '"ug/sampler" = 1000')),
)  # fmt: skip


def listed(change: tuple[str, str], remedy: Steps, name: str, code: str) -> Trial:
    """Return a trial of the workbook that supplies all tables, with words of the mapping of its samples changed."""

    def folder() -> Folder:
        plain = book_with(lambda _: None)()
        words = text_of(plain, SAMPLES)
        assert change[0] in words, words
        return changed(content(SAMPLES, words.replace(*change, 1).encode()), folder=plain)

    return Trial(name, code, folder, remedy)


def serial_as_date(book: Workbook) -> None:
    """Let a spreadsheet have made a date of a laboratory id."""
    cell = next(row[0] for row in book["Received"].iter_rows() if row[0].value == RECEIVED)
    cell.value, cell.number_format = datetime.fromisoformat("2025-03-02"), "d-m"


DATES = 'dates = "day.month.year hour:minute"\n'
LISTS = (
    listed((DATES, ""), said("declare the form under [source]", "[source]\n", f"[source]\n{DATES}"),
           "times-not-declared", "time-unreadable"),
    listed(('type = "Kind", ', ""), said("map type", "columns = { ", 'columns = { type = "Kind", '),
           "kinds-not-mapped", "mapping-invalid"),
    listed(('sheet = "Received"\n', ""),
           said("give the sheet as sheet under [source]", "[source]\n", '[source]\nsheet = "Received"\n'),
           "sheet-not-named", "sheet-unclear"),
    Trial("lab-id-as-date", "id-typed-as-date", book_with(serial_as_date),
          sent("restore it from the laboratory's report", THE_BOOK, "lab/book.xlsx")),
    Trial("compound-of-none", "mapping-invalid", long(CONTENT, '= "tce"', '= "zzzz"'),
          said("correct it, or add the compound to analytes.csv", '= "zzzz"', '= "tce"')),
    Trial("no-column-of-ids", "mapping-invalid", long(CONTENT, 'lab_sample_id = ["Lab ID", "Lab No."]\n', ""),
          said("give that column", "[columns]", '[columns]\nlab_sample_id = "Lab No."')),
)  # fmt: skip
