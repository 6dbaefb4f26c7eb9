"""What to declare of a file whose dates or numbers have another form, where their cells tell it.

A declaration is proposed as the lines to write into ``project.toml``, and only where every cell
of the file fits it. Where two fit, both are named: which is meant is for a person to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from sitegen.findings.problems import Finding
from sitegen.project.intake.reform import DAYS, NUMBERS, Typed, in_our_forms, plain_number
from sitegen.project.read.cells import number, tidy
from sitegen.project.read.csvtext import RawTable
from sitegen.project.read.forms import as_iso, forms_of
from sitegen.project.schema import Kind, TableSpec
from sitegen.project.settings import FilePart
from sitegen.project.zones import read_time

_DAY_CODES = ("time-unreadable", "date-unreadable")
_SIGNS = ((",", ""), (",", "."), (",", " "), (",", "'"), (".", ","), (".", " "), (".", "'"))
"""Decimal sign and sign between thousands, as they are in use; the first that all cells fit needs the least."""


def with_proposals(
    findings: Sequence[Finding], spec: TableSpec, received: RawTable, file: str, how: FilePart, typed: Typed
) -> list[Finding]:
    """Return the findings of a table, those of dates and numbers with what to declare in their way out."""
    codes = {finding.code for finding in findings}
    said: dict[str, str] = {}
    if codes & set(_DAY_CODES) and (do := _days(spec, received, file, how, typed)):
        said |= dict.fromkeys(_DAY_CODES, do)
    if "number-unreadable" in codes and (do := _numbers(spec, received, file, how, typed)):
        said["number-unreadable"] = do
    return [replace(f, do=said[f.code]) if f.code in said else f for f in findings]


def lines(file: str, *settings: str) -> str:
    """Return the lines of ``project.toml`` as a sentence quotes them.

    >>> lines("field/a.csv", 'decimal = ","')
    'under [files."field/a.csv"] in project.toml: decimal = ","'
    """
    return f'under [files."{file}"] in project.toml: {" and ".join(settings)}'


def _cells(spec: TableSpec, received: RawTable, kinds: Iterable[Kind], typed: Typed) -> Iterator[tuple[Kind, set[str]]]:
    """Yield each column of some kinds that the file has, with its distinct cells of text."""
    known = {column.name: column.kind for column in spec.columns if column.kind in kinds}
    for at, name in enumerate(received.header):
        if name in known:
            exempt = typed.get(name, frozenset())
            pairs = zip(received.rows, received.numbers, strict=True)
            texts = {tidy(row[at]) for row, row_number in pairs if row_number not in exempt}
            yield known[name], texts - {""}


# --- dates and times -------------------------------------------------------------------------


def _days(spec: TableSpec, received: RawTable, file: str, how: FilePart, typed: Typed) -> str:
    """Return what to declare of dates and times; nothing where no form fits them all."""
    texts: dict[Kind, set[str]] = {Kind.TIME: set(), Kind.DATE: set()}
    for kind, cells in _cells(spec, received, DAYS, typed):
        texts[kind] |= {text for text in cells if not _is_ours(text, kind)}
    fitting = [form for form in _candidates(texts) if form != how.dates]
    instead = f' in place of dates = "{how.dates}"' if how.dates else ""
    if len(fitting) == 1:
        return f"write {lines(file, _dates(fitting[0]))}{instead}"
    if 1 < len(fitting) <= 3 and not how.dates:
        return f"write, whichever applies, {lines(file, ' or '.join(map(_dates, fitting)))}"
    return ""


def _dates(form: str) -> str:
    return f'dates = "{form}"'


def _is_ours(text: str, kind: Kind) -> bool:
    if kind is Kind.TIME:
        return read_time(text, "UTC").state != "unreadable"
    return len(text) == 10 and as_iso(text, "year-month-day") is not None


def _candidates(texts: Mapping[Kind, set[str]]) -> list[str]:
    """Return the forms that all times fit in full, and of which all dates fit the date."""
    times, days = texts[Kind.TIME], texts[Kind.DATE]
    if not times:
        return list(forms_of(days))
    return [form for form in forms_of(times) if all(as_iso(text, form) for text in days)]


# --- numbers ---------------------------------------------------------------------------------


def _numbers(spec: TableSpec, received: RawTable, file: str, how: FilePart, typed: Typed) -> str:
    """Return what to declare of numbers; nothing where their cells fit no form, or one that is declared."""
    declared = how.decimal != "." or how.thousands
    texts = set().union(*(cells for _, cells in _cells(spec, received, NUMBERS, typed)))
    fitting = [signs for signs in _SIGNS if all(plain_number(text, *signs) for text in texts)]
    needed = [signs for signs in fitting if not signs[1] or not all(plain_number(text, signs[0]) for text in texts)]
    readable = [signs for signs in needed if _reads_all(spec, received, signs, typed)]
    if declared or not texts or not readable:
        return _as_declared(how) if declared else ""
    settings = [_settings(*signs) for signs in readable]
    if len(settings) == 1:
        return f"write {lines(file, *settings[0])}"
    return f"write, whichever applies, {lines(file, ' or '.join(' and '.join(one) for one in settings))}"


def _reads_all(spec: TableSpec, received: RawTable, signs: tuple[str, str], typed: Typed) -> bool:
    """Tell whether with these signs every number is one of the format's."""
    how = FilePart.model_validate({"decimal": signs[0], "thousands": signs[1]})
    turned = in_our_forms(spec, received, how, typed)
    return all(_is_number(text, kind) for kind, cells in _cells(spec, turned, NUMBERS, typed) for text in cells)


def _is_number(text: str, kind: Kind) -> bool:
    return number(text) is not None and (kind is Kind.NUMBER or text.lstrip("+-").isdigit())


def _settings(decimal: str, thousands: str) -> list[str]:
    decimals = [f'decimal = "{decimal}"'] if decimal != "." else []
    return decimals + ([f'thousands = "{thousands}"'] if thousands else [])


def _as_declared(how: FilePart) -> str:
    between = f"{how.thousands!r} or nothing" if how.thousands else "nothing"
    return f"write it with {how.decimal!r} for decimals and {between} between thousands, as declared in project.toml"
