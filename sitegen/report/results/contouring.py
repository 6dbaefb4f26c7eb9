"""Interpolated patterns on the compound pages, with all that a reader needs to doubt them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from sitegen.compute.evaluate import Compound
from sitegen.compute.picture.contours import Band, NoContour, Pattern
from sitegen.compute.statistics.kriging import Lag
from sitegen.figures.contour import Area, LagDot, contour_layer, variogram
from sitegen.figures.ground import Ground
from sitegen.figures.sitemap import symbol_map
from sitegen.project.place.coordinates import WGS84, transform
from sitegen.report.record.exports import ExportTable
from sitegen.report.record.pages import Block, Callout, Figure, Section, Table
from sitegen.report.record.specs import NUMBER, Spec, export, table
from sitegen.report.results.mapdata import place_values
from sitegen.report.write.context import Context
from sitegen.report.write.fields import compound_fields
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, prose, say
from sitegen.voice import thousands, worded

_CURVE_STEPS = 60


@traced
def contour_section(context: Context, compound: Compound, ground: Ground | None) -> Section | None:
    """Return the interpolated pattern of a compound, or why there is none; None where not asked for."""
    found = context.patterns.get(compound.analyte_id)
    if found is None or ground is None:
        return None
    title = say("figures.contour_title")
    if isinstance(found, NoContour):
        facts = {"name": compound.name, "found": f"{found.found:.3g}", "limit": f"{found.limit:.3g}"}
        text = markdown(f"figures.refused_{found.reason}", **facts)
        return Section("interpolated", title, (Callout("info", say("figures.refused_title"), text),))
    blocks: tuple[Block, ...] = (
        prose("figures.contour_how", **_facts(context, compound, found), **_limits(context)),
        _figure(context, compound, found, ground),
        _variogram(context, compound, found),
    )
    return Section("interpolated", title, blocks)


def _number(value: float) -> str:
    """Write a number to three figures, zeros at the end kept; nothing is 0."""
    return f"{value:#.3g}".rstrip(".") if value else "0"


def _facts(context: Context, compound: Compound, found: Pattern) -> dict[str, Any]:
    return {
        "name": compound.name,
        "unit": context.mass_unit.text,
        "used": found.used,
        "nondetects": found.nondetects,
        "blank": found.blank,
        "reach": f"{found.reach_m:.0f}",
        "nugget": _number(found.model.nugget),
        "sill": _number(found.model.partial_sill),
        "range": f"{found.model.range_m:.0f}",
        "error": f"{found.error_log10:.2f}",
        "factor": f"{found.error_factor:.1f}",
        "spread": f"{found.spread_log10:.2f}",
        "extent": found.bounds.extent.kind if found.bounds.extent else "",
        "outside": found.outside,
        **_repeat(found),
    }


def _limits(context: Context) -> dict[str, str]:
    """Return the limits behind the least nugget, with their sources."""
    multiple, least = (context.evaluation.limits[name] for name in ("duplicate_rl_multiple", "contour_pairs_min"))
    return {"multiple": multiple.text, "least_source": least.source}


def _repeat(found: Pattern) -> dict[str, Any]:
    """Return what the duplicates say of the least nugget; ``floored`` where the fit alone gave less."""
    repeat = found.bounds.repeat
    known = repeat is not None and repeat.variance_log10 is not None
    return {
        "floor": _number(repeat.floor) if repeat and known else "",
        "floored": bool(repeat and known and found.model.nugget <= repeat.floor),
        "floor_results": repeat.results if repeat else 0,
        "floor_pairs": repeat.pairs if repeat else 0,
        "floor_least": repeat.least if repeat else 0,
    }


@traced
def _figure(context: Context, compound: Compound, found: Pattern, ground: Ground) -> Figure:
    name = f"contour-{compound.analyte_id}"
    areas = [Area(band.size_class, rings(band.shape)) for band in found.bands]
    facts = _facts(context, compound, found)
    values = place_values(context, compound.analyte_id)
    return Figure(
        name,
        symbol_map(
            name, ground, values, context.class_labels, context.mass_unit.text, under=contour_layer(name, ground, areas)
        ),
        say("figures.contour_caption", **facts),
        say("figures.contour_alt", **facts),
        say("figures.contour_words", **facts),
        areas_table(context, compound, found),
        ground.room.placing,
    )


@traced
def areas_table(context: Context, compound: Compound, found: Pattern) -> Table:
    """Return the area of each mass class, non-detects at their limit and at half of it."""
    columns: list[Spec[Band]] = [
        Spec("class", "Mass class", context.mass_unit.text, cell=lambda band: _class_words(context, band.size_class)),
        Spec(
            "area",
            "Area, non-detects at their limit",
            "m²",
            "number",
            cell=lambda band: thousands(f"{band.area_m2:,.0f}"),
        ),
        Spec(
            "other",
            "Area, non-detects at half their limit",
            "m²",
            "number",
            cell=lambda band: thousands(f"{band.other_area_m2:,.0f}"),
        ),
    ]
    caption = say("figures.areas_caption", name=compound.name)
    return table(f"contour-{compound.analyte_id}-data", caption, columns, found.bands)


def _class_words(context: Context, size_class: int) -> str:
    labels = context.class_labels
    return labels[min(size_class, len(labels) - 1)]


def rings(shape: BaseGeometry) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return the rings of polygons, outer ones and holes alike."""
    return tuple(
        tuple((float(x), float(y)) for x, y in ring.coords)
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    )


def _variogram(context: Context, compound: Compound, found: Pattern) -> Figure:
    name = f"variogram-{compound.analyte_id}"
    dots = [LagDot(lag.distance_m, lag.semivariance, lag.pairs) for lag in found.lags]
    away = np.linspace(0.0, max(lag.distance_m for lag in found.lags), _CURVE_STEPS)
    curve = list(zip(away.tolist(), found.model.at(away).tolist(), strict=True))
    facts = _facts(context, compound, found)
    columns: list[Spec[Lag]] = [
        Spec("distance", "Mean distance", "m", "number", cell=lambda lag: f"{lag.distance_m:.1f}"),
        Spec("value", "Semivariance of log10 mass", kind="number", cell=lambda lag: _number(lag.semivariance)),
        Spec("pairs", "Pairs", kind="number", cell=lambda lag: str(lag.pairs)),
    ]
    return Figure(
        name,
        variogram(name, dots, curve),
        say("figures.variogram_caption", **facts),
        say("figures.variogram_alt", **facts),
        say("figures.variogram_words", **facts),
        table(f"{name}-data", say("figures.variogram_data"), columns, found.lags, row_header=-1),
    )


class _Ground(NamedTuple):
    """The ground of one mass class in a compound's pattern."""

    analyte_id: str
    pattern: Pattern
    band: Band


def contours_export(context: Context) -> tuple[ExportTable, ...]:
    """Return the contour areas to download; nothing where none is drawn."""
    drawn = {key: found for key, found in context.patterns.items() if isinstance(found, Pattern)}
    areas = [_Ground(key, found, band) for key, found in drawn.items() for band in found.bands if band.area_m2 > 0]
    if not areas:
        return ()
    extents = [found.bounds.extent for found in drawn.values()]
    contours = export(
        "contours",
        say("figures.contour_title"),
        say(
            "figures.contours_export",
            unit=context.mass_unit.text,
            boundary=any(one and one.kind == "boundary" for one in extents),
        ),
        _contour_fields(context),
        areas,
        shapes=tuple(_degrees(context, area.band.shape) for area in areas),
    )
    return (contours,)


def _contour_fields(context: Context) -> list[Spec[_Ground]]:
    return [
        *compound_fields(context),
        Spec(
            "mass_class",
            unit=context.mass_unit.text,
            meaning="mass class",
            value=lambda area: _class_words(context, area.band.size_class),
        ),
        Spec(
            "area_m2",
            unit="m²",
            type=NUMBER,
            meaning="area in the project's system, non-detects at their limit",
            value=lambda area: round(area.band.area_m2, 1),
        ),
        Spec(
            "other_area_m2",
            unit="m²",
            type=NUMBER,
            meaning="area in the project's system, non-detects at half their limit",
            value=lambda area: round(area.band.other_area_m2, 1),
        ),
        Spec(
            "error_log10",
            unit=worded("log10 of {unit}", unit=context.mass_unit.symbol),
            type=NUMBER,
            meaning="root mean square of the leave-one-out errors",
            value=lambda area: round(area.pattern.error_log10, 4),
        ),
    ]


def _degrees(context: Context, shape: BaseGeometry) -> dict[str, Any]:
    """Return a shape as GeoJSON polygons in WGS 84 degrees, outer rings anticlockwise."""
    polygons = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]

    def degrees(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        lon, lat = transform(context.crs, WGS84, xy[:, 0], xy[:, 1])
        return np.asarray(np.round(np.column_stack([lon, lat]), 7), dtype=np.float64)

    turned = shapely.orient_polygons(shapely.transform(shapely.MultiPolygon(polygons), degrees))
    made: dict[str, Any] = shapely.geometry.mapping(turned)
    return made
