"""Stated objectives, and whether the summary or the conclusions name anything of each.

An objective is an item of the list in ``objectives.md``, or each sentence where there is no
list; a sentence that says what was *not* planned is none. It names compounds, groups, points
and site features; where it names none of these, its longer words count. It is concluded upon
where a sentence of the summary or the conclusions names one of them. Whether what the sentence
says answers the objective is for the reader to judge.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sitegen.compute.text.claims import CONCLUDING, Claim, names
from sitegen.compute.text.claimtext import Vocabulary, read
from sitegen.compute.text.claimwords import composed
from sitegen.compute.text.sentences import any_of, list_items, numbered_lines
from sitegen.compute.text.tokens import TOKEN
from sitegen.project.survey import Survey
from sitegen.project.tables import Location
from sitegen.voice import ENGLISH, voice

LEAST_LETTERS = 6
"""Shorter words say too little of what an objective is about (project default, no published source)."""
_EVERYWHERE = frozenset((
    "survey", "surveys", "sample", "samples", "sampler", "samplers", "sampling", "points", "result", "results",
    "compound", "compounds", "planned", "report", "client", "whether", "project", "before", "further", "should",
))  # fmt: skip
"""Longer words that stand in any report."""
_EVERYWHERE_SPANISH = frozenset((
    "estudio", "estudios", "muestra", "muestras", "muestreo", "muestreador", "muestreadores", "puntos", "resultado",
    "resultados", "compuesto", "compuestos", "previsto", "prevista", "informe", "cliente", "proyecto", "también",
    "además", "mediante", "posible", "posibles", "objetivo", "objetivos", "presencia", "conocer", "evaluar",
    "determinar", "identificar", "obtener", "comprobar", "debería", "deberían", "después", "durante", "existe",
    "existen", "emplazamiento",
))  # fmt: skip
_LANGUAGES = {ENGLISH: (re.compile(r"\bnot\b"), _EVERYWHERE), "es": (re.compile(r"\bno\b"), _EVERYWHERE_SPANISH)}
"""By language, the word of a sentence that is no objective, and longer words that stand in any report."""


@dataclass(frozen=True, slots=True)
class Objective:
    """An objective as written, the line that it begins on, and the words that it is known by."""

    line: int
    text: str
    words: tuple[str, ...]


def objectives(survey: Survey) -> tuple[Objective, ...]:
    """Return the stated objectives."""
    text, (negation, _) = survey.texts.get("objectives", ""), _LANGUAGES[voice().language]
    stated = tuple(list_items(text)) or tuple(
        (line, sentence) for line, sentence in numbered_lines(text) if not negation.search(sentence)
    )
    known, places = names(survey), {feature.name for feature in survey.features if feature.name}
    places |= {row.building for row in survey.rows(Location) if row.building}
    return tuple(Objective(line, item, tuple(_words(item, known, places))) for line, item in stated)


def _words(item: str, known: Vocabulary, places: Iterable[str]) -> Iterator[str]:
    """Yield the names in an objective, else its longer words."""
    text, (_, everywhere) = composed(TOKEN.sub(" ", item)), _LANGUAGES[voice().language]
    mentions = [match[0] for match in known.pattern.finditer(text)]
    mentions += re.findall(rf"(?<![\w-])(?:{any_of(places)})(?![\w-])", text, re.IGNORECASE)
    longer = (word.lower() for word in re.findall(r"[^\W\d_][\w-]*", text) if len(word) >= LEAST_LETTERS)
    yield from dict.fromkeys(mentions or (word for word in longer if word not in everywhere))


def open_objectives(survey: Survey, sentences: Sequence[Claim]) -> tuple[Objective, ...]:
    """Return the objectives of which no sentence of the summary or the conclusions names anything."""
    known = names(survey)
    concluding = [claim for claim in sentences if claim.section in CONCLUDING]
    return tuple(
        objective
        for objective in objectives(survey)
        if objective.words and not any(_names(claim, objective, known) for claim in concluding)
    )


def _names(claim: Claim, objective: Objective, known: Vocabulary) -> bool:
    """Tell whether a sentence names anything of an objective, by the same or by another name."""
    own = read(objective.text, known)
    if {*own.compounds, *own.groups, *own.points} & {*claim.compounds, *claim.read.groups, *claim.read.points}:
        return True
    words, text = any_of(map(_stem, objective.words)), TOKEN.sub(" ", claim.text)
    if voice().language == ENGLISH:
        return re.search(rf"(?<![\w-])(?:{words})s?(?![\w-])", text, re.IGNORECASE) is not None
    words, text = any_of(_stem(_bare(word)) for word in objective.words), _bare(text)
    return re.search(rf"(?<![\w-])(?:{words})(?:e?s)?(?![\w-])", text, re.IGNORECASE) is not None


def _bare(text: str) -> str:
    """Return a text without accents: with an ending a Spanish word may lose one.

    >>> _bare("Migración"), _bare("años")
    ('Migracion', 'anos')
    """
    return "".join(sign for sign in unicodedata.normalize("NFD", text) if not unicodedata.combining(sign))


def _stem(word: str) -> str:
    """Return a word without the ending of its plural, in Spanish after a consonant with its vowel.

    >>> _stem("solvents"), _stem("Office")
    ('solvent', 'Office')
    """
    if voice().language != ENGLISH and len(word) > LEAST_LETTERS and re.search(r"[lnrdj]es$", word, re.IGNORECASE):
        return word[:-2]
    return word[:-1] if word.endswith("s") and len(word) > LEAST_LETTERS else word
