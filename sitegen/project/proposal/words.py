"""The words that laboratories use in headers and cells, from ``sitegen/data/laboratory_words.toml``.

They are common practice and have no source. They propose; a person confirms.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any

from sitegen.project.delivery.names import Compounds
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import plain

_APART = re.compile(r"[^\w%+]+")
_LETTERS = re.compile(r"[^\W\d_]+(?: [^\W\d_]+)?")
_BRACKET = re.compile(r"[(\[](?P<inside>[^()\[\]]*)[)\]]")
_BEFORE_UNITS = (" / ", ", ", " in ", "_", " ")
CONTROLS = ("control", "control_duplicate")
"""Kinds of samples that hold what the laboratory added itself."""
LONGEST = 80
"""A longer text is no header and no word of a laboratory: project default, no published source."""


@cache
def words() -> Mapping[str, Any]:
    """Return the whole vocabulary."""
    return tomllib.loads(files("sitegen").joinpath("data/laboratory_words.toml").read_text("utf-8"))


def neat(text: str) -> str:
    """Write a header so that spellings of one meaning agree.

    >>> neat("CAS  No."), neat("Client_Sample-ID")
    ('cas no', 'client sample id')
    """
    return " ".join(_APART.split(plain(text[:LONGEST]).casefold().replace("_", " "))).strip()


@cache
def _index(table: str) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for meaning, spellings in words()[table].items():
        for spelling in spellings:
            found.setdefault(neat(spelling), meaning)
    return found


def role_of(header: str) -> tuple[str, bool]:
    """Return what a header names, "" where that is not known, and whether others use the word otherwise.

    Of a header in several lines the whole counts first, then its last line, then its first.

    >>> role_of("CAS No."), role_of("Result (ng)"), role_of("Reporting / Limit"), role_of("Weather")
    (('cas', False), ('result_text', False), ('rl', False), ('', False))
    """
    whole = without_unit(header)
    lines = [whole, *reversed(header.split(" / "))] if " / " in header else [whole]
    for table, weak in (("columns", False), ("perhaps", True)):
        for line in lines:
            if found := _index(table).get(neat(line)) or _index(table).get(neat(without_unit(line))):
                return found, weak
    return "", False


def is_unread(header: str) -> bool:
    """Tell whether a header names something that no table of the format holds."""
    return neat(header) in _unread()


@cache
def _unread() -> frozenset[str]:
    return frozenset(neat(word) for word in words()["unread"]["words"])


def without_unit(header: str) -> str:
    """Return a header without the unit behind it.

    >>> without_unit("Toluene [ng/sampler]"), without_unit("Result / ng"), without_unit("Xylenes (total)")
    ('Toluene', 'Result', 'Xylenes (total)')
    """
    found = unit_in_heading(header)
    return header.replace(found[0], "").strip() if found else header


def unit_in_heading(header: str) -> tuple[str, str] | None:
    """Return the part of a header that tells a unit, and the unit as it is spelt there.

    >>> unit_in_heading("Mass (ng)"), unit_in_heading("Mass, ng"), unit_in_heading("Mass_ng")
    (('(ng)', 'ng'), (', ng', 'ng'), ('_ng', 'ng'))
    """
    for match in _BRACKET.finditer(header[: 4 * LONGEST]):
        if unit_of(match["inside"]):
            return match[0], match["inside"].strip()
    for sign in _BEFORE_UNITS:
        stem, found, tail = header.rpartition(sign)
        if found and stem.strip() and unit_of(tail):
            return found + tail, tail.strip()
    return None


def unit_of(text: str) -> str:
    """Return the unit that a spelling means, "" where it means none that is known.

    >>> unit_of("\u00b5g/Sampler"), unit_of("NG"), unit_of("furlong")
    ('ug', 'ng', '')
    """
    return _units().get(_unit_spelt(text), "")


@cache
def _units() -> Mapping[str, str]:
    return {_unit_spelt(spelling): unit for unit, spellings in words()["units"].items() for spelling in spellings}


def _unit_spelt(text: str) -> str:
    return " ".join(plain(text[:LONGEST]).casefold().replace("\u00b5", "u").replace("\u03bc", "u").split())


def factor_of(unit: str) -> tuple[Decimal, str] | None:
    """Return the factor of a unit and the unit of ours that it leads to; None where there is none.

    >>> factor_of("ug"), factor_of("ppb")
    ((Decimal('1000'), 'ng'), None)
    """
    stated = words()["factors"].get(unit)
    return (Decimal(stated["factor"]), stated.get("unit", "ng")) if stated else None


def nondetect(text: str) -> str:
    """Tell whether a cell says "not detected": "sure", "unsure" where it may say something else, or "".

    >>> nondetect("N.D."), nondetect("--"), nondetect("12")
    ('sure', 'unsure', '')
    """
    spelt = " ".join(text[:LONGEST].casefold().split())
    return next((kind for kind in ("sure", "unsure") if spelt in words()["nondetect"][kind]), "")


def prefixes() -> tuple[str, ...]:
    """Return the signs that stand before a limit, longest first."""
    return tuple(sorted(words()["nondetect"]["prefixes"], key=len, reverse=True))


def kind_of(table: str, text: str) -> str:
    """Return the meaning of a word of ``types`` or ``qc``, "" where it is not listed.

    >>> kind_of("types", "MB"), kind_of("qc", "SURR")
    ('method_blank', 'surrogate')
    """
    return _index(table).get(neat(text), "")


def letters_of(text: str) -> list[str]:
    """Return the words of letters in an id, two that stand together as one."""
    return [match[0] for match in _LETTERS.finditer(text[:60])]


def sample_kind(text: str) -> str:
    """Return the kind of sample that an id tells by the letters that it begins or ends with, "" where none.

    >>> sample_kind("LCSD-2"), sample_kind("Method Blank 1"), sample_kind("SG-04"), sample_kind("0417-MB")
    ('control_duplicate', 'method_blank', '', 'method_blank')
    """
    found = letters_of(text)
    kinds = [kind_of("types", part) for part in (found[0], found[-1])] if found else []
    return next((kind for kind in kinds if kind not in ("", "sample")), "")


def our_qualifiers(text: str) -> str | None:
    """Return what a qualifier means by common practice, None where only the laboratory's key tells."""
    found: str | None = words()["qualifiers"].get(text)
    return found


def is_surrogate(name: str) -> str:
    """Return the kind of QC row that the name of a compound tells, "" for one that is looked for.

    >>> is_surrogate("Toluene-d8"), is_surrogate("Toluene")
    ('surrogate', '')
    """
    stated = words()["surrogates"]
    spelt = plain(name[:LONGEST]).casefold()
    if any(mark in spelt for mark in stated["standard_marks"]):
        return "internal_standard"
    marked = any(mark in spelt for mark in stated["marks"]) or spelt in stated["names"]
    return "surrogate" if marked else ""


@dataclass(frozen=True, slots=True)
class Known:
    """What the folder knows of compounds and samplers.

    ``compounds`` finds those of ``analytes.csv``; ``serials`` are the ids of ``samplers.csv``, and ``labels``
    lead from labels to them; ``samples`` lead from the ids of ``lab_samples.csv`` to samplers, ``kinds`` from samplers
    to types of laboratory samples other than ``sample``. ``kindless`` are samplers of which no kind is on record yet.
    """

    compounds: Compounds = field(default_factory=lambda: Compounds((), {}))
    serials: frozenset[str] = frozenset()
    labels: Mapping[str, str] = field(default_factory=dict)
    samples: Mapping[str, str] = field(default_factory=dict)
    kinds: Mapping[str, str] = field(default_factory=dict)
    kindless: frozenset[str] = frozenset()


def sampler_of(text: str, known: Known) -> str:
    """Return the sampler that a text means: its serial, one without its zeros, or its label; "" where it is none.

    >>> sampler_of("47102", Known(serials=frozenset({"0047102"})))
    '0047102'
    """
    if text in known.serials:
        return text
    if text.isascii() and text.isdigit():
        filled = (text.zfill(len(text) + zeros) for zeros in range(1, 8))
        return next((one for one in filled if one in known.serials), "")
    return known.labels.get(text, "")


def common_cas(name: str) -> str:
    """Return the CAS number of a compound by a name in common use, "" where it is not known.

    >>> common_cas("PCE"), common_cas("Tetrachloroethene"), common_cas("Sample")
    ('127-18-4', '127-18-4', '')
    """
    return _cas_by_name().get(plain(tidy(name[:LONGEST])).casefold(), "")


@cache
def _cas_by_name() -> Mapping[str, str]:
    text = files("sitegen").joinpath("data/compounds.csv").read_text("utf-8")
    found = {name.casefold(): cas for cas, name in _listed(text.splitlines()[1:])}
    for cas, names in words()["compounds"].items():
        found |= {name.casefold(): cas for name in names}
    return found


def _listed(lines: Iterable[str]) -> Iterable[tuple[str, str]]:
    for line in lines:
        cas, rest = line.split(",", 1)
        yield cas, rest.rsplit(",", 2)[0].strip('"')
