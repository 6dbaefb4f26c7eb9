"""What a file of features calls things is declared, never guessed: each message says the lines to write."""

from __future__ import annotations

import struct

import pytest
import shapely
from drawn_files import ROWS, SITE, WGS84_PRJ, dbf, folder, geojson, packed, read, settings, shp
from in_memory import folder_of

from sitegen.findings.problems import Severity
from sitegen.project.featurefiles import feature_files, site_features
from sitegen.project.settings import FeaturesPart

NAMES = [("TYPE", "C", 12), ("LABEL", "C", 12), ("SHOW", "C", 3), ("STOREYS", "N", 4), ("BUILT", "D", 8)]
ROW = (b"BLDG", b"Workshop", b"N", b"2", b"19710301")


def area(*corners: tuple[float, float]) -> bytes:
    """Return a polygon record of one ring, as given."""
    places = b"".join(struct.pack("<dd", *corner) for corner in corners)
    return struct.pack("<I32xIII", 5, 1, len(corners), 0) + places


SQUARE = area((-99.37, 43.08), (-99.37, 43.09), (-99.36, 43.09), (-99.36, 43.08), (-99.37, 43.08))


def site(**more: bytes) -> bytes:
    """Return a zip of one shapefile of a square, by hand; an empty part is left out."""
    files = {"shp": shp(5, SQUARE), "dbf": dbf(NAMES, ROW), "prj": WGS84_PRJ} | more
    return packed({f"plan.{ending}": content for ending, content in files.items() if content})


def test_declared_properties_and_words_are_those_of_the_format() -> None:
    """Kind, name and who may see it come from the file's own columns; the others stay as they are."""
    words = """[features]
kind = "TYPE"
name = "LABEL"
public = "SHOW"
words = { "BLDG" = "building", "N" = "no" }"""
    (feature,), told = read({"features.zip": site()}, words)
    assert [one.found for one in told] == ["no site boundary"]
    assert (feature.kind, feature.name, feature.public) == ("building", "Workshop", False)
    assert feature.properties == {
        "kind": "building", "name": "Workshop", "public": "no", "STOREYS": 2, "BUILT": "1971-03-01"
    }  # fmt: skip
    assert feature.geometry.exterior.is_ccw


def stops(files: dict[str, bytes], words: str = "") -> list[tuple[str, str]]:
    """Return what is found and what to do about it of each stop."""
    return [(one.found, one.do) for one in read(files, words)[1] if one.severity is Severity.STOP]


def test_a_file_without_the_property_kind_says_which_there_are() -> None:
    """The message has the line to write and the properties to choose from."""
    ((found, do),) = stops({"features.zip": site()})
    assert found == "no 'kind', the property of the kind"
    assert do == (
        "write under [features] in project.toml which property gives the kind: "
        'kind = "…", one of ["TYPE", "LABEL", "SHOW", "STOREYS", "BUILT", "layer"]'
    )


def test_a_word_that_is_no_kind_is_told_once_with_the_line_that_declares_it() -> None:
    """Four features of two strange words are two findings."""
    rows = [({"kind": word}, SITE) for word in ("BLDG", "BLDG", "TANKS", "BLDG")]
    told = stops({"features.geojson": geojson(rows)})
    assert [found for found, _ in told] == ["the kind 'BLDG', and of 2 more features", "the kind 'TANKS'"]
    assert {do.partition("words = ")[2] for _, do in told} == {'{ "BLDG" = "…", "TANKS" = "…" }'}


def test_a_layer_can_tell_the_kind() -> None:
    """Where a shapefile or a folder of a KML has one kind, its name is declared as the kind."""
    words = '[features]\nkind = "layer"\nname = "LABEL"\npublic = "x"\nwords = { plan = "building" }'
    assert [f.kind for f in read({"features.zip": site()}, words)[0]] == ["building"]
    kml = b"""<kml><Document><Folder><name>Plan</name><Placemark><name>Hut</name>
      <Point><coordinates>-99.37,43.08,0</coordinates></Point></Placemark></Folder></Document></kml>"""
    words = '[features]\nkind = "layer"\nwords = { Plan = "building" }'
    assert [(f.kind, f.name) for f in read({"features.kml": kml}, words)[0]] == [("building", "Hut")]


def test_who_may_see_a_feature_is_never_guessed() -> None:
    """Of other files than GeoJSON a word other than yes and no is a stop: 0 must not be published as yes."""
    words = '[features]\nkind = "TYPE"\npublic = "SHOW"\nwords = { BLDG = "building" }'
    ((found, do),) = stops({"features.zip": site()}, words)
    assert found == "'N' as public"
    assert do.endswith('words = { "N" = "no" }')
    of_number = '[features]\nkind = "TYPE"\npublic = "STOREYS"\nwords = { BLDG = "building" }'
    assert stops({"features.zip": site()}, of_number)[0][0] == "'2' as public"


@pytest.mark.parametrize(
    ("part", "found", "do"),
    [
        (
            "prj",
            "plan.shp without its .prj",
            "it states the coordinate system",
        ),
        ("dbf", "plan.shp without its .dbf", "it contains kinds and names"),
    ],
)
def test_a_missing_part_of_a_shapefile_is_asked_for(part: str, found: str, do: str) -> None:
    """No coordinate system is taken for granted."""
    assert stops({"features.zip": site(**{part: b""})}) == [(found, f"zip plan.{part} with it ({do})")]


def test_several_layers_are_chosen_by_the_settings() -> None:
    """The line to write names them; one that is not there is told with those that are."""
    both = packed({f"{name}.{end}": made for name in ("b", "a") for end, made in
                   (("shp", shp(5, SQUARE)), ("dbf", dbf(NAMES, ROW)), ("prj", WGS84_PRJ))})  # fmt: skip
    ((found, do),) = stops({"features.zip": both})
    assert found == "2 layers in locations/features.zip"
    assert do.endswith('layers = ["a", "b"]')
    ((found, _),) = stops({"features.zip": both}, '[features]\nlayers = ["c"]')
    assert found == "no layer 'c'"
    words = '[features]\nlayers = ["b", "a"]\nkind = "layer"\nwords = { a = "well", b = "tank" }'
    assert [f.kind for f in read({"features.zip": both}, words)[0]] == ["tank", "well"]


@pytest.mark.parametrize(("mark", "beside"), [(3, b""), (0, b"1252"), (0, b"ANSI 1252")])
def test_the_encoding_of_a_shapefile_is_what_it_says(mark: int, beside: bytes) -> None:
    """A byte of the table or a file beside it names the code page."""
    made = site(dbf=dbf([("KIND", "C", 9), ("LABEL", "C", 9)], (b"tank", b"T\xe4nk"), mark=mark), cpg=beside)
    words = '[features]\nkind = "KIND"\nname = "LABEL"'
    assert [f.name for f in read({"features.zip": made}, words)[0]] == ["Tänk"]


def test_an_encoding_that_nothing_says_is_asked_for() -> None:
    """Bytes that are no UTF-8 are not guessed at; the declared encoding reads them."""
    made = site(dbf=dbf([("KIND", "C", 9), ("LABEL", "C", 9)], (b"tank", b"T\xe4nk")))
    words = '[features]\nkind = "KIND"\nname = "LABEL"'
    ((found, do),) = stops({"features.zip": made}, words)
    assert found == "text in plan.dbf that is not UTF-8, with no stated encoding"
    assert do.endswith('encoding = "cp1252"')
    assert [f.name for f in read({"features.zip": made}, f'{words}\nencoding = "cp1252"')[0]] == ["Tänk"]


def test_more_than_one_source_is_told_and_can_be_declared() -> None:
    """The first of the known names is read; the message has the line that reads all, in its order."""
    files = {"features.geojson": geojson(ROWS[:1]), "features.kml": b"<kml/>", "corners.csv": CORNERS}
    found, told = read(files)
    assert [f.kind for f in found] == ["site_boundary"]
    (several,) = told
    assert (several.code, several.severity) == ("features-several", Severity.HOLD)
    lines = several.do.partition("files = ")[2]
    assert lines == '["locations/features.geojson", "locations/features.kml", "locations/corners.csv"]'
    found, told = read(files, f"[features]\nfiles = {lines}")
    assert told == []
    assert [(f.number, f.kind, str(f.where)) for f in found] == [
        (1, "site_boundary", "locations/features.geojson, column feature 1"),
        (2, "well", "locations/corners.csv, row 2"),
    ]


CORNERS = b"feature,kind,name,order,longitude,latitude,depth\nw,well,MW-1,1,-99.37,43.08,3 m\n"


def test_a_declared_file_may_have_any_name_in_locations() -> None:
    """One that is not there, or elsewhere, is a stop."""
    words = '[features]\nfiles = ["locations/mine.csv"]'
    assert [f.properties["depth"] for f in read({"mine.csv": CORNERS}, words)[0]] == ["3 m"]
    assert stops({}, words)[0][0] == "no such file"
    assert stops({}, '[features]\nfiles = ["project.toml"]')[0][0] == "no such file"
    assert stops({"plan.dwg": b"x"}, '[features]\nfiles = ["locations/plan.dwg"]')[0][0] == "a file of another kind"


def test_the_files_of_features_are_known_from_settings_and_folder() -> None:
    """Declared ones, or the first that is there."""
    there = folder({"features.gpkg": b"", "corners.csv": b""})
    assert feature_files(FeaturesPart(), there) == ("locations/features.gpkg",)
    assert feature_files(FeaturesPart(files=["locations/a.kml"]), there) == ("locations/a.kml",)


def test_a_loose_shapefile_is_asked_to_be_zipped() -> None:
    """Its parts belong together: a zip keeps them so."""
    (told,) = read({"plan.shp": b""})[1]
    assert (told.code, told.do) == ("file-absent", "zip the .shp with its .dbf and .prj into locations/features.zip")


HEAD = "feature,kind,name,order,easting,northing,shape,public\n"
FAULTS = {
    "a,building,H,1,500000,4770000,,\n": "1 corners",
    "a,building,H,1,500000,4770000,,\na,building,H,2,500010,4770000,,\n": "2 corners of a building",
    "a,utility,H,1,500000,4770000,area,\na,utility,H,2,500010,4770000,area,\n": "2 corners of an area",
    "a,well,H,1,500000,4770000,,\na,well,H,1,500010,4770000,,\n": "the order 1 twice, the second time in row 3",
    "a,well,H,1,east,4770000,,\n": "in row 2 'east' is not a number",
    "a,well,H,1,1_0,4770000,,\n": "in row 2 '1_0' is not a number",
    "a,well,H,1,nan,4770000,,\n": "in row 2 'nan' is not a number",
    "a,well,H,1,500000,4770000,round,\n": "the shape 'round'",
    "a,well,H,1,500000,4770000,,maybe\n": "'maybe' as public",
    ",well,H,1,500000,4770000,,\n": "a blank feature",
    "a,well,H,1,500000,4770000,,\na,tank,H,2,500000,4770000,,\n": "kind 'well' and 'tank' of the feature 'a'",
}


@pytest.mark.parametrize("rows", list(FAULTS)[1:])
def test_a_slip_in_the_corners_is_told_with_its_row(rows: str) -> None:
    """Nothing is drawn of a feature whose corners are in doubt."""
    found, told = read({"corners.csv": (HEAD + rows).encode()})
    assert found == ()
    stop = next(one for one in told if one.severity is Severity.STOP)
    assert (stop.found, stop.where.row) == (FAULTS[rows], 2)


@pytest.mark.parametrize(
    ("head", "found"),
    [
        ("kind,order,easting,northing", "no column feature"),
        ("feature,kind,order,easting", "no columns of coordinates"),
        (
            "feature,kind,order,easting,northing,longitude,latitude",
            "two pairs of columns of coordinates",
        ),
    ],
)
def test_columns_that_corners_need_are_asked_for(head: str, found: str) -> None:
    """A table of corners has one pair of coordinates."""
    assert stops({"corners.csv": f"{head}\n".encode()})[0][0] == found


def test_a_ring_typed_closed_or_in_another_order_is_the_same_area() -> None:
    """The last corner may repeat the first, and rows may stand in any order."""
    rows = ["1,500000,4770000", "2,500010,4770000", "3,500010,4770010"]
    plain = HEAD + "".join(f"a,building,H,{row},,\n" for row in rows)
    closed = plain + "a,building,H,4,500000,4770000,,\n"
    turned = HEAD + "".join(f"a,building,H,{row},,\n" for row in reversed(rows))
    shapes = [read({"corners.csv": text.encode()})[0][0].geometry for text in (plain, closed, turned)]
    assert len({shape.wkt for shape in shapes}) == 1
    assert shapes[0].geom_type == "Polygon"


def test_a_hole_is_that_of_the_area_around_it() -> None:
    """Outer rings run clockwise in a shapefile, holes the other way; two areas with a hole each stay so."""
    outer = [shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)]
    inner = [shapely.box(22, 2, 24, 4), shapely.box(2, 2, 4, 4)]
    rings = [shapely.get_coordinates(b)[:: -1 if shapely.is_ccw(b.exterior) else 1] for b in outer]
    rings += [shapely.get_coordinates(b)[:: 1 if shapely.is_ccw(b.exterior) else -1] for b in inner]
    starts = [sum(map(len, rings[:at])) for at in range(len(rings))]
    record = struct.pack(f"<I32xII{len(rings)}I", 5, len(rings), sum(map(len, rings)), *starts)
    record += b"".join(ring.astype("<f8").tobytes() for ring in rings)
    made = site(shp=shp(5, record))
    words = '[features]\nkind = "TYPE"\nname = "LABEL"\npublic = "p"\nwords = { BLDG = "building" }'
    (feature,), _ = read({"features.zip": made}, words)
    expected = shapely.MultiPolygon([outer[0].difference(inner[1]), outer[1].difference(inner[0])])
    assert feature.geometry.equals(expected)


def test_settings_take_no_other_column_of_points() -> None:
    """The settings of this page are read as they stand."""
    part = settings('[features]\nkind = "TYPE"\nwords = { a = "well" }').features
    assert (part.kind, part.words, part.files) == ("TYPE", {"a": "well"}, [])


def test_unreadable_settings_tell_nothing_of_files_that_they_have_a_say_in() -> None:
    """A slip in another line must not make a file of features look wrong; the features say where the site is."""
    found, told = site_features(folder({"features.zip": site()}), None)
    assert (found, told) == ((), [])
    found, told = site_features(folder({"corners.csv": CORNERS}), None)
    assert ([f.kind for f in found], told) == (["well"], [])
    assert site_features(folder_of({"project.toml": b"[features]\n?"}), None)[1] == []
    assert [one.code for one in site_features(folder({}), None)[1]] == ["file-absent"]
    assert [one.found for one in site_features(folder({"features.geojson": b""}), None)[1]] != []


def test_no_more_features_are_read_in_all_than_in_one_file() -> None:
    """The bound is that of a site, however many files it is drawn in."""
    many = geojson([ROWS[4]] * 1_001)
    words = '[features]\nfiles = ["locations/a.geojson", "locations/b.geojson"]'
    assert ("2,002 features", "leave out what the report does not need") in stops(
        {"a.geojson": many, "b.geojson": many}, words
    )


def test_a_deleted_row_of_a_shapefile_is_no_feature() -> None:
    """The table marks it with a star, and the shape beside it goes with it."""
    table = dbf([("kind", "C", 9)], (b"tank",), (b"well",)).replace(b" tank ", b"*tank ")
    found, _ = read({"features.zip": site(shp=shp(5, SQUARE, SQUARE), dbf=table)})
    assert [f.kind for f in found] == ["well"]


def test_an_island_in_a_hole_keeps_its_own_hole() -> None:
    """Of several areas around a hole the smallest has it."""
    turns = {(0, 20): -1, (2, 18): 1, (5, 10): -1, (6, 8): 1}
    squares = {ends: shapely.get_coordinates(shapely.orient_polygons(shapely.box(*ends[:1] * 2, *ends[1:] * 2)))
               for ends in turns}  # fmt: skip
    rings = [squares[ends][::turn] for ends, turn in turns.items()]
    starts = [5 * at for at in range(4)]
    record = struct.pack("<I32xII4I", 5, 4, 20, *starts) + b"".join(ring.astype("<f8").tobytes() for ring in rings)
    made = site(shp=shp(5, record), dbf=dbf([("kind", "C", 9)], (b"building",)))
    (feature,), told = read({"features.zip": made})
    assert [one.found for one in told] == ["no site boundary"]
    outer = shapely.box(0, 0, 20, 20).difference(shapely.box(2, 2, 18, 18))
    island = shapely.box(5, 5, 10, 10).difference(shapely.box(6, 6, 8, 8))
    assert feature.geometry.equals(shapely.MultiPolygon([outer, island]))
