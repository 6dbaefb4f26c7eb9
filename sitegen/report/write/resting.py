"""Which results above the calibration make most of a sum, in words for the sentence under it."""

from __future__ import annotations

from collections.abc import Mapping

from sitegen.compute.quality.overrange import Resting
from sitegen.compute.statistics.rounding import whole_percent
from sitegen.report.write.context import Context
from sitegen.report.write.values import value_text
from sitegen.report.write.words import say


def rests_text(context: Context, found: Resting | None, *, at: bool = True) -> str:
    """Write the share and the results, each with its point where ``at``: ``93 %: Benzene at A 5,000 E``."""
    if found is None:
        return ""
    results = [
        {
            "name": context.name(analyte_id),
            "point": point,
            "value": value_text(context.by_key[lab_sample_id, analyte_id], context.display),
        }
        for point, lab_sample_id, analyte_id in found.results
    ]
    return say("relations.rests", share=whole_percent(found.share), results=results, at=at)


def points_text(context: Context, found: Mapping[str, Resting]) -> str:
    """Write the points whose sum rests on such results, each with these; "" for none."""
    return "; ".join(
        say("relations.rests_at", point=point, rests=rests_text(context, rest, at=False))
        for point, rest in found.items()
    )


def over_text(context: Context, *found: Resting | None) -> str:
    """Say how the results of these sums are known to lie above the calibration: by its top on file, or by an E."""
    keys = {(sample, analyte) for rest in found if rest for _, sample, analyte in rest.results}
    rows = [context.by_key[key] for key in keys]
    measured = sum(bool(row.value > row.calibration_top) for row in rows)
    return say("relations.over", measured=measured, marked=len(rows) - measured)
