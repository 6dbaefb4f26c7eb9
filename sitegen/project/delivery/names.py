"""Whose compound a row speaks of: by CAS number first, then by declared and known names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sitegen.findings.problems import Severity
from sitegen.project.read.cells import tidy
from sitegen.project.read.textsafe import Problem, plain, read_cas
from sitegen.project.tables import Analyte


@dataclass(frozen=True, slots=True)
class Compound:
    """What a row's name and CAS number lead to.

    ``analyte_id`` is "" where they lead nowhere; ``spelling`` is what is then to be mapped.
    """

    analyte_id: str
    spelling: str = ""
    problem: Problem | None = None


class Compounds:
    """Finds our compound by CAS number, declared spelling, or our own name and synonyms."""

    def __init__(self, analytes: Iterable[Analyte], names: Mapping[str, str]) -> None:
        self._by_cas: dict[str, set[str]] = {}
        self._by_name: dict[str, set[str]] = {}
        self._declared = {plain(tidy(spelling)): analyte for spelling, analyte in names.items()}
        self.ours: dict[str, str] = {}
        self._found: dict[tuple[str, str], Compound] = {}
        for row in analytes:
            self.learn(row.analyte_id, row.name, row.cas, *row.synonyms.split(";"))

    def learn(self, analyte: str, name: str, cas: str, *synonyms: str) -> None:
        """Take a compound into the list."""
        self.ours[analyte] = name
        if cas:
            self._by_cas.setdefault(cas, set()).add(analyte)
        for spelling in (analyte, name, *synonyms):
            if spelled := plain(tidy(spelling)):
                self._by_name.setdefault(spelled, set()).add(analyte)
        self._found.clear()

    def declared(self, name: str) -> str:
        """Return what the mapping file declares a spelling to be, "" where it says nothing of it."""
        return self._declared.get(plain(tidy(name)), "")

    def find(self, name: str, cas: str) -> Compound:
        """Return the compound of a row with this name and CAS number, as the file has them."""
        key = name, cas
        if key not in self._found:
            self._found[key] = self._find(plain(tidy(name)), tidy(cas))
        return self._found[key]

    def _find(self, name: str, cas: str) -> Compound:
        number, problem = read_cas(cas)
        if problem and not number:
            return Compound("", problem=problem)
        candidates = self._by_cas.get(number, set())
        by_name = self._declared.get(name) or _only(self._by_name.get(name, set()))
        if by_name and number and by_name not in candidates:
            others = " or ".join(sorted(candidates)) or "no listed compound"
            found = f"{name!r}, the name of {by_name}, with {number}, the number of {others}"
            return Compound("", found, ("compound-contradicts", Severity.STOP, _EXPECTED, _ASK))
        analyte = by_name or _only(candidates)
        if not analyte:
            return Compound("", " ".join(filter(None, (name, number))) or "a blank cell")
        return Compound(analyte, problem=problem)


_EXPECTED = "a name and a CAS number of the same compound"
_ASK = "compare both with the laboratory's report, then correct analytes.csv or [names]"


def _only(found: set[str]) -> str:
    """Return the one element of a set, "" where there is none or there are more."""
    return next(iter(found)) if len(found) == 1 else ""
