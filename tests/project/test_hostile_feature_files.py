"""Files of features that anybody may have made: each is a finding, none is a traceback, a wait or a way out."""

from __future__ import annotations

import random
import sqlite3
import struct
import time
import zipfile
from pathlib import Path

import pytest
from drawn_files import ROWS, WGS84_PRJ, corners, dbf, needs_writer, packed, read, shapefiles, shp, written

from sitegen.findings.problems import Severity
from sitegen.project import limits

WKB_POINT = struct.pack("<BIdd", 1, 1, -99.37, 43.08)
PLAN = "CREATE TABLE plan (fid INTEGER PRIMARY KEY, g, kind)"


def stop(files: dict[str, bytes], words: str = "") -> str:
    """Return what the one stop says was found."""
    (found,) = [one.found for one in read(files, words)[1] if one.severity is Severity.STOP]
    return found


def blob(content: bytes, flags: int = 1, magic: bytes = b"GP\0") -> bytes:
    """Return a cell of a geometry column."""
    return magic + bytes([flags]) + struct.pack("<i", 4326) + content


def geopackage(*cells: object, more: str = "", table: str = PLAN) -> bytes:
    """Return a small GeoPackage, by hand: a table ``plan`` of tanks with some cells as their geometry."""
    with sqlite3.connect(":memory:") as made:
        made.executescript(
            f"""CREATE TABLE gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m);
            CREATE TABLE gpkg_spatial_ref_sys (srs_name, srs_id, organization, organization_coordsys_id, definition);
            INSERT INTO gpkg_geometry_columns VALUES ('plan', 'g', 'GEOMETRY', 4326, 0, 0);
            INSERT INTO gpkg_spatial_ref_sys VALUES ('WGS 84', 4326, 'EPSG', 4326, '');
            {table}; {more}"""  # noqa: S608 - a file for a test
        )
        if table == PLAN:
            made.executemany("INSERT INTO plan (g, kind) VALUES (?, 'tank')", [(cell,) for cell in cells])
        made.commit()
        return bytes(made.serialize())


def test_a_geopackage_by_hand_is_read() -> None:
    """The cases below differ from one that works."""
    found, told = read({"features.gpkg": geopackage(blob(WKB_POINT))})
    assert [(f.kind, f.geometry.wkt) for f in found] == [("tank", "POINT (-99.37 43.08)")]
    assert [one.found for one in told] == ["no site boundary"]


def nested(levels: int) -> bytes:
    """Return a collection within a collection within a collection and so on."""
    return struct.pack("<BII", 1, 4, 1) * levels + WKB_POINT


CANT = "a geometry that cannot be read"
GEOMETRIES = {
    "none": (None, f"{CANT} (none is there)"),
    "text": ("POINT (1 2)", f"{CANT} (none is there)"),
    "another head": (blob(WKB_POINT, magic=b"XX\0"), f"{CANT} (not a GeoPackage geometry)"),
    "too short": (b"GP", f"{CANT} (not a GeoPackage geometry)"),
    "unknown envelope": (blob(WKB_POINT, flags=0x0B), f"{CANT} (an unknown header)"),
    "empty": (blob(b"", flags=0x11), "an empty shape"),
    "cut": (blob(WKB_POINT[:-1]), f"{CANT} (it ends too early)"),
    "nothing behind the head": (blob(b""), f"{CANT} (it ends too early)"),
    "parts within parts": (blob(nested(100_000)), f"{CANT} (a part of a different kind)"),
    "a collection": (blob(struct.pack("<BII", 1, 7, 1) + WKB_POINT), "a curve, or a collection of shapes"),
    "a curve": (blob(struct.pack("<BII", 1, 8, 0)), "a curve, or a collection of shapes"),
    "an unknown kind": (blob(struct.pack("<BII", 1, 9_999, 0)), f"{CANT} (an unknown kind of geometry"),
    "too many places": (blob(struct.pack("<BII", 1, 2, 2**32 - 1)), "4,294,967,295 vertices in one feature"),
    "too many parts": (blob(struct.pack("<BII", 1, 4, 2**31)), "2,147,483,648 parts in one feature"),
    "too many rings": (blob(struct.pack("<BII", 1, 3, 2**31)), "2,147,483,648 parts in one feature"),
    "no ring": (blob(struct.pack("<BII", 1, 3, 0)), f"{CANT} (a ring of fewer"),
    "no parts": (blob(struct.pack("<BII", 1, 4, 0)), f"{CANT} (a shape without parts)"),
    "a line with one position": (blob(struct.pack("<BIIdd", 1, 2, 1, 1, 1)), f"{CANT} (a line with one"),
    "not a number": (blob(struct.pack("<BIdd", 1, 1, float("nan"), 1)), "coordinates outside"),
    "beyond the earth": (blob(struct.pack("<BIdd", 1, 1, 1e300, 1)), "coordinates outside"),
    "without end": (blob(struct.pack("<BIdd", 1, 1, float("inf"), 1)), "coordinates outside"),
}


@pytest.mark.parametrize("name", GEOMETRIES)
def test_a_hostile_geometry_is_told_with_its_place(name: str) -> None:
    """The feature is left out; the one before it is read."""
    cell, said = GEOMETRIES[name]
    files = {"features.gpkg": geopackage(blob(WKB_POINT), cell)}
    assert stop(files).startswith(said)
    found, told = read(files)
    assert len(found) == 1
    assert next(one for one in told if one.severity is Severity.STOP).where.column == "feature 2"


ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
DATABASES = {
    "a view": geopackage(table=f"CREATE VIEW plan AS {ENDLESS} SELECT i AS fid, x'00' AS g, 'tank' AS kind FROM n"),  # noqa: S608
    "a module": geopackage(table="CREATE VIRTUAL TABLE plan USING fts5(g, kind)"),
    "no list of layers": geopackage(more="DROP TABLE gpkg_geometry_columns"),
    "no systems": geopackage(more="DELETE FROM gpkg_spatial_ref_sys"),
    "an unknown system": geopackage(more="UPDATE gpkg_spatial_ref_sys SET organization_coordsys_id = 1"),
    "a system without a word": geopackage(more="UPDATE gpkg_spatial_ref_sys SET organization = 'X'"),
    "a layer that is not there": geopackage(more="UPDATE gpkg_geometry_columns SET table_name = 'other'"),
    "a column that is not there": geopackage(more="UPDATE gpkg_geometry_columns SET column_name = 'o'"),
    "a system table": geopackage(more="UPDATE gpkg_geometry_columns SET table_name = 'sqlite_master'"),
    "numbers for names": geopackage(more="UPDATE gpkg_geometry_columns SET table_name = 1"),
    "not a database": b"hello",
    "only the head": b"SQLite format 3\0" + bytes(84),
    "nothing": b"",
    "too large": b"SQLite format 3\0" + bytes(limits.FEATURES_BYTES.value),
}  # fmt: skip


@pytest.mark.parametrize("name", DATABASES)
def test_a_hostile_database_is_a_finding(name: str) -> None:
    """Views, modules and computed columns are not run, and what is missing is told."""
    start = time.monotonic()
    found, told = read({"features.gpkg": DATABASES[name]})
    assert found == ()
    assert [one.code for one in told if one.severity is Severity.STOP] == ["feature-unusable"]
    if name in ("a view", "a module", "a system table"):
        assert told[0].found == "no layer of features"
    assert time.monotonic() - start < 5


def test_too_many_rows_are_told() -> None:
    """No more features are held than are read."""
    assert stop({"features.gpkg": geopackage(*[blob(WKB_POINT)] * 2_001)}) == "2,001 features"


def test_an_open_geopackage_is_asked_to_be_closed() -> None:
    """What stands in its log alone would be missing."""
    files = {"features.gpkg": geopackage(blob(WKB_POINT)), "features.gpkg-wal": b"x"}
    assert stop(files).startswith("a GeoPackage with its log")
    in_log_mode = bytearray(geopackage(blob(WKB_POINT)))
    in_log_mode[18:20] = b"\2\2"
    assert len(read({"features.gpkg": bytes(in_log_mode), "features.gpkg-wal": b""})[0]) == 1


def kml(inside: str) -> bytes:
    """Return a KML file with something inside it."""
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{inside}</Document></kml>'.encode()


KIND = "<name>A</name><ExtendedData><Data name='kind'><value>tank</value></Data></ExtendedData>"
POINT = f"<Placemark>{KIND}{{}}</Placemark>"
AT = POINT.format("<Point><coordinates>{}</coordinates></Point>")
DOCTYPE = "XML with a document type"
XMLS = {
    "an entity": (b'<!DOCTYPE kml [<!ENTITY a SYSTEM "file:///etc/passwd">]><kml>&a;</kml>', DOCTYPE),
    "entities in entities": (b'<!DOCTYPE kml [<!ENTITY a "aa">]><kml>&a;</kml>', DOCTYPE),
    "cut": (b"<kml><Document>", "XML that cannot be read"),
    "nothing": (b"", "XML that cannot be read"),
    "no XML": (b"\xff\xfe\0\0", "XML that cannot be read"),
    "another kind": (b"<svg/>", "XML of the kind 'svg'"),
    "too deep": (b"<kml>" + b"<Folder>" * 100_000, "XML elements nested too deep"),
    "too many tags": (b"<kml>" + b"<a/>" * 200_000 + b"</kml>", "more XML tags than are read"),
    "another encoding": (b'<?xml version="1.0" encoding="EBCDIC-CP-US"?><kml/>', "XML"),
    "too many": (kml("<Placemark/>" * 2_001), "2,001 features"),
    "no shape": (kml(POINT.format("")), "a placemark without a shape"),
    "a name for a place": (kml(AT.format("here")), "a geometry that cannot"),
    "one number": (kml(AT.format("1")), "a geometry that cannot be read"),
    "two points": (kml(AT.format("1,1 2,2")), "a geometry that cannot be"),
    "no coordinates": (kml(POINT.format("<Point/>")), "a geometry that cannot be read"),
    "a long number": (kml(AT.format("9" * 9_999 + ",1")), "a geometry that"),
    "a mixture": (
        kml(POINT.format("<MultiGeometry><Point><coordinates>1,1</coordinates></Point><LineString><coordinates>1,1 2,2"
                         "</coordinates></LineString></MultiGeometry>")), "a shape that mixes"),
}  # fmt: skip


@pytest.mark.parametrize("name", XMLS)
def test_hostile_xml_is_a_finding(name: str) -> None:
    """No entity is resolved, no depth or number is without bound."""
    content, said = XMLS[name]
    assert stop({"features.kml": content}).startswith(said)


@pytest.mark.parametrize(
    ("inside", "said"),
    [
        ('<wpt lat="x" lon="1"/>', "a geometry that cannot be read"),
        ("<wpt/>", "a geometry that cannot be read"),
        ("<trk/>", "a geometry that cannot be read (a shape without parts)"),
        ("<rte/>", "a geometry that cannot be read (a line with one position)"),
        ('<wpt lat="91" lon="1"/>', "coordinates outside"),
        ("<wpt/>" * 2_001, "2,001 features"),
    ],
)
def test_hostile_gpx_is_a_finding(inside: str, said: str) -> None:
    """A waypoint without a place, a track without one, and too many."""
    assert stop({"features.gpx": f"<gpx>{inside}</gpx>".encode()}).startswith(said)


def test_a_link_of_kml_is_told_and_not_followed() -> None:
    """What it leads to is no part of the folder."""
    link = "<NetworkLink><Link><href>http://192.0.2.1/a.kml</href></Link></NetworkLink>"
    found, told = read({"features.kml": kml(link + AT.format("-99,43"))})
    assert [f.kind for f in found] == ["tank"]
    assert [one.found for one in told] == ["no site boundary", "a link to another file, which is not followed"]


def files(**more: bytes) -> dict[str, bytes]:
    """Return the files of a shapefile of one tank, by hand."""
    place = struct.pack("<Idd", 1, -99.37, 43.08)
    made = {"shp": shp(1, place), "dbf": dbf([("kind", "C", 9)], (b"tank",)), "prj": WGS84_PRJ}
    return {f"a.{ending}": content for ending, content in (made | more).items()}


NAMES_FILES = "a coordinate system in a.prj that refers to further files"


def bomb() -> bytes:
    """Return a zip whose main file unpacks to more than is read."""
    return packed(files(shp=bytes(limits.FEATURES_BYTES.value + 1)), zipfile.ZIP_DEFLATED)


def lying() -> bytes:
    """Return a zip whose list says another size than a file has."""
    made = packed(files())
    at = made.index(b"PK\x01\x02")
    return made[: at + 24] + struct.pack("<I", 7) + made[at + 28 :]


ZIPS = {
    "none": (b"", "a zip that cannot be read"),
    "cut": (packed(files())[:-9], "a zip that cannot be read"),
    "too large": (bomb(), "a zip that is not safe"),
    "another size": (lying(), "a zip that"),
    "leads out": (packed(files() | {"../a.shp": b""}), "a zip that is not safe"),
    "without a shapefile": (packed({"a.txt": b""}), "no layer of features"),
    "too many files": (packed({f"{at}.shp": b"" for at in range(1_001)}), "more files than are read"),
    "no main file": (packed(files(shp=b"PK")), "a.shp that is not a shapefile"),
    "a record beyond the end": (packed(files(shp=shp(1, b"")[:100] + struct.pack(">II", 1, 2**31))), "a.shp that ends"),
    "a type of its own": (packed(files(shp=shp(31, struct.pack("<I", 31)))), "a shape of the type 31"),
    "no shape": (packed(files(shp=shp(0, struct.pack("<I", 0)))), "a row without a shape"),
    "a short record": (packed(files(shp=shp(1, b"\1\0"))), "a geometry that cannot be read (it ends too early)"),
    "an empty record": (packed(files(shp=shp(1, b""))), "a geometry that cannot be read (it ends too early)"),
    "many vertices": (packed(files(shp=shp(5, struct.pack("<I32xIII", 5, 1, 2**31, 0)))), "2,147,483,648 vertices"),
    "many parts": (packed(files(shp=shp(5, struct.pack("<I32xIII", 5, 2**31, 1, 0)))), "2,147,483,648 parts"),
    "parts out of order": (
        packed(files(shp=shp(3, struct.pack("<I32xIIII8d", 3, 2, 4, 3, 1, *range(8))))), "a geometry that cannot be"),
    "shapes without rows": (packed(files(shp=shp(1, *[struct.pack("<Idd", 1, 1, 1)] * 2))), "2 shapes and 1 rows in a"),
    "no table": (packed(files(dbf=b"")), "a table a.dbf that cannot be read"),
    "a table that ends": (packed(files(dbf=dbf([("kind", "C", 9)], (b"tank",))[:-5])), "a table a.dbf that ends"),
    "rows without end": (
        packed(files(dbf=b"\3\0\0\0" + struct.pack("<IHH", 2**31, 33, 1) + bytes(21))), "2,147,483,648 rows in a.dbf"),
    "a system of files": (
        packed(files(prj=b'PROJCS["a",EXTENSION["PROJ4","+proj=utm +nadgrids=/etc/passwd"]]')), NAMES_FILES),
    "no system": (packed(files(prj=b"")), "a coordinate system in a.prj that cannot be read"),
    "a height": (packed(files(prj=b'VERTCS["h",VDATUM["d"],PARAMETER["a",0.0],UNIT["Meter",1.0]]')), "coordinates in"),
    "a long system": (packed(files(prj=b"A" * 20_001)), "a description of 20,001 characters"),
}  # fmt: skip


def test_a_zip_by_hand_is_read() -> None:
    """The cases below differ from one that works."""
    found, told = read({"features.zip": packed(files())})
    assert [(f.kind, f.geometry.wkt) for f in found] == [("tank", "POINT (-99.37 43.08)")]
    assert [one.found for one in told] == ["no site boundary"]


@pytest.mark.parametrize("name", ZIPS)
def test_a_hostile_zip_is_a_finding(name: str) -> None:
    """Bombs, names that lead out, and every part damaged in its own way."""
    content, said = ZIPS[name]
    assert stop({"features.zip": content}).startswith(said)


def test_a_description_that_nests_without_end_is_a_finding() -> None:
    """PROJ is asked no more than it bears."""
    assert "cannot be read" in stop({"features.zip": packed(files(prj=b'PROJCS["a",' * 1_500))})


@needs_writer
@pytest.mark.parametrize("kind", ["gpkg", "zip", "kml", "gpx", "csv"])
def test_a_file_changed_anywhere_never_breaks_reading(tmp_path: Path, kind: str) -> None:
    """Bytes changed, cut and doubled at places drawn once for all: findings, never an error of another kind."""
    name, content = sound(tmp_path, kind)
    chance = random.Random(20_251_231)  # noqa: S311 - the same places every time
    for _ in range(150):
        at = chance.randrange(len(content))
        new = [
            content[:at] + bytes([chance.randrange(256)]) + content[at + 1 :],
            content[:at],
            content[:at] + content[at : at + 64] * 3 + content[at + 64 :],
        ][chance.randrange(3)]
        read({name: new}, '[features]\nlayers = ["a_areas", "b_lines", "c_wells"]' if kind == "zip" else "")


def sound(tmp_path: Path, kind: str) -> tuple[str, bytes]:
    """Return a file of the kind that is read without a finding."""
    if kind == "csv":
        return "corners.csv", corners()
    if kind == "zip":
        return "features.zip", packed(shapefiles(tmp_path))
    if kind == "gpx":
        return "features.gpx", b'<gpx><wpt lat="43" lon="-99"><name>a</name></wpt><trk><trkseg/></trk></gpx>'
    driver = {"gpkg": "GPKG", "kml": "KML"}[kind]
    return f"features.{kind}", written(tmp_path / f"a.{kind}", driver, ROWS).read_bytes()
