"""What the web map of a plan draws: every point, and why it is there."""

from __future__ import annotations

from dataclasses import replace

from sitegen.report.record.maps import MapData, MapLayer, MapValue
from sitegen.report.results.mapdata import map_data
from sitegen.report.write.context import Context
from sitegen.report.write.words import say, word

LAYER = "plan"


def plan_map_data(context: Context) -> MapData:
    """Return the map of the plan: its one layer has no mass and no class."""
    rows = {row.location_id: row for row in context.locations}
    whole = map_data(context)
    found = (rows[point.location_id] for point in whole.points)
    values = tuple(
        MapValue(say("plan.layer_value", design=word("design", r.design), rationale=r.rationale), None, ())
        for r in found
    )
    layer = MapLayer(LAYER, say("plan.layer_title"), "", values)
    return replace(whole, layers=(layer,), class_labels=(), first_layer=LAYER, plan=True)
