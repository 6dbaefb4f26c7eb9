"""Take sentences from the word templates and fill in facts.

``sitegen/templates/words/<file>.j2`` holds named blocks. :func:`say` fills a block as
plain text; :func:`prose` fills it as Markdown, with every fact escaped, so that text
from a record can't become markup.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from sitegen.compute.statistics.rounding import RULE, as_reported, rounded_text
from sitegen.compute.text.tokens import NOTHING
from sitegen.glyphs import BIDI_OVERRIDES, REPLACEMENT
from sitegen.kept import InVoice, template_cache
from sitegen.report.record.pages import Prose
from sitegen.voice import ENGLISH, Voice, all_spelt, blank_split, thousands, voice, worded

_ONE_WAY = dict.fromkeys(map(ord, BIDI_OVERRIDES), REPLACEMENT)
_SPECIAL = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|~&=:\"'$%@^/])")


def escape_markdown(text: object) -> str:
    r"""Escape text so that Markdown shows it as it is; line breaks become blanks.

    >>> escape_markdown("a_b <c>")
    'a\\_b \\<c\\>'
    """
    return _SPECIAL.sub(r"\\\1", " ".join(blank_split(str(text))))


@cache
def _environment(speaks: Voice, *, markdown: bool) -> Environment:
    """Return the environment of the voice that speaks."""
    finalize: Callable[[object], object] | None = escape_markdown if markdown else None
    made = Environment(
        loader=PackageLoader("sitegen", speaks.folder),
        extensions=[InVoice],
        bytecode_cache=template_cache("markdown" if markdown else "words"),
        finalize=finalize,
        undefined=StrictUndefined,
        auto_reload=False,
        trim_blocks=markdown,
        lstrip_blocks=markdown,
        autoescape=False,  # noqa: S701 - plain text and escaped Markdown, never HTML
    )
    made.filters["of"] = count_words if speaks.language == ENGLISH else count_words_gendered
    made.filters["opening"] = opening
    made.filters["verb"] = verb
    made.filters["shown"] = rounded_text
    made.filters["reported"] = as_reported
    made.globals["rounding"] = worded(RULE)
    made.globals["word"] = word
    made.globals["translated"] = speaks.language != ENGLISH
    made.globals["nothing"] = worded(NOTHING)
    return made


def count_words(number: int, one: str, many: str = "") -> str:
    """Write a number with its noun.

    >>> count_words(1, "gap"), count_words(2, "gap"), count_words(0, "gap"), count_words(2, "batch", "batches")
    ('1 gap', '2 gaps', 'no gaps', '2 batches')
    """
    noun = one if number == 1 else many or f"{one}s"
    return f"{thousands(f'{number:,}')} {noun}" if number else f"no {noun}"


def count_words_gendered(number: int, one: str, many: str, none: str = "ningún") -> str:
    """Write a number with its noun where "no" agrees with the noun; ``none`` is the form of "no" that goes with it.

    >>> count_words_gendered(0, "punto", "puntos"), count_words_gendered(0, "muestra", "muestras", "ninguna")
    ('ningún punto', 'ninguna muestra')
    >>> count_words_gendered(2, "muestra", "muestras", "ninguna")
    '2 muestras'
    """
    return f"{thousands(f'{number:,}')} {one if number == 1 else many}" if number else f"{none} {one}"


def counted(number: int, noun: str) -> str:
    """Write a number with a noun that is in the language of the voice already, its plural made by rule.

    >>> counted(1, "method blank"), counted(138, "surrogate recovery")
    ('1 method blank', '138 surrogate recoveries')
    """
    many = plural(noun)
    return f"{thousands(f'{number:,}')} {noun if number == 1 else many}" if number else worded("no {many}", many=many)


def plural(noun: str) -> str:
    """Return the plural of a noun; in Spanish that of the words before a preposition.

    >>> from sitegen.voice import speaking
    >>> with speaking(Voice(language="es")):
    ...     plural("muestra de control"), plural("patrón interno"), plural("recuperación")
    ('muestras de control', 'patrones internos', 'recuperaciones')
    """
    if voice().language == ENGLISH:
        return f"{noun[:-1]}ies" if noun.endswith("y") else f"{noun}s"
    words = noun.split(" ")
    at = next((at for at, one in enumerate(words) if one in _PREPOSITIONS), len(words))
    return " ".join([*map(_spanish_plural, words[:at]), *words[at:]])


_PREPOSITIONS = frozenset({"a", "al", "bajo", "con", "de", "del", "en", "para", "por", "sin"})


def _spanish_plural(one: str) -> str:
    if one[-1:] in "aeiouáéó":
        return f"{one}s"
    return f"{one[:-2]}ones" if one.endswith("ón") else one if one.endswith("s") else f"{one}es"


def verb(number: int, one: str, many: str) -> str:
    """Return the form of a verb that goes with a number.

    >>> verb(1, "was", "were"), verb(0, "was", "were")
    ('was', 'were')
    """
    return one if number == 1 else many


def opening(words: str) -> str:
    """Write words as they open a sentence.

    >>> opening("no gaps"), opening("2 gaps")
    ('No gaps', '2 gaps')
    """
    return f"{words[:1].upper()}{words[1:]}"


def _fill(name: str, facts: dict[str, Any], *, markdown: bool) -> str:
    file, _, block = name.partition(".")
    template = _environment(voice(), markdown=markdown).get_template(f"{file}.j2")
    filled = "".join(template.blocks[block](template.new_context(facts)))
    return filled if filled.isascii() else filled.translate(_ONE_WAY)


def say(name: str, /, **facts: object) -> str:
    """Return the sentences ``file.block`` as one line of plain text."""
    return " ".join(blank_split(_fill(name, facts, markdown=False)))


def markdown(name: str, /, **facts: object) -> str:
    """Return the sentences ``file.block`` as Markdown, facts escaped."""
    return _fill(name, facts, markdown=True).strip()


def prose(name: str, /, **facts: object) -> Prose:
    """Return the sentences ``file.block`` as a Markdown block, facts escaped."""
    return Prose(markdown(name, **facts))


def lexicon(name: str) -> dict[str, Any]:
    """Return a word list, ``sitegen/templates/words/<name>.toml``."""
    return _lexicon(name, voice())


@cache
def _lexicon(name: str, speaks: Voice) -> dict[str, Any]:
    text = files("sitegen").joinpath(f"{speaks.folder}/{name}.toml").read_text("utf-8")
    read: dict[str, Any] = all_spelt(tomllib.loads(text))
    return read


def word(group: str, key: str) -> str:
    """Return the printed word for a word of the folder format; the word itself if there is none."""
    known: Mapping[str, str] = lexicon("labels").get(group, {})
    return known[key] if key in known else worded(key.replace("_", " "))


def known_word(group: str, text: str) -> str:
    """Return a text of the project in the language of the report where it is one of the usual words; else as it is."""
    known: Mapping[str, str] = lexicon("labels").get(group, {})
    return known.get(text, text)
