"""Names of compounds, groups and media in the language of the report, beside those that the project has."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from sitegen.voice import ENGLISH, voice

_NO_NAMES: Mapping[str, Mapping[str, tuple[str, ...]]] = {"compounds": {}, "groups": {}, "media": {}}
LEAST_LETTERS = 3
"""A shorter id of a compound may be a word of any sentence, such as "a" or "de"."""
_WORDS = frozenset(("con", "del", "gas", "las", "los", "mas", "por", "que", "ser", "sin", "son", "sur", "una", "uno"))
"""Words of any Spanish sentence that an id of a compound may look like."""


@cache
def _names(language: str) -> Mapping[str, Mapping[str, tuple[str, ...]]]:
    if language == ENGLISH:
        return _NO_NAMES
    read = tomllib.loads(files("sitegen").joinpath(f"data/{language}/names.toml").read_text("utf-8"))
    return {kind: {key: tuple(names) for key, names in named.items()} for kind, named in read.items()}


def compound_names(cas: str, analyte_id: str = "") -> tuple[str, ...]:
    """Return what a compound is called in a language other than English, and its id where that is no other word.

    >>> compound_names("71-43-2", "benzene")
    ()
    """
    language = voice().language
    if language == ENGLISH:
        return ()
    named = len(analyte_id) >= LEAST_LETTERS and analyte_id.casefold() not in _WORDS and not analyte_id.isdigit()
    return (*_names(language)["compounds"].get(cas, ()), *([analyte_id] if named else []))


def group_names(group: str) -> tuple[str, ...]:
    """Return what a group of compounds is called in a language other than English."""
    return _names(voice().language)["groups"].get(group, ())


def medium_names(medium: str) -> tuple[str, ...]:
    """Return what a medium is called in a language other than English."""
    return _names(voice().language)["media"].get(medium, ())
