"""Which files the site's features come from, and what each of them draws."""

from __future__ import annotations

from pathlib import PurePosixPath

from sitegen.findings.problems import Finding, Severity, Where
from sitegen.project.features import Gathered, within_size
from sitegen.project.folder import Folder
from sitegen.project.place.corners import CORNERS_FILE, read_corners
from sitegen.project.place.drawn import Drawing, Unusable
from sitegen.project.place.geojson import read_geojson
from sitegen.project.place.geopackage import read_geopackage
from sitegen.project.place.gpx import read_gpx
from sitegen.project.place.kml import read_kml
from sitegen.project.place.layers import listed
from sitegen.project.place.shapefile import read_shapefiles
from sitegen.project.schema import FEATURES_FILE, SETTINGS_FILE
from sitegen.project.settings import FeaturesPart, FilePart, Settings
from sitegen.project.survey import Feature
from sitegen.voice import worded

NAMES = (
    FEATURES_FILE,
    *(f"locations/features.{ending}" for ending in ("gpkg", "zip", "kml", "gpx")),
    CORNERS_FILE,
)
"""The names under which features are found without being declared; of several the first is read."""
_KINDS = "GeoJSON, a GeoPackage, zipped shapefiles, KML, GPX or a table of corners (CSV)"
_LOGS = ("-wal", "-journal")


def feature_files(part: FeaturesPart, folder: Folder) -> tuple[str, ...]:
    """Return the files that features are read from: those declared, or the first of the known names."""
    if part.files:
        return tuple(dict.fromkeys(part.files))
    return tuple(name for name in NAMES if name in folder.files)[:1]


def site_features(folder: Folder, settings: Settings | None) -> tuple[tuple[Feature, ...], list[Finding]]:
    """Read the site's features, whatever files hold them.

    Where the settings can't be read, nothing is told of files that they have a say in.
    """
    part = settings.features if settings else FeaturesPart()
    files = feature_files(part, folder)
    features, findings = _read(folder, settings, part, files)
    told = settings is not None or files == (FEATURES_FILE,) or not (files or _declares(folder))
    return features, findings if told else []


def _declares(folder: Folder) -> bool:
    """Tell whether settings that can't be read say something of features."""
    return b"[features" in (folder.content(SETTINGS_FILE) or b"")


def _read(
    folder: Folder, settings: Settings | None, part: FeaturesPart, files: tuple[str, ...]
) -> tuple[tuple[Feature, ...], list[Finding]]:
    if not files:
        return (), [_absent(folder)]
    gathered = Gathered(part)
    for file in files:
        try:
            gathered.add(file, _drawing(file, folder, settings))
        except Unusable as fault:
            gathered.fail(file, fault)
    features, findings = gathered.close()
    return features, findings + _several(part, folder, files)


def _drawing(file: str, folder: Folder, settings: Settings | None) -> Drawing:
    content = folder.content(file)
    if not file.startswith("locations/") or content is None:
        found = "no such file" if content is None else "a file elsewhere"
        raise Unusable(found, "a file in locations/", "put it there, or correct files under [features] in project.toml")
    within_size(content)
    part = settings.features if settings else FeaturesPart()
    match PurePosixPath(file).suffix.lower():
        case ".geojson" | ".json":
            return read_geojson(content)
        case ".gpkg":
            _closed(file, folder)
            return read_geopackage(content, part.layers, file)
        case ".zip":
            return read_shapefiles(content, part.layers, part.encoding, file)
        case ".kml":
            return read_kml(content)
        case ".gpx":
            return read_gpx(content)
        case ".csv":
            how = settings.files.get(file, FilePart()) if settings else FilePart()
            return read_corners(content, how, settings.space.crs if settings else "", file)
    raise Unusable("a file of another kind", _KINDS, "export it as one of these")


def _closed(file: str, folder: Folder) -> None:
    """Refuse a GeoPackage that a program still has open: a part of it stands in the log beside it."""
    for ending in _LOGS:
        if folder.content(file + ending):
            do = "close the program that has it open, so that the log is removed"
            raise Unusable(f"a GeoPackage with its log {file}{ending} still present", "a GeoPackage that is closed", do)


def _several(part: FeaturesPart, folder: Folder, files: tuple[str, ...]) -> list[Finding]:
    """Tell files of features that are not read."""
    left = [name for name in NAMES if name in folder.files and name not in files]
    if not left:
        return []
    both = f" {worded('and')} "
    found = worded("{left} in addition to {files}, not read", left=both.join(left), files=both.join(files))
    do = (
        worded("keep the one that contains further features")
        if part.files
        else worded(
            "keep the one that contains the features, or write under [features] in project.toml: files = {files}",
            files=listed((*files, *left)),
        )
    )
    wanted = worded("one source of features")
    return [Finding("features-several", Severity.HOLD, left[0], Where(left[0]), found, wanted, do, "file")]


def _absent(folder: Folder) -> Finding:
    loose = any(path.startswith("locations/") and path.lower().endswith(".shp") for path in folder.files)
    return Finding(
        "file-absent",
        Severity.FLAG,
        FEATURES_FILE,
        Where(FEATURES_FILE),
        worded("no such file"),
        worded("site boundary, buildings and utilities as GeoJSON"),
        worded("zip the .shp with its .dbf and .prj into locations/features.zip")
        if loose
        else worded("add {path}", path=FEATURES_FILE),
        "file",
    )
