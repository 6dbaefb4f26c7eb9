"""The catalogue holds every code that the source uses, with its severity, and no other."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import itertools

import defects
import defects_deliveries
import defects_field
import defects_handling
import defects_lab

from sitegen.checks.catalogue import SUBJECTS, catalogue, find
from sitegen.compute.limits import DEFAULTS
from sitegen.compute.quality.fieldmarks import CONDITION_CODES
from sitegen.findings.problems import Severity, Where

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "sitegen").rglob("*.py"))
CODE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)+")
BLANK_CODES = {"trip-blank-detection", "method-blank-detection", "field-blank-detection"}
"""Made from the kind of blank in checks/quality.py and compute/quality/blanks.py."""


def texts(path: Path) -> Iterator[str]:
    """Yield every text constant of a source file, documentation left out."""
    tree = ast.parse(path.read_text("utf-8"))
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.value


def made_with_find(path: Path) -> Iterator[str]:
    """Yield the codes written as first argument of a call that makes a finding."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args:
            first = node.args[0]
            if node.func.id in ("find", "Finding") and isinstance(first, ast.Constant):
                yield str(first.value)


def severities_in_project() -> Iterator[tuple[str, str]]:
    """Yield (code, severity) of findings made below project/ with both written out."""
    for path in sorted((ROOT / "sitegen/project").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            parts = node.args if isinstance(node, ast.Call) else getattr(node, "elts", [])
            for code, severity in itertools.pairwise(parts):
                if not (isinstance(code, ast.Constant) and isinstance(severity, ast.Attribute)):
                    continue
                if isinstance(severity.value, ast.Name) and severity.value.id == "Severity":
                    yield str(code.value), severity.attr.lower()


def test_every_code_of_the_catalogue_is_used() -> None:
    used = {text for path in SOURCES for text in texts(path)} | BLANK_CODES
    assert sorted(set(catalogue()) - used) == []


def test_every_code_made_stands_in_the_catalogue() -> None:
    made = {code for path in SOURCES for code in made_with_find(path)}
    made |= {code for code, _ in severities_in_project() if CODE.fullmatch(code)}
    made |= set(CONDITION_CODES.values()) | BLANK_CODES
    assert len(made) > 100
    assert sorted(made - set(catalogue())) == []


def test_findings_made_while_reading_have_the_catalogues_severity() -> None:
    pairs = [(code, severity) for code, severity in severities_in_project() if code in catalogue()]
    assert len(pairs) > 15
    differing = [
        (code, severity)
        for code, severity in pairs
        if severity != catalogue()[code].severity.value and not catalogue()[code].varies
    ]
    assert differing == []


@pytest.mark.parametrize("check", catalogue().values(), ids=lambda check: check.code)
def test_an_entry_is_complete(check: object) -> None:
    entry = catalogue()[check.code]  # type: ignore[attr-defined]
    assert CODE.fullmatch(entry.code)
    assert entry.subject in SUBJECTS
    assert entry.rule.endswith(".")
    assert entry.do.endswith(".")
    assert entry.source
    assert set(entry.limits) <= {record.name for record in DEFAULTS}


def test_there_are_more_than_a_hundred_checks() -> None:
    assert len(catalogue()) > 100


def test_most_checks_have_a_defect_that_shows_them() -> None:
    every = (
        *defects_deliveries.DELIVERIES, *defects.FILES, *defects.IDENTITY, *defects.PLACE, *defects.TIME,
        *defects_field.FIELD, *defects_field.CUSTODY_DEFECTS, *defects_handling.HANDLING, *defects_lab.ALL,
    )  # fmt: skip
    shown = {code for defect in every for code, *_ in defect.expected}
    assert shown <= set(catalogue())
    assert len(shown) > 0.6 * len(catalogue())


def test_a_code_that_the_catalogue_lacks_cannot_be_used() -> None:
    with pytest.raises(KeyError):
        find("no-such-check", "x", Where("a.csv"), "found", "expected")


def test_a_severity_differs_only_where_the_entry_says_that_it_varies() -> None:
    with pytest.raises(ValueError, match="one severity"):
        find("duplicate-key", "x", Where("a.csv"), "found", "expected", severity=Severity.NOTE)
    assert find("custody-gap", "x", Where("a.csv"), "f", "e", severity=Severity.HOLD).severity is Severity.HOLD
