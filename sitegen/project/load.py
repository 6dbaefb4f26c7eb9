"""Load a project folder into a :class:`Survey`, gathering every problem on the way."""

from __future__ import annotations

import hashlib
from pathlib import Path, PurePosixPath

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.delivery.files import lab_tables, missing_name
from sitegen.project.delivery.mapping import mapped_files
from sitegen.project.delivery.tables import delivered_tables
from sitegen.project.featurefiles import NAMES, feature_files, site_features
from sitegen.project.folder import Folder, read_folder
from sitegen.project.intake.complete import complete
from sitegen.project.intake.text import table_texts
from sitegen.project.intake.typed import typed_tables
from sitegen.project.limits import SECTION_BYTES
from sitegen.project.measuredpoints import measured_positions
from sitegen.project.prose import text_faults
from sitegen.project.reading import read_reading
from sitegen.project.schema import BOOK_FILE, EARLIER, SECOND_LOG, SETTINGS_FILE, Presence, TableSpec
from sitegen.project.settings import FeaturesPart, Settings, ThemePart, read_settings
from sitegen.project.survey import Survey
from sitegen.project.systemwords import site_degrees, with_systems
from sitegen.project.tables import TABLES
from sitegen.voice import worded

UNDIGESTED = ("review/signoff.csv", "review/signoff.xlsx", "private/")
"""The sign-off can't sign itself; private files are not part of what is signed or archived."""


_OR_MAPPED = dict.fromkeys(
    ("results", "analytes", "lab_samples"), " Or map the laboratory's file with lab/<name>.map.toml."
)
_OTHER_BOOKS = tuple(f"{PurePosixPath(BOOK_FILE).stem}{kind}" for kind in (".xls", ".xlsm", ".xlsb", ".ods"))
"""What a workbook of all tables is called that was saved in another format."""


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
    stated = folder.content(SETTINGS_FILE) or b""
    declared, unclear, place = read_reading(stated)
    found = table_texts(folder, declared, mapped_files(folder))
    texts, problems = complete(found.tables, stated)
    findings += problems
    texts, measured, at_points = measured_positions(folder, settings, texts)
    tables, typed = typed_tables(texts, place)
    findings += [one for one in (*found.findings, *at_points, *typed) if one.where.file not in unclear]
    supplied, sources, problems = delivered_tables(folder, declared, tables, place)
    tables |= supplied
    findings += [] if unclear else problems
    absent = [spec for spec in found.absent if spec.name not in supplied]
    findings += [problem for spec in absent for problem in _absent(spec, folder)]
    features, problems = site_features(folder, settings)
    findings += problems
    prose, problems = read_texts(folder, settings)
    read = sources | found.files | _theme_files(settings) | _place_files(folder, settings)
    findings += problems + _passed_over(folder, read, [path for spec in found.absent for path in _may_be(spec)])
    if settings is None:
        return None, with_systems(findings, site_degrees(features, tables))
    return Survey(settings, tables, features, prose, folder, content_digest(folder), measured=measured), findings


def content_digest(folder: Folder) -> str:
    """Return the digest that a sign-off is bound to, 64 hex digits.

    It is the SHA-256 of one line ``<sha256>  <path>`` for each input file in path order, each
    ended by a line feed, as ``sha256sum`` writes them. Left out are ``review/signoff.csv``, or that
    table as a workbook, and everything below ``private/``. A newer program gives the same digest:
    who signed the records has signed them whatever reads them, and the version is told beside it.
    """
    lines = []
    for path in sorted(folder.files):
        if not path.startswith(UNDIGESTED):
            lines.append(f"{folder.files[path].sha256}  {path}\n")
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def _absent(spec: TableSpec, folder: Folder) -> list[Finding]:
    if spec.presence is Presence.OPTIONAL:
        return []
    required = spec.presence is Presence.REQUIRED
    book = BOOK_FILE in folder.files
    other = next((path for path in folder.passed_over if path in _OTHER_BOOKS), "")
    facts = {"other": other, "book": BOOK_FILE, "path": spec.path, "name": spec.name}
    add = worded("save {other} as {book}", **facts) if other else worded("add {path}", **facts)
    add = worded("add the sheet {name} to {book}, or {path}", **facts) if book else add
    columns, meaning = ", ".join(c.name for c in spec.columns if c.required or c.needed), worded(spec.meaning)
    mapped = worded(_OR_MAPPED[spec.name]) if spec.name in _OR_MAPPED else ""
    return [
        Finding(
            "file-missing" if required else "file-absent",
            Severity.STOP if required else Severity.FLAG,
            spec.path,
            Where(BOOK_FILE if book else spec.path, None, f"{spec.name}!" if book else None),
            worded("no such sheet, or a blank one") if book else worded("no such file"),
            worded("a sheet with the columns {columns}", columns=columns)
            if book
            else worded("a file with the columns {columns}", columns=columns),
            f"{add}: {meaning[0].lower()}{meaning[1:]}{mapped}",
            "file",
        )
    ]


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


def _place_files(folder: Folder, settings: Settings | None) -> frozenset[str]:
    """Return the files that features and points are read from, or that are told where they are not."""
    points = settings.points.file if settings else ""
    return frozenset({*NAMES, *feature_files(settings.features if settings else FeaturesPart(), folder), points})


def _theme_files(settings: Settings | None) -> frozenset[str]:
    """Return the files that the project's own look consists of."""
    theme = settings.theme if settings else ThemePart()
    return frozenset({theme.logo, theme.stylesheet, *theme.pages} - {""})


def read_texts(folder: Folder, settings: Settings | None) -> tuple[dict[str, str], list[Finding]]:
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


def _may_be(spec: TableSpec) -> tuple[str, ...]:
    """Return the files that a table may be in; a workbook in ``lab/`` is the laboratory's own until it has its key."""
    return (spec.path,) if spec.path.startswith("lab/") else (spec.path, spec.book_path)


def _passed_over(folder: Folder, sources: frozenset[str], tables: list[str]) -> list[Finding]:
    known = {spec.path for spec in TABLES} | {*NAMES, SETTINGS_FILE, SECOND_LOG}
    missing = {*tables, *({*NAMES, SETTINGS_FILE} - folder.files.keys())}
    elsewhere = known | sources | set(lab_tables(folder, sources))
    findings = []
    for path in folder.files:
        if path in elsewhere or PurePosixPath(path).parts[0] in ("photos", "records", "private", "text", EARLIER):
            continue
        meant = missing_name(path, missing)
        do = (
            worded("rename it to {name}", name=meant)
            if meant
            else worded("move it to records/ if it is part of the record")
        )
        findings.append(
            Finding(
                "file-unknown",
                Severity.NOTE,
                path,
                Where(path),
                worded("a file outside the folder format, not read"),
                worded("files of the folder format"),
                do,
                "file",
            )
        )
    return findings
