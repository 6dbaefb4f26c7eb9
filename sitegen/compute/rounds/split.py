"""A survey of several rounds as one survey for each: whatever is computed of a survey serves a round unchanged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import pandas as pd

from sitegen.compute.evaluate import Evaluation, evaluate
from sitegen.compute.rounds.campaigns import Campaign, Supplement
from sitegen.compute.rounds.membership import Membership, Rounds
from sitegen.project.reads import reading
from sitegen.project.settings import PlanPart, RoundPart, Settings
from sitegen.project.survey import Survey, SurveyTable
from sitegen.project.tables import (
    CustodyEvent,
    Departure,
    Deployment,
    LabSample,
    Location,
    Photo,
    Product,
    ReturnBag,
    Sampler,
    Shipment,
    Ticket,
    WeatherReading,
)

_DAYS = ("placing_from", "placing_to", "retrieving_from", "retrieving_to")


@dataclass(frozen=True, slots=True)
class Part:
    """A campaign, the part of the survey that is its own, and what that supports."""

    campaign: Campaign
    survey: Survey
    evaluation: Evaluation


def campaigns(settings: Settings) -> tuple[Campaign, ...]:
    """Return the rounds that the settings declare, in their order, each with its supplements; else the one there is."""
    declared = settings.rounds
    supplements = [r for r in declared if r.kind == "supplement"]
    return tuple(
        Campaign(
            one.id,
            one.title,
            one.season,
            tuple(Supplement(s.id, s.title, s.season, s.addendum) for s in supplements if s.of == one.id),
        )
        for one in declared
        if one.kind == "round"
    ) or (Campaign(),)


def parts(survey: Survey) -> tuple[Part, ...]:
    """Return each campaign with its part of the survey, in the order declared, up to the one that is reported.

    That is the one that the settings name as ``[project] round``, else the last that has a placement on record.
    """
    found = campaigns(survey.settings)
    if len(found) == 1:
        return (Part(found[0], survey, evaluate(survey)),)
    with reading():
        of = Membership(survey, tuple(one.id for one in survey.settings.rounds))
        reported = _reported(found, of)
        narrowed = [narrow(survey, one, of, first=at == 0) for at, one in enumerate(found[: reported + 1])]
    own = (*(replace(one, texts={}) for one in narrowed[:-1]), narrowed[-1])
    return tuple(Part(one, part, evaluate(part)) for one, part in zip(found, own, strict=False))


def _reported(found: tuple[Campaign, ...], of: Membership) -> int:
    wanted = of.survey.settings.project.round
    named = [at for at, one in enumerate(found) if wanted and wanted in _ids(one)]
    placed = frozenset().union(*of.placed.values())
    begun = [at for at, one in enumerate(found) if _ids(one) & placed]
    return (named or begun or [0])[-1]


def _ids(campaign: Campaign) -> Rounds:
    return frozenset((campaign.id, *(one.id for one in campaign.supplements)))


def narrow(survey: Survey, campaign: Campaign, of: Membership, *, first: bool) -> Survey:
    """Return the part of a survey that is a campaign's own, with its plan; ``first`` where it is the first of all."""
    wanted = _ids(campaign)
    kept = {name: survey.tables[name].kept(keep) for name, keep in _masks(survey, wanted, of)}
    kept |= _of_laboratory(survey, kept["lab_samples"].frame)
    settings = survey.settings.model_copy(update={"plan": _plan(survey.settings, wanted, first=first)})
    return replace(survey, settings=settings, tables={**dict(survey.tables), **kept})


def mask(of_rows: Iterable[Rounds], wanted: Rounds) -> pd.Series[bool]:
    """Return for each row whether any of its rounds is wanted.

    >>> mask([frozenset("AB"), frozenset("C")], frozenset("A")).tolist()
    [True, False]
    """
    return pd.Series([bool(rounds & wanted) for rounds in of_rows], dtype=bool)


def _masks(survey: Survey, wanted: Rounds, of: Membership) -> Iterator[tuple[str, pd.Series[bool]]]:
    """Yield for each table whose rows have rounds which of them are wanted."""
    yield "locations", mask((of.points[row.location_id] for row in survey.rows(Location)), wanted)
    yield "samplers", mask((of.samplers[row.sampler_id] for row in survey.rows(Sampler)), wanted)
    yield "deployments", mask((of.placed[row.sampler_id] for row in survey.rows(Deployment)), wanted)
    yield "return_bags", mask((of.bags[row.bag_id] for row in survey.rows(ReturnBag)), wanted)
    yield "shipments", mask((of.shipments[row.shipment_id] for row in survey.rows(Shipment)), wanted)
    yield "custody", mask(map(of.subject, survey.rows(CustodyEvent)), wanted)
    yield "clearance", mask((of.on_day(row.valid_from_utc) for row in survey.rows(Ticket)), wanted)
    yield "deviations", mask(map(of.departure, survey.rows(Departure)), wanted)
    yield "weather", mask((of.on_day(row.at_utc) for row in survey.rows(WeatherReading)), wanted)
    yield "products", mask((of.on_day(row.noted_at_utc) for row in survey.rows(Product)), wanted)
    yield "photos", mask((of.on_day(row.taken_at_utc) for row in survey.rows(Photo)), wanted)
    yield "lab_samples", mask((of.lab_samples[row.lab_sample_id] for row in survey.rows(LabSample)), wanted)


def _of_laboratory(survey: Survey, runs: pd.DataFrame) -> dict[str, SurveyTable]:
    """Return results and control of the laboratory samples in ``runs``, and the compounds that results are of.

    A compound that no round has a result of stays in the list of each.
    """
    results, control, listed = (survey.tables[name] for name in ("results", "lab_qc", "analytes"))
    found = results.kept(results.frame["lab_sample_id"].isin(runs["lab_sample_id"]))
    here, anywhere = (frame["analyte_id"].unique() for frame in (found.frame, results.frame))
    compounds = listed.frame["analyte_id"]
    return {
        "results": found,
        "lab_qc": control.kept(control.frame["lab_sample_id"].isin(runs["lab_sample_id"])),
        "analytes": listed.kept(compounds.isin(here) | ~compounds.isin(anywhere)),
    }


def _plan(settings: Settings, wanted: Rounds, *, first: bool) -> PlanPart:
    """Return the plan with the points and days of a campaign; the first round has the plan's own where it states none.

    The points of a campaign are known where each of its rounds states them.
    """
    own = [one for one in settings.rounds if one.id in wanted]
    plan = settings.plan

    def points(one: RoundPart) -> int | None:
        return plan.locations if first and one.kind == "round" and one.locations is None else one.locations

    counts = [count for one in own if (count := points(one)) is not None]
    days = {name: getattr(own[0], name) or (getattr(plan, name) if first else None) for name in _DAYS}
    return plan.model_copy(update={"locations": sum(counts) if len(counts) == len(own) else None, **days})
