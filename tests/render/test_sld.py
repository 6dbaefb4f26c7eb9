"""Styles of map layers as Styled Layer Descriptors.

No XML schema of the standard is in a package that can be installed, so structure is held against the
order of elements in SLD 1.1.0 (OGC 05-078r4) and Symbology Encoding 1.1.0 (OGC 05-077r4), from memory.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from export_samples import AIR, export_report
from lxml import etree
from sample_report import sample_meta

from sitegen.pipeline import Built
from sitegen.render.data.geopackage import geopackage_bytes
from sitegen.render.map.layers import map_layers
from sitegen.render.map.sld import feature_sld, sld
from sitegen.report.record.styles import Condition, Drawn, Sign, Style

SLD, SE, OGC = "{http://www.opengis.net/sld}", "{http://www.opengis.net/se}", "{http://www.opengis.net/ogc}"
SYMBOLIZERS = (f"{SE}PointSymbolizer", f"{SE}LineSymbolizer", f"{SE}PolygonSymbolizer")
ORDER = {
    f"{SLD}StyledLayerDescriptor": (f"{SLD}NamedLayer",),
    f"{SLD}NamedLayer": (f"{SE}Name", f"{SE}Description", f"{SLD}UserStyle"),
    f"{SLD}UserStyle": (f"{SE}Name", f"{SE}Description", f"{SLD}IsDefault", f"{SE}FeatureTypeStyle"),
    f"{SE}FeatureTypeStyle": (f"{SE}Name", f"{SE}Description", f"{SE}FeatureTypeName", f"{SE}Rule"),
    f"{SE}Rule": (f"{SE}Name", f"{SE}Description", f"{OGC}Filter", *SYMBOLIZERS),
    f"{SE}Description": (f"{SE}Title", f"{SE}Abstract"),
    f"{SE}PointSymbolizer": (f"{SE}Geometry", f"{SE}Graphic"),
    f"{SE}LineSymbolizer": (f"{SE}Geometry", f"{SE}Stroke"),
    f"{SE}PolygonSymbolizer": (f"{SE}Geometry", f"{SE}Fill", f"{SE}Stroke"),
    f"{SE}Graphic": (f"{SE}Mark", f"{SE}Opacity", f"{SE}Size", f"{SE}Rotation"),
    f"{SE}Mark": (f"{SE}WellKnownName", f"{SE}Fill", f"{SE}Stroke"),
    f"{SE}Fill": (f"{SE}SvgParameter",),
    f"{SE}Stroke": (f"{SE}SvgParameter",),
    f"{OGC}Filter": (f"{OGC}And", f"{OGC}Not", f"{OGC}PropertyIsEqualTo", f"{OGC}PropertyIsNotEqualTo",
                     f"{OGC}PropertyIsNull"),
    f"{OGC}PropertyIsEqualTo": (f"{OGC}PropertyName", f"{OGC}Literal"),
    f"{OGC}PropertyIsNotEqualTo": (f"{OGC}PropertyName", f"{OGC}Literal"),
    f"{OGC}PropertyIsNull": (f"{OGC}PropertyName",),
}  # fmt: skip
"""The elements that each may hold, in their order; what the standard has beside these is not used."""

NAMES = {"circle", "square", "triangle", "star", "cross", "x"}
"""The shapes that Symbology Encoding names (11.3.2)."""


def faults(root: etree._Element) -> Iterator[str]:
    """Yield what stands where the standard does not have it."""
    for element in root.iter():
        if element.tag == f"{SE}WellKnownName" and element.text not in NAMES:
            yield f"shape {element.text}"
        if element.tag not in ORDER:
            continue
        known = ORDER[element.tag]
        places = [known.index(child.tag) if child.tag in known else -1 for child in element]
        if -1 in places or places != sorted(places):
            yield f"{element.tag}: {[child.tag for child in element]}"


def parsed(text: str) -> etree._Element:
    return etree.fromstring(text.encode(), etree.XMLParser(resolve_entities=False))


def styles_of(path: Path) -> list[tuple[str, str, str, int]]:
    base = sqlite3.connect(path)
    read = "SELECT f_table_name, styleName, styleSLD, useAsDefault FROM layer_styles ORDER BY id"
    found = base.execute(read).fetchall()
    base.close()
    return found


def test_every_style_of_the_example_keeps_the_order_of_the_standard(built: Built) -> None:
    """Each is well-formed, has its elements in order, names its layer, and asks for columns that the layer has."""
    path = built.out / "site/downloads/for_gis/survey.gpkg"
    base = sqlite3.connect(path)
    found = styles_of(path)
    assert len(found) > 40
    for layer, name, text, _ in found:
        root = parsed(text)
        assert list(faults(root)) == [], (layer, name)
        assert root.get("version") == "1.1.0"
        assert root.findtext(f"{SLD}NamedLayer/{SE}Name") == layer
        columns = {row[1] for row in base.execute(f'PRAGMA table_info("{layer}")')}
        assert {one.text for one in root.iter(f"{OGC}PropertyName")} <= columns
    base.close()


def test_a_fault_in_the_order_would_be_seen() -> None:
    """A size before its mark, and a shape that the standard does not name, are told."""
    good = sld("points", AIR.styles[0])
    size = "<se:Graphic><se:Mark><se:WellKnownName>"
    assert list(faults(parsed(good))) == []
    assert list(faults(parsed(good.replace(size, f"<se:Graphic><se:Size>3</se:Size>{size[12:]}"))))
    assert "shape hexagon" in list(faults(parsed(good.replace(">star<", ">hexagon<"))))


def test_every_layer_of_points_has_one_usual_style(built: Built) -> None:
    """Of the results by point it is the compound of the report's first map; each mapped compound has its own."""
    found = styles_of(built.out / "site/downloads/for_gis/survey.gpkg")
    for layer in {layer for layer, *_ in found}:
        assert sum(usual for name, _, _, usual in found if name == layer) == 1
    titles = {one.id: one.title for one in built.report.map.layers}
    for ending in ("", "_wgs84"):
        own = [(name, usual) for layer, name, _, usual in found if layer == f"by_point_soil_gas_ng_per_sampler{ending}"]
        assert own[0] == (titles[built.report.map.first_layer], 1)
        assert {name for name, _ in own} <= set(titles.values())


def test_hostile_names_stay_text() -> None:
    """Markup, a closing of CDATA and a control character in a name are text, or left out where XML has no place."""
    root = parsed(sld("a<b", AIR.styles[0]))
    assert root.findtext(f"{SLD}NamedLayer/{SE}Name") == "a<b"
    style = root.find(f"{SLD}NamedLayer/{SLD}UserStyle")
    assert style is not None
    assert style.findtext(f"{SE}Name") == "Tetra]]>chloroethene"
    assert style.findtext(f"{SE}Description/{SE}Title") == "=<&> "
    assert 'detected (yard <b> & "quay")' in {rule.findtext(f"{SE}Name") for rule in root.iter(f"{SE}Rule")}


@pytest.mark.parametrize(("shape", "area"), [("circle", lambda size: math.pi * size**2 / 4),
                                             ("square", lambda size: size**2), ("diamond", lambda size: size**2),
                                             ("triangle", lambda size: math.sqrt(3) / 4 * size**2)])  # fmt: skip
def test_figures_of_one_class_have_one_area(shape: str, area: object) -> None:
    """The area of a circle of radius 8 (π r²), for a circle, a square, one on its corner and an even triangle."""
    sign = Sign("x", (Condition("a", "known"),), (Drawn(shape, 8.0, "#ffffff", "#000000", 1.0),))
    root = parsed(sld("points", Style("s", "", (sign,))))
    (graphic,) = root.iter(f"{SE}Graphic")
    assert callable(area)
    assert area(float(graphic.findtext(f"{SE}Size", "0"))) == pytest.approx(math.pi * 64, rel=0.01)
    assert graphic.findtext(f"{SE}Rotation") == ("45" if shape == "diamond" else None)


def test_features_of_several_dimensions_have_no_style() -> None:
    """One symbolizer draws points, lines or areas: a layer with two of these is left as it is."""
    assert list(feature_sld("features_utility", "utility", {"LineString", "Point"})) == []
    (line,) = feature_sld("features_utility", "utility", {"LineString", "MultiLineString"})
    (area,) = feature_sld("features_building", "building", {"Polygon"})
    (spot,) = feature_sld("features_well", "well", {"Point"})
    for text, symbolizer in ((line, "Line"), (area, "Polygon"), (spot, "Point")):
        assert list(faults(parsed(text))) == []
        assert len(list(parsed(text).iter(f"{SE}{symbolizer}Symbolizer"))) == 1


def test_the_table_of_styles_has_its_columns_and_no_clock(tmp_path: Path) -> None:
    """The columns are those that programs ask for, the SLD alone is filled in, and the one date is the report's."""
    path = tmp_path / "survey.gpkg"
    path.write_bytes(geopackage_bytes(map_layers(export_report()), sample_meta()))
    base = sqlite3.connect(path)
    assert [row[1] for row in base.execute("PRAGMA table_info(layer_styles)")] == [
        "id", "f_table_catalog", "f_table_schema", "f_table_name", "f_geometry_column", "styleName", "styleQML",
        "styleSLD", "useAsDefault", "description", "owner", "ui", "update_time",
    ]  # fmt: skip
    assert set(base.execute("SELECT styleQML, f_geometry_column, update_time FROM layer_styles")) == {
        ("", "geom", f"{sample_meta().report_date}T00:00:00.000Z")
    }
    assert base.execute("SELECT data_type FROM gpkg_contents WHERE table_name = 'layer_styles'").fetchall() == [
        ("attributes",)
    ]
    (made,) = base.execute("SELECT sql FROM sqlite_master WHERE name = 'layer_styles'").fetchone()
    assert "strftime" not in made
    assert "CURRENT" not in made
    base.close()
