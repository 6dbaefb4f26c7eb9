"""Compounds that are known beforehand, by CAS number, from ``sitegen/data/compounds.csv``.

Molar masses are sums of the standard atomic weights of CIAAW (IUPAC), in g/mol. The list
serves to check a project's own; it is never used in its place.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

SOURCE = "IUPAC CIAAW, standard atomic weights"


@dataclass(frozen=True, slots=True)
class KnownCompound:
    """A compound: CAS number, name, formula, molar mass."""

    cas: str
    name: str
    formula: str
    molar_mass_g_mol: float


@cache
def known_compounds() -> Mapping[str, KnownCompound]:
    """Return the known compounds by CAS number.

    >>> known_compounds()["127-18-4"].name
    'Tetrachloroethene'
    """
    text = files("sitegen").joinpath("data/compounds.csv").read_text("utf-8")
    return {
        row["cas"]: KnownCompound(row["cas"], row["name"], row["formula"], float(row["molar_mass_g_mol"]))
        for row in csv.DictReader(text.splitlines())
    }
