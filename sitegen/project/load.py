"""Load a project folder into a :class:`Survey`, gathering every problem on the way."""

from __future__ import annotations

import hashlib
import re
from difflib import get_close_matches
from pathlib import Path, PurePosixPath

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.files import lab_tables, missing_name
from sitegen.project.delivery.tables import delivered_tables
from sitegen.project.features import read_features
from sitegen.project.folder import Folder, read_folder
from sitegen.project.limits import SECTION_BYTES
from sitegen.project.prose import text_faults
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.read.ranges import within_ranges
from sitegen.project.read.typed import empty_table, type_table
from sitegen.project.reading import read_reading
from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE, Presence, TableSpec
from sitegen.project.settings import FilePart, Settings, ThemePart, read_settings
from sitegen.project.survey import Feature, Survey, SurveyTable
from sitegen.project.tables import TABLES

UNDIGESTED = ("review/signoff.csv", "private/")
"""The sign-off can't sign itself; private files are not part of what is signed or archived."""


_OR_MAPPED = dict.fromkeys(
    ("results", "analytes", "lab_samples"), " Or map the laboratory's own file with lab/<name>.map.toml."
)


def load(root: Path) -> tuple[Survey | None, list[Finding]]:
    """Read the folder at ``root``.

    Returns the survey, or None where it can't be put together, and all findings.
    Raises WrongUse where ``root`` is no folder.
    """
    return load_folder(read_folder(root))


def load_folder(folder: Folder) -> tuple[Survey | None, list[Finding]]:
    """Read a folder that is in memory, as :func:`load` does."""
    findings = list(folder.findings)
    settings, problems = _settings(folder)
    findings += problems
    declared, unclear, place = read_reading(folder.content(SETTINGS_FILE) or b"")
    tables: dict[str, SurveyTable] = {}
    for spec in TABLES:
        tables[spec.name], problems = read_table(spec, folder, declared.get(spec.path, FilePart()), place)
        findings += [] if spec.path in unclear else problems
    supplied, sources, problems = delivered_tables(folder, declared, tables, place)
    tables |= supplied
    findings += [] if unclear else problems
    absent = [spec for spec in TABLES if folder.content(spec.path) is None and spec.name not in supplied]
    findings += [problem for spec in absent for problem in _absent(spec)]
    features, problems = _features(folder)
    findings += problems
    texts, problems = _texts(folder, settings)
    findings += problems + _passed_over(folder, sources | _theme_files(settings))
    if settings is None:
        return None, findings
    return Survey(settings, tables, features, texts, folder, content_digest(folder)), findings


def content_digest(folder: Folder) -> str:
    """Return the digest that a sign-off is bound to, 64 hex digits.

    It is the SHA-256 of one line ``<sha256>  <path>`` for each input file in path order, each
    ended by a line feed, as ``sha256sum`` writes them. Left out are ``review/signoff.csv`` and
    everything below ``private/``. A newer program gives the same digest: who signed the records
    has signed them whatever reads them, and the version is told beside it.
    """
    lines = []
    for path in sorted(folder.files):
        if not path.startswith(UNDIGESTED):
            lines.append(f"{folder.files[path].sha256}  {path}\n")
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def read_table(spec: TableSpec, folder: Folder, declared: FilePart, place: str) -> tuple[SurveyTable, list[Finding]]:
    """Read one table of the folder; an absent or unusable file gives an empty table."""
    content = folder.content(spec.path)
    if content is None:
        return empty_table(spec), []
    raw, findings = read_csv(spec.path, content, encoding=declared.encoding, delimiter=declared.delimiter)
    if raw is None:
        return empty_table(spec), findings
    findings += _header(spec, raw)
    table, problems = type_table(spec, raw, place)
    table, outside = within_ranges(table)
    return table, findings + problems + outside


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
            f"a file with the columns {', '.join(c.name for c in spec.columns if c.required or c.needed)}",
            f"add {spec.path}: {spec.meaning[0].lower()}{spec.meaning[1:]}{_OR_MAPPED.get(spec.name, '')}",
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
        do = f"{_rename_hint(name, missing)}; to carry it along as it is, begin its name with x_"
        where = Where(spec.path, 1, name)
        findings.append(
            Finding(
                "column-unknown",
                Severity.FLAG,
                f"{spec.path}+{name}",
                where,
                f"the column {name}",
                "a column of the format",
                do,
                "file",
            )
        )
    for column in spec.columns:
        if (column.required or column.needed) and column.name in missing:
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


def _rename_hint(name: str, missing: list[str]) -> str:
    """Say which column may be meant: all of one quantity, since only the person knows the unit.

    >>> _rename_hint("Depth", ["depth_ft", "depth_m", "sleeve"])
    'its values are not read; rename it to depth_ft or depth_m, whichever its values are in'
    """
    plain = re.sub(r"[\W_]+", "_", name.lower())
    alike = sorted(other for other in missing if other.rpartition("_")[0] == plain)
    if len(alike) > 1:
        return f"its values are not read; rename it to {' or '.join(alike)}, whichever its values are in"
    nearest = alike or get_close_matches(plain, missing, n=1, cutoff=0.6)
    return f"its values are not read; rename it to {nearest[0]}" if nearest else "its values are not read"


def _missing_hint(name: str, raw: RawTable, known: set[str]) -> str:
    strangers = {other.lower(): other for other in raw.header if other not in known}
    nearest = get_close_matches(name, list(strangers), n=1, cutoff=0.6)
    return f"rename {strangers[nearest[0]]} to {name}" if nearest else f"add the column {name}"


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


def _theme_files(settings: Settings | None) -> frozenset[str]:
    """Return the files that the project's own look consists of."""
    theme = settings.theme if settings else ThemePart()
    return frozenset({theme.logo, theme.stylesheet, *theme.pages} - {""})


def _texts(folder: Folder, settings: Settings | None) -> tuple[dict[str, str], list[Finding]]:
    """Return the sections of the narrative by name, and the project's own pages by name with their folder."""
    texts: dict[str, str] = {}
    findings: list[Finding] = []
    read_bytes = 0
    own = settings.theme.pages if settings else ()
    for path, file in folder.files.items():
        pure = PurePosixPath(path)
        section = pure.parent.as_posix() == "text" and pure.suffix == ".md"
        if not section and path not in own:
            continue
        name = pure.stem if section else path.removesuffix(".md")
        try:
            text = file.content.decode("utf-8-sig")
            findings += text_faults(path, text, read_bytes)
            read_bytes += file.size
            texts[name] = text[: SECTION_BYTES.value]
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


def _passed_over(folder: Folder, sources: frozenset[str]) -> list[Finding]:
    known = {spec.path for spec in TABLES} | {FEATURES_FILE, SETTINGS_FILE}
    elsewhere = known | sources | set(lab_tables(folder))
    findings = []
    for path in folder.files:
        if path in elsewhere or PurePosixPath(path).parts[0] in ("photos", "records", "private", "text"):
            continue
        meant = missing_name(path, known - folder.files.keys())
        do = f"rename it to {meant}" if meant else "move it to records/ if it is part of the record"
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
