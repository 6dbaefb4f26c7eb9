"""Load a project folder into a :class:`Survey`, gathering every problem on the way."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path, PurePosixPath
from typing import Any

import pandas as pd

from sitegen import __version__
from sitegen.problems import Finding, Severity, Where
from sitegen.project import cells
from sitegen.project.csvtext import RawTable, read_csv
from sitegen.project.features import read_features
from sitegen.project.folder import Folder, read_folder
from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE, Column, Kind, Presence, TableSpec
from sitegen.project.settings import FilePart, Settings, read_settings
from sitegen.project.survey import Feature, Survey, SurveyTable
from sitegen.project.tables import TABLES

UNDIGESTED = ("review/signoff.csv", "private/")
"""The sign-off can't sign itself; private files are not part of what is signed or archived."""


def load(root: Path) -> tuple[Survey | None, list[Finding]]:
    """Read the folder at ``root``.

    Returns the survey, or None where it can't be put together, and all findings.
    Raises WrongUse where ``root`` is no folder.
    """
    folder = read_folder(root)
    findings = list(folder.findings)
    settings, problems = _settings(folder)
    findings += problems
    declared = settings.files if settings else {}
    place = settings.project.time_zone if settings else "UTC"
    tables: dict[str, SurveyTable] = {}
    for spec in TABLES:
        tables[spec.name], problems = read_table(spec, folder, declared.get(spec.path, FilePart()), place)
        findings += problems
    features, problems = _features(folder)
    findings += problems
    texts, problems = _texts(folder)
    findings += problems + _passed_over(folder, set(tables))
    if settings is None:
        return None, findings
    return Survey(settings, tables, features, texts, folder, content_digest(folder)), findings


def content_digest(folder: Folder) -> str:
    """Return the digest that a sign-off is bound to, 64 hex digits.

    It is the SHA-256 of one line ``<sha256>  <path>`` for each input file in path order,
    each ended by a line feed, after a first line ``sitegen <version>``. Left out are
    ``review/signoff.csv`` and everything below ``private/``.
    """
    lines = [f"sitegen {__version__}\n"]
    for path in sorted(folder.files):
        if not path.startswith(UNDIGESTED):
            lines.append(f"{folder.files[path].sha256}  {path}\n")
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def read_table(
    spec: TableSpec, folder: Folder, declared: FilePart, place: str
) -> tuple[SurveyTable, list[Finding]]:
    """Read one table of the folder; an absent or unusable file gives an empty table."""
    content = folder.content(spec.path)
    if content is None:
        return _empty(spec), _absent(spec)
    raw, findings = read_csv(spec.path, content, encoding=declared.encoding, delimiter=declared.delimiter)
    if raw is None:
        return _empty(spec), findings
    findings += _header(spec, raw)
    table, problems = type_table(spec, raw, place)
    return table, findings + problems


def type_table(spec: TableSpec, raw: RawTable, place: str) -> tuple[SurveyTable, list[Finding]]:
    """Turn a table of text into typed columns, and tell what does not fit the format."""
    told = cells.Told(spec)
    text = {name: [cells.tidy(row[at]) for row in raw.rows] for at, name in enumerate(raw.header)}
    blank = [""] * len(raw.rows)
    zones = [tz or place for tz in text.get("tz", blank)]
    columns: dict[str, list[Any]] = {}
    for column in spec.columns:
        values = text.get(column.name, blank)
        its_zones = zones if column.zone else [place] * len(blank)
        columns |= cells.read_column(column, values, raw.numbers, its_zones, told)
        _blank_cells(column, values, raw, told)
    columns |= {name: text[name] for name in raw.header if name.startswith("x_")}
    _duplicate_keys(spec, text, raw, told)
    frame = _frame(spec, columns, raw)
    as_received = pd.DataFrame(list(raw.rows), columns=list(raw.header), dtype=object)
    return SurveyTable(spec, frame, as_received, present=True), told.close()


def _frame(spec: TableSpec, columns: Mapping[str, list[Any]], raw: RawTable) -> pd.DataFrame:
    numeric = {c.name for c in spec.columns if c.kind in (Kind.NUMBER, Kind.INTEGER)}
    numeric |= {f"{c.name}_utc" for c in spec.columns if c.kind is Kind.TIME}
    series = {
        name: pd.Series(values, dtype="float64" if name in numeric else object)
        for name, values in columns.items()
    }
    series["_file"] = pd.Series([spec.path] * len(raw.rows), dtype=object)
    series["_row"] = pd.Series(list(raw.numbers), dtype="int64")
    return pd.DataFrame(series)


def _empty(spec: TableSpec) -> SurveyTable:
    raw = RawTable(spec.column_names, (), ())
    table, _ = type_table(spec, raw, "UTC")
    return SurveyTable(spec, table.frame, table.raw, present=False)


def _absent(spec: TableSpec) -> list[Finding]:
    if spec.presence is Presence.OPTIONAL:
        return []
    required = spec.presence is Presence.REQUIRED
    return [
        Finding(
            "file-missing" if required else "file-absent",
            Severity.STOP if required else Severity.FLAG,
            spec.path,
            Where(spec.path),
            "no such file",
            f"a file with the columns {', '.join(c.name for c in spec.columns if c.required)}",
            f"add {spec.path}: {spec.meaning[0].lower()}{spec.meaning[1:]}",
            "file",
        )
    ]


def _header(spec: TableSpec, raw: RawTable) -> list[Finding]:
    findings = []
    known = set(spec.column_names)
    missing = [name for name in spec.column_names if name not in raw.header]
    for name in raw.header:
        if name in known or name.startswith("x_"):
            continue
        nearest = get_close_matches(name.lower(), missing, n=1, cutoff=0.6)
        do = f"rename it to {nearest[0]}" if nearest else "begin its name with x_ to carry it along"
        where = Where(spec.path, 1, name)
        findings.append(
            Finding(
                "column-unknown",
                Severity.NOTE,
                f"{spec.path}+{name}",
                where,
                f"the column {name}",
                "a column of the format",
                do,
                "file",
            )
        )
    for column in spec.columns:
        if column.required and column.name in missing:
            where = Where(spec.path, 1, column.name)
            findings.append(
                Finding(
                    "column-missing",
                    Severity.STOP,
                    f"{spec.path}+{column.name}",
                    where,
                    "no such column",
                    f"{column.name}: {column.meaning}",
                    _missing_hint(column.name, raw, known),
                    "file",
                )
            )
    return findings


def _missing_hint(name: str, raw: RawTable, known: set[str]) -> str:
    strangers = {other.lower(): other for other in raw.header if other not in known}
    nearest = get_close_matches(name, list(strangers), n=1, cutoff=0.6)
    return f"rename {strangers[nearest[0]]} to {name}" if nearest else f"add the column {name}"


def _blank_cells(column: Column, values: list[str], raw: RawTable, told: cells.Told) -> None:
    if not column.required or column.name not in raw.header:
        return
    problem = ("cell-blank", Severity.STOP, f"{column.meaning}", f"fill in {column.name}")
    for value, row in zip(values, raw.numbers, strict=True):
        if not value:
            told.add(problem, row, column.name, "a blank cell", f"{told.spec.path}+{row}")


def _duplicate_keys(spec: TableSpec, text: dict[str, list[str]], raw: RawTable, told: cells.Told) -> None:
    if not spec.key or any(name not in text for name in spec.key):
        return
    seen: dict[tuple[str, ...], int] = {}
    for at, row in enumerate(raw.numbers):
        key = tuple(text[name][at] for name in spec.key)
        if key in seen:
            problem = (
                "duplicate-key",
                Severity.STOP,
                f"each {' + '.join(spec.key)} once",
                "remove one of the two rows",
            )
            told.add(problem, row, spec.key[-1], f"{' + '.join(key)}, as in row {seen[key]}", "+".join(key))
        seen.setdefault(key, row)


def _settings(folder: Folder) -> tuple[Settings | None, list[Finding]]:
    content = folder.content(SETTINGS_FILE)
    if content is None:
        return None, [
            Finding(
                "file-missing",
                Severity.STOP,
                SETTINGS_FILE,
                Where(SETTINGS_FILE),
                "no such file",
                "the project's settings",
                "copy project.toml from the template and fill it in",
                "file",
            )
        ]
    return read_settings(content)


def _features(folder: Folder) -> tuple[tuple[Feature, ...], list[Finding]]:
    content = folder.content(FEATURES_FILE)
    if content is None:
        return (), [
            Finding(
                "file-absent",
                Severity.FLAG,
                FEATURES_FILE,
                Where(FEATURES_FILE),
                "no such file",
                "site boundary, buildings and utilities as GeoJSON",
                f"add {FEATURES_FILE}",
                "file",
            )
        ]
    return read_features(content)


def _texts(folder: Folder) -> tuple[dict[str, str], list[Finding]]:
    texts: dict[str, str] = {}
    findings = []
    for path, file in folder.files.items():
        pure = PurePosixPath(path)
        if pure.parent.as_posix() != "text" or pure.suffix != ".md":
            continue
        try:
            texts[pure.stem] = file.content.decode("utf-8-sig")
        except UnicodeDecodeError:
            findings.append(
                Finding(
                    "encoding-wrong",
                    Severity.STOP,
                    path,
                    Where(path),
                    "bytes that are not utf-8",
                    "UTF-8 text",
                    "save the file as UTF-8",
                    "file",
                )
            )
    return texts, findings


def _passed_over(folder: Folder, names: set[str]) -> list[Finding]:
    known = {spec.path for spec in TABLES if spec.name in names} | {FEATURES_FILE, SETTINGS_FILE}
    findings = []
    for path in folder.files:
        parts = PurePosixPath(path).parts
        if path in known or parts[0] in ("photos", "records", "private", "text"):
            continue
        if parts[0] == "lab" and PurePosixPath(path).suffix in (".toml", ".csv", ".xlsx"):
            continue
        nearest = get_close_matches(path, sorted(known), n=1, cutoff=0.75)
        do = f"rename it to {nearest[0]}" if nearest else "move it to records/ if it is part of the record"
        findings.append(
            Finding(
                "file-unknown",
                Severity.NOTE,
                path,
                Where(path),
                "a file that is not read",
                "the files of the format",
                do,
                "file",
            )
        )
    return findings
