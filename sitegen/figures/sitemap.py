"""Drawings of the site: planned and actual points, and one compound's masses.

The same grammar as the web map's, on a prepared ground: ``prepare_ground`` once, then
a drawing per compound. Grid north is up, coordinates are project metres.

Air points have one sign and no class on a map of soil masses; they are counted apart.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence

from sitegen.figures.features import style_of
from sitegen.figures.ground import Ground
from sitegen.figures.inputs import MOVED_M, PlaceFeature, PlacePoint, PlaceValue
from sitegen.figures.labels import Box, Wanted, leader, place_labels
from sitegen.figures.legend import Row, draw_legend
from sitegen.figures.look import ACCENT, CLASS_COLOURS, CLASS_RADII_PX, INK, MUTED, PAPER, WARN
from sitegen.figures.svg import drawing, element, line, number, rect, text, text_width
from sitegen.figures.symbols import AIR_ABOVE, AIR_SYMBOL, PRINT_SCALE, Symbol, draw, shape_of, symbol_of
from sitegen.units import NANOGRAM
from sitegen.voice import worded

_LABEL_SIZE = 6.6
_NAME_SIZE = 6.4
_HALO: dict[str, str | float] = {
    "stroke": PAPER,
    "stroke_width": 1.8,
    "paint_order": "stroke",
    "stroke_linejoin": "round",
}


def symbol_map(
    figure_id: str,
    ground: Ground,
    values: Sequence[PlaceValue],
    class_labels: Sequence[str],
    unit: str = NANOGRAM.text,
    under: str = "",
) -> str:
    """Draw one compound: size and colour say the class, shape the surface.

    Parameters
    ----------
    figure_id
        Sets this drawing's ids apart from all others on a page.
    ground
        The prepared ground with the points.
    values
        One per point, in the points' order.
    class_labels
        Words of each mass class, lowest first. The legend has those up to the highest that
        is drawn; a class has the same colour and size on every drawing.
    unit
        The unit phrase that heads the legend.
    under
        SVG that lies between the ground and the points, such as contour areas.

    Raises
    ------
    ValueError
        There are more or fewer values than points.
    """
    pairs = zip(ground.points, values, strict=True)
    symbols = [symbol_of(point, value) for point, value in pairs]
    spots = [(point.easting_m, point.northing_m) for point in ground.points]
    legend = [
        (worded("Mass, {unit}", unit=unit), class_rows(class_labels[: highest_class(values) + 1])),
        (worded("Other symbols"), state_rows(symbols)),
        *_ground_groups(ground),
    ]
    return sheet(figure_id, ground, list(zip(symbols, spots, strict=True)), legend, under)


def location_map(figure_id: str, ground: Ground) -> str:
    """Draw where each point was planned and where it came to lie.

    A line joins the two where they are more than half a metre apart.
    """
    placed = [(point_symbol(point), (point.easting_m, point.northing_m)) for point in ground.points]
    drawn = [symbol for symbol, _ in placed]
    legend = [(worded("Points"), plan_rows() + state_rows(drawn)), *_ground_groups(ground)]
    return sheet(figure_id, ground, placed, legend, under=plan_marks(ground))


def suggestion_map(figure_id: str, ground: Ground, spots: Sequence[tuple[str, float, float]]) -> str:
    """Draw the points and, as broad dashed rings, suggested places (label, easting, northing)."""
    rings = []
    for label, easting_m, northing_m in spots:
        x, y = ground.frame.place(easting_m, northing_m)
        rings.append(element("circle", cx=x, cy=y, r=9, fill="none", stroke=WARN, stroke_width=1.6,
                             stroke_dasharray="3 2"))  # fmt: skip
        rings.append(text(x, y + 2.6, label, text_anchor="middle", font_weight="bold", fill=WARN))
    row = Row(worded("suggested location (dashed ring)"), line=(WARN, 1.6, (3, 2)))
    return _ringed(figure_id, ground, row, "".join(rings))


def changed_map(figure_id: str, ground: Ground, spots: Sequence[tuple[float, float]]) -> str:
    """Draw the points, and a broad ring around each that a change is about (easting, northing)."""
    places = (ground.frame.place(*spot) for spot in spots)
    rings = (element("circle", cx=x, cy=y, r=7, fill="none", stroke=WARN, stroke_width=1.8) for x, y in places)
    return _ringed(figure_id, ground, Row(worded("changed (broad ring)"), line=(WARN, 1.8, ())), "".join(rings))


def _ringed(figure_id: str, ground: Ground, row: Row, rings: str) -> str:
    """Draw the points over rings, which a row of the legend explains."""
    placed = [(point_symbol(point), (point.easting_m, point.northing_m)) for point in ground.points]
    legend = [(worded("Points"), [row, *state_rows(symbol for symbol, _ in placed)]), *_ground_groups(ground)]
    return sheet(figure_id, ground, placed, legend, under=rings)


def plan_rows() -> list[Row]:
    """Return legend rows for a planned position and for a move from it."""
    return [
        Row(worded("planned position"), symbol=Symbol("plan", "circle", 4.5)),
        Row(worded("moved from the plan"), line=(MUTED, 0.9, ())),
    ]


def point_symbol(point: PlacePoint) -> Symbol:
    """Return the symbol of a point itself, whatever was found there."""
    kind = "class" if point.state == "retrieved" else point.state
    return Symbol(kind, shape_of(point.medium, point.surface), 3.2, ACCENT if kind == "class" else "")


def plan_marks(ground: Ground) -> str:
    """Draw where points were planned, and a line from there where they lie elsewhere."""
    marks = []
    for point in ground.points:
        if point.plan_easting_m is None or point.plan_northing_m is None:
            continue
        x, y = ground.frame.place(point.plan_easting_m, point.plan_northing_m)
        away = (point.plan_easting_m - point.easting_m, point.plan_northing_m - point.northing_m)
        if away[0] ** 2 + away[1] ** 2 > MOVED_M**2:
            at = ground.frame.place(point.easting_m, point.northing_m)
            marks.append(line(x, y, *at, stroke=MUTED, stroke_width=0.9))
        marks.append(draw(Symbol("plan", "circle", 4.5), x, y))
    return "".join(marks)


def class_rows(labels: Sequence[str]) -> list[Row]:
    """Return a legend row for each mass class, highest first."""
    return [
        Row(label, symbol=Symbol("class", "circle", CLASS_RADII_PX[i] * PRINT_SCALE, CLASS_COLOURS[i]))
        for i, label in reversed(list(enumerate(labels)))
    ]


def highest_class(values: Iterable[PlaceValue]) -> int:
    """Return the highest class of detections, -1 where there is none.

    >>> highest_class([PlaceValue(2), PlaceValue(-1), PlaceValue(None)]), highest_class([])
    (2, -1)
    """
    return max((value.size_class for value in values if value.size_class is not None), default=-1)


def state_rows(symbols: Iterable[Symbol]) -> list[Row]:
    """Return rows for the states that occur."""
    drawn = list(symbols)
    kinds = {symbol.kind for symbol in drawn}
    rows = []
    if "nondetect" in kinds:
        rows.append(Row(worded("not detected (hollow)"), symbol=Symbol("nondetect", "circle", 2.5)))
    if "dot" in kinds:
        rows.append(Row(worded("not analysed"), symbol=Symbol("dot", "circle", 1.25)))
    if "air" in kinds:
        rows.append(Row(worded("air point, see Air results"), symbol=AIR_SYMBOL))
    if "air_above" in kinds:
        rows.append(Row(worded("air above a level, see Air results"), symbol=AIR_ABOVE))
    if any(symbol.ring for symbol in drawn):
        ringed = Symbol("nondetect", "circle", 2.5, ring=True)
        rows.append(Row(worded("sample- or result-specific qualification (ring)"), symbol=ringed))
    found = {state: words for state, words in _STATE_WORDS.items() if state in kinds}
    return rows + [Row(worded(words), symbol=Symbol(state, "circle", 3.25)) for state, words in found.items()]


_STATE_WORDS = {
    "lost": "sampler lost",
    "in_place": "sampler in place",
    "retrieval_not_recorded": "retrieval not recorded",
    "not_installed": "not installed",
    "planned": "planned, no sampler on record",
}


def shape_rows(points: Iterable[PlacePoint]) -> list[Row]:
    """Return a legend row for each shape that occurs, with the surfaces it stands for."""
    found: dict[str, dict[str, None]] = {}
    for point in points:
        shape = shape_of(point.medium, point.surface)
        word = point.medium if shape == "hexagon" else point.surface or "not recorded"
        found.setdefault(shape, {})[worded(word.replace("_", " "))] = None
    return [
        Row(", ".join(found_words), symbol=Symbol("class", shape, 3.2, "#d9dedd"))
        for shape, found_words in sorted(found.items())
    ]


def _ground_groups(ground: Ground) -> tuple[tuple[str, list[Row]], ...]:
    """Return what a legend says of the ground, whatever is drawn on it: shapes and site features."""
    return (
        (worded("Shape: surface"), shape_rows(ground.points)),
        (worded("Site features"), feature_rows(ground.features)),
    )


def feature_rows(features: Sequence[PlaceFeature]) -> list[Row]:
    """Return a legend row for each kind of site feature that occurs."""
    rows = []
    for kind in dict.fromkeys(feature.kind for feature in features):
        look = style_of(kind)
        dash = tuple(0.7 * length for length in look.dash)
        if any(feature.geometry == "point" for feature in features if feature.kind == kind):
            rows.append(Row(worded(look.word), symbol=Symbol("class", look.sign, 2.6, look.fill or look.stroke)))
        elif look.fill:
            area = (look.stroke, look.width * 0.7, dash, look.fill, look.fill_opacity)
            rows.append(Row(worded(look.word), area=area))
        else:
            rows.append(Row(worded(look.word), line=(look.stroke, look.width * 0.7, dash)))
    return rows


def sheet(
    figure_id: str,
    ground: Ground,
    placed: Sequence[tuple[Symbol, tuple[float, float]]],
    legend: Sequence[tuple[str, Sequence[Row]]],
    under: str = "",
) -> str:
    """Put ground, symbols, labels, legend and furniture together."""
    frame = ground.frame
    spots = [(symbol, frame.place(*at)) for symbol, at in placed]
    order = sorted(range(len(spots)), key=lambda i: -spots[i][0].radius)
    symbols = "".join(draw(spots[i][0], *spots[i][1]) for i in order)
    labels, dropped = names_and_labels(ground, spots, order)
    key, height = _key(ground, legend)
    around = (key, _furniture(ground), _axis(ground), _foot(ground, dropped))
    body = (ground.svg(figure_id), under, symbols, labels, *around)
    return drawing(figure_id, ground.width, height, *body, font_size=7)


def _key(ground: Ground, legend: Sequence[tuple[str, Sequence[Row]]]) -> tuple[str, float]:
    """Draw the legend beside a narrow map or in columns below a wide one; return the sheet's height too."""
    frame = ground.frame
    foot = frame.top + frame.height + 44
    if ground.keyed_beside:
        key, bottom = draw_legend(ground.key_left, frame.top + 8, ground.width, legend)
        return key, max(foot, bottom + 4)
    columns = [group for group in legend if group[1]]
    step = frame.width / max(len(columns), 1)
    drawn = [
        draw_legend(frame.left + step * i, foot + 12, frame.left + step * (i + 1), [group])
        for i, group in enumerate(columns)
    ]
    return "".join(svg for svg, _ in drawn), max((bottom for _, bottom in drawn), default=foot)


def names_and_labels(
    ground: Ground, spots: Sequence[tuple[Symbol, tuple[float, float]]], order: Sequence[int]
) -> tuple[str, int]:
    """Place point labels, then feature names; return them and how many found no room."""
    frame = ground.frame
    obstacles = [Box(x - s.reach, y - s.reach, x + s.reach, y + s.reach) for s, (x, y) in spots]
    wanted: list[Wanted] = []
    texts: list[tuple[str, dict[str, str | float]]] = []
    plated: set[int] = set()
    labelled = order[: ground.room.labels]
    for i in labelled:
        symbol, (x, y) = spots[i]
        label = ground.points[i].label
        width = text_width(label, _LABEL_SIZE)
        wanted.append(Wanted(x, y, width, _LABEL_SIZE * 1.05, symbol.reach + 0.8, i))
        texts.append((label, {"font_size": _LABEL_SIZE}))
    for feature in ground.features:
        first, *others = [frame.place(*spot) for spot in _name_spots(feature)]
        gap = 4.5 if feature.geometry == "point" else 0
        own = -1
        if feature.geometry == "point":
            own = len(obstacles)
            obstacles.append(Box(first[0] - 3.5, first[1] - 3.5, first[0] + 3.5, first[1] + 3.5))
        if feature.name:
            width = text_width(feature.name, _NAME_SIZE)
            if feature.geometry == "line" or feature.kind == "site_boundary":
                plated.add(len(wanted))
            wanted.append(Wanted(*first, width, _NAME_SIZE * 1.05, gap, own, tuple(others)))
            texts.append((feature.name, {"font_size": _NAME_SIZE, "font_style": "italic", "fill": "#44504f"}))
    bounds = Box(frame.left + 1, frame.top + 1, frame.left + frame.width - 1, frame.top + frame.height - 1)
    boxes = place_labels(wanted, obstacles, bounds)
    plates = "".join(_plate(box) for i, box in enumerate(boxes) if box and i in plated)
    return plates + _written(wanted, texts, boxes), boxes.count(None) + len(order) - len(labelled)


def _plate(box: Box) -> str:
    """Interrupt the line on which a name stands, so that it doesn't strike the words through."""
    width, height = box.right - box.left + 2, box.bottom - box.top
    return rect(box.left - 1, box.top, width, height, fill=PAPER, fill_opacity=0.9)


def _written(
    wanted: Sequence[Wanted], texts: Sequence[tuple[str, dict[str, str | float]]], boxes: Sequence[Box | None]
) -> str:
    parts = []
    for wish, (words, attributes), box in zip(wanted, texts, boxes, strict=True):
        ends = leader(wish, box) if box else None
        if ends:
            parts.append(line(*ends, stroke=MUTED, stroke_width=0.5))
        if box:
            parts.append(text(box.left, box.bottom - 1.4, words, **{**_HALO, **attributes}))
    return "".join(parts)


def _name_spots(feature: PlaceFeature) -> list[tuple[float, float]]:
    """Return where a feature's name may stand: the middle first, then along a line or across an area."""
    corners = feature.parts[0]
    if feature.geometry == "line":
        pairs = list(itertools.pairwise(corners))
        longest = sorted(pairs, key=lambda pair: -math.dist(*pair))
        shares = (0.5, 0.3, 0.7, 0.15, 0.85)
        return [
            (e0 + (e1 - e0) * share, n0 + (n1 - n0) * share) for (e0, n0), (e1, n1) in longest[:3] for share in shares
        ] or [corners[0]]
    eastings, northings = zip(*corners, strict=True)
    west, east, south, north = min(eastings), max(eastings), min(northings), max(northings)
    if feature.kind == "site_boundary":
        return [((west + east) / 2, level) for level in (south, north)]
    return [
        (west + (east - west) * across, south + (north - south) * up)
        for up in (0.5, 0.8, 0.2)
        for across in (0.5, 0.3, 0.7)
    ]


def _furniture(ground: Ground) -> str:
    """Draw scale bar and north arrow below the map's right corner."""
    frame = ground.frame
    right, y = frame.left + frame.width, frame.top + frame.height + 27
    length_m = round_length(70 / frame.scale)
    width = length_m * frame.scale
    x = right - width - 70
    parts = (
        rect(x, y, width / 2, 3, fill=INK),
        rect(x, y, width, 3, fill="none", stroke=INK, stroke_width=0.6),
        text(x, y + 11, "0", text_anchor="middle"),
        text(x + width, y + 11, f"{number(length_m)} m", text_anchor="middle"),
        element("polygon", points=_needle(right - 20, y - 11), fill=INK),
        text(right - 20, y + 11, worded("grid north"), text_anchor="middle"),
    )
    return element("g", *parts, font_size=6.6)


def _needle(x: float, y: float) -> str:
    corners = ((x, y - 4), (x + 4, y + 14), (x, y + 11), (x - 4, y + 14))
    return " ".join(f"{number(px)},{number(py)}" for px, py in corners)


def round_length(most_m: float) -> float:
    """Return the longest of 1, 2 or 5 times a power of ten that fits.

    >>> round_length(37), round_length(99), round_length(0.7)
    (20.0, 50.0, 0.5)
    """
    power = 10.0 ** (len(str(int(most_m))) - 1 if most_m >= 1 else -1)
    return max(step * power for step in (1, 2, 5) if step * power <= most_m)


def _axis(ground: Ground) -> str:
    frame = ground.frame
    bottom = frame.top + frame.height
    labels = []
    for easting_m in ground.ticks_m[0]:
        x, _ = frame.place(easting_m, frame.north_m)
        labels.append(text(x, bottom + 9, number(easting_m), text_anchor="middle"))
    for northing_m in ground.ticks_m[1]:
        _, y = frame.place(frame.west_m, northing_m)
        turned = f"rotate(-90 {number(frame.left - 4)} {number(y)})"
        labels.append(text(frame.left - 4, y, number(northing_m), text_anchor="middle", transform=turned))
    middle = frame.top + frame.height / 2
    turned = f"rotate(-90 {number(frame.left - 15)} {number(middle)})"
    labels.append(text(frame.left - 15, middle, worded("northing, m"), text_anchor="middle", transform=turned))
    labels.append(text(frame.left + frame.width / 2, bottom + 19, worded("easting, m"), text_anchor="middle"))
    return element("g", *labels, fill=MUTED, font_size=6.4)


def _foot(ground: Ground, dropped: int) -> str:
    x, y = ground.frame.left, ground.frame.top + ground.frame.height + 30
    notes = []
    if dropped:
        said = "{dropped} labels omitted for clarity" if dropped > 1 else "1 label omitted for clarity"
        notes.append(worded(said, dropped=dropped))
    if ground.step_m:
        notes.append(worded("shapes drawn to the nearest {step_m:g} m", step_m=ground.step_m))
    lines = [ground.crs_text, "; ".join(notes)]
    foot = [text(x, y + 9 * i, words) for i, words in enumerate(lines) if words]
    return element("g", *foot, fill=MUTED, font_size=6.6)
