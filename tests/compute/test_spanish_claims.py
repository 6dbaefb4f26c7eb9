"""Spanish sentences read as claims: what is said of which pair, and what is left open rather than read wrongly."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest
from builders import Change, changed, content, load

from sitegen.compute.evaluate import evaluate
from sitegen.compute.text.claims import Above, Record, claims, concludes, names, silent_sections
from sitegen.compute.text.claimtext import Read, read, vocabulary
from sitegen.compute.text.objectives import objectives, open_objectives
from sitegen.project.tables import Analyte
from sitegen.voice import Voice, speaking

SPANISH = Voice(language="es")
KNOWN = vocabulary(
    {
        "b": ["Benzene", "benceno"],
        "t": ["Toluene", "tolueno"],
        "p": ["Tetrachloroethene", "PCE", "percloroetileno"],
        "e": ["metil terc-butil éter"],
    },
    {"fuel": ["aromáticos de combustible"]},
    ["P-1", "P-12", "P-2", "P-3", "SS-01"],
)


@pytest.fixture(autouse=True)
def _in_spanish() -> Iterator[None]:
    with speaking(SPANISH):
        yield


def said(sentence: str) -> Read:
    return read(sentence, KNOWN)


def pairs(sentence: str) -> set[str]:
    """Return the readings as ``compound point relation``."""
    return {" ".join((one.what, one.point, one.relation, *(one.other or ())[1:])) for one in said(sentence).readings}


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        ("El percloroetileno presenta la masa más alta en SS-01.", {"p SS-01 highest"}),
        ("La masa más alta de benceno se midió en P-2.", {"b P-2 highest"}),
        ("En P-2 se midió la masa mas elevada de benceno.", {"b P-2 highest"}),
        ("El benceno registra en P-2 su masa más alta.", {"b P-2 highest"}),
        ("El benceno alcanza su valor máximo en P-2.", {"b P-2 highest"}),
        ("La mayor masa de benceno se encontró en el punto P-2.", {"b P-2 highest"}),
        ("Las masas más altas de benceno se registraron en P-1 y en P-2.", {"b P-1 highest", "b P-2 highest"}),
        ("En SS-01 se midió la masa más alta de **PCE**, {{ max.p }}.", {"p SS-01 highest"}),
        ("Los aromáticos de combustible presentan la masa más alta en P-2.", {"fuel P-2 highest"}),
        ("Se volverá a muestrear en P-2, donde la masa de benceno fue la más alta.", {"b P-2 highest"}),
        ("No se detectó benceno en P-1.", {"b P-1 not detected"}),
        ("El benceno no fue detectado en P-1 ni en P-2.", {"b P-1 not detected", "b P-2 not detected"}),
        ("No se ha detectado metil terc-butil e\u0301ter en P-1.", {"e P-1 not detected"}),
        ("El benceno no se halló en P-1.", {"b P-1 not detected"}),
        ("En P-1 no se detectaron benceno ni tolueno.", {"b P-1 not detected", "t P-1 not detected"}),
        ("Ni el benceno ni el tolueno se detectaron en P-1.", {"b P-1 not detected", "t P-1 not detected"}),
        ("P-1, sin detecciones de benceno.", {"b P-1 not detected"}),
        ("El benceno se detectó en P-1, aunque no se conoce su origen.", {"b P-1 detected"}),
        ("El benceno solo se detectó en P-1.", {"b P-1 detected"}),
        ("Se detectaron tanto benceno como tolueno en P-1.", {"b P-1 detected", "t P-1 detected"}),
        ("No se detectó benceno en P-1 y se detectó tolueno en P-2.", {"b P-1 not detected", "t P-2 detected"}),
        ("No se detectó benceno en P-1, pero en P-2 sí se detectó tolueno.", {"b P-1 not detected", "t P-2 detected"}),
        ("El benceno no se detectó en P-1 y fue el más alto en P-2.", {"b P-1 not detected", "b P-2 highest"}),
        ("El benceno es más alto en P-2 que en P-1.", {"b P-2 higher P-1"}),
        ("El benceno es menor en P-2 que en P-1 y P-3.", {"b P-1 higher P-2", "b P-3 higher P-2"}),
        ("La masa de benceno en P-2 es superior a la de P-1.", {"b P-2 higher P-1"}),
        ("Los datos indican que el benceno es más alto en P-2 que en P-1.", {"b P-2 higher P-1"}),
        ("En P-2 el benceno es más alto que el tolueno.", {"b P-2 higher t"}),
        ("PCE y benceno son los más altos en SS-01 y P-2, respectivamente.", {"p SS-01 highest", "b P-2 highest"}),
        ("Se detectó benceno en P-1 y tolueno en P-2.", {"b P-1 detected", "t P-2 named"}),
        ("La mayor parte del benceno está en P-1.", {"b P-1 named"}),
        ("Se detectó más benceno en P-1 que en P-2.", {"b P-1 named", "b P-2 named"}),
        ("El benceno se detectó en más puntos que el tolueno, entre ellos P-1.", {"b P-1 named", "t P-1 named"}),
    ],
)
def test_pairs_are_those_that_the_sentence_makes(sentence: str, expected: set[str]) -> None:
    """Written down by hand for each sentence, as a reader understands it."""
    assert pairs(sentence) == expected
    assert not said(sentence).unpaired


@pytest.mark.parametrize(
    "sentence",
    [
        "El benceno no presenta la masa más alta en P-1.",
        "El benceno presenta la segunda masa más alta en P-1.",
        "P-1 presenta una de las masas más altas de benceno.",
        "El benceno es más alto en P-1.",
        "El benceno se tomó a la máxima profundidad en P-1.",
        "El benceno se midió en el punto más alto del terreno, P-1.",
        "No solo se detectó benceno en P-1.",
        "No se detectó solo benceno en P-1.",
        "No siempre se detectó benceno en P-1.",
        "No se detectó benceno en ningún punto salvo P-1.",
        "No se detectó benceno en P-1, salvo en el duplicado.",
        "Podría haberse detectado benceno en P-1.",
        "Se desconoce si se detectó benceno en P-1.",
        "No se encontró una fuente de benceno en P-1.",
        "La fuente de benceno no se encontró en P-1.",
        "No se encontró relación entre el benceno y el agua en P-1.",
        "No se detectó la masa más alta de benceno en P-1.",
        "Se detectó agua y el benceno en P-1.",
        "El benceno se detectó cerca de P-1.",
        "El benceno no es más alto en P-1 que en P-2.",
        "El benceno podría ser más alto en P-1 que en P-2.",
        "Ningún benceno es más alto en P-1 que en P-2.",
        "El benceno en P-1 es mayor que el tolueno en P-2.",
        "El olor a benceno es más alto en P-1 que en P-2.",
    ],
)
def test_what_is_turned_weakened_or_of_something_else_is_left_unread(sentence: str) -> None:
    assert {one.relation for one in said(sentence).readings} == {"unread"}


@pytest.mark.parametrize(
    ("sentence", "expected"),
    [
        ("Se detectó benceno en P-1 y no en P-2.", {"b P-1 detected", "b P-2 unread"}),
        ("No se detectó benceno en P-1, pero sí en P-2.", {"b P-1 not detected", "b P-2 unread"}),
        ("En P-1 no se detectó benceno pero sí tolueno.", {"b P-1 not detected", "t P-1 unread"}),
        ("Se detectó agua en P-1 y benceno en P-2.", {"b P-1 unread", "b P-2 named"}),
    ],
)
def test_the_half_of_a_sentence_that_has_no_verb_is_not_read_by_the_other_s(sentence: str, expected: set[str]) -> None:
    assert pairs(sentence) == expected


@pytest.mark.parametrize(
    "sentence",
    [
        "Mientras el benceno es el más alto en P-2, en P-1 lo es el tolueno.",
        "El benceno es el más alto en P-1 y en P-2 no se detectó tolueno.",
        "En P-1 se detectó benceno, y el tolueno no se detectó en P-2.",
        "No se detectó benceno en P-1 ni tolueno en P-2.",
    ],
)
def test_where_the_order_does_not_show_it_nothing_is_paired(sentence: str) -> None:
    assert pairs(sentence) == set()
    assert said(sentence).unpaired
    assert set(said(sentence).points) == {"P-1", "P-2"}


@pytest.mark.parametrize(
    ("sentence", "limited"),
    [
        ("El benceno presenta la masa más alta en P-1.", False),
        ("En este estudio, la masa más alta de benceno se midió en P-1.", False),
        ("En P-1 se midió la masa más alta de benceno.", False),
        ("En el sur, la masa más alta de benceno se midió en P-1.", True),
        ("La masa más alta de benceno de la rejilla se midió en P-1.", True),
        ("La masa más alta de benceno se midió en P-1 entre los puntos interiores.", True),
        ("El benceno presenta la masa más alta en P-1 en la mitad este.", True),
    ],
)
def test_words_that_may_limit_the_highest_are_seen(sentence: str, limited: bool) -> None:
    assert next(one for one in said(sentence).readings if one.relation == "highest").limited is limited


def test_english_sentences_are_not_read_in_a_spanish_project_and_claim_nothing() -> None:
    english = "Benzene is highest at P-1 and toluene was not detected at P-2."
    assert pairs(english) <= {"b P-1 named", "t P-2 named"}
    with speaking(Voice()):
        assert pairs(english) == {"b P-1 highest", "t P-2 not detected"}
        assert pairs("El benceno presenta la masa más alta en P-1.") == {"b P-1 named"}


@cache
def record() -> Record:
    return Record(evaluate(load(changed())))


def only(**texts: str) -> tuple[Change, ...]:
    """Return changes that leave these sections alone of those that claim something."""
    sections = ("summary", "interpretation", "conclusions", "recommendations")
    return tuple(content(f"text/{name}.md", texts.get(name, "").encode()) for name in sections)


@pytest.mark.parametrize(
    ("sentence", "verdict"),
    [
        ("El tetracloroeteno presenta la masa más alta en SS-01.", "agrees"),
        ("El percloroetileno presenta la masa más alta en SG-12.", "differs"),
        ("En el sur, el tetracloroetileno presenta la masa más alta en SG-12.", "open"),
        ("Los etenos clorados presentan la masa más alta en SS-01.", "agrees"),
        ("Los aromáticos de combustible presentan la masa más alta en SS-01.", "differs"),
        ("El PCE es más alto en SG-36 que en SG-37.", "agrees"),
        ("El PCE es más alto en SG-37 que en SG-36.", "differs"),
        ("No se detectó tetracloroeteno en SS-01.", "differs"),
        ("No se detectó cloruro de vinilo en SG-01.", "agrees"),
        ("Se detectó cloruro de vinilo en SG-01.", "differs"),
        ("No se detectó benceno en SG-21.", "no result"),  # its sampler was lost
        ("No solo se detectó tetracloroeteno en SG-12.", "open"),
        ("El benceno y SG-46 están en esta frase.", "named"),
    ],
)
def test_a_verdict_is_what_the_results_say(sentence: str, verdict: str) -> None:
    (claim,) = claims(load(changed(*only(conclusions=sentence))))
    assert [one.verdict for one in record().judge(claim)] == [verdict]


def test_compounds_are_named_by_number_in_spanish_in_the_project_s_words_and_by_id() -> None:
    known = names(load(changed()))
    for word in ("tetracloroeteno", "percloroetileno", "tetrachloroethene", "pce", "perchloroethylene"):
        assert known.names[word] == ("compound", "pce")
    assert known.names["cis-1,2-dicloroeteno"] == known.names["cis12dce"] == ("compound", "cis12dce")
    rows = load(changed()).rows(Analyte)
    assert {key for kind, key in known.names.values() if kind == "group"} == {row.group for row in rows}
    assert read("m-xileno y etilbenceno en SG-01", known).compounds == ("mxylene", "ethylbenzene")
    assert read("VC o de", known).compounds == ("vc",)
    with speaking(Voice()):
        assert "tetracloroeteno" not in names(load(changed())).names


@pytest.mark.parametrize(
    ("sentence", "is_concluded"),
    [
        ("El benceno en IA-02 supera el nivel.", True),
        ("Benzene en IA-02 supera el nivel.", True),
        ("En el aire interior el benceno supera el nivel.", True),
        ("Se hallaron aromáticos de combustible en el aire de la oficina.", True),
        ("El benceno supera el nivel en la oficina.", False),
        ("El benceno alcanza su máximo en SG-46.", False),
        ("El tolueno en el aire interior no se comparó.", False),
        ("IA-02 está en el almacén.", False),
    ],
)
def test_an_exceedance_is_concluded_upon_where_compound_and_place_are_named_together(
    sentence: str, is_concluded: bool
) -> None:
    above = Above("IA-02", "benzene", "fuel_aromatics", "indoor_air")
    assert concludes(above, claims(load(changed(*only(conclusions=sentence))))) is is_concluded


@pytest.mark.parametrize(
    ("medium", "sentence"),
    [
        ("sub_slab", "El benceno bajo la losa supera el nivel."),
        ("soil_gas", "El benceno en el gas del suelo supera el nivel."),
        ("outdoor_air", "El benceno en el aire exterior supera el nivel."),
    ],
)
def test_each_medium_has_a_spanish_name(medium: str, sentence: str) -> None:
    told = claims(load(changed(*only(conclusions=sentence))))
    assert concludes(Above("X-1", "benzene", "fuel_aromatics", medium), told)
    with speaking(Voice()):
        assert not concludes(Above("X-1", "benzene", "fuel_aromatics", medium), told)


def test_a_section_is_silent_where_building_and_medium_are_not_both_named() -> None:
    above = Above("IA-02", "benzene", "fuel_aromatics", "indoor_air")
    told = claims(
        load(changed(*only(summary="En el aire de Office se midió benceno.", conclusions="Benceno junto a Office.")))
    )
    assert silent_sections(above, "Office", told) == ("conclusions",)


@pytest.mark.parametrize(
    ("objective", "conclusion", "missing"),
    [
        ("* buscar percloroetileno", "Se detectó PCE.", False),
        ("* buscar percloroetileno", "Se detectó benceno.", True),
        ("* cartografiar disolventes", "Se halló un disolvente.", False),
        ("* estimar la migración lateral", "Las migraciones se ven en el mapa.", False),
        ("* estimar vapores", "El vapor procede del norte.", False),
        ("* estimar vapores", "El suelo es arcilloso.", True),
        ("* evaluar el estudio", "El suelo es arcilloso.", False),
    ],
)
def test_an_objective_is_missing_where_nothing_of_it_is_named(objective: str, conclusion: str, missing: bool) -> None:
    """By another name, in the plural, without the accent; an objective of common words asks for nothing."""
    found = load(changed(content("text/objectives.md", objective.encode()), *only(conclusions=conclusion)))
    assert bool(open_objectives(found, claims(found))) is missing


def test_a_sentence_of_what_was_not_planned_is_no_objective() -> None:
    plain = load(
        changed(content("text/objectives.md", "Buscar la fuente. No se previó excavar y no se hizo.".encode()))
    )
    assert [one.text for one in objectives(plain)] == ["Buscar la fuente."]
