"""Names that every program takes: ASCII letters, digits and underscores."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator

from sitegen.units import UNIT_TEXT, stated_unit

_NOT_A_NAME = re.compile(r"\W+", re.ASCII)


def plain_name(text: str) -> str:
    """Return a text as the name of a layer or column: ASCII letters, digits and underscores.

    >>> plain_name("ng per sampler"), plain_name("µg/m³")
    ('ng_per_sampler', 'ug_m3')
    """
    ascii_only = unicodedata.normalize("NFKD", text.replace("µ", "u")).encode("ascii", "ignore").decode()
    return _NOT_A_NAME.sub("_", ascii_only).strip("_").lower() or "other"


def unit_name(unit: str) -> str:
    """Return a unit of results, by its code or as it is written, as part of a name: the same in every language.

    >>> unit_name("ng"), unit_name("ug/m3"), unit_name("ppb")
    ('ng_per_sampler', 'ug_m3', 'ppb')
    """
    return plain_name(next((stated_unit(code) for code, text in UNIT_TEXT.items() if unit in (code, text)), unit))


def unique_names(texts: Iterable[str]) -> Iterator[str]:
    """Yield the plain name of each text, with a number behind it where another has it already.

    >>> list(unique_names(["pce", "PCE", "1,1-DCE"]))
    ['pce', 'pce_2', '1_1_dce']
    """
    taken: set[str] = set()
    for text in texts:
        plain = plain_name(text)
        free, number = plain, 1
        while free in taken:
            number += 1
            free = f"{plain}_{number}"
        taken.add(free)
        yield free
