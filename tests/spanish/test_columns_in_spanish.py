"""What each table and column of the folder format is, in Spanish: nothing lacks, and codes stay."""

from __future__ import annotations

import re

from sitegen.project.tables import TABLES
from sitegen.voice import phrases

CODE = re.compile(r"`\w+`|\b\w+_\w+\b|\[\[\w+\]\]|\b\w+\.toml|\w+/(?= |$)|EPSG:\d+|\b(?:IANA|CAS|CRS)\b|^(?:yes|no)\b")


def test_each_table_and_column_is_said() -> None:
    """A meaning that is added without its Spanish is found here."""
    known = phrases("es")
    meanings = {text for spec in TABLES for text in (spec.meaning, *(column.meaning for column in spec.columns))}
    assert sorted(meanings - set(known)) == []
    assert {text for text in meanings if known[text] == text} == set()
    assert {text for text in meanings if sorted(CODE.findall(text)) != sorted(CODE.findall(known[text]))} == set()
