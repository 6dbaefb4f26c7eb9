"""The words by which sentences are read as claims, in the language of the report."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from sitegen.voice import ENGLISH, voice


def _any_case(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Strict:
    """What keeps a claim from being read in a language whose words stand in many orders.

    ``open`` are words that turn or weaken what is said, ``excepting`` those that take back a part of it after the
    names. ``of_another`` is the end of words before a compound that make it belong to something else, which
    ``carries`` names where it may. ``superlative`` is a form that may be meant as "higher" as well as "highest".
    """

    open: re.Pattern[str]
    excepting: re.Pattern[str]
    of_another: re.Pattern[str]
    carries: frozenset[str]
    superlative: re.Pattern[str]


@dataclass(frozen=True, slots=True)
class ClaimWords:
    """Patterns of a language.

    ``strong`` and ``weak`` cut a sentence, ``joiner`` joins names to a list, ``conjunction`` parts words within a
    part. ``plain`` are words that may stand beside "highest" without limiting it. ``strict`` is None where a reading
    needs no more than these.
    """

    strong: re.Pattern[str]
    weak: re.Pattern[str]
    joiner: re.Pattern[str]
    conjunction: re.Pattern[str]
    missed: re.Pattern[str]
    detected: re.Pattern[str]
    none: re.Pattern[str]
    highest: re.Pattern[str]
    qualified: re.Pattern[str]
    plain: frozenset[str]
    limiting: re.Pattern[str]
    no_limit: re.Pattern[str]
    compared: re.Pattern[str]
    than: re.Pattern[str]
    before_other: re.Pattern[str]
    respectively: re.Pattern[str]
    negated: re.Pattern[str]
    strict: Strict | None = None


def claim_words() -> ClaimWords:
    """Return the words of the language that speaks."""
    return _LANGUAGES[voice().language]


def composed(text: str) -> str:
    """Return a text with each accent in one sign with its letter, where the language has accents."""
    return text if voice().language == ENGLISH else unicodedata.normalize("NFC", text)


_ENGLISH = ClaimWords(
    strong=re.compile(r"(?:,|(?<!\s))\s++(?:but|while|whereas|although|though)\s+"),
    weak=re.compile(r",\s++and\s+|(?<!\s)\s++and\s+|,\s+"),
    joiner=_any_case(
        r"\s*+(?:,\s*+(?:(?:and|or|nor|as well as|to|&)(?:\s+at)?)?|(?:and|or|nor|as well as|to|&)(?:\s+at)?)\s*+"
        r"(?:the\s+|points?\s+)?"
    ),
    conjunction=_any_case(r"[,.]|\b(?:and|but|while|whereas|although|though)\b"),
    missed=_any_case(
        r"\b(?:not|never)\b(?:\s+\w+){0,2}?\s+(?:detected|found)\b|\bundetected\b|\bnon-detects?\b"
    ),
    detected=_any_case(r"\bdetected\b"),
    none=_any_case(r"\b(?:no|neither|nor)\s*$"),
    highest=_any_case(r"\b(?:highest|largest|greatest|maximum)\b"),
    qualified=_any_case(
        r"(?:\b(?:not|never|nor|no longer)\b.*|\b(?:second|third|next|nearly|almost)[\s-]+"
        r"|\b(?:among|one of|some of) the\s+)$"
    ),
    plain=frozenset((
        "mass", "masses", "value", "values", "result", "results", "detection", "detections", "amount", "amounts",
        "reading", "readings", "is", "are", "was", "were", "has", "have", "its", "the", "a", "it", "with", "found",
        "measured", "recorded", "reported", "lies", "occurs", "at", "in", "soil", "gas", "of", "ng", "per", "sampler",
        "point", "points", "location", "under", "beneath", "beside",
    )),
    limiting=_any_case(
        r"\b(?:in|along|among|within|outside|inside|around|near|on|after|behind|except|apart|besides|without)\b"
        r"\s+(?!at\b)|\b(?:north|south|east|west|indoors|outdoors|elsewhere)\b"
    ),
    no_limit=_any_case(r"\bin (?:this survey|the survey|soil gas|soil|all|air)\b"),
    compared=_any_case(r"\b(?P<up>higher|greater|larger|more)\b|\b(?:lower|smaller|less)\b"),
    than=_any_case(r"(?<!rather )(?<!other )\bthan\b"),
    before_other=_any_case(r"\s*(?:(?:at|the|that|those|of|in|for|point|points|mass|masses)\s+)*"),
    respectively=_any_case(r"\brespectively\b"),
    negated=_any_case(r"\b(?:not|never|no|nor|neither)\b"),
)  # fmt: skip

_AND = r"(?:y|e|o|u|ni|así\s+como|como|a|&)"
_ARTICLE = r"(?:el|la|los|las|su|sus)"
_NOUN = r"(?:masas?|valor(?:es)?|resultados?|cantidad(?:es)?|lecturas?|detecci(?:ón|ones)|medici(?:ón|ones)|medidas?)"
_FOUND = r"(?:detect(?:[óo]|aron|an?|ad[oa]s?)|encontr(?:[óo]|aron|ad[oa]s?)|hall(?:[óo]|aron|ad[oa]s?))"
_HELPING = r"(?:se|ha|han|fue|fueron|es|son|está|están|sido|resultó|resultaron)"
_HIGH = r"m[áa]s\s+(?:alt[oa]s?|elevad[oa]s?|grandes?)"
_FOLLOWS = (
    rf"(?=\s+(?:{_NOUN}|de|del|en|se|fue|fueron|es|son|está|están|corresponden?|aparecen?|y|con|ha|han)\b"
    r"|\s*[,.;:()]|\s*$)"
)
_MASSES = rf"(?:\s+(?:en|que|al?|de|del|{_NOUN})\b)"

_SPANISH = ClaimWords(
    strong=_any_case(r"(?:,|(?<!\s))\s++(?:pero|mientras\s+que|mientras|aunque|sino\s+que|en\s+cambio)\s+"),
    weak=_any_case(r",\s++[ye]\s+|(?<!\s)\s++[ye]\s+|,\s+"),
    joiner=_any_case(
        rf"(?:\s*+,\s*+(?:{_AND}\s++(?:en\s+)?)?|\s++{_AND}\s++(?:en\s+)?)(?:(?:el|la|los|las|al|del)\s+)?(?:puntos?\s+)?"
    ),
    conjunction=_any_case(r"[,.]|\b(?:y|e|pero|mientras|aunque|sino)\b"),
    missed=_any_case(
        rf"\b(?:no|nunca|tampoco)\s+(?:{_HELPING}\s+){{0,3}}{_FOUND}\b(?!\s+(?:s[óo]lo|solamente|únicamente|siempre)\b)"
        r"|\bsin\s+detec(?:ción|ciones|tar)\b|\bno\s+hubo\s+detecci(?:ón|ones)\b"
    ),
    detected=_any_case(
        rf"(?:\bsí\s+)?(?:\b{_HELPING}\s+)*\bdetect(?:[óo]|aron|an?|ad[oa]s?)\b(?!\s+(?:m[áa]s|menos)\b)"
    ),
    none=_any_case(r"\b(?:ni|ningún|ninguno\s+de|ninguna\s+de)\s*(?:(?:el|la|los|las)\s*)?$"),
    highest=_any_case(
        rf"\b{_ARTICLE}\s+(?:{_NOUN}\s+)?(?:{_HIGH}\b|m[áa]xim[oa]s?\b{_FOLLOWS}|mayor(?:es)?\b{_FOLLOWS})"
    ),
    qualified=_any_case(
        r"(?:\b(?:no|nunca|ni|tampoco)\b.*|\b(?:un[oa]s?\s+de|algun[oa]s\s+de|entre|de\s+entre|parte\s+de|tras|después\s+de"
        r"|casi)\s+)$"
    ),
    plain=frozenset((
        "masa", "masas", "valor", "valores", "resultado", "resultados", "cantidad", "cantidades", "lectura",
        "lecturas", "detección", "detecciones", "medición", "mediciones", "medida", "medidas", "es", "son", "fue",
        "fueron", "era", "eran", "está", "están", "se", "ha", "han", "sido", "tiene", "tienen", "tuvo", "su", "sus",
        "el", "la", "los", "las", "lo", "un", "una", "de", "del", "con", "por", "que", "y", "e", "encontró",
        "encontraron", "halló", "hallaron", "midió", "midieron", "medido", "medida", "registró", "registraron",
        "registra", "registran", "registrada", "registrado", "observó", "observaron", "observa", "presenta",
        "presentan", "presentó", "presentaron", "alcanza", "alcanzan", "alcanzó", "alcanzaron", "aparece",
        "aparecen", "obtuvo", "obtuvieron", "corresponde", "corresponden", "correspondió", "detectó", "detectaron",
        "detectado", "detectada", "muestra", "muestran", "mostró", "dio", "en", "a", "al", "gas", "gases", "suelo",
        "ng", "muestreador", "punto", "puntos", "presencia", "vapor", "vapores", "trazas", "también", "sí", "solo",
        "sólo", "solamente", "únicamente", "ni", "ningún", "ninguna", "no", "nunca", "tampoco", "tanto", "donde",
    )),
    limiting=_any_case(
        r"\b(?:entre|dentro|fuera|alrededor|alrededores|cerca|junto|tras|después|detrás|salvo|excepto|excepción|aparte"
        r"|además|largo|norte|sur|oeste)\b|\b(?:al|del|lado|mitad|parte|zona|sector|extremo)\s+este\b"
        r"|\ben\s+(?!(?:(?:el|los)\s+)?(?:puntos?\s+)?$)"
    ),
    no_limit=_any_case(
        r"\ben\s+(?:este\s+estudio|el\s+estudio|todo\s+el\s+estudio|el\s+conjunto\s+del\s+estudio|el\s+aire"
        r"|(?:el\s+)?gas\s+del\s+suelo|los\s+gases\s+del\s+suelo|el\s+suelo)\b"
    ),
    compared=_any_case(
        rf"\b(?P<up>{_HIGH}\b|mayor(?:es)?\b(?={_MASSES})|superior(?:es)?\b(?={_MASSES}))"
        rf"|\bm[áa]s\s+(?:baj[oa]s?|pequeñ[oa]s?)\b|\b(?:menor(?:es)?|inferior(?:es)?)\b(?={_MASSES})"
    ),
    than=_any_case(r"(?<!,)(?<!,\s)\bque\b|\ba(?=\s+(?:la|las|los|lo)\s+(?:de|del|en)\b)|\bal(?=\s+(?:de|del)\b)"),
    before_other=_any_case(
        r"\s*(?:(?:en|el|la|los|las|lo|de|del|punto|puntos|masa|masas|valor|valores|para)\s+)*"
    ),
    respectively=_any_case(r"\brespectivamente\b"),
    negated=_any_case(r"\b(?:no|nunca|ni|tampoco|ning[úu]n[oa]?|sin)\b"),
    strict=Strict(
        open=_any_case(
            r"\b(?:no|nunca|jamás|tampoco|sin(?!\s+embargo)|sí|si|salvo|excepto|menos|excepción|exceptuando|aparte|sino"
            r"|casi|apenas|podr[íi]an?|podr[áa]n?|pued[ea]n?|pud\w+|deber[íi]an?|quiz[áa]s?|tal\s+vez|posible(?:mente)?"
            r"|probable(?:mente)?|habr[íi]an?|habrán?|hubier\w+|hubies\w+|aparentemente|parecen?|esperaban?|prevé"
            r"|previst[oa]s?|anterior(?:es|mente)?|cuando|dud\w+|supon\w+|segund[oa]s?|tercer[oa]?s?|siguientes?"
            r"|lejos|fuera|cerca|junto|alrededor|torno|(?:al|hacia\s+el)\s+(?:norte|sur|este|oeste)"
            r"|aguas\s+(?:arriba|abajo))\b"
        ),
        excepting=_any_case(
            r"\b(?:salvo|excepto|excepción|exceptuando|menos|sino|aparte)\b|\b(?:pero|aunque)\s+sí\b"
        ),
        of_another=_any_case(
            r"\b(?P<noun>[^\W\d_][\w-]*)\s+(?:de|del|a|al|entre|con|por|como|tipo)\s+(?:(?:el|la|los|las)\s+)?$"
        ),
        carries=frozenset((
            "masa", "masas", "valor", "valores", "resultado", "resultados", "cantidad", "cantidades", "lectura",
            "lecturas", "detección", "detecciones", "medición", "mediciones", "medida", "medidas", "presencia",
            "vapor", "vapores", "trazas", "máximo", "máxima", "máximos", "máximas", "maximo", "maxima", "alta", "alto",
            "altas", "altos", "elevada", "elevado", "elevadas", "elevados", "grande", "grandes", "mayor", "mayores",
            "detectó", "detecta", "detectaron", "detectan", "halló", "hallaron", "encontró", "encontraron", "ninguno",
            "ninguna", "tanto", "registrada", "medida", "detectada",
        )),
        superlative=_any_case(
            rf"\b{_HIGH}\b|\bm[áa]xim[oa]s?\b|\bmayor(?:es)?\b(?!\s+parte\b)"
        ),
    ),
)  # fmt: skip

_LANGUAGES = {ENGLISH: _ENGLISH, "es": _SPANISH}
