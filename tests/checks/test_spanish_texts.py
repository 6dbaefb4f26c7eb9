"""Texts, field notes and search in Spanish: each list of words finds what it is for, and leaves plain words alone."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from time import process_time

import pytest
from builders import Change, cell, changed, content, load, removed, sentence, survey_findings

import sitegen
from sitegen.checks.comments import first_word, watch_words
from sitegen.checks.conclusions import over_a_level
from sitegen.checks.narrative import claims, template_text, typed_numbers
from sitegen.findings.problems import Finding
from sitegen.report.write.searchwords import compound_words, page_words
from sitegen.report.write.sentences import numbered_sentences, tells_number
from sitegen.voice import Voice, speaking

SPANISH = Voice(language="es")
SUMMARY = (
    "En el aire de Office, el tetracloroeteno en IA-01 y el benceno en IA-01 y IA-02 superan el nivel de referencia."
)
TEXTS = ("summary", "interpretation", "conclusions", "recommendations")


@pytest.fixture(autouse=True)
def _in_spanish() -> Iterator[None]:
    with speaking(SPANISH):
        yield


def findings_of(code: str, *changes: Change) -> list[Finding]:
    return [finding for finding in survey_findings(changed(*changes)) if finding.code == code]


def only(**texts: str) -> tuple[Change, ...]:
    return tuple(content(f"text/{name}.md", texts.get(name, "Sin texto.").encode()) for name in TEXTS)


CLAIMED = (
    (
        "La concentración de benceno en el gas del suelo subió.",
        "Concentraciones bajo la losa.",
        "concentración en vapor de suelo",
    ),
    (
        "una concentración de 120 ng por muestreador",
        "concentraciones de hasta 1\u202f200 ng",
        "concentraciones de {{ max.pce }}",
    ),
    (
        "El suelo está limpio.",
        "El emplazamiento está libre de contaminación.",
        "No se observan indicios de contaminación.",
        "una zona no contaminada",
        "sin contaminantes",
    ),
    ("Se descarta la presencia de benceno.", "ausencia de vapores", "Los compuestos no están presentes."),
    ("No hay riesgo para los ocupantes.", "El edificio es seguro.", "Se descarta cualquier riesgo.", "sin riesgos"),
    ("el límite de la pluma", "la extensión del penacho"),
    ("Se delimitó la fuente.", "la delimitación de la zona fuente"),
    ("El emplazamiento fue completamente caracterizado.", "investigado por completo"),
    ("Esto prueba que hubo un vertido.", "un resultado concluyente", "sin lugar a dudas"),
    ("El mapa confirma que hay una fuente.", "Los datos demuestran la migración."),
    ("La fuente está en la lavandería.", "El origen fue identificado."),
    ("Los datos fueron validados.", "resultados validados"),
    ("La masa excede el nivel.", "Se sobrepasan los niveles: sobrepasado.", "incumple la norma"),
    ("Cumple los criterios.", "en cumplimiento de la normativa"),
    ("No existe intrusión de vapores.", "Se descarta la intrusión de vapores."),
    ("el peor caso", "durante todo el año", "representativo a largo plazo"),
    ("los COV totales", "la masa total de volátiles"),
    ("una diferencia estadísticamente significativa",),
    ("No se requieren medidas adicionales.", "No es necesaria la remediación.", "La remediación no es necesaria."),
    ("Se garantiza el resultado.", "con toda certeza", "100 % seguro"),
)
"""Sentences that claim too much, for each entry of the list in its order."""


@pytest.mark.parametrize(
    ("entry", "words"), [(number, words) for number, entry in enumerate(CLAIMED) for words in entry]
)
def test_words_that_claim_too_much_are_found_by_their_entry(entry: int, words: str) -> None:
    assert len(CLAIMED) == len(claims())
    assert claims()[entry].pattern.search(words)


@pytest.mark.parametrize(
    "words",
    [
        "No se descarta la presencia de benceno.",
        "El riesgo lo evalúa el profesional habilitado.",
        "una concentración de 1.2 µg/m³ en el aire",
        "una concentración de 7 µg por metro cúbico",
        "arena limpia sobre grava",
        "los guantes evitan la contaminación: sin contaminación cruzada",
        "si está o no contaminado",
        "El emplazamiento está delimitado por la calle.",
        "El resultado es no concluyente.",
        "Los resultados no son concluyentes.",
        "El plan de trabajo establece los límites.",
        "para garantizar la calidad",
        "excavar con seguridad",
        "la prueba que se hizo",
        "La fuente es desconocida.",
        "No se ha identificado la fuente.",
        "todo el emplazamiento",
        "El benceno supera el nivel de referencia.",
        "el total de 55 puntos",
        "No es seguro que llueva.",
    ],
)
def test_plain_words_claim_nothing(words: str) -> None:
    assert [claim.pattern.search(words) for claim in claims()] == [None] * len(claims())


def test_the_wording_offered_for_a_claim_is_spanish_and_no_claim_itself() -> None:
    spoken = claims()
    for claim in spoken:
        assert not any(other.pattern.search(claim.better) for other in spoken), claim.better
    with speaking(Voice()):
        assert {one.better for one in claims()} & {one.better for one in spoken} == set()
        assert not any(one.pattern.search("El emplazamiento está libre de contaminación.") for one in claims())


def test_an_english_text_in_a_spanish_project_is_held_to_the_english_words_as_well() -> None:
    assert any(claim.pattern.search("There is no contamination.") for claim in claims())


def test_a_claim_over_two_lines_holds_the_issue() -> None:
    (finding,) = findings_of("over-claim", *only(conclusions="El emplazamiento está libre de\ncontaminación."))
    assert (finding.severity.value, finding.where.file, finding.where.row) == ("hold", "text/conclusions.md", 1)
    assert "libre de contaminación" in finding.found


WATCHED = (
    ("Vidrio AGRIETADO en el cuello", "Se rompió la tapa"),
    ("Agua en el vial", "Barro dentro del tubo", "sorbente mojado"),
    ("Encontrado destapado", "Tapa suelta", "sin tapa", "Se cayó al retirarlo"),
    ("Perforación inundada", "agua estancada"),
    ("Derrame de gasóleo", "fuga en la bomba"),
    ("ligero olor", "mancha gris"),
    ("suelo húmedo", "lluvia al instalar"),
    ("pared derrumbada", "hueco bajo la losa"),
    ("rechazo a media profundidad", "escombros"),
    ("pintura fresca", "productos de limpieza", "generador en marcha"),
)


@pytest.mark.parametrize(
    ("entry", "comment"), [(number, comment) for number, entry in enumerate(WATCHED) for comment in entry]
)
def test_words_of_harm_are_found_by_their_entry(entry: int, comment: str) -> None:
    hit = first_word(comment)
    assert len(WATCHED) == len(watch_words())
    assert hit is not None
    assert hit[0] == watch_words()[entry]


@pytest.mark.parametrize(
    "comment", ["Sin olor.", "Sin abrir, seco.", "Portón cerrado.", "Todo en orden.", "sin lluvia", "No alterado.", ""]
)
def test_plain_comments_hold_no_watch_word(comment: str) -> None:
    assert first_word(comment) is None


def test_a_crew_may_write_in_either_language() -> None:
    assert first_word("slight odour") is not None
    with speaking(Voice()):
        assert first_word("ligero olor") is None


def test_a_comment_of_harm_beside_an_intact_sampler_is_flagged_in_spanish() -> None:
    note = cell("field/deployments.csv", "0047103", "comment", "Tapa rota al levantarla.")
    (finding,) = [one for one in findings_of("comment-watch-word", note) if one.subject == "0047103"]
    assert finding.severity.value == "flag"
    assert "rota" in finding.found


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("TODO: escribir.", "TODO"),
        ("TODO", "TODO"),
        ("El día [insertar fecha].", "[insertar fecha]"),
        ("Es un texto de ejemplo.", "texto de ejemplo"),
        ("Rellenar aquí", "Rellenar aquí"),
        ("Todo el emplazamiento está pavimentado, y todo lo demás.", ""),
        ("Véase la [fecha de muestreo](https://example.org).", ""),
    ],
)
def test_template_words_are_told_from_the_spanish_word_for_all(line: str, found: str) -> None:
    told = list(template_text(load(changed(content("text/setting.md", line.encode())))))
    assert [one.found for one in told] == ([repr(found)] if found else [])


def test_numbers_with_spanish_units_are_typed_numbers() -> None:
    words = "En 12 días, 44 m-Xileno, 20 por ciento, 3 semanas, 5 puntos y 12\u202f500 ng."
    told = list(typed_numbers(load(changed(content("text/setting.md", words.encode())))))
    assert [one.found for one in told] == [
        repr(one) for one in ("12 días", "20 por ciento", "3 semanas", "12\u202f500 ng")
    ]


def test_conclusions_that_name_each_exceedance_in_spanish_satisfy_the_check() -> None:
    said = only(summary=SUMMARY, conclusions=SUMMARY)
    assert findings_of("exceedance-not-concluded", *said) == findings_of("exceedance-not-stated", *said) == []


def test_an_exceedance_that_spanish_conclusions_leave_out_holds_the_issue() -> None:
    without = SUMMARY.replace(" y IA-02", "").replace("En el aire de Office, e", "E")
    found = findings_of("exceedance-not-concluded", *only(summary=without, conclusions=without))
    assert [(one.subject, one.severity.value) for one in found] == [("IA-02+benzene", "hold")]
    (stated,) = findings_of("exceedance-not-stated", *only(summary=SUMMARY, conclusions=without))
    assert stated.subject == "conclusions+IA-02+benzene"


def test_a_false_spanish_claim_holds_with_its_line_and_an_unclear_one_is_no_finding() -> None:
    (finding,) = findings_of("claim-differs", sentence("summary", "No se detectó tetracloroeteno en SS-01."))
    assert (finding.severity.value, finding.key) == ("hold", "claim-differs:summary+pce+SS-01+not-detected")
    for unclear in ("No solo se detectó benceno en SG-21.", "El benceno es más alto en SG-12."):
        assert findings_of("claim-differs", sentence("summary", unclear)) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("El benceno supera el nivel de referencia residencial.", True),
        ("Está por encima de los niveles aplicables.", True),
        ("El nivel de referencia fue superado.", True),
        ("El benceno es superior al umbral.", True),
        ("El benceno rebasa el nivel.", True),
        ("El agua está por encima del nivel freático.", False),
        ("No se puede decir si se supera un nivel de referencia.", False),
        ("Ninguna masa está por encima del límite de reporte.", False),
        ("Las masas no se comparan con niveles de referencia; superan lo previsto.", False),
    ],
)
def test_words_of_a_level_that_is_exceeded(words: str, says: bool) -> None:
    assert bool(over_a_level(words)) is says


def test_a_level_that_nothing_was_compared_with_is_not_exceeded_in_spanish_words() -> None:
    bare = (*only(summary=SUMMARY), removed("reference/uptake_rates.csv"))
    assert [one.where.file for one in findings_of("level-claimed", *bare)] == ["text/summary.md"]
    assert findings_of("level-claimed", *only(summary=SUMMARY)) == []


def test_a_long_sentence_about_levels_is_read_in_its_own_length() -> None:
    began = process_time()
    assert over_a_level("supera " * 20_000) == ""
    assert process_time() - began < 4


def test_a_trip_blank_that_a_spanish_note_calls_opened_is_found() -> None:
    blank = next(row for row in load(changed()).frame("samplers").to_dict("records") if row["kind"] == "trip_blank")
    name = str(blank["sampler_id"])
    note = cell("field/samplers.csv", name, "note", "Se abrió por error en el campo.")
    assert [one.subject for one in findings_of("trip-blank-opened", note)] == [name]
    assert findings_of("trip-blank-opened", cell("field/samplers.csv", name, "note", "No abierto, sin abrir.")) == []


@pytest.mark.parametrize(
    ("page", "word"),
    [
        ("air", "riesgo"),
        ("air", "aire interior"),
        ("quality", "blanco de transporte"),
        ("custody", "cadena de custodia"),
    ],
)
def test_spanish_words_of_the_trade_lead_to_their_page_beside_the_english_ones(page: str, word: str) -> None:
    own = page_words(page)
    assert word in own
    with speaking(Voice()):
        assert set(page_words(page)) < set(own)
        assert word not in page_words(page)


def test_a_compound_is_found_by_its_spanish_names() -> None:
    found = compound_words("127-18-4", "PCE")
    assert {"percloroetileno", "tetracloroeteno", "perc", "PCE"} <= set(found)
    assert len(found) == len({word.casefold() for word in found})


def test_each_spanish_list_has_the_entries_of_the_english_one() -> None:
    def entries(name: str) -> tuple[dict[str, object], dict[str, object]]:
        folder = files("sitegen")
        english, spanish = (
            tomllib.loads(folder.joinpath(f"{where}/{name}.toml").read_text("utf-8")) for where in SPANISH.data
        )
        return english, spanish

    english, spanish = entries("watch_words")
    assert [one["about"] for one in english["words"]] == [one["about"] for one in spanish["words"]]  # type: ignore[attr-defined]
    english, spanish = entries("search_words")
    assert english["pages"].keys() == spanish["pages"].keys()  # type: ignore[attr-defined]
    data = Path(sitegen.__file__).parent / "data"
    known = tomllib.loads((data / "es/names.toml").read_text("utf-8"))["compounds"]
    listed = [line.partition(",")[0] for line in (data / "compounds.csv").read_text("utf-8").splitlines()[1:]]
    assert [cas for cas in listed if cas not in known] == []


def test_a_spanish_date_is_no_number_of_the_survey() -> None:
    assert not tells_number("instalado el 23 de octubre de 2025, 14:07")
    assert tells_number("23 de octubre de 2025: 2 puntos")
    assert not tells_number("SG-35 el 2025-10-23")
    assert list(numbered_sentences("Recuperado el 6 de noviembre de 2025. Hay 2 bolsas.")) == ["Hay 2 bolsas."]
