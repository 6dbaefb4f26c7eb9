"""Compounds: CAS numbers that stand twice or belong to another, molar masses."""

from __future__ import annotations

import re
from collections.abc import Iterator

from sitegen.checks.catalogue import find
from sitegen.checks.rows import first_rows, numbered_rows, surplus
from sitegen.compute.limits import limits
from sitegen.compute.results.reference import SOURCE, known_compounds
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey
from sitegen.project.tables import Analyte
from sitegen.voice import worded

_NOT_LETTERS = re.compile(r"[^a-z0-9]")


def cas_once(survey: Survey) -> Iterator[Finding]:
    """A CAS number stands for one compound."""
    table = survey.tables["analytes"]
    first = table.frame.drop_duplicates("cas").set_index("cas")["analyte_id"]
    bad = (table.frame["cas"] != "") & table.frame.duplicated("cas")
    for row in first_rows(table, bad, Analyte):
        yield find(
            "cas-twice",
            row.analyte_id,
            row.origin.where("cas"),
            worded("{cas}, also the number of {other}", cas=row.cas, other=first[row.cas]),
            worded("a different CAS number for each compound"),
            kind="compound",
        )
    yield from surplus("cas-twice", table, bad, "cas")


def plain(name: str) -> str:
    """Return a name without case, blanks and signs, for comparing.

    >>> plain("cis-1,2-Dichloroethene")
    'cis12dichloroethene'
    """
    return _NOT_LETTERS.sub("", name.lower())


def cas_of_another(survey: Survey) -> Iterator[Finding]:
    """A CAS number is not known to be another compound's."""
    known = known_compounds()
    by_name = {plain(compound.name): compound for compound in known.values()}
    for row in survey.rows(Analyte):
        own, theirs = by_name.get(plain(row.name)), known.get(row.cas)
        if own is not None and theirs is not None and own.cas != theirs.cas:
            yield find(
                "cas-of-another",
                row.analyte_id,
                row.origin.where("cas"),
                worded("{cas}, which belongs to {name}", cas=row.cas, name=theirs.name),
                worded("{cas} for {name}", cas=own.cas, name=own.name),
                kind="compound",
            )


def molar_masses(survey: Survey) -> Iterator[Finding]:
    """A molar mass is the one that the formula gives."""
    limit = limits(survey.settings)["molar_mass_g_mol"]
    known = {cas: compound.molar_mass_g_mol for cas, compound in known_compounds().items()}
    table = survey.tables["analytes"]
    theirs = table.frame["cas"].map(known).astype("float64")
    bad = (table.frame["molar_mass_g_mol"] - theirs).abs() > limit.value
    for at, row in numbered_rows(table, bad, Analyte):
        yield find(
            "molar-mass-off",
            row.analyte_id,
            row.origin.where("molar_mass_g_mol"),
            f"{row.molar_mass_g_mol:g} g/mol",
            worded(
                "{mass:g} g/mol for {formula} ({source})",
                mass=theirs.iloc[at],
                formula=known_compounds()[row.cas].formula,
                source=worded(SOURCE),
            ),
            kind="compound",
        )
    yield from surplus("molar-mass-off", table, bad, "molar_mass_g_mol")


RULES = (cas_once, cas_of_another, molar_masses)
