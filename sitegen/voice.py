"""How the program's own words are written while a project is checked and its report is made.

Texts are written in English, in British spelling. :func:`worded` gives one as the voice that speaks has it: in its
spelling, or in another language, found by its English in ``templates/words/<language>/phrases``. It is asked for
our words alone: what a project's folder holds is shown as it is there.
"""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

SPELLINGS = ("us", "uk")
ENGLISH = "en"
LANGUAGES = (ENGLISH, "es")
THOUSANDS = {"es": "\u202f"}
"""What stands between thousands where it is no comma: a narrow blank that breaks no line (ISO 80000-1, 7.3.1)."""


@dataclass(frozen=True, slots=True)
class Voice:
    """The language of the program's own words, and in English their spelling."""

    spelling: str = "uk"
    language: str = ENGLISH

    @property
    def folder(self) -> str:
        """Where the word templates of the language are."""
        return "templates/words" if self.language == ENGLISH else f"templates/words/{self.language}"

    @property
    def data(self) -> tuple[str, ...]:
        """Where lists of words that a project's own texts are read by are: English ones first, then the language's."""
        return ("data",) if self.language == ENGLISH else ("data", f"data/{self.language}")


_SPEAKING: ContextVar[Voice] = ContextVar("speaking", default=Voice())  # noqa: B039 - a frozen record


def voice() -> Voice:
    """Return the voice that speaks: British where nobody chose one."""
    return _SPEAKING.get()


def in_english(chosen: Voice) -> Voice:
    """Return a voice as it speaks where nothing but English is said: in what the crew carries.

    >>> in_english(Voice("us", "es"))
    Voice(spelling='us', language='en')
    """
    return replace(chosen, language=ENGLISH)


@contextmanager
def speaking(chosen: Voice) -> Iterator[None]:
    """Let a voice speak within the block; a thread begun there needs a copy of the context."""
    token = _SPEAKING.set(chosen)
    try:
        yield
    finally:
        _SPEAKING.reset(token)


class _Filled(string.Formatter):
    """Fills facts into a text; numbers with thousands are written as the voice has them."""

    def format_field(self, value: Any, format_spec: str) -> Any:  # noqa: ANN401 - as in the base class
        text = super().format_field(value, format_spec)
        return thousands(text) if "," in format_spec else text


_FILLED = _Filled()


def worded(english: str, /, **facts: object) -> str:
    """Return a text of ours in the voice that speaks, with facts filled in where it has braces for them.

    A text that the language lacks stays English; tests hold that none does.

    >>> worded("Vapour at {point}", point="SG-1")
    'Vapour at SG-1'
    >>> with speaking(Voice(language="es")):
    ...     worded("Point"), worded("{count:,} bytes", count=12500)
    ('Punto', '12\u202f500 bytes')
    """
    speaks = voice()
    text = spelt(english) if speaks.language == ENGLISH else phrases(speaks.language).get(english, english)
    return _FILLED.vformat(text, (), facts) if facts else text


def thousands(number: str) -> str:
    """Return a number that was written with commas between thousands as the voice has it.

    >>> with speaking(Voice(language="es")):
    ...     thousands("12,500.5")
    '12\u202f500.5'
    """
    return number.replace(",", THOUSANDS.get(voice().language, ","))


_BLANKS = re.compile(r"[^\S\u202f]+")


def blank_split(text: str) -> list[str]:
    r"""Return the pieces of a text between its blanks; the narrow one between thousands divides nothing.

    >>> blank_split(" 12\u202f500  ng\n"), blank_split(" ")
    (['12\u202f500', 'ng'], [])
    """
    return [piece for piece in _BLANKS.split(text) if piece]


@cache
def phrases(language: str) -> Mapping[str, str]:
    """Return the texts of Python, pages and scripts in a language, by their English; nothing is said twice."""
    found: dict[str, str] = {}
    folder = files("sitegen").joinpath(f"templates/words/{language}/phrases")
    for one in sorted(folder.iterdir(), key=lambda entry: entry.name):
        found |= tomllib.loads(one.read_text("utf-8"))
    return found


def spelt(text: str) -> str:
    """Return English words of ours in the spelling of the voice.

    Keys stay: ``_`` and digits belong to a word, and none is changed behind a dot or an opening brace.

    >>> with speaking(Voice("us")):
    ...     spelt("Vapour at the CENTRE: {metres} m"), spelt("analysed_at"), spelt("lab.analysed")
    ('Vapor at the CENTER: {metres} m', 'analysed_at', 'lab.analysed')
    >>> spelt("Vapour")
    'Vapour'
    """
    speaks = voice()
    return text if speaks.spelling == "uk" or speaks.language != ENGLISH else _WORD.sub(_american, text)


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


def script_worded(script: str) -> str:
    """Return a script in the voice: its quoted texts that have a blank or begin with a capital letter.

    Names, keys, comments and what a text fills in stay. In another language a text is found as it is written in the
    script, with what it fills in.

    >>> with speaking(Voice("us")):
    ...     script_worded('colour = x["colour"]; // a colour'), script_worded('"Odour", `by colour: ${colour}`')
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
    if voice().language != ENGLISH:
        return f"{found[0]}{phrases(voice().language).get(found[1:-1], found[1:-1])}{found[-1]}"
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
