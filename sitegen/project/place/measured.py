"""Positions as an instrument gives them: the waypoints of a GPX file, or a table whose columns are declared."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import PurePosixPath

from sitegen.project import limits
from sitegen.project.place.drawn import Unusable, number
from sitegen.project.place.gpx import TEXTS, waypoints
from sitegen.project.place.layers import listed
from sitegen.project.positions import DEGREES, METRES, Measured
from sitegen.project.read.cells import tidy
from sitegen.project.read.csvtext import RawTable, read_csv
from sitegen.project.settings import FilePart, PointsPart

_RANGES = {"longitude": limits.LONGITUDE, "latitude": limits.LATITUDE}
_GPX = {"location_id": "name", "longitude": "lon", "latitude": "lat"}
_LINES = 'columns = { location_id = "…", longitude = "…", latitude = "…" }'


def read_measured(content: bytes, part: PointsPart, how: FilePart) -> tuple[Measured, ...]:
    """Return the positions that a file has. Raises Unusable at the first that can't be read, or is in doubt."""
    gpx = PurePosixPath(part.file).suffix.lower() == ".gpx"
    found = tuple(_of_gpx(content, part) if gpx else _of_table(content, part, how))
    _each_once(found)
    return found


def _of_gpx(content: bytes, part: PointsPart) -> Iterator[Measured]:
    if len(content) > limits.FEATURES_BYTES.value:
        raise Unusable(f"{len(content):,} bytes", limits.FEATURES_BYTES.at_most, "leave out tracks")
    columns = _GPX | {str(ours): theirs for ours, theirs in part.columns.items()}
    if columns.keys() != _GPX.keys() or columns["location_id"] not in TEXTS:
        expected = f"of a waypoint, location_id as one of {', '.join(TEXTS)}"
        raise Unusable(f"columns of {part.file} declared as for a table", expected, "correct columns under [points]")
    for at, (texts, longitude, latitude) in enumerate(waypoints(content), start=1):
        yield _measured(texts[columns["location_id"]], DEGREES, (longitude, latitude), part.file, at, ("lon", "lat"))


def _of_table(content: bytes, part: PointsPart, how: FilePart) -> Iterator[Measured]:
    table, problems = read_csv(part.file, content, encoding=how.encoding, delimiter=how.delimiter)
    if table is None or problems:
        raise Unusable(problems[0].found, problems[0].expected, problems[0].do)
    declared = {str(ours): theirs for ours, theirs in part.columns.items()}
    columns = _declared(table, declared)
    heads = declared[columns[0]], declared[columns[1]]
    at = [table.header.index(name) for name in (declared["location_id"], *heads)]
    for row, place in zip(table.rows, table.numbers, strict=True):
        name, x, y = (tidy(row[one]) for one in at)
        if x or y:
            yield _measured(name, columns, (x, y), part.file, place, heads)


def _declared(table: RawTable, declared: Mapping[str, str]) -> tuple[str, str]:
    """Return the pair of coordinates that is declared, where the table has its columns."""
    pairs = [pair for pair in (DEGREES, METRES) if set(pair) <= set(declared)]
    there = listed(table.header)
    if "location_id" not in declared or len(pairs) != 1 or len(declared) != 3:
        found = "undeclared columns" if not declared else "columns declared in part, or twice"
        expected = "location_id, and longitude and latitude (or easting and northing)"
        raise Unusable(found, expected, f"write under [points] in project.toml: {_LINES}, of {there}")
    missing = [name for name in declared.values() if name not in table.header]
    if missing:
        raise Unusable(f"no column {missing[0][:60]!r}", f"one of {there}", "correct columns under [points]")
    return pairs[0]


def _measured(
    name: str, columns: tuple[str, str], texts: tuple[str, str], file: str, place: int, heads: tuple[str, str]
) -> Measured:
    x, y = (_value(column, text, f"{name[:60]!r} ({place})") for column, text in zip(columns, texts, strict=True))
    return Measured(name, columns, x, y, texts, file, place, heads)


def _value(column: str, text: str, whose: str) -> float:
    within = _RANGES.get(column, limits.COORDINATE)
    try:
        value = number(text)
    except ValueError as error:
        raise Unusable(f"{column} of {whose}: {error}", "a number", "correct it") from error
    if not within.low <= value <= within.high:
        raise Unusable(f"{column} {text[:40]} of {whose}", within.text, within.do)
    return value


def _each_once(found: Iterable[Measured]) -> None:
    """Refuse two positions of one point: which of them stands is not for a program to say."""
    seen: dict[str, Measured] = {}
    for one in found:
        other = seen.setdefault(one.location_id, one)
        if one.location_id and (one.x, one.y) != (other.x, other.y):
            said = f"two positions of {one.location_id[:60]!r}, the second at {one.number} after {other.number}"
            raise Unusable(said, "one for each point", "remove the incorrect one")
