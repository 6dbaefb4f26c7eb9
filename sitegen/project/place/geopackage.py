"""Site features from a GeoPackage (OGC 12-128r18): an SQLite database, opened in memory and only read.

It is untrusted: only plain tables are read, no view and no module; nothing can be attached or written,
and a query that takes too many steps is broken off. SQLite's own checks of a file are on.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from sitegen.project import limits
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, too_many, unreadable
from sitegen.project.place.geometryblob import read_blob
from sitegen.project.place.layers import chosen_layers, one_system
from sitegen.project.place.systems import system_of_code, system_of_text

_MAGIC = b"SQLite format 3\x00"
_READS = (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_PRAGMA, sqlite3.SQLITE_FUNCTION)
_FUNCTIONS = ("count", "lower")
_PRAGMAS = ("table_info", "trusted_schema", "cell_size_check")
_STEPS = 10_000


@dataclass(frozen=True, slots=True)
class _Layer:
    """A table of features: its name, its geometry column and its coordinate system."""

    name: str
    column: str
    srs_id: int


def read_geopackage(content: bytes, layers: Sequence[str], file: str) -> Drawing:
    """Return what the layers of a GeoPackage draw. Raises Unusable where it can't be read, or is too large."""
    if content[:16] != _MAGIC:
        raise Unusable("a file that is not an SQLite database", "a GeoPackage", "export it again")
    try:
        with closing(_opened(content)) as database:
            return _drawing(database, layers, file)
    except (sqlite3.Error, OverflowError, UnicodeError) as error:
        raise Unusable(f"a database that cannot be read ({error})", "a GeoPackage", "export it again") from error


def _opened(content: bytes) -> sqlite3.Connection:
    database = sqlite3.connect(":memory:", isolation_level=None)
    # A database that was kept with a log beside it (bytes 18 and 19 are 2) can't be opened from memory; the same
    # bytes without a log can.
    database.deserialize(content[:18] + b"\x01\x01" + content[20:])
    database.execute("PRAGMA trusted_schema = OFF")
    database.execute("PRAGMA cell_size_check = ON")
    database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, limits.FEATURES_BYTES.value)
    database.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    database.set_authorizer(_allowed)
    left = [limits.FEATURE_STEPS.value // _STEPS]

    def spent() -> int:
        left[0] -= 1
        return int(left[0] < 0)

    database.set_progress_handler(spent, _STEPS)
    return database


def _allowed(action: int, first: str | None, second: str | None, *_: str | None) -> int:
    """Let a statement read tables, and use no function or pragma beyond the few that are used here."""
    if action == sqlite3.SQLITE_PRAGMA and first not in _PRAGMAS:
        return sqlite3.SQLITE_DENY
    if action == sqlite3.SQLITE_FUNCTION and second not in _FUNCTIONS:
        return sqlite3.SQLITE_DENY
    return sqlite3.SQLITE_OK if action in _READS else sqlite3.SQLITE_DENY


def _drawing(database: sqlite3.Connection, wanted: Sequence[str], file: str) -> Drawing:
    layers = {layer.name: layer for layer in _layers(database)}
    chosen = [layers[name] for name in chosen_layers(tuple(layers), wanted, file)]
    systems = [_system(database, layer) for layer in chosen]
    features: list[Drawn] = []
    for layer in chosen:
        features += _features(database, layer, limits.FEATURES.value - len(features))
    return Drawing(tuple(features), *one_system(systems))


def _layers(database: sqlite3.Connection) -> Iterator[_Layer]:
    """Yield the tables of features that are plain tables, in the order of the package's own list."""
    plain = {
        name.lower()
        for name, made in database.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchmany(5_000)
        if isinstance(name, str) and not str(made).upper().startswith("CREATE VIRTUAL")
    }
    rows = database.execute("SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns")
    for name, column, srs_id in rows.fetchmany(limits.LIST.value):
        if isinstance(name, str) and isinstance(column, str) and name.lower() in plain:
            yield _Layer(name, column, srs_id if isinstance(srs_id, int) else 0)


def _system(database: sqlite3.Connection, layer: _Layer) -> tuple[str, str]:
    query = "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys WHERE srs_id = ?"
    row = database.execute(query, (layer.srs_id,)).fetchone()
    if row is None or layer.srs_id in (0, -1):
        do = "set the coordinate system of the layer and save it"
        raise Unusable(f"the layer {layer.name[:60]!r} without a coordinate system", "a stated one", do)
    body, code, text = row
    if str(body).upper() == "EPSG" and isinstance(code, int):
        return system_of_code(f"EPSG:{code}")
    return system_of_text(str(text), f"the layer {layer.name[:60]!r}")


def _features(database: sqlite3.Connection, layer: _Layer, most: int) -> Iterator[Drawn]:
    about = database.execute(f"PRAGMA table_info({_quoted(layer.name)})").fetchall()
    if layer.column not in {name for _, name, *_ in about}:
        found = f"the layer {layer.name[:60]!r} without its column {layer.column[:60]!r}"
        raise Unusable(found, "a GeoPackage", "export it again")
    columns = {str(name): str(kind).upper() for _, name, kind, _, _, key in about if not key and name != layer.column}
    if len(columns) > limits.PROPERTIES.value:
        raise Unusable(
            f"{len(columns):,} columns", limits.PROPERTIES.at_most, "leave out what the report does not need"
        )
    names = ", ".join(map(_quoted, (layer.column, *columns)))
    rows = database.execute(f"SELECT {names} FROM {_quoted(layer.name)} ORDER BY rowid").fetchmany(most + 1)  # noqa: S608
    if len(rows) > most:
        raise too_many(limits.FEATURES.value + 1)
    for blob, *values in rows:
        pairs = zip(columns.items(), values, strict=True)
        properties = {name: _value(kind, value) for (name, kind), value in pairs if not isinstance(value, bytes)}
        properties = {name: value for name, value in properties.items() if value not in (None, "")}
        try:
            if not isinstance(blob, bytes):
                raise unreadable("none is there")
            yield Drawn(read_blob(blob), properties, layer.name)
        except Unusable as fault:
            yield Drawn(None, properties, layer.name, fault)


def _value(kind: str, value: Any) -> Any:  # noqa: ANN401 - a cell holds text, a number or nothing
    return bool(value) if kind == "BOOLEAN" and value in (0, 1) else value


def _quoted(name: str) -> str:
    """Return a name as SQL takes it, whatever signs are in it."""
    doubled = name.replace('"', '""')
    return f'"{doubled}"'
