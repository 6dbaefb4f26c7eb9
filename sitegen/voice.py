"""How the program's own words are written while a project is checked and its report is made.

Texts are written in British spelling; :func:`spelt` gives one in the spelling of the voice that speaks.
It is asked for our words alone: what a project's folder holds is shown as it is there.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

SPELLINGS = ("us", "uk")


@dataclass(frozen=True, slots=True)
class Voice:
    """The spelling of the program's own words."""

    spelling: str = "uk"


_SPEAKING: ContextVar[Voice] = ContextVar("speaking", default=Voice())  # noqa: B039 - a frozen record


def voice() -> Voice:
    """Return the voice that speaks: British where nobody chose one."""
    return _SPEAKING.get()


@contextmanager
def speaking(chosen: Voice) -> Iterator[None]:
    """Let a voice speak within the block; a thread begun there needs a copy of the context."""
    token = _SPEAKING.set(chosen)
    try:
        yield
    finally:
        _SPEAKING.reset(token)


def spelt(text: str) -> str:
    """Return words of ours in the spelling of the voice.

    Keys stay: ``_`` and digits belong to a word, and none is changed behind a dot or an opening brace.

    >>> with speaking(Voice("us")):
    ...     spelt("Vapour at the CENTRE: {metres} m"), spelt("analysed_at"), spelt("lab.analysed")
    ('Vapor at the CENTER: {metres} m', 'analysed_at', 'lab.analysed')
    >>> spelt("Vapour")
    'Vapour'
    """
    return text if voice().spelling == "uk" else _WORD.sub(_american, text)


def all_spelt(value: Any) -> Any:  # noqa: ANN401 - whatever TOML holds
    """Return a value read from a word list with every text in it spelt; keys stay.

    >>> with speaking(Voice("us")):
    ...     all_spelt({"colour": ["grey", 1]})
    {'colour': ['gray', 1]}
    """
    if isinstance(value, str):
        return spelt(value)
    if isinstance(value, Mapping):
        return {key: all_spelt(one) for key, one in value.items()}
    return [all_spelt(one) for one in value] if isinstance(value, list) else value


def quotes_spelt(script: str) -> str:
    """Return a script in the spelling of the voice: its quoted texts that have a blank or begin with a capital letter.

    Names, keys, comments and what a text fills in stay.

    >>> with speaking(Voice("us")):
    ...     quotes_spelt('colour = x["colour"]; // a colour'), quotes_spelt('"Odour", `by colour: ${colour}`')
    ('colour = x["colour"]; // a colour', '"Odor", `by color: ${colour}`')
    """
    return _OF_SCRIPT.sub(lambda match: _quote_spelt(match[0]), script)


_OF_SCRIPT = re.compile(
    r"""//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|'(?:\\.|[^'\\\n])*'|`(?:\\.|[^`\\\n])*`""", re.DOTALL
)
_FILLED_IN = re.compile(r"(\$\{[^}]*\}?)")


def _quote_spelt(found: str) -> str:
    if found[0] == "/" or not (" " in found or found[1].isupper()):
        return found
    return "".join(part if part.startswith("${") else spelt(part) for part in _FILLED_IN.split(found))


def unquoted_spelt(template: str) -> str:
    """Return a Typst template in the spelling of the voice: what stands outside of quotes, a column's name does not.

    >>> with speaking(Voice("us")):
    ...     unquoted_spelt('[*Vapour*: #entry("odour", words.odour)]')
    '[*Vapor*: #entry("odour", words.odour)]'
    """
    return "".join(part if part.startswith('"') else spelt(part) for part in _QUOTES.split(template))


_QUOTES = re.compile(r'("[^"\n]*")')


@cache
def american_words() -> Mapping[str, str]:
    """Return the words that are spelt otherwise in the United States, small letters, from ``data/spelling.toml``."""
    read = tomllib.loads(files("sitegen").joinpath("data/spelling.toml").read_text("utf-8"))
    found: dict[str, str] = {}
    for group in read["group"]:
        for ending in group["endings"]:
            here, there = (ending, ending) if isinstance(ending, str) else ending
            found |= {f"{british}{here}": f"{american}{there}" for british, american in group["stems"].items()}
    return found


_WORD = re.compile(r"(?<![\w{.])[A-Za-z]+(?!\w)")


def _american(match: re.Match[str]) -> str:
    british = match[0]
    american = american_words().get(british.lower())
    if american is None:
        return british
    if british.isupper():
        return american.upper()
    return american[0].upper() + american[1:] if british[0].isupper() else american
