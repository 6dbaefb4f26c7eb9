"""Surveyed positions from a file of waypoints or from a declared table: filled in, converted, told, led back."""

from __future__ import annotations

import pytest
from builders import Change, changed, content, example, load, new_findings, rows_of, settings_added, table, text
from in_memory import example_with

from sitegen.compute.place.points import points
from sitegen.findings.problems import Severity
from sitegen.project.load import load_folder
from sitegen.report.write.words import say

LOCATIONS, GPX, CSV = "locations/locations.csv", "locations/gps.gpx", "locations/gps.csv"
DECLARED = f'[points]\nfile = "{CSV}"\ncolumns = {{ location_id = "Name", latitude = "Lat", longitude = "Lon" }}'


def true_places() -> dict[str, tuple[float, float]]:
    """Return longitude and latitude of each point of the example."""
    return {point.location_id: (point.lon, point.lat) for point in points(load(example()))}


def gpx(places: dict[str, tuple[float, float]]) -> bytes:
    """Return a GPX file of waypoints."""
    lines = (f'<wpt lat="{lat:.7f}" lon="{lon:.7f}"><name>{name}</name></wpt>' for name, (lon, lat) in places.items())
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{"".join(lines)}</gpx>'.encode()


def csv(places: dict[str, tuple[float, float]]) -> bytes:
    """Return the export of an instrument."""
    return "".join(["Name,Lat,Lon\n", *(f"{n},{lat:.7f},{lon:.7f}\n" for n, (lon, lat) in places.items())]).encode()


def without_positions(*names: str) -> Change:
    """Blank the surveyed positions of some points, or of all."""

    def edit(rows: list[dict[str, str]]) -> list[dict[str, str]]:
        chosen = [not names or row["location_id"] in names for row in rows]
        blank = {"easting": "", "northing": ""}
        return [row | blank if taken else row for row, taken in zip(rows, chosen, strict=True)]

    return table(LOCATIONS, edit)


def column_less(path: str) -> Change:
    """Take the columns of the surveyed position out of the table."""

    def apply(old: bytes) -> bytes:
        header, rows = rows_of(old)
        kept = [name for name in header if name not in ("easting", "northing")]
        lines = [kept, *([row[name] for name in kept] for row in rows)]
        return "\n".join(",".join(f'"{cell}"' for cell in line) for line in lines).encode()

    return Change(path, apply)


WITH_GPX = (settings_added(f'[points]\nfile = "{GPX}"'),)


@pytest.mark.parametrize("blank", [without_positions(), column_less(LOCATIONS)])
@pytest.mark.parametrize(
    "changes",
    [
        (*WITH_GPX, content(GPX, gpx(true_places()))),
        (settings_added(DECLARED), content(CSV, csv(true_places()))),
    ],
)
def test_positions_come_from_the_file_to_the_centimetre(blank: Change, changes: tuple[Change, ...]) -> None:
    """Every point lies where the table had it: seven decimals of a degree are 11 mm."""
    survey = load(changed(blank, *changes))
    before = {point.location_id: point for point in points(load(example()))}
    found = points(survey)
    assert [point.location_id for point in found] == list(before)
    for at, point in enumerate(found, start=1):
        old = before[point.location_id]
        if old.as_planned:
            continue
        assert not point.as_planned
        assert abs(point.x - old.x) < 0.011
        assert abs(point.y - old.y) < 0.011
        assert point.supplied is not None
        measured = point.supplied.measured
        assert (measured.file, measured.number) == (changes[1].path, at + (changes[1].path == CSV))


def test_a_position_leads_to_the_file_and_says_how_it_was_computed() -> None:
    """The origin is the waypoint, and the rule names the operation with its accuracy."""
    places = true_places()
    survey = load(changed(without_positions("SG-02"), *WITH_GPX, content(GPX, gpx(places))))
    (point,) = [one for one in points(survey) if one.location_id == "SG-02"]
    assert point.given is not None
    supplied = point.supplied
    assert supplied is not None
    lon, lat = places["SG-02"]
    at = list(places).index("SG-02") + 1
    assert supplied.rule == (
        f"computed from longitude {lon:.7f}, latitude {lat:.7f} of {GPX}, waypoint {at} "
        "by UTM zone 14N (stated accuracy 0 m)"
    )
    assert point.given.x_text == supplied.texts[0]
    said = say("location.surveyed", x="1", y="2", degrees=False, system="s", unit="m", method="", accuracy="", rule="r")
    assert said.endswith("; r")


def test_the_row_wins_and_a_difference_beyond_the_accuracy_is_flagged() -> None:
    """Both positions of a point are compared; the table's own is the one that counts."""
    places = true_places()
    lon, lat = places["SG-02"]
    moved = places | {"SG-02": (lon, lat + 4e-5)}
    folder = changed(*WITH_GPX, content(GPX, gpx(moved)))
    found = {one.key: one for one in new_findings(folder) if one.severity is not Severity.NOTE}
    assert set(found) == {"positions-differ:SG-02"}
    said = found["positions-differ:SG-02"].found
    assert said.startswith("a position 4.4 m from that of locations/gps.gpx, waypoint 2")
    assert [p for p in points(load(folder)) if not p.supplied] == [
        p for p in points(load(example())) if p.location_id != "SG-07"
    ]
    near = places | {"SG-02": (lon, lat + 1e-5)}
    (told,) = new_findings(changed(*WITH_GPX, content(GPX, gpx(near))))
    assert (told.code, told.found[:26]) == ("points-supplied", "1 position of a point, con")


def test_what_has_no_partner_is_told_once_each() -> None:
    """Waypoints of no point and points of no waypoint are two findings, however many they are."""
    places = true_places()
    some = dict(list(places.items())[3:]) | {"CAR": (1.0, 2.0), "": (1.0, 2.0)}
    told = [f for f in new_findings(changed(*WITH_GPX, content(GPX, gpx(some)))) if f.code != "points-supplied"]
    assert [(one.code, one.severity) for one in told] == [
        ("points-without-row", Severity.FLAG), ("rows-without-point", Severity.NOTE)
    ]  # fmt: skip
    assert told[0].found == f"2 positions without a point: CAR, without a name ({len(some)})"
    assert told[1].found == f"3 points without a position in {GPX}: {', '.join(list(places)[:3])}"


TWICE = gpx({"A": (1, 2)})[:-6] + gpx({"A": (1, 3)})[gpx({}).index(b"</gpx>") :]


def stops(*changes: Change) -> list[tuple[str, str]]:
    """Return found and do of the stops of reading."""
    _, told = load_folder(changed(*changes))
    return [(one.found, one.do) for one in told if one.severity is Severity.STOP]


@pytest.mark.parametrize(
    ("declared", "file", "found"),
    [
        (f'file = "{GPX}"', None, "no such file"),
        (f'file = "{GPX}"', b"<gpx>", "XML that cannot be read"),
        (f'file = "{GPX}"', b'<gpx><wpt lat="95" lon="1"><name>A</name></wpt></gpx>', "latitude 95 of 'A' (1)"),
        (f'file = "{GPX}"', b'<gpx><wpt lat="" lon="1"/></gpx>', "latitude of '' (1): '' is not a number"),
        (f'file = "{GPX}"', TWICE, "two positions of 'A', the second at 2 after 1"),
        (
            f'file = "{GPX}"\ncolumns = {{ easting = "e" }}',
            b"<gpx/>",
            "columns of locations/gps.gpx declared",
        ),
        (f'file = "{CSV}"', b"Name,Lat,Lon\n", "undeclared columns"),
        (f'file = "{CSV}"\ncolumns = {{ location_id = "Name" }}', b"Name,Lat\n", "columns declared in part, or twice"),
        (DECLARED[9:], b"Name,Lat,Long\n", "no column 'Lon'"),
        (DECLARED[9:], b"Name,Lat,Lon\nA,43.1,x\n", "longitude of 'A' (2): 'x' is not a number"),
        (DECLARED[9:], b"Name,Lat,Lon\nA,43.1,-99\nA,43.2,-99\n", "two positions of 'A', the second at 3 after 2"),
    ],
)
def test_a_file_that_leaves_doubt_is_a_stop(declared: str, file: bytes | None, found: str) -> None:
    """Nothing is filled in from a file that can't be read whole."""
    path = GPX if GPX in declared else CSV
    put = () if file is None else (content(path, file),)
    ((said, _),) = stops(settings_added(f"[points]\n{declared}"), *put)
    assert said.startswith(found)


def test_undeclared_columns_are_asked_for_with_the_lines_to_write() -> None:
    """The message has the line and the columns to choose from."""
    ((_, do),) = stops(settings_added(f'[points]\nfile = "{CSV}"'), content(CSV, b"Name,Lat,Lon\n"))
    line = 'columns = { location_id = "…", longitude = "…", latitude = "…" }'
    assert do == f'write under [points] in project.toml: {line}, of ["Name", "Lat", "Lon"]'


def test_positions_in_the_projects_own_system_stay_as_written() -> None:
    """Easting and northing of a total station need no operation."""
    survey = load(example())
    received = survey.tables["locations"].received
    named = zip(*(received[name] for name in ("location_id", "easting", "northing")), strict=True)
    rows = "".join(f"{name},{x},{y}\n" for name, x, y in named if x)
    declared = f'[points]\nfile = "{CSV}"\ncolumns = {{ location_id = "P", easting = "E", northing = "N" }}'
    other = load(changed(without_positions(), settings_added(declared), content(CSV, f"P,E,N\n{rows}".encode())))
    assert [(p.x, p.y) for p in points(other)] == [(p.x, p.y) for p in points(survey)]


def test_a_project_in_degrees_takes_degrees_as_they_are() -> None:
    """Where the system is WGS 84 the file's own text stands."""
    change = text("project.toml", 'crs = "EPSG:32614"', 'crs = "EPSG:4326"\nmap_crs = "EPSG:32614"')
    folder = changed(change, column_less(LOCATIONS), *WITH_GPX, content(GPX, gpx(true_places())))
    point = points(load(folder))[1]
    assert point.given is not None
    assert point.given.columns == ("longitude", "latitude")
    assert point.given.x_text == f"{true_places()[point.location_id][0]:.7f}"


def test_without_the_setting_nothing_is_read() -> None:
    """A file beside the table that nobody declared is a file that is not read."""
    _, told = load_folder(example_with({GPX: gpx(true_places())}))
    assert [one.code for one in told if one.subject == GPX] == ["file-unknown"]
