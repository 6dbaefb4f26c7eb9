"""Before the crew sets out: points that are still to be placed, and what each needs on the day."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date

import numpy as np
from shapely.geometry import Point as Dot

from sitegen.checks.catalogue import find
from sitegen.checks.place import Shape, shapes
from sitegen.checks.rows import Mask, enumeration, first_rows, ids_in, number_of, surplus
from sitegen.checks.space import given_xy
from sitegen.compute.design.allocation import Use, count_samplers
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.stage import stage
from sitegen.compute.formats import day_text, stamp_text
from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Location, Sampler, Ticket
from sitegen.voice import ENGLISH, voice, worded

ACCESS_FILE = "text/access.md"
"""Where the narrative says how access is arranged, who is told, and how traffic is kept off."""

_INDOORS = ("sub_slab", "crawl_space", "indoor_air")
_DRIVEN_ON = ("asphalt", "concrete")
_ON_WHEELS = "traffic|vehicles?|roads?|lanes?|parking|forklifts?|trucks?"
_TRAFFIC = {
    ENGLISH: re.compile(rf"\b(?:{_ON_WHEELS})\b", re.IGNORECASE),
    "es": re.compile(
        rf"\b(?:{_ON_WHEELS}|tr[áa]fico|tr[áa]nsito|veh[íi]culos?|carreteras?|calzadas?|carril(?:es)?|aparcamientos?"
        r"|estacionamientos?|carretillas?|montacargas|camion(?:es)?|camión|coches?|autos?|autom[óo]vil(?:es)?)\b",
        re.IGNORECASE,
    ),
}
"""Words of traffic; a note in a Spanish project may be in either language."""
_LEFT = ("not_done", "abandoned")


def to_place(survey: Survey) -> Mask:
    """Return which rows of locations.csv are points still to be placed; none once a survey has returned."""
    frame = survey.frame("locations")
    placed = frame["location_id"].isin(survey.frame("deployments")["location_id"])
    open_points = ~placed & ~frame["status"].isin(_LEFT)
    return open_points & (stage(survey) != "returned")


def _holes_to_make(survey: Survey) -> Mask:
    return to_place(survey) & survey.frame("locations")["medium"].isin(SOIL_MEDIA)


def positions(survey: Survey) -> Iterator[Finding]:
    """A point that is still to be placed has a position to be found by."""
    x, _ = given_xy(survey)
    nowhere = to_place(survey) & np.isnan(x)
    yield from _points(
        "planned-position-missing", survey, nowhere, "plan_easting", worded("no position"), worded("a planned position")
    )


def _points(code: str, survey: Survey, bad: Mask, column: str, found: str, expected: str) -> Iterator[Finding]:
    table = survey.tables["locations"]
    for row in first_rows(table, bad, Location):
        yield find(code, row.location_id, row.origin.where(column), found, expected, kind="location")
    yield from surplus(code, table, bad, column)


def tickets(survey: Survey) -> Iterator[Finding]:
    """Every hole that is still to be made is named by a ticket that is valid on all the days of placing.

    A table without rows is told as such.
    """
    rows, holes = survey.rows(Ticket), _holes_to_make(survey)
    if not rows:
        return
    frame = survey.frame("locations")
    names = frame.loc[holes, "location_id"].tolist()
    covered = {row.ticket: [n for n in names if n in (ids_in(row.location_ids) or names)] for row in rows}
    named = {name for some in covered.values() for name in some}
    unnamed = holes & ~frame["location_id"].isin(list(named))
    yield from _points(
        "planned-hole-without-ticket", survey, unnamed, "location_id",
        worded("a hole to be made that is not listed on any ticket"), worded("a utility ticket that covers it"),
    )  # fmt: skip
    yield from _on_the_days(survey, rows, covered)


def _on_the_days(survey: Survey, rows: tuple[Ticket, ...], covered: Mapping[str, list[str]]) -> Iterator[Finding]:
    """Compare tickets with the days of placing; a hole that another ticket covers on all of them is none of theirs."""
    first, last = survey.plan.placing_from, survey.plan.placing_to
    if first is None or last is None:
        return
    valid = {name for row in rows if not _short(row, first, last) for name in covered[row.ticket]}
    for row in rows:
        names = [name for name in covered[row.ticket] if name not in valid]
        if not names:
            continue
        for column in _short(row, first, last):
            said = (
                "a ticket that begins {when}, for {holes} to be made: {names}"
                if column == "valid_from"
                else "a ticket that ends {when}, for {holes} to be made: {names}"
            )
            yield find(
                "ticket-off-the-planned-days",
                f"{row.ticket}+{column}",
                row.origin.where(column),
                worded(
                    said,
                    when=stamp_text(getattr(row, column)),
                    holes=number_of(len(names), "hole"),
                    names=enumeration(names),
                ),
                worded(
                    "a ticket valid from {first} to {last}, the planned days of installation",
                    first=day_text(first),
                    last=day_text(last),
                ),
                kind="ticket",
            )


def _short(row: Ticket, first: date, last: date) -> list[str]:
    """Return the ends of a ticket's validity that lie within the days of placing, by day; blank ones say nothing."""
    late = bool(row.valid_from) and row.valid_from[:10] > first.isoformat()
    early = bool(row.valid_to) and row.valid_to[:10] < last.isoformat()
    return ["valid_from"] * late + ["valid_to"] * early


def utilities(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """No hole is planned nearer to a mapped utility than the limit."""
    limit = evaluation.limits["utility_distance_m"]
    holes = set(survey.frame("locations").loc[_holes_to_make(survey), "location_id"])
    lines = shapes(survey, "utility") if holes else []
    for point in evaluation.points:
        if point.location_id not in holes:
            continue
        for line in lines:
            apart = line.ground.distance(Dot(point.x, point.y))
            if apart < limit.value:
                yield find(
                    "planned-near-utility",
                    f"{point.location_id}+feature {line.feature.number}",
                    point.origin.where("plan_easting" if point.as_planned else "easting"),
                    worded("a hole planned {apart:.2f} m from {line}", apart=apart, line=_name(line)),
                    worded("at least {limit}", limit=limit.text),
                    kind="location",
                )


def _name(line: Shape) -> str:
    return line.feature.name if line.feature.public else worded("utility {number}", number=line.feature.number)


def access(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """Of points in and below occupied buildings it is on record how access and notice to occupants are arranged."""
    inside = _in_occupied(survey, evaluation)
    rows = [row for row in _open_rows(survey) if row.medium in _INDOORS or row.location_id in inside]
    silent = [row for row in rows if not row.comment]
    if silent and not survey.texts.get("access", "").strip():
        yield find(
            "access-not-arranged",
            "points",
            silent[0].origin.where("comment"),
            worded(
                "{points} inside, next to or below an occupied building, "
                "without access arrangements on record: {names}",
                points=_count(silent),
                names=enumeration(row.location_id for row in silent),
            ),
            worded(
                "how access is arranged and who informs the occupants, in {file} or the comment of each point",
                file=ACCESS_FILE,
            ),
            kind="locations",
            rows=[row.origin.row for row in silent],
        )


def traffic(survey: Survey) -> Iterator[Finding]:
    """Of points on paving that vehicles may use it is on record how traffic is kept off."""
    rows = [row for row in _open_rows(survey) if row.surface in _DRIVEN_ON and row.medium in SOIL_MEDIA]
    traffic = _TRAFFIC[voice().language]
    silent = [row for row in rows if not traffic.search(row.comment)]
    if silent and not traffic.search(survey.texts.get("access", "")):
        yield find(
            "traffic-not-noted",
            "points",
            silent[0].origin.where("comment"),
            worded(
                "{points} on asphalt or concrete without traffic control on record: {names}",
                points=_count(silent),
                names=enumeration(row.location_id for row in silent),
            ),
            worded(
                "the traffic control, or that there is no traffic, in {file} or the comment of each point",
                file=ACCESS_FILE,
            ),
            kind="locations",
            rows=[row.origin.row for row in silent],
        )


def _open_rows(survey: Survey) -> list[Location]:
    return [row for row, wanted in zip(survey.rows(Location), to_place(survey), strict=True) if wanted]


def _count(rows: list[Location]) -> str:
    return number_of(len(rows), "point")


def _in_occupied(survey: Survey, evaluation: Evaluation) -> set[str]:
    """Return the points in the occupied buildings of the map, by their position or by the building's name."""
    occupied = [one for one in shapes(survey, "building") if one.feature.occupied]
    names = {one.feature.name for one in occupied} - {""}
    named = {row.location_id for row in survey.rows(Location) if row.building in names}
    return named | {
        point.location_id
        for point in evaluation.points
        if any(one.ground.contains(Dot(point.x, point.y)) for one in occupied)
    }


def samplers(survey: Survey) -> Iterator[Finding]:
    """The laboratory sent as many samplers of each use as the plan needs; spares may serve as any."""
    kinds = survey.frame("samplers")["kind"]
    if kinds.empty or stage(survey) != "planned":
        return
    short = {use: needed - int((kinds == use).sum()) for use, needed in _needed(survey).items()}
    lacking = {use: number for use, number in short.items() if number > 0}
    spares = int((kinds == "spare").sum())
    if sum(lacking.values()) > spares:
        parts = (number_of(number, use.replace("_", " ")) for use, number in lacking.items())
        row = survey.rows(Sampler)[0]
        yield find(
            "samplers-short",
            "samplers",
            Where(row.origin.file, None, "kind"),
            worded("{lacking} too few, and {spares}", lacking=enumeration(parts), spares=number_of(spares, "spare")),
            worded("a sampler for each point, duplicate, field blank and return bag of the plan"),
        )


def _needed(survey: Survey) -> dict[Use, int]:
    """Return how many samplers of each use the plan needs."""
    plan = survey.plan
    counts = count_samplers(
        len(_open_rows(survey)), plan.duplicate_rate, least=plan.least_duplicates, field_blanks=plan.field_blanks,
        per_bag=plan.samplers_per_bag,
    )  # fmt: skip
    return {
        "sample": counts.primaries, "field_duplicate": counts.duplicates,
        "field_blank": counts.field_blanks, "trip_blank": counts.trip_blanks,
    }  # fmt: skip


RULES = (positions, tickets, traffic, samplers)
EVALUATION_RULES = (utilities, access)
