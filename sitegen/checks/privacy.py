"""Personal data: private words, telephone numbers and e-mail addresses in what is published."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from difflib import get_close_matches
from pathlib import PurePosixPath

from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, enumeration, key_of, setting_where
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.folder import Folder
from sitegen.project.intake.sheets import book_tables
from sitegen.project.places import table_at
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.reading import read_reading
from sitegen.project.schema import PUBLISH_CLASSES, SETTINGS_FILE, THEME_FOLDER, Kind, text_file
from sitegen.project.settings import FilePart
from sitegen.project.survey import Survey, SurveyTable
from sitegen.voice import worded

PRIVATE_COLUMNS = ("name", "surname", "phone", "email", "address")
MIN_PRIVATE_CHARS = 3
"""A shorter private word would be found everywhere."""
NOT_PROSE = ("result_text", "tz", "unit", "sampler_type", "lot", "content_digest", "finding_key", "method")
_EMAIL = re.compile(r"(?<![\w.+-])[\w.+-]++@[\w-]+\.[\w.]+")
_PHONE = re.compile(r"(?<![\w.:/-])(?:\+\d{1,3}[ .-]?)?(?:\(\d{2,5}\)[ .-]?)?\d{2,5}(?:[ .-]\d{2,5}){1,4}(?![\w:])")
_NOT_PHONE = re.compile(r"\d{4}-\d{2}-\d{2}|\d{2,7}-\d{2}-\d|\d+\.\d+")
_PHONE_DIGITS = 7


def private_words(folder: Folder) -> tuple[str, ...]:
    """Return the words below ``private/`` that must not be published, longest first.

    They are the cells of the columns name, surname, phone, email and address of every CSV, and of
    every sheet of an XLSX workbook, those of earlier surveys among them.
    """
    every = ((one, path) for one in (folder, *folder.beside) for path in one.files)
    words = {word for one, path in every for table in _tables(one, path)[0] for word in _words(table)}
    return tuple(sorted((w for w in words if len(w) >= MIN_PRIVATE_CHARS), key=lambda word: (-len(word), word)))


def private_tables(folder: Folder) -> Iterator[tuple[str, RawTable]]:
    """Yield the tables below ``private/`` that can be read, each with its file, in path order."""
    for path in sorted(folder.files):
        yield from ((path, table) for table in _tables(folder, path)[0])


_WORKBOOKS = (".xlsx", ".xlsm")
_UNSEEN = (".xls", ".xlsb", ".ods")


def _tables(folder: Folder, path: str) -> tuple[list[RawTable], str]:
    """Return the tables of a private file, and why it can't be read, "" where it can or is no table."""
    kind = PurePosixPath(path).suffix.lower()
    if not path.startswith("private/") or kind not in (".csv", *_WORKBOOKS, *_UNSEEN):
        return [], ""
    if kind in _UNSEEN:
        return [], worded("a workbook in a format that is not read")
    content = folder.content(path) or b""
    if kind in _WORKBOOKS:
        return book_tables(content)
    declared, _, _ = read_reading(folder.content(SETTINGS_FILE) or b"")
    how = declared.get(path, FilePart())
    table, problems = read_csv(path, content, encoding=how.encoding, delimiter=how.delimiter)
    if table is None:
        return [], problems[0].found if problems else worded("a file that can't be read")
    return [table], ""


def _words(table: RawTable) -> Iterator[str]:
    columns = [at for at, name in enumerate(table.header) if name.strip().lower() in PRIVATE_COLUMNS]
    for row in table.rows:
        yield from (row[at].strip() for at in columns)


def private_readable(survey: Survey) -> Iterator[Finding]:
    """Every private table can be read, so that its words are known."""
    severity = _severity(survey)
    for path in survey.folder.files:
        if found := _tables(survey.folder, path)[1]:
            wanted = worded("a readable table, so that its contents can be withheld")
            yield find("private-unreadable", path, Where(path), found, wanted, kind="file", severity=severity)


def withheld_known(survey: Survey) -> Iterator[Finding]:
    """What the settings withhold is a class by its very name, or no class at all."""
    for name in survey.settings.publish.withhold:
        meant = get_close_matches(name.lower().replace(" ", "_"), PUBLISH_CLASSES, n=1, cutoff=0.75)
        if meant and name not in PUBLISH_CLASSES:
            where = setting_where(survey, "publish.withhold")
            do = worded("write {name}, or another term that is not the name of a class", name=meant[0])
            yield find("withhold-misspelt", name, where, repr(name), repr(meant[0]), do=do, kind="setting")


def _severity(survey: Survey) -> Severity:
    """Return the severity of what must not leave the house, by who may see the output."""
    return Severity.FLAG if survey.settings.publish.level == "internal" else Severity.STOP


def personal(text: str, private: Iterable[str]) -> list[str]:
    """Return what in a text is or looks like personal data.

    >>> personal("Rang Ms Example on 555-0142, 2025-10-23, 1634-04-4.", ["Example"])
    ['Example', '555-0142']
    """
    found = [word for word in private if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text, re.IGNORECASE)]
    found += _EMAIL.findall(text)
    for match in _PHONE.finditer(text):
        digits = sum(sign.isdigit() for sign in match[0])
        if digits >= _PHONE_DIGITS and not _NOT_PHONE.fullmatch(match[0]) and match[0] not in found:
            found.append(match[0])
    return found


def nothing_personal(survey: Survey) -> Iterator[Finding]:
    """Nothing that is published holds personal data."""
    severity = _severity(survey)
    private = private_words(survey.folder)
    for table in survey.tables.values():
        yield from _cells(table, private, severity)
    for section, text in sorted(survey.texts.items()):
        for number, line in enumerate(text.splitlines(), start=1):
            words = personal(line, private)
            if words:
                yield _say(f"text+{section}+{number}", Where(text_file(section), number), words, severity, "text")


def mask(words: str) -> str:
    """Write personal data so that they are known by whoever has the cell, and by nobody else.

    >>> mask("Varnhollow"), mask("555-0142")
    ('V…', '5…')
    """
    return f"{words[0]}…"


def without_quotes(survey: Survey, findings: Iterable[Finding]) -> Iterator[Finding]:
    """Yield the findings, personal data masked where they quote a cell or a text."""
    private = private_words(survey.folder)
    for finding in findings:
        where = finding.where
        if _is_prose(where) or where.file.startswith(("text/", THEME_FOLDER)):
            yield replace(finding, found=_mask_in(finding.found, private))
        else:
            yield finding


def _is_prose(where: Where) -> bool:
    """Tell whether a place is in a column of free text."""
    spec, name = table_at(where)
    columns = spec.columns if spec else ()
    return any(c.name == name and c.kind is Kind.TEXT and name not in NOT_PROSE for c in columns)


def _mask_in(text: str, private: Iterable[str]) -> str:
    for words in personal(text, private):
        text = re.sub(rf"(?<!\w){re.escape(words)}(?!\w)", lambda match: mask(match[0]), text, flags=re.IGNORECASE)
    return text


def _cells(table: SurveyTable, private: tuple[str, ...], severity: Severity) -> Iterator[Finding]:
    for column in table.spec.columns:
        if column.kind is not Kind.TEXT or column.name in NOT_PROSE:
            continue
        cells = table.frame[column.name]
        words = {text: found for text in cells.unique() if text and (found := personal(text, private))}
        for at in cells.index[cells.isin(words)][:MAX_TOLD] if words else ():
            subject = f"{table.spec.name}+{key_of(table, at) or at}+{column.name}"
            yield _say(subject, table.where(at, column.name), words[cells[at]], severity, table.spec.name)


def _say(subject: str, where: Where, words: list[str], severity: Severity, kind: str) -> Finding:
    """Make the finding, which never repeats what it found and stands before others of its severity."""
    place = worded("in the column {column}", column=table_at(where)[1]) if where.column else worded("in the text")
    finding = find(
        "personal-data",
        subject,
        where,
        worded("possible personal data {place}: {words}", place=place, words=enumeration(map(_describe, words))),
        worded("roles instead of names; no numbers or addresses"),
        kind=kind,
        severity=severity,
    )
    return replace(finding, order=-1)


def _describe(words: str) -> str:
    kind = (
        worded("an address")
        if "@" in words
        else worded("a number")
        if sum(map(str.isdigit, words)) >= _PHONE_DIGITS
        else worded("a name")
    )
    return f"{kind} ({mask(words)})"


RULES = (nothing_personal, private_readable, withheld_known)
