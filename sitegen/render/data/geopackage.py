"""Write map layers as an OGC GeoPackage 1.3 (OGC 12-128r17).

A layer with geometries is a feature table, one without an attribute table; the schema extension
(annex F.9) says what each column means and in which unit. The file is made in memory and carries
no clock. SQLite's own version, the one thing in it that tells of the machine, is blanked: the same
layers give the same bytes on a machine in any zone, locale or run.

Signs stand as Styled Layer Descriptors in the table ``layer_styles``, which several programs read; it is no
part of the standard, and its columns are those that these programs expect.

There is no R-tree, which SQLite may lack, and no view, which not every program copes with. SQLite
and zlib of another version may lay out other bytes for the same rows.
"""

from __future__ import annotations

import sqlite3
import struct
from collections.abc import Iterable, Iterator
from contextlib import closing

import pyproj
import shapely
from pyproj.exceptions import CRSError

from sitegen.render.map.layers import WGS84, Layer
from sitegen.render.map.sld import feature_sld, sld
from sitegen.report.record.exports import ExportField
from sitegen.report.record.pages import Meta

APPLICATION_ID = 0x47504B47  # "GPKG"
VERSION = 10_300  # 1.3.0
_STAMP = f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {VERSION};"
KEY, GEOMETRY = "fid", "geom"
_SQLITE_VERSION = slice(96, 100)
"""Where a file says which SQLite wrote it (SQLite file format, 1.3.15); no reader needs it."""

_TYPES = {"string": "TEXT", "number": "DOUBLE", "integer": "INTEGER", "boolean": "BOOLEAN"}
_FREE_SRS_ID = 100_000
_UNDEFINED = ((-1, "Undefined Cartesian"), (0, "Undefined geographic"))
_SCHEMA = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT
);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL,
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id)
);
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id)
);
CREATE TABLE gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL, scope TEXT NOT NULL,
  CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name)
);
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name)
);
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN,
  max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
);
"""
STYLES = "layer_styles"
_STYLE_TABLE = f"""
CREATE TABLE {STYLES} (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT, f_table_schema TEXT, f_table_name TEXT,
  f_geometry_column TEXT, styleName TEXT, styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT,
  owner TEXT, ui TEXT, update_time DATETIME
);
"""
_EXTENSION = "http://www.geopackage.org/spec121/#extension_schema"
_EXTENSION_TABLES = ("gpkg_data_columns", "gpkg_data_column_constraints")


def geopackage_bytes(layers: Iterable[Layer], meta: Meta) -> bytes:
    """Return a GeoPackage with a table for each layer; its only date is the report's."""
    day = f"{meta.report_date}T00:00:00.000Z"
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as base:
        base.executescript(f"PRAGMA page_size = 4096; {_STAMP}{_SCHEMA}{_STYLE_TABLE}")
        base.execute("BEGIN")
        _put_systems(base)
        styles: list[tuple[object, ...]] = []
        for layer in layers:
            _put_layer(base, layer, day)
            styles += _styles(layer, day)
        _put_styles(base, styles, day)
        base.execute("COMMIT")
        content = bytearray(base.serialize())
    content[_SQLITE_VERSION] = bytes(4)
    return bytes(content)


def _put_systems(base: sqlite3.Connection) -> None:
    """Write the systems that every GeoPackage holds, and the name of the extension in use."""
    put = "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)"
    base.executemany(put, [(name, number, "NONE", number, "undefined", None) for number, name in _UNDEFINED])
    srs_id(base, WGS84)
    rows = [(table, None, "gpkg_schema", _EXTENSION, "read-write") for table in _EXTENSION_TABLES]
    base.executemany("INSERT INTO gpkg_extensions VALUES (?, ?, ?, ?, ?)", rows)


def srs_id(base: sqlite3.Connection, crs: str) -> int:
    """Return the number of a coordinate system, which is written down where it is new."""
    system = pyproj.CRS.from_user_input(crs)
    organization, code = system.to_authority() or ("NONE", str(_FREE_SRS_ID))
    row = (system.name, int(code), organization, int(code), _wkt(system), None)
    base.execute("INSERT OR IGNORE INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", row)
    return int(code)


def _wkt(system: pyproj.CRS) -> str:
    """Return a system as well-known text of the first edition, which the standard asks for, else of the second."""
    try:
        text: str = system.to_wkt("WKT1_GDAL")
    except CRSError:
        text = system.to_wkt()
    return text


def _put_layer(base: sqlite3.Connection, layer: Layer, day: str) -> None:
    placed = bool(layer.crs)
    system = srs_id(base, layer.crs) if placed else None
    known = [shape for shape in layer.shapes if shape is not None]
    bounds = shapely.total_bounds(known).tolist() if known else [None] * 4
    title = f"{layer.title}, in {layer.crs} ({layer.name})" if placed else f"{layer.title} ({layer.name})"
    contents = (layer.name, "features" if placed else "attributes", title, layer.note, day)
    base.execute(f"CREATE TABLE {quote(layer.name)} ({', '.join(_columns(layer))})")
    base.execute("INSERT INTO gpkg_contents VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", (*contents, *bounds, system))
    if system is not None:
        row = (layer.name, GEOMETRY, _geometry_type({shape.geom_type for shape in known}), system, 0, 0)
        base.execute("INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, ?, ?)", row)
    base.executemany("INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, NULL, NULL)", _meanings(layer))
    places = ", ".join("?" * (len(layer.fields) + placed))
    names = ", ".join(quote(name) for name in (*((GEOMETRY,) if placed else ()), *(f.name for f in layer.fields)))
    put = f"INSERT INTO {quote(layer.name)} ({names}) VALUES ({places})"  # noqa: S608 - names are quoted
    base.executemany(put, _rows(layer, system))


def _styles(layer: Layer, day: str) -> Iterator[tuple[object, ...]]:
    """Yield the rows of a layer's styles, the usual one first; a layer without a place has none."""
    if not layer.crs:
        return
    drawn = [(style.name, style.words, sld(layer.name, style)) for style in layer.styles]
    if layer.kind:
        kinds = {shape.geom_type for shape in layer.shapes if shape is not None}
        drawn = [(layer.title, layer.title, text) for text in feature_sld(layer.name, layer.kind, kinds)]
    for number, (name, words, text) in enumerate(drawn):
        yield "", "", layer.name, GEOMETRY, name, "", text, number == 0, words, "", None, day


def _put_styles(base: sqlite3.Connection, rows: list[tuple[object, ...]], day: str) -> None:
    """Write all styles; without one their table goes."""
    if not rows:
        base.execute(f"DROP TABLE {STYLES}")
        return
    title = ("Signs of the layers", "Styled Layer Descriptors in the column styleSLD", day)
    base.execute("INSERT INTO gpkg_contents VALUES (?, 'attributes', ?, ?, ?, NULL, NULL, NULL, NULL, NULL)",
                 (STYLES, *title))  # fmt: skip
    names = ("f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName, styleQML, styleSLD, "
             "useAsDefault, description, owner, ui, update_time")  # fmt: skip
    base.executemany(f"INSERT INTO {STYLES} ({names}) VALUES ({', '.join('?' * 12)})", rows)  # noqa: S608 - our names


def quote(name: str) -> str:
    """Return a name as SQL writes it.

    >>> print(quote('say "b" twice'))
    "say ""b"" twice"
    """
    return '"' + name.replace('"', '""') + '"'


def _columns(layer: Layer) -> Iterator[str]:
    yield f"{KEY} INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL"
    if layer.crs:
        yield f"{GEOMETRY} {_geometry_type({s.geom_type for s in layer.shapes if s is not None})}"
    for field in layer.fields:
        yield f"{quote(field.name)} {_TYPES[field.type]}"


def _geometry_type(kinds: set[str]) -> str:
    """Return the type of a layer: that of all its geometries, or the one that covers them."""
    return kinds.pop().upper() if len(kinds) == 1 else "GEOMETRY"


def _meanings(layer: Layer) -> Iterator[tuple[str, ...]]:
    for field in layer.fields:
        yield layer.name, field.name, field.name, field.name, _meaning(field)


def _meaning(field: ExportField) -> str:
    return f"{field.meaning}; unit: {field.unit}" if field.unit else field.meaning


def _rows(layer: Layer, system: int | None) -> Iterator[tuple[object, ...]]:
    if system is None:
        yield from layer.rows
        return
    for row, blob in zip(layer.rows, _blobs(layer, system), strict=True):
        yield (blob, *row)


def _blobs(layer: Layer, system: int) -> Iterator[bytes | None]:
    """Yield geometries in the standard's binary form (2.1.3): with an envelope, a point without."""
    encoded = shapely.to_wkb(list(layer.shapes), byte_order=1)
    for shape, wkb in zip(layer.shapes, encoded, strict=True):
        if shape is None:
            yield None
        elif shape.geom_type == "Point":
            yield struct.pack("<2sBBi", b"GP", 0, 0b0001, system) + wkb
        else:
            x0, y0, x1, y1 = shape.bounds
            yield struct.pack("<2sBBi4d", b"GP", 0, 0b0011, system, x0, x1, y0, y1) + wkb
