"""What each row of deployments.csv is at its point: primary, duplicate, replacement or field blank."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sitegen.checks.catalogue import find
from sitegen.checks.rows import of_samplers
from sitegen.checks.samplers import sampler_findings
from sitegen.compute.field.exposure import FIELD_BLANK, LOST, RETRIEVED, Placement, placements
from sitegen.compute.field.standing import second_primaries
from sitegen.compute.formats import moment_text
from sitegen.findings.problems import Finding
from sitegen.project.survey import Survey
from sitegen.voice import worded

_DECLARE = (
    "if {new} was installed next to {old}, give it the kind field_duplicate and duplicate_of {old}; "
    "if it replaced {old}, enter {old} in replaces; if it belongs to another round, declare both as [[rounds]] "
    "in project.toml and enter their ids in the column round; otherwise give it a separate point"
)


def blanks_not_placed(survey: Survey) -> Iterator[Finding]:
    """A trip blank is never placed; neither is a spare without a new role."""
    table = survey.tables["deployments"]
    kinds = of_samplers(survey, "kind", table.frame["sampler_id"])
    yield from sampler_findings(
        "trip-blank-placed",
        table,
        kinds == "trip_blank",
        "sampler_id",
        worded("a trip blank installed at {location_id}"),
        worded("a sampler of the kind sample or field_duplicate, or a field_blank"),
    )
    yield from sampler_findings(
        "spare-placed",
        table,
        kinds == "spare",
        "sampler_id",
        worded("a spare installed at {location_id}"),
        worded("a sampler of the kind sample or field_duplicate, or a field_blank"),
    )


def field_blanks(survey: Survey) -> Iterator[Finding]:
    """A field blank is opened at a point and samples none; it is in a return bag, on which its reach depends."""
    table = survey.tables["deployments"]
    frame = table.frame
    own = of_samplers(survey, "kind", frame["sampler_id"]) == FIELD_BLANK
    for column in ("duplicate_of", "replaces"):
        yield from sampler_findings(
            "field-blank-role",
            table,
            own & (frame[column] != ""),
            column,
            worded("a field blank with {column} {{{column}}}", column=column),
            worded("a blank cell: a field blank is no duplicate or replacement"),
        )
    samplers = survey.tables["samplers"]
    nowhere = (samplers.frame["kind"] == FIELD_BLANK) & (samplers.frame["outcome"] != "returned_unused")
    nowhere &= ~samplers.frame["sampler_id"].isin(frame["sampler_id"]) & table.present
    yield from sampler_findings(
        "field-blank-unplaced",
        samplers,
        nowhere,
        "kind",
        worded("a field blank without a row in field/deployments.csv"),
        worded("where and when it was opened, and its return bag"),
    )


def duplicates_beside(survey: Survey) -> Iterator[Finding]:
    """A duplicate stands beside its primary, and both say so."""
    table = survey.tables["deployments"]
    frame = table.frame
    kinds = of_samplers(survey, "kind", frame["sampler_id"])
    place = dict(zip(frame["sampler_id"], frame["location_id"], strict=True))
    second = set(frame.loc[frame["duplicate_of"] != "", "sampler_id"])
    named = frame["duplicate_of"] != ""
    own = frame["duplicate_of"].map(place)
    chained = named & (frame["duplicate_of"].isin(second) | (frame["duplicate_of"] == frame["sampler_id"]))
    elsewhere = named & ~chained & own.notna() & (own != frame["location_id"])
    yield from sampler_findings(
        "duplicate-of-duplicate", table, chained, "duplicate_of",
        worded("the duplicate of {duplicate_of}, itself a duplicate"), worded("the primary sampler's id"),
    )  # fmt: skip
    yield from sampler_findings(
        "duplicate-elsewhere",
        table,
        elsewhere,
        "duplicate_of",
        worded("a duplicate of {duplicate_of} at {location_id}, where {duplicate_of} is not"),
        worded("one point for both"),
    )
    half = (kinds == "field_duplicate") != named
    half &= kinds.isin(("sample", "field_duplicate"))
    yield from sampler_findings(
        "duplicate-half-said", table, half, "duplicate_of",
        worded("duplicate_of {duplicate_of!r}, in conflict with the kind in samplers.csv"),
        worded("kind field_duplicate with duplicate_of, or kind sample without"),
    )  # fmt: skip


def one_primary(survey: Survey) -> Iterator[Finding]:
    """At one point there is one primary sampler; a second one says whose place it took."""
    for p, old in second_primaries(placements(survey)):
        yield find(
            "second-primary",
            f"{p.location_id}+{old.sampler_id}+{p.sampler_id}",
            p.origin.where("replaces"),
            worded(
                "{sampler} at {point} as well as {other}, not declared as duplicate or replacement",
                sampler=p.sampler_id,
                point=p.location_id,
                other=old.sampler_id,
            ),
            worded("one primary sampler at a point, or a declared second sampler"),
            do=worded(_DECLARE, new=p.sampler_id, old=old.sampler_id),
            kind="location",
        )


def replacements(survey: Survey) -> Iterator[Finding]:
    """A replacement took the place of one sampler of its own role at its own point, after that came out."""
    every = {p.sampler_id: p for p in placements(survey)}
    last = _last_records(survey)
    taken: dict[str, str] = {}
    for p in every.values():
        old = every.get(p.replaces)
        if not p.replaces or (old is None and p.role == FIELD_BLANK):
            continue
        fault = _fault(p, old, taken.get(p.replaces, ""), every)
        taken.setdefault(p.replaces, p.sampler_id)
        if fault:
            yield find(
                "replacement-invalid",
                f"{p.sampler_id}+{p.replaces}",
                p.origin.where("replaces"),
                worded(
                    "{sampler} replaces {replaces}: {fault}",
                    sampler=p.sampler_id,
                    replaces=p.replaces,
                    fault=fault,
                ),
                worded(
                    "an earlier sampler at {point} in the same role, not already replaced",
                    point=p.location_id,
                ),
                kind="sampler",
            )
        elif old is not None:
            yield from _overlap(survey, p, old, last)


def _fault(p: Placement, old: Placement | None, other: str, every: Mapping[str, Placement]) -> str:
    """Return what speaks against a replacement, "" where nothing does."""
    if old is None:
        return worded("no deployment of that sampler is on record")
    if _circular(p, every):
        return worded("the replacements form a circle")
    if old.location_id != p.location_id:
        return worded("{sampler} was installed at {point}", sampler=p.replaces, point=old.location_id)
    if old.role != p.role:
        return worded(
            "it is a {role}, and {sampler} a {other}",
            role=worded(old.role.replace("_", " ")),
            sampler=p.sampler_id,
            other=worded(p.role.replace("_", " ")),
        )
    return worded("{other} already replaces it", other=other) if other else ""


def _circular(p: Placement, every: Mapping[str, Placement]) -> bool:
    seen = {p.sampler_id}
    at = every.get(p.replaces)
    while at is not None and at.sampler_id not in seen:
        seen.add(at.sampler_id)
        at = every.get(at.replaces)
    return at is not None and at.sampler_id == p.sampler_id


def _overlap(survey: Survey, p: Placement, old: Placement, last: Mapping[str, float]) -> Iterator[Finding]:
    """Tell where a replacement went in before the other was out; the time of a lost one ends at its last record."""
    if old.state == RETRIEVED and old.retrieved_utc is not None:
        end = float(old.retrieved_utc)
    elif old.state == LOST:
        end = max(float(old.placed_utc), last.get(old.sampler_id, float("-inf")))
    else:
        end = float("inf")
    if 0 <= p.placed_utc < end:
        facts = {"sampler": p.sampler_id, "at": p.placed_at, "other": old.sampler_id}
        found = (
            worded(
                "{sampler} installed {at} as a replacement for {other}, which was deployed until {until}",
                until=moment_text(end, survey.time_zone),
                **facts,
            )
            if end < float("inf")
            else worded(
                "{sampler} installed {at} as a replacement for {other}, which is neither retrieved nor lost on record",
                **facts,
            )
        )
        yield find(
            "windows-overlap",
            f"{p.location_id}+{old.sampler_id}+{p.sampler_id}",
            p.origin.where("placed_at"),
            found,
            worded("installation after the sampler replaced was retrieved or lost"),
            kind="location",
        )


def _last_records(survey: Survey) -> dict[str, float]:
    """Return the last custody event of each sampler, in UTC minutes."""
    events = survey.frame("custody")
    own = events[(events["subject_kind"] == "sampler") & events["at_utc"].notna()]
    return {str(name): float(at) for name, at in own.groupby("subject_id")["at_utc"].max().items()}


RULES = (blanks_not_placed, field_blanks, duplicates_beside, one_primary, replacements)
