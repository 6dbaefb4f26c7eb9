"""The rules of the catalogue in Spanish: every code has its own words, with the names that must stay as they are."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from sitegen.checks import catalogue as module
from sitegen.checks.catalogue import catalogue
from sitegen.voice import Voice, speaking

ROOT = Path(__file__).parents[2] / "sitegen"
ENGLISH = tomllib.loads((ROOT / "data/checks.toml").read_text("utf-8"))
SPANISH = tomllib.loads((ROOT / "templates/words/es/checks.toml").read_text("utf-8"))
NAMES = re.compile(
    r"[\w./<>]*[_/][\w./<>]*\w|\w+\.(?:csv|toml|md|xlsx)\b|\[+\w[\w.]*\]+|--\w+|\{\w*\}|[A-Z]{3,}[\w:-]*"
)
"""Columns, files, sections of settings, options, what is filled in, and abbreviations."""
EXPLAINED = {"must_fix"}
"""Words of the folder format that the Spanish rule gives beside their meaning."""


PLACEHOLDERS = {"CARPETA": "FOLDER", "ARCHIVO": "FILE"}
"""What stands for a path in a command, and its English."""


def names(text: str) -> set[str]:
    """Return the names that a text has, which no language changes."""
    return {PLACEHOLDERS.get(name, name) for name in NAMES.findall(text)} - EXPLAINED


def test_both_languages_have_the_same_codes_in_the_same_order() -> None:
    assert list(SPANISH) == list(ENGLISH)


@pytest.mark.parametrize("code", ENGLISH)
def test_rule_and_remedy_are_said_in_spanish_with_the_same_names(code: str) -> None:
    assert set(SPANISH[code]) == {"rule", "do"}
    for key, text in SPANISH[code].items():
        assert text.strip() == text
        assert text != ENGLISH[code][key]
        assert text.endswith(".")
        assert len(text) > 1
        assert names(text) == names(ENGLISH[code][key])


def test_the_catalogue_speaks_spanish_and_keeps_all_else() -> None:
    english = catalogue()
    with speaking(Voice(language="es")):
        spanish = catalogue()
    assert list(spanish) == list(english)
    for code in ENGLISH:
        assert (spanish[code].rule, spanish[code].do) == (SPANISH[code]["rule"], SPANISH[code]["do"])
        assert (english[code].rule, english[code].do) == (ENGLISH[code]["rule"], ENGLISH[code]["do"])
        assert (spanish[code].severity, spanish[code].needs) == (english[code].severity, english[code].needs)


def test_a_code_without_words_in_the_language_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    entries = dict(ENGLISH)
    lacking = {code: words for code, words in SPANISH.items() if code != "custody-gap"}
    monkeypatch.setattr(module, "_entries", lambda folder: entries if folder == "data" else lacking)
    with pytest.raises(KeyError, match="custody-gap"):
        module._catalogue.__wrapped__(Voice(language="es"))
