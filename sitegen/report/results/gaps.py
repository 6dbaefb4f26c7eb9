"""Where the survey has its widest gaps, for planning: proposed locations, kept clear of what is drawn."""

from __future__ import annotations

from collections.abc import Iterator

from sitegen.compute.picture.suggest import Gap, clearance, gaps
from sitegen.figures.ground import Ground
from sitegen.figures.sitemap import suggestion_map
from sitegen.report.record.pages import Block, Callout, Cell, Figure, Page, Ref, Table
from sitegen.report.record.specs import Spec, table
from sitegen.report.write.columns import point_cell
from sitegen.report.write.context import Context
from sitegen.report.write.publish import allowed_classes
from sitegen.report.write.traced import traced
from sitegen.report.write.words import markdown, say, word

NEXT = Ref("page", "next")


def gap_pages(context: Context, ground: Ground | None) -> Iterator[Page]:
    """Yield the page on the widest gaps, for the reviewer; nothing where there are none to tell of."""
    found = next_blocks(context, ground)
    if found:
        yield Page(NEXT, say("figures.next_page"), say("figures.next_lead"), found, group="Quality")


@traced
def next_blocks(context: Context, ground: Ground | None) -> tuple[Block, ...]:
    """Return the widest gaps for the reviewer; nothing where the publish level leaves them out."""
    if "next_points" not in allowed_classes(context.survey.settings.publish) or ground is None:
        return ()
    found = gaps(context.survey, context.evaluation)
    if not found:
        return ()
    limits = context.evaluation.limits
    facts = {
        "count": len(found),
        "first": f"{found[0].distance_m:.0f}",
        "crs": context.crs_name,
        "away": _clearance_texts(context),
        "utilities": sum(one.kind == "utility" for one in context.survey.features),
        "inset": limits["gap_inset_m"].text,
    }
    figure = Figure(
        "widest-gaps",
        suggestion_map("widest-gaps", ground, [(str(gap.number), gap.x, gap.y) for gap in found]),
        say("figures.next_caption", **facts),
        say("figures.next_alt", **facts),
        say("figures.next_words", **facts),
        _gaps_table(context, found),
    )
    caution = Callout("caution", say("figures.next_title"), markdown("figures.next_caution", **facts))
    return (caution, figure)


@traced
def _gaps_table(context: Context, found: tuple[Gap, ...]) -> Table:
    columns: list[Spec[Gap]] = [
        Spec("number", "Location", cell=lambda gap: str(gap.number)),
        Spec("easting", "Easting", "m", "number", cell=lambda gap: f"{gap.x:.0f}"),
        Spec("northing", "Northing", "m", "number", cell=lambda gap: f"{gap.y:.0f}"),
        Spec("distance", "Nearest usable sampler", "m", "number", cell=lambda gap: f"{gap.distance_m:.0f}"),
        Spec("nearest", "Which is at", cell=lambda gap: _nearest_cell(context, gap)),
        Spec("utility", "Nearest drawn utility", cell=_utility_text, tells=True),
    ]
    return table("widest-gaps-data", say("figures.next_data", crs=context.crs_name), columns, found)


def _clearance_texts(context: Context) -> list[dict[str, str]]:
    """Return the distances kept from what is drawn, the kinds of one distance together."""
    kept = clearance(context.survey, context.evaluation)
    kinds: dict[float, list[str]] = {}
    for kind in ("utility", "building", "tank", "surface_water"):
        kinds.setdefault(getattr(kept, kind), []).append(word("kept_off", kind))
    return [{"distance": f"{round(metres, 2):g}", "kinds": ", ".join(some)} for metres, some in kinds.items()]


def _utility_text(gap: Gap) -> str:
    near = gap.utility
    if near is None:
        return say("figures.next_no_utility")
    return say("figures.next_utility", name=near.name, type=near.type, distance=f"{near.distance_m:.1f}")


def _nearest_cell(context: Context, gap: Gap) -> Cell:
    if gap.nearest in context.points:
        return point_cell(gap.nearest)
    return Cell(say("figures.next_place", number=gap.nearest))
