"""What the fonts of the printed report can draw."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sitegen import glyphs
from sitegen.checks.catalogue import find
from sitegen.checks.rows import MAX_TOLD, key_of
from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import Kind, text_file
from sitegen.project.survey import Survey, SurveyTable
from sitegen.voice import worded

_LETTERS = frozenset({Kind.TEXT, Kind.ID, Kind.IDS})


def characters_print(survey: Survey) -> Iterator[Finding]:
    """Every character of a table or a text can be drawn in print."""
    for table in survey.tables.values():
        yield from _cells(table)
    for section, text in sorted(survey.texts.items()):
        for number, line in enumerate(text.splitlines(), start=1):
            if missing := glyphs.undrawable(line):
                yield _say(f"text+{section}+{number}", Where(text_file(section), number), missing, "text")


def _cells(table: SurveyTable) -> Iterator[Finding]:
    for column in table.spec.columns:
        if column.kind not in _LETTERS:
            continue
        cells = table.frame[column.name]
        missing = {text: lost for text in cells.unique() if not text.isascii() and (lost := glyphs.undrawable(text))}
        for at in cells.index[cells.isin(missing)][:MAX_TOLD] if missing else ():
            subject = f"{table.spec.name}+{key_of(table, at) or at}+{column.name}"
            yield _say(subject, table.where(at, column.name), missing[cells[at]], table.spec.name)


def _say(subject: str, where: Where, missing: Iterable[str], kind: str) -> Finding:
    names = "; ".join(glyphs.describe(char) for char in sorted(missing))
    return find(
        "character-not-printable",
        subject,
        where,
        names,
        worded("characters available in the fonts of the printed report"),
        kind=kind,
    )


RULES = (characters_print,)
