"""Personal data: private words, telephone numbers and e-mail addresses in what is published."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from difflib import get_close_matches

from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, enumeration, key_of, setting_where
from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.folder import Folder
from sitegen.project.read.csvtext import read_csv
from sitegen.project.schema import PUBLISH_CLASSES, THEME_FOLDER, Kind, text_file
from sitegen.project.survey import Survey, SurveyTable

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

    They are the cells of the columns name, surname, phone, email and address of every CSV.
    """
    words = {word for path, file in folder.files.items() if _is_private(path) for word in _words(path, file.content)}
    return tuple(sorted((w for w in words if len(w) >= MIN_PRIVATE_CHARS), key=lambda word: (-len(word), word)))


def _is_private(path: str) -> bool:
    return path.startswith("private/") and path.endswith(".csv")


def _words(path: str, content: bytes) -> Iterator[str]:
    table, _ = read_csv(path, content)
    if table is None:
        return
    columns = [at for at, name in enumerate(table.header) if name.strip().lower() in PRIVATE_COLUMNS]
    for row in table.rows:
        yield from (row[at].strip() for at in columns)


def private_readable(survey: Survey) -> Iterator[Finding]:
    """Every private table can be read, so that its words are known."""
    severity = _severity(survey)
    for path, file in survey.folder.files.items():
        if _is_private(path):
            table, problems = read_csv(path, file.content)
            if table is None:
                found = problems[0].found if problems else "a file that can't be read"
                wanted = "a table whose words can be kept out of the report"
                yield find("private-unreadable", path, Where(path), found, wanted, kind="file", severity=severity)


def withheld_known(survey: Survey) -> Iterator[Finding]:
    """What the settings withhold is a class by its very name, or no class at all."""
    for name in survey.settings.publish.withhold:
        meant = get_close_matches(name.lower().replace(" ", "_"), PUBLISH_CLASSES, n=1, cutoff=0.75)
        if meant and name not in PUBLISH_CLASSES:
            where = setting_where(survey, "publish.withhold")
            do = f"write {meant[0]}, or other words for what is no class"
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
    prose = {
        (table.spec.path, column.name)
        for table in survey.tables.values()
        for column in table.spec.columns
        if column.kind is Kind.TEXT and column.name not in NOT_PROSE
    }
    for finding in findings:
        where = finding.where
        if (where.file, where.column) in prose or where.file.startswith(("text/", THEME_FOLDER)):
            yield replace(finding, found=_mask_in(finding.found, private))
        else:
            yield finding


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
    place = f"in the column {where.column}" if where.column else "in the text"
    finding = find(
        "personal-data",
        subject,
        where,
        f"what looks like personal data {place}: {enumeration(map(_describe, words))}",
        "roles instead of names, no numbers or addresses",
        kind=kind,
        severity=severity,
    )
    return replace(finding, order=-1)


def _describe(words: str) -> str:
    kind = "an address" if "@" in words else "a number" if sum(map(str.isdigit, words)) >= _PHONE_DIGITS else "a name"
    return f"{kind} ({mask(words)})"


RULES = (nothing_personal, private_readable, withheld_known)
