"""The web map: one folder of local files that opens without a server or network.

folium makes the map element; Leaflet comes from an installed package; the symbols,
labels and controls are our own small scripts under ``templates/map``. The points
stand in the page once, and each compound adds one list of whole numbers that point
into a shared list of distinct values.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from importlib import resources
from pathlib import PurePosixPath
from typing import Any
from urllib.parse import urlsplit

import folium
from branca.element import Figure
from folium.template import Template
from folium.utilities import JsCode

from sitegen.figures import look
from sitegen.figures.features import FEATURE_STYLES, drawing_rank
from sitegen.render.map.pooled import Pool, mark_places, value_layer
from sitegen.render.map.roundviews import view_payload
from sitegen.render.policy import host_of, policy
from sitegen.report.record.lone import MAPS
from sitegen.report.record.maps import MapBackground, MapData, MapLayer, MapPoint
from sitegen.report.record.pages import Meta
from sitegen.voice import ENGLISH, script_worded, voice, worded

_LEAFLET = resources.files("js_lib_leaflet") / "static" / "js_lib_leaflet"
_OWN = resources.files("sitegen") / "templates" / "map"
_LEAFLET_FILES = (
    "leaflet.js",
    "leaflet.css",
    "images/layers.png",
    "images/layers-2x.png",
    "images/marker-icon.png",
)
_OWN_FILES = ("map.css", "symbols.js", "labels.js", "panel.js", "popup.js", "second.js", "map.js")
_PLAN_FILES = (*_OWN_FILES[:-1], "plan.js", _OWN_FILES[-1])
"""Those of the map of a plan, in the order in which they are loaded."""
_ROUND_FILES = (*_OWN_FILES, "rounds.js")
"""Those of the map of several rounds."""
_AIR = frozenset({"indoor_air", "outdoor_air"})
_MOTION: dict[str, Any] = {"zoom_animation": JsCode("!matchMedia('(prefers-reduced-motion: reduce)').matches")}
_FEATURE_DETAILS = ("utility_type", "surface")


def map_files(
    data: MapData, meta: Meta, location_url: Callable[[str], str], background: bytes = b""
) -> dict[str, bytes]:
    """Return the map's files by their site-relative path, ``map/index.html`` first.

    Parameters
    ----------
    data
        The points (WGS 84, degrees), the layers and the site features. Every layer
        has one value per point.
    meta
        Title, status and revision, shown on the map's page.
    location_url
        Gives the address of a location's page as seen from ``map/index.html``.
    background
        The bytes of ``data.background``'s picture, where there is one.

    Raises
    ------
    ValueError
        A layer has more or fewer values than there are points, a class has no label
        or no colour, or two layers share an id.
    """
    _require_whole(data)
    files = {"map/index.html": _page(data, meta, location_url).encode("utf-8")}
    files |= {f"map/{name}": _LEAFLET.joinpath(name).read_bytes() for name in _LEAFLET_FILES}
    files |= {f"map/{name}": _own_file(name) for name in _own_files(data)}
    if data.background:
        files[f"map/{_picture_name(data.background)}"] = background
    return files


def map_names(data: MapData) -> tuple[str, ...]:
    """Return the site-relative paths of the map's files, in the order of :func:`map_files`."""
    pictures = (_picture_name(data.background),) if data.background else ()
    return tuple(f"map/{name}" for name in ("index.html", *_LEAFLET_FILES, *_own_files(data), *pictures))


def _own_file(name: str) -> bytes:
    """Return a file of ours, a script in the voice that speaks."""
    content = _OWN.joinpath(name).read_bytes()
    return script_worded(content.decode()).encode() if name.endswith(".js") else content


def _own_files(data: MapData) -> tuple[str, ...]:
    if data.plan:
        return _PLAN_FILES
    return _ROUND_FILES if data.views else _OWN_FILES


def script_safe_json(value: object) -> str:
    r"""Write JSON that can stand inside a script element, whatever its strings hold.

    >>> script_safe_json("</script>")
    '"\\u003c/script\\u003e"'
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def map_payload(data: MapData, meta: Meta, location_url: Callable[[str], str]) -> dict[str, Any]:
    """Return what the page's script reads: points once, values shared by all layers.

    A point is ``[id, label, lat, lon, shape, medium, surface, state, marks, detected, url]``, that of a supplement,
    or of air above a screening level, with the words for both behind;
    a value is ``[text, class, marks]`` with class null for "not analysed" and -1 for a
    non-detect; ``marks`` are places in the list of marks, each ``[word, reason, ring]`` with
    ring 1 where the mark draws one. A layer's ``v`` holds
    one place in the list of values per point, its ``page`` is that of the same map in the PDF ``lone``, 0 for none.
    Of several rounds there are ``views`` (``roundviews.py``).
    """
    marks = Pool()
    values = Pool()
    layers = [value_layer(layer, values, marks) for layer in data.layers]
    views = view_payload(data, values, marks, lambda point: _point(point, marks, location_url)) if data.views else {}
    return {
        "meta": {
            "site": meta.site,
            "status": meta.state,
            "revision": meta.revision,
            "date": meta.report_date,
            "digest": meta.digest[:8],
            "notices": list(meta.notices),
        },
        "points": [_point(point, marks, location_url) for point in data.points],
        "layers": layers,
        "values": values.items,
        "marks": marks.items,
        "features": _features(data.features),
        "classes": list(data.class_labels),
        "first": data.first_layer,
        "crs": data.crs_text,
        "look": _look(),
        "under": _under(data),
        **views,
        "lone": f"../{MAPS}",
    }


def _picture_name(background: MapBackground) -> str:
    """Return the picture's name in the map's folder: ours, with the project's ending."""
    ending = PurePosixPath(background.file).suffix.lower().lstrip(".")
    return f"background.{ending if ending.isalnum() and ending.isascii() else 'png'}"


def _under(data: MapData) -> dict[str, Any]:
    """Return what lies under the points: a picture of the project's own, or a service of tiles."""
    picture, tiles = data.background, data.tiles
    found: dict[str, Any] = {}
    if picture:
        edges = [[picture.south, picture.west], [picture.north, picture.east]]
        found["picture"] = {"file": _picture_name(picture), "edges": edges, "licence": picture.licence}
    if tiles:
        host = urlsplit(tiles.url).netloc.replace("{s}.", "")
        found["tiles"] = {"url": tiles.url, "attribution": tiles.attribution, "host": host}
    return found


def _require_whole(data: MapData) -> None:
    classes = min(len(data.class_labels), len(look.CLASS_COLOURS))
    _require_layers(data.layers, len(data.points), classes)
    for view in data.views:
        _require_layers(view.layers, len(view.points), classes)
        for layer in view.changes:
            if len(layer.values) != len(view.points):
                raise ValueError(f"layer {layer.id}: {len(layer.values)} changes for {len(view.points)} points")


def _require_layers(layers: tuple[MapLayer, ...], points: int, classes: int) -> None:
    ids = [layer.id for layer in layers]
    for layer in layers:
        if len(layer.values) != points:
            message = f"layer {layer.id}: {len(layer.values)} values for {points} points"
            raise ValueError(message)
        if any(value.size_class is not None and value.size_class >= classes for value in layer.values):
            raise ValueError(f"layer {layer.id}: a class beyond the {classes} that have a label and a colour")
        if ids.count(layer.id) > 1:
            raise ValueError(f"layer {layer.id} is given twice")


def _point(point: MapPoint, marks: Pool, location_url: Callable[[str], str]) -> list[Any]:
    """Return a point as the script reads it; one that the report has no page about leads nowhere."""
    shape = look.AIR_SHAPE if point.medium in _AIR else look.SURFACE_SHAPES.get(point.surface, "diamond")
    return [
        point.location_id,
        point.label,
        round(point.lat, 7),
        round(point.lon, 7),
        shape,
        worded(point.medium.replace("_", " ")),
        worded(point.surface.replace("_", " ")),
        point.state,
        mark_places(point.marks, marks),
        point.detected,
        location_url(point.location_id) if point.paged else "",
        *((point.supplement, point.above) if point.supplement or point.above else ()),
    ]


def _features(features: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Take kind, name, detail and shape; no other property reaches the page."""
    drawn = []
    for feature in features:
        properties = feature.get("properties") or {}
        kind = str(properties.get("kind", "other"))
        details = [str(properties[key]) for key in _FEATURE_DETAILS if properties.get(key)]
        drawn.append(
            {
                "kind": kind if kind in FEATURE_STYLES else "other",
                "name": str(properties.get("name") or ""),
                "detail": ", ".join(details),
                "geometry": feature["geometry"],
            }
        )
    return sorted(drawn, key=lambda item: drawing_rank(item["kind"]))


def _look() -> dict[str, Any]:
    return {
        "colours": look.CLASS_COLOURS,
        "radii": look.CLASS_RADII_PX,
        "ink": look.INK,
        "muted": look.MUTED,
        "paper": look.PAPER,
        "ring": look.WARN,
        "features": {kind: style._replace(word=worded(style.word))._asdict() for kind, style in FEATURE_STYLES.items()},
    }


class _Page(Figure):
    """The HTML page around the map element, with the data that its script reads."""

    _template = Template(_OWN.joinpath("page.html.j2").read_text("utf-8"))

    def __init__(self, title: str, element: folium.Map, payload: str) -> None:
        super().__init__(title=title)
        self.payload = payload
        self.worded = worded
        self.language = voice().language if voice().language != ENGLISH else "en-GB"
        self.map_name = element.add_to(self).get_name()


class _SiteMap(folium.Map):
    """A map element with local files only and a name that never changes."""

    default_js = [(name, name) for name in ("leaflet.js", *_OWN_FILES) if name.endswith(".js")]  # noqa: RUF012
    default_css = [("leaflet.css", "leaflet.css"), ("map.css", "map.css")]  # noqa: RUF012

    @classmethod
    def _generate_id(cls) -> str:
        return "sitegen"


class _RoundMap(_SiteMap):
    """The map element of several rounds."""

    default_js = [(name, name) for name in ("leaflet.js", *_ROUND_FILES) if name.endswith(".js")]  # noqa: RUF012


class _PlanMap(_SiteMap):
    """The map element of a plan."""

    default_js = [(name, name) for name in ("leaflet.js", *_PLAN_FILES) if name.endswith(".js")]  # noqa: RUF012


def _page(data: MapData, meta: Meta, location_url: Callable[[str], str]) -> str:
    payload = script_safe_json(map_payload(data, meta, location_url))
    html: str = _Page(worded("Map of {site}", site=meta.site), _site_map(data), payload).render()
    return html.replace("<title>", f"{policy(html, host_of(data.tiles.url) if data.tiles else '')}\n<title>", 1)


def _site_map(data: MapData) -> folium.Map:
    return (_PlanMap if data.plan else _RoundMap if data.views else _SiteMap)(
        location=_middle(data),
        tiles=None,
        control_scale=True,
        zoom_start=17,
        max_zoom=24,
        zoom_snap=0.1,
        zoom_delta=0.5,
        attribution_control=False,
        **_MOTION,
    )


def _middle(data: MapData) -> tuple[float, float]:
    """Return the middle of the points' bounding box as (latitude, longitude)."""
    if not data.points:
        return (0.0, 0.0)
    lats = [point.lat for point in data.points]
    lons = [point.lon for point in data.points]
    return (round((min(lats) + max(lats)) / 2, 7), round((min(lons) + max(lons)) / 2, 7))
