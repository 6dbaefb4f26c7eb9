"""Site features that are hostile or only too many: each is told with its number, and none costs more than a moment."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from builders import Change, changed, survey_findings

from sitegen.compute.place.thin import thinned
from sitegen.project.features import read_features
from sitegen.project.limits import (
    BLOCK_CHARS,
    FEATURES,
    FEATURES_BYTES,
    HEADING_CHARS,
    LEVELS,
    MEETINGS,
    SECTION_BYTES,
    SHAPE_PARTS,
    SHAPE_VERTICES,
    WORD_CHARS,
)
from sitegen.project.prose import text_faults
from sitegen.project.survey import Feature

POINT = {"type": "Point", "coordinates": [1, 2]}
LINE = {"type": "LineString", "coordinates": [[0, 0], [1, 1]]}


def read(*items: Any, **more: object) -> tuple[tuple[Feature, ...], list[str]]:  # noqa: ANN401 - any JSON
    """Return features and what is told of them as stops, of a file that holds some items."""
    content = json.dumps({"type": "FeatureCollection", "features": items} | more).encode()
    found, told = read_features(content)
    return found, [f"{one.where.column}: {one.found}" for one in told if one.code == "feature-unusable"]


def feature(geometry: object, **properties: object) -> dict[str, object]:
    return {"type": "Feature", "properties": {"kind": "other"} | properties, "geometry": geometry}


def star(points: int) -> dict[str, object]:
    """Return a polygon each edge of which crosses nearly all others."""
    turns = [2 * math.pi * at * (points // 2) / points for at in range(points + 1)]
    return {"type": "Polygon", "coordinates": [[[math.cos(turn), math.sin(turn)] for turn in turns]]}


def collection(*parts: object) -> dict[str, object]:
    return {"type": "GeometryCollection", "geometries": parts}


@pytest.mark.parametrize(
    ("item", "said"),
    [
        (feature(POINT, surface=10**3999), "'surface' with a number of 4000 digits"),
        (feature(POINT, surface=float("1e300") * 10**9), "cannot be read|not a FeatureCollection"),
        (feature(POINT, name="a\ud800b"), "U+D800"),
        (feature(POINT, name="a\0b"), "U+0000"),
        (feature(POINT, name="N" * 101), "a name of 101 characters"),
        (feature(POINT, note="N" * 2001), "'note' with 2,001 characters"),
        (feature(POINT, note=[[[[1]]]]), "lists within lists, more than 3 deep"),
        (feature(POINT, **{f"p{at}": at for at in range(100)}), "101 properties"),
        (feature(collection(collection(POINT))), "mixes or nests"),
        (feature(collection(POINT, LINE)), "mixes or nests"),
        (feature({"type": "Point", "coordinates": [500000, 4700000]}), "outside longitude"),
        (feature({"type": "LineString", "coordinates": [[0, 0]] * (SHAPE_VERTICES.value + 1)}), "20,001 vertices"),
        (feature({"type": "MultiPoint", "coordinates": [[0, 0]] * (SHAPE_PARTS.value + 1)}), "2,001 parts"),
        (feature(star(101)), "a shape that crosses itself (Self-intersection["),
        (feature(star(1_501)), "edges that overlap"),
        (1, "a geometry that cannot be read"),
    ],
)
def test_a_hostile_feature_is_told_with_its_number(item: object, said: str) -> None:
    """The feature is left out and named; the one before it is read."""
    found, told = read(feature(POINT), item)
    whole = "|" in said
    assert len(found) == (0 if whole else 1)
    assert len(told) == 1
    assert whole or told[0].startswith("feature 2: ")
    assert any(words in told[0] for words in said.split("|"))


def test_what_all_features_share_is_bounded() -> None:
    """Features in all, bytes in all, and edges of different features over each other."""
    assert read(*[feature(POINT)] * (FEATURES.value + 1))[1] == [f"None: {FEATURES.value + 1:,} features"]
    assert "bytes" in read_features(b" " * (FEATURES_BYTES.value + 1))[1][0].found
    long = [[at % 2, at / 1e4] for at in range(1_000)]
    across = [[y, x] for x, y in long]
    lines = [feature({"type": "LineString", "coordinates": places}) for places in (long, across)]
    assert read(*lines)[1] == [f"None: features whose edges overlap more than {MEETINGS.value:,} times"]


def test_a_collection_of_one_kind_is_read_as_that() -> None:
    """A collection of polygons is areas, so that each has an edge."""
    square = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}
    found, told = read(feature(collection(square, square | {"coordinates": [[[2, 0], [3, 0], [3, 1], [2, 0]]]})))
    assert [one.geometry.geom_type for one in found] == ["MultiPolygon"]
    assert told == []


@pytest.mark.parametrize(
    ("said", "occupied", "told"),
    [
        ("yes", True, []), (True, True, []), ("Yes", True, []),
        ("no", False, []), (False, False, []), (None, False, []),
        ("by day", False, ["'by day' as occupied"]),
    ],
)  # fmt: skip
def test_a_building_is_occupied_in_whatever_way_it_is_said(said: object, occupied: bool, told: list[str]) -> None:
    """Cautions of people inside rest on one word: another program's yes is one, and what is neither is told."""
    square = {"type": "Polygon", "coordinates": [[[0, 0], [0.001, 0], [0.001, 0.001], [0, 0.001], [0, 0]]]}
    items = [feature(square, kind="site_boundary"), feature(square, kind="building", occupied=said)]
    found, findings = read_features(json.dumps({"type": "FeatureCollection", "features": items}).encode())
    assert [one.occupied for one in found] == [False, occupied]
    assert [one.found for one in findings] == told


def test_a_feature_beyond_the_map_is_told() -> None:
    """A place that the project's system can't hold stops, for there and back it is another place."""
    far = feature({"type": "LineString", "coordinates": [[-99.3675, 43.0825], [80.6, 89.999]]})

    def with_far(content: bytes) -> bytes:
        data = json.loads(content)
        data["features"].append(far)
        return json.dumps(data).encode()

    told = survey_findings(changed(Change("locations/features.geojson", with_far)))
    assert ["not valid in EPSG:" in one.found for one in told if one.code == "feature-unusable"] == [True]


def test_outlines_are_thinned_no_further_than_the_step() -> None:
    """Every vertex left out lies within the step of one that is kept, and few shapes stay as they are."""
    circle = tuple((50 * math.cos(at / 1e3), 50 * math.sin(at / 1e3)) for at in range(6283))
    (thin,), step_m = thinned([circle], 500)
    assert len(thin) <= 500
    assert step_m == 1.0
    assert max(min(math.dist(place, kept) for kept in thin) for place in circle[::50]) <= step_m
    assert thinned([circle[:9]], 9) == ((circle[:9],), 0.0)


@pytest.mark.parametrize(
    ("text", "said", "line"),
    [
        ("x\n\n" + "w" * (WORD_CHARS.value + 1), "a word of 1,001 characters", 3),
        ("x\n\n" + "w " * (BLOCK_CHARS.value // 2) + "w", "20,001 characters without a blank line", 3),
        ("x\n\n# " + "h " * (HEADING_CHARS.value // 2) + "h", "a heading of 201 characters", 3),
        ("x\n\n" + "> " * (LEVELS.value + 1) + "x", "text more than 12 levels deep", 3),
        ("".join("  " * at + "- x\n" for at in range(7)), "text more than 12 levels deep", 7),
        ("x\n\n" + "*a " * 900 + "b" + "*" * 900, "text more than 12 levels deep", 3),
        ("x\n\n" * (SECTION_BYTES.value // 3 + 1), "200,001 bytes", None),
    ],
)
def test_a_text_beyond_a_bound_stops_at_its_line(text: str, said: str, line: int | None) -> None:
    """One stop with file and line, and what is wanted."""
    told = list(text_faults("text/setting.md", text))
    assert [(one.found, one.where.row, one.severity.value) for one in told] == [(said, line, "stop")]


def test_a_text_within_the_bounds_is_read() -> None:
    """What just fits is no finding."""
    for text in ("w" * WORD_CHARS.value, "# " + "h" * HEADING_CHARS.value, "> " * (LEVELS.value - 1) + "x"):
        assert list(text_faults("text/setting.md", text)) == []
