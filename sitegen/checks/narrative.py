"""Narrative: sections, tokens, typed numbers, over-claims, template text, points that do not exist."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from itertools import accumulate, groupby
from operator import itemgetter

from sitegen.checks.catalogue import find
from sitegen.checks.rows import setting_where
from sitegen.compute.text.tokens import BRACES, BY_COMPOUND, TOKEN, token_names
from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import text_file
from sitegen.project.survey import Survey
from sitegen.project.tables import ANALYTES, Analyte
from sitegen.voice import ENGLISH, Voice, voice, worded

REQUIRED_SECTIONS = ("summary", "conclusions", "limitations")
_CODE = re.compile(r"`[^`\n]*`")
_UNITS = (
    r"ng|µg|μg|ug|mg|kg|ppbv?|ppmv?|ft|feet|foot|inch(?:es)?|m|cm|mm|km|miles?|metres?|meters?|m²|m³|acres?|ha|"
    r"days?|weeks?|hours?|minutes?|min|h|mL|L|litres?|hPa|mbar|°C|°F|degrees"
)
_SPANISH_UNITS = (
    r"nanogramos?|microgramos?|miligramos?|pies|pulgadas?|metros?|centímetros?|milímetros?|kilómetros?|millas?|"
    r"hectáreas?|días?|semanas?|horas?|minutos?|meses|años?|litros?|mililitros?|grados?"
)


def _numbers(units: str, share: str, thousands: str = "") -> re.Pattern[str]:
    return re.compile(
        rf"(?<![\w.,-])\d[\d,{thousands}]*(?:\.\d+)?(?:[\s\u00a0-]?(?:{units})\b(?!-[Xx](?:ylene|ileno))|[\s\u00a0]?%|"
        rf"[\s\u00a0]{share}\b)"
    )


_TYPED = {
    ENGLISH: _numbers(_UNITS, "percent"),
    "es": _numbers(f"{_UNITS}|{_SPANISH_UNITS}", r"(?:percent|por\s+ciento)", "\u202f"),
}
"""Numbers with a unit, by language."""

TEMPLATE_WORDS = re.compile(
    r"\b(?:(?-i:TODO)|TBD|TBC|FIXME|XXX+|lorem ipsum|replace this|write here|your text|fill in (?:here|this))\b"
    r"|(?<![^\W_] )\btodo(?=:)"
    r"|\[(?:insert|add|describe|your|date|name|client|site)\b[^\]]*\]"
    r"|<(?!https?:|mailto:)[^<>\s][^<>\n]{1,80}>",
    re.IGNORECASE,
)
"""Words that stand for a text that is still to be written; "todo" in small letters is a word of Spanish."""
_SPANISH_TEMPLATE = re.compile(
    r"\b(?:(?:rellen|complet|escrib|indi[cq]u?)(?:ar|a|e|ir) aquí|(?:su|tu) texto aquí|texto de ejemplo"
    r"|(?:sustitu(?:ir|ya|ye)|reemplaz(?:ar|a)|reemplace) este (?:texto|párrafo))\b"
    r"|\[(?:insert[ae]r?|añad[aei]r?|agreg(?:ar|a|ue)|describ(?:ir|a|e)|indi(?:car|que)|su|fecha|nombre|cliente"
    r"|emplazamiento|sitio)\b[^\]]*\](?!\()",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Claim:
    """Words that claim too much, wording that the data can carry, and why."""

    pattern: re.Pattern[str]
    better: str
    reason: str


def claims() -> tuple[Claim, ...]:
    """Return the entries of ``sitegen/data/claims.toml``, in another language with its own words beside each."""
    return _claims(voice())


@cache
def _claims(speaks: Voice) -> tuple[Claim, ...]:
    lists = [
        tomllib.loads(files("sitegen").joinpath(f"{folder}/claims.toml").read_text("utf-8"))["claims"]
        for folder in speaks.data
    ]
    return tuple(
        Claim(
            re.compile(rf"\b(?:{'|'.join(entry['pattern'] for entry in same)})(?!\w)", re.IGNORECASE),
            worded(same[-1]["better"]),
            worded(same[-1]["reason"]),
        )
        for same in zip(*lists, strict=True)
    )


def _lines(survey: Survey) -> Iterator[tuple[str, int, str]]:
    """Yield (section, line number, line) of the narrative, code left out."""
    for section in sorted(survey.texts):
        for number, line in enumerate(survey.texts[section].splitlines(), start=1):
            yield section, number, _CODE.sub(" ", line)


def _in_one_line(survey: Survey) -> Iterator[tuple[str, str, list[int]]]:
    """Yield (section, its lines in one, where each begins), so that a line's end parts no words.

    A blank line stays a gap of two spaces, which is more than any phrase has.
    """
    for section, group in groupby(_lines(survey), key=itemgetter(0)):
        lines = [line.strip() for _, _, line in group]
        starts = list(accumulate((len(line) + 1 for line in lines[:-1]), initial=0))
        yield section, " ".join(lines), starts


def _matches(pattern: re.Pattern[str], text: str, starts: list[int]) -> dict[tuple[int, str], None]:
    """Return the words of each match with the line that they begin on, each once."""
    return dict.fromkeys((bisect_right(starts, match.start()), match[0]) for match in pattern.finditer(text))


def _say(code: str, section: str, line: int, words: str, expected: str, do: str = "") -> Finding:
    subject = f"{section}+{' '.join(words.lower().split())}"[:120]
    where = Where(text_file(section), line)
    return find(code, subject, where, repr(words), expected, do=do, kind="text")


def sections(survey: Survey) -> Iterator[Finding]:
    """The sections that every report needs are written."""
    for section in REQUIRED_SECTIONS:
        text = survey.texts.get(section)
        if text is None or not text.strip():
            found = worded("no such section") if text is None else worded("an empty section")
            where = Where(text_file(section))
            yield find("section-missing", section, where, found, worded("at least a few sentences"), kind="text")


def tokens_known(survey: Survey) -> Iterator[Finding]:
    """Every token is one of the vocabulary, and its braces are closed."""
    known = token_names(survey)
    for section, number, line in _lines(survey):
        names = [match["name"] for match in TOKEN.finditer(line)]
        for name in dict.fromkeys(name for name in names if name not in known):
            nearest = get_close_matches(name, sorted(known), n=1, cutoff=0.6)
            do = worded("write {{{{ {token} }}}}", token=nearest[0]) if nearest else ""
            if name.partition(".")[0] in BY_COMPOUND and not survey.rows(Analyte):
                do = worded(
                    "list the compounds in {path}, or map the laboratory's file; then check again", path=ANALYTES.path
                )
            yield _say("token-unknown", section, number, f"{{{{ {name} }}}}", worded("a token of the vocabulary"), do)
        if BRACES.search(TOKEN.sub("", line)):
            do = worded("close the braces on the same line")
            yield _say("token-unknown", section, number, line.strip()[:60], worded("{{ name }} on one line"), do)


def typed_numbers(survey: Survey) -> Iterator[Finding]:
    """No number with a unit is typed by hand."""
    for section, text, starts in _in_one_line(survey):
        bare = TOKEN.sub(lambda match: " " * len(match[0]), text)
        for number, words in _matches(_TYPED[voice().language], bare, starts):
            yield _say(
                "number-typed", section, number, words, worded("a token, so that the number is drawn from the data")
            )


def over_claims(survey: Survey) -> Iterator[Finding]:
    """The narrative claims no more than the data can carry."""
    for section, text, starts in _in_one_line(survey):
        for claim in claims():
            for number, words in _matches(claim.pattern, text, starts):
                do = worded("write, for example: {better}", better=claim.better)
                yield _say(
                    "over-claim",
                    section,
                    number,
                    words,
                    worded("other wording, because {reason}", reason=claim.reason),
                    do,
                )


def template_text(survey: Survey) -> Iterator[Finding]:
    """No words of the template are left in the narrative or the settings."""
    for section, number, line in _lines(survey):
        for words in dict.fromkeys(template_words(line)):
            yield _say("template-text", section, number, words, worded("text written for the survey"))
    for key, value in _settings_text(survey.settings.model_dump(), ""):
        match = next(template_words(value), "")
        if match:
            where = setting_where(survey, key)
            yield find(
                "settings-template-text",
                key,
                where,
                repr(match),
                worded("text written for the project"),
                kind="setting",
            )


def template_words(text: str) -> Iterator[str]:
    """Yield the words of a template in a text, in a Spanish project those of a Spanish one as well."""
    for pattern in (TEMPLATE_WORDS,) if voice().language == ENGLISH else (TEMPLATE_WORDS, _SPANISH_TEMPLATE):
        yield from (match[0] for match in pattern.finditer(text))


def _settings_text(value: object, key: str) -> Iterator[tuple[str, str]]:
    """Yield (dotted key, text) for every text in the settings."""
    if isinstance(value, str):
        yield key, value
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _settings_text(inner, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list):
        for inner in value:
            yield from _settings_text(inner, key)


def points_exist(survey: Survey) -> Iterator[Finding]:
    """A point named in the narrative is one of the survey."""
    ids = set(survey.frame("locations")["location_id"]) - {""}
    prefixes = sorted({match[1] for name in ids if (match := re.fullmatch(r"([A-Za-z]+-)\d+\w*", name))})
    if not prefixes:
        return
    pattern = re.compile(rf"\b(?:{'|'.join(map(re.escape, prefixes))})\d+\w*")
    for section, number, line in _lines(survey):
        for name in dict.fromkeys(pattern.findall(line)):
            if name not in ids:
                nearest = get_close_matches(name, sorted(ids), n=1, cutoff=0.6)
                do = worded("write {nearest}, or another point", nearest=nearest[0]) if nearest else ""
                yield _say("point-unknown-in-text", section, number, name, worded("a point of locations.csv"), do)


RULES = (sections, tokens_known, typed_numbers, over_claims, template_text, points_exist)
