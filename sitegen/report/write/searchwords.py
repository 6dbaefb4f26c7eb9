"""Words of the trade by which a reader looks for a page that is called otherwise."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files


@cache
def _words() -> Mapping[str, Mapping[str, list[str]]]:
    return tomllib.loads((files("sitegen") / "data" / "search_words.toml").read_text("utf-8"))


def compound_words(cas: str, *own: str) -> tuple[str, ...]:
    """Return the other names of a compound: those of the project's list, then those in use.

    >>> compound_words("127-18-4", "PCE")[:2]
    ('perc', 'PCE')
    """
    names = (*own, *_words()["compounds"].get(cas, ()))
    return tuple({name.casefold(): name for name in reversed(names) if name}.values())[::-1]


def page_words(page_id: str) -> tuple[str, ...]:
    """Return what readers call a page beside its title.

    >>> "risk" in page_words("air")
    True
    """
    return tuple(_words()["pages"].get(page_id, ()))
