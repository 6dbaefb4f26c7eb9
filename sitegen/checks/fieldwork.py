"""Field work: depth, paving, holes left open, clearance tickets, departures from the plan."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import pandas as pd

from sitegen.checks.catalogue import find
from sitegen.checks.rows import enumeration, first_rows, ids_in, number_of, samples_a_point, surplus
from sitegen.checks.samplers import sampler_findings
from sitegen.compute.evaluate import Evaluation
from sitegen.compute.field.exposure import LOST, Placement
from sitegen.compute.quality.fieldmarks import CONDITION_CODES
from sitegen.findings.problems import Finding, Where
from sitegen.project.schema import PAVED_SURFACES, SOIL_MEDIA
from sitegen.project.survey import Survey
from sitegen.project.tables import Departure, Deployment, Location, Ticket
from sitegen.units import to_metres
from sitegen.voice import worded

DEPTHS_AGREE_M = 0.02
"""Two depths of one sampler, in feet and metres, agree within this: rounding to 0.05 ft."""

_MOVED = "moved from its planned position"
_REFUSED, _EARLY, _LATE = "refusal before target depth", "retrieved early", "retrieved late"
_KEY_WORDS = {_REFUSED: "refused", _EARLY: "pulled", _LATE: "left"}
"""What stands in the key of a finding for words that do not begin with it: dispositions name keys, so they stay."""


def depths(survey: Survey) -> Iterator[Finding]:
    """A depth is given once, in the one unit of the survey."""
    table = survey.tables["deployments"]
    feet, metres = table.frame["depth_ft"], table.frame["depth_m"]
    apart = (feet.map(lambda value: to_metres(value, "ft")) - metres).abs()
    yield from sampler_findings(
        "depth-disagrees", table, apart > DEPTHS_AGREE_M, "depth_m",
        worded("{depth_ft:g} ft and {depth_m:g} m"), worded("the same depth in both columns"),
    )  # fmt: skip
    only_feet, only_metres = feet.notna() & metres.isna(), metres.notna() & feet.isna()
    if only_feet.any() and only_metres.any():
        rare, column = (only_metres, "depth_m") if only_metres.sum() <= only_feet.sum() else (only_feet, "depth_ft")
        yield find(
            "depth-units-mixed",
            "survey",
            first_rows(table, rare, Deployment)[0].origin.where(column),
            worded(
                "{depths} in {column}, {rows} in all",
                depths=number_of(int(rare.sum()), "depth"),
                column=column,
                rows=number_of(len(feet), "row"),
            ),
            worded("one unit throughout"),
        )


def ground_rows(survey: Survey) -> pd.DataFrame:
    """Return deployments with the medium and surface of their points; those of field blanks have neither."""
    places = survey.frame("locations").drop_duplicates("location_id")[["location_id", "medium", "surface", "design"]]
    rows = survey.frame("deployments").merge(places, on="location_id", how="left")
    sampled = samples_a_point(survey)
    return rows.assign(medium=rows["medium"].where(sampled), surface=rows["surface"].where(sampled))


def holes(survey: Survey) -> Iterator[Finding]:
    """Depth and condition are noted, paving is sleeved off, and no hole is left open."""
    table = survey.tables["deployments"]
    frame = ground_rows(survey)
    soil, paved = frame["medium"] == SOIL_MEDIA[0], frame["surface"].isin(PAVED_SURFACES)
    none = frame["depth_ft"].isna() & frame["depth_m"].isna()
    yield from sampler_findings(
        "depth-missing", table, soil & none, "depth_ft", worded("no depth"), worded("the depth of the sampler")
    )
    back = (frame["retrieved_at"] != "") & samples_a_point(survey)
    yield from sampler_findings(
        "condition-missing", table, back & (frame["condition"] == ""), "condition",
        worded("no condition on retrieval"), worded("the condition found"),
    )  # fmt: skip
    yield from sampler_findings(
        "sleeve-missing", table, paved & (frame["sleeve"] == "no"), "sleeve",
        worded("unsleeved hole through paving"), worded("a sleeve, to exclude the porous sub-base"),
    )  # fmt: skip
    yield from sampler_findings(
        "hole-open", table, frame["hole_restored"] == "no", "hole_restored",
        worded("an unrestored hole at {location_id}"), worded("a restored hole"),
    )  # fmt: skip


def clearance(survey: Survey) -> Iterator[Finding]:
    """Every hole was covered by a ticket that was valid when it was made; a table without rows is told as such."""
    if survey.tables["clearance"].frame.empty:
        return
    holes_at = _holes_at(survey)
    tickets = [(ticket, _holes_of(ticket, holes_at)) for ticket in survey.rows(Ticket)]
    valid: set[str] = set().union(*(_within(covered) for _, covered in tickets))
    for ticket, covered in tickets:
        for column, limit in (("valid_from", ticket.valid_from), ("valid_to", ticket.valid_to)):
            beyond = [name for name in covered if covered[name] == column and name not in valid]
            yield from _not_valid(ticket, column, limit, beyond)
    yield from _without_ticket(survey, set(holes_at).difference(*(covered for _, covered in tickets)))


def _holes_at(survey: Survey) -> dict[str, float]:
    """Return when each hole was made, in UTC minutes, by point."""
    frame = ground_rows(survey)
    made = frame[frame["medium"].isin(SOIL_MEDIA) & frame["placed_at_utc"].notna()]
    return dict(zip(made["location_id"], made["placed_at_utc"], strict=True))


def _within(covered: Mapping[str, str]) -> set[str]:
    return {name for name, beyond in covered.items() if not beyond}


def _holes_of(ticket: Ticket, holes_at: Mapping[str, float]) -> dict[str, str]:
    """Return the holes that a ticket covers, each with what :func:`_outside` says of it."""
    named = ids_in(ticket.location_ids) or holes_at
    return {name: _outside(ticket, holes_at[name]) for name in named if name in holes_at}


def _not_valid(ticket: Ticket, column: str, limit: str, names: list[str]) -> Iterator[Finding]:
    if names:
        said = (
            "{holes} made before {limit}: {names}" if column == "valid_from" else "{holes} made after {limit}: {names}"
        )
        yield find(
            "clearance-not-valid",
            f"{ticket.ticket}+{column}",
            ticket.origin.where(column),
            worded(said, holes=number_of(len(names), "hole"), limit=limit, names=enumeration(names)),
            worded("holes made while a ticket for them was valid"),
            kind="ticket",
        )


def _outside(ticket: Ticket, placed_utc: float) -> str:
    """Return the end of a ticket's validity that a hole lies beyond, "" where it lies within."""
    if placed_utc < ticket.valid_from_utc:
        return "valid_from"
    return "valid_to" if placed_utc > ticket.valid_to_utc else ""


def _without_ticket(survey: Survey, names: set[str]) -> Iterator[Finding]:
    table = survey.tables["deployments"]
    bad = table.frame["location_id"].isin(list(names)) & ~table.frame.duplicated("location_id")
    for row in first_rows(table, bad, Deployment):
        yield find(
            "clearance-missing",
            row.location_id,
            row.origin.where("location_id"),
            worded("a hole at {point} not listed on any ticket", point=row.location_id),
            worded("a utility ticket that covers it"),
            kind="location",
        )
    yield from surplus("clearance-missing", table, bad, "location_id")


def departures_on_record(survey: Survey, evaluation: Evaluation) -> Iterator[Finding]:
    """What departs from the plan in the data has a row in deviations.csv."""
    explained = {name for row in survey.rows(Departure) for name in ids_in(row.affected_ids)}
    seen: set[tuple[str, str]] = set()
    departed = (*_points(survey, evaluation), *_moves_in_notes(survey, evaluation), *_placements(evaluation))
    for location, sampler, what, where in departed:
        if location in explained or sampler in explained or (location, what) in seen:
            continue
        seen.add((location, what))
        yield find(
            "deviation-unrecorded",
            f"{location}+{_KEY_WORDS.get(what) or what.split()[0]}",
            where,
            worded(what.replace("_", " ")),
            worded(
                "a row in {file} with {point} in affected_ids", file=survey.tables["deviations"].called, point=location
            ),
            kind="location",
        )


def _points(survey: Survey, evaluation: Evaluation) -> Iterator[tuple[str, str, str, Where]]:
    """Yield (location, sampler, what, where) of points moved, added and not done."""
    limit = evaluation.limits["moved_m"].value
    moved = {p.location_id for p in evaluation.points if p.is_off_plan(limit)}
    for row in survey.rows(Location):
        name = row.location_id
        if row.status in ("not_done", "abandoned"):
            yield name, "", f"{row.status} though planned", row.origin.where("status")
        if row.design == "added":
            yield name, "", "added in the field", row.origin.where("design")
        if name in moved:
            yield name, "", _MOVED, row.origin.where("easting")


def _moves_in_notes(survey: Survey, evaluation: Evaluation) -> Iterator[tuple[str, str, str, Where]]:
    """Yield (location, sampler, what, where) of moves by the field notes that the coordinates don't contradict."""
    limit = evaluation.limits["moved_m"].value
    places = {point.location_id: point for point in evaluation.points}
    for row in survey.rows(Deployment):
        noted_m, point = to_metres(row.moved_ft, "ft"), places.get(row.location_id)
        if noted_m > limit and (point is None or point.fits_move(noted_m, limit)):
            yield row.location_id, row.sampler_id, _MOVED, row.origin.where("moved_ft")


def _placements(evaluation: Evaluation) -> Iterator[tuple[str, str, str, Where]]:
    """Yield (location, sampler, what, where) of holes refused, samplers lost, damaged, pulled early or late."""
    for p in evaluation.placements:
        for what, column in _departures(p, evaluation):
            yield p.location_id, p.sampler_id, what, p.origin.where(column)


def _departures(p: Placement, evaluation: Evaluation) -> Iterator[tuple[str, str]]:
    codes = {mark.code for mark in evaluation.marks.by_sampler.get(p.sampler_id, ())}
    if p.refusal:
        yield _REFUSED, "refusal"
    elif "depth-off-plan" in codes:
        yield "depth outside the planned tolerance", "depth_m" if p.depth_text.endswith(" m") else "depth_ft"
    if p.state == LOST:
        yield "lost", "condition"
    if p.replaces:
        yield "replaced", "replaces"
    if p.recovered and p.condition in CONDITION_CODES:
        yield f"{p.condition} on retrieval", "condition"
    if "exposure-out-of-plan" in codes:
        early = (p.exposure_days or 0.0) < evaluation.limits["exposure_days_min"].value
        yield (_EARLY if early else _LATE), "retrieved_at"


def deviations_complete(survey: Survey) -> Iterator[Finding]:
    """A departure from the plan says its effect and who agreed to it."""
    table = survey.tables["deviations"]
    for column, lacks in (
        ("effect", worded("no effect on the data")),
        ("agreed_by_role", worded("no agreement by a role")),
    ):
        bad = table.frame[column] == ""
        for row in first_rows(table, bad, Departure):
            yield find(
                "deviation-incomplete",
                f"{row.deviation_id}+{column}",
                row.origin.where(column),
                lacks,
                worded("the effect and who agreed"),
                kind="deviation",
            )
        yield from surplus("deviation-incomplete", table, bad, column)


def statuses(survey: Survey) -> Iterator[Finding]:
    """The status of a point agrees with the samplers placed there; a plan need not be typed again once they are."""
    table = survey.tables["locations"]
    deployments = survey.frame("deployments")
    used = table.frame["location_id"].isin(deployments.loc[samples_a_point(survey), "location_id"])
    without = ~used & (table.frame["status"] == "placed")
    though = used & table.frame["status"].isin(("not_done", "abandoned"))
    for code, bad, found, expected in (
        ("placed-without-sampler", without, "no sampler installed there", worded("a row in deployments.csv")),
        ("placed-though-not-done", though, "a sampler installed there", worded("the status placed")),
    ):
        for row in first_rows(table, bad, Location):
            text = f"status {row.status.replace('_', ' ')} and {found}"
            yield find(code, row.location_id, row.origin.where("status"), worded(text), expected, kind="location")
        yield from surplus(code, table, bad, "status")


RULES = (depths, holes, clearance, deviations_complete, statuses)
EVALUATION_RULES = (departures_on_record,)
