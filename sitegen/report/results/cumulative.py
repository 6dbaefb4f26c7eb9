"""The cumulative distribution of a compound over the soil points, with the limits of its non-detects."""

from __future__ import annotations

from sitegen.compute.evaluate import Compound
from sitegen.compute.results.cumulative import Level, cumulative
from sitegen.compute.results.store import StoredResult
from sitegen.compute.statistics.rounding import as_reported, rounded_text, whole_percent
from sitegen.figures.cumulative import Words, cumulative_steps
from sitegen.report.record.pages import Cell, Figure, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.context import Context
from sitegen.report.write.traced import traced
from sitegen.report.write.words import say


@traced
def cumulative_figures(context: Context, compound: Compound, rows: list[StoredResult]) -> tuple[Figure, ...]:
    """Return the distribution of a compound's results at soil points; nothing where the data permit none."""
    found = cumulative(rows)
    if found is None:
        return ()
    name, unit = f"cumulative-{compound.analyte_id}", context.mass_unit.text
    limits = [(level.mass, level.nondetects) for level in found.levels if level.nondetects]
    facts = {
        "name": compound.name,
        "unit": unit,
        "points": sum(level.detections + level.nondetects for level in found.levels),
        "detected": sum(level.detections for level in found.levels),
        "nondetects": sum(count for _, count in limits),
        "below": whole_percent(found.below),
        "lowest": rounded_text(found.steps[0][0]),
        "highest": rounded_text(found.steps[-1][0]),
        "median": rounded_text(found.median) if found.median is not None else "",
    }
    said = Words(*(say(f"resultpictures.cumulative_{part}", **facts) for part in Words._fields))
    figure = Figure(
        name,
        cumulative_steps(name, found.steps, found.below, limits, said),
        say("resultpictures.cumulative_caption", **facts),
        say("resultpictures.cumulative_alt", **facts),
        say("resultpictures.cumulative_words", **facts),
        _levels_table(context, name, found.levels),
        "half",
    )
    return (figure,)


def _levels_table(context: Context, name: str, levels: tuple[Level, ...]) -> Table:
    columns: list[Spec[Level]] = [
        Spec("mass", _head("mass"), context.mass_unit.text, "number", cell=_mass_text),
        Spec("detections", _head("detections"), "", "number", cell=lambda level: str(level.detections)),
        Spec("nondetects", _head("nondetects"), "", "number", cell=lambda level: str(level.nondetects)),
        Spec("share", _head("share"), "%", "number", cell=_share_cell),
    ]
    return table(f"{name}-data", say("resultpictures.cumulative_data"), columns, levels)


def _head(name: str) -> str:
    return say("resultpictures.cumulative_column", name=name)


def _mass_text(level: Level) -> str:
    """Write a mass, or as ``<`` a limit that non-detects alone have."""
    return rounded_text(level.mass) if level.detections else f"<{as_reported(level.mass)}"


def _share_cell(level: Level) -> Cell:
    return Cell("–", tone="muted") if level.share is None else Cell(f"{100 * level.share:.1f}")
