"""Words of the trade by which a reader looks for a page that is called otherwise."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from sitegen.compute.text.othernames import compound_names
from sitegen.voice import Voice, voice


@cache
def _words(speaks: Voice) -> tuple[Mapping[str, Mapping[str, list[str]]], ...]:
    """Return the lists that a reader's words are found in: English ones, and those of the report's language."""
    return tuple(
        tomllib.loads((files("sitegen") / folder / "search_words.toml").read_text("utf-8")) for folder in speaks.data
    )


def _in_use(kind: str, key: str) -> tuple[str, ...]:
    return tuple(word for words in _words(voice()) for word in words[kind].get(key, ()))


def compound_words(cas: str, *own: str) -> tuple[str, ...]:
    """Return the other names of a compound: those of the project's list, then those in use.

    >>> compound_words("127-18-4", "PCE")[:2]
    ('perc', 'PCE')
    """
    names = (*own, *_in_use("compounds", cas), *compound_names(cas))
    return tuple({name.casefold(): name for name in reversed(names) if name}.values())[::-1]


def page_words(page_id: str) -> tuple[str, ...]:
    """Return what readers call a page beside its title.

    >>> "risk" in page_words("air")
    True
    """
    return _in_use("pages", page_id)
