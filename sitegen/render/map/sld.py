"""Write styles of map layers as OGC Styled Layer Descriptors 1.1 with Symbology Encoding 1.1.

Standards: OGC 05-078r4 (descriptor), 05-077r4 (encoding), 04-095 (filter). A rule is written for each
sign; its figures are marks of the shapes that the encoding names. ``cross`` and ``x`` are strokes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape

from sitegen.figures.features import FeatureStyle, style_of
from sitegen.report.record.styles import Condition, Drawn, Sign, Style
from sitegen.voice import worded

_SPACES = (
    'xmlns="http://www.opengis.net/sld" xmlns:se="http://www.opengis.net/se" xmlns:ogc="http://www.opengis.net/ogc"'
)
_NOT_FOR_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_AREA, _LINE, _POINT = "PolygonSymbolizer", "LineSymbolizer", "PointSymbolizer"
_SYMBOLIZERS = {"Polygon": _AREA, "MultiPolygon": _AREA, "LineString": _LINE, "MultiLineString": _LINE,
                "Point": _POINT, "MultiPoint": _POINT}  # fmt: skip


def sld(layer: str, style: Style) -> str:
    """Return the descriptor of a style for the layer of that name."""
    return _descriptor(layer, style.name, style.words, map(_rule, style.signs))


def feature_sld(layer: str, kind: str, geometries: Iterable[str]) -> Iterator[str]:
    """Yield the descriptor of a kind of site feature; none where its geometries are of several dimensions."""
    found = {_SYMBOLIZERS.get(name, "") for name in geometries}
    if len(found) == 1 and (symbolizer := found.pop()):
        look = style_of(kind)
        rule = f"<se:Rule>{_named(worded(look.word))}{_symbol_of(symbolizer, look)}</se:Rule>"
        yield _descriptor(layer, kind, worded(look.word), (rule,))


def _descriptor(layer: str, name: str, words: str, rules: Iterable[str]) -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<StyledLayerDescriptor {_SPACES} version="1.1.0"><NamedLayer>'
        f"<se:Name>{_text(layer)}</se:Name><UserStyle>{_named(name, words)}<se:FeatureTypeStyle>"
        f"{''.join(rules)}</se:FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n"
    )


def _text(text: str) -> str:
    """Return a text for XML 1.0: markup escaped, characters that it can't hold left out."""
    return escape(_NOT_FOR_XML.sub("", text))


def _named(name: str, words: str = "") -> str:
    title = f"<se:Description><se:Title>{_text(words)}</se:Title></se:Description>" if words else ""
    return f"<se:Name>{_text(name)}</se:Name>{title}"


def _rule(sign: Sign) -> str:
    conditions = "".join(map(_condition, sign.conditions))
    wanted = f"<ogc:And>{conditions}</ogc:And>" if len(sign.conditions) > 1 else conditions
    figures = "".join(f"<se:PointSymbolizer>{_graphic(figure)}</se:PointSymbolizer>" for figure in sign.figures)
    return f"<se:Rule>{_named(sign.words)}<ogc:Filter>{wanted}</ogc:Filter>{figures}</se:Rule>"


def _condition(one: Condition) -> str:
    column = f"<ogc:PropertyName>{_text(one.column)}</ogc:PropertyName>"
    null = f"<ogc:PropertyIsNull>{column}</ogc:PropertyIsNull>"
    if one.relation == "unknown":
        return null
    if one.relation == "known":
        return f"<ogc:Not>{null}</ogc:Not>"
    name = "PropertyIsEqualTo" if one.relation == "equal" else "PropertyIsNotEqualTo"
    return f"<ogc:{name}>{column}<ogc:Literal>{_text(str(one.value))}</ogc:Literal></ogc:{name}>"


def _graphic(figure: Drawn) -> str:
    """Write a figure of the area of its circle; a diamond is a square on its corner."""
    turned = figure.shape == "diamond"
    shape = "square" if turned else figure.shape
    fill = f"<se:Fill>{_parameter('fill', figure.fill)}</se:Fill>" if figure.fill else ""
    stroke = (
        f"<se:Stroke>{_parameter('stroke', figure.stroke)}{_parameter('stroke-width', figure.width_px)}</se:Stroke>"
    )
    mark = f"<se:Mark><se:WellKnownName>{shape}</se:WellKnownName>{fill}{stroke}</se:Mark>"
    rotation = "<se:Rotation>45</se:Rotation>" if turned else ""
    size = _number(figure.radius_px * _ACROSS.get(shape, 2.0))
    return f"<se:Graphic>{mark}<se:Size>{size}</se:Size>{rotation}</se:Graphic>"


_ACROSS = {"square": math.sqrt(math.pi), "triangle": math.sqrt(4 * math.pi / math.sqrt(3)), "star": 2.6}
"""Width over the radius of the circle of equal area; of the star, whose waist programs draw as they like, about."""


def _symbol_of(symbolizer: str, look: FeatureStyle) -> str:
    stroke = _parameter("stroke", look.stroke) + _parameter("stroke-width", look.width)
    if look.dash:
        stroke += _parameter("stroke-dasharray", " ".join(map(_number, look.dash)))
    opacity = _parameter("fill-opacity", look.fill_opacity) if look.fill_opacity < 1 else ""
    fill = f"<se:Fill>{_parameter('fill', look.fill)}{opacity}</se:Fill>" if look.fill else ""
    if symbolizer == _POINT:
        stroke = _parameter("stroke", look.stroke) + _parameter("stroke-width", look.width)
        mark = f"<se:Mark><se:WellKnownName>circle</se:WellKnownName>{fill}<se:Stroke>{stroke}</se:Stroke></se:Mark>"
        return f"<se:PointSymbolizer><se:Graphic>{mark}<se:Size>8</se:Size></se:Graphic></se:PointSymbolizer>"
    body = fill if symbolizer == _AREA else ""
    return f"<se:{symbolizer}>{body}<se:Stroke>{stroke}</se:Stroke></se:{symbolizer}>"


def _parameter(name: str, value: str | float) -> str:
    text = value if isinstance(value, str) else _number(value)
    return f'<se:SvgParameter name="{name}">{text}</se:SvgParameter>'


def _number(value: float) -> str:
    """Write a number with at most two decimals.

    >>> _number(12.0), _number(8.8623)
    ('12', '8.86')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".")
