"""Folders with a defect: the example survey with one small change, made in memory or on disk.

    survey_findings(changed(cell("field/samplers.csv", "0047102", "kind", "spare")))

A change is a function from a file's bytes to its new bytes, at a path; rows are found by
the value of the table's key, joined by ``+`` where it has several columns.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, TypeVar, get_type_hints

from sitegen.checks.run import check_decisions, check_evaluation, check_parts, check_reading, check_survey
from sitegen.checks.unread import independent
from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.rounds.split import parts
from sitegen.findings.problems import Finding, Severity
from sitegen.project.folder import Folder, InputFile, read_folder
from sitegen.project.load import load_folder
from sitegen.project.places import in_order
from sitegen.project.schema import Origin
from sitegen.project.survey import Survey
from sitegen.project.tables import TABLES
from sitegen.voice import Voice, voice

EXAMPLE = Path(__file__).parents[1] / "example_project"
EXAMPLE_FINDINGS = Path(__file__).parent / "checks/example_findings.txt"
KEYS = {spec.path: spec.key for spec in TABLES}
Row = dict[str, str]
R = TypeVar("R", bound=NamedTuple)
_BLANK = {str: "", float: float("nan"), bool: False, Origin: Origin("by_hand.csv", 2)}


def row_of(of: type[R], **fields: object) -> R:
    """Return a record of the type ``of`` with some fields filled in, the others as in a blank row."""
    blank = {name: _BLANK[kind] for name, kind in get_type_hints(of).items()}
    return of._make((blank | fields)[name] for name in of._fields)


@dataclass(frozen=True)
class Change:
    """A new content for one file; None removes the file, and an absent file is read as b""."""

    path: str
    edit: Callable[[bytes], bytes | None]


@cache
def example() -> Folder:
    """Return the example survey's folder, read once."""
    return read_folder(EXAMPLE)


def changed(*changes: Change, folder: Folder | None = None) -> Folder:
    """Return the example's folder with changes applied, one after another."""
    base = folder or example()
    files = dict(base.files)
    for change in changes:
        old = files.pop(change.path, None)
        content = change.edit(old.content if old else b"")
        if content is not None:
            files[change.path] = InputFile(change.path, hashlib.sha256(content).hexdigest(), content)
    return Folder(dict(sorted(files.items())), base.passed_over, base.findings)


def write(folder: Folder, root: Path) -> Path:
    """Write a folder to disk below ``root``, and return ``root``."""
    for path, file in folder.files.items():
        target = root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(file.content)
    return root


def load(folder: Folder) -> Survey:
    """Return the survey of a folder that can be put together."""
    survey, _ = load_folder(folder)
    assert survey is not None
    return survey


def survey_findings(folder: Folder) -> tuple[Finding, ...]:
    """Load and check a folder as a build does: a stop keeps it from being computed."""
    survey, read = load_folder(folder)
    if survey is None:
        return in_order(independent(read, read))
    findings = [*check_reading(survey, read), *check_survey(survey, read)]
    if not any(finding.severity is Severity.STOP for finding in findings):
        several = len(survey.settings.rounds) > 1
        findings += check_parts(parts(survey)) if several else check_evaluation(survey, _evaluated(survey))
        findings += check_decisions(survey, findings)
    return in_order(findings)


_EVALUATIONS: dict[str, Evaluation] = {}


_NO_PART = ("text/", "review/", "photos/", "private/", "records/", "field/weather.csv", "field/clearance.csv")
"""Files that nothing is computed from."""


def _evaluated(survey: Survey) -> Evaluation:
    """Return what is computed from a survey, once for each set of the files that it is computed from."""
    files = survey.folder.files.values()
    told = [f"{file.path} {file.sha256}" for file in files if not file.path.startswith(_NO_PART)]
    key = "\n".join([str(voice()), *told])
    if key not in _EVALUATIONS:
        _EVALUATIONS[key] = evaluate(survey)
    return _EVALUATIONS[key]


def example_findings() -> tuple[Finding, ...]:
    """Return the findings of the unchanged example."""
    return _example_findings(voice())


@cache
def _example_findings(_: Voice) -> tuple[Finding, ...]:
    """Return them in the voice that speaks."""
    return survey_findings(example())


@cache
def findings_on_paper() -> frozenset[tuple[str, str]]:
    """Return severity and key of the findings that the example is meant to have, as a person read them.

    What the program says of the unchanged example has no part in it: a false finding on the example
    is new in every test that asks for new ones.
    """
    lines = EXAMPLE_FINDINGS.read_text("utf-8").splitlines()
    return frozenset((line.split(" ", 1)[0], line.split(" ", 1)[1]) for line in lines if line and line[0] not in "# ")


def new_findings(folder: Folder) -> list[Finding]:
    """Return the findings that the unchanged example is not meant to have."""
    return [f for f in survey_findings(folder) if (f.severity.value, f.key) not in findings_on_paper()]


# --- changes of CSV tables -----------------------------------------------------------------


def rows_of(content: bytes) -> tuple[list[str], list[Row]]:
    """Return the header and the rows of a CSV file."""
    reader = csv.DictReader(io.StringIO(content.decode("utf-8"), newline=""))
    return list(reader.fieldnames or ()), list(reader)


def _csv(header: Iterable[str], rows: Iterable[Mapping[str, str]]) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(header), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode("utf-8")


def table(path: str, edit: Callable[[list[Row]], Iterable[Row]], *columns: str) -> Change:
    """Change the rows of a table as a whole; ``columns`` are added where the file lacks them."""

    def apply(content: bytes) -> bytes:
        header, rows = rows_of(content)
        names = [*header, *(name for name in columns if name not in header)]
        return _csv(names, edit([{name: row.get(name, "") for name in names} for row in rows]))

    return Change(path, apply)


def key_of(path: str, row: Mapping[str, str]) -> str:
    """Return a row's key, its columns joined by ``+``."""
    return "+".join(row[name] for name in KEYS[path])


def cells(path: str, key: str, **values: str) -> Change:
    """Set cells of the one row with a key."""

    def edit(rows: list[Row]) -> list[Row]:
        hits = [row for row in rows if key_of(path, row) == key]
        assert len(hits) == 1, f"{key} stands {len(hits)} times in {path}"
        hits[0].update(values)
        return rows

    return table(path, edit, *values)


def cell(path: str, key: str, column: str, value: str) -> Change:
    """Set one cell."""
    return cells(path, key, **{column: value})


def cell_at(path: str, number: int, column: str, value: str) -> Change:
    """Set one cell by its row number; the header is row 1."""

    def edit(rows: list[Row]) -> list[Row]:
        rows[number - 2][column] = value
        return rows

    return table(path, edit)


def without(path: str, *keys: str) -> Change:
    """Remove rows by their keys."""
    return table(path, lambda rows: [row for row in rows if key_of(path, row) not in keys])


def without_rows(path: str, gone: Callable[[Row], bool]) -> Change:
    """Remove every row that meets a condition."""
    return table(path, lambda rows: [row for row in rows if not gone(row)])


def row_added(path: str, **values: str) -> Change:
    """Append a row."""
    return table(path, lambda rows: [*rows, dict(values)], *values)


def every(path: str, change: Callable[[Row], Mapping[str, str]]) -> Change:
    """Change cells of every row."""
    return table(path, lambda rows: [row | dict(change(row)) for row in rows])


def column_renamed(path: str, old: str, new: str) -> Change:
    """Rename a column in the header."""

    def apply(content: bytes) -> bytes:
        header, rows = rows_of(content)
        names = [new if name == old else name for name in header]
        return _csv(names, [dict(zip(names, row.values(), strict=True)) for row in rows])

    return Change(path, apply)


# --- changes of other files ----------------------------------------------------------------


def text(path: str, old: str, new: str) -> Change:
    """Replace words that stand once in a text file."""

    def apply(content: bytes) -> bytes:
        whole = content.decode("utf-8")
        assert whole.count(old) == 1, f"{old!r} stands {whole.count(old)} times in {path}"
        return whole.replace(old, new).encode("utf-8")

    return Change(path, apply)


def setting(old: str, new: str) -> Change:
    """Replace words of project.toml."""
    return text("project.toml", old, new)


def settings_added(words: str) -> Change:
    """Append a table to project.toml."""
    return Change("project.toml", lambda content: content + f"\n{words}\n".encode())


def sentence(section: str, words: str) -> Change:
    """Append a paragraph to a section of the narrative."""
    return Change(f"text/{section}.md", lambda content: content + f"\n{words}\n".encode())


def content(path: str, new: bytes) -> Change:
    """Give a file new content, or add it."""
    return Change(path, lambda _: new)


def removed(path: str) -> Change:
    """Remove a file."""
    return Change(path, lambda _: None)


def feature_added(geometry: Mapping[str, Any], **properties: str) -> Change:
    """Append a feature to the site's map."""

    def apply(old: bytes) -> bytes:
        data = json.loads(old)
        data["features"].append({"type": "Feature", "properties": properties, "geometry": dict(geometry)})
        return json.dumps(data).encode()

    return Change("locations/features.geojson", apply)


def without_features(kind: str) -> Change:
    """Remove the site's features of a kind."""

    def apply(old: bytes) -> bytes:
        data = json.loads(old)
        data["features"] = [f for f in data["features"] if f["properties"]["kind"] != kind]
        return json.dumps(data).encode()

    return Change("locations/features.geojson", apply)
