"""Words of a spelling dictionary as Debian's packages ``hunspell-en-us`` and ``hunspell-en-gb`` install it.

Read as the format's manual tells (``man 5 hunspell``), as far as these two use it: rules for prefixes and
suffixes, one letter each; words joined of others are left out.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

FOLDER = Path("/usr/share/hunspell")
NAMES = {"us": "en_US", "uk": "en_GB"}


class Rule(NamedTuple):
    """What an affix takes away and puts on, and of which words."""

    prefix: bool
    gone: str
    put: str
    where: re.Pattern[str]

    def of(self, word: str) -> str | None:
        """Return the word with the affix, None where it has none."""
        if not self.where.search(word):
            return None
        if self.prefix:
            return self.put + word.removeprefix(self.gone)
        return word.removesuffix(self.gone) + self.put


def installed() -> bool:
    """Tell whether both dictionaries are there."""
    return all((FOLDER / f"{name}.dic").is_file() for name in NAMES.values())


@cache
def words(spelling: str) -> frozenset[str]:
    """Return every word of a dictionary in small letters."""
    rules = _rules(spelling)
    found: set[str] = set()
    for line in _lines(spelling, "dic")[1:]:
        word, _, flags = line.split("\t")[0].strip().partition("/")
        forms = [word, *_formed(word, flags, rules, prefix=False)]
        found.update(forms, *(_formed(form, flags, rules, prefix=True) for form in forms))
    return frozenset(word.lower() for word in found)


def _lines(spelling: str, ending: str) -> list[str]:
    return (FOLDER / f"{NAMES[spelling]}.{ending}").read_text("utf-8-sig").splitlines()


def _rules(spelling: str) -> dict[str, list[Rule]]:
    rules: dict[str, list[Rule]] = defaultdict(list)
    for line in _lines(spelling, "aff"):
        kind, _, rest = line.partition(" ")
        parts = rest.split()
        if kind not in ("PFX", "SFX") or len(parts) < 4:
            continue
        flag, gone, put, where = parts[:4]
        prefix = kind == "PFX"
        pattern = re.compile(f"^{where}" if prefix else f"{where}$")
        rules[flag].append(Rule(prefix, _some(gone), _some(put.partition("/")[0]), pattern))
    return rules


def _some(part: str) -> str:
    return "" if part == "0" else part


def _formed(word: str, flags: str, rules: dict[str, list[Rule]], *, prefix: bool) -> Iterator[str]:
    for flag in flags:
        for rule in rules.get(flag, ()):
            if rule.prefix is prefix and (form := rule.of(word)):
                yield form
