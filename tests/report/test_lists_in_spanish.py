"""The word lists in Spanish: the same tables and keys as in English, the same facts, and a word for every choice."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest

from sitegen.compute.marks import MarkFact
from sitegen.project.schema import FEATURE_KINDS
from sitegen.project.settings import RoleFunction
from sitegen.project.tables import COMMENTS, CUSTODY, DEPLOYMENTS, LAB_QC, LAB_SAMPLES, LOCATIONS, PRODUCTS, SAMPLERS
from sitegen.report.write.values import mark_word
from sitegen.report.write.words import lexicon, word
from sitegen.voice import Voice, speaking

WORDS = Path(__file__).parents[2] / "sitegen/templates/words"
LISTS = sorted(path.name for path in WORDS.glob("*.toml"))
FACT = re.compile(r"\{\w*\}")
CHOICES = [
    (group, choice)
    for group, table, name in (
        ("medium", LOCATIONS, "medium"),
        ("design", LOCATIONS, "design"),
        ("surface", LOCATIONS, "surface"),
        ("status", LOCATIONS, "status"),
        ("kind", SAMPLERS, "kind"),
        ("outcome", SAMPLERS, "outcome"),
        ("hole_method", DEPLOYMENTS, "hole_method"),
        ("closure", DEPLOYMENTS, "closure"),
        ("moisture", DEPLOYMENTS, "moisture"),
        ("condition", DEPLOYMENTS, "condition"),
        ("hole_restored", DEPLOYMENTS, "hole_restored"),
        ("subject_kind", CUSTODY, "subject_kind"),
        ("event", CUSTODY, "event"),
        ("signed", CUSTODY, "signature"),
        ("seal_condition", CUSTODY, "seal_condition"),
        ("product_state", PRODUCTS, "state"),
        ("sample_type", LAB_SAMPLES, "type"),
        ("qc_type", LAB_QC, "qc_type"),
        ("comment_class", COMMENTS, "class"),
        ("comment_state", COMMENTS, "state"),
    )
    for column in table.columns
    if column.name == name
    for choice in column.choices
]
CHOICES += [("feature_kind", kind) for kind in FEATURE_KINDS]
CHOICES += [("function", name) for name in get_args(RoleFunction)]


def texts(read: dict[str, Any], at: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield every text of a list with where it stands."""
    for key, value in read.items():
        if isinstance(value, dict):
            yield from texts(value, (*at, key))
        else:
            yield (*at, key), value


def listed(path: Path) -> dict[tuple[str, ...], Any]:
    """Return the texts of a list."""
    return dict(texts(tomllib.loads(path.read_text("utf-8"))))


@pytest.mark.parametrize("name", LISTS)
def test_a_list_has_the_texts_and_the_facts_of_the_english_one(name: str) -> None:
    english, spanish = listed(WORDS / name), listed(WORDS / "es" / name)
    lacking = [at for at in english if at not in spanish]
    assert lacking == []
    if name != "labels.toml":
        assert len(spanish) == len(english)
    for at, text in english.items():
        assert sorted(FACT.findall(str(spanish[at]))) == sorted(FACT.findall(str(text))), at
        assert bool(spanish[at]) is bool(text), at


@pytest.mark.parametrize(("group", "choice"), CHOICES)
def test_every_choice_of_the_folder_format_has_a_word(group: str, choice: str) -> None:
    with speaking(Voice(language="es")):
        assert lexicon("labels")[group][choice]


def test_there_are_choices_of_every_kind() -> None:
    assert len({group for group, _ in CHOICES}) == 22


def test_every_term_of_the_glossary_has_a_word_of_its_own() -> None:
    terms = [*lexicon("glossary"), *lexicon("glossary_outside")["terms"]]
    assert [word("term", term) for term in terms] == terms
    with speaking(Voice(language="es")):
        said = {term: word("term", term) for term in terms}
    assert len(set(said.values())) == len(set(terms))
    assert [term for term, text in said.items() if text == term] == []


def test_a_mark_is_said_in_the_voice_that_speaks() -> None:
    fact = MarkFact("water-in-sampler", "sampler", "S-1")
    with speaking(Voice(language="es")):
        spanish = mark_word(fact)
    english = mark_word(fact)
    assert (spanish.word, english.word) == ("agua", "water")
    assert "recuperarlo" in spanish.reason
    assert spanish.finding == english.finding
