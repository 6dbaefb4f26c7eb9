"""Site features from whatever file holds them, each problem told with the feature's place in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project import limits
from sitegen.project.place.coordinates import WGS84, operation_words, transform
from sitegen.project.place.corners import outline
from sitegen.project.place.drawn import Drawing, Drawn, Unusable, too_many
from sitegen.project.place.geojson import read_geojson
from sitegen.project.place.layers import listed, quoted
from sitegen.project.schema import FEATURE_KINDS, FEATURES_FILE
from sitegen.project.settings import FeaturesPart
from sitegen.project.shapes import (
    crossings,
    meetings,
    of_one_kind,
    property_fault,
)
from sitegen.project.survey import Feature
from sitegen.voice import worded

DEGREE_DIGITS = 9
"""Digits that are kept of longitude and latitude where they are computed: 0.1 mm."""
_PUBLIC = {"": True, "yes": True, "true": True, "no": False, "false": False}


@dataclass
class _Work:
    """What is left of the bounds that all features share."""

    meetings: int = limits.MEETINGS.value
    crossings: int = limits.CROSSINGS.value


def read_features(content: bytes) -> tuple[tuple[Feature, ...], list[Finding]]:
    """Read ``features.geojson``; a feature with a problem is left out and told."""
    gathered = Gathered(FeaturesPart())
    try:
        within_size(content)
        gathered.add(FEATURES_FILE, read_geojson(content))
    except Unusable as fault:
        gathered.fail(FEATURES_FILE, fault)
    return gathered.close()


def within_size(content: bytes) -> None:
    """Raise Unusable where a file has more bytes than are read."""
    if len(content) > limits.FEATURES_BYTES.value:
        do = "leave out what the report does not need"
        raise Unusable(f"{len(content):,} bytes", limits.FEATURES_BYTES.at_most, do)


@dataclass
class Gathered:
    """The features of a folder, file by file, and what was found on the way; ``part`` says how files call things."""

    part: FeaturesPart
    features: list[Feature] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    _work: _Work = field(default_factory=_Work)
    _count: int = 0
    _unread: bool = False
    _files: list[str] = field(default_factory=list)
    _doubts: list[Finding] = field(default_factory=list)
    _strange: dict[str, list[str]] = field(default_factory=dict)

    def add(self, file: str, drawing: Drawing) -> None:
        """Add the features of a file. Raises Unusable where all files together have more than are read."""
        if self._count + len(drawing.features) > limits.FEATURES.value:
            raise too_many(self._count + len(drawing.features))
        self._files.append(file)
        self._strange = {}
        self._doubts += [problem(file, None, doubt, Severity.FLAG) for doubt in drawing.doubts]
        for at, drawn in enumerate(_in_degrees(drawing), start=1):
            try:
                feature, doubt = self._feature(at, file, drawn, plain=drawing.plain)
            except Unusable as unusable:
                self.findings.append(problem(file, at, unusable, row=drawn.row))
                continue
            if feature is not None:
                self.features.append(feature)
            if doubt:
                self.findings.append(problem(file, at, doubt, Severity.FLAG, drawn.row))
        self._count += len(drawing.features)
        self._tell_kinds(file, drawing)
        self._tell_system(file, drawing)

    def fail(self, file: str, fault: Unusable) -> None:
        """Tell a file that draws nothing."""
        self._unread = True
        self.findings.append(problem(file, None, fault))

    def close(self) -> tuple[tuple[Feature, ...], list[Finding]]:
        """Return all features, and every finding: of each, then of all together."""
        if not self._files or self._unread:
            return tuple(self.features), self.findings
        return tuple(self.features), [*self.findings, *_whole(self._files[0], self._doubts, self.features)]

    def _feature(self, at: int, file: str, drawn: Drawn, *, plain: bool) -> tuple[Feature | None, Unusable | None]:
        """Return a feature (None where its kind is told with others), and what is doubtful. Raises Unusable."""
        if drawn.fault or drawn.geometry is None:
            raise drawn.fault or Unusable("no geometry", "points, lines or polygons", "draw it again")
        if not _on_earth(drawn.geometry):
            raise Unusable(
                "coordinates outside longitude -180 to 180 and latitude -90 to 90, or none",
                "WGS 84 longitude, latitude",
                "export the layer in WGS 84 degrees, longitude first",
            )
        found, expected = property_fault(drawn.properties)
        if found:
            raise Unusable(found, expected, "shorten or leave out the property")
        properties = own_properties(drawn, self.part)
        kind = str(properties.get("kind") or "")
        if kind not in FEATURE_KINDS:
            self._strange.setdefault(kind, []).append(f"feature {at}")
            return None, None
        public = _public(properties.get("public", "yes"), plain=plain)
        geometry = outline(drawn.geometry, kind, drawn.outline) if drawn.corners else drawn.geometry
        geometry, doubt = _sound(_uniform(geometry), self._work)
        doubt = doubt or _unclear(kind, properties.get("occupied"))
        number = self._count + at
        name = str(properties.get("name") or f"{kind} {number}")
        stands = None if file == FEATURES_FILE and not self._count else _where(file, at, drawn.row)
        return Feature(number, kind, name, public, shapely.force_2d(geometry), properties, stands), doubt

    def _tell_kinds(self, file: str, drawing: Drawing) -> None:
        """Tell each word that is no kind once, with the lines that would say what it stands for."""
        for word, places in self._strange.items():
            at = int(places[0].rpartition(" ")[2])
            more = f", and of {len(places) - 1} more features" if len(places) > 1 else ""
            drawn = drawing.features[at - 1]
            what = f"the kind {word[:60]!r}" if word else f"no {self.part.kind[:60]!r}, the property of the kind"
            fault = Unusable(what + more, "one of " + ", ".join(FEATURE_KINDS), self._kind_lines(word, drawn))
            self.findings.append(problem(file, at, fault, row=drawn.row))

    def _kind_lines(self, word: str, drawn: Drawn) -> str:
        if word:
            words = ", ".join(f'{quoted(other)} = "…"' for other in list(self._strange)[:20] if other)
            return f"correct the kind, or write its meaning under [features] in project.toml: words = {{ {words} }}"
        there = [name for name in (*drawn.properties, *(["layer"] if drawn.layer else [])) if name != self.part.kind]
        if not there:
            return "give each feature a property kind"
        line = f'kind = "…", one of {listed(there)}'
        return f"write under [features] in project.toml which property gives the kind: {line}"

    def _tell_system(self, file: str, drawing: Drawing) -> None:
        """Note which way coordinates were computed, where the file has another system."""
        known = [one.geometry for one in drawing.features if one.geometry is not None and not one.geometry.is_empty]
        if drawing.system == WGS84 or not known:
            return
        west, south, east, north = (float(one) for one in shapely.total_bounds(known))
        how = operation_words(drawing.system, WGS84, [(west, south), (east, north)])
        found = worded("coordinates in {system}, converted to WGS 84 by: {how}", system=drawing.system_name, how=how)
        self.findings.append(
            Finding("features-converted", Severity.NOTE, file, Where(file), found, worded("a look at the map"),
                    worded("compare the map with the plan it was drawn from"), "feature")
        )  # fmt: skip


def own_properties(drawn: Drawn, part: FeaturesPart) -> dict[str, Any]:
    """Return a feature's properties under the names of the format, and in its words where they are declared.

    >>> part = FeaturesPart(kind="TYPE", words={"BLDG": "building"})
    >>> own_properties(Drawn(None, {"TYPE": "BLDG", "storeys": 2}), part)
    {'storeys': 2, 'kind': 'building'}
    """
    declared = {"kind": part.kind, "name": part.name, "public": part.public}
    renamed = {theirs for ours, theirs in declared.items() if ours != theirs}
    properties = {name: value for name, value in drawn.properties.items() if name not in renamed}
    for ours, theirs in declared.items():
        value = drawn.properties.get(theirs, drawn.layer if theirs == "layer" else None)
        if ours != theirs and value is not None:
            properties[ours] = value
        if ours != "name" and isinstance(properties.get(ours), str):
            properties[ours] = part.words.get(properties[ours], properties[ours])
    return properties


def _public(value: object, *, plain: bool) -> bool:
    """Tell whether a feature may be shown to others; of GeoJSON all but no and false lets it."""
    text = str(value).lower()
    if not plain and text not in _PUBLIC:
        do = f'write yes or no, or under [features] in project.toml: words = {{ {quoted(str(value))} = "no" }}'
        raise Unusable(f"{str(value)[:60]!r} as public", "yes or no", do)
    return _PUBLIC.get(text, True)


def _unclear(kind: str, occupied: object) -> Unusable | None:
    """Return the doubt about a building of which it is not said plainly whether people use it: cautions rest on it."""
    said = str("" if occupied is None else occupied).strip()
    if kind != "building" or said.lower() in ("", *_PUBLIC, "y", "n", "1", "0"):
        return None
    return Unusable(
        worded("{said!r} as occupied", said=said[:60]),
        worded("yes or no"),
        worded("write yes or no; it determines the cautions for occupants"),
    )


def _in_degrees(drawing: Drawing) -> Iterable[Drawn]:
    """Yield features with their shapes in WGS 84."""
    if drawing.system == WGS84:
        yield from drawing.features
        return

    def move(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        degrees: NDArray[np.float64] = np.column_stack(transform(drawing.system, WGS84, xy[:, 0], xy[:, 1]))
        return degrees.round(DEGREE_DIGITS)

    for drawn in drawing.features:
        moved = None if drawn.geometry is None else shapely.transform(drawn.geometry, move)
        yield Drawn(moved, drawn.properties, drawn.layer, drawn.fault, drawn.corners, drawn.outline, drawn.row)


def _on_earth(geometry: BaseGeometry) -> bool:
    if geometry.is_empty or not geometry.bounds:
        return False
    west, south, east, north = geometry.bounds
    return -180 <= west <= east <= 180 and -90 <= south <= north <= 90


def _uniform(geometry: BaseGeometry) -> BaseGeometry:
    """Return a geometry whose parts are all places, all lines or all areas; what mixes them is told."""
    parts = shapely.get_parts(geometry)
    kinds = {part.geom_type.removeprefix("Multi") for part in parts}
    if len(kinds) != 1 or "GeometryCollection" in kinds:
        do = "make each shape a separate feature"
        raise Unusable("a GeometryCollection that mixes or nests shapes", "only points, lines or polygons", do)
    for count, bound in (
        (len(parts), limits.SHAPE_PARTS),
        (int(shapely.get_num_coordinates(geometry)), limits.SHAPE_VERTICES),
    ):
        if count > bound.value:
            raise Unusable(f"{count:,} {bound.unit}", bound.at_most, "simplify the shape or divide it")
    whole = of_one_kind(geometry, int(shapely.get_dimensions(geometry)))
    return geometry if whole is None else whole


def _sound(geometry: BaseGeometry, work: _Work) -> tuple[BaseGeometry, Unusable | None]:
    """Return a shape as it is or mended, and where it crossed itself."""
    met = meetings([geometry], work.meetings)
    if met > work.meetings:
        found = f"edges that overlap, with those of the features before it more than {limits.MEETINGS.value:,} times"
        raise Unusable(found, limits.MEETINGS.at_most, "redraw the shape with fewer and shorter edges")
    work.meetings -= met
    if geometry.is_valid:
        return geometry, None
    where = worded("a shape that crosses itself ({reason})", reason=shapely.is_valid_reason(geometry)[:60])
    crossed = crossings(geometry, work.crossings)
    if crossed > work.crossings:
        raise Unusable(where, f"{limits.CROSSINGS.at_most}, to be repaired here", "redraw it without crossings")
    work.crossings -= crossed
    mended = of_one_kind(shapely.make_valid(geometry), int(shapely.get_dimensions(geometry)))
    if mended is None or shapely.get_num_coordinates(mended) > limits.SHAPE_VERTICES.value:
        raise Unusable(where, "a shape that can be repaired", "redraw it")
    return mended, Unusable(where, worded("a simple polygon"), worded("redraw it; it is used as repaired here"))


def _whole(file: str, doubts: Sequence[Finding], features: Sequence[Feature]) -> list[Finding]:
    findings = []
    boundaries = [feature for feature in features if feature.kind == "site_boundary"]
    if len(boundaries) != 1:
        found = worded("{count} site boundaries", count=len(boundaries)) if boundaries else worded("no site boundary")
        do = (
            worded("keep one site_boundary")
            if boundaries
            else worded("draw the site's outline as a feature of the kind site_boundary")
        )
        findings.append(problem(file, None, Unusable(found, worded("exactly one"), do), Severity.HOLD))
    findings += doubts
    shapes = [feature.geometry for feature in features]
    vertices = int(shapely.get_num_coordinates(shapes).sum()) if shapes else 0
    if vertices > limits.VERTICES.value:
        fault = Unusable(f"{vertices:,} vertices", limits.VERTICES.at_most, "simplify the shapes")
        findings.append(problem(file, None, fault))
    elif shapes and meetings(shapes) > limits.MEETINGS.value:
        found = f"features whose edges overlap more than {limits.MEETINGS.value:,} times"
        do = "leave out what the report does not need"
        findings.append(problem(file, None, Unusable(found, limits.MEETINGS.at_most, do)))
    return findings


def _where(file: str, at: int | None, row: int | None) -> Where:
    return Where(file, row, None if at is None or row is not None else f"feature {at}")


def problem(
    file: str, at: int | None, fault: Unusable, severity: Severity = Severity.STOP, row: int | None = None
) -> Finding:
    """Return the finding of a file, or of one feature in it by its place from 1."""
    subject = file if at is None else f"feature {at}" if file == FEATURES_FILE else f"{file}+feature {at}"
    code = "feature-unusable" if severity is Severity.STOP else "feature-doubtful"
    return Finding(code, severity, subject, _where(file, at, row), fault.found, fault.expected, fault.do, "feature")
