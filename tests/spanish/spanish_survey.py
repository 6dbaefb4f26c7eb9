"""The example survey as a Spanish-speaking crew would have kept it: its free texts in Spanish, and its report too.

Ids, codes, numbers and times are those of the example, so that what is computed and found is the same. The
sections of the narrative are written out in ``text/``; every other text has its line in ``texts.toml``. All of
it is invented, as the example is.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from builders import Change, Row, changed, content, example, setting, table

from sitegen.project.folder import Folder
from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE, Kind
from sitegen.project.tables import TABLES

HERE = Path(__file__).parent
WORDED = (Kind.TEXT, Kind.IDS)
"""Kinds of columns that a person writes words in; the others hold ids, codes, numbers and times."""


@cache
def texts() -> Mapping[str, Mapping[str, str]]:
    """Return the Spanish of each text by its English, for each kind of file."""
    return tomllib.loads((HERE / "texts.toml").read_text("utf-8"))


@cache
def spanish_folder() -> Folder:
    """Return the folder of the survey in Spanish."""
    files = example().files
    tables = [spec.path for spec in TABLES if spec.path in files]
    records = [path for path in files if path.startswith("records/")]
    return changed(
        setting("[publish]\n", '[publish]\nlanguage = "es"\n'),
        Change(SETTINGS_FILE, _settings),
        Change(FEATURES_FILE, _features),
        *(_cells(path) for path in tables),
        *(Change(path, _record) for path in records),
        *(content(f"text/{one.name}", one.read_bytes()) for one in sorted(HERE.glob("text/*.md"))),
    )


def worded_columns(path: str) -> tuple[str, ...]:
    """Return the columns of a table that hold words."""
    spec = next(spec for spec in TABLES if spec.path == path)
    return tuple(column.name for column in spec.columns if column.kind in WORDED)


def _cells(path: str) -> Change:
    spanish, columns = texts()["cells"], worded_columns(path)

    def edit(rows: list[Row]) -> list[Row]:
        return [row | {name: spanish.get(row[name], row[name]) for name in columns if name in row} for row in rows]

    return table(path, edit)


def _settings(old: bytes) -> bytes:
    words = texts()["settings"]
    return re.sub(r'"([^"\n]*)"', lambda at: f'"{words.get(at[1], at[1])}"', old.decode("utf-8")).encode("utf-8")


def _features(old: bytes) -> bytes:
    data, names = json.loads(old), texts()["features"]
    for feature in data["features"]:
        feature["properties"]["name"] = names.get(feature["properties"]["name"], feature["properties"]["name"])
    return json.dumps(data, ensure_ascii=False).encode("utf-8")


def _record(old: bytes) -> bytes:
    words = texts()["records"]
    either = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    return re.sub(either, lambda at: words[at[0]], old.decode("utf-8")).encode("utf-8")
