"""What the command ``plan`` says: proposals, what is left out, samplers, the order, and what the points can find."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

import shapely

from sitegen.compute.design.allocation import Allocation, Counts
from sitegen.compute.design.chance import curve
from sitegen.compute.design.feet import distance_text, in_feet
from sitegen.compute.design.fieldplan import FieldPlan, PlannedPoint
from sitegen.compute.design.keepoff import Reason
from sitegen.compute.design.order import OrderLine, order
from sitegen.compute.design.propose import LeftOut, Proposal, Proposed, boundary
from sitegen.compute.field.stage import stage
from sitegen.compute.place.systems import is_geographic
from sitegen.project.place.coordinates import crs
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Location
from sitegen.report.write.words import word
from sitegen.units import LENGTHS

MOST_ROWS = 100
"""Rows of the printed table of proposals; --accept writes all."""

MOST_TOLD = 40
"""Places and reasons that are told one by one; the rest are counted."""

_WIDTH = 110

CAUTION = (
    "Only what is drawn in the site's features was kept off; what is not drawn is not known here. Before any hole: "
    "utility clearance, traffic and site safety, protective equipment. Local codes and the licensed professional "
    "decide."
)
_NO_PROMISE = (
    "This is the chance that a point lies within such an area, which may be anywhere on the site. A passive sampler "
    "draws from more than its hole, and how far depends on soil and time; nothing here promises detection."
)
_DESIGNS = {"grid": "on the grid", "targeted": "targeted", "background": "background"}
_USES = {
    "sample": ("primary sampler", "primary samplers"),
    "field_duplicate": ("field duplicate", "field duplicates"),
    "field_blank": ("field blank", "field blanks"),
    "trip_blank": ("trip blank", "trip blanks"),
    "spare": ("spare", "spares"),
}


def proposal_lines(survey: Survey, proposal: Proposal) -> Iterator[str]:
    """Yield the proposals as a table, then what the plan asks for and is left out."""
    plan = survey.plan
    if not (plan.grid or plan.along or plan.around or plan.background):
        yield "The plan asks for no points: project.toml has none of [plan.grid], [[plan.along]], [[plan.around]] and"
        yield "[[plan.background]]."
    elif not proposal.points:
        yield "No point is proposed."
    else:
        yield f"Proposed: {_points(len(proposal.points))}, {_by_design(one.design for one in proposal.points)}"
        yield f"  positions in {_system(survey)}"
        yield from _proposed_table(proposal.points)
    if proposal.left_out:
        yield ""
        yield from _left_out_lines(proposal.left_out, feet=in_feet(survey))
    if proposal.unplaced:
        yield f"{_points(proposal.unplaced)} of the table without a position: no distance to them could be checked."
    if proposal.points:
        yield ""
        if not proposal.utilities:
            yield "No utility is drawn in the site's features, so none was kept off."
        yield from _wrapped(CAUTION)


def _system(survey: Survey) -> str:
    name = survey.settings.space.crs
    system = crs(name)
    unit = system.axis_info[0].unit_name if system else ""
    return f"{name}, longitude and latitude in degrees" if is_geographic(name) else f"{name}, {unit}"


def _proposed_table(proposed: Sequence[Proposed]) -> Iterator[str]:
    head = ("id", "design", "easting", "northing", "surface", "why")
    shown = [
        (
            one.location_id,
            one.design,
            one.easting,
            one.northing,
            word("surface", one.surface) if one.surface else "not mapped",
            one.rationale,
        )
        for one in proposed[:MOST_ROWS]
    ]
    yield from table_lines(head, shown, right=(2, 3))
    if len(proposed) > MOST_ROWS:
        yield f"  and {len(proposed) - MOST_ROWS:,} more, up to {proposed[-1].location_id}"


def table_lines(head: Sequence[str], rows: Sequence[Sequence[str]], right: Iterable[int] = ()) -> Iterator[str]:
    """Yield a table as lines; columns of ``right`` end at their edge.

    >>> list(table_lines(("id", "m"), [("SG-01", "2.50")], right=[1]))
    ['  id        m', '  SG-01  2.50']
    """
    widths = [max(len(row[at]) for row in (head, *rows)) for at in range(len(head))]
    ends = set(right)
    for row in (head, *rows):
        fitted = enumerate(zip(row, widths, strict=True))
        cells = (text.rjust(width) if at in ends else text.ljust(width) for at, (text, width) in fitted)
        yield f"  {'  '.join(cells)}".rstrip()


def _left_out_lines(left_out: Sequence[LeftOut], *, feet: bool) -> Iterator[str]:
    """Yield what is left out: places of the grid counted by reason, others one by one; none was moved."""
    yield f"Left out: {len(left_out):,} of the places that the plan asks for; no place was moved."
    counted = Counter(_counted(one, feet=feet) for one in left_out if _is_counted(one))
    for (design, reason), count in islice(counted.items(), MOST_TOLD):
        yield f"  {count:,} {_DESIGNS[design]}: {reason}"
    if rest := [*counted.values()][MOST_TOLD:]:
        yield f"  {sum(rest):,} more at, in or near {len(rest):,} other points or features"
    each = [one for one in left_out if not _is_counted(one)]
    for one in each[:MOST_TOLD]:
        why = reason_words(one.reason, feet=feet)
        yield f"  {one.design}, {one.easting} {one.northing} ({one.rationale}): {why}"
    if len(each) > MOST_TOLD:
        yield f"  and {len(each) - MOST_TOLD:,} more targeted or background places"
    if each:
        yield "  A targeted or background place is yours to move: change its offset, distance or coordinates."


def _is_counted(one: LeftOut) -> bool:
    """Tell whether a place needs no line of its own: one of the grid, or one where a point is already."""
    return one.design == "grid" or (one.reason.why == "existing" and not one.reason.margin_m)


def _counted(one: LeftOut, *, feet: bool) -> tuple[str, str]:
    """Return what places are counted by: of points in the table, whichever it is."""
    known = Reason("existing", margin_m=one.reason.margin_m) if one.reason.why == "existing" else one.reason
    return one.design, reason_words(known, feet=feet)


def reason_words(reason: Reason, *, feet: bool = False) -> str:
    """Say why a place is left out, with the distance in feet as well where the plan is made in them.

    >>> reason_words(Reason("near", "utility", "Water main", 1.0)), reason_words(Reason("in", "building", "Laundry"))
    ('less than 1 m from the utility Water main', 'in the building Laundry')
    """
    name = f"the {reason.kind.replace('_', ' ')} {reason.name}"
    margin = distance_text(reason.margin_m, feet=feet)
    near = f"less than {margin} from" if reason.margin_m else "at"
    return {
        "outside": "outside the boundary, or on it",
        "edge": f"less than {margin} inside the boundary",
        "in": f"{'on' if reason.kind == 'utility' else 'in'} {name}",
        "near": f"{near} {name}",
        "existing": f"{near} {reason.name or 'a point'} of the table",
        "proposed": f"{near} another proposed point",
    }[reason.why]


def count_lines(survey: Survey, plan: FieldPlan, proposed: int) -> Iterator[str]:
    """Yield how many samplers the points of the plan need, those of the table and those proposed."""
    counts = plan.allocation.counts
    if not counts.primaries:
        yield "Samplers: none, for there is no point in the plan."
        return
    media = Counter(row.medium for row in survey.rows(Location) if row.status not in ("not_done", "abandoned"))
    told = ", ".join(f"{count:,} {word('medium', medium)}" for medium, count in media.items())
    origin = f"{counts.primaries - proposed:,} of the table and {proposed:,} proposed"
    yield f"Samplers for {_points(counts.primaries)} ({told}): {origin}"
    yield from _uses(survey, counts)
    if survey.plan.locations is not None and survey.plan.locations != counts.primaries:
        yield f"  The plan's own number of locations is {survey.plan.locations:,} ([plan] locations)."
    if stage(survey) != "planned":
        yield "  Field work has begun: these are the numbers of the whole plan, not of what is left to do."


def _uses(survey: Survey, counts: Counts) -> Iterator[str]:
    plan = survey.plan
    at_least = f", at least {plan.least_duplicates}" if plan.least_duplicates else ""
    rows = (
        (counts.primaries, "sample", "one for each point"),
        (counts.duplicates, "field_duplicate", f"{plan.duplicate_rate:g} of the primaries, rounded up{at_least}"),
        (counts.field_blanks, "field_blank", "as planned"),
        (counts.trip_blanks, "trip_blank", f"one for each return bag; a bag has up to {counts.per_bag} other samplers"),
        (counts.spares, "spare", "as planned"),
    )
    shown = [(f"{count:,}", _USES[use][count != 1], why if count else "none planned") for count, use, why in rows]
    width = max(len(count) for count, _, _ in [*shown, (f"{counts.samplers:,}", "", "")])
    for count, use, why in shown:
        yield f"  {count.rjust(width)} {use}: {why}"
    yield f"  {f'{counts.samplers:,}'.rjust(width)} in all, in {_bags(counts.bags)}"
    if counts.pairs_apart:
        yield "  A bag of one sampler has no room for a pair: each duplicate has the bag after that of its parent."
    if counts.bags_for_pairs:
        yield (
            f"  {_bags(counts.bags_for_pairs)} more than the number of samplers asks for, so that each duplicate "
            "shares bag and trip blank with its parent."
        )


def order_lines(allocation: Allocation, survey: Survey) -> tuple[str, ...]:
    """Return the order for the laboratory: how many samplers of which use, medium and type, and by when."""
    wanted = order(survey, allocation)
    if not wanted.lines:
        return ()
    by = f"needed by {wanted.needed_by.isoformat()}, when placing begins" if wanted.needed_by else (
        "no day stated: [plan] placing_from is not set"
    )  # fmt: skip
    head = f"Order for the laboratory: {wanted.samplers:,} {_plural(wanted.samplers, 'sampler')}, {by}"
    return (head, *(f"  {_order_line(line)}" for line in wanted.lines))


def _order_line(line: OrderLine) -> str:
    medium = f" for {word('medium', line.medium)}" if line.medium else ""
    types = f"type {' or '.join(line.types)}" if line.types else "no sampler type on record"
    return f"{line.count:,} {_USES[line.use][line.count != 1]}{medium}, {types}"


def design_lines(survey: Survey, points: Sequence[PlannedPoint]) -> tuple[str, ...]:
    """Return what the soil points of a plan can find: the size of an area that contains one with a chance of 0.9."""
    site = boundary(survey)
    soil = [(point.x_m, point.y_m) for point in points if point.medium in SOIL_MEDIA]
    places = [place for place in soil if site.contains(shapely.Point(place))]
    found = curve(places, site).found_with_90_m
    if found is None:
        return ()
    counted = f"{len(places):,} soil {_plural(len(places), 'point')} on the site"
    across = f"{found:.0f} m"
    if in_feet(survey):
        across += f" ({found / LENGTHS['ft'].value:.0f} ft)"
    said = f"With {counted}, a circular source area {across} across contains a point with a chance of 0.9."
    return tuple(_wrapped(f"{said} {_NO_PROMISE}"))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, break_long_words=False, break_on_hyphens=False)


def _by_design(designs: Iterable[str]) -> str:
    counts = Counter(designs)
    return ", ".join(f"{counts[name]:,} {word}" for name, word in _DESIGNS.items() if counts[name])


def _points(count: int) -> str:
    return f"{count:,} {_plural(count, 'point')}"


def _bags(count: int) -> str:
    return f"{count:,} return {_plural(count, 'bag')}"


def _plural(count: int, noun: str) -> str:
    return noun if count == 1 else f"{noun}s"
